"""The spatial index over road segments: square-ish cells, each with the segments that touch it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from terrain.region.columns import ranges
from terrain.values.arrays import FloatArray, Int32Array, IntArray

_SMALLEST_CELL_M = 150.0
_CELLS_PER_SEGMENT = 2.0
_M_PER_DEG = 111_195.0  # along a meridian of the mean sphere; only sizes cells
_WIDEST_SPAN = 8  # a segment spanning more cells than this is laid in pieces
_MARGIN_DEG = 1e-6
_CHUNK = 200_000  # segments at a time: the numbers in between take 200 bytes each


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class CellGrid:
    """Cells in rows from the south, each row from the west; see RoadsView."""

    cell_start: Int32Array
    cell_pt: Int32Array
    west: float
    south: float
    step_lon: float
    step_lat: float
    cols: int
    rows: int

    def columns(self) -> dict[str, Any]:
        """The fields of RoadsView that it fills."""
        grid = {f"grid_{name}": getattr(self, name) for name in _PLACED}
        return {"cell_start": self.cell_start, "cell_pt": self.cell_pt, **grid}


_PLACED = ("west", "south", "step_lon", "step_lat", "cols", "rows")


def morton(lon: FloatArray, lat: FloatArray) -> IntArray:
    """A sort key that keeps near points near: bits of a 2^26 world grid, interleaved.

    NaN positions come last.
    """
    with np.errstate(invalid="ignore"):
        col = np.clip((lon + 180.0) / 360.0, 0.0, 1.0) * (2**26 - 1)
        row = np.clip((lat + 90.0) / 180.0, 0.0, 1.0) * (2**26 - 1)
    unknown = np.isnan(col)
    key = _spread(np.where(unknown, 0, col)) | _spread(np.where(unknown, 0, row)) << 1
    return np.where(unknown, np.iinfo(np.int64).max, key)


def _spread(numbers: FloatArray) -> IntArray:
    """The 26 low bits of each number, a zero between any two."""
    bits = numbers.astype(np.int64)
    for shift, mask in (
        (16, 0x0000FFFF0000FFFF),
        (8, 0x00FF00FF00FF00FF),
        (4, 0x0F0F0F0F0F0F0F0F),
        (2, 0x3333333333333333),
        (1, 0x5555555555555555),
    ):
        bits = (bits | (bits << shift)) & mask
    return bits


def build_grid(lon: FloatArray, lat: FloatArray, pt_edge: Int32Array) -> CellGrid:
    """The index of all segments between neighbouring points of one edge.

    Cells are as small as 150 m, larger where that keeps them fewer than two per segment. A
    segment is listed in every cell its box touches, but for a long one (a ferry's), which is
    listed in the cells touched by the boxes of its pieces.
    """
    first = np.flatnonzero(pt_edge[1:] == pt_edge[:-1]).astype(np.int32)
    west, east = float(lon.min()) - _MARGIN_DEG, float(lon.max()) + _MARGIN_DEG
    south, north = float(lat.min()) - _MARGIN_DEG, float(lat.max()) + _MARGIN_DEG
    m_per_lon = _M_PER_DEG * max(float(np.cos(np.radians((south + north) / 2))), 0.01)
    width_m, height_m = (east - west) * m_per_lon, (north - south) * _M_PER_DEG
    most = max(_CELLS_PER_SEGMENT * len(first), 1.0)
    step_m = max(_SMALLEST_CELL_M, float(np.sqrt(width_m * height_m / most)))
    cols, rows = int(width_m / step_m) + 1, int(height_m / step_m) + 1
    step_lon, step_lat = step_m / m_per_lon, step_m / _M_PER_DEG
    parts = []
    for low in range(0, len(first), _CHUNK):
        some = first[low : low + _CHUNK]
        x0, x1 = ((lon[k] - west) / step_lon for k in (some, some + 1))
        y0, y1 = ((lat[k] - south) / step_lat for k in (some, some + 1))
        parts.append(_touched(some, (x0, y0), (x1, y1), cols))
    cell_start, cell_pt = _by_cell(parts, cols * rows)
    return CellGrid(
        cell_start=cell_start,
        cell_pt=cell_pt,
        west=west,
        south=south,
        step_lon=step_lon,
        step_lat=step_lat,
        cols=cols,
        rows=rows,
    )


def _by_cell(
    parts: list[tuple[Int32Array, Int32Array]], n_cells: int
) -> tuple[Int32Array, Int32Array]:
    """The pairs of cell and segment sorted by cell, as the start of each cell and its segments."""
    cell = np.concatenate([part[0] for part in parts])
    point = np.concatenate([part[1] for part in parts])
    parts.clear()  # their room is needed
    start = np.zeros(n_cells + 1, np.int32)
    np.cumsum(np.bincount(cell, minlength=n_cells), out=start[1:])
    return start, point[np.argsort(cell, kind="stable")]


def _touched(
    first: Int32Array,
    start: tuple[FloatArray, FloatArray],
    end: tuple[FloatArray, FloatArray],
    cols: int,
) -> tuple[Int32Array, Int32Array]:
    """Pairs of cell and segment, each once; places in cells from the south-west corner."""
    (x0, y0), (dx, dy) = start, (end[0] - start[0], end[1] - start[1])
    pieces = np.ceil(np.maximum(np.abs(dx), np.abs(dy)) / _WIDEST_SPAN).astype(np.int64)
    pieces = np.maximum(pieces, 1)
    point = np.repeat(first, pieces)
    at = ranges(np.zeros(len(pieces), np.int64), pieces)
    share = np.repeat(1.0 / pieces, pieces)
    ax = np.repeat(x0, pieces) + np.repeat(dx, pieces) * at * share
    ay = np.repeat(y0, pieces) + np.repeat(dy, pieces) * at * share
    bx = ax + np.repeat(dx, pieces) * share
    by = ay + np.repeat(dy, pieces) * share
    low_col, high_col = (f(ax, bx).astype(np.int64) for f in (np.minimum, np.maximum))
    low_row, high_row = (f(ay, by).astype(np.int64) for f in (np.minimum, np.maximum))
    n_cols, n_rows = high_col - low_col + 1, high_row - low_row + 1
    n_cells = n_cols * n_rows
    k = ranges(np.zeros(len(n_cells), np.int64), n_cells)
    wide = np.repeat(n_cols, n_cells)
    cell = (np.repeat(low_row, n_cells) + k // wide) * cols + np.repeat(low_col, n_cells) + k % wide
    point = np.repeat(point, n_cells)
    if len(pieces) and pieces.max() > 1:
        long = np.repeat(np.repeat(pieces > 1, pieces), n_cells)
        once = np.unique(np.stack((point[long], cell[long])), axis=1)
        point, cell = (np.r_[a[~long], b] for a, b in zip((point, cell), once, strict=True))
        order = np.argsort(point, kind="stable")
        point, cell = point[order], cell[order]
    return cell.astype(np.int32), point.astype(np.int32)
