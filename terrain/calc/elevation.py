"""Heights at points: bilinear between the four samples around, across tile edges."""

from __future__ import annotations

import numpy as np

from terrain.values.arrays import BoolArray, FloatArray, Int8Array, IntArray
from terrain.values.heights import VOID, HeightFlag, HeightsView

# A point this close to a tile's edge, in cells, is on it: degrees carry rounding errors.
_EDGE_CELLS = 1e-6  # rounding; common practice


def sample_heights(
    heights: HeightsView, lon: FloatArray, lat: FloatArray
) -> tuple[FloatArray, Int8Array]:
    """Height at each point, from the finest tile that knows it.

    lon, lat : WGS 84 [deg], shape (n,); longitudes may leave -180..180
    Returns: heights [m], NaN where unknown; HeightFlag per point. Shape (n,) each.
    Between four known samples the height is bilinear; if one of the four is unknown, so is
    the height, unless a coarser tile has it.
    """
    lon, lat = np.asarray(lon, dtype=float), np.asarray(lat, dtype=float)
    ele_m = np.full(len(lon), np.nan)
    flag = np.full(len(lon), HeightFlag.UNKNOWN, dtype=np.int8)
    todo = np.flatnonzero(np.isfinite(lon) & np.isfinite(lat))
    for tile in _tiles_near(heights, lon[todo], lat[todo]):
        if not len(todo):
            break
        inside, x, y = _position(heights, int(tile), lon[todo], lat[todo])
        rows = todo[inside]
        value, filled = _bilinear(heights, int(tile), x[inside], y[inside])
        ele_m[rows] = value
        flag[rows] = np.where(filled, HeightFlag.FILLED, HeightFlag.MEASURED)
        todo = todo[np.isnan(ele_m[todo])]
    flag[np.isnan(ele_m)] = HeightFlag.UNKNOWN
    return ele_m, flag


def _tiles_near(heights: HeightsView, lon: FloatArray, lat: FloatArray) -> IntArray:
    """Tiles that may touch the points, in order; most of a large region's are ruled out at once."""
    if not len(lon) or not len(heights):
        return np.zeros(0, dtype=np.int64)
    width = (heights.cols - 1) * heights.step_lon
    north = heights.south + (heights.rows - 1) * heights.step_lat
    pad = 1e-6
    from_west = np.mod(lon.min() - heights.west + pad, 360.0)
    reaches = (from_west <= width + 2 * pad) | (from_west + (lon.max() - lon.min()) >= 360)
    near = reaches & (heights.south <= lat.max() + pad) & (north >= lat.min() - pad)
    return np.flatnonzero(near)


def _position(
    heights: HeightsView, tile: int, lon: FloatArray, lat: FloatArray
) -> tuple[BoolArray, FloatArray, FloatArray]:
    """Which points the tile covers, and columns from its west, rows from its north."""
    cols, rows = int(heights.cols[tile]), int(heights.rows[tile])
    east = np.mod(lon - heights.west[tile] + 180.0, 360.0) - 180.0
    x = np.where(east < -1e-9, east + 360.0, east) / heights.step_lon[tile]
    y = (rows - 1) - (lat - heights.south[tile]) / heights.step_lat[tile]
    inside = (
        (x >= -_EDGE_CELLS)
        & (x <= cols - 1 + _EDGE_CELLS)
        & (y >= -_EDGE_CELLS)
        & (y <= rows - 1 + _EDGE_CELLS)
    )
    return inside, np.clip(x, 0, cols - 1), np.clip(y, 0, rows - 1)


def _bilinear(
    heights: HeightsView, tile: int, x: FloatArray, y: FloatArray
) -> tuple[FloatArray, BoolArray]:
    """Heights at column x, row y (counted from the north-west) and whether a void was filled."""
    cols, rows = int(heights.cols[tile]), int(heights.rows[tile])
    col = np.minimum(x.astype(np.int64), max(cols - 2, 0))
    row = np.minimum(y.astype(np.int64), max(rows - 2, 0))
    dx, dy = x - col, y - row
    first = int(heights.start[tile]) + row * cols + col
    right, below = int(cols > 1), cols * int(rows > 1)
    total = np.zeros(len(x))
    filled = np.zeros(len(x), dtype=bool)
    for step, weight in (
        (0, (1 - dx) * (1 - dy)),
        (right, dx * (1 - dy)),
        (below, (1 - dx) * dy),
        (below + right, dx * dy),
    ):
        at = first + step
        cell = heights.cells[at]
        counts = weight > 0  # a sample without weight may be unknown without harm
        total += weight * np.where((cell == VOID) & counts, np.nan, cell)
        bit = (heights.filled_bits[at >> 3] >> (7 - (at & 7)).astype(np.uint8)) & 1
        filled |= counts & (bit == 1)
    ele_m = total * float(heights.scale_m[tile]) + float(heights.offset_m[tile])
    return ele_m, filled & ~np.isnan(ele_m)
