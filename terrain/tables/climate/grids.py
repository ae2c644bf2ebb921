"""The climate grids that come with the package, unpacked once.

grids.npz is made by `make.py` from ITU-R maps; precision of what is kept:
temperature 0.02 K steps; mean height 5 m; relief 50 m; rain 6 % steps (code 0 is under 0.1 mm)
on half-degree means of the quarter-degree map; vapour density 0.1 g/m3, its scale height 0.05 km.
South of 60 S nothing is kept.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from importlib.resources import files

import numpy as np

from terrain.tables.climate.packing import unpack_grid
from terrain.values.arrays import BoolArray, ByteArray, Float32Array, FloatArray, freeze_all

GRIDS_FILE = "grids.npz"
SOUTH_DEG = -60.0
TEMP_STEP_K = 0.02
HEIGHT_STEP_M = 5.0
RELIEF_STEP_M = 50.0
RHO_STEP = 0.1
SCALE_STEP_KM = 0.05
RHO_PERCENTS = (10, 30, 50, 70, 90)  # of an average year the density is exceeded
RAIN_NONE = 255
_RAIN_PER_OCTAVE = 12.0
_RAIN_OFFSET_MM = 4.0


def encode_rain(mm: FloatArray) -> FloatArray:
    """Codes 0..254 of monthly rain, finer for dry months."""
    return np.round(_RAIN_PER_OCTAVE * np.log2(1.0 + mm / _RAIN_OFFSET_MM))


def decode_rain(codes: ByteArray) -> Float32Array:
    """Monthly rain [mm]; NaN where none is kept."""
    mm = _RAIN_OFFSET_MM * (np.exp2(np.arange(256) / _RAIN_PER_OCTAVE) - 1.0)
    mm[RAIN_NONE] = np.nan
    out: Float32Array = mm.astype(np.float32)[codes]
    return out


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
    sea (1800, 4320) : cells of 1/12 degree from 90 N southwards
    """

    temp_c: Float32Array
    terrain_m: Float32Array
    sea_share: Float32Array
    rain_mm: Float32Array
    low_m: Float32Array
    high_m: Float32Array
    rho_g_m3: Float32Array
    scale_km: Float32Array
    rho_height_m: Float32Array
    sea: BoolArray
    source: str

    def __post_init__(self) -> None:
        freeze_all(self)


@cache
def climate_grids() -> ClimateGrids:
    """The grids, read at the first call and kept."""
    with files(__package__).joinpath(GRIDS_FILE).open("rb") as file, np.load(file) as packed:
        temp = np.cumsum(unpack_grid(packed["temp"]).astype(np.int32), axis=0)
        low = unpack_grid(packed["low"]).astype(np.float32)
        return ClimateGrids(
            temp_c=(temp * TEMP_STEP_K).astype(np.float32),
            terrain_m=_scaled(packed["terrain"], HEIGHT_STEP_M),
            sea_share=(packed["sea_share"] / 255.0).astype(np.float32),
            rain_mm=decode_rain(packed["rain"]),
            low_m=low * np.float32(RELIEF_STEP_M),
            high_m=low * np.float32(RELIEF_STEP_M) + _scaled(packed["relief"], RELIEF_STEP_M),
            rho_g_m3=_scaled(packed["rho"], RHO_STEP),
            scale_km=_scaled(packed["scale"], SCALE_STEP_KM),
            rho_height_m=_scaled(packed["rho_height"], HEIGHT_STEP_M),
            sea=np.unpackbits(packed["sea_bits"]).reshape(-1, 4320).astype(np.bool_),
            source=str(packed["source"]),
        )


def _scaled(planes: ByteArray, step: float) -> Float32Array:
    return unpack_grid(planes).astype(np.float32) * np.float32(step)
