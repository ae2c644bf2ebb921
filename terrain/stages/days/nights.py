"""Where the days end: lodging in reach, daylight, and what the guide asks for."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from terrain.stages.days.groups import is_settled, night_rows
from terrain.stages.days.near import NearbyPlaces
from terrain.stages.days.night_path import NO_BED, NightProblem, choose_nights
from terrain.values.arrays import FloatArray
from terrain.values.clock import LUNCH_S, SHARE_OF_STOPS, ClockChange
from terrain.values.fleet import FleetRules
from terrain.values.plan import BEFORE_DUSK_S, Daylight, PinnedNight
from terrain.values.ride import Ride

DEFAULT_START_S = 8.5 * 3600.0  # common practice, no source
# Nobody unpacks within half an hour of setting off: then the whole ride begins next morning.
_LEAST_DAY_S = 1_800.0  # common practice, no source
_BARE_EVERY_S = 1_800.0  # a night without a bed may end the day so often along the ride
_OFF_PRICE_PER_M = 1.0 / 2_000.0
_LONELY = 6.0  # price of a bed away from any settlement, as 12 km of way (common practice)


class Night(NamedTuple):
    """End of a day. near : row in NearbyPlaces of its lodging, -1 without; pin : index or -1."""

    at_m: float
    near: int
    pin: int


class DayStarts(NamedTuple):
    """Setting off and daylight by day; of days beyond the last the last is taken.

    start_s : of the days after the first, unless the sun rises later; first_start_s : as asked
    changes : of the clock; rested_s : the second day not before, after a first that ended at night
    """

    start_s: float
    first_start_s: float
    daylight: tuple[Daylight, ...]
    changes: tuple[ClockChange, ...] = ()
    rested_s: float = 0.0

    def sun(self, day: int) -> Daylight | None:
        return self.daylight[min(day, len(self.daylight) - 1)] if self.daylight else None

    def sets_off_s(self, day: int) -> float:
        """The first day as asked; later days not before sunrise."""
        if day == 0:
            return self.first_start_s
        sun, rested_s = self.sun(day), self.rested_s if day == 1 else 0.0
        return max(self.start_s, rested_s, 0.0 if sun is None else sun.sunrise_s)

    def told_s(self, day: int, time_s: float) -> float:
        """What a clock shows at a time that runs on from setting off."""
        start_s = self.sets_off_s(day)
        return time_s + sum(c.by_s for c in self.changes if c.is_met(day, start_s, time_s))

    def latest_s(self, day: int) -> float:
        """When to arrive, by the clock as it is on setting off."""
        sun = self.sun(day)
        if sun is None:
            return np.inf
        latest_s = sun.dusk_s - BEFORE_DUSK_S
        return 2.0 * latest_s - self.told_s(day, latest_s)


def plan_nights(
    ride: Ride,
    near: NearbyPlaces,
    clock: DayStarts,
    rules: FleetRules,
    pins: Sequence[tuple[int, PinnedNight, float]],
) -> tuple[Night, ...]:
    """The nights between the days, in order; empty for a ride of one day.

    pins : (index, pin, position) of the nights the guide asks for
    """
    rows = night_rows(near)
    bare = ride.at_time(np.arange(_BARE_EVERY_S, ride.total_s - 60.0, _BARE_EVERY_S))
    at_m = np.concatenate((near.at_m[rows], bare, [pin[2] for pin in pins]))
    bed = np.concatenate((rows, np.full(len(bare) + len(pins), -1))).astype(np.int64)
    pin_of = np.concatenate((np.full(len(rows) + len(bare), -1), [pin[0] for pin in pins]))
    price = np.concatenate(
        (
            near.off_m[rows] * _OFF_PRICE_PER_M
            + np.where(is_settled(near, near.at_m[rows]), 0.0, _LONELY),
            np.full(len(bare), NO_BED),
            np.full(len(pins), NO_BED),
        )
    )
    off_s = np.concatenate((near.off_s[rows], np.zeros(len(bare) + len(pins))))
    inside = (at_m > 1.0) & (at_m < ride.length_m - 1.0)
    inside &= (ride.time_s(at_m) >= _LEAST_DAY_S) | (pin_of >= 0)
    order = np.flatnonzero(inside)[np.argsort(at_m[inside], kind="stable")]
    at_m, bed, pin_of, price = at_m[order], bed[order], pin_of[order], price[order]
    off_s = off_s[order]
    places = np.concatenate(([0.0], at_m, [ride.length_m]))
    forced = tuple(
        (pin.day - 1, int(np.flatnonzero(pin_of == index)[0]) + 1)
        for index, pin, _ in pins
        if (pin_of == index).any()
    )
    problem = _problem(ride, places, price, off_s, clock, rules, forced)
    ends = choose_nights(problem)
    return tuple(Night(float(at_m[i - 1]), int(bed[i - 1]), int(pin_of[i - 1])) for i in ends[:-1])


def _problem(
    ride: Ride,
    places: FloatArray,
    price: FloatArray,
    off_s: FloatArray,
    clock: DayStarts,
    rules: FleetRules,
    forced: tuple[tuple[int, int], ...],
) -> NightProblem:
    days = max(len(clock.daylight), 2)
    start = np.array([clock.sets_off_s(day) for day in range(days)])
    latest = np.array([clock.latest_s(day) for day in range(days)])
    return NightProblem(
        ride_s=ride.time_s(places),
        price=np.concatenate(([0.0], price, [0.0])),
        off_s=np.concatenate(([0.0], off_s, [0.0])),
        day_s=rules.ride_day_s,
        share_of_stops=SHARE_OF_STOPS,
        start_s=start,
        latest_s=latest - np.where(np.isfinite(latest), LUNCH_S / 2, 0.0),
        forced=forced,
    )
