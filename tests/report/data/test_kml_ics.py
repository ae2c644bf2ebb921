"""The report for a map viewer and for a calendar, read back by other libraries."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path
from xml.etree import ElementTree

import icalendar
import pyogrio
import pytest
import shapely
from pyproj import Geod

import terrain
from terrain.cli import main
from terrain.errors import UsageError
from terrain.inputs.lines import parse_route
from terrain.report.data.ics import render_ics
from terrain.report.data.kml import render_kml
from terrain.text.catalogue import LANGUAGES
from terrain.text.translator import translator_for
from terrain.values.report import Report
from terrain.values.verdict import Rank

from ..conftest import DEPART, SAMPLES

_NS = {"k": "http://www.opengis.net/kml/2.2"}
_EVIL = "Río <b>& ]]> \x00\x1b[31m\ud800 \u202e,;\\n"


@pytest.mark.parametrize("name", SAMPLES)
def test_another_reader_finds_the_whole_ride_by_ground(
    sample_report: Callable[[str], Report], name: str, tmp_path: Path
) -> None:
    report = sample_report(name)
    path = tmp_path / "report.kml"
    path.write_bytes(render_kml(report))
    layers = {str(layer) for layer, _ in pyogrio.list_layers(path)}
    assert {"Ground", "Places"} <= layers
    rows = pyogrio.read_dataframe(path, layer="Ground")
    length_m = sum(Geod(ellps="WGS84").geometry_length(shapely.force_2d(g)) for g in rows.geometry)
    # A break in the planned line is no part of the ride, but is drawn.
    assert length_m >= 0.999 * report.assessed.match.length_m
    grave = [f for f in report.verdict.findings if f.rank in (Rank.FORBIDDEN, Rank.DANGER)]
    assert ("To know" in layers) is any(f.parts for f in grave)


def test_what_forbids_and_endangers_is_drawn_where_it_lies(
    sample_report: Callable[[str], Report],
) -> None:
    report = sample_report("high-tracks")
    root = ElementTree.fromstring(render_kml(report))
    folders = {f.findtext("k:name", "", _NS): f for f in root.iterfind(".//k:Folder", _NS)}
    assert next(iter(folders)) == "To know"
    marks = folders["To know"].findall("k:Placemark", _NS)
    wanted = sum(
        len(f.parts) for f in report.verdict.findings if f.rank in (Rank.FORBIDDEN, Rank.DANGER)
    )
    assert len(marks) == wanted > 0
    about = root.findtext("k:Document/k:description", "", _NS)
    assert about.startswith(str(report.verdict.headline))
    for mark in root.iterfind(".//k:Placemark", _NS):
        # The order of the schema: name, description, styleUrl, geometry.
        tags = [element.tag.rpartition("}")[2] for element in mark]
        order = ["name", "description", "styleUrl", "LineString", "Polygon", "Point"]
        assert tags == [tag for tag in order if tag in tags]


def test_the_drawn_line_may_be_sent_back_as_a_route(
    sample_report: Callable[[str], Report],
) -> None:
    report = sample_report("over-the-strait")
    route = parse_route(render_kml(report), "report.kml")
    assert route.name == report.assessed.route.name
    match = report.assessed.match
    assert (route.lon[-1], route.lat[-1]) == pytest.approx((match.lon[-1], match.lat[-1]), abs=1e-5)


def _days(report: Report) -> list[icalendar.Event]:
    calendar = icalendar.Calendar.from_ical(render_ics(report))
    return list(calendar.walk("VEVENT"))


def test_each_day_of_the_plan_is_an_event_in_local_time(
    sample_report: Callable[[str], Report],
) -> None:
    report = sample_report("high-tracks")
    days, events = report.assessed.plan.days, _days(report)
    assert len(events) == len(days) > 1
    for day, event in zip(days, events, strict=True):
        start, end = event.start, event.end
        assert start.date() == DEPART.date() + timedelta(days=day.number - 1)
        assert 3600 * start.hour + 60 * start.minute == pytest.approx(day.start_s, abs=30)
        assert (end - start).total_seconds() == pytest.approx(day.end_s - day.start_s, abs=60)
        assert start.utcoffset() == timedelta(hours=6)  # the invented island's hours
        stops = [s for s in report.assessed.plan.stops if s.day == day.number]
        text = str(event["description"])
        assert str(report.verdict.headline) in text
        assert all(stop.name in text for stop in stops if stop.name)
    assert len({str(event["uid"]) for event in events}) == len(events)


def test_lines_of_the_calendar_are_as_the_standard_wants_them(
    sample_report: Callable[[str], Report],
) -> None:
    report = sample_report("valleys-and-passes")
    named = replace(report.assessed, route=replace(report.assessed.route, name=_EVIL))
    data = render_ics(replace(report, assessed=named))
    lines = data.split(b"\r\n")
    assert b"\n" not in data.replace(b"\r\n", b"")
    assert max(len(line) for line in lines) <= 75  # RFC 5545, 3.1
    (event,) = _days(replace(report, assessed=named))[:1]
    assert "Río <b>& ]]>" in str(event["summary"]) and "\x1b" not in str(event["summary"])
    xml = ElementTree.fromstring(render_kml(replace(report, assessed=named)))
    assert "Río <b>& ]]>" in xml.findtext("k:Document/k:name", "", _NS)


def test_a_newer_file_replaces_an_older_one(sample_report: Callable[[str], Report]) -> None:
    report = sample_report("coast-road")
    later = replace(report, made_at=datetime(2027, 3, 1, tzinfo=UTC))
    assert [e["uid"] for e in _days(report)] == [e["uid"] for e in _days(later)]
    assert render_ics(report) == render_ics(report) != render_ics(later)


def test_without_a_day_there_is_no_calendar(
    island_home: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:  # fmt: skip
    region = terrain.open_region("island", island_home)
    path = island_home / "demo" / "routes" / "coast-road.gpx"
    with pytest.raises(UsageError, match="day of departure"):
        render_ics(terrain.assess(terrain.read_route(path), region))
    monkeypatch.setenv("TERRAIN_HOME", str(island_home))
    out = ["--out", str(tmp_path), "--write", "kml,ics"]
    assert main(["report", str(path), "--region", "island", *out]) == 2
    assert "--depart" in capsys.readouterr().err
    dated = ["--depart", "2027-03-14T07:30", "--lang", "fr"]
    assert main(["report", str(path), "--region", "island", *out, *dated]) == 0
    assert {p.name for p in tmp_path.iterdir()} == {
        "coast-road-report.kml", "coast-road-report.ics"
    }  # fmt: skip


@pytest.mark.parametrize("lang", LANGUAGES[1:])
def test_texts_are_in_the_language_asked(sample_report: Callable[[str], Report], lang: str) -> None:
    report, translator = sample_report("high-tracks"), translator_for(lang)
    kml, ics = render_kml(report, translator).decode(), render_ics(report, translator).decode()
    for text in ("To know", "A line on a map is not permission to ride it."):
        assert text not in kml and text not in ics.replace("\r\n ", "")
    assert translator._("To know") in kml
