"""The time zones of a region, cell by cell."""

from __future__ import annotations

import math
from dataclasses import dataclass

from terrain.values.arrays import Int32Array, freeze_all


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ZoneGrid:
    """Which zone each cell of a region lies in.

    Cell (row, col) covers south + row * step, west + col * step [deg]; cell, shape (rows, cols),
    is a place in `names`, -1 where a border of zones may pass.
    """

    names: tuple[str, ...]
    cell: Int32Array
    west: float
    south: float
    step_deg: float

    def __post_init__(self) -> None:
        freeze_all(self)

    def name_at(self, lon: float, lat: float) -> str | None:
        """The zone of a place; None near a border, and outside."""
        row = math.floor((lat - self.south) / self.step_deg)
        col = math.floor((lon - self.west) / self.step_deg)
        rows, cols = self.cell.shape
        if not (0 <= row < rows and 0 <= col < cols) or self.cell[row, col] < 0:
            return None
        return self.names[int(self.cell[row, col])]
