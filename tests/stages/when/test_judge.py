"""The table says of each cell what the report would say of a ride on that day."""

from __future__ import annotations

import json
import re
from dataclasses import replace
from datetime import date, datetime
from itertools import pairwise
from pathlib import Path

import jsonschema
import numpy as np
import pytest

import terrain
from terrain.calc.daylight import sun_day, zone_at
from terrain.report.data.jsonfile import schema
from terrain.report.diagram.when import draw_when
from terrain.report.terminal import Style
from terrain.report.when import render_when
from terrain.stages.ground import judge_ground
from terrain.stages.relief.judge import judge_relief
from terrain.stages.speed import judge_speed
from terrain.stages.when.season import ground_by_month
from terrain.text.catalogue import LANGUAGES
from terrain.text.translator import translator_for
from terrain.values.ground import SeasonRisk
from terrain.values.route import Route


@pytest.fixture(scope="module")
def region(island_home: Path) -> terrain.Region:
    return terrain.open_region("island", island_home)


@pytest.fixture(scope="module")
def route(island_home: Path) -> Route:
    return terrain.read_route(island_home / "demo" / "routes" / "high-tracks.gpx")


@pytest.fixture(scope="module")
def when(route: Route, region: terrain.Region) -> terrain.When:
    return terrain.when_to_go(route, region)


def test_a_cell_is_what_the_report_says_of_that_day(
    when: terrain.When, route: Route, region: terrain.Region
) -> None:
    for month, hour in ((1, 7), (5, 8), (10, 6)):
        depart = datetime(2025, month, 15, hour)
        report = terrain.assess(route, region, terrain.Trip(depart=depart))
        rider = report.assessed.heat.rider
        assert rider is not None
        if len(report.assessed.plan.days) != when.n_days:
            continue
        cell = when.months[month - 1].cells[when.hours.index(hour)]
        # The table samples the ride more coarsely: the top may lie between its samples.
        assert cell.max_air_temp_c == pytest.approx(rider.max_air_temp_c, abs=0.5)
        assert cell.max_wbgt_riding_c == pytest.approx(rider.max_wbgt_riding_c, abs=1.0)
        assert cell.min_wind_chill_c == pytest.approx(rider.min_wind_chill_c, abs=1.0)


def test_light_is_the_suns(when: terrain.When, route: Route) -> None:
    lon, lat = float(route.lon[0]), float(route.lat[0])
    june = sun_day(lon, lat, datetime(2025, 6, 15).date(), zone_at(lon, lat))
    assert june.dawn is not None
    for cell in when.months[5].cells:
        start = june.dawn.replace(hour=cell.start_h, minute=0, second=0, microsecond=0)
        before_s = max((june.dawn - start).total_seconds(), 0.0)
        assert cell.before_light_s == pytest.approx(before_s, abs=1.0)
    left = [cell.light_left_s for cell in when.months[5].cells]
    assert all(a is not None and b is not None and a >= b for a, b in pairwise(left))
    assert [c.is_dark for c in when.months[5].cells] == [
        c.before_light_s > 0 or (c.light_left_s or 0.0) < 3600.0 for c in when.months[5].cells
    ]


def test_season_is_the_grounds_own(
    route: Route, region: terrain.Region, monkeypatch: pytest.MonkeyPatch
) -> None:
    """With the rain of a wet month everywhere, the table and the judged ground agree."""
    laid = terrain.match(route, region)
    relief = judge_relief(laid, region.roads, region.heights, file_ele_m=route.ele_m)
    rain = np.linspace(20.0, 260.0, 12)

    def rain_of(lon: np.ndarray, lat: np.ndarray) -> np.ndarray:
        return np.tile(rain, (len(lon), 1))

    monkeypatch.setattr("terrain.stages.when.season.rain_mm_by_month", rain_of)
    monkeypatch.setattr("terrain.stages.ground.judge.rain_mm_by_month", rain_of)
    day = date(2027, 1, 1)
    undated = judge_ground(laid, region.roads, region.ground, relief, day=day, trip=terrain.Trip())
    ride = judge_speed(laid, undated, relief, region.places, region.roads, trip=terrain.Trip())
    table = ground_by_month(ride, region.roads, relief)
    assert table[0].soft_m < table[5].soft_m and table[0].shut_m < table[11].shut_m
    for month in (1, 6, 12):
        trip = terrain.Trip(depart=datetime(2025, month, 15, 8))
        ground = judge_ground(laid, region.roads, region.ground, relief, day=day, trip=trip)
        for risk, length_m in (
            (SeasonRisk.CONFIRM_FIRST, table[month - 1].shut_m),
            (SeasonRisk.DOUBTFUL, table[month - 1].soft_m),
        ):
            told = sum(s.to_m - s.from_m for s in ground.stretches if s.season_risk is risk)
            assert length_m == pytest.approx(told, abs=1.0)


def test_json_follows_its_schema(when: terrain.When) -> None:
    facts = json.loads(json.dumps(when.to_dict(), allow_nan=False))
    jsonschema.validate(facts, schema("terrain-when-1"), jsonschema.Draft202012Validator)
    assert [m["month"] for m in facts["months"]] == list(range(1, 13))
    best = [c for m in facts["months"] for c in m["cells"] if c["is_best"]]
    assert best and len(best) < 120


@pytest.mark.parametrize("lang", LANGUAGES)
@pytest.mark.parametrize("width", [80, 100])
def test_the_terminal_s_lines_fit(when: terrain.When, lang: str, width: int) -> None:
    lines = render_when(when, translator_for(lang), Style(width=width)).split("\n")
    assert max(map(len, lines)) <= width
    assert sum("[" in line and "]" in line for line in lines) >= 2
    colour = render_when(when, translator_for(lang), Style(width=width, colour=True))
    assert colour.count("\x1b[1m") >= 2


def test_the_picture_holds_a_cell_for_each_and_a_frame_for_the_best(when: terrain.When) -> None:
    from xml.etree import ElementTree

    root = ElementTree.fromstring(str(draw_when(when, translator_for("en"))))
    paths = {e.get("class"): str(e.get("d")) for e in root.iter() if e.tag.endswith("path")}
    assert paths["cells"].count("M") == 12 * len(when.hours)
    assert paths["cells"].count("h48v28h-48z") == 12 * len(when.hours)
    assert paths["best"].count("M") == sum(c.is_best for m in when.months for c in m.cells)
    # Height of ink is the share: the fullest warm box is as high as its cell.
    warm = [float(tall) for tall in re.findall(r"h48v([\d.]+)h-48z", paths["warm"])]
    most = max(c.rest_share for m in when.months for c in m.cells)
    assert max(warm) == pytest.approx(28.0 * most, abs=0.06)
    texts = " ".join("".join(e.itertext()) for e in root.iter() if e.tag.endswith("text"))
    assert "January" in texts and "not known" in texts


def test_unknown_rain_is_told_as_unknown(when: terrain.When) -> None:
    """The invented island lies at sea, where the rain map has nothing."""
    assert all(m.rain_mm is None for m in when.months)
    assert all(m.season_unknown_m > 10_000 for m in when.months)
    shown = render_when(replace(when), translator_for("en"), Style())
    assert "?" in shown and "not known" in shown
