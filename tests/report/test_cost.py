"""What a report of 300 km costs beyond the computation: calls made for page and paper, and size.

The milliseconds are told by `python -m tests.bench.report`.
"""

from __future__ import annotations

import gzip
import re
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

import terrain
from terrain.report.html import render_html
from terrain.report.paper.typeset import render_pdf
from terrain.text.translator import Translator
from terrain.values.report import Report
from tests.report.conftest import DEPART, STAMP


@pytest.fixture(scope="module")
def long_report(island_home: Path, tmp_path_factory: pytest.TempPathFactory) -> Report:
    """Two sample rides in one: about 300 km of two days, with gravel and track."""
    folder = island_home / "demo" / "routes"
    points = ""
    for name, share in (("coast-road", 1.0), ("valleys-and-passes", 0.7)):
        all_points = re.findall(r"<trkpt[^>]*/>", (folder / f"{name}.gpx").read_text("utf-8"))
        points += "".join(all_points[: int(share * len(all_points))])
    plan = tmp_path_factory.mktemp("long") / "long.gpx"
    plan.write_text(f'<gpx version="1.1"><trk><trkseg>{points}</trkseg></trk></gpx>', "utf-8")
    route = terrain.read_route(plan)
    trip = terrain.Trip(depart=DEPART)
    report = terrain.assess(route, terrain.open_region("island", island_home), trip, made_at=STAMP)
    assert 290_000 < report.assessed.match.length_m < 320_000
    return report


def _calls(work: Callable[[], object]) -> int:
    """Calls that a piece of work makes: as many on a slow machine as on a quick one."""
    made = 0

    def count(frame: object, event: str, arg: object) -> None:
        nonlocal made
        made += event in ("call", "c_call")

    work()  # what is made once is not counted
    before = sys.getprofile()
    sys.setprofile(count)
    try:
        work()
    finally:
        sys.setprofile(before)
    return made


def test_page_and_paper_cost_little_beyond_the_computation(long_report: Report) -> None:
    page = _calls(lambda: render_html(long_report, Translator()))
    paper = _calls(lambda: render_pdf(long_report, Translator()))
    assert page < 70_000 and paper < 52_000, (page, paper)


def test_the_page_is_small(long_report: Report) -> None:
    page = render_html(long_report, Translator()).encode()
    assert len(page) < 600_000
    assert len(gzip.compress(page)) < 150_000
