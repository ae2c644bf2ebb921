"""The demo region: built once from the invented island, and again when the island changes."""

from __future__ import annotations

import shutil
import tempfile
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from terrain.demo import GENERATOR_VERSION, IslandFiles, make_island
from terrain.errors import RegionError, TerrainError, UsageError
from terrain.region.build import build_region, no_progress
from terrain.region.home import regions_folder
from terrain.region.pack import CURRENT
from terrain.region.region import open_folder
from terrain.values.figures import N_
from terrain.values.sentences import sentence

DEMO_REGION: Final = "island"
_OSM_NAME: Final = "invented-island.osm.pbf"
_NOTE: Final = sentence(
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


def ensure_demo_region(home: Path, progress: Progress = no_progress) -> DemoRegion:
    """The demo region under `home`, built if it is not there or is of another generator.

    Raises UsageError if a region of that name is there that is not the demo, TerrainError if
    the disk refuses.
    """
    folder = regions_folder(home) / DEMO_REGION
    files = home / "demo"
    there = (folder / CURRENT).exists()
    if there and _current(folder, files):
        return DemoRegion(folder=folder, routes=_routes(files), built=False)
    if there and not _is_demo(folder, files):
        raise UsageError(
            f"there is a region {DEMO_REGION!r} that is not the demo's",
            str(folder),
            "Rename or remove it, or set TERRAIN_HOME to another folder for the demo.",
        )
    made = _make_files(files, progress)
    build_region(
        DEMO_REGION, (made.osm,), _dem_paths(made), replace=True, home=home, progress=progress,
        notes=(_NOTE,), credit_lines=(_CREDIT,),
    )  # fmt: skip
    _stamp(files).write_text(str(GENERATOR_VERSION), encoding="ascii")
    return DemoRegion(folder=folder, routes=_routes(files), built=True)


def demo_route(region: DemoRegion) -> Path:
    """The sample route that the demo reports on."""
    from terrain.demo.routes import DEMO_ROUTE

    return next(path for path in region.routes if path.name == DEMO_ROUTE)


def _dem_paths(made: IslandFiles) -> tuple[Path, ...]:
    return made.tiles


def _stamp(files: Path) -> Path:
    return files / "generator.txt"


def _routes(files: Path) -> tuple[Path, ...]:
    return tuple(sorted((files / "routes").glob("*.gpx")))


def _current(folder: Path, files: Path) -> bool:
    """True if the region is whole and was made by this generator."""
    stamp = _stamp(files)
    if not stamp.is_file() or stamp.read_text(encoding="ascii").strip() != str(GENERATOR_VERSION):
        return False
    try:
        open_folder(folder)
    except RegionError:
        return False
    from terrain.demo.routes import PLANS

    return len(_routes(files)) == len(PLANS)


def _is_demo(folder: Path, files: Path) -> bool:
    """True if the region there is the demo's, of whatever age; a broken one is if we made one."""
    try:
        return _OSM_NAME in open_folder(folder).info.sources
    except RegionError:
        return _stamp(files).is_file()


def _make_files(files: Path, progress: Progress) -> IslandFiles:
    """Draw the island aside, then put its files in place of the old ones."""
    progress("Drawing the invented island", None)
    try:
        files.mkdir(parents=True, exist_ok=True)
        aside = Path(tempfile.mkdtemp(prefix=".new-", dir=files))
        try:
            make_island(aside)
            _stamp(files).unlink(missing_ok=True)
            for part in sorted(aside.iterdir()):
                target = files / part.name
                if target.is_dir():
                    shutil.rmtree(target)
                part.replace(target)
        finally:
            shutil.rmtree(aside, ignore_errors=True)
    except OSError as exc:
        raise TerrainError(
            f"the demo's files cannot be written ({exc.strerror or exc})",
            str(files),
            "Make room or permission there, or set TERRAIN_HOME to another folder.",
        ) from exc
    return IslandFiles(
        osm=files / _OSM_NAME,
        tiles=tuple(sorted((files / "dem").glob("*.hgt"))),
        routes=_routes(files),
    )
