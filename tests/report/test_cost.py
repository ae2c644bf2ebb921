"""What a report of 300 km costs beyond the computation: calls made for page and paper, and size.

The milliseconds are told by `python -m tests.bench.report`.
"""

from __future__ import annotations

import gzip
import sys
from collections.abc import Callable

from terrain.report.html import render_html
from terrain.report.paper.typeset import render_pdf
from terrain.text.translator import Translator
from terrain.values.report import Report


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
    assert page < 62_000 and paper < 52_000, (page, paper)


def test_the_page_is_small(long_report: Report) -> None:
    page = render_html(long_report, Translator()).encode()
    assert len(page) < 600_000
    assert len(gzip.compress(page)) < 150_000
