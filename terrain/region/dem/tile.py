"""Elevation tiles as grids of heights, whatever file they come from."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Protocol

import numpy as np

from terrain.values.arrays import Float32Array
from terrain.values.heights import VOID


@dataclass(frozen=True, slots=True, kw_only=True)
class HeightGrid:
    """Samples at equal steps of longitude and latitude; west, south is the first one [deg]."""

    west: float
    south: float
    step_lon: float
    step_lat: float
    rows: int
    cols: int

    @property
    def east(self) -> float:
        return self.west + (self.cols - 1) * self.step_lon

    @property
    def north(self) -> float:
        return self.south + (self.rows - 1) * self.step_lat

    def part(self, rows: tuple[int, int], cols: tuple[int, int]) -> HeightGrid:
        """Rows and columns [first, end) of it, counted from the north-west."""
        return HeightGrid(
            west=self.west + cols[0] * self.step_lon,
            south=self.south + (self.rows - rows[1]) * self.step_lat,
            step_lon=self.step_lon,
            step_lat=self.step_lat,
            rows=rows[1] - rows[0],
            cols=cols[1] - cols[0],
        )


class DemFile(Protocol):
    """One elevation file: its grid is known, its heights are read when asked for."""

    @property
    def path(self) -> Path: ...

    @property
    def grid(self) -> HeightGrid: ...

    @property
    def whole_metres(self) -> bool: ...

    @property
    def shares_edges(self) -> bool: ...

    def read(self, rows: tuple[int, int], cols: tuple[int, int]) -> Float32Array:
        """Heights [m] of rows and columns [first, end) from the north-west, NaN in voids."""
        ...


def plausible(heights: Float32Array) -> Float32Array:
    """The heights with what no ground on Earth can be turned to NaN: voids and faults."""
    with np.errstate(invalid="ignore"):
        wrong = ~((heights >= _LOWEST_M) & (heights <= _HIGHEST_M)) | (heights == VOID)
    return np.where(wrong, np.float32(np.nan), heights).astype(np.float32)


# The lowest dry land is near -430 m, the highest ground 8849 m; the rest are faults of the file.
_LOWEST_M, _HIGHEST_M = -500.0, 9000.0
