"""Points laid on the nearest road that may be used."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from terrain.calc.candidates import SegmentGrid, foot, segment_grid
from terrain.calc.geodesy import metres_per_degree
from terrain.calc.kernels import kernel, plain
from terrain.values.arrays import BoolArray, FloatArray, Int32Array
from terrain.values.views import RoadsView

# Chosen by measurement of the time it takes.
_NARROW = 0.2  # share of the reach looked at first: nearly all points lie as near as that


class Snapped(NamedTuple):
    """Edge of each point, metres along it, and distance to it; -1 and NaN if none is near."""

    edge: Int32Array
    at_m: FloatArray
    dist_m: FloatArray


def snap_points(
    lon: FloatArray, lat: FloatArray, roads: RoadsView, usable: BoolArray, *, within_m: float
) -> Snapped:
    """The nearest position on a usable edge to each point, shape (n,).

    lon, lat : [deg], in the longitudes of the roads; usable : shape (e,)
    In a plane at each point: within 500 m the error stays below a centimetre.
    """
    n = len(lon)
    snapped = Snapped(np.full(n, -1, np.int32), np.full(n, np.nan), np.full(n, np.nan))
    if n and roads.n_edges:
        _snap(
            plain(lon), plain(lat), segment_grid(roads), plain(usable, np.bool_),
            float(within_m), snapped,
        )  # fmt: skip
    return snapped


@kernel
def _snap(
    lon: FloatArray, lat: FloatArray, grid: SegmentGrid, usable: BoolArray, within_m: float,
    snapped: Snapped,
) -> None:  # fmt: skip
    for i in range(len(lon)):
        kx, ky = metres_per_degree(lat[i])
        for reach in (_NARROW * within_m, within_m):
            least = reach * reach
            wide, high = reach / kx, reach / ky
            if snapped.edge[i] >= 0 or not np.isfinite(lon[i] + lat[i] + wide):
                break
            col0 = int(np.floor((lon[i] - wide - grid.west) / grid.step_lon))
            col1 = int(np.floor((lon[i] + wide - grid.west) / grid.step_lon))
            row0 = int(np.floor((lat[i] - high - grid.south) / grid.step_lat))
            row1 = int(np.floor((lat[i] + high - grid.south) / grid.step_lat))
            for row in range(max(row0, 0), min(row1, grid.rows - 1) + 1):
                first, last = max(col0, 0), min(col1, grid.cols - 1)
                if first > last:
                    continue
                cell = row * grid.cols
                for k in range(grid.cell_start[cell + first], grid.cell_start[cell + last + 1]):
                    p = grid.cell_pt[k]
                    if not usable[grid.pt_edge[p]]:
                        continue
                    ax, ay = (grid.pt_lon[p] - lon[i]) * kx, (grid.pt_lat[p] - lat[i]) * ky
                    dx = (grid.pt_lon[p + 1] - grid.pt_lon[p]) * kx
                    dy = (grid.pt_lat[p + 1] - grid.pt_lat[p]) * ky
                    t = foot(ax, ay, dx, dy)
                    apart = (ax + t * dx) ** 2 + (ay + t * dy) ** 2
                    if apart <= least and (apart < least or snapped.edge[i] < 0):
                        least = apart
                        along = t * (grid.pt_at_m[p + 1] - grid.pt_at_m[p])
                        snapped.edge[i] = grid.pt_edge[p]
                        snapped.at_m[i] = grid.pt_at_m[p] + along
                        snapped.dist_m[i] = np.sqrt(apart)
