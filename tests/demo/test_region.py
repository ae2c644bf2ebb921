"""The demo region: built once, built anew when it must be, never over somebody's own region."""

from __future__ import annotations

import time
from pathlib import Path

import numpy as np
import pytest

import terrain.demo.region as demo_region
from terrain.demo.region import DemoRegion, demo_route, ensure_demo_region
from terrain.errors import UsageError
from terrain.inputs.gpx import read_route
from terrain.region.build import build_region
from terrain.region.region import Region
from terrain.stages.matching import lay_route
from terrain.values.match import Match
from terrain.values.views import PLACE_KINDS, PlaceKind, WayFlag
from tests.region.osm_xml import crossing


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
    return lay_route(read_route(path), region.roads)


def test_sample_routes_lie_on_the_region(demo: DemoRegion, region: Region) -> None:
    for path in demo.routes:
        match = _match(region, path)
        covered = match.matched_m + match.ferry_m
        assert covered > 0.97 * (covered + match.unmapped_m), path.name
    strait = next(p for p in demo.routes if p.name == "over-the-strait.gpx")
    assert _match(region, strait).ferry_m > 8_000


def test_a_second_call_builds_nothing(demo: DemoRegion, island_home: Path) -> None:
    start = time.process_time()
    again = ensure_demo_region(island_home)
    assert not again.built
    assert again.folder == demo.folder
    assert again.routes == demo.routes
    assert demo_route(again).is_file()
    assert time.process_time() - start < 2


def test_another_generator_builds_anew(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    built: list[str] = []

    def small_island(files: Path, progress: object) -> object:
        from terrain.demo import IslandFiles

        (files / "routes").mkdir(parents=True, exist_ok=True)
        for plan in demo_region_plans():
            (files / "routes" / plan).write_text("<gpx/>", encoding="ascii")
        built.append("drawn")
        osm = files / "island.osm"
        crossing().write(osm)
        (files / "dem").mkdir(exist_ok=True)
        return IslandFiles(osm=osm, tiles=(), routes=())

    def demo_region_plans() -> list[str]:
        from terrain.demo.routes import PLANS

        return [plan.file for plan in PLANS]

    monkeypatch.setattr(demo_region, "_make_files", small_island)
    monkeypatch.setattr(demo_region, "_OSM_NAME", "island.osm")
    monkeypatch.setattr(demo_region, "_dem_paths", lambda made: ())
    assert ensure_demo_region(tmp_path).built
    assert not ensure_demo_region(tmp_path).built
    monkeypatch.setattr(demo_region, "GENERATOR_VERSION", 999_999)
    assert ensure_demo_region(tmp_path).built
    assert not ensure_demo_region(tmp_path).built
    assert len(built) == 2


def test_somebodys_own_region_is_left_alone(tmp_path: Path) -> None:
    own = crossing().write(tmp_path / "mine.osm")
    build_region(demo_region.DEMO_REGION, (own,), home=tmp_path)
    with pytest.raises(UsageError, match="not the demo's"):
        ensure_demo_region(tmp_path)


@pytest.mark.bench
def test_drawing_and_building_are_quick(tmp_path: Path) -> None:
    start = time.process_time()
    ensure_demo_region(tmp_path)
    assert time.process_time() - start < 25
