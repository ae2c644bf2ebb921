"""Where a ride might stop: groups of places, lone pumps, and the roadside in between."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from terrain.stages.days.groups import (
    GROUP_M,
    MOST_GROUPS,
    ROADSIDE,
    group_bits,
    lone_pumps,
    offers,
    place_groups,
)
from terrain.stages.days.near import FOOD, FUEL, HAMLET, PASS, TOWN, WATER, NearbyPlaces
from terrain.stages.plan.course import RideSums
from terrain.stages.plan.stop_path import StopProblem
from terrain.values.arrays import BoolArray, FloatArray, Int32Array, IntArray
from terrain.values.clock import MIDDAY_FROM_S, MIDDAY_TO_S, RideClock
from terrain.values.plan import FuelRange, StopKind

# Common practice, no source.
_ROADSIDE_STRAIN = 1 / 8  # a roadside stop is possible so often within the most allowed


class RequiredStop(NamedTuple):
    """A stop that has to be made. source : as in NearbyPlaces, -1 by the roadside."""

    at_m: float
    kinds: tuple[StopKind, ...]
    name: str | None
    why: str
    lon: float | None
    lat: float | None
    source: int
    bits: int
    off_m: float
    off_s: float
    stay_s: float | None
    pinned: bool


class StopCandidates(NamedTuple):
    """Possible stops by position, shape (n,); the first is the start, the last the end.

    near : row in NearbyPlaces of the place one stops at, -1 by the roadside; asked : index of the
    RequiredStop it is, -1 if none
    """

    at_m: FloatArray
    off_m: FloatArray
    off_s: FloatArray
    bits: IntArray
    near: Int32Array
    asked: Int32Array


def stop_candidates(
    course: RideSums, near: NearbyPlaces, asked: tuple[RequiredStop, ...]
) -> StopCandidates:
    """All possible stops of a ride, with those asked for."""
    end = float(course.at_m[-1])
    group_m = max(GROUP_M, end / MOST_GROUPS)
    rows = np.concatenate((place_groups(near, group_m), lone_pumps(near, group_m))).astype(np.int64)
    bits = group_bits(near, rows, group_m)
    roadside = _roadside(course)
    parts = (
        (np.array([0.0, end]), np.zeros(2, np.int64), np.full(2, ROADSIDE)),
        (near.at_m[rows], bits, rows),
        (roadside, np.zeros(len(roadside), np.int64), np.full(len(roadside), ROADSIDE)),
        (
            np.array([item.at_m for item in asked]),
            np.array([item.bits for item in asked], dtype=np.int64),
            np.full(len(asked), ROADSIDE),
        ),
    )
    at_m = np.concatenate([part[0] for part in parts])
    place = np.concatenate([part[2] for part in parts]).astype(np.int32)
    has_place = place >= 0
    off_m = np.where(has_place, np.append(near.off_m, 0.0)[place], 0.0)
    off_s = np.where(has_place, np.append(near.off_s, 0.0)[place], 0.0)
    first_asked = len(at_m) - len(asked)
    asked_of = np.arange(len(at_m)) - first_asked
    for i, item in enumerate(asked):
        off_m[first_asked + i], off_s[first_asked + i] = item.off_m, item.off_s
    # The end stays last and the start first, whatever lies at the same spot.
    rank = np.zeros(len(at_m))
    rank[0], rank[1] = -1.0, 1.0
    order = np.lexsort((rank, at_m))
    return StopCandidates(
        at_m=at_m[order],
        off_m=off_m[order],
        off_s=off_s[order],
        bits=np.concatenate([part[1] for part in parts])[order],
        near=place[order],
        asked=np.where(asked_of >= 0, asked_of, -1)[order].astype(np.int32),
    )


def _roadside(course: RideSums) -> FloatArray:
    """Positions between which a rider is never far from a possible stop."""
    strain = float(course.strain[-1])
    count = int(np.ceil(strain / _ROADSIDE_STRAIN))
    if count < 2:
        return np.zeros(0)
    return np.interp(np.linspace(0.0, strain, count + 1)[1:-1], course.strain, course.at_m)


# Minutes (common practice, no source): what makes one place better to stop at than another.
_STOP = 15.0
_WATER_ONLY, _HAMLET, _ROADSIDE = 2.0, 4.0, 10.0
_HOT_AND_DRY = 10.0
_LUNCH_TOWN, _LUNCH_FUEL, _LUNCH_NONE, _LUNCH_PER_H = 8.0, 10.0, 25.0, 5.0
NO_LUNCH = 60.0
LUNCH_FROM_S, LUNCH_TO_S, LUNCH_BEST_S = 11.25 * 3600, 14.25 * 3600, 12.5 * 3600


def stop_problem(
    candidates: StopCandidates,
    asked: tuple[RequiredStop, ...],
    course: RideSums,
    fuel: FuelRange | None,
    clock: RideClock,
) -> StopProblem:
    """The candidates as a problem for the choice of stops."""
    at_m, bits = candidates.at_m, candidates.bits
    must = candidates.asked >= 0
    night = np.array([i >= 0 and StopKind.NIGHT in asked[i].kinds for i in candidates.asked])
    # Where and when the guide wants lunch, it is had.
    eaten = np.array([i >= 0 and StopKind.LUNCH in asked[i].kinds for i in candidates.asked])
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
        lunch=np.where(eaten, 0.0, _lunch_price(bits, now_s)),
        night=night,
        no_lunch=np.where(ends, _no_lunch(at_m, now_s, ends, clock), 0.0),
        usable_l=fuel.usable_l if fuel else np.inf,
    )


def _price(candidates: StopCandidates, course: RideSums) -> FloatArray:
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
