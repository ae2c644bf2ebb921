"""What the stages see of a region's elevation: grids of heights, finest first. No files."""

from __future__ import annotations

from dataclasses import dataclass
from enum import IntEnum

import numpy as np

from terrain.values.arrays import (
    ByteArray,
    Float32Array,
    FloatArray,
    Int16Array,
    Int32Array,
    IntArray,
    freeze_all,
)

VOID = -32768  # a cell without a height, as in .hgt files


class HeightFlag(IntEnum):
    """How a sampled height is known."""

    MEASURED = 0  # from the tile itself
    FILLED = 1  # a corner of it lay in a void that was filled from its surroundings
    UNKNOWN = 2  # no tile, or a void too wide to fill


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class HeightsView:
    """Elevation tiles over a region, finest first; any array may be a memory map.

    Tiles, shape (t,): west, south [deg] position of the south-west sample (not of a pixel's
        corner); step_lon, step_lat [deg] between samples; rows, cols; start first cell;
        a cell c stands for c * scale_m + offset_m [m].
    cells : all tiles one after another, each row by row, northern row first; VOID is unknown.
    filled_bits : one bit per cell, first cell in the highest bit; 1 where a void was filled.
    source : what the tiles are, for people.
    """

    west: FloatArray
    south: FloatArray
    step_lon: FloatArray
    step_lat: FloatArray
    rows: Int32Array
    cols: Int32Array
    start: IntArray
    scale_m: Float32Array
    offset_m: Float32Array
    cells: Int16Array
    filled_bits: ByteArray
    source: str

    def __post_init__(self) -> None:
        freeze_all(self)
        n_cells = int((self.rows.astype(np.int64) * self.cols).sum())
        if n_cells != len(self.cells) or len(self.filled_bits) != -(-n_cells // 8):
            raise ValueError(f"heights hold {len(self.cells)} cells, their tiles {n_cells}")

    def __len__(self) -> int:
        return len(self.west)

    @property
    def step_m(self) -> float:
        """Spacing of the finest tile's samples along a meridian [m]; NaN without tiles."""
        return float(self.step_lat[0]) * 111_195 if len(self) else float("nan")
