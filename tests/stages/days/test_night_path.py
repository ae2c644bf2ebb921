"""The choice of nights against trying every set of nights."""

from __future__ import annotations

from itertools import combinations, pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from terrain.stages.days.night_path import NO_BED, NightProblem, choose_nights

HOUR = 3600.0


def _problem(ride_h, price, *, off_h=None, day_h=6.0, latest_h=18.0, forced=()) -> NightProblem:
    off_h = np.zeros(len(ride_h)) if off_h is None else np.asarray(off_h, float)
    return NightProblem(
        ride_s=np.asarray(ride_h) * HOUR, price=np.asarray(price, float), off_s=off_h * HOUR,
        day_s=day_h * HOUR,
        share_of_stops=0.2, start_s=np.array([9 * HOUR]), latest_s=np.array([latest_h * HOUR]),
        forced=forced,
    )  # fmt: skip


def _leg_s(p: NightProblem, a: int, b: int) -> float:
    """Riding time of a day from one bed to the next, the ways from and to them included."""
    return float(p.ride_s[b] + p.off_s[b] - p.ride_s[a] + p.off_s[a])


def _breaks(p: NightProblem, nights: tuple[int, ...]) -> tuple[float, float, float, int, int]:
    """(days over the limit, late arrivals, nights without a bed, short days but the last, days)."""
    legs = [_leg_s(p, a, b) for a, b in pairwise((0, *nights))]
    over = sum(leg > p.day_s + 1e-6 for leg in legs)
    late = sum(p.start_s[0] + 1.2 * leg > p.latest_s[0] + 1e-6 for leg in legs)
    bare = sum(p.price[i] >= NO_BED for i in nights[:-1])
    short = sum(leg < p.day_s / 3 for leg in legs[:-1])
    return over, late, bare, short, len(legs)


@settings(max_examples=60, deadline=None)
@given(st.integers(0, 100_000), st.integers(3, 9))
def test_no_limit_is_broken_if_any_set_of_nights_keeps_them_and_days_are_fewest(seed, n) -> None:
    rng = np.random.default_rng(seed)
    ride_h = np.concatenate(([0.0], np.sort(rng.uniform(0, 16, n - 1))))
    price = np.where(rng.random(n) < 0.3, NO_BED, rng.uniform(0, 3, n))
    off_h = np.append(rng.choice([0.0, 0.1, 1.0], n - 1), 0.0)
    off_h[0] = 0.0
    p = _problem(ride_h, price, off_h=off_h)
    best = min(
        _breaks(p, (*chosen, n - 1))
        for size in range(n - 1)
        for chosen in combinations(range(1, n - 1), size)
    )
    got = _breaks(p, choose_nights(p))
    if best[:4] == (0, 0, 0, 0):
        assert got == best
    else:
        assert got[:4] != (0, 0, 0, 0)


def test_days_are_evened_out() -> None:
    p = _problem([0, 2, 4, 6, 8], [0, 0, 0, 0, 0])
    assert choose_nights(p) == (2, 4)


def test_the_way_to_a_bed_and_back_is_riding_too() -> None:
    """A bed an hour off the ride makes the day to it, and the next, an hour longer."""
    near_by = _problem([0, 5.5, 5.6, 11], [0, 3, 0, 0], off_h=[0, 0, 1, 0])
    assert choose_nights(near_by) == (1, 3)
    level = _problem([0, 5.5, 5.6, 11], [0, 3, 0, 0])
    assert choose_nights(level) == (2, 3)


def test_short_light_makes_more_days() -> None:
    """Three hours of light: 9 to 12, at 1.2 times the riding time."""
    p = _problem([0, 2.4, 4.8, 7.2, 9.6], [0] * 5, latest_h=12.0)
    assert choose_nights(p) == (1, 2, 3, 4)


def test_no_day_ends_after_two_hours_to_save_a_later_one_a_little_over_the_limit() -> None:
    """Beds after 1.5 and 6.3 h of a limit of 6: on to the second, and the plan says so."""
    p = _problem([0, 1.5, 6.3, 12.0], [0] * 4, latest_h=22.0)
    assert choose_nights(p) == (2, 3)
    far = _problem([0, 1.5, 7.4, 12.0], [0] * 4, latest_h=22.0)
    assert choose_nights(far) == (1, 2, 3)  # but not where the day would be much too long


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


def _price(p: NightProblem, nights: tuple[int, ...]) -> float:
    """Price of one set of nights, counted day by day."""
    total = 0.0
    for day, (a, b) in enumerate(pairwise((0, *nights))):
        ride = _leg_s(p, a, b)
        i = min(day, len(p.start_s) - 1)
        late_h = (p.start_s[i] + ride * (1 + p.share_of_stops) - p.latest_s[i]) / HOUR
        over = ride / p.day_s - 1
        total += 40 + 12 * (ride / p.day_s) ** 2
        total += (100 + 1000 * over if over > 1e-9 else 0) + (
            150 + 400 * late_h if late_h > 1e-9 else 0
        )
        total += 200 if b < len(p.ride_s) - 1 and ride < p.day_s / 3 else 0
        total += p.price[b] if b < len(p.ride_s) - 1 else 0
    return total


@settings(max_examples=40, deadline=None)
@given(st.integers(0, 100_000), st.integers(3, 10))
def test_nights_are_the_cheapest_of_all_sets_on_days_of_unlike_light(seed, n) -> None:
    rng = np.random.default_rng(seed)
    ride_h = np.concatenate(([0.0], np.sort(rng.uniform(0, 30, n - 1))))
    p = NightProblem(
        ride_s=ride_h * HOUR, price=rng.choice([0.0, 1.5, NO_BED], n),
        off_s=np.array([0.0, *rng.choice([0.0, 0.2, 2.0], n - 2), 0.0]) * HOUR, day_s=6 * HOUR,
        share_of_stops=0.2, start_s=rng.uniform(7, 11, 3) * HOUR,
        latest_s=rng.choice([15.0, 18.0, np.inf], 3) * HOUR,
    )  # fmt: skip
    sets = [
        (*inner, n - 1) for size in range(n - 1) for inner in combinations(range(1, n - 1), size)
    ]
    least = min(_price(p, nights) for nights in sets)
    assert _price(p, choose_nights(p)) == pytest.approx(least)
