"""The climate grids that come with the package, unpacked where a place asks, kept as small codes.

grids.npz holds each map in bands of rows. It is made by `tests/bench/climate_make.py` from ITU-R
maps; precision of what is kept: temperature 0.02 K steps; mean height 5 m; relief 50 m; rain 6 %
steps (code 0 is under 0.1 mm) on half-degree means of the quarter-degree map; vapour density 0.1
g/m3, its scale height 0.05 km.
South of 60 S nothing is kept.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from io import BytesIO
from typing import Any, TypeAlias

import numpy as np
from numpy.typing import NDArray

from terrain.values.arrays import BoolArray, ByteArray, Float32Array, Int16Array

GRIDS_FILE = "grids.npz"
# How the maps are packed: in bands of rows, of which a ride lies in one or two; the steps are far
# finer than the maps' errors (ours: common practice, no source); the percents are among those of
# Recommendation ITU-R P.836 (from memory).
BANDS = 10
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

ReadBand: TypeAlias = Callable[[int], NDArray[Any]]  # codes of a band, by its number


def decode_rain(codes: ByteArray) -> Float32Array:
    """Monthly rain [mm]; NaN where none is kept."""
    mm = RAIN_OFFSET_MM * (np.exp2(np.arange(256) / RAIN_PER_OCTAVE) - 1.0)
    mm[RAIN_NONE] = np.nan
    out: Float32Array = mm.astype(np.float32)[codes]
    return out


class CodedGrid:
    """A grid read like an array, of which only small codes are kept, and of these only the bands
    of rows that were asked for. A ride asks for a few places of a world.

    shape : (..., rows, columns)
    read : codes of a band; decode : values of some codes
    """

    def __init__(
        self,
        shape: tuple[int, ...],
        dtype: type[np.generic],
        read: ReadBand,
        decode: Callable[[Any], NDArray[Any]],
    ) -> None:
        self._codes: NDArray[Any] = np.empty(shape, dtype)
        self._read, self._decode = read, decode
        self._held: set[int] = set()
        self.shape = shape

    def __len__(self) -> int:
        return len(self._codes)

    def __getitem__(self, places: Any) -> NDArray[Any]:
        """places : one index an axis, or all but the last two left out by `...`"""
        height = band_rows(self.shape[-2])
        for band in np.unique(np.arange(self.shape[-2])[places[-2]] // height).tolist():
            if band not in self._held:
                self._codes[..., band * height : (band + 1) * height, :] = self._read(band)
                self._held.add(band)
        return self._decode(self._codes[places])


def band_rows(rows: int) -> int:
    """How many rows a band of a map has; the last may have fewer."""
    return -(-rows // BANDS)


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
    sea_bits : cells (1800, 4320) of 1/12 degree from 90 N southwards, kept eight to a byte
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
    sea_bits: CodedGrid
    source: str

    def sea(self, first: int = 0, end: int = SEA_ROWS) -> BoolArray:
        """The cells of sea of some rows, unpacked, shape (rows, 4320)."""
        cells: BoolArray = self.sea_bits[first:end, :].view(np.bool_)
        return cells


@cache
def climate_grids() -> ClimateGrids:
    """The grids, their file read at the first call and kept."""
    packed = np.load(BytesIO(files(__package__).joinpath(GRIDS_FILE).read_bytes()))

    def stored(name: str) -> ReadBand:
        return lambda band: np.asarray(packed[f"{name}.{band}"])

    def codes(name: str) -> ReadBand:
        return lambda band: unpack_grid(packed[f"{name}.{band}"])

    def temp(band: int) -> Any:
        return np.cumsum(codes("temp")(band), axis=0, dtype=np.int16)

    def high(band: int) -> Any:
        return codes("low")(band) + codes("relief")(band)

    def by_step(shape: tuple[int, ...], step: float, read: ReadBand) -> CodedGrid:
        return CodedGrid(
            shape, np.int16, read, lambda some: some.astype(np.float32) * np.float32(step)
        )

    return ClimateGrids(
        temp_c=CodedGrid(
            (12, 201, 481), np.int16, temp, lambda some: (some * TEMP_STEP_K).astype(np.float32)
        ),
        terrain_m=by_step((201, 481), HEIGHT_STEP_M, codes("terrain")),
        sea_share=CodedGrid(
            (201, 481), np.uint8, stored("sea_share"),
            lambda some: (some / 255.0).astype(np.float32),
        ),
        rain_mm=CodedGrid((12, 300, 720), np.uint8, stored("rain"), decode_rain),
        low_m=by_step((601, 1441), RELIEF_STEP_M, codes("low")),
        high_m=by_step((601, 1441), RELIEF_STEP_M, high),
        rho_g_m3=by_step((len(RHO_PERCENTS), 161, 321), RHO_STEP, codes("rho")),
        scale_km=by_step((len(RHO_PERCENTS), 161, 321), SCALE_STEP_KM, codes("scale")),
        rho_height_m=by_step((161, 321), HEIGHT_STEP_M, codes("rho_height")),
        sea_bits=CodedGrid(
            (SEA_ROWS, 4320 // 8), np.uint8, stored("sea_bits"),
            lambda some: np.unpackbits(some, axis=1),
        ),
        source=str(packed["source"]),
    )  # fmt: skip
