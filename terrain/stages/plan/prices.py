"""What each possible stop costs a rider, in minutes, and the problem that follows."""

from __future__ import annotations

import numpy as np

from terrain.calc.choose_stops import StopProblem
from terrain.stages.plan.candidates import Asked, Candidates, offers
from terrain.stages.plan.course import Course
from terrain.stages.plan.near import FOOD, FUEL, HAMLET, PASS, TOWN, WATER
from terrain.values.arrays import BoolArray, FloatArray, IntArray
from terrain.values.clock import MIDDAY_FROM_S, MIDDAY_TO_S, RideClock
from terrain.values.plan import FuelRange, StopKind

# Minutes (common practice, no source): what makes one place better to stop at than another.
_STOP = 15.0
_WATER_ONLY, _HAMLET, _ROADSIDE = 2.0, 4.0, 10.0
_HOT_AND_DRY = 10.0
_LUNCH_TOWN, _LUNCH_FUEL, _LUNCH_NONE, _LUNCH_PER_H = 8.0, 10.0, 25.0, 5.0
NO_LUNCH = 60.0
LUNCH_FROM_S, LUNCH_TO_S, LUNCH_BEST_S = 11.25 * 3600, 14.25 * 3600, 12.5 * 3600


def stop_problem(
    candidates: Candidates,
    asked: tuple[Asked, ...],
    course: Course,
    fuel: FuelRange | None,
    clock: RideClock,
) -> StopProblem:
    """The candidates as a problem for the choice of stops."""
    at_m, bits = candidates.at_m, candidates.bits
    must = candidates.asked >= 0
    night = np.array([i >= 0 and StopKind.NIGHT in asked[i].kinds for i in candidates.asked])
    now_s = clock.passing_s(at_m)
    ends = night.copy()
    ends[-1] = True
    l_per_m = (fuel.l_per_km if fuel else 0.0) / 1000.0
    pump = offers(bits, FUEL)
    off_l = np.where(pump, candidates.off_m * l_per_m, 0.0)
    extra = np.where(must & ~pump, 2.0 * candidates.off_m * l_per_m, 0.0)
    return StopProblem(
        strain=course.strain_at(at_m),
        litres=course.litres_at(at_m) + np.cumsum(extra),
        off_l=off_l,
        fuel=pump,
        price=np.where(must, 0.0, _price(candidates, course)),
        must=must,
        lunch=_lunch_price(bits, now_s),
        night=night,
        no_lunch=np.where(ends, _no_lunch(at_m, now_s, ends, clock), 0.0),
        usable_l=fuel.usable_l if fuel else np.inf,
    )


def _price(candidates: Candidates, course: Course) -> FloatArray:
    bits = candidates.bits
    kind = np.where(
        offers(bits, FOOD | FUEL | TOWN),
        0.0,
        np.where(offers(bits, WATER | PASS), _WATER_ONLY, _ROADSIDE),
    )
    kind = np.where((kind == _ROADSIDE) & offers(bits, HAMLET), _HAMLET, kind)
    dry = course.is_hot(candidates.at_m) & ~offers(bits, WATER | TOWN)
    return _STOP + kind + np.where(dry, _HOT_AND_DRY, 0.0) + 2.0 * candidates.off_s / 60.0


def _lunch_price(bits: IntArray, now_s: FloatArray) -> FloatArray:
    kind = np.where(
        offers(bits, FOOD),
        0.0,
        np.where(
            offers(bits, TOWN),
            _LUNCH_TOWN,
            np.where(offers(bits, FUEL), _LUNCH_FUEL, _LUNCH_NONE),
        ),
    )
    early = np.abs(now_s - LUNCH_BEST_S) / 3600.0 * _LUNCH_PER_H
    return np.where((now_s >= LUNCH_FROM_S) & (now_s <= LUNCH_TO_S), kind + early, np.inf)


def _no_lunch(
    at_m: FloatArray,
    now_s: FloatArray,
    ends: BoolArray,
    clock: RideClock,
) -> FloatArray:
    """Price of ending a day at each candidate without lunch: none if it skips midday."""
    start = clock.start_s[clock.day_of(at_m)]
    whole = ends & (start < MIDDAY_FROM_S) & (now_s > MIDDAY_TO_S)
    return np.where(whole, NO_LUNCH, 0.0)
