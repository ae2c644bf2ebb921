"""Elevation tiles of the island in the SRTM format.

A tile holds 1201 x 1201 heights three arc-seconds apart: big-endian int16 metres, rows from
north to south, west to east, edges shared with the neighbours, -32768 where nothing was
measured; its name is its south-west corner. Source: SRTM topography document (USGS), 3 arc-second
data.
"""

from __future__ import annotations

import gzip
from pathlib import Path
from typing import Final

import numpy as np
from scipy import ndimage

from terrain.values.arrays import FloatArray, Int16Array
from tests.island.frame import (
    CENTRE_LAT,
    CENTRE_LON,
    COLS,
    M_PER_DEG_LAT,
    M_PER_DEG_LON,
    ROWS,
    STEP_M,
    TILES,
    steady,
)
from tests.island.land import Land
from tests.island.noise import smooth_field, stream

SAMPLES: Final = 1201
VOID: Final = -32_768
_N_VOIDS: Final = 14


def write_tiles(folder: Path, land: Land) -> tuple[Path, ...]:
    """Write the four tiles round the island, packed; returns their paths."""
    heights = _heights(land)
    paths = []
    for south, west in TILES:
        top = (int(CENTRE_LAT) - south) * (SAMPLES - 1)
        left = (west - int(CENTRE_LON) + 1) * (SAMPLES - 1)
        tile = heights[top : top + SAMPLES, left : left + SAMPLES]
        path = folder / f"N{south:02d}E{west:03d}.hgt.gz"
        path.write_bytes(gzip.compress(tile.astype(">i2").tobytes(), mtime=0))
        paths.append(path)
    return tuple(paths)


def _heights(land: Land) -> Int16Array:
    """Heights of all four tiles together, north row first, shape (2401, 2401)."""
    n = 2 * (SAMPLES - 1) + 1
    step = np.arange(n) / (SAMPLES - 1) - 1
    col = step * M_PER_DEG_LON / STEP_M + (COLS - 1) / 2
    row = -step * M_PER_DEG_LAT / STEP_M + (ROWS - 1) / 2
    in_col = np.flatnonzero((col >= 0) & (col <= COLS - 1))
    in_row = np.flatnonzero((row >= 0) & (row <= ROWS - 1))
    at_row, at_col = np.meshgrid(row[in_row], col[in_col], indexing="ij")
    ele = ndimage.map_coordinates(_detailed(land), (at_row, at_col), order=1)
    dry = ndimage.map_coordinates(land.land.astype(np.float64), (at_row, at_col), order=1) > 0.5
    shown = np.where(dry, np.maximum(1, np.round(ele)), 0).astype(np.int16)
    heights: Int16Array = np.zeros((n, n), dtype=np.int16)
    heights[in_row[0] : in_row[-1] + 1, in_col[0] : in_col[-1] + 1] = shown
    _poke_voids(heights)
    return heights


def _detailed(land: Land) -> FloatArray:
    """Heights with the small unevenness of canopy and radar, more on slopes."""
    north, east = np.gradient(land.ele_m, STEP_M)
    uneven = 1.5 + 6 * np.minimum(np.hypot(north, east), 0.5)
    return steady(land.ele_m + uneven * smooth_field("canopy", 700, 2))


def _poke_voids(heights: Int16Array) -> None:
    """Small holes on steep high ground, where radar looked past."""
    rng = stream("voids")
    steep = np.abs(np.diff(heights.astype(np.int32), axis=1))[:, :-1]
    rows, cols = np.nonzero((heights[:, 1:-1] > 500) & (steep > 45))
    for k in (rng.random(_N_VOIDS) * len(rows)).astype(np.int64):
        high, wide = 2 + (rng.random(2) * 7).astype(np.int64)
        heights[rows[k] : rows[k] + high, cols[k] : cols[k] + wide] = VOID
