"""Draws the invented island of the demo, always the same, and writes the files that ship.

What is in terrain/demo/data was made here; `python -m tests.island` makes it again.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from tests.island.island import Island

DATA = Path(__file__).resolve().parents[2] / "terrain" / "demo" / "data"
SAMPLE_ROUTES = Path(__file__).resolve().parents[2] / "sample_routes"


@dataclass(frozen=True, slots=True, kw_only=True)
class IslandFiles:
    """The map, the elevation tiles, the sample routes."""

    osm: Path
    tiles: tuple[Path, ...]
    routes: tuple[Path, ...]


def make_island(folder: Path, island: Island) -> IslandFiles:
    """Write the island's map, packed elevation tiles and sample routes into a folder."""
    from tests.island.osm_file import write_osm
    from tests.island.routes import write_routes
    from tests.island.tiles import write_tiles

    osm = folder / "invented-island.osm.pbf"
    write_osm(osm, island.drawing)
    return IslandFiles(
        osm=osm, tiles=write_tiles(folder, island.land), routes=write_routes(folder, island)
    )
