"""The demo region: built once from the shipped island, and again when the island changes."""

from __future__ import annotations

import hashlib
import shutil
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from terrain.errors import RegionError, UsageError
from terrain.region.build import build_region, no_progress
from terrain.region.disk import file_errors
from terrain.region.home import regions_folder
from terrain.region.pack import CURRENT
from terrain.region.region import open_folder
from terrain.text.catalogue import N_
from terrain.text.message import message

DEMO_REGION: Final = "island"
_DATA: Final = Path(__file__).parent / "data"
_DEMO_ROUTE: Final = "valleys-and-passes.gpx"
_OSM_NAME: Final = "invented-island.osm.pbf"
_NOTE: Final = message(
    "The island, its heights and its names are invented: plan no real ride by it."
)
_CREDIT: Final = N_(
    "Invented map and heights in the form of OpenStreetMap and SRTM data; nothing of their "
    "makers is in them (real extracts: Open Database License 1.0)"
)

Progress = Callable[[str, float | None], None]


@dataclass(frozen=True, slots=True, kw_only=True)
class DemoRegion:
    """Where the demo lives.

    folder : of the region; routes : its sample routes; built : True if it was built just now
    """

    folder: Path
    routes: tuple[Path, ...]
    built: bool


def ensure_demo_region(
    home: Path, progress: Progress = no_progress, *, data: Path = _DATA
) -> DemoRegion:
    """The demo region under `home`, built if it is not there or was made from other files.

    data : folder with the map, the elevation tiles and the routes; those of the package by
        default
    Raises UsageError if a region of that name is there that is not the demo, TerrainError if
    the disk refuses.
    """
    folder = regions_folder(home) / DEMO_REGION
    files = home / "demo"
    routes = tuple(files / "routes" / path.name for path in sorted(data.glob("*.gpx")))
    there = (folder / CURRENT).exists()
    if there and _is_current(folder, files, routes, data):
        return DemoRegion(folder=folder, routes=routes, built=False)
    if there and not _is_demo(folder, files):
        raise UsageError(
            message(
                "there is a region {demo_region} that is not the demo's",
                demo_region=repr(DEMO_REGION),
            ),
            str(folder),
            message("Rename or remove it, or set TERRAIN_HOME to another folder for the demo."),
        )
    build_region(
        DEMO_REGION, (data / _OSM_NAME,), tuple(sorted(data.glob("*.hgt.gz"))), replace=True,
        home=home, progress=progress, notes=(_NOTE,), credit_lines=(_CREDIT,),
    )  # fmt: skip
    with file_errors(files):
        (files / "routes").mkdir(parents=True, exist_ok=True)
        for route in routes:
            shutil.copyfile(data / route.name, route)
        _stamp(files).write_text(_checksum(data), encoding="ascii")
    return DemoRegion(folder=folder, routes=routes, built=True)


def demo_route(region: DemoRegion) -> Path:
    """The sample route that the demo reports on."""
    return next(path for path in region.routes if path.name == _DEMO_ROUTE)


def _stamp(files: Path) -> Path:
    return files / "checksum.txt"


def _checksum(data: Path) -> str:
    """SHA-256 over the names and contents of the shipped files."""
    digest = hashlib.sha256()
    for path in sorted(data.iterdir()):
        digest.update(path.name.encode() + hashlib.sha256(path.read_bytes()).digest())
    return digest.hexdigest()


def _is_current(folder: Path, files: Path, routes: tuple[Path, ...], data: Path) -> bool:
    """True if the region is whole and was built from these files, and no route is missing."""
    stamp = _stamp(files)
    if not stamp.is_file() or stamp.read_text("ascii", "replace") != _checksum(data):
        return False
    try:
        region = open_folder(folder)
    except RegionError:
        return False
    return not region.lacks and all(route.is_file() for route in routes)


def _is_demo(folder: Path, files: Path) -> bool:
    """True if the region there is the demo's, of whatever age; a broken one is if we made one."""
    try:
        return _OSM_NAME in open_folder(folder).info.sources
    except RegionError:
        return files.is_dir()
