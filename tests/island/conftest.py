"""The island as drawn, and the shipped files and their region as these tests share them."""

from __future__ import annotations

import gzip
import pickle
from dataclasses import dataclass
from pathlib import Path

import osmium
import pytest
from filelock import FileLock
from pyproj import Geod

from terrain.demo.region import DemoRegion, ensure_demo_region
from terrain.region.region import Region, open_folder
from tests.conftest import of_all_workers
from tests.island import DATA, IslandFiles
from tests.island.island import Island, draw_island

_GEOD = Geod(ellps="WGS84")


@dataclass(frozen=True)
class MapWay:
    """A way as it stands in the written file."""

    way_id: int
    nodes: tuple[int, ...]
    tags: dict[str, str]
    length_m: float
    steps_m: tuple[float, ...]
    year: int
    version: int

    @property
    def highway(self) -> str:
        return self.tags.get("highway", "")


@pytest.fixture(scope="session")
def island(tmp_path_factory: pytest.TempPathFactory) -> Island:
    """The invented island as it is drawn, before anything is written; once for all workers."""
    kept = of_all_workers(tmp_path_factory) / "island.pickle"
    with FileLock(kept.with_suffix(".lock")):
        if not kept.exists():
            kept.write_bytes(pickle.dumps(draw_island()))
    drawn: Island = pickle.loads(kept.read_bytes())
    return drawn


@pytest.fixture(scope="session")
def files(tmp_path_factory: pytest.TempPathFactory) -> IslandFiles:
    """The shipped files, the tiles unpacked."""
    folder, tiles = tmp_path_factory.mktemp("dem"), []
    for packed in sorted(DATA.glob("*.hgt.gz")):
        tiles.append(folder / packed.stem)
        tiles[-1].write_bytes(gzip.decompress(packed.read_bytes()))
    (osm,) = DATA.glob("*.osm.pbf")
    return IslandFiles(osm=osm, tiles=tuple(tiles), routes=tuple(sorted(DATA.glob("*.gpx"))))


@pytest.fixture(scope="session")
def map_ways(files: IslandFiles) -> list[MapWay]:
    """All ways of the file, read with osmium, measured on the ellipsoid with pyproj."""
    ways = []
    for way in osmium.FileProcessor(
        str(files.osm), osmium.osm.WAY | osmium.osm.NODE
    ).with_locations():
        if not way.is_way():
            continue
        lon, lat = [n.lon for n in way.nodes], [n.lat for n in way.nodes]
        steps = _GEOD.line_lengths(lon, lat)
        ways.append(
            MapWay(
                way_id=way.id,
                nodes=tuple(n.ref for n in way.nodes),
                tags={t.k: t.v for t in way.tags},
                length_m=float(sum(steps)),
                steps_m=tuple(float(s) for s in steps),
                year=way.timestamp.year,
                version=way.version,
            )
        )
    return ways


@pytest.fixture(scope="session")
def roads(map_ways: list[MapWay]) -> list[MapWay]:
    """The ways a motor vehicle may use by their highway value."""
    return [w for w in map_ways if w.highway and w.highway != "path"]


@pytest.fixture(scope="session")
def demo(island_home: Path) -> DemoRegion:
    return ensure_demo_region(island_home)


@pytest.fixture(scope="session")
def region(demo: DemoRegion) -> Region:
    return open_folder(demo.folder)
