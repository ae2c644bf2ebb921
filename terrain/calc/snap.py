"""Points laid on the nearest road that may be used."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from terrain.calc.candidates import near_positions, segment_grid
from terrain.values.arrays import BoolArray, FloatArray, Int32Array, frozen
from terrain.values.views import RoadsView

_MOST = 24  # positions looked at for a point; crossings have few more roads than this
_AT_END_M = 1e-3


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
            first, last = int(start[i]), int(start[i + 1])
            for k in (first + np.argsort(near_m[first:last], kind="stable")).tolist():
                found = _usable_at(roads, usable, int(near[k]), float(near_at[k]))
                if found is not None:
                    edge[i], at_m[i] = found
                    dist_m[i] = near_m[k]
                    break
    return Snapped(edge, at_m, dist_m)


def _usable_at(
    roads: RoadsView, usable: BoolArray, edge: int, at_m: float
) -> tuple[int, float] | None:
    """A position, if its edge may be used; else the same junction on one that may, if any."""
    if usable[edge]:
        return edge, at_m
    # One position stands for all edges that meet at a junction.
    for end_m, ends in ((0.0, roads.edge_u), (float(roads.edge_length_m[edge]), roads.edge_v)):
        if abs(at_m - end_m) < _AT_END_M:
            node = int(ends[edge])
            for arc in roads.out_arc[roads.out_start[node] : roads.out_start[node + 1]].tolist():
                if usable[arc >> 1]:
                    return arc >> 1, float(roads.edge_length_m[arc >> 1]) if arc & 1 else 0.0
    return None
