"""The drawing board of the invented island: a metric grid laid on open sea.

The centre sits where two elevation tiles meet both ways, so the island lies on four of them.
"""

from __future__ import annotations

from typing import Final

import numpy as np

from terrain.values.arrays import FloatArray

# Open water of a tropical monsoon sea, hundreds of kilometres from any real coast.
CENTRE_LON: Final = 88.0
CENTRE_LAT: Final = 14.0
TILES: Final = ((13, 87), (13, 88), (14, 87), (14, 88))

STEP_M: Final = 180.0
COLS: Final = 521
ROWS: Final = 321

# Metres per degree on WGS 84 at 14 degrees north; the board is treated as flat.
M_PER_DEG_LAT: Final = 110_640.0
M_PER_DEG_LON: Final = 108_050.0

_QUANTUM: Final = 1024.0


def cell_x_m() -> FloatArray:
    """Metres east of the centre of each column, shape (COLS,)."""
    x: FloatArray = (np.arange(COLS, dtype=np.float64) - (COLS - 1) / 2) * STEP_M
    return x


def cell_y_m() -> FloatArray:
    """Metres north of the centre of each row, shape (ROWS,)."""
    y: FloatArray = (np.arange(ROWS, dtype=np.float64) - (ROWS - 1) / 2) * STEP_M
    return y


def to_cell(x_m: FloatArray, y_m: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Fractional column and row of board positions."""
    return x_m / STEP_M + (COLS - 1) / 2, y_m / STEP_M + (ROWS - 1) / 2


def to_lon(x_m: FloatArray) -> FloatArray:
    """Longitude [deg] of metres east of the centre."""
    lon: FloatArray = CENTRE_LON + x_m / M_PER_DEG_LON
    return lon


def to_lat(y_m: FloatArray) -> FloatArray:
    """Latitude [deg] of metres north of the centre."""
    lat: FloatArray = CENTRE_LAT + y_m / M_PER_DEG_LAT
    return lat


def steady(values: FloatArray) -> FloatArray:
    """Values on a coarse binary lattice, so that the last bits of a processor do not matter."""
    kept: FloatArray = np.round(values * _QUANTUM) / _QUANTUM
    return kept
