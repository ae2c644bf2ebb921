"""What the map's tags forbid or warn of, from the map file to the advice."""

from __future__ import annotations

from pathlib import Path

import pytest

import terrain
from terrain.region.build import build_region
from terrain.values.ground import GroundKind
from tests.region.osm_xml import OsmXml, Tags


def _report(tmp_path: Path, tags: Tags, rider: str = "steady") -> terrain.Report:
    """A ride of 8 km along one road whose middle 4 km carry the tags."""
    osm = OsmXml()
    lons = [10.00 + 0.0127 * i / 4 for i in range(33)]
    for ref, lon in enumerate(lons, start=1):
        osm.node(ref, lon, 45.0)
    road = {"highway": "unclassified", "surface": "asphalt"}
    osm.way(10, list(range(1, 10)), road)
    osm.way(11, list(range(9, 26)), tags)
    osm.way(12, list(range(25, 34)), road)
    build_region("one", (osm.write(tmp_path / "map.osm"),), home=tmp_path / "home")
    points = "".join(f'<trkpt lat="45.0" lon="{lon:.6f}"/>' for lon in lons)
    plan = tmp_path / "plan.gpx"
    plan.write_text(
        '<gpx version="1.1" creator="test" xmlns="http://www.topografix.com/GPX/1/1">'
        f"<trk><trkseg>{points}</trkseg></trk></gpx>"
    )
    return terrain.assess(
        terrain.read_route(plan),
        terrain.open_region("one", tmp_path / "home"),
        trip=terrain.Trip(rider=rider),
    )


def _codes(report: terrain.Report) -> set[str]:
    return {said.code for said in report.assessed.advice.law}


@pytest.mark.parametrize(
    ("tags", "told"),
    [
        ({"highway": "path", "surface": "gravel"}, "no-motor-road"),
        ({"highway": "path", "surface": "gravel", "motorcycle": "yes"}, None),
        ({"highway": "path", "surface": "gravel", "motor_vehicle": "designated"}, None),
        ({"highway": "path", "surface": "gravel", "motorcycle": "no"}, "closed"),
        ({"highway": "track", "surface": "gravel", "motorcycle": "no"}, "closed"),
        ({"highway": "track", "surface": "gravel", "abandoned": "yes"}, "disused"),
        ({"highway": "tertiary", "surface": "asphalt", "tidal": "yes"}, "floods"),
        ({"highway": "tertiary", "surface": "asphalt", "tunnel": "yes"}, "tunnel"),
        ({"highway": "tertiary", "surface": "asphalt", "tunnel": "yes", "lit": "yes"}, None),
        ({"highway": "tertiary", "surface": "asphalt", "disused:highway": "tertiary"}, "disused"),
        ({"highway": "tertiary", "surface": "asphalt"}, None),
    ],
)
def test_what_the_law_list_tells(tmp_path: Path, tags: Tags, told: str | None) -> None:
    """Source: OSM wiki, Key:access (most specific key wins) and Lifecycle prefix."""
    found = _codes(_report(tmp_path, tags))
    assert (told in found) if told else not found & {"no-motor-road", "closed", "disused", "tunnel"}


def _smooth(tmp_path: Path, smoothness: str, rider: str) -> terrain.Report:
    tags = {"highway": "unclassified", "surface": "asphalt", "smoothness": smoothness}
    return _report(tmp_path, tags, rider)


@pytest.mark.parametrize("smoothness", ["good", "intermediate", "bad"])
def test_worn_asphalt_is_still_a_road(tmp_path: Path, smoothness: str) -> None:
    """Source: OSM wiki, Key:smoothness: an ordinary car gets through "bad"."""
    report = _smooth(tmp_path, smoothness, "novice")
    assert report.assessed.advice.setup.choice == "road"
    assert report.assessed.advice.rider.verdict == "within"


@pytest.mark.parametrize("smoothness", ["very_bad", "horrible", "very_horrible", "impassable"])
def test_asphalt_that_a_car_cannot_pass_rides_as_a_track(tmp_path: Path, smoothness: str) -> None:
    """Source: OSM wiki, Key:smoothness: from very_bad on a car of high clearance is needed, from
    horrible on a heavy off-road vehicle; that it excludes bikes is common practice, no source."""
    report = _smooth(tmp_path, smoothness, "novice")
    assert report.assessed.advice.setup.choice == "off-road"
    first = report.assessed.ground.shares
    assert first is not None and first[GroundKind.PAVED].best > 0.9  # the surface it has
    assert any("broken paved road" in said.text for said in report.assessed.advice.setup.reasons)
    told = {said.code for said in report.assessed.advice.cautions}
    assert ("impassable" in told) is (smoothness == "impassable")
    if smoothness != "very_bad":
        assert report.assessed.advice.rider.verdict == "beyond"


@pytest.mark.parametrize("surface", ["asphalt", "gravel"])
@pytest.mark.parametrize(
    ("smoothness", "rider", "fit"),
    [
        ("bad", "steady", {"road-tourer", "small-all-rounder", "dual-sport", "light-trail"}),
        ("very_bad", "steady", {"small-all-rounder", "dual-sport", "light-trail"}),
        ("horrible", "steady", {"light-trail"}),
        ("very_horrible", "steady", {"light-trail"}),
        ("horrible", "expert", {"small-all-rounder", "dual-sport", "light-trail", "enduro"}),
    ],
)
def test_bikes_that_what_the_map_tags_lets_through(
    tmp_path: Path, surface: str, smoothness: str, rider: str, fit: set[str]
) -> None:
    """No road bike from very_bad on; from horrible on those between road and off-road for an
    expert only (derived from OSM wiki, Key:smoothness; common practice, no source)."""
    tags = {"highway": "unclassified", "surface": surface, "smoothness": smoothness}
    advice = _report(tmp_path, tags, rider).assessed.advice
    assert {bike.name for bike in advice.bikes} == fit
    told = {said.code for bike in advice.excluded for said in bike.reasons}
    assert ("too-rough-road" in told) is (smoothness != "bad")
    if smoothness != "bad":
        assert advice.setup.choice == "off-road"


def test_closed_parts_stand_in_the_json_in_all_by_tag_and_by_day(tmp_path: Path) -> None:
    tags = {"highway": "track", "surface": "gravel", "access": "forestry"}
    report = _report(tmp_path, tags)
    closed = report.to_dict()["closed"]
    assert closed["length_m"] == pytest.approx(4_000, rel=0.02)
    assert [row["tag"] for row in closed["by_tag"]] == ["access=forestry"]
    assert [part["way_ids"] for part in closed["parts"]] == [[11]]
    assert [(day["day"], day["length_m"]) for day in closed["days"]] == [(1, closed["length_m"])]


@pytest.mark.parametrize("highway", ["motorway", "motorway_link", "trunk"])
def test_motorways_are_asked_for_whatever_the_bike(tmp_path: Path, highway: str) -> None:
    """Several countries bar motorcycles from motorways: common practice, no source."""
    report = _report(tmp_path, {"highway": highway, "surface": "asphalt"})
    told = [said.text for said in report.assessed.advice.law if said.code == "motorway-law"]
    assert bool(told) is highway.startswith("motorway")
    assert all("ask for every bike; local law decides" in text for text in told)
