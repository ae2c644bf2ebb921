"""Whole journeys of rider, staff and guide in Chromium, on a phone and on a desk."""

from __future__ import annotations

import shutil
import time
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import pytest

from terrain.web.settings import WebSettings
from terrain.web.work import Made, Material, make_report
from tests.web.conftest import PASSWORD
from tests.web.live import live_desk

playwright = pytest.importorskip("playwright.sync_api", reason="playwright is not installed")
_CHROMIUM = shutil.which("chromium")
pytestmark = pytest.mark.skipif(_CHROMIUM is None, reason="Chromium is not installed here")
SIZES = {"phone": (360, 740), "desktop": (1200, 860)}


@dataclass
class Live:
    """A desk on loopback, with the real judging; a route judged before is not judged again."""

    url: str
    home: Path


@pytest.fixture(scope="module")
def live(island_home: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Live]:
    data = tmp_path_factory.mktemp("desk")
    settings = WebSettings(home=island_home, data=data, region="island", workers=0)
    made: dict[object, Made] = {}

    def once(material: Material, *rest: object) -> Made:
        key = (material.content, material.pins, material.decision, str(material.booking.depart))
        if key not in made:
            made[key] = make_report(material, *rest)  # type: ignore[arg-type]
        return made[key]

    with live_desk(settings, once) as url:
        yield Live(url, island_home)


@pytest.fixture(scope="module")
def chromium() -> Iterator[object]:
    with playwright.sync_playwright() as p:
        browser = p.chromium.launch(
            executable_path=_CHROMIUM, args=["--no-sandbox", "--disable-gpu", "--hide-scrollbars"]
        )
        yield browser
        browser.close()


@pytest.fixture(params=SIZES)
def page(request: pytest.FixtureRequest, chromium: object) -> Iterator[object]:
    """A page that may say nothing wrong to the console, nor be wider than its screen."""
    width, height = SIZES[request.param]
    context = chromium.new_context(viewport={"width": width, "height": height})  # type: ignore[attr-defined]
    context.set_default_timeout(60_000)
    sheet = context.new_page()
    said: list[str] = []
    sheet.on("console", lambda m: said.append(m.text) if m.type in ("error", "warning") else None)
    sheet.on("pageerror", lambda error: said.append(str(error)))
    yield sheet
    context.close()
    assert said == []


def _follow(page: object, what: str) -> None:
    """Press what leads to another page, and wait until that page stands."""
    with page.expect_navigation():  # type: ignore[attr-defined]
        page.click(what)  # type: ignore[attr-defined]


def _fits(page: object) -> None:
    wide = page.evaluate("document.documentElement.scrollWidth - window.innerWidth")  # type: ignore[attr-defined]
    assert wide <= 0, page.url  # type: ignore[attr-defined]


def test_from_booking_to_mail_draft_and_plan(live: Live, page) -> None:  # type: ignore[no-untyped-def]
    """Staff make a booking, the rider sends the route, staff draft the mail, the plan is moved."""
    page.goto(live.url + "/desk")
    page.fill("[name=name]", "robin")
    page.fill("[name=password]", PASSWORD)
    _follow(page, "main button")
    _fits(page)
    _follow(page, "text=New booking")
    ref = f"B{time.time_ns() % 10**9}"
    page.fill("[name=ref]", ref)
    page.fill("[name=email]", "ada@rill.example")
    page.fill("[name=wanted]", "road-tourer")
    _follow(page, "main form button")
    link = page.input_value("#the-link")
    _fits(page)

    # The rider, who is not signed in.
    rider = page.context.browser.new_context(viewport=page.viewport_size).new_page()
    rider.goto(link)
    _fits(rider)
    rider.set_input_files("#files", live.home / "demo" / "routes" / "coast-road.gpx")
    rider.fill("[name=depart]", "2027-04-14T07:30")
    rider.select_option("[name=rider]", "steady")
    rider.click("main form button >> nth=0")
    rider.wait_for_selector(".desk-bar, .fault", timeout=120_000)
    assert rider.locator(".fault").count() == 0, rider.text_content("main")
    assert "Road setup" in rider.text_content("h1")
    # The report's own script runs under the rule of its page.
    rider.click("#h-table button.fold")  # the table of sections
    rider.click("tr[data-s] >> nth=0")
    assert rider.locator("#told.on").count() == 1
    with rider.expect_download() as paper:
        rider.click(".desk-bar >> text=PDF")
    assert paper.value.suggested_filename == f"{ref}-report.pdf"
    rider.context.close()

    page.goto(f"{live.url}/desk/b/{ref}")
    assert "Booked road tourer, as advised." in page.text_content("main")
    _fits(page)
    _follow(page, "text=The whole text")
    assert "ada@rill.example" in page.text_content("main")
    assert "Hello," in page.input_value("#draft")
    _fits(page)
    with page.expect_download() as draft:
        page.click("text=Download the draft")
    assert draft.value.suggested_filename.endswith(".eml")
    _follow(page, "text=I sent the answer")
    assert page.input_value("select[name=state]") == "answered"

    _follow(page, "text=plan by day")
    _fits(page)
    page.click("text=Add a stop")
    page.fill("[name='stop_km.1']", "30")
    page.select_option("[name='stop_kind.1']", "lunch")
    page.fill("[name='stop_name.1']", "Mill bridge")
    page.click("text=Keep and reckon again")
    page.wait_for_selector("td:has-text('yours'), .fault", timeout=120_000)
    assert "Mill bridge" in page.text_content(".foot")
    with page.expect_download() as card:
        page.click("text=Sheet for the tank bag")
    assert card.value.suggested_filename == f"{ref}-card.pdf"


def test_notes_are_put_on_the_map(live: Live, page) -> None:  # type: ignore[no-untyped-def]
    page.goto(live.url + "/desk/notes")
    page.fill("[name=name]", "robin")
    page.fill("[name=password]", PASSWORD)
    _follow(page, "main button")
    _fits(page)
    page.locator("svg.map").scroll_into_view_if_needed()
    box = page.locator("[data-map]").bounding_box()
    page.mouse.click(box["x"] + 120, box["y"] + 150)
    page.mouse.click(box["x"] + 160, box["y"] + 150)
    assert page.input_value("[name=points]").count(";") == 1
    page.click("[data-undo]")
    assert page.input_value("[name=points]").count(";") == 0
    page.select_option("[name=ground]", "track")
    page.fill("[name=remark]", "deep ruts")
    _follow(page, "text=Keep the note")
    page.wait_for_selector("td:has-text('deep ruts')")
    _fits(page)
