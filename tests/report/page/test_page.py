"""The page's structure: one order for every reader, parts by audience, nothing dangling."""

from __future__ import annotations

import itertools
import re
from collections.abc import Callable
from pathlib import Path

import pytest

import terrain
from terrain.region.info import OSM_ATTRIBUTION
from terrain.report.html import render_html
from terrain.report.page.page import make_page
from terrain.report.page.parts import ORDER
from terrain.tables.climate import ATTRIBUTION as CLIMATE_ATTRIBUTION
from terrain.text.translator import Translator, translator_for
from terrain.values.report import Report
from tests.report.sample import facts


@pytest.fixture(scope="module")
def report(sample_report: Callable[[str], Report]) -> Report:
    return sample_report("high-tracks")


@pytest.fixture(scope="module")
def page(report: Report) -> str:
    return render_html(report, Translator())


def test_headings_step_down_one_at_a_time(page: str) -> None:
    levels = [int(level) for level in re.findall(r"<h([1-6])", page)]
    assert levels[0] == 1
    assert levels.count(1) == 1
    assert all(b - a <= 1 for a, b in itertools.pairwise(levels))


def test_the_answer_comes_first(page: str) -> None:
    """Verdict, shares, setup, things to know, what is not known, then the diagram and the rest."""
    order = [
        page.index("<h1>"),
        page.index('class="shares"'),
        page.index("Setup and bike"),
        page.index("to know</h2>"),
        page.index("What we do not know"),
        page.index("Along the ride"),
        page.index(">Map</h2>"),
        page.index("Section by section"),
        page.index("<footer>"),
    ]
    assert order == sorted(order)


def test_ids_are_unique_and_links_lead_somewhere(page: str) -> None:
    ids = re.findall(r'\bid="([^"]+)"', page)
    assert len(ids) == len(set(ids))
    for target in re.findall(r'(?:href="#|aria-labelledby="|url\(#)([\w-]+)', page):
        assert target in ids


def test_sections_link_diagram_map_and_table(page: str, report: Report) -> None:
    cut = make_page(report.to_dict(), Translator()).cut
    for section in cut:
        marks = re.findall(rf'<(\w+)[^>]* data-s="{section.number}"', page)
        assert {"rect", "use", "tr"} <= set(marks)


def test_nothing_is_fetched(page: str) -> None:
    assert not re.findall(r'(?:src|href|action|srcset|poster)="(?!#)', page)
    assert "@import" not in page
    assert not re.findall(r"url\((?!#)", page)


def test_page_is_small_enough_for_a_mail(page: str) -> None:
    assert len(page.encode()) < 600_000


@pytest.mark.parametrize("audience", ORDER)
def test_each_audience_has_its_order(audience: str, report: Report) -> None:
    keys = [part.key for part in make_page(report.to_dict(), Translator(), audience).parts]
    wanted = [key for key in ORDER[audience] if key in keys]
    assert keys == wanted
    assert keys[0] == {"rider": "cautions", "staff": "advice", "guide": "plan"}[audience]
    asked = bool(report.to_dict()["advice"]["questions"])
    assert ("questions" in keys) == (asked and audience != "rider")


def test_same_facts_in_page_and_json(page: str, report: Report) -> None:
    facts = report.to_dict()
    best = facts["ground"]["shares"]["track"]["best"]
    assert f"{100 * best:.0f}\u00a0%" in page
    assert facts["route"]["name"] in page
    for place in facts["places"][:3]:
        assert place["name"] in page


def test_same_page_twice(report: Report, page: str) -> None:
    assert render_html(report, Translator()) == page


def test_rider_without_a_date_is_told_the_year(island_home: Path) -> None:
    region = terrain.open_region("island", island_home)
    path = sorted((island_home / "demo" / "routes").glob("coast*.gpx"))[0]
    undated = terrain.assess(terrain.read_route(path), region)
    shown = render_html(undated, Translator())
    assert "Month by month" in shown
    assert "No date" in shown


@pytest.mark.parametrize("lang", ["en", "es", "fr"])
def test_heat_says_what_it_rests_on(report: Report, lang: str) -> None:
    facts, translator = report.to_dict(), translator_for(lang)
    heat = next(part for part in make_page(facts, translator).parts if part.key == "heat")
    assert translator.translate(facts["heat"]["basis"]["text"]) in [
        block.text for block in heat.blocks
    ]


def test_climb_of_sections_adds_up(sample_reports: list[Report]) -> None:
    for sample in sample_reports:
        facts, translator = sample.to_dict(), Translator()
        rows = make_page(facts, translator).table
        for sign, key in (("+", "ascent_m"), ("−", "descent_m")):
            shown = [re.search(rf"{re.escape(sign)}([\d\u202f\u00a0]+)", row.climb) for row in rows]
            total = sum(int(re.sub(r"\D", "", found[1])) for found in shown if found)
            # Each row is told to ten metres; moves under 5 m are left out.
            assert total == pytest.approx(facts["relief"][key], abs=5 * len(rows) + 10)


def test_climb_without_heights_is_a_dash(report: Report) -> None:
    facts = report.to_dict()
    n = len(facts["relief"]["profile"]["at_m"])
    profile = {**facts["relief"]["profile"], "ele_m": [None] * n}
    rows = make_page(
        {**facts, "relief": {**facts["relief"], "profile": profile}}, Translator()
    ).table
    assert {row.climb for row in rows} == {"–"}


def test_french_places_take_a_space_before_the_colon(report: Report) -> None:
    page = make_page(report.to_dict(), translator_for("fr"))
    ground = next(part for part in page.parts if part.key == "ground")
    told = [line for block in ground.blocks for line in block.lines if line.startswith("km")]
    assert told and all("\u00a0:" in line.replace("\u202f", "\u00a0") for line in told)
    assert not [row.told for row in page.table if re.search(r"\w: ", row.told)]


def test_credit_is_told_in_the_language_and_climate_not_beside_the_map() -> None:
    told = facts()
    tiles = "Heights from elevation tiles (.hgt and GeoTIFF, 1 and 3 arc seconds)"
    told["region"]["attribution"] = [OSM_ATTRIBUTION, tiles, CLIMATE_ATTRIBUTION, "The club's map"]
    page = make_page(told, translator_for("es"))
    assert page.credit.startswith("Datos del mapa © colaboradores de OpenStreetMap")
    assert "(.hgt y GeoTIFF, 1 y 3 segundos de arco); The club's map" in page.credit
    assert "Clima" not in page.credit
    assert any(line.startswith("Clima: mapas") for line in page.footer)


def test_a_name_that_runs_right_to_left_is_set_apart_from_the_numbers_after_it(
    report: Report,
) -> None:
    told = report.to_dict()
    told["route"]["name"] = "وادي درعة\u202e"
    page = render_html(report, Translator(), facts=told)
    assert "<b>\u2068وادي درعة\u2069</b>" in page
    assert "\u202e" not in page


def test_tags_that_do_not_fit_are_told_once(sample_report: Callable[[str], Report]) -> None:
    told = sample_report("coast-road").to_dict()
    (part,) = (part for part in make_page(told, translator_for("fr")).parts if part.key == "ground")
    lines = [line for block in part.blocks for line in block.lines if "ne va pas avec" in line]
    assert lines
    assert all(line.count("ne va pas avec") == 1 for line in lines)
    assert all(line.endswith(".") for line in lines)
