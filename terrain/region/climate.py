"""An operator's own monthly climate grids: a folder of GeoTIFF files made into one value."""

from __future__ import annotations

import math
import re
from pathlib import Path

import numpy as np
import rasterio
from rasterio.enums import Resampling
from rasterio.errors import RasterioError
from rasterio.transform import Affine
from rasterio.vrt import WarpedVRT
from rasterio.windows import Window

from terrain.errors import MapDataError
from terrain.text.message import message
from terrain.values.arrays import Float32Array
from terrain.values.climate import ClimateGrid

_KIND = re.compile(
    r"(tmax|tmin|tasmax|tasmin|tx|tn)(?![a-z])|(elev|elevation|alt|altitude)(?![a-z])"
)
_MONTH = re.compile(r"(?<!\d)(0?[1-9]|1[0-2])(?!\d)")
_KINDS = {"tasmax": "tmax", "tx": "tmax", "tasmin": "tmin", "tn": "tmin"}
_MARGIN_DEG = 0.1
_MOST_CELLS = 4_000_000
_HOTTEST_C, _COLDEST_C = 60.0, -80.0
_HOW = message(
    "Give a folder with twenty-four files such as tmax_01.tif to tmin_12.tif, or tmax.tif and "
    "tmin.tif with twelve bands each; degrees Celsius, and elevation.tif with the heights the "
    "temperatures hold for if there is one."
)

Bbox = tuple[float, float, float, float]


def read_climate(folder: Path, bbox: Bbox) -> ClimateGrid:
    """The operator's grids over a region.

    folder : GeoTIFF files of mean daily maximum and minimum, one file per month or twelve bands
    bbox : west, south, east, north of the region [deg]; a margin is added
    Every grid is laid on the grid of the January maxima. Raises MapDataError naming the file.
    """
    bands = _find(folder)
    first = bands["tmax", 1]
    frame = _frame(*first, bbox)
    tmax = np.stack([_degrees(*bands["tmax", m], frame) for m in range(1, 13)])
    tmin = np.stack([_degrees(*bands["tmin", m], frame) for m in range(1, 13)])
    both = ~np.isnan(tmax + tmin)
    if not both.any():
        raise MapDataError(
            message("the climate grids hold nothing over the region"),
            str(folder),
            message("Use grids that cover the region's roads."),
        )
    crossed = (both & (tmax < tmin)).sum()
    if crossed:
        raise MapDataError(
            message("the maxima lie below the minima in {crossed} cells", crossed=str(crossed)),
            str(folder),
            message("Check that the files of maxima and minima are not exchanged."),
        )
    ele = bands.get(("elevation", 0))
    shape = tmax.shape[1:]
    return ClimateGrid(
        tmax_c=tmax,
        tmin_c=tmin,
        ele_m=np.full(shape, np.nan, np.float32) if ele is None else _read(*ele, frame),
        west=frame.west,
        north=frame.north,
        step_lon=frame.step_lon,
        step_lat=frame.step_lat,
        source=folder.name,
    )


class _Frame:
    """The grid all files are laid on: centre of the first cell, steps, size."""

    def __init__(self, transform: Affine, width: int, height: int) -> None:
        self.transform, self.width, self.height = transform, width, height
        self.step_lon, self.step_lat = float(transform.a), float(-transform.e)
        self.west = float(transform.c) + self.step_lon / 2
        self.north = float(transform.f) - self.step_lat / 2


def _find(folder: Path) -> dict[tuple[str, int], tuple[Path, int]]:
    """File and band of each kind and month."""
    if not folder.is_dir():
        raise MapDataError(message("there is no such folder of climate grids"), str(folder), _HOW)
    found: dict[tuple[str, int], tuple[Path, int]] = {}
    for path in sorted(folder.rglob("*")):
        if path.suffix.lower() not in (".tif", ".tiff"):
            continue
        for key, band in _meaning(path):
            if key in found:
                raise MapDataError(
                    message(
                        "two files hold {key} of month {key2}", key=str(key[0]), key2=str(key[1])
                    )
                    if key[1]
                    else message("two files hold the heights"),
                    message(
                        "{name} and {name2}", name=str(found[key][0].name), name2=str(path.name)
                    ),
                    message("Leave one of them."),
                )
            found[key] = (path, band)
    missing = [
        f"{k}_{m:02d}" for k in ("tmax", "tmin") for m in range(1, 13) if (k, m) not in found
    ]
    if missing:
        listed = ", ".join(missing[:4]) + (" and more" if len(missing) > 4 else "")
        raise MapDataError(
            message("climate grids are missing: {listed}", listed=str(listed)), str(folder), _HOW
        )
    return found


def _meaning(path: Path) -> list[tuple[tuple[str, int], int]]:
    """What the bands of a file are, by its name; nothing if the name says nothing."""
    name = path.stem.lower()
    kind = _KIND.search(name)
    if kind is None:
        return []
    if kind.group(2):
        return [(("elevation", 0), 1)]
    word = _KINDS.get(kind.group(1), kind.group(1))
    months = _MONTH.findall(name[kind.end() :])
    if months:
        return [((word, int(months[-1])), 1)]
    try:
        with rasterio.open(path) as source:
            count = source.count
    except (RasterioError, OSError) as exc:
        raise _unreadable(path, exc) from exc
    if count != 12:
        raise MapDataError(
            message("the file names no month and has {count} bands, not 12", count=str(count)),
            str(path),
            _HOW,
        )
    return [((word, month), month) for month in range(1, 13)]


def _frame(path: Path, band: int, bbox: Bbox) -> _Frame:
    west, south, east, north = bbox
    try:
        with rasterio.open(path) as source:
            if source.crs is None or source.transform == Affine.identity():
                raise MapDataError(
                    message("the climate grid does not say where on Earth it lies"),
                    str(path),
                    message("Give it a coordinate system, or use another file."),
                )
            with WarpedVRT(source, crs="EPSG:4326", resampling=Resampling.bilinear) as warped:
                grid = warped.transform
                first_col = max(math.floor((west - _MARGIN_DEG - grid.c) / grid.a), 0)
                last_col = min(math.ceil((east + _MARGIN_DEG - grid.c) / grid.a), warped.width)
                first_row = max(math.floor((north + _MARGIN_DEG - grid.f) / grid.e), 0)
                last_row = min(math.ceil((south - _MARGIN_DEG - grid.f) / grid.e), warped.height)
                width, height = last_col - first_col, last_row - first_row
                if width < 2 or height < 2:
                    raise MapDataError(
                        message(
                            "the climate grid does not reach the region, or has less than two "
                            "cells over it"
                        ),
                        str(path),
                        message(
                            "Use grids that cover the region's roads, of a few kilometres a cell."
                        ),
                    )
                if width * height > _MOST_CELLS:
                    raise MapDataError(
                        message(
                            "the climate grid has {width} x {height} cells over the region",
                            width=str(width),
                            height=str(height),
                        ),
                        str(path),
                        message("Use a coarser grid: 1 km a cell is fine enough."),
                    )
                corner = (grid.c + first_col * grid.a, grid.f + first_row * grid.e)
                cut = Affine(grid.a, 0.0, corner[0], 0.0, grid.e, corner[1])
                return _Frame(cut, width, height)
    except (RasterioError, OSError, ValueError) as exc:
        raise _unreadable(path, exc) from exc


def _read(path: Path, band: int, frame: _Frame) -> Float32Array:
    try:
        with (
            rasterio.open(path) as source,
            WarpedVRT(
                source,
                crs="EPSG:4326",
                transform=frame.transform,
                width=frame.width,
                height=frame.height,
                resampling=Resampling.bilinear,
            ) as warped,
        ):
            window = Window(0, 0, frame.width, frame.height)
            values = warped.read(band, window=window, masked=True)
            scale, offset = float(source.scales[band - 1]), float(source.offsets[band - 1])
    except (RasterioError, OSError, ValueError) as exc:
        raise _unreadable(path, exc) from exc
    out: Float32Array = (values.astype(np.float32) * scale + offset).filled(np.nan)
    return out


def _degrees(path: Path, band: int, frame: _Frame) -> Float32Array:
    values = _read(path, band, frame)
    known = values[~np.isnan(values)]
    if len(known) and (known.max() > _HOTTEST_C or known.min() < _COLDEST_C):
        raise MapDataError(
            message(
                "the climate grid holds values from {min} to {max}, which are no degrees Celsius",
                min=f"{known.min():.0f}",
                max=f"{known.max():.0f}",
            ),
            str(path),
            message("Convert tenths of degrees or kelvins to degrees Celsius."),
        )
    return values


def _unreadable(path: Path, exc: Exception) -> MapDataError:
    return MapDataError(
        message("the climate grid cannot be read ({name})", name=str(type(exc).__name__)),
        str(path),
        message("Check that it is a whole GeoTIFF file."),
    )
