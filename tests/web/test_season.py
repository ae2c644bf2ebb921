"""The season: what is out on each day, and what it needs."""

from __future__ import annotations

import json
import re
import shutil
from pathlib import Path

import pytest
import sqlalchemy as sa
from starlette.testclient import TestClient

from terrain.values.verdict import FindingKind, Rank, RidePart
from terrain.web import schema
from terrain.web.app import create_app
from terrain.web.summary import Needs
from terrain.web.work import _needs as _needs_of
from terrain.web.work import make_report
from terrain.web.worker import Worker
from tests.report.sample import typed
from tests.stages.advice.trips import rider_heat
from tests.web.conftest import Office, on_both, replace


def _day(page: str, title: str) -> str:
    """The table's part for one day, as it reads."""
    part = page.partition(title)[2].partition("</tbody>")[0]
    return " ".join(re.sub(r"<[^>]+>", " ", part).replace("&nbsp;", " ").split())


def _needs(office: Office, ref: str, **told: object) -> None:
    """Let a booking's report say what its ride needs."""
    with office.db.write() as conn:
        mine = sa.select(schema.bookings.c.id).where(schema.bookings.c.ref == ref).scalar_subquery()
        row = conn.execute(
            sa.select(schema.reports).where(schema.reports.c.booking_id == mine)
        ).one()
        summary = {**json.loads(row.summary), **told}
        conn.execute(
            schema.reports.update()
            .where(schema.reports.c.id == row.id)
            .values(summary=json.dumps(summary))
        )


def _rider(setup: str) -> dict[str, object]:
    return {"name": "x", "riding_s": 1.0, "hard": [], "edge": [], "may_go": True, "setup": setup}


@on_both
def test_each_day_says_what_it_needs(office: Office) -> None:
    # 3 May 2027 is a Monday. Source: ISO 8601 week date 2027-W18-1.
    office.send(office.booking("A1", starts_on="2027-05-03", ends_on="2027-05-05"))
    office.send(office.booking("A2", starts_on="2027-05-04"))
    office.booking("A3", starts_on="2027-05-04")
    office.booking("A4", starts_on="2027-09-04")
    staff = office.as_role("staff")
    staff.post("/desk/b/A1", {"rider": "steady", "luggage": "soft", "guided": "yes"})
    office.work()
    _needs(office, "A1", setup="off-road", needs={"van": True, "hot_c": 36.0, "shut_m": 0})
    _needs(office, "A2", forbidden=["Closed."], needs={"van": False, "hot_c": None, "shut_m": 1200},
           group=[_rider("road"), _rider("off-road")])  # fmt: skip
    page = staff.get("/season?since=2027-05-01&weeks=1").text
    assert "A4" not in page and "Sunday" not in page
    monday = _day(page, "Monday, 3 May 2027")
    assert monday.startswith("1 off-road; one with a guide; one with a van; one in the heat")
    assert "day 1 of 3" in monday and "36 °C" in monday.replace("\xa0", " ")
    tuesday = _day(page, "Tuesday, 4 May 2027").replace("\xa0", " ")
    assert tuesday.startswith("1 road, 2 off-road, 1 not read yet;")
    assert "one over closed roads; one must not go as it is" in tuesday
    assert "1.2 km" in tuesday and "not known yet" in tuesday
    assert "day 3 of 3" in _day(page, "Wednesday, 5 May 2027")
    # Guides see it too, without names; a day that is none is today.
    guide = office.as_role("guide")
    assert guide.get("/season?since=never&weeks=99999999999999").status_code == 200
    assert office.client.get("/season").status_code == 303


_PAPER = (794, 53)  # A4 and its margin of 14 mm, in CSS pixels of 1/96 inch (CSS Values 4)
_PRINTED = """() => {
  const shown = what => [...document.querySelectorAll(what)].some(x => x.getClientRects().length);
  const broken = [];
  const walk = document.createTreeWalker(document.querySelector("main"), NodeFilter.SHOW_TEXT);
  for (let node; (node = walk.nextNode());) {
    for (const word of node.data.matchAll(/[^ \\n]+/g)) {
      const range = document.createRange();
      range.setStart(node, word.index);
      range.setEnd(node, word.index + word[0].length);
      if (range.getClientRects().length > 1) { broken.push(word[0]); }
    }
  }
  const tops = [...document.querySelectorAll(".season tr:not(.day)")].map(
    row => new Set([...row.cells].map(cell => cell.getBoundingClientRect().top)).size);
  return {controls: shown("header.bar, form, button, input"), broken,
          heads: shown(".season thead th"), tops: Math.max(...tops), rows: tops.length,
          wide: document.documentElement.scrollWidth}; }"""


def test_it_prints_as_the_table_alone(office: Office) -> None:
    """On A4 in three languages: no control, a row a ride with its columns, no word broken."""
    playwright = pytest.importorskip("playwright.sync_api", reason="playwright is not installed")
    chromium = shutil.which("chromium")
    if chromium is None:
        pytest.skip("Chromium is not installed here")
    for n in range(6):
        office.send(office.booking(f"A{n}", starts_on=f"2027-05-0{3 + n % 3}"))
    staff = office.as_role("staff")
    for n in range(6):
        staff.post(f"/desk/b/A{n}", {"rider": "steady", "luggage": "soft", "guided": "yes"})
    office.work()
    for n in range(6):
        _needs(office, f"A{n}", setup=("road", "off-road", "ask")[n % 3], forbidden=["Closed."],
               needs={"van": True, "hot_c": 36.0, "shut_m": 1200})  # fmt: skip
    look = office.client.get("/static/web.css").text
    with playwright.sync_playwright() as p:
        browser = p.chromium.launch(executable_path=chromium, args=["--no-sandbox"])
        page = browser.new_page(viewport={"width": _PAPER[0], "height": 1123})
        page.emulate_media(media="print")
        for lang, day in (("en", "Monday"), ("es", "Lunes"), ("fr", "Lundi")):
            staff.post("/account/language", {"lang": lang})
            text = staff.get("/season?since=2027-05-01&weeks=1").text
            assert day in text
            paper = f"body {{ padding: 0 {_PAPER[1]}px; }}"
            page.set_content(re.sub(r"<link [^>]*>|<script[^>]*></script>", "", text))
            page.add_style_tag(content=look + paper)
            told = page.evaluate(_PRINTED)
            assert told == {"controls": False, "broken": [], "heads": True, "tops": 1, "rows": 7,
                            "wide": _PAPER[0]}, lang  # fmt: skip
        browser.close()


def test_a_report_tells_the_needs(office: Office, island_home: Path) -> None:
    told = replace(office.settings, home=island_home, region="island")
    with TestClient(create_app(told), follow_redirects=False) as client:
        real = Office(told, client)
        link = real.booking(starts_on="2027-01-16")
        route = (island_home / "demo" / "routes" / "valleys-and-passes.gpx").read_bytes()
        real.send(link, route)
        staff = real.as_role("staff")
        staff.post("/desk/b/K1", {"rider": "steady", "luggage": "soft", "guided": "yes"})
        worker = Worker(real.db, told, make_report)
        while worker.once():
            pass
        with real.db.read() as conn:
            summary = json.loads(conn.execute(sa.select(schema.reports.c.summary)).scalar_one())
        needs = summary["needs"]
        assert needs["van"] is True  # led, with unpaved parts that a van meets before and after
        assert needs["hot_c"] is None or 20.0 < needs["hot_c"] < 50.0
        assert needs["shut_m"] == 0
        assert "16 January 2027" in staff.get("/season?since=2027-01-10").text


def test_an_engine_that_works_hard_in_the_cold_is_no_heat_and_snow_may_shut_a_road() -> None:
    base = typed()
    heat = replace(
        base.assessed.heat, rider=rider_heat(9.0, index_c=9.0, wbgt_c=8.0, riding_wbgt_c=7.0)
    )
    base = replace(base, assessed=replace(base.assessed, heat=heat))
    like = base.verdict.findings[0]

    def needs(*found: tuple[FindingKind, Rank, tuple[tuple[float, float], ...]]) -> Needs:
        made = tuple(
            replace(like, kind=kind, rank=rank,
                    parts=tuple(RidePart(from_m=a, to_m=b) for a, b in spans))
            for kind, rank, spans in found
        )  # fmt: skip
        return _needs_of(replace(base, verdict=replace(base.verdict, findings=made)))

    assert needs((FindingKind.ENGINE, Rank.CARE, ((0.0, 900.0),))).hot_c is None
    assert needs((FindingKind.HEAT, Rank.CARE, ((0.0, 900.0),))).hot_c == 9.0
    closed = (FindingKind.CLOSED, Rank.FORBIDDEN, ((1000.0, 1400.0),))
    snow = (FindingKind.SEASON, Rank.DANGER, ((1200.0, 5200.0),))
    soft = (FindingKind.SEASON, Rank.CARE, ((8000.0, 9000.0),))
    assert needs(closed, snow, soft).shut_m == 4200  # what is both counts once, soft is open
