"""An invented island to try terrain on, made anew by a fixed generator whenever it is needed.

Scenario: two rental yards, one at the harbour and one in the hills, send riders round the island
of Ulenambe in a warm monsoon sea. A sealed ring road joins the coast towns; inland, roads climb
through valleys and over passes, and turn to gravel, forest track and fords. A ferry serves a
small second island. Map, heights and names are invented; the shape of the data is real: tags
are missing, old or at odds with each other as they are on any map.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Final

if TYPE_CHECKING:
    from terrain.demo.island import Island

# Raised whenever the island comes out differently, so that old demo regions are made anew.
GENERATOR_VERSION: Final = 2

__all__ = ["GENERATOR_VERSION", "IslandFiles", "make_island"]


@dataclass(frozen=True, slots=True, kw_only=True)
class IslandFiles:
    """What make_island wrote: the map, the elevation tiles, the sample routes."""

    osm: Path
    tiles: tuple[Path, ...]
    routes: tuple[Path, ...]


def make_island(folder: Path, island: Island | None = None) -> IslandFiles:
    """Write the island's map, elevation tiles and sample routes into a folder.

    island : as drawn by draw_island; drawn here if None
    """
    # Drawing needs scipy and shapely; help texts and the version do not.
    from terrain.demo.island import draw_island
    from terrain.demo.osm_file import write_osm
    from terrain.demo.routes import write_routes
    from terrain.demo.tiles import write_tiles

    drawn = draw_island() if island is None else island
    for part in ("dem", "routes"):
        (folder / part).mkdir(parents=True, exist_ok=True)
    osm = folder / "invented-island.osm.pbf"
    write_osm(osm, drawn.drawing)
    return IslandFiles(
        osm=osm,
        tiles=write_tiles(folder / "dem", drawn.land),
        routes=write_routes(folder / "routes", drawn),
    )
