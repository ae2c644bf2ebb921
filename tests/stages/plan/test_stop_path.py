"""The choice of stops against trying every set of stops."""

from __future__ import annotations

from itertools import combinations, pairwise

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from terrain.stages.plan.stop_path import (
    SHORT_OF_FUEL,
    StopProblem,
    choose_stops,
    fuel_price,
    leg_price,
)


def _random(seed: int, n: int) -> StopProblem:
    rng = np.random.default_rng(seed)
    at = np.concatenate(([0.0], np.sort(rng.uniform(0, 1, n - 2)), [1.0]))
    must = rng.random(n) < 0.15
    night = must & (rng.random(n) < 0.5)
    must[[0, -1]] = night[[0, -1]] = False
    return StopProblem(
        strain=at * rng.uniform(0.5, 4.0),
        litres=at * rng.uniform(2.0, 20.0),
        off_l=np.where(rng.random(n) < 0.3, rng.uniform(0, 0.5, n), 0.0) * (at > 0) * (at < 1),
        fuel=rng.random(n) < 0.4,
        price=rng.uniform(0, 20, n),
        must=must,
        lunch=np.where(rng.random(n) < 0.5, rng.uniform(0, 30, n), np.inf),
        night=night,
        no_lunch=np.where(rng.random(n) < 0.7, 60.0, 0.0),
        usable_l=6.0,
    )


def _cost_of(p: StopProblem, stops: tuple[int, ...], lunches: frozenset[int]) -> float:
    """Price of one set of stops, counted along the ride as a rider would."""
    total, tank, had = 0.0, 0, False
    for i, j in pairwise(stops):
        full = i == 0 or p.fuel[i] or p.must[i]
        if j > i + 1 and p.strain[j] - p.strain[i] > 1.5 and not full:
            return np.inf  # never ridden past a stop when so far over the limit
        total += float(leg_price(p.strain[j] - p.strain[i])) + p.price[j]
        last = j == len(p.strain) - 1
        if p.fuel[j] or last:
            short = p.litres[j] - p.litres[tank] + p.off_l[j] + p.off_l[tank] - p.usable_l
            total += fuel_price(short)
            tank = j
        if j in lunches:
            if had or not np.isfinite(p.lunch[j]):
                return np.inf
            total += p.lunch[j]
            had = True
        if p.night[j] or last:
            total += 0.0 if had else p.no_lunch[j]
            had = False
    return total


def _brute(p: StopProblem) -> float:
    n = len(p.strain)
    inner, best = range(1, n - 1), np.inf
    needed = {i for i in inner if p.must[i]}
    for size in range(n - 1):
        for chosen in combinations(inner, size):
            if not needed <= set(chosen):
                continue
            for meals in range(len(chosen) + 1):
                for lunches in combinations(chosen, meals):
                    cost = _cost_of(p, (0, *chosen, n - 1), frozenset(lunches))
                    best = min(best, cost)
    return best


@settings(max_examples=60, deadline=None)
@given(st.integers(0, 100_000), st.integers(3, 8))
def test_cost_equals_the_best_of_all_sets_of_stops(seed, n) -> None:
    problem = _random(seed, n)
    chosen = choose_stops(problem)
    want = _brute(problem)
    assert chosen.cost == pytest.approx(want, rel=1e-9)
    assert _cost_of(problem, chosen.stops, frozenset(chosen.lunches)) == pytest.approx(
        chosen.cost, rel=1e-9
    )


@settings(max_examples=80, deadline=None)
@given(st.integers(0, 100_000), st.integers(3, 10))
@example(486, 8)  # a pump far off the road stands where a rest is due
def test_fuel_is_short_only_where_no_set_of_pumps_would_do(seed, n) -> None:
    """Brute force over all sets of pumps, fuel alone."""
    problem = _random(seed, n)
    chosen = choose_stops(problem)
    pumps = [i for i in range(1, n - 1) if problem.fuel[i]]

    def reaches(stops: tuple[int, ...]) -> bool:
        here = [0, *stops, n - 1]
        need = [
            problem.litres[b] - problem.litres[a] + problem.off_l[a] + problem.off_l[b]
            for a, b in pairwise(here)
        ]
        return max(need) <= problem.usable_l + 1e-9

    forced = {i for i in pumps if problem.must[i]}
    sets = [c for size in range(len(pumps) + 1) for c in combinations(pumps, size)]
    feasible = any(reaches(c) for c in sets if forced <= set(c))
    used = tuple(i for i in chosen.stops[1:-1] if problem.fuel[i])
    assert reaches(used) == feasible


def test_long_ride_keeps_rest_and_range() -> None:
    """600 candidates, 10 pumps, a tank for 220 of 1000 km: every limit holds."""
    n = 600
    at = np.linspace(0, 1000.0, n)
    fuel = np.zeros(n, bool)
    fuel[::60] = True
    problem = StopProblem(
        strain=at / 100.0, litres=at * 0.05, off_l=np.zeros(n), fuel=fuel, price=np.full(n, 15.0),
        must=np.zeros(n, bool), lunch=np.full(n, np.inf), night=np.zeros(n, bool),
        no_lunch=np.zeros(n), usable_l=11.0,
    )  # fmt: skip
    chosen = choose_stops(problem)
    assert chosen.cost < SHORT_OF_FUEL
    gaps = np.diff(at[list(chosen.stops)])
    assert gaps.max() <= 100.0 + 1e-6
    fills = [0, *(i for i in chosen.stops if fuel[i]), n - 1]
    assert np.diff(at[fills]).max() <= 220.0 + 1e-6
