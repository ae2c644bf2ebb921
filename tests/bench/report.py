"""What one report costs beyond the computation: processor time and size of page and paper.

Run by hand: python -m tests.bench.report REGION ROUTE [ROUTE ...]. Each ride is written in a
process of its own, so that the first page and paper hold what is made once; `least` is the best of
seven later ones, the paper set anew each time. `loop` is a million additions in plain Python in the
same process: compare ratios to it, not milliseconds, between machines.
"""

from __future__ import annotations

import gzip
import multiprocessing
import re
import sys
import time
from collections.abc import Callable

import typst

import terrain
from terrain.report.html import render_html
from terrain.report.paper.typeset import render_pdf
from terrain.text.translator import Translator


def a_million_additions() -> int:
    """The unit of the bars: 37 ms on the machine that they were set on."""
    total = 0
    for k in range(1_000_000):
        total += k
    return total


def least_s(
    work: Callable[[], object], times: int = 7, *, between: Callable[[], object] = lambda: None
) -> tuple[float, float]:
    """Processor time of the first and of the quickest later run [s].

    between : done before each run, its time not counted
    """
    spent = []
    for _ in range(times + 1):
        between()
        start = time.process_time()
        work()
        spent.append(time.process_time() - start)
    return spent[0], min(spent[1:])


def forget_papers() -> None:
    """typst keeps what the last ten papers were made of; a new report finds nothing of its own."""
    for _ in range(11):
        typst.compile(b"#let nothing = none", format="pdf")


def _line(region: str, route: str) -> str:
    report = terrain.assess(terrain.read_route(route), terrain.open_region(region))
    start = time.process_time()
    report.to_dict()
    told_s = time.process_time() - start
    translator = Translator()

    html_s = least_s(lambda: render_html(report, translator))
    paper_s = least_s(lambda: render_pdf(report, translator), between=forget_papers)
    loop_s = least_s(a_million_additions)[1]
    page = render_html(report, translator).encode()
    pdf = render_pdf(report, translator)
    figures = [report.assessed.match.length_m / 1000, 1000 * loop_s, 1000 * told_s]
    for first, least in (html_s, paper_s):
        figures += [1000 * first, 1000 * least, least / loop_s]
    figures += [len(page) / 1000, len(gzip.compress(page)) / 1000, len(pdf) / 1000]
    return "  ".join(f"{value:6.1f}" for value in figures) + f"  {_pages(pdf):5d}  {route}"


def _pages(pdf: bytes) -> int:
    """By the page tree's own count, the largest /Count of the file."""
    return max(map(int, re.findall(rb"/Count (\d+)", pdf)), default=0)


def main(region: str, routes: list[str]) -> None:
    head = (
        "km",
        "loop",
        "facts",
        "html 1",
        "least",
        "/loop",
        "pdf 1",
        "least",
        "/loop",
        "kB",
        "gz kB",
    )
    print("  ".join(f"{name:>6}" for name in (*head, "pdf kB", "pages")), " ms unless said")
    for route in routes:
        with multiprocessing.get_context("spawn").Pool(1) as pool:
            print(pool.apply(_line, (region, route)), flush=True)


if __name__ == "__main__":
    if len(sys.argv) < 3:
        sys.exit(__doc__)
    main(sys.argv[1], sys.argv[2:])
