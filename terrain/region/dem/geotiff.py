"""Elevation in GeoTIFF: any projection, laid on a grid of longitude and latitude."""

from __future__ import annotations

import math
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import rasterio
from rasterio.enums import Resampling
from rasterio.errors import RasterioError
from rasterio.transform import Affine
from rasterio.vrt import WarpedVRT
from rasterio.warp import transform_bounds
from rasterio.windows import Window

from terrain.errors import MapDataError
from terrain.region.dem.tile import HeightGrid, plausible
from terrain.text.message import message
from terrain.values.arrays import Float32Array
from terrain.values.heights import VOID

# Steps a grid of another projection is laid on, arc seconds; whole numbers of them make a
# degree, so that neighbouring files land on the same samples.
_STEPS_S = (1 / 3, 1 / 2, 1.0, 1.5, 2.0, 3.0, 5.0, 10.0, 30.0)
_FEET = {"ft", "foot", "feet"}
_SURVEY_FEET = {"us survey foot", "us-ft", "ftus", "us ft"}


@dataclass(frozen=True, slots=True, kw_only=True)
class GeoTiffFile:
    """One GeoTIFF. `warped` says that its samples are resampled onto `grid`."""

    path: Path
    grid: HeightGrid
    whole_metres: bool
    warped: Resampling | None
    metres_per_unit: float

    @property
    def shares_edges(self) -> bool:
        return False

    def read(self, rows: tuple[int, int], cols: tuple[int, int]) -> Float32Array:
        window = Window(cols[0], rows[0], cols[1] - cols[0], rows[1] - rows[0])
        with _opened(self.path) as source:
            if self.warped is None:
                band = source.read(1, window=window, masked=True)
            else:
                with WarpedVRT(source, **_warp(source, self.grid, self.warped)) as warped:
                    band = warped.read(1, window=window, masked=True)
            scale, offset = float(source.scales[0]), float(source.offsets[0])
        heights = band.astype(np.float32).filled(np.nan)
        return plausible((heights * scale + offset) * self.metres_per_unit)


def open_geotiff(path: Path) -> GeoTiffFile:
    """The file's grid. Raises MapDataError if it is damaged, has no place on Earth, or is no
    elevation."""
    with _opened(path) as source:
        _refuse_pictures(source, path)
        if source.crs is None or source.transform == Affine.identity():
            raise MapDataError(
                message("the GeoTIFF does not say where on Earth it lies"),
                str(path),
                message("Give it a coordinate system, or use another file."),
            )
        step = abs(source.transform.a)
        straight = (
            source.crs.is_geographic
            and source.transform.b == 0 == source.transform.d
            and source.transform.a > 0 > source.transform.e
            and _is_degrees(source.crs)
        )
        fine = straight and step * 3600 < 0.75 * _STEPS_S[0]
        whole = np.issubdtype(source.dtypes[0], np.integer) and source.scales[0] == 1.0
        unit = _metres_per_unit(source)
        if straight and not fine:
            grid, resampling = _own_grid(source), None
        else:
            grid, resampling = _warped_grid(source, path)
    return GeoTiffFile(
        path=path,
        grid=grid,
        whole_metres=bool(whole) and resampling is None and unit == 1.0,
        warped=resampling,
        metres_per_unit=unit,
    )


@contextmanager
def _opened(path: Path) -> Iterator[Any]:
    try:
        with rasterio.open(path) as source:
            yield source
    except RasterioError as exc:
        raise MapDataError(
            message("the GeoTIFF cannot be read ({short})", short=str(_short(exc))),
            str(path),
            message("The file may be cut short; get it again."),
        ) from exc


def _short(exc: Exception) -> str:
    """The library's message without the path, which the error gives already."""
    return str(exc).split("\n", 1)[0].rsplit("/", 1)[-1].rstrip(".")


def _refuse_pictures(source: Any, path: Path) -> None:
    kind = np.dtype(source.dtypes[0])
    if source.count != 1 or kind == np.uint8 or kind.kind not in "iuf":
        raise MapDataError(
            message(
                "the GeoTIFF has {count} band(s) of {kind}; one band of heights is needed",
                count=str(source.count),
                kind=str(kind),
            ),
            str(path),
            message("It may be a picture; use the elevation model itself."),
        )


def _is_degrees(crs: Any) -> bool:
    name, factor = crs.units_factor
    return bool(abs(factor - math.radians(1)) < 1e-9 or name.lower().startswith("degree"))


def _metres_per_unit(source: Any) -> float:
    unit = (source.units[0] or "").strip().lower()
    if unit in _FEET:
        return 0.3048
    return 1200 / 3937 if unit in _SURVEY_FEET else 1.0


def _own_grid(source: Any) -> HeightGrid:
    # The transform gives pixel corners whatever the file's pixel meaning; samples are centres.
    t = source.transform
    return HeightGrid(
        west=t.c + t.a / 2,
        south=t.f + (source.height - 0.5) * t.e,
        step_lon=t.a,
        step_lat=-t.e,
        rows=source.height,
        cols=source.width,
    )


def _warped_grid(source: Any, path: Path) -> tuple[HeightGrid, Resampling]:
    """The grid of degrees that holds the file, at about its own step."""
    try:
        west, south, east, north = transform_bounds(source.crs, "EPSG:4326", *source.bounds)
    except RasterioError as exc:
        raise MapDataError(
            message(
                "the GeoTIFF's projection cannot be turned into degrees ({short})",
                short=str(_short(exc)),
            ),
            str(path),
            message("Use a file in longitude and latitude."),
        ) from exc
    if not all(map(math.isfinite, (west, south, east, north))) or east <= west:
        raise MapDataError(
            message("the GeoTIFF's corners do not lie on Earth, or it crosses the 180th meridian"),
            str(path),
            message("Use a file in longitude and latitude."),
        )
    own_step_s = (north - south) * 3600 / source.height
    step_s = max((s for s in _STEPS_S if s <= own_step_s * 1.5), default=_STEPS_S[0])
    resampling = Resampling.average if step_s > 1.5 * own_step_s else Resampling.bilinear
    step = step_s / 3600
    left, low = math.ceil(west / step), math.ceil(south / step)
    right, high = math.floor(east / step), math.floor(north / step)
    if right <= left or high <= low:
        raise MapDataError(
            message("the GeoTIFF is smaller than one step"), str(path), message("Use another file.")
        )
    grid = HeightGrid(
        west=left * step,
        south=low * step,
        step_lon=step,
        step_lat=step,
        rows=high - low + 1,
        cols=right - left + 1,
    )
    return grid, resampling


def _warp(source: Any, grid: HeightGrid, resampling: Resampling) -> dict[str, Any]:
    corner = Affine(
        grid.step_lon,
        0,
        grid.west - grid.step_lon / 2,
        0,
        -grid.step_lat,
        grid.north + grid.step_lat / 2,
    )
    # Without a nodata value, ground outside the file would come out as height 0.
    return {
        "crs": "EPSG:4326",
        "transform": corner,
        "width": grid.cols,
        "height": grid.rows,
        "resampling": resampling,
        "src_nodata": source.nodata if source.nodata is not None else VOID,
        "nodata": VOID,
        "dtype": "float32",
    }
