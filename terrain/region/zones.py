"""The time zones of a region, looked up at its build: the map of the world takes 28 MB to open."""

from __future__ import annotations

import math

import numpy as np

from terrain.calc.daylight import zone_at
from terrain.values.zones import ZoneGrid

_STEP_DEG = 0.01
_MOST_CELLS = 100_000  # larger boxes take larger cells: a tenth of a second each 20,000


def zone_grid(bbox: tuple[float, float, float, float]) -> ZoneGrid:
    """The zones of a box (west, south, east, north); of all cells within a cell of a border none.

    Zones are looked up at the corners and middles of the cells.
    """
    west, south, east, north = bbox
    step = _STEP_DEG
    while _count(east - west, step) * _count(north - south, step) > _MOST_CELLS:
        step *= 2.0
    cols, rows = _count(east - west, step), _count(north - south, step)
    # Half steps, from a cell outside the box on each side.
    lon = west + step * (np.arange(2 * cols + 5) / 2.0 - 1.0)
    lat = south + step * (np.arange(2 * rows + 5) / 2.0 - 1.0)
    seen: dict[str, int] = {}
    at = np.array(
        [
            [seen.setdefault(zone_at(x, y).key, len(seen)) for x in lon.tolist()]
            for y in lat.tolist()
        ]
    )
    # A cell with the ring of cells around it: seven half steps each way.
    around = np.lib.stride_tricks.sliding_window_view(at, (7, 7))[::2, ::2]
    low, high = around.min(axis=(2, 3)), around.max(axis=(2, 3))
    return ZoneGrid(
        names=tuple(seen), cell=np.where(low == high, low, -1).astype(np.int32),
        west=west, south=south, step_deg=step,
    )  # fmt: skip


def _count(width_deg: float, step: float) -> int:
    return max(1, math.ceil(width_deg / step))
