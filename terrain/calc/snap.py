"""Points laid on the nearest road that may be used."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from terrain.calc.candidates import near_positions, segment_grid
from terrain.values.arrays import BoolArray, FloatArray, Int32Array, frozen
from terrain.values.views import RoadsView

_MOST = 24  # positions looked at for a point; crossings have few more roads than this


class Snapped(NamedTuple):
    """Edge of each point, metres along it, and distance to it; -1 and NaN if none is near."""

    edge: Int32Array
    at_m: FloatArray
    dist_m: FloatArray


def snap_points(
    lon: FloatArray, lat: FloatArray, roads: RoadsView, usable: BoolArray, *, within_m: float
) -> Snapped:
    """The nearest position on a usable edge to each point, shape (n,)."""
    n = len(lon)
    edge = np.full(n, -1, dtype=np.int32)
    at_m, dist_m = np.full(n, np.nan), np.full(n, np.nan)
    if n and roads.n_edges:
        start, near, near_at, near_m = near_positions(
            frozen(np.asarray(lon, dtype=np.float64)),
            frozen(np.asarray(lat, dtype=np.float64)),
            frozen(np.full(n, float(within_m))),
            _MOST,
            segment_grid(roads),
        )
        for i in range(n):
            span = slice(int(start[i]), int(start[i + 1]))
            fits = np.flatnonzero(usable[near[span]]) + span.start
            if len(fits):
                best = fits[np.argmin(near_m[fits])]
                edge[i], at_m[i], dist_m[i] = near[best], near_at[best], near_m[best]
    return Snapped(edge, at_m, dist_m)
