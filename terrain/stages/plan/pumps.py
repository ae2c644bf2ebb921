"""The longest way between pumps, before it is known who rides."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from terrain.calc.fuel import FuelGap, longest_gap
from terrain.stages.plan.asked import bed_near
from terrain.stages.plan.candidates import pump_rows
from terrain.stages.plan.course import tarmac_along
from terrain.stages.plan.near import FUEL, Near
from terrain.stages.plan.nights import Night
from terrain.values.ride import Ride


def pump_gap(ride: Ride, near: Near, nights: Sequence[Night]) -> FuelGap:
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
