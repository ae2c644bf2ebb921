"""What a report costs beyond the computation: 50 ms for the page, 200 ms for the paper of 300 km.

Bars are in millions of additions in plain Python, timed in the same run, and hold as soon as one of
several runs is quick enough: other work on the machine slows the test down but does not fail it.
"""

from __future__ import annotations

import gzip
import re
from collections.abc import Callable
from pathlib import Path

import pytest

import terrain
from terrain.report.html import render_html
from terrain.report.paper.typeset import render_pdf
from terrain.text.translator import Translator
from terrain.values.report import Report
from tests.bench.report import a_million_additions, forget_papers, least_s
from tests.report.conftest import DEPART, STAMP

_LOOP_MS = 37.0  # a million additions on the machine that the bars were set on
_TRIES = 6


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


def _holds(
    work: Callable[[], object], bar_ms: float, between: Callable[[], object] = lambda: None
) -> bool:
    """Whether the work takes no longer than a bar, set at 300 km, allows on this machine."""
    return any(
        least_s(work, 3, between=between)[1]
        <= bar_ms / _LOOP_MS * least_s(a_million_additions, 2)[1]
        for _ in range(_TRIES)
    )


def test_the_page_costs_little_beyond_the_computation(long_report: Report) -> None:
    facts = long_report.to_dict()
    assert _holds(lambda: render_html(long_report, Translator(), facts=facts), 50.0)


def test_the_paper_costs_little_beyond_the_computation(long_report: Report) -> None:
    facts = long_report.to_dict()
    assert _holds(lambda: render_pdf(long_report, Translator(), facts=facts), 200.0, forget_papers)


def test_the_page_is_small(long_report: Report) -> None:
    page = render_html(long_report, Translator()).encode()
    assert len(page) < 600_000
    assert len(gzip.compress(page)) < 150_000
