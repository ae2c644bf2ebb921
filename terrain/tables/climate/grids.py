"""The climate grids that come with the package, unpacked once and kept as their small codes.

grids.npz is made by `tests/bench/climate_make.py` from ITU-R maps; precision of what is kept:
temperature 0.02 K steps; mean height 5 m; relief 50 m; rain 6 % steps (code 0 is under 0.1 mm)
on half-degree means of the quarter-degree map; vapour density 0.1 g/m3, its scale height 0.05 km.
South of 60 S nothing is kept.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import Any

import numpy as np
from numpy.typing import NDArray

from terrain.values.arrays import BoolArray, ByteArray, Float32Array, Int16Array

GRIDS_FILE = "grids.npz"
# How the maps are packed: the steps are far finer than the maps' errors (ours: common practice, no
# source); the percents are among those of Recommendation ITU-R P.836 (from memory).
SOUTH_DEG = -60.0
SEA_ROWS = 1800  # of 1/12 degree from 90 N to SOUTH_DEG
TEMP_STEP_K = 0.02
HEIGHT_STEP_M = 5.0
RELIEF_STEP_M = 50.0
RHO_STEP = 0.1
SCALE_STEP_KM = 0.05
RHO_PERCENTS = (10, 30, 50, 70, 90)  # of an average year the density is exceeded
RAIN_NONE = 255
RAIN_PER_OCTAVE = 12.0
RAIN_OFFSET_MM = 4.0


def decode_rain(codes: ByteArray) -> Float32Array:
    """Monthly rain [mm]; NaN where none is kept."""
    mm = RAIN_OFFSET_MM * (np.exp2(np.arange(256) / RAIN_PER_OCTAVE) - 1.0)
    mm[RAIN_NONE] = np.nan
    out: Float32Array = mm.astype(np.float32)[codes]
    return out


class CodedGrid:
    """A grid read like an array of float32, of which only small codes are kept.

    decode : values of some codes. A ride asks for a few places of a world.
    """

    def __init__(self, codes: NDArray[Any], decode: Callable[[Any], Float32Array]) -> None:
        codes.setflags(write=False)
        self._codes, self._decode = codes, decode
        self.shape = codes.shape

    def __len__(self) -> int:
        return len(self._codes)

    def __getitem__(self, places: Any) -> Float32Array:
        return self._decode(self._codes[places])


def unpack_grid(planes: ByteArray) -> Int16Array:
    """Codes out of the byte planes, low bytes first, of their differences along both grid axes.

    planes : shape (2, ..., rows, columns); neighbouring cells are alike, so that differences are
        small and a general compressor does the rest
    Returns: shape (..., rows, columns)
    """
    wrapped = planes[0].astype(np.uint16) | (planes[1].astype(np.uint16) << 8)
    for axis in (-2, -1):
        wrapped = np.cumsum(wrapped, axis=axis, dtype=np.uint16)
    codes: Int16Array = wrapped.view(np.int16)
    return codes


def _by_step(codes: NDArray[Any], step: float) -> CodedGrid:
    return CodedGrid(codes, lambda some: some.astype(np.float32) * np.float32(step))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ClimateGrids:
    """Node grids with rows from SOUTH_DEG northwards and columns from 180 W eastwards.

    temp_c (12, 201, 481), terrain_m, sea_share (201, 481) : 0.75 degree nodes; monthly mean
        temperature, mean height of the ground over 0.75 degrees, share of sea in it
    rain_mm (12, 300, 720) : means of half-degree cells; NaN far from land
    low_m, high_m (601, 1441) : lowest and highest ground within 0.25 degrees of quarter nodes
    rho_g_m3, scale_km (p, 161, 321), rho_height_m (161, 321) : 1.125 degree nodes, rows from
        90 N southwards, columns from 0 eastwards; vapour density exceeded for RHO_PERCENTS of
        the year at rho_height_m, falling by e each scale_km above it
    sea_bits : cells (1800, 4320) of 1/12 degree from 90 N southwards, eight to a byte
    """

    temp_c: CodedGrid
    terrain_m: CodedGrid
    sea_share: CodedGrid
    rain_mm: CodedGrid
    low_m: CodedGrid
    high_m: CodedGrid
    rho_g_m3: CodedGrid
    scale_km: CodedGrid
    rho_height_m: CodedGrid
    sea_bits: ByteArray
    source: str

    def sea(self, first: int = 0, end: int = SEA_ROWS) -> BoolArray:
        """The cells of sea of some rows, unpacked, shape (rows, 4320)."""
        bits = self.sea_bits.reshape(SEA_ROWS, -1)[first:end]
        return np.unpackbits(bits).reshape(-1, 4320).view(np.bool_)


@cache
def climate_grids() -> ClimateGrids:
    """The grids, read at the first call and kept."""
    with files(__package__).joinpath(GRIDS_FILE).open("rb") as file, np.load(file) as packed:
        temp = np.cumsum(unpack_grid(packed["temp"]), axis=0, dtype=np.int16)
        low = unpack_grid(packed["low"])
        return ClimateGrids(
            temp_c=CodedGrid(temp, lambda some: (some * TEMP_STEP_K).astype(np.float32)),
            terrain_m=_by_step(unpack_grid(packed["terrain"]), HEIGHT_STEP_M),
            sea_share=CodedGrid(
                packed["sea_share"], lambda some: (some / 255.0).astype(np.float32)
            ),
            rain_mm=CodedGrid(packed["rain"], decode_rain),
            low_m=_by_step(low, RELIEF_STEP_M),
            high_m=_by_step(low + unpack_grid(packed["relief"]), RELIEF_STEP_M),
            rho_g_m3=_by_step(unpack_grid(packed["rho"]), RHO_STEP),
            scale_km=_by_step(unpack_grid(packed["scale"]), SCALE_STEP_KM),
            rho_height_m=_by_step(unpack_grid(packed["rho_height"]), HEIGHT_STEP_M),
            sea_bits=packed["sea_bits"],
            source=str(packed["source"]),
        )
