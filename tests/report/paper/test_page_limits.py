"""A day's ride takes two pages of paper and a week's six, a card one page a day, in the longest
languages too, and each paper keeps its standard (ISO 14289-1, PDF/UA-1: the file says so)."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path

import pytest

import terrain
from terrain.demo.region import ensure_demo_region
from terrain.report.paper.card import render_card
from terrain.report.paper.layout import page_budget
from terrain.report.paper.typeset import n_pages, render_pdf
from terrain.text.catalogue import LANGUAGES
from terrain.text.translator import translator_for
from terrain.values.report import Report
from terrain.values.verdict import Audience
from tests.bench.sheets import SHEETS, Sheet, report_of


def _check(report: Report, lang: str, audience: Audience) -> None:
    pdf = render_pdf(report, translator_for(lang), audience)
    n_days = len(report.assessed.plan.days)
    assert n_pages(pdf) <= page_budget(n_days), (report.assessed.route.name, lang, n_days)
    card = render_card(report, translator_for(lang))
    assert n_pages(card) == max(n_days, 1), (report.assessed.route.name, lang, n_days)
    assert all(b"pdfuaid" in made for made in (pdf, card)), (report.assessed.route.name, lang)


@pytest.fixture(scope="module")
def long_weekend(island_home: Path) -> Report:
    """A hard ride of three days: set off in mid-afternoon in December, with a pillion."""
    route = terrain.read_route(island_home / "demo" / "routes" / "high-tracks.gpx")
    trip = terrain.Trip(depart=datetime(2027, 12, 14, 15), rider="novice", pillion=True)
    report = terrain.assess(route, terrain.open_region("island", island_home), trip)
    assert len(report.assessed.plan.days) > 2
    return report


@pytest.mark.parametrize(("lang", "audience"), [("de", Audience.RIDER), ("fr", Audience.GUIDE)])
def test_a_ride_of_several_days_keeps_to_its_pages(
    long_weekend: Report, lang: str, audience: Audience
) -> None:
    """From three days on the days stand in the text and not beside it."""
    _check(long_weekend, lang, audience)


@pytest.fixture(scope="module")
def home(shared_data: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Where the regions of the open rides are built."""
    home = tmp_path_factory.mktemp("open-rides")
    ensure_demo_region(home)
    return home


@pytest.mark.bench
@pytest.mark.parametrize("sheet", SHEETS, ids=lambda sheet: str(sheet.name))
def test_open_rides_keep_to_their_pages(sheet: Sheet, home: Path) -> None:
    """The rides that the looks are judged by, on real maps: 3 km to 3,000, forbidden and open."""
    report = report_of(sheet, home)
    for lang in LANGUAGES:
        for audience in Audience:
            _check(report, lang, audience)
