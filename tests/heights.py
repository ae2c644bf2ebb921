"""Heights for tests, from grids held in memory."""

from __future__ import annotations

import numpy as np

from terrain.values.arrays import Int16Array
from terrain.values.heights import HeightsView


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
