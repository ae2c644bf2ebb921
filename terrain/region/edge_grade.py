"""How steep the edges of a road graph are."""

from __future__ import annotations

import numpy as np

from terrain.calc.elevation import sample_heights
from terrain.values.arrays import FloatArray, IntArray
from terrain.values.heights import HeightsView
from terrain.values.views import RoadsView, WayFlag

# Long enough that the noise of an elevation model adds a percent or two at most (sums of
# ascent on four measured climbs are a quarter too high at 10 m, right from 300 m on).
_PIECE_M = 500.0
_MOST_AT_ONCE = 2_000_000


def edge_grade_pct(roads: RoadsView, heights: HeightsView) -> FloatArray:
    """Mean steepness of every edge [%], up or down alike, shape (e,); NaN where not known.

    Heights are taken every 500 m and at the ends; on bridges and in tunnels at the ends only.
    """
    count = np.maximum(np.ceil(roads.edge_length_m / _PIECE_M), 1).astype(np.int64)
    off_ground = roads.ways.flags[roads.edge_way] & int(WayFlag.BRIDGE | WayFlag.TUNNEL)
    count[off_ground != 0] = 1
    out = np.full(roads.n_edges, np.nan)
    first = 0
    while first < roads.n_edges:
        total = np.cumsum(count[first:] + 1)
        last = first + max(int(np.searchsorted(total, _MOST_AT_ONCE, side="right")), 1)
        out[first:last] = _grades(roads, heights, first, count[first:last])
        first = last
    return out


def _grades(roads: RoadsView, heights: HeightsView, first: int, count: IntArray) -> FloatArray:
    """The same for the edges from `first` on, each cut in `count` pieces."""
    edge = np.repeat(np.arange(len(count)), count + 1)
    start = np.cumsum(count + 1) - (count + 1)
    part = (np.arange(len(edge)) - start[edge]) / count[edge]
    # Points of all edges on one axis: each edge starts a metre after the one before ends.
    length = roads.edge_length_m[first : first + len(count)]
    offset = np.concatenate(([0.0], np.cumsum(length + 1.0)))
    span = slice(int(roads.edge_start[first]), int(roads.edge_start[first + len(count)]))
    axis = roads.pt_at_m[span] + offset[roads.pt_edge[span] - first]
    want = offset[edge] + part * length[edge]
    ele, _ = sample_heights(
        heights,
        np.interp(want, axis, roads.pt_lon[span]),
        np.interp(want, axis, roads.pt_lat[span]),
    )
    climb = np.abs(np.diff(ele))
    inside = edge[1:] == edge[:-1]
    total = np.bincount(edge[1:][inside], climb[inside], minlength=len(count))
    return 100.0 * total / np.maximum(length, 1.0)
