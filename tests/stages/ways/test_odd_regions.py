"""The whole path over regions unlike any measured: nothing tagged, five ways tagged, all of one
ground, all roads for foresters alone, a desert of graded tracks."""

from __future__ import annotations

import itertools
from collections.abc import Callable
from pathlib import Path
from typing import NamedTuple

import pytest

import terrain
from terrain.region.build import build_region
from terrain.values.advice import SetupChoice
from terrain.values.ground import LAND_GROUNDS, Basis, GroundKind
from terrain.values.verdict import Sureness
from tests.region.osm_xml import OsmXml, Tags

_SIDE, _STEP_DEG, _LON, _LAT = 7, 0.0225, 20.0, 45.0  # a grid of 2.5 km, 15 km wide
#: Junctions (row, column) that each ride goes by: over untagged tracks, over roads, over both.
_RIDES = {
    "tracks": [(row, 1) for row in range(7)],
    "roads": [(0, column) for column in range(7)],
    "both": [*((0, c) for c in range(4)), *((r, 3) for r in range(1, 7)), (6, 4), (6, 5), (6, 6)],
}
_SURE = {Sureness.NEARLY_CERTAIN, Sureness.VERY_LIKELY}


class _Way(NamedTuple):
    along_row: bool
    row: int
    column: int
    highway: str


_FIVE = {(True, 3, 0), (True, 0, 5), (False, 0, 0), (True, 1, 0), (False, 5, 5)}
_RIDDEN = (1, 3)  # columns of tracks


def _untagged(way: _Way) -> Tags:
    return {"highway": way.highway}


def _five(way: _Way) -> Tags:
    surface = {"surface": "gravel" if way.highway == "track" else "asphalt"}
    return {"highway": way.highway, **(surface if way[:3] in _FIVE else {})}


def _gravel_tracks(way: _Way) -> Tags:
    ridden = not way.along_row and way.column in _RIDDEN
    tagged = way.highway == "track" and not ridden
    return {"highway": way.highway, **({"surface": "gravel"} if tagged else {})}


def _forestry(way: _Way) -> Tags:
    return {"highway": way.highway, "access": "forestry"}


def _desert(way: _Way) -> Tags:
    return {"highway": "track", "tracktype": "grade4"}


_REGIONS: dict[str, Callable[[_Way], Tags]] = {
    "nothing tagged": _untagged, "five ways tagged": _five, "tracks all gravel": _gravel_tracks,
    "forestry": _forestry, "desert": _desert,
}  # fmt: skip


def _place(row: float, column: float) -> tuple[float, float]:
    return _LON + column * _STEP_DEG * 1.41, _LAT + row * _STEP_DEG


def _draw(path: Path, tags_of: Callable[[_Way], Tags]) -> Path:
    osm, every = OsmXml(), list(itertools.product(range(_SIDE), repeat=2))
    ref = {at: number for number, at in enumerate(every, start=1)}
    for at in every:
        osm.node(ref[at], *_place(*at))
    number = itertools.count(1)
    for row, column in every:
        if column + 1 < _SIDE:
            highway = "tertiary" if row == 3 else "track" if row % 3 else "unclassified"
            tags = tags_of(_Way(along_row=True, row=row, column=column, highway=highway))
            osm.way(next(number), [ref[row, column], ref[row, column + 1]], tags)
        if row + 1 < _SIDE:
            highway = "track" if column % 2 else "unclassified"
            tags = tags_of(_Way(along_row=False, row=row, column=column, highway=highway))
            osm.way(next(number), [ref[row, column], ref[row + 1, column]], tags)
    return osm.write(path)


def _plan(path: Path, ride: str) -> Path:
    points = []
    for (r, c), (to_r, to_c) in itertools.pairwise(_RIDES[ride]):
        steps = [k / 20 for k in range(20)]
        points += [_place(r + (to_r - r) * k, c + (to_c - c) * k) for k in steps]
    line = "".join(f'<trkpt lat="{lat:.6f}" lon="{lon:.6f}"/>' for lon, lat in points)
    path.write_text(
        '<gpx version="1.1" creator="test" xmlns="http://www.topografix.com/GPX/1/1">'
        f"<trk><trkseg>{line}</trkseg></trk></gpx>"
    )
    return path


@pytest.fixture(scope="module")
def reports(tmp_path_factory: pytest.TempPathFactory) -> dict[tuple[str, str], terrain.Report]:
    """Each ride in each region."""
    home, made = tmp_path_factory.mktemp("odd"), {}
    for number, (name, tags_of) in enumerate(_REGIONS.items()):
        build_region(f"odd{number}", (_draw(home / "map.osm", tags_of),), home=home / "home")
        region = terrain.open_region(f"odd{number}", home / "home")
        for ride in _RIDES:
            route = terrain.read_route(_plan(home / "plan.gpx", ride))
            made[name, ride] = terrain.assess(route, region, trip=terrain.Trip())
    return made


@pytest.mark.parametrize("ride", _RIDES)
@pytest.mark.parametrize("region", _REGIONS)
def test_shares_and_setup_of_an_odd_region(
    reports: dict[tuple[str, str], terrain.Report], region: str, ride: str
) -> None:
    report = reports[region, ride]
    shares = report.assessed.ground.shares
    assert shares is not None
    assert all(0 <= s.low <= s.best <= s.high <= 1 for s in shares.values())
    assert sum(shares[kind].best for kind in LAND_GROUNDS) == pytest.approx(1)
    setup = report.assessed.advice.setup
    if setup.choice is not SetupChoice.ASK:
        assert setup.p_off_road is not None
        assert (setup.p_off_road > 0.75) == (setup.choice is SetupChoice.OFF_ROAD)


@pytest.mark.parametrize("ride", _RIDES)
@pytest.mark.parametrize("region", ["nothing tagged", "five ways tagged", "forestry"])
def test_where_hardly_a_way_is_tagged_none_is_nearly_certain_and_the_report_says_thin(
    reports: dict[tuple[str, str], terrain.Report], region: str, ride: str
) -> None:
    report = reports[region, ride]
    answer, sureness = report.verdict.answer, report.verdict.certainty.sureness
    assert sureness is not Sureness.NEARLY_CERTAIN
    assert answer is not SetupChoice.ROAD or sureness not in _SURE
    assert any("that is thin" in words for words in report.assessed.ground.words)
    shares = report.assessed.ground.shares
    assert shares is not None
    assert max(s.high - s.low for s in shares.values()) > 0.3


def test_no_road_setup_over_tracks_or_minor_roads_that_nothing_speaks_for(
    reports: dict[tuple[str, str], terrain.Report],
) -> None:
    """The worst wrong answer: road tyres for ways that may be anything."""
    for name, ride in itertools.product(("nothing tagged", "forestry", "desert"), _RIDES):
        assert reports[name, ride].assessed.advice.setup.choice is not SetupChoice.ROAD, name


def test_a_region_says_what_its_tracks_are(
    reports: dict[tuple[str, str], terrain.Report],
) -> None:
    """Untagged tracks among many that are all gravel are gravel, not thin, and surely off-road;
    the minor roads, of which none is tagged, stay thin."""
    report = reports["tracks all gravel", "tracks"]
    shares, words = report.assessed.ground.shares, report.assessed.ground.words
    assert shares is not None and shares[GroundKind.GRAVEL].best > 0.8
    assert not any("that is thin" in said for said in words)
    assert report.verdict.certainty.sureness in _SURE
    roads = reports["tracks all gravel", "roads"].assessed.ground.words
    assert any("that is thin" in said for said in roads)


def test_a_desert_of_graded_tracks_is_off_road(
    reports: dict[tuple[str, str], terrain.Report],
) -> None:
    """No surface tag in the whole region: the grades speak, and are named as what speaks."""
    for ride in _RIDES:
        report = reports["desert", ride]
        assert report.assessed.advice.setup.choice is SetupChoice.OFF_ROAD
        assert report.assessed.ground.basis_shares[Basis.GRADED] == pytest.approx(1)
        shares = report.assessed.ground.shares
        assert shares is not None and shares[GroundKind.PAVED].high < 0.3


def test_roads_for_foresters_alone_are_told_as_closed_before_all_else(
    reports: dict[tuple[str, str], terrain.Report],
) -> None:
    for ride in _RIDES:
        assert reports["forestry", ride].verdict.headline.split()[:2] == ["Do", "not"]
