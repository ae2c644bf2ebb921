"""Positions on the road graph near the points of a line."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numba import njit

from terrain.calc.geodesy import metres_per_degree
from terrain.values.arrays import FloatArray, Int32Array
from terrain.values.views import RoadsView

SAME_PASS_M = 25.0  # positions of one edge closer than this along it are one passage


class SegmentGrid(NamedTuple):
    """The parts of a RoadsView that a search for nearby segments needs."""

    pt_lon: FloatArray
    pt_lat: FloatArray
    pt_edge: Int32Array
    pt_at_m: FloatArray
    cell_start: Int32Array
    cell_pt: Int32Array
    west: float
    south: float
    step_lon: float
    step_lat: float
    cols: int
    rows: int


class Candidates(NamedTuple):
    """Positions near each point: those of point i are start[i] .. start[i + 1] - 1.

    edge : edge index; at_m : metres along it; dist_m : distance from the point
    """

    start: Int32Array
    edge: Int32Array
    at_m: FloatArray
    dist_m: FloatArray


def segment_grid(roads: RoadsView) -> SegmentGrid:
    """The search index of a region's roads."""
    return SegmentGrid(
        roads.pt_lon, roads.pt_lat, roads.pt_edge, roads.pt_at_m, roads.cell_start,
        roads.cell_pt, roads.grid_west, roads.grid_south, roads.grid_step_lon,
        roads.grid_step_lat, roads.grid_cols, roads.grid_rows,
    )  # fmt: skip


@njit(cache=True, nogil=True)
def near_positions(
    lon: FloatArray,
    lat: FloatArray,
    radius_m: FloatArray,
    most: int,
    grid: SegmentGrid,
) -> tuple[Int32Array, Int32Array, FloatArray, FloatArray]:
    """Nearest positions on edges within a radius of each point.

    lon, lat : [deg], shape (n,); radius_m : search radius of each point, shape (n,)
    most : positions kept for a point, nearest first to stay
    Returns: start (n + 1,), edge, at_m, dist_m, as in Candidates.
    An edge that passes twice (a hairpin) gives a position for each pass.
    """
    n = len(lon)
    start = np.zeros(n + 1, dtype=np.int32)
    edge = np.empty(n * most, dtype=np.int32)
    at_m = np.empty(n * most, dtype=np.float64)
    dist_m = np.empty(n * most, dtype=np.float64)
    is_end = np.zeros(most, dtype=np.bool_)
    end_x, end_y = np.zeros(most), np.zeros(most)
    used = 0
    for i in range(n):
        kx, ky = metres_per_degree(lat[i])
        radius = radius_m[i]
        first = used
        col0 = int(np.floor((lon[i] - radius / kx - grid.west) / grid.step_lon))
        col1 = int(np.floor((lon[i] + radius / kx - grid.west) / grid.step_lon))
        row0 = int(np.floor((lat[i] - radius / ky - grid.south) / grid.step_lat))
        row1 = int(np.floor((lat[i] + radius / ky - grid.south) / grid.step_lat))
        col0, row0 = max(col0, 0), max(row0, 0)
        col1, row1 = min(col1, grid.cols - 1), min(row1, grid.rows - 1)
        for row in range(row0, row1 + 1):
            for col in range(col0, col1 + 1):
                cell = row * grid.cols + col
                for k in range(grid.cell_start[cell], grid.cell_start[cell + 1]):
                    p = grid.cell_pt[k]
                    ax = (grid.pt_lon[p] - lon[i]) * kx
                    ay = (grid.pt_lat[p] - lat[i]) * ky
                    dx = (grid.pt_lon[p + 1] - lon[i]) * kx - ax
                    dy = (grid.pt_lat[p + 1] - lat[i]) * ky - ay
                    length2 = dx * dx + dy * dy
                    t = 0.0
                    if length2 > 0.0:
                        t = min(1.0, max(0.0, -(ax * dx + ay * dy) / length2))
                    d = np.hypot(ax + t * dx, ay + t * dy)
                    if d > radius:
                        continue
                    e = grid.pt_edge[p]
                    # A clamped foot is a nearest position only if the next segment clamps too.
                    if t == 0.0 and p > 0 and grid.pt_edge[p - 1] == e:
                        bx = ax - (grid.pt_lon[p - 1] - lon[i]) * kx
                        by = ay - (grid.pt_lat[p - 1] - lat[i]) * ky
                        if ax * bx + ay * by > 0.0:
                            continue
                    if t == 1.0 and p + 2 < len(grid.pt_edge) and grid.pt_edge[p + 2] == e:
                        bx = (grid.pt_lon[p + 2] - lon[i]) * kx - (ax + dx)
                        by = (grid.pt_lat[p + 2] - lat[i]) * ky - (ay + dy)
                        if (ax + dx) * bx + (ay + dy) * by < 0.0:
                            continue
                    foot_x, foot_y = ax + t * dx, ay + t * dy
                    at_end = (t == 0.0 and (p == 0 or grid.pt_edge[p - 1] != e)) or (
                        t == 1.0 and (p + 2 >= len(grid.pt_edge) or grid.pt_edge[p + 2] != e)
                    )
                    s = grid.pt_at_m[p] + t * (grid.pt_at_m[p + 1] - grid.pt_at_m[p])
                    slot = -1
                    farthest = -1
                    twin = False
                    for j in range(first, used):
                        k_end = j - first
                        if at_end and is_end[k_end] and (
                            abs(end_x[k_end] - foot_x) + abs(end_y[k_end] - foot_y) < 1e-6
                        ):  # one position stands for all edges that meet at a junction
                            twin = True
                            break
                        if edge[j] == e and abs(at_m[j] - s) < SAME_PASS_M:
                            slot = j
                            break
                        if farthest < 0 or dist_m[j] > dist_m[farthest]:
                            farthest = j
                    if twin:
                        continue
                    if slot < 0:
                        if used - first < most:
                            slot = used
                            used += 1
                        else:
                            slot = farthest
                        dist_m[slot] = np.inf
                    if d < dist_m[slot]:
                        edge[slot] = e
                        at_m[slot] = s
                        dist_m[slot] = d
                        is_end[slot - first] = at_end
                        end_x[slot - first], end_y[slot - first] = foot_x, foot_y
        start[i + 1] = used
    return start, edge[:used].copy(), at_m[:used].copy(), dist_m[:used].copy()
