"""The GPX for the unit: valid by the published schema, whole, and harmless."""

from __future__ import annotations

from dataclasses import replace
from xml.etree import ElementTree

import gpxpy
import numpy as np
import pytest

from terrain.inputs.lines import parse_route
from terrain.report.data.gpx import MOST_ROUTE_POINTS, render_gpx
from terrain.stages.days import choose_days
from terrain.stages.detours import find_detours
from terrain.stages.exits import find_exits
from terrain.stages.help import judge_help
from terrain.stages.plan.make import plan_stops
from terrain.stages.verdict import judge_verdict
from terrain.tables.fleet import DEFAULT_FLEET
from terrain.values.closed import ClosedPart, Closure
from terrain.values.help import Helper
from terrain.values.match import Match
from terrain.values.plan import PinnedNight, Pins
from terrain.values.report import Report
from terrain.values.trip import Trip
from tests.assessed import assessed, report_of
from tests.reference.gpx_schema import gpx_schema
from tests.stages.tinymap import EAST_M, GRAVEL, PAVED, TRACK, TinyMap

NS = {"g": "http://www.topografix.com/GPX/1/1"}


def _map() -> TinyMap:
    """100 km east: tarmac, 20 km of track with a side way out, tarmac; a way round it."""
    tiny = TinyMap(nodes={
        "N0": (0, 0), "N1": (40_000, 0), "S": (50_000, 0), "N2": (60_000, 0), "N3": (100_000, 0),
        "P": (50_000, 3_000), "Q": (56_000, 3_000), "U": (40_000, -9_000), "V": (60_000, -9_000),
    })  # fmt: skip
    tiny.way(("N0", "N1"), PAVED, ref="R 1").way(("N1", "S", "N2"), TRACK, name="Old Salt Way")
    tiny.way(("N2", "N3"), PAVED, ref="R 1").way(("S", "P"), GRAVEL).way(("P", "Q"), PAVED)
    tiny.way(("N1", "U", "V", "N2"), PAVED, name="South Road")
    tiny.spot((0, 0), amenity="hospital", name="West & <Ward>", phone="+999 1")
    tiny.spot((62_000, 0), tourism="hotel", name="Inn \u202e evil")
    return tiny


@pytest.fixture(scope="module")
def report(tmp_path_factory) -> Report:
    region = _map().read(tmp_path_factory.mktemp("map"))
    ride = region.ride("N0", "N1", "S", "N2", "N3")
    fields, roads, places = region.fields(), region.roads, region.places
    exits = find_exits(ride, roads, fields)
    fleet = replace(DEFAULT_FLEET, rules=replace(DEFAULT_FLEET.rules, remote_m=30_000.0))
    partner = Helper(name="Our Friend\x1b[31m", lon=80_000 / EAST_M, lat=0.0, phone="+999 7")
    help_ = judge_help(ride, roads, places, fields, fleet=fleet, helpers=(partner,), exits=exits)
    detours = find_detours(ride, roads, fields, way_p=region.way_p, remote=help_.remote)
    pins = Pins(nights=(PinnedNight(day=1, at_m=62_000.0),))
    trip = Trip(guided=True)
    days = choose_days(ride, roads, places, fields, rules=fleet.rules, trip=trip,
                       helpers=(partner,), pins=pins)  # fmt: skip
    plan = plan_stops(
        ride, days, places, fields, bikes=fleet.classes[:1], rules=fleet.rules, trip=trip,
        exits=exits, helpers=(partner,), detours=detours,
        pins=pins,
    )  # fmt: skip
    return _report(ride.match, help=help_, plan=plan)


def _report(match: Match, *, name="Harbour & <north>", **known) -> Report:
    return report_of(assessed(match, name, **known))


def _bare(lon, lat, at_m=None, breaks_m=()) -> Match:
    """A match off the map: only its line matters here."""
    lon, lat = np.asarray(lon, float), np.asarray(lat, float)
    at_m = np.arange(len(lon)) * 1000.0 if at_m is None else np.asarray(at_m, float)
    one = np.array([-1], np.int32)
    return Match(
        kind=np.array([1], np.int8), filled=np.zeros(1, bool), edge=one, way=one,
        way_id=np.array([-1]), forward=np.ones(1, bool), edge_from_m=np.array([np.nan]),
        edge_to_m=np.array([np.nan]), from_m=at_m[:1], to_m=at_m[-1:],
        offset_m=np.array([np.nan]), lon=lon, lat=lat, at_m=at_m, point_at_m=np.zeros(0),
        breaks_m=tuple(breaks_m),
    )  # fmt: skip


def _tree(report: Report) -> ElementTree.Element:
    data = render_gpx(report)
    gpx_schema("1.1").validate(data.decode("utf-8"))
    return ElementTree.fromstring(data)


def _texts(tree: ElementTree.Element, path: str) -> list[str]:
    return [element.text or "" for element in tree.findall(path, NS)]


def test_everything_a_guide_rides_by_is_in_it(report) -> None:
    tree = _tree(report)
    assert _texts(tree, "g:rte/g:name") == ["Harbour & <north>"]
    tracks = _texts(tree, "g:trk/g:name")
    assert tracks[:2] == ["Day 1: Harbour & <north>", "Day 2: Harbour & <north>"]
    assert any(name.startswith("Way out from km 50") for name in tracks)
    assert any(name.startswith("Road tyres: ") and "40" in name and "60" in name for name in tracks)
    names = _texts(tree, "g:wpt/g:name")
    starts = (
        "overnight: Inn", "van", "Decide: km", "Hardest to leave: km", "Van before: km 40",
        "Van after: km 60", "Remote from here: km", "Remote until here: km", "Our Friend",
        "West & <Ward>",
    )  # fmt: skip
    for start in starts:
        assert any(name.startswith(start) for name in names), (start, names)
    symbols = set(_texts(tree, "g:wpt/g:sym"))
    assert {"Lodging", "Parking Area", "Car Repair", "Danger Area", "Flag, Red"} <= symbols
    assert {"stop", "exit", "decision", "van", "remote", "helper"} == set(
        _texts(tree, "g:wpt/g:type")
    )


def test_where_what_forbids_begins_is_a_waypoint_and_the_file_begins_with_it(report) -> None:
    """Pieces 500 m apart and less are one: a unit would warn and warn again."""
    whole = report.assessed
    spans = ((1000.0, 4000.0), (4400.0, 5000.0), (40_000.0, 60_000.0))
    shut = tuple(
        ClosedPart(from_m=a, to_m=b, closure=Closure.NO_MOTORCYCLE, tag="access=no", way_ids=(1,))
        for a, b in spans
    )
    places = replace(whole.places, closed=shut)
    report = replace(report, assessed=replace(whole, places=places))
    report = replace(report, verdict=judge_verdict(report.assessed))
    tree = _tree(report)
    (text,) = _texts(tree, "g:metadata/g:desc")
    assert text.startswith("Do not ride this as drawn: 24 km of its 100 km are closed")
    points = tree.findall("g:wpt[g:type='forbidden']", NS)
    assert [p.findtext("g:name", namespaces=NS) for p in points] == [
        "Closed from here: km 1", "Closed from here: km 40",
    ]  # fmt: skip
    first = points[0].findtext("g:desc", namespaces=NS) or ""
    assert first.startswith("km 1 to 5: 24 km of 100 km are closed to motorcycles")
    assert "access=no" in first and "permission" in first
    where = [float(p.get("lon", "nan")) * EAST_M for p in points]
    assert where == pytest.approx([1000.0, 40_000.0], abs=5.0)


def test_helper_carries_phone_and_basis(report) -> None:
    tree = _tree(report)
    texts = dict(zip(_texts(tree, "g:wpt/g:name"), _texts(tree, "g:wpt/g:desc"), strict=True))
    assert texts["Our Friend [31m"] == "mechanic (the operator's own); phone +999 7"


def test_day_tracks_are_the_whole_ride_end_to_end(report) -> None:
    gpx = gpxpy.parse(render_gpx(report).decode("utf-8"))
    first, second = (track for track in gpx.tracks if track.type == "day")
    assert first.length_2d() + second.length_2d() == pytest.approx(100_000, rel=0.002)
    end, begin = first.segments[-1].points[-1], second.segments[0].points[0]
    assert (end.longitude, end.latitude) == (begin.longitude, begin.latitude)
    assert end.longitude == pytest.approx(62_000 / EAST_M, abs=1e-5)


def test_hostile_names_stay_text(report) -> None:
    text = render_gpx(report).decode("utf-8")
    assert "\x1b" not in text
    assert "\u202e" not in text
    assert "West &amp; &lt;Ward&gt;" in text


def test_the_line_is_credited_to_the_region(report) -> None:
    assert '<copyright author="OpenStreetMap contributors">' in render_gpx(report).decode()
    made_up = replace(
        report.assessed.region, attribution=("Invented map & heights",), notes=("All made up.",)
    )
    text = render_gpx(replace(report, assessed=replace(report.assessed, region=made_up))).decode()
    assert "OpenStreetMap" not in text and "<license>" not in text
    assert 'author="Invented map &amp; heights"' in text
    assert "All made up." in text


def test_own_reader_takes_it_back(report) -> None:
    route = parse_route(render_gpx(report), "out.gpx")
    assert route.n_points >= 3


def test_same_report_gives_the_same_bytes(report) -> None:
    assert render_gpx(report) == render_gpx(report)


def test_without_plan_and_help_one_track_holds_the_ride() -> None:
    tree = _tree(_report(_bare([0, 0.01, 0.02], [0, 0, 0.01])))
    assert _texts(tree, "g:trk/g:type") == ["ride"]
    assert tree.findall("g:wpt", NS) == []
    assert len(tree.findall("g:trk/g:trkseg/g:trkpt", NS)) == 3


def test_line_breaks_become_segments() -> None:
    """Two pieces 10 km apart: the gap is not drawn."""
    match = _bare([0, 0.01, 0.1, 0.11], [0, 0, 0, 0], at_m=[0, 1113, 1113, 2226], breaks_m=[1113])
    segments = _tree(_report(match)).findall("g:trk/g:trkseg", NS)
    lons = [[float(p.get("lon", "")) for p in s.findall("g:trkpt", NS)] for s in segments]
    assert lons == [[0.0, 0.01], [0.1, 0.11]]


def test_antimeridian_stays_inside_the_schema() -> None:
    match = _bare([179.99, 180.0, 180.01], [0, 0, 0])
    points = _tree(_report(match)).findall("g:trk/g:trkseg/g:trkpt", NS)
    assert [p.get("lon") for p in points] == ["179.990000", "-180.000000", "-179.990000"]


def test_route_is_thinned_to_what_units_take() -> None:
    rng = np.random.default_rng(1)
    lon = np.cumsum(rng.uniform(0, 0.002, 1200))
    match = _bare(lon, np.cumsum(rng.uniform(-0.002, 0.002, 1200)))
    tree = _tree(_report(match))
    points = tree.findall("g:rte/g:rtept", NS)
    assert 2 <= len(points) <= MOST_ROUTE_POINTS
    assert float(points[-1].get("lon", "")) == pytest.approx(lon[-1], abs=1e-6)
    assert len(tree.findall("g:trk/g:trkseg/g:trkpt", NS)) == 1200


@pytest.mark.parametrize(
    "name", ["", "\x00\x07", "a\ud800b", "x\ufffey", "]]>", "<!--", "&amp;", "é 東京 عربي", "a\nb"]
)
def test_any_name_is_well_formed(name) -> None:
    tree = _tree(_report(_bare([0, 1], [0, 0]), name=name))
    assert len(_texts(tree, "g:rte/g:name")) == 1


def test_no_flag_says_remote_in_a_town_without_a_workshop(report) -> None:
    """A capital whose map holds no workshop was flagged as remote; a mile off it would be."""
    help_ = report.assessed.help
    (run, *_) = help_.remote
    for town_s, flagged in ((300.0, False), (90_000.0, True)):
        near = replace(run, nearest=None, nearest_m=None, nearest_s=None, unusual=False,
                       town=help_.helpers[0], town_m=5e3, town_s=town_s)  # fmt: skip
        whole = replace(report.assessed, help=replace(help_, remote=(near,)))
        names = _texts(_tree(replace(report, assessed=whole)), "g:wpt/g:name")
        assert any(name.startswith("Remote from here") for name in names) == flagged
