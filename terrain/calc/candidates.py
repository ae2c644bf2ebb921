"""Positions on the road graph near the points of a line."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from terrain.calc.geodesy import metres_per_degree
from terrain.calc.kernels import Index, inner, kernel, plain
from terrain.values.arrays import BoolArray, FloatArray, Int32Array
from terrain.values.views import RoadsView

# Common practice, no source.
SAME_PASS_M = 25.0  # positions of one edge closer than this along it are one passage
_SAME_SPOT_M = 1e-6


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


class RoadCandidates(NamedTuple):
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


def near_positions(
    lon: FloatArray, lat: FloatArray, radius_m: FloatArray, most: int, grid: SegmentGrid
) -> RoadCandidates:
    """Nearest positions on edges within a radius of each point.

    lon, lat : [deg], shape (n,), in the longitudes of the grid; a NaN point has none
    radius_m : search radius of each point, shape (n,)
    most : positions kept for a point, nearest first to stay
    An edge that passes twice (a hairpin) gives a position for each pass, and a junction one
    position for all edges that meet there.
    """
    n = len(lon)
    room = n * most
    found = NearbyEdges(
        edge=np.empty(room, np.int32), at_m=np.empty(room), dist2=np.empty(room),
        at_end=np.empty(room, np.bool_), x_m=np.empty(room), y_m=np.empty(room),
    )  # fmt: skip
    start = np.zeros(n + 1, np.int32)
    _find(plain(lon), plain(lat), plain(radius_m), most, grid, start, found)
    used = start[-1]
    return RoadCandidates(
        start, found.edge[:used].copy(), found.at_m[:used].copy(), np.sqrt(found.dist2[:used])
    )


class NearbyEdges(NamedTuple):
    """Positions found so far; dist2 squared distances, at_end tells those at an end of their edge,
    x_m, y_m where they lie from their point."""

    edge: Int32Array
    at_m: FloatArray
    dist2: FloatArray
    at_end: BoolArray
    x_m: FloatArray
    y_m: FloatArray


@kernel
def _find(
    lon: FloatArray, lat: FloatArray, radius_m: FloatArray, most: Index, grid: SegmentGrid,
    start: Int32Array, found: NearbyEdges,
) -> None:  # fmt: skip
    used: Index = np.int64(0)
    for i in range(len(lon)):
        first = used
        radius = radius_m[i]
        kx, ky = metres_per_degree(lat[i])
        wide, high = radius / kx, radius / ky
        if np.isfinite(lon[i] + wide + high):
            col0 = int(np.floor((lon[i] - wide - grid.west) / grid.step_lon))
            col1 = int(np.floor((lon[i] + wide - grid.west) / grid.step_lon))
            row0 = int(np.floor((lat[i] - high - grid.south) / grid.step_lat))
            row1 = int(np.floor((lat[i] + high - grid.south) / grid.step_lat))
            for row in range(max(row0, 0), min(row1, grid.rows - 1) + 1):
                for col in range(max(col0, 0), min(col1, grid.cols - 1) + 1):
                    cell = row * grid.cols + col
                    for k in range(grid.cell_start[cell], grid.cell_start[cell + 1]):
                        p = grid.cell_pt[k]
                        ax = (grid.pt_lon[p] - lon[i]) * kx
                        bx = (grid.pt_lon[p + 1] - lon[i]) * kx
                        if min(ax, bx) > radius or max(ax, bx) < -radius:
                            continue
                        ay = (grid.pt_lat[p] - lat[i]) * ky
                        by = (grid.pt_lat[p + 1] - lat[i]) * ky
                        if min(ay, by) > radius or max(ay, by) < -radius:
                            continue
                        dx, dy = bx - ax, by - ay
                        t = foot(ax, ay, dx, dy)
                        x, y = ax + t * dx, ay + t * dy
                        if x * x + y * y <= radius * radius:
                            used = _take(grid, p, t, x, y, kx, ky, found, first, used, most)
        start[i + 1] = used


@inner
def foot(ax: float, ay: float, dx: float, dy: float) -> float:
    """Where on a segment from a, d long, the origin is nearest: 0 at its start, 1 at its end."""
    length2 = dx * dx + dy * dy
    return min(1.0, max(0.0, -(ax * dx + ay * dy) / length2)) if length2 > 0.0 else 0.0


@inner
def _take(
    grid: SegmentGrid, p: Index, t: float, x: float, y: float, kx: float, ky: float,
    found: NearbyEdges, first: Index, used: Index, most: Index,
) -> Index:  # fmt: skip
    """Keep a foot among found[first:used], if it is one to keep; returns the new `used`.

    p, t : segment and place on it; x, y : from the point [m]
    """
    e = grid.pt_edge[p]
    at_end = False
    if t == 0.0 or t == 1.0:
        # A vertex is a nearest position only if the segment beyond it comes no nearer.
        q = p - 1 if t == 0.0 else p + 2
        at_end = q < 0 or q >= len(grid.pt_edge) or grid.pt_edge[q] != e
        if not at_end:
            v = p if t == 0.0 else p + 1
            bx, by = (grid.pt_lon[q] - grid.pt_lon[v]) * kx, (grid.pt_lat[q] - grid.pt_lat[v]) * ky
            if x * bx + y * by < 0.0:
                return used
    s = grid.pt_at_m[p] + t * (grid.pt_at_m[p + 1] - grid.pt_at_m[p])
    d2 = x * x + y * y
    slot: Index = -1
    farthest: Index = -1
    for j in range(first, used):
        same = at_end and found.at_end[j]
        if same and abs(found.x_m[j] - x) + abs(found.y_m[j] - y) < _SAME_SPOT_M:
            return used  # one position stands for all edges that meet at a junction
        if found.edge[j] == e and abs(found.at_m[j] - s) < SAME_PASS_M:
            slot = j
            break
        if farthest < 0 or found.dist2[j] > found.dist2[farthest]:
            farthest = j
    if slot < 0 and used < first + most:
        slot = used
        used += 1
    else:
        slot = farthest if slot < 0 else slot
        if d2 >= found.dist2[slot]:
            return used
    found.edge[slot], found.at_m[slot], found.dist2[slot] = e, s, d2
    found.at_end[slot], found.x_m[slot], found.y_m[slot] = at_end, x, y
    return used
