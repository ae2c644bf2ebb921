"""Fuel burnt along a ride, and the longest way between pumps: for advice and plan alike."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from terrain.stages.days.groups import bed_near, pump_rows
from terrain.stages.days.near import FUEL, NearbyPlaces
from terrain.stages.days.nights import Night
from terrain.tables.fuel import FUEL_MODEL, FuelModel
from terrain.values.arrays import BoolArray, FloatArray, IntArray
from terrain.values.ride import FERRY, UNMAPPED, Ride


class FuelGap(NamedTuple):
    """The longest way between two fills where as many pumps are used as helps.

    from_m, to_m : along the ride; gap_m : with the ways to the pumps; tarmac_m : the metres of
    tarmac that burn as much
    """

    from_m: float
    to_m: float
    gap_m: float
    tarmac_m: float


def fuel_factors(
    p: FloatArray, severity: FloatArray, ferry: BoolArray, model: FuelModel = FUEL_MODEL
) -> FloatArray:
    """Consumption over that on tarmac, by stretch; 0 on ferries.

    p : probabilities of paved, gravel, track, shape (k, 3), NaN where no way is mapped
    severity : 0..5; NaN or negative where not known
    """
    by_ground = np.asarray(p, dtype=np.float64) @ np.array(model.ground)
    factor = np.where(np.isnan(by_ground), model.unmapped, by_ground)
    hard = severity >= model.hard_severity
    return np.where(ferry, 0.0, np.where(hard, np.maximum(factor, model.hard), factor))


def carry_l(tarmac_m: float, l_per_km: float, usable_l: float) -> float:
    """Whole litres to carry so that a tank lasts for a way; 0 if it does without [L]."""
    short = tarmac_m / 1000.0 * l_per_km - usable_l
    return float(max(math.ceil(short - 1e-9), 0))


def longest_gap(
    at_m: FloatArray, tarmac_m: FloatArray, off_m: FloatArray, extra_m: FloatArray
) -> FuelGap:
    """The smallest that the longest way between two fills can be made.

    at_m : of the start, each pump in riding order, and the end, shape (n,)
    tarmac_m : sums from the start of metres in terms of tarmac; off_m : from the ride to the pump
    extra_m : sums from the start of what else is ridden off the ride, such as to beds
    """
    n = len(at_m)
    worst = np.full(n, np.inf)
    worst[0], came = 0.0, np.zeros(n, dtype=np.int64)
    need_m = tarmac_m + extra_m
    for j in range(1, n):
        way = need_m[j] - need_m[:j] + off_m[j] + off_m[:j]
        longest = np.maximum(worst[:j], way)
        came[j] = int(np.argmin(longest))
        worst[j] = longest[came[j]]
    pairs, j = [], n - 1
    while j > 0:
        i = int(came[j])
        pairs.append((i, j))
        j = i
    i, j = max(pairs, key=lambda k: need_m[k[1]] - need_m[k[0]] + off_m[k[1]] + off_m[k[0]])
    off = float(off_m[i] + off_m[j])
    return FuelGap(
        float(at_m[i]),
        float(at_m[j]),
        float(at_m[j] - at_m[i] + extra_m[j] - extra_m[i]) + off,
        float(need_m[j] - need_m[i]) + off,
    )


def pump_gap(ride: Ride, near: NearbyPlaces, nights: Sequence[Night]) -> FuelGap:
    """The longest way between two fills: full at the start, and the end counts as one.

    The ways to the nights' beds and back count too, unless there is a pump.
    """
    end = ride.length_m
    rows = pump_rows(near, end)
    rows = rows[np.argsort(near.at_m[rows], kind="stable")]
    bed_m = np.array([night.at_m for night in nights], dtype=np.float64)
    bed = np.array(
        [n.near if n.near >= 0 else bed_near(near, n.at_m) for n in nights], dtype=np.int64
    )
    dry = bed >= 0
    dry[dry] = (near.bits[bed[dry]] & FUEL) == 0
    at_m = np.concatenate(([0.0], near.at_m[rows], [end]))
    off_m = np.concatenate(([0.0], near.off_m[rows], [0.0]))
    spent_m = np.append(0.0, np.cumsum(2.0 * near.off_m[bed[dry]]))
    extra_m = spent_m[np.searchsorted(bed_m[dry], at_m, side="right")]
    knot_m, tarmac_m = tarmac_along(ride)
    return longest_gap(at_m, np.interp(at_m, knot_m, tarmac_m), off_m, extra_m)


def tarmac_along(ride: Ride) -> tuple[FloatArray, FloatArray]:
    """Positions along a ride, and the metres of tarmac up to each that burn as much fuel."""
    at_m = ride_knots(ride)
    row = rows_at(ride, (at_m[1:] + at_m[:-1]) / 2)
    return at_m, sums_from_start(np.diff(at_m) * ride_factors(ride)[row])


# Common practice, no source.
_STEP_M = 1_000.0


def rows_at(ride: Ride, at_m: FloatArray) -> IntArray:
    """The stretch at each position."""
    return np.minimum(np.searchsorted(ride.to_m, at_m, side="right"), len(ride.to_m) - 1)


def ride_knots(ride: Ride) -> FloatArray:
    end = ride.length_m
    grid = np.linspace(0.0, end, max(int(np.ceil(end / _STEP_M)), 1) + 1)
    return np.unique(np.concatenate((grid, ride.from_m, ride.to_m, ride.knot_m)).clip(0.0, end))


def ride_factors(ride: Ride) -> FloatArray:
    """Consumption over that on tarmac, by stretch."""
    unmapped = (ride.ground == UNMAPPED)[:, None]
    return fuel_factors(
        np.where(unmapped, np.nan, ride.p), ride.severity.astype(np.float64), ride.ground == FERRY
    )


def sums_from_start(steps: FloatArray) -> FloatArray:
    return np.concatenate(([0.0], np.cumsum(steps)))
