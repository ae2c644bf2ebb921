"""Where a ride might stop: groups of places, lone pumps, and the roadside in between."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from terrain.stages.plan.course import Course
from terrain.stages.plan.near import FOOD, FUEL, HAMLET, LODGING, PASS, TOWN, WATER, Near
from terrain.values.arrays import BoolArray, FloatArray, Int32Array, IntArray
from terrain.values.plan import StopKind

ROADSIDE = -1
AT_HAND_M = 300.0  # places this near the ride are stopped at in passing
NIGHT_REACH_M = 8_000.0
_GROUP_M = 1_000.0  # places closer along the ride than this are one stop
_NIGHT_GROUP_M = 2_000.0
_MOST_GROUPS = 250
_ROADSIDE_STRAIN = 1 / 8  # a roadside stop is possible so often within the most allowed
# Which place of a group one stops at.
_FIRST = ((FUEL, 0), (FOOD, 1), (WATER, 2), (TOWN, 3), (PASS, 4), (HAMLET, 5))


class Asked(NamedTuple):
    """A stop that has to be made. source : as in Near, -1 by the roadside."""

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


class Candidates(NamedTuple):
    """Possible stops by position, shape (n,); the first is the start, the last the end.

    near : row in Near of the place one stops at, -1 by the roadside; asked : index of the
    Asked it is, -1 if none
    """

    at_m: FloatArray
    off_m: FloatArray
    off_s: FloatArray
    bits: IntArray
    near: Int32Array
    asked: Int32Array


def stop_candidates(course: Course, near: Near, asked: tuple[Asked, ...]) -> Candidates:
    """All possible stops of a ride, with those asked for."""
    end = float(course.at_m[-1])
    group_m = max(_GROUP_M, end / _MOST_GROUPS)
    rows = np.concatenate((_groups(near, group_m), _lone_pumps(near, group_m))).astype(np.int64)
    bits = _group_bits(near, rows, group_m)
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
    return Candidates(
        at_m=at_m[order],
        off_m=off_m[order],
        off_s=off_s[order],
        bits=np.concatenate([part[1] for part in parts])[order],
        near=place[order],
        asked=np.where(asked_of >= 0, asked_of, -1)[order].astype(np.int32),
    )


def _bins(at_m: FloatArray, width_m: float) -> IntArray:
    return np.floor(at_m / width_m).astype(np.int64)


def _best_of_bins(group: IntArray, rank: FloatArray) -> IntArray:
    """Index of the lowest rank in each group."""
    order = np.lexsort((rank, group))
    return order[np.unique(group[order], return_index=True)[1]]


def _groups(near: Near, group_m: float) -> IntArray:
    """The place to stop at in each group of places at hand."""
    useful = (near.bits & ~LODGING) != 0
    rows = np.flatnonzero(useful & (near.off_m <= AT_HAND_M))
    if not len(rows):
        return rows
    rank = np.full(len(rows), 9.0)
    for bit, place in _FIRST[::-1]:
        rank = np.where(near.bits[rows] & bit, float(place), rank)
    return rows[_best_of_bins(_bins(near.at_m[rows], group_m), rank)]


def _group_bits(near: Near, rows: IntArray, group_m: float) -> IntArray:
    """What each group offers in all; lone pumps and far places offer their own."""
    at_hand = near.off_m <= AT_HAND_M
    group = _bins(near.at_m, group_m)
    wide = int(group.max(initial=0)) + 1
    every = np.zeros(wide, dtype=np.int64)
    np.bitwise_or.at(every, group[at_hand], near.bits[at_hand])
    return np.where(at_hand[rows], every[group[rows]], near.bits[rows])


def _lone_pumps(near: Near, group_m: float) -> IntArray:
    """Pumps off the ride, one for each piece of it that has none at hand."""
    pump = (near.bits & FUEL) != 0
    group = _bins(near.at_m, 2 * group_m)
    served = np.unique(group[pump & (near.off_m <= AT_HAND_M)])
    rows = np.flatnonzero(pump & (near.off_m > AT_HAND_M) & ~np.isin(group, served))
    return rows[_best_of_bins(group[rows], near.off_m[rows])] if len(rows) else rows


def _roadside(course: Course) -> FloatArray:
    """Positions between which a rider is never far from a possible stop."""
    strain = float(course.strain[-1])
    count = int(np.ceil(strain / _ROADSIDE_STRAIN))
    if count < 2:
        return np.zeros(0)
    return np.interp(np.linspace(0.0, strain, count + 1)[1:-1], course.strain, course.at_m)


def pump_rows(near: Near, end_m: float) -> IntArray:
    """The pumps a ride of some length may stop at, as a plan would."""
    group_m = max(_GROUP_M, end_m / _MOST_GROUPS)
    rows: IntArray = np.concatenate((_groups(near, group_m), _lone_pumps(near, group_m)))
    pump: IntArray = rows[offers(near.bits[rows], FUEL)].astype(np.int64)
    return pump


def night_rows(near: Near) -> IntArray:
    """Lodgings worth a night, the nearest of each 2 km of the ride."""
    rows = np.flatnonzero(((near.bits & LODGING) != 0) & (near.off_m <= NIGHT_REACH_M))
    if not len(rows):
        return rows
    return rows[_best_of_bins(_bins(near.at_m[rows], _NIGHT_GROUP_M), near.off_m[rows])]


def offers(bits: IntArray, bit: int) -> BoolArray:
    """Which candidates offer a thing."""
    on: BoolArray = (bits & bit) != 0
    return on
