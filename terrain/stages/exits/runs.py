"""Off-road runs of a ride: from paved network to paved network."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from terrain.calc.along import Samples
from terrain.values.arrays import BoolArray
from terrain.values.ride import PAVED, Ride

# A shorter piece off the tarmac needs no way out of its own (common practice, no source).
SHORTEST_M = 300.0


class OffRoadRun(NamedTuple):
    """An off-road run: samples first .. last, both included, and its metres along the ride."""

    first: int
    last: int
    from_m: float
    to_m: float


def stretches_between(ride: Ride, from_m: float, to_m: float) -> slice:
    """The ride's stretches that reach into a part of it."""
    first = int(np.searchsorted(ride.to_m, from_m, side="right"))
    return slice(first, int(np.searchsorted(ride.from_m, to_m, side="left")))


def off_road_steps(ride: Ride, samples: Samples, edge_paved: BoolArray) -> BoolArray:
    """Steps between samples that are off the paved network and not on a ferry, shape (s - 1,).

    The ride's own ground wins over the region's where it says unpaved, as a local note may.
    """
    middle = (samples.at_m[1:] + samples.at_m[:-1]) / 2
    unpaved = ride.ground_at(middle) != PAVED
    edge = samples.edge[1:]
    network = (edge >= 0) & edge_paved[np.maximum(edge, 0)]
    on_land = samples.on_land[1:] & samples.on_land[:-1]
    off: BoolArray = on_land & (unpaved | ~network) & (samples.step_m > 0)
    return off


def off_road_runs(ride: Ride, samples: Samples, edge_paved: BoolArray) -> tuple[OffRoadRun, ...]:
    """Runs off the paved network in riding order.

    A paved patch that joins no paved network does not end a run. Runs without any unpaved
    ground, or shorter than 300 m, are left out.
    """
    off = off_road_steps(ride, samples, edge_paved)
    if not len(off):
        return ()
    # Leg borders are doubled samples: a step of no length neither ends nor makes a run.
    still = (samples.step_m <= 0) & samples.can_ride
    runs: list[list[int]] = []
    for i in np.flatnonzero(off).tolist():
        if runs and bool(still[runs[-1][1] : i].all()):
            runs[-1][1] = i + 1
        else:
            runs.append([i, i + 1])
    out = []
    for first, last in runs:
        from_m, to_m = float(samples.at_m[first]), float(samples.at_m[last])
        inside = stretches_between(ride, from_m, to_m)
        if to_m - from_m >= SHORTEST_M and bool((ride.ground[inside] != PAVED).any()):
            out.append(OffRoadRun(first, last, from_m, to_m))
    return tuple(out)
