"""What the stages see of a region's elevation: grids of heights, finest first. No files."""

from __future__ import annotations

from dataclasses import dataclass, fields
from enum import IntEnum

import numpy as np

from terrain.values.arrays import (
    ByteArray,
    Float32Array,
    FloatArray,
    Int16Array,
    Int32Array,
    IntArray,
    frozen,
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
        for field in fields(self):
            value = getattr(self, field.name)
            if isinstance(value, np.ndarray):
                object.__setattr__(self, field.name, frozen(value))
        n_cells = int((self.rows.astype(np.int64) * self.cols).sum())
        if n_cells != len(self.cells) or len(self.filled_bits) != -(-n_cells // 8):
            raise ValueError(f"heights hold {len(self.cells)} cells, their tiles {n_cells}")

    def __len__(self) -> int:
        return len(self.west)

    @property
    def step_m(self) -> float:
        """Spacing of the finest tile's samples along a meridian [m]; NaN without tiles."""
        return float(self.step_lat[0]) * 111_195 if len(self) else float("nan")


def heights_of(
    grids: list[Int16Array],
    *,
    south_west: list[tuple[float, float]],
    step_deg: float,
    source: str = "",
) -> HeightsView:
    """A view over whole-metre grids held in memory, all of one step.

    grids : shape (rows, cols) each, northern row first, VOID where unknown
    south_west : (lon, lat) of each grid's south-west sample [deg]
    step_deg : between samples, both ways [deg]
    """
    sizes = np.array([g.size for g in grids], dtype=np.int64)
    count = len(grids)
    cells = np.concatenate([g.ravel() for g in grids]) if grids else np.zeros(0, np.int16)
    return HeightsView(
        west=np.array([lon for lon, _ in south_west], dtype=float),
        south=np.array([lat for _, lat in south_west], dtype=float),
        step_lon=np.full(count, step_deg),
        step_lat=np.full(count, step_deg),
        rows=np.array([g.shape[0] for g in grids], dtype=np.int32),
        cols=np.array([g.shape[1] for g in grids], dtype=np.int32),
        start=np.r_[0, np.cumsum(sizes)[:-1]].astype(np.int64)[:count],
        scale_m=np.ones(count, np.float32),
        offset_m=np.zeros(count, np.float32),
        cells=cells.astype(np.int16),
        filled_bits=np.zeros(-(-len(cells) // 8), np.uint8),
        source=source,
    )
