"""Many reports as one page: the worst first, each ride's ground in little, sorted by a click."""

from __future__ import annotations

import re
import shutil
from collections.abc import Callable, Sequence
from dataclasses import replace
from pathlib import Path

import pytest

from terrain.report.summary import SummaryRow, summary_lines, summary_row
from terrain.report.summary_page import summary_html
from terrain.text.translator import Translator
from terrain.values.report import Report
from tests.report.conftest import SAMPLES
from tests.report.hostile import NAMES

_BROKEN = SummaryRow(file="broken.gpx", error="broken.gpx, line 1: the file ends too soon.")


def _rows(sample_report: Callable[[str], Report]) -> list[SummaryRow]:
    return [
        summary_row(f"{name}.gpx", sample_report(name), Translator(), page=f"{name}-report.html")
        for name in SAMPLES
    ]


def _page(rows: Sequence[SummaryRow]) -> str:
    return summary_html(rows, Translator()).decode()


def _named(page: str) -> list[str]:
    """The rides in the page's order, by what is kept of each row to sort by."""
    return re.findall(r'<tr[^>]* data-harm="\d+" data-name="([^"]*)"', page)


def test_what_forbids_stands_first_then_the_wrong_bike_then_what_failed(
    sample_report: Callable[[str], Report],
) -> None:
    rows = _rows(sample_report)
    page = _page([_BROKEN, *rows])
    by_name = {row.route: row for row in rows}
    order = [
        0 if row.forbidden else 1 if row.mismatch else 3
        for row in map(by_name.get, _named(page))
        if row is not None
    ]
    assert order == sorted(order) and set(order) == {0, 1, 3}
    assert _named(page).index("broken.gpx") == len(order) - order.count(3)
    n = sum(1 for row in rows if row.forbidden)
    assert f"{n} of 6 routes must not be ridden as drawn." in page
    assert "One could not be judged." in page


def test_each_ride_shows_its_ground_and_leads_to_its_page(
    sample_report: Callable[[str], Report],
) -> None:
    rows = _rows(sample_report)
    page = _page(rows)
    for row in rows:
        assert row.ground is not None and 'class="g-paved"' in row.ground
        assert str(row.ground) in page
        assert f'href="{row.page}"' in page


def test_names_of_files_and_rides_stay_text(sample_report: Callable[[str], Report]) -> None:
    row = _rows(sample_report)[0]
    plain = _page([row])
    for name in NAMES:
        page = _page([replace(row, file=name, route=name), replace(_BROKEN, file=name, error=name)])
        assert page.count("<script>") == plain.count("<script>")
        assert "<img" not in page and "<iframe" not in page


@pytest.mark.skipif(shutil.which("chromium") is None, reason="no Chromium on this machine")
def test_a_click_sorts_the_table_forbidden_rides_stay_first_and_what_failed_last(
    sample_report: Callable[[str], Report], tmp_path: Path
) -> None:
    playwright = pytest.importorskip("playwright.sync_api", reason="playwright is not installed")
    rows = _rows(sample_report)
    path = tmp_path / "summary.html"
    path.write_text(_page([_BROKEN, *rows]), encoding="utf-8")
    with playwright.sync_playwright() as driver:
        browser = driver.chromium.launch(
            executable_path=shutil.which("chromium"), args=["--no-sandbox"]
        )
        page = browser.new_page()
        page.goto(path.as_uri())
        names = "[...document.querySelectorAll('tbody tr')].map((row) => row.dataset.name)"
        up = sorted(rows, key=lambda row: row.length_m)
        stays = (
            [row.route for row in up if row.forbidden],
            [row.route for row in up if not row.forbidden],
        )
        assert all(stays)
        page.click("th[data-by=length] button")
        assert page.evaluate(names) == [*stays[0], *stays[1], "broken.gpx"]
        page.click("th[data-by=length] button")
        assert page.evaluate(names) == [*stays[0][::-1], *stays[1][::-1], "broken.gpx"]
        assert page.get_attribute("th[data-by=length]", "aria-sort") == "descending"
        for _ in range(2):
            page.click("th[data-by=harm] button")
            assert set(page.evaluate(names)[: len(stays[0])]) == set(stays[0])
        browser.close()


def test_the_table_names_the_bike_of_the_verdict(sample_report: Callable[[str], Report]) -> None:
    """A ride too hard for its rider named the best of the bikes, where the page named none."""
    report = sample_report(SAMPLES[0])
    assert report.assessed.advice.bikes
    for bike in ("enduro", None):
        told = replace(report, verdict=replace(report.verdict, bike=bike))
        assert dict(summary_row("a.gpx", told, Translator()).cells)["bike"] == bike


def test_the_table_of_a_terminal_begins_with_what_forbids_too(
    sample_report: Callable[[str], Report],
) -> None:
    rows = sorted(_rows(sample_report), key=lambda row: -row.harm)
    assert not rows[0].forbidden and rows[-1].forbidden
    told = summary_lines(rows, Translator(), 200)[1:]
    files = [line.split()[0] for line in told]
    forbidden = {row.file for row in rows if row.forbidden}
    assert set(files[: len(forbidden)]) == forbidden
