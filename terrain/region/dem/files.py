"""Elevation files: which there are, what grid each holds, and reading it.

Facts of .hgt: no header; big-endian 16-bit whole metres above the EGM96 geoid; northern row
first, west to east; void -32768; the name is the south-west corner; edge rows are shared with
the neighbours. Source: NASA/USGS SRTM topography document and FAQ.
"""

from __future__ import annotations

import gzip
import re
import zipfile
import zlib
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import IO

import numpy as np

from terrain.errors import MapDataError
from terrain.region.dem.tile import DemFile, HeightGrid, plausible
from terrain.text.message import message
from terrain.values.arrays import Float32Array

# Bytes of a tile -> its rows and columns: 3, 1, and 1 by 2 arc seconds (beyond 50 degrees).
_HGT_SHAPES = {
    1201 * 1201 * 2: (1201, 1201),
    3601 * 3601 * 2: (3601, 3601),
    3601 * 1801 * 2: (3601, 1801),
}
_LARGEST = max(_HGT_SHAPES)
_CORNER = re.compile(r"^([NS])(\d{2})([EW])(\d{3})(?!\d)", re.IGNORECASE)
_HGT_ENDINGS = (".hgt", ".hgt.gz", ".zip")
_TIFF_ENDINGS = (".tif", ".tiff")


def find_dem_files(paths: Iterable[Path]) -> list[Path]:
    """The elevation files among the paths and in the folders among them, each once, sorted.

    Raises MapDataError if a path is not there, is no elevation file by its ending, or is a
    folder without any.
    """
    found: dict[Path, None] = {}
    for path in paths:
        if path.is_dir():
            inside = [p for p in sorted(path.rglob("*")) if p.is_file() and _is_dem_name(p.name)]
            if not inside:
                raise MapDataError(
                    message("there is no elevation file in this folder"),
                    str(path),
                    message("It should hold .hgt, .hgt.gz, .hgt.zip or GeoTIFF files."),
                )
            found.update(dict.fromkeys(inside))
        elif not path.exists():
            raise MapDataError(
                message("there is no such elevation file"), str(path), message("Check the path.")
            )
        elif not path.name.lower().endswith(_HGT_ENDINGS + _TIFF_ENDINGS):
            raise MapDataError(
                message("the ending of this file is not one of an elevation file"),
                str(path),
                message("Use .hgt, .hgt.gz, .hgt.zip, .tif or .tiff."),
            )
        else:
            found[path] = None
    return list(found)


def _is_dem_name(name: str) -> bool:
    # A .zip in a folder counts only if its name gives a corner: other archives lie about too.
    lower = name.lower()
    if lower.endswith(".zip"):
        return ".hgt" in lower or _CORNER.match(name) is not None
    return lower.endswith(_HGT_ENDINGS + _TIFF_ENDINGS)


def open_dem_file(path: Path) -> DemFile:
    """The file's grid, without its heights. Raises MapDataError if it cannot be used."""
    if path.name.lower().endswith(_TIFF_ENDINGS):
        from terrain.region.dem.geotiff import open_geotiff  # rasterio takes half a second

        return open_geotiff(path)
    return open_hgt(path)


def corner_of(name: str) -> tuple[int, int] | None:
    """(lon, lat) of the south-west corner a tile's name gives, None if it gives none."""
    match = _CORNER.match(name)
    if not match:
        return None
    lat = int(match[2]) * (-1 if match[1].upper() == "S" else 1)
    lon = int(match[4]) * (-1 if match[3].upper() == "W" else 1)
    return (lon, lat) if -90 <= lat < 90 and -180 <= lon < 180 else None


def tile_name(lon: int, lat: int) -> str:
    """The name of the tile with this south-west corner, such as N42E001."""
    return f"{'S' if lat < 0 else 'N'}{abs(lat):02d}{'W' if lon < 0 else 'E'}{abs(lon):03d}"


@dataclass(frozen=True, slots=True, kw_only=True)
class HgtFile:
    """One .hgt tile, plain, gzipped or zipped."""

    path: Path
    grid: HeightGrid

    @property
    def whole_metres(self) -> bool:
        return True

    @property
    def shares_edges(self) -> bool:
        return True

    def read(self, rows: tuple[int, int], cols: tuple[int, int]) -> Float32Array:
        data = hgt_bytes(self.path)
        cells = np.frombuffer(data, dtype=">i2", count=len(data) // 2)
        cells = cells.reshape(_hgt_shape(len(data), self.path))
        return plausible(cells[rows[0] : rows[1], cols[0] : cols[1]].astype(np.float32))


def open_hgt(path: Path) -> HgtFile:
    """A tile's grid from its name and size. Raises MapDataError if either is wrong."""
    name = path.name
    if name.lower().endswith(".zip"):
        name = _member(path).filename.rsplit("/", 1)[-1]
        outer, inner = corner_of(path.name), corner_of(name)
        if outer and inner and outer != inner:
            raise MapDataError(
                message(
                    "the archive is named after one tile and holds another, {name}", name=str(name)
                ),
                str(path),
                message("Rename it, or get the tile again."),
            )
        name = name if inner else path.name
    corner = corner_of(name)
    if corner is None:
        raise MapDataError(
            message("the name does not give the tile's corner"),
            str(path),
            message("Name it after its south-west corner, such as N42E001.hgt."),
        )
    rows, cols = _hgt_shape(_unpacked_size(path), path)
    grid = HeightGrid(
        west=corner[0],
        south=corner[1],
        step_lon=1 / (cols - 1),
        step_lat=1 / (rows - 1),
        rows=rows,
        cols=cols,
    )
    return HgtFile(path=path, grid=grid)


def _hgt_shape(size: int, path: Path) -> tuple[int, int]:
    if size not in _HGT_SHAPES:
        odd = "is too large for a tile" if size > _LARGEST else "is cut short or not a tile"
        raise MapDataError(
            message(
                "the file {odd}: {size} bytes, where a tile of 3 arc seconds has 2884802 and one "
                "of 1 arc second 25934402",
                odd=str(odd),
                size=str(size),
            ),
            str(path),
            message("Get the tile again."),
        )
    return _HGT_SHAPES[size]


def _unpacked_size(path: Path) -> int:
    """What the file says it unpacks to; reading proves it."""
    lower = path.name.lower()
    if lower.endswith(".zip"):
        return _member(path).file_size
    with _readable(path):
        if not lower.endswith(".gz"):
            return path.stat().st_size
        with path.open("rb") as file:
            # RFC 1952: the last four bytes are the size, lowest byte first.
            if file.read(2) != b"\x1f\x8b" or file.seek(0, 2) < 18:
                raise EOFError("it is no gzip file")
            file.seek(-4, 2)
            size = int.from_bytes(file.read(4), "little")
            if size not in _HGT_SHAPES:
                raise EOFError(f"it should unpack to a tile, but says {size} bytes")
            return size


@contextmanager
def _readable(path: Path) -> Iterator[None]:
    try:
        yield
    except (EOFError, zlib.error, gzip.BadGzipFile, zipfile.BadZipFile, RuntimeError) as exc:
        raise MapDataError(
            message("the file is cut short or damaged ({reason})", reason=str(exc)),
            str(path),
            message("Get the tile again."),
        ) from exc
    except OSError as exc:
        raise MapDataError(
            message("the file cannot be read ({reason})", reason=str(exc.strerror or exc)),
            str(path),
            message("Check its rights."),
        ) from exc


def hgt_bytes(path: Path) -> bytes:
    """The tile's bytes, unpacked; never more than one byte beyond the largest tile.

    Raises MapDataError if the file cannot be read or unpacked.
    """
    lower = path.name.lower()
    with _readable(path):
        if lower.endswith(".zip"):
            with zipfile.ZipFile(path) as archive, archive.open(_member(path)) as file:
                return _bounded(file)
        with gzip.open(path) if lower.endswith(".gz") else path.open("rb") as file:
            return _bounded(file)


def _bounded(file: gzip.GzipFile | IO[bytes]) -> bytes:
    return file.read(_LARGEST + 1)


def _member(path: Path) -> zipfile.ZipInfo:
    """The one .hgt in an archive."""
    try:
        with zipfile.ZipFile(path) as archive:
            members = [m for m in archive.infolist() if m.filename.lower().endswith(".hgt")]
    except (zipfile.BadZipFile, OSError) as exc:
        raise MapDataError(
            message("the archive cannot be opened ({reason})", reason=str(exc)),
            str(path),
            message("Get the tile again."),
        ) from exc
    members = [m for m in members if not m.filename.startswith("__MACOSX")]
    if len(members) != 1:
        raise MapDataError(
            message("the archive holds {members} .hgt files, not one", members=str(len(members))),
            str(path),
            message("Unpack it and give the folder."),
        )
    return members[0]
