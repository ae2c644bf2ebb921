"""The demo region: built once, built anew when it must be, never over somebody's own region."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import osmium
import pytest

from terrain.demo.region import DEMO_REGION, DemoRegion, demo_route, ensure_demo_region
from terrain.errors import UsageError
from terrain.inputs.lines import read_route
from terrain.region.build import build_region
from terrain.region.region import Region, open_folder
from terrain.stages.matching import match_route
from terrain.values.match import Match
from terrain.values.views import PLACE_KINDS, PlaceKind, WayFlag
from tests.region.osm_xml import crossing


@pytest.fixture(scope="module")
def demo(island_home: Path) -> DemoRegion:
    return ensure_demo_region(island_home)


@pytest.fixture(scope="module")
def region(demo: DemoRegion) -> Region:
    return open_folder(demo.folder)


def test_the_region_holds_the_island(region: Region) -> None:
    west, south, east, north = region.info.bbox
    assert west < 88 < east
    assert south < 14 < north
    assert region.roads.edge_length_m.sum() > 1_500_000
    assert region.heights is not None
    assert region.info.map_date is not None
    assert region.info.map_date.year == 2026
    assert any("invented" in note for note in region.info.notes)
    assert all("contributors" not in line for line in region.info.attribution)


def test_flags_and_helpers_arrive(region: Region) -> None:
    flags = np.bitwise_or.reduce(region.roads.ways.flags)
    for flag in (
        WayFlag.BRIDGE, WayFlag.TUNNEL, WayFlag.FORD, WayFlag.FERRY, WayFlag.TOLL, WayFlag.PATH,
        WayFlag.FOUR_WD_ONLY, WayFlag.ROUNDABOUT, WayFlag.NO_MOTORCYCLE, WayFlag.PRIVATE,
        WayFlag.SEASONAL, WayFlag.CONDITIONAL, WayFlag.BARRIER, WayFlag.DESTINATION, WayFlag.LIT,
    ):  # fmt: skip
        assert flags & flag, flag.name
    count = np.bincount(region.places.kind, minlength=len(PLACE_KINDS))
    for kind, least in (
        (PlaceKind.MECHANIC, 15), (PlaceKind.CAR_REPAIR, 15), (PlaceKind.FUEL, 30),
        (PlaceKind.WATER, 30), (PlaceKind.HOSPITAL, 3), (PlaceKind.CLINIC, 8),
        (PlaceKind.PHARMACY, 10), (PlaceKind.POLICE, 8), (PlaceKind.LODGING, 30),
        (PlaceKind.FOOD, 40), (PlaceKind.PASS, 10), (PlaceKind.FORD, 60), (PlaceKind.TOWN, 4),
        (PlaceKind.VILLAGE, 25), (PlaceKind.HAMLET, 60),
    ):  # fmt: skip
        assert count[PLACE_KINDS.index(kind)] >= least, kind


def _match(region: Region, path: Path) -> Match:
    return match_route(read_route(path), region.roads)


def test_sample_routes_lie_on_the_region(demo: DemoRegion, region: Region) -> None:
    for path in demo.routes:
        match = _match(region, path)
        covered = match.matched_m + match.ferry_m
        assert covered > 0.97 * (covered + match.unmapped_m), path.name
    strait = next(p for p in demo.routes if p.name == "over-the-strait.gpx")
    assert _match(region, strait).ferry_m > 8_000


def test_a_second_call_builds_nothing(demo: DemoRegion, island_home: Path) -> None:
    again = ensure_demo_region(island_home)
    assert not again.built
    assert again.folder == demo.folder
    assert again.routes == demo.routes
    assert demo_route(again).is_file()


@pytest.fixture()
def small(tmp_path: Path) -> Path:
    """Files of a far smaller demo."""
    data = tmp_path / "data"
    data.mkdir()
    made = osmium.FileProcessor(str(crossing().write(tmp_path / "map.osm")))
    with osmium.SimpleWriter(str(data / "invented-island.osm.pbf")) as writer:
        for item in made:
            writer.add(item)
    (data / "one.gpx").write_text("<gpx/>", encoding="ascii")
    return data


def test_other_files_build_anew(small: Path, tmp_path: Path) -> None:
    assert ensure_demo_region(tmp_path, data=small).built
    assert not ensure_demo_region(tmp_path, data=small).built
    (small / "one.gpx").write_text("<gpx></gpx>", encoding="ascii")
    again = ensure_demo_region(tmp_path, data=small)
    assert again.built
    assert [path.read_text(encoding="ascii") for path in again.routes] == ["<gpx></gpx>"]
    assert not ensure_demo_region(tmp_path, data=small).built


@pytest.mark.parametrize("what", ["route", "pack", "stamp", "garbled stamp"])
def test_a_demo_with_a_part_missing_is_mended(what: str, small: Path, tmp_path: Path) -> None:
    demo = ensure_demo_region(tmp_path, data=small)
    stamp = tmp_path / "demo" / "checksum.txt"
    if what == "route":
        demo.routes[0].unlink()
    elif what == "pack":
        next(demo.folder.glob("pack-*/manifest.json")).unlink()
    elif what == "stamp":
        stamp.unlink()
    else:
        stamp.write_bytes(b"\xff\xfe")
    assert ensure_demo_region(tmp_path, data=small).built
    assert not ensure_demo_region(tmp_path, data=small).built
    assert demo.routes[0].is_file()


def test_a_demo_of_an_older_format_is_built_anew(small: Path, tmp_path: Path) -> None:
    demo = ensure_demo_region(tmp_path, data=small)
    manifest = next(demo.folder.glob("pack-*/manifest.json"))
    tree = json.loads(manifest.read_text(encoding="utf-8"))
    manifest.write_text(json.dumps(tree | {"format": 1}), encoding="utf-8")
    (tmp_path / "demo" / "checksum.txt").unlink()
    assert ensure_demo_region(tmp_path, data=small).built
    assert len(open_folder(demo.folder).roads.ways) == 3


def test_somebodys_own_region_is_left_alone(tmp_path: Path) -> None:
    own = crossing().write(tmp_path / "mine.osm")
    build_region(DEMO_REGION, (own,), home=tmp_path)
    with pytest.raises(UsageError, match="not the demo's"):
        ensure_demo_region(tmp_path)
