"""Plan and ride drawn one above the other."""

from __future__ import annotations

import itertools
import re
from dataclasses import replace
from datetime import datetime
from html import unescape
from pathlib import Path
from xml.etree import ElementTree

import numpy as np
import pytest

import terrain
from terrain.flow import match
from terrain.report.drawing.svg import text_width
from terrain.report.ride.drawing import PHONE, WIDE, draw_ride
from terrain.report.ride.page import render_ride
from terrain.text.catalogue import LANGUAGES
from terrain.text.translator import translator_for
from terrain.values.ridden import Ridden
from tests.report.hostile import NAMES
from tests.ride_sim import Habits, Maker


@pytest.fixture(scope="module")
def ride(island_home: Path) -> Ridden:
    region = terrain.open_region("island", island_home)
    maker = Maker(region.roads, region.ground.p, np.random.default_rng(3))
    base = match(terrain.read_route(Path("sample_routes") / "valleys-and-passes.gpx"), region)
    true = maker.ride(base, Habits(factor=(1.0, 1.6, 1.6)))
    return terrain.ridden(maker.record(true, 10.0).track, region, true.plan)


def _svg(ride: Ridden, wide: float) -> ElementTree.Element:
    return ElementTree.fromstring(str(draw_ride(ride, translator_for(), wide)))


@pytest.mark.parametrize("wide", [WIDE, PHONE])
def test_everything_lies_within_the_picture(ride: Ridden, wide: float) -> None:
    svg = _svg(ride, wide)
    left, top, width, height = map(float, svg.attrib["viewBox"].split())
    assert (left, top, width) == (0.0, 0.0, wide)
    texts = svg.findall(".//text")
    assert len(texts) > 10
    for item in texts:
        assert -1.0 <= float(item.attrib["x"]) <= width + 1.0
        assert 0.0 < float(item.attrib["y"]) < height
    for rect in svg.findall(".//rect"):
        assert float(rect.attrib["x"]) + float(rect.attrib["width"]) <= width + 1.0


def _span(item: ElementTree.Element) -> tuple[float, float]:
    wide = text_width(item.text or "", 12.0) * (1.08 if item.get("class") == "strong" else 1.0)
    x = float(item.attrib["x"])
    return (x - wide, x) if item.get("text-anchor") == "end" else (x, x + wide)


@pytest.mark.parametrize("wide", [WIDE, PHONE])
def test_words_of_stops_lie_apart_and_within(ride: Ridden, wide: float) -> None:
    """Also where two come close before the end, and the time behind is hours long."""
    rest = ride.stops[0]
    near = [replace(rest, at_m=share * ride.length_m) for share in (0.57, 0.62, 0.9, 0.93)]
    parts = tuple(replace(part, expected_s=part.expected_s + 300) for part in ride.parts)
    svg = _svg(replace(ride, stops=tuple(near), parts=parts), wide)
    stops = [t for t in svg.findall(".//text") if re.match(r"\d\d:\d\d, ", t.text or "")]
    assert len(stops) >= 3
    for one, two in itertools.combinations(stops, 2):
        if one.attrib["y"] == two.attrib["y"]:
            (a, b), (c, d) = _span(one), _span(two)
            assert b <= c or d <= a
    behind = [t for t in svg.findall(".//text") if (t.text or "").startswith("\u2212")]
    assert "h" in (behind[-1].text or "") and _span(behind[-1])[1] <= wide


def test_lanes_and_what_they_say(ride: Ridden) -> None:
    svg = _svg(ride, WIDE)
    texts = [item.text or "" for item in svg.findall(".//text")]
    for lane in ("Planned ground", "Way ridden", "Slower or faster", "Clock", "Behind"):
        assert lane in texts
    assert ride.plan is not None
    assert len(svg.findall(".//path[@class='r-missed']")) == len(ride.plan.leavings) > 0
    bars = svg.findall(".//rect")
    slow = [b for b in bars if "r-gravel" in b.attrib["class"] or "r-track" in b.attrib["class"]]
    axis = max(float(b.attrib["y"]) + float(b.attrib["height"]) for b in slow)
    # Half as long again on gravel and track: their bars stand on the axis.
    up = [b for b in slow if float(b.attrib["y"]) + float(b.attrib["height"]) >= axis - 31.0]
    assert len(up) >= 0.8 * len(slow) > 0
    clocks = [text for text in texts if re.fullmatch(r"\d\d:\d\d", text)]
    told = [60 * int(clock[:2]) + int(clock[3:]) for clock in clocks]
    for moment in (datetime.fromisoformat(ride.start_time), datetime.fromisoformat(ride.end_time)):
        # Times are told to five minutes.
        assert min(abs(60 * moment.hour + moment.minute - minutes) for minutes in told) <= 2


def test_without_a_plan(ride: Ridden) -> None:
    svg = _svg(replace(ride, plan=None), WIDE)
    texts = [item.text for item in svg.findall(".//text")]
    assert "Ground" in texts
    assert "Way ridden" not in texts


@pytest.mark.parametrize("lang", LANGUAGES)
def test_the_page_stands_alone(ride: Ridden, lang: str) -> None:
    page = render_ride(ride, translator_for(lang))
    assert "http" not in page.replace("http://www.w3.org/2000/svg", "")
    assert "<script" not in page
    assert page.count("<svg") == 3
    shown = unescape(re.sub(r"<style>.*?</style>|<[^>]+>", " ", page, flags=re.S))
    assert ("longer than expected" in shown) == (lang == "en")
    assert "None" not in shown


def test_headlines(ride: Ridden) -> None:
    say = translator_for()
    even = replace(ride, moving_s=ride.expected_s)
    assert "<h1>Ridden in the time that was expected.</h1>" in render_ride(even, say)
    quick = replace(ride, moving_s=0.7 * ride.expected_s)
    assert "less than expected" in render_ride(quick, say)


def test_a_headline_names_no_ground_that_went_the_other_way(ride: Ridden) -> None:
    """Quicker in all, by ground the map lacks, while what it knows took longer."""
    paved = next(time for time in ride.times if time.by == "ground" and time.what == "paved")
    slow = replace(paved, expected_s=3 * 3600.0, moving_s=4 * 3600.0)
    blank = replace(paved, what="unmapped", expected_s=6 * 3600.0, moving_s=3 * 3600.0)
    odd = replace(ride, times=(slow, blank), expected_s=9 * 3600.0, moving_s=7 * 3600.0)
    page = render_ride(odd, translator_for("fr"))
    assert "<h1>2\u00a0h de moins que prévu.</h1>" in page
    assert "hors carte" in page and "unmapped" not in page.split("<table>")[1]


def test_names_come_out_as_text(ride: Ridden) -> None:
    """A hostile name adds no element: a page has as many tags with it as with a plain one."""
    say = translator_for()
    plain = render_ride(replace(ride, name="a ride", bike_class="enduro"), say)
    for name in NAMES:
        page = render_ride(replace(ride, name=name, bike_class=name), say)
        assert page.count("<") == plain.count("<"), name
