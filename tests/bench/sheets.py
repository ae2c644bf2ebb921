"""Pictures of reports for the eye: `python -m tests.bench.sheets OUT [WORD ...]`.

All rides that the looks are judged by, or those whose name holds one of the words: the sample
routes on the invented island, one of them on no date; ten rides of Andorra, a very short one, one
over closed ways, an open question, one without heights, one in the far north in December and one
of 3,000 km. Each as page on a desk and on a phone, light and dark, printed in grey, as paper, cards
and mail, and as text on a terminal. Needs Chromium, playwright and pdftoppm; rides of real maps
need the open data beside the checkout. HOME keeps their regions from one run to the next.
"""

from __future__ import annotations

import argparse
import shutil
import subprocess
import tarfile
import tempfile
from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import datetime
from pathlib import Path
from typing import Any

import numpy as np
from playwright.sync_api import sync_playwright

import terrain
from terrain.calc.paths import Piece, pieces_of_nodes
from terrain.calc.paths import line_of as line_of_pieces
from terrain.calc.search import RoadNet, node_seeds, search, walk
from terrain.demo.region import ensure_demo_region
from terrain.region.region import Region
from terrain.report.html import render_html
from terrain.report.mail import make_draft
from terrain.report.paper.card import render_card
from terrain.report.paper.typeset import render_pdf
from terrain.report.terminal import Style, render_summary
from terrain.text.translator import Translator, translator_for
from terrain.values.report import Report
from terrain.values.trip import Rider, Trip
from terrain.values.verdict import Audience
from tests.bench.trips import DATA, open_built, write_line

_SIZES = {"desk": (1280, 800), "phone": (390, 844)}
_ANDORRA = ("000", "001", "004", "005", "008", "009", "012", "013", "016", "017")
_DPI = 90


@dataclass(frozen=True, slots=True, kw_only=True)
class Sheet:
    """A ride to be looked at.

    points : of the line in the archive of known rides, "" for a line that is searched in the region
    """

    name: str
    region: str
    trip: Trip = field(default_factory=Trip)
    points: str = ""


def _at(month: int, day: int = 14, hour: int = 8) -> datetime:
    return datetime(2027, month, day, hour, 0)


SHEETS: tuple[Sheet, ...] = (
    *(
        Sheet(name=name, region="island",
              trip=Trip(depart=_at(3), rider=rider, wanted_class="road-tourer"))
        for name, rider in (
            ("coast-road", Rider.STEADY), ("few-points", Rider.STEADY),
            ("high-tracks", Rider.NOVICE), ("over-the-strait", Rider.EXPERT),
            ("valleys-and-passes", Rider.STEADY),
        )
    ),
    Sheet(name="undated-valleys-and-passes", region="island",
          trip=Trip(rider=Rider.NOVICE, pillion=True)),
    *(
        Sheet(name=f"andorra-{number}", region="andorra", points="clean50",
              trip=Trip(depart=_at(7), rider=tuple(Rider)[n % 3], guided=n % 2 == 1))
        for n, number in enumerate(_ANDORRA)
    ),
    Sheet(name="shortest", region="andorra", trip=Trip(depart=_at(5))),
    Sheet(name="forbidden", region="andorra", trip=Trip(depart=_at(10, 5))),
    Sheet(name="andorra-001-open", region="andorra", points="via5000",
          trip=Trip(depart=_at(5, 8, 9))),
    Sheet(name="no-heights", region="malta", trip=Trip(depart=_at(8))),
    Sheet(name="north-winter", region="faroe", trip=Trip(depart=_at(12, 15, 9))),
    Sheet(name="longest-3000-km", region="andorra", trip=Trip(depart=_at(6), guided=True)),
)  # fmt: skip


def line_of(sheet: Sheet, region: Region, home: Path) -> Path:
    """The ride's line as a GPX file in `home`."""
    if sheet.region == "island":
        return home / "demo" / "routes" / f"{sheet.name.removeprefix('undated-')}.gpx"
    path = home / "sheets" / f"{sheet.name}.gpx"
    path.parent.mkdir(exist_ok=True)
    if sheet.points:
        member = f"gpx/{sheet.name.removesuffix('-open')}.{sheet.points}.gpx"
        with tarfile.open(DATA / "match-truth" / "gpx.tar.gz") as archive:
            line = archive.extractfile(member)
            assert line is not None
            path.write_bytes(line.read())
        return path
    return write_line(path, *line_of_pieces(region.roads, _pieces(sheet.name, region)))


def _pieces(name: str, region: Region) -> Iterator[Piece]:
    """A searched ride: between places drawn by a fixed seed, one pair after the other."""
    roads, fields = region.roads, region.help
    length_m = roads.edge_length_m.astype(float)
    least_m = {"shortest": 600.0, "longest-3000-km": 3_000_000.0}.get(name, 40_000.0)
    usable, cost = fields.edge_emergency, length_m
    if name == "forbidden":  # what is closed looks short, so the ride seeks it
        usable, cost = np.ones(len(length_m), bool), np.where(fields.edge_open, 1.0, 0.2) * length_m
    there, back = (
        RoadNet(roads, usable, fields.edge_emergency_s.astype(float), reverse=reverse)
        for reverse in (False, True)
    )
    rng, ends, here = np.random.default_rng(7), np.empty(0, np.intp), 0
    while len(ends) < roads.n_nodes / 3:  # another start if it lies on a piece of its own
        here = int(rng.integers(roads.n_nodes))
        reached = [search(net.graph, cost, node_seeds([here])).cost for net in (there, back)]
        ends = np.flatnonzero(np.isfinite(sum(reached)))
    left_m = least_m
    while left_m > 0.0:
        found = search(there.graph, cost, node_seeds([here]))
        far = found.cost[ends]
        goals = ends[(far > min(least_m, 5_000.0)) & (far < max(2.0 * least_m, 5_000.0))]
        goal = int(rng.choice(goals))
        yield from pieces_of_nodes(roads, walk(found.before, goal)[::-1], usable, cost)
        left_m -= float(found.cost[goal])
        here = goal


def pictures(report: Report, translator: Translator, browser: Any, out: Path, stem: str) -> None:
    """All pictures of one report in one language, named by what they show."""
    text = render_html(report, translator, Audience.RIDER)
    for size, (width, height) in _SIZES.items():
        for scheme in ("light", "dark"):
            page = browser.new_page(
                viewport={"width": width, "height": height}, color_scheme=scheme
            )
            page.set_content(text)
            page.screenshot(path=out / f"{stem}-{size}-{scheme}.png", full_page=True)
            page.close()
    page = browser.new_page()
    page.set_content(text)
    printed = page.pdf(prefer_css_page_size=True, print_background=True)
    _pages(printed, out / f"{stem}-print-grey", "-gray")
    page.set_content(make_draft(report, translator).html)
    page.screenshot(path=out / f"{stem}-mail.png", full_page=True)
    page.close()
    _pages(render_pdf(report, translator), out / f"{stem}-paper")
    _pages(render_card(report, translator), out / f"{stem}-card")
    (out / f"{stem}.txt").write_text(render_summary(report, translator, Style()), encoding="utf-8")


def _pages(pdf: bytes, stem: Path, *options: str) -> None:
    """A picture of each page."""
    command = ["pdftoppm", "-png", "-r", str(_DPI), *options, "-", str(stem)]
    subprocess.run(command, input=pdf, check=True, stderr=subprocess.DEVNULL)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("out", type=Path)
    parser.add_argument("words", nargs="*", help="of the names of the rides; all without")
    parser.add_argument("--lang", default="en,es,fr", help="codes with commas")
    parser.add_argument("--home", type=Path, help="keeps regions and lines")
    asked = parser.parse_intermixed_args()
    asked.out.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory() as folder, sync_playwright() as driver:
        home = asked.home or Path(folder)
        ensure_demo_region(home)
        path = shutil.which("chromium") or shutil.which("chromium-browser")
        browser = driver.chromium.launch(executable_path=path, args=["--no-sandbox"])
        for sheet in SHEETS:
            if asked.words and not any(word in sheet.name for word in asked.words):
                continue
            if sheet.region != "island" and not DATA.is_dir():
                print(f"{sheet.name}: no open data beside this checkout", flush=True)
                continue
            report = report_of(sheet, home)
            print(f"{sheet.name}: {report.verdict.headline}", flush=True)
            for lang in asked.lang.split(","):
                stem = f"{sheet.name}-{lang}"
                pictures(report, translator_for(lang), browser, asked.out, stem)
        browser.close()


def report_of(sheet: Sheet, home: Path) -> Report:
    """The report on a ride, its region built in `home` if it is not there."""
    island = sheet.region == "island"
    region = terrain.open_region("island", home) if island else open_built(sheet.region, home)
    return terrain.assess(terrain.read_route(line_of(sheet, region, home)), region, sheet.trip)


if __name__ == "__main__":
    main()
