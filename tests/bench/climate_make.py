"""Makes grids.npz from the data files of the `itur` package: python -m tests.bench.climate_make

The maps are those of ITU-R Recommendations P.1510-1 (monthly mean surface temperature),
P.837-7 (monthly rainfall), P.836-6 (surface water vapour density and its scale height) and
P.1511-2 (height of the ground), as carried by itur 0.4 (MIT). What is kept of each, and how
finely, stands in `terrain/tables/climate/grids.py`.
"""

from __future__ import annotations

import importlib.metadata
import importlib.util
import sys
from collections.abc import Iterator
from importlib.resources import files
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from terrain.tables.climate.grids import (
    GRIDS_FILE,
    HEIGHT_STEP_M,
    RAIN_NONE,
    RAIN_OFFSET_MM,
    RAIN_PER_OCTAVE,
    RELIEF_STEP_M,
    RHO_PERCENTS,
    RHO_STEP,
    SCALE_STEP_KM,
    SOUTH_DEG,
    TEMP_STEP_K,
    band_rows,
)
from terrain.values.arrays import BoolArray, ByteArray, FloatArray

_SMALLEST_SEA = (
    200  # cells of 1/12 degree; smaller patches at height 0 are plains, not sea: common practice
)


def pack_grid(codes: NDArray[Any]) -> ByteArray:
    """Byte planes of the differences along both grid axes; codes must fit in int16.

    codes : shape (..., rows, columns)
    Returns: shape (2, ..., rows, columns), low bytes first. Neighbouring cells are alike, so
    the differences are small and a general compressor does the rest.
    """
    if codes.min() < -32768 or codes.max() > 32767:
        raise ValueError("codes do not fit in 16 bits")
    wrapped = codes.astype(np.int16).view(np.uint16)
    for axis in (-1, -2):
        before = np.roll(wrapped, 1, axis=axis)
        first: list[Any] = [slice(None)] * wrapped.ndim
        first[axis] = 0
        before[tuple(first)] = 0
        wrapped = wrapped - before
    return np.stack([(wrapped & 0xFF).astype(np.uint8), (wrapped >> 8).astype(np.uint8)])


def encode_rain(mm: FloatArray) -> FloatArray:
    """Codes 0..254 of monthly rain, finer for dry months."""
    return np.round(RAIN_PER_OCTAVE * np.log2(1.0 + mm / RAIN_OFFSET_MM))


def _itur_folder() -> Path:
    spec = importlib.util.find_spec("itur")
    if spec is None or spec.origin is None:
        raise SystemExit("itur is not installed: pip install itur")
    return Path(spec.origin).parent / "data"


def _load(name: str) -> FloatArray:
    with np.load(_itur_folder() / f"{name}.npz") as data:
        array: FloatArray = data[data.files[0]].astype(np.float64)
    return array


def _from_south(grid: FloatArray, step_deg: float) -> FloatArray:
    """Rows from SOUTH_DEG northwards of a node grid that starts at the south pole."""
    return grid[..., round((SOUTH_DEG + 90.0) / step_deg) :, :]


def _sea(height: FloatArray) -> BoolArray:
    flat = height == 0
    patches, _ = ndimage.label(flat)
    size = np.bincount(patches.ravel())
    sea: BoolArray = flat & (size[patches] > _SMALLEST_SEA)
    return sea


def _box(cells: FloatArray, side: int, every: int, kind: str) -> FloatArray:
    """Mean, minimum or maximum of side x side cells round every every-th cell corner, with the
    poles and the date line closed: rows (180 / step + 1), columns (360 / step + 1)."""
    half = side // 2
    wrapped = np.pad(cells, ((0, 0), (half, half)), mode="wrap")
    wrapped = np.pad(wrapped, ((half, half), (0, 0)), mode="edge")
    window = np.lib.stride_tricks.sliding_window_view(wrapped, (2 * half, 2 * half))
    picked = window[::every, ::every]
    out: FloatArray = getattr(np, kind)(picked, axis=(2, 3))
    return out


def _mean_9(cells: FloatArray) -> FloatArray:
    """Mean over 0.75 degrees round the 0.75 degree nodes, from cells of 1/12 degree."""
    # Nodes lie on cell corners, so nine cells across is the mean of two windows of 8 and 10.
    return 0.5 * (_box(cells, 8, 9, "mean") + _box(cells, 10, 9, "mean"))


def _temperatures() -> FloatArray:
    months = [_load(f"1510/v1_t_month{m:02d}") for m in range(1, 13)]
    return _from_south(np.array(months), 0.75) - 273.15


def _rain(sea: BoolArray) -> Any:
    """Codes of monthly rain on half-degree cells, RAIN_NONE far from land."""
    months = np.array([_load(f"837/v7_mt_month{m:02d}")[1:-1, 1:-1] for m in range(1, 13)])
    halves = months.reshape(12, 360, 2, 720, 2).mean(axis=(2, 4))
    land: Any = ~sea[::-1].reshape(360, 6, 720, 6).all(axis=(1, 3))
    near = ndimage.binary_dilation(land, np.ones((3, 3), dtype=np.bool_))
    codes = np.where(near, encode_rain(halves), RAIN_NONE)
    return codes[:, round((SOUTH_DEG + 90.0) / 0.5) :, :]


def _vapour() -> dict[str, Any]:
    """P.836 on its own nodes (north first, 0..360 E): density at each percentage of the year,
    scale height, and the height of the ground that the densities hold for."""
    from itur.models.itu1144 import bicubic_2D_interpolator

    rho = np.array([_load(f"836/v6_rho_{p}") for p in RHO_PERCENTS])
    scale = np.array([_load(f"836/v6_vsch_{p}") for p in RHO_PERCENTS])
    lat, lon = _load("836/v6_lat"), _load("836/v6_lon")
    height = bicubic_2D_interpolator(
        np.flipud(_load("836/v6_topolat")),
        _load("836/v6_topolon"),
        np.flipud(_load("836/v6_topo_0dot5")),
    )(np.array([np.clip(lat, -89.9, 89.9).ravel(), (lon % 360.0).ravel()]).T).reshape(lat.shape)
    # The last column repeats the first, and the data leave it empty in places.
    for grid in (*rho, *scale):
        grid[:, -1] = grid[:, 0]
    return {
        "rho": np.round(np.nan_to_num(rho) / RHO_STEP),
        "scale": np.round(np.nan_to_num(scale, nan=2.0) / SCALE_STEP_KM),
        "rho_height": np.round(height * 1000.0 / HEIGHT_STEP_M),
    }


def make_grids() -> dict[str, Any]:
    """All packed arrays of grids.npz, by name and band."""
    height = _load("1511/v2_topo")[2:-2, 2:-2]  # cells of 1/12 degree, north first
    sea = _sea(height)
    temp = _temperatures()
    codes = np.round(temp / TEMP_STEP_K).astype(np.int64)
    codes[1:] -= codes[:-1].copy()  # month by month: smaller numbers pack better
    terrain = _from_south(_mean_9(height)[::-1], 0.75)
    sea_share = _from_south(_mean_9(sea.astype(np.float64))[::-1], 0.75)
    low = _from_south(_box(height, 6, 3, "min")[::-1], 0.25)
    high = _from_south(_box(height, 6, 3, "max")[::-1], 0.25)
    low_codes = np.floor(low / RELIEF_STEP_M)
    of_codes = {
        "temp": codes,
        "terrain": np.round(terrain / HEIGHT_STEP_M),
        "low": low_codes,
        "relief": np.ceil(high / RELIEF_STEP_M) - low_codes,
        **_vapour(),
    }
    of_bytes = {
        "sea_share": np.round(sea_share * 255).astype(np.uint8),
        "rain": _rain(sea).astype(np.uint8),
        "sea_bits": np.packbits(sea[: round((90.0 - SOUTH_DEG) * 12)], axis=1),
    }
    return {
        "source": np.array(f"itur {importlib.metadata.version('itur')}"),
        **{name: pack_grid(band) for name, band in _bands(of_codes)},
        **dict(_bands(of_bytes)),
    }


def _bands(grids: dict[str, Any]) -> Iterator[tuple[str, Any]]:
    for name, grid in grids.items():
        height = band_rows(grid.shape[-2])
        for band in range(-(-grid.shape[-2] // height)):
            yield f"{name}.{band}", grid[..., band * height : (band + 1) * height, :]


def main() -> None:
    target = Path(str(files("terrain.tables.climate").joinpath(GRIDS_FILE)))
    np.savez_compressed(target, **make_grids())
    sys.stdout.write(f"{target.name}: {target.stat().st_size} bytes\n")


if __name__ == "__main__":
    main()
