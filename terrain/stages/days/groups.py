"""Places near the ride taken together where one stop serves for all of them."""

from __future__ import annotations

import numpy as np

from terrain.stages.days.near import FOOD, FUEL, HAMLET, LODGING, PASS, TOWN, WATER, NearbyPlaces
from terrain.values.arrays import BoolArray, FloatArray, IntArray

# Common practice, no source.
ROADSIDE = -1
AT_HAND_M = 300.0  # places this near the ride are stopped at in passing


# Common practice, no source.
NIGHT_REACH_M = 8_000.0
GROUP_M = 1_000.0  # places closer along the ride than this are one stop


# Common practice, no source.
_NIGHT_GROUP_M = 2_000.0
_LONELY_M = 3_000.0  # a bed in a settlement is worth so much more way to it (common practice)
MOST_GROUPS = 250


# Which place of a group one stops at.
# All common practice, no source.
_FIRST = (FUEL, FOOD, WATER, TOWN, PASS, HAMLET)


def _bins(at_m: FloatArray, width_m: float) -> IntArray:
    return np.floor(at_m / width_m).astype(np.int64)


def _best_of_bins(group: IntArray, rank: FloatArray) -> IntArray:
    """Index of the lowest rank in each group."""
    order = np.lexsort((rank, group))
    return order[np.unique(group[order], return_index=True)[1]]


def place_groups(near: NearbyPlaces, group_m: float) -> IntArray:
    """The place to stop at in each group of places at hand."""
    useful = (near.bits & ~LODGING) != 0
    rows = np.flatnonzero(useful & (near.off_m <= AT_HAND_M))
    if not len(rows):
        return rows
    rank = np.argmax((near.bits[rows, None] & np.array((*_FIRST, ~0))) != 0, axis=1)
    return rows[_best_of_bins(_bins(near.at_m[rows], group_m), rank)]


def group_bits(near: NearbyPlaces, rows: IntArray, group_m: float) -> IntArray:
    """What each group offers in all; lone pumps and far places offer their own."""
    at_hand = near.off_m <= AT_HAND_M
    group = np.unique(_bins(near.at_m, group_m), return_inverse=True)[1]
    every = np.zeros(len(group), dtype=np.int64)
    np.bitwise_or.at(every, group[at_hand], near.bits[at_hand])
    return np.where(at_hand[rows], every[group[rows]], near.bits[rows])


def lone_pumps(near: NearbyPlaces, group_m: float) -> IntArray:
    """Pumps off the ride, one for each piece of it that has none at hand."""
    pump = (near.bits & FUEL) != 0
    group = _bins(near.at_m, 2 * group_m)
    served = np.unique(group[pump & (near.off_m <= AT_HAND_M)])
    rows = np.flatnonzero(pump & (near.off_m > AT_HAND_M) & ~np.isin(group, served))
    return rows[_best_of_bins(group[rows], near.off_m[rows])] if len(rows) else rows


def pump_rows(near: NearbyPlaces, end_m: float) -> IntArray:
    """The pumps a ride of some length may stop at, as a plan would."""
    group_m = max(GROUP_M, end_m / MOST_GROUPS)
    rows: IntArray = np.concatenate((place_groups(near, group_m), lone_pumps(near, group_m)))
    pump: IntArray = rows[offers(near.bits[rows], FUEL)].astype(np.int64)
    return pump


def night_rows(near: NearbyPlaces) -> IntArray:
    """Lodgings worth a night, the nearest of each 2 km of the ride."""
    rows = np.flatnonzero(((near.bits & LODGING) != 0) & (near.off_m <= NIGHT_REACH_M))
    if not len(rows):
        return rows
    rank = near.off_m[rows] + np.where(is_settled(near, near.at_m[rows]), 0.0, _LONELY_M)
    return rows[_best_of_bins(_bins(near.at_m[rows], _NIGHT_GROUP_M), rank)]


def is_settled(near: NearbyPlaces, at_m: FloatArray) -> BoolArray:
    """Positions of the ride where a settlement or somewhere to eat is close."""
    there = np.sort(near.at_m[offers(near.bits, TOWN | FOOD) & (near.off_m <= _BED_NEAR_M)])
    if not len(there):
        return np.zeros(len(at_m), dtype=bool)
    after = np.minimum(np.searchsorted(there, at_m), len(there) - 1)
    gap = np.minimum(np.abs(there[after] - at_m), np.abs(there[np.maximum(after - 1, 0)] - at_m))
    return np.asarray(gap <= _BED_NEAR_M)


# Common practice, no source.
_BED_NEAR_M = 1_500.0


def bed_near(near: NearbyPlaces, at_m: float) -> int:
    """Row of the lodging nearest to a position of the ride, -1 if none is close."""
    close = np.flatnonzero(
        ((near.bits & LODGING) != 0)
        & (np.abs(near.at_m - at_m) <= _BED_NEAR_M)
        & (near.off_m <= _BED_NEAR_M)
    )
    if not len(close):
        return ROADSIDE
    return int(close[np.argmin(near.off_m[close] + np.abs(near.at_m[close] - at_m))])


def offers(bits: IntArray, bit: int) -> BoolArray:
    """Which candidates offer a thing."""
    on: BoolArray = (bits & bit) != 0
    return on
