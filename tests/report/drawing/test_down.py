"""The ride running down a phone's page and a card: what stands beside it, and how lines break."""

from __future__ import annotations

import re
from collections.abc import Callable
from datetime import datetime
from pathlib import Path

import pytest

import terrain
from terrain.report.diagram.down import WIDTH, render_downs, stacked, wrapped
from terrain.report.diagram.help import commits
from terrain.report.drawing.svg import text_width
from terrain.text.translator import Translator
from terrain.values.report import Report


@pytest.fixture(scope="module")
def report(island_home: Path) -> Report:
    """A ride of several days: set off after noon."""
    route = terrain.read_route(island_home / "demo" / "routes" / "high-tracks.gpx")
    trip = terrain.Trip(depart=datetime(2027, 6, 20, 14, 0), guided=True)
    return terrain.assess(route, terrain.open_region("island", island_home), trip)


def test_each_day_has_its_own_stops(report: Report) -> None:
    """The night at the end of a day is no stop of the next."""
    days = report.assessed.plan.days
    drawn = render_downs(report, Translator())
    assert len(drawn) == len(days) > 1
    told = [len(re.findall(r'class="stop13">\d\d:\d\d ', day.svg)) for day in drawn]
    stops = report.assessed.plan.stops
    assert told == [sum(stop.day == day.number for stop in stops) for day in days]


def test_days_share_a_scale(report: Report) -> None:
    days = report.assessed.plan.days
    scales = {
        round(drawn.height / (day.to_m - day.from_m), 6)
        for day, drawn in zip(days, render_downs(report, Translator()), strict=True)
    }
    assert len(scales) == 1


def test_every_decision_stands_in_words(sample_report: Callable[[str], Report]) -> None:
    report = sample_report("high-tracks")
    drawn = "".join(day.svg for day in render_downs(report, Translator()))
    assert commits(report.assessed.help.exits)
    for _, way in commits(report.assessed.help.exits):
        length = Translator().distance(way.commit_m)
        assert f">No way out for {length}<" in drawn


def test_a_label_is_broken_and_not_cut() -> None:
    lines = wrapped("13:10 fuel, lunch, check, water and a rest", 120.0)
    assert " ".join(lines) == "13:10 fuel, lunch, check, water and a rest"
    assert all(text_width(line, 13.0) <= 120.0 for line in lines)
    (long,) = wrapped("x" * 90, WIDTH)
    assert long.endswith("…") and text_width(long, 13.0) <= WIDTH


def test_a_long_day_comes_in_parts_of_one_length(long_report: Report) -> None:
    """302 km of one day are cut where nobody would scroll on, each stop told once."""
    (day,) = long_report.assessed.plan.days
    drawn = render_downs(long_report, Translator())
    assert len(drawn) == 3 and len({round(part.height, 3) for part in drawn}) == 1
    assert [bool(part.about) for part in drawn] == [True, False, False]
    told = re.findall(r'class="stop13">(\d\d:\d\d) ', "".join(part.svg for part in drawn))
    assert len(told) == sum(stop.day == day.number for stop in long_report.assessed.plan.stops)


def test_words_stand_in_riding_order(sample_reports: list[Report]) -> None:
    for report in sample_reports:
        for day in render_downs(report, Translator()):
            hours = re.findall(r'y="([\d.]+)" class="stop13">(\d\d:\d\d) ', day.svg)
            tops = [float(y) for y, _ in sorted(hours, key=lambda found: found[1])]
            assert tops == sorted(tops)


def test_boxes_that_meet_share_what_they_give_way() -> None:
    """Least squares by hand: two of 18 px that both want 50 stand at 41 and 59."""
    assert stacked([50.0, 50.0], [18.0, 18.0]) == [41.0, 59.0]
    assert stacked([0.0, 0.0, 100.0], [18.0, 18.0, 18.0]) == [0.0, 18.0, 100.0]
    assert stacked([10.0, 40.0], [18.0, 18.0]) == [10.0, 40.0]
