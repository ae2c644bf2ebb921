"""The choice of nights against trying every set of nights."""

from __future__ import annotations

from itertools import combinations, pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from terrain.calc.choose_nights import NO_BED, NightProblem, choose_nights

HOUR = 3600.0


def _problem(ride_h, price, *, day_h=6.0, latest_h=18.0, forced=()) -> NightProblem:
    return NightProblem(
        ride_s=np.asarray(ride_h) * HOUR, price=np.asarray(price, float), day_s=day_h * HOUR,
        share_of_stops=0.2, start_s=np.array([9 * HOUR]), latest_s=np.array([latest_h * HOUR]),
        forced=forced,
    )  # fmt: skip


def _breaks(p: NightProblem, nights: tuple[int, ...]) -> tuple[float, float, float, int]:
    """(days over the limit, late arrivals, nights without a bed, days)."""
    legs = [p.ride_s[b] - p.ride_s[a] for a, b in pairwise((0, *nights))]
    over = sum(leg > p.day_s + 1e-6 for leg in legs)
    late = sum(p.start_s[0] + 1.2 * leg > p.latest_s[0] + 1e-6 for leg in legs)
    bare = sum(p.price[i] >= NO_BED for i in nights[:-1])
    return over, late, bare, len(legs)


@settings(max_examples=60, deadline=None)
@given(st.integers(0, 100_000), st.integers(3, 9))
def test_no_limit_is_broken_if_any_set_of_nights_keeps_them_and_days_are_fewest(seed, n) -> None:
    rng = np.random.default_rng(seed)
    ride_h = np.concatenate(([0.0], np.sort(rng.uniform(0, 16, n - 1))))
    price = np.where(rng.random(n) < 0.3, NO_BED, rng.uniform(0, 3, n))
    p = _problem(ride_h, price)
    best = min(
        _breaks(p, (*chosen, n - 1))
        for size in range(n - 1)
        for chosen in combinations(range(1, n - 1), size)
    )
    got = _breaks(p, choose_nights(p))
    if best[:3] == (0, 0, 0):
        assert got == best
    else:
        assert got[:3] != (0, 0, 0)


def test_days_are_evened_out() -> None:
    p = _problem([0, 2, 4, 6, 8], [0, 0, 0, 0, 0])
    assert choose_nights(p) == (2, 4)


def test_short_light_makes_more_days() -> None:
    """Three hours of light: 9 to 12, at 1.2 times the riding time."""
    p = _problem([0, 2, 4, 6, 8], [0] * 5, latest_h=12.0)
    assert choose_nights(p) == (1, 2, 3, 4)


def test_pinned_night_is_kept_even_where_it_hurts() -> None:
    p = _problem([0, 2, 5, 7, 10], [0] * 5, forced=((0, 3),))
    nights = choose_nights(p)
    assert nights[0] == 3
    assert nights[-1] == 4


def test_pinned_second_night_asks_for_a_third_day() -> None:
    p = _problem([0, 1, 2, 3, 4], [0] * 5, forced=((1, 3),))
    nights = choose_nights(p)
    assert nights[1] == 3
    assert len(nights) == 3
    assert nights == pytest.approx((nights[0], 3, 4))
