"""Every page for those who cannot see it or use no mouse: axe in three voices; keys alone."""

from __future__ import annotations

import re
import shutil
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from terrain.web.settings import WebSettings
from tests.web.conftest import PASSWORD
from tests.web.live import WHO, live_desk

playwright = pytest.importorskip("playwright.sync_api", reason="playwright is not installed")
axe_core = pytest.importorskip("axe_core_python", reason="axe-core-python is not installed")
_CHROMIUM = shutil.which("chromium")
pytestmark = pytest.mark.skipif(_CHROMIUM is None, reason="Chromium is not installed here")
SIZES = {"phone": (360, 740), "desktop": (1200, 860)}
_STAFF = ("/desk", "/desk/new", "/desk/b/K1", "/desk/b/K1?open=details", "/desk/b/K1/riders",
          "/desk/b/K1/mail/1", "/desk/b/K1/sheet/1", "/desk/b/K1/report/1", "/desk/b/K1/incidents",
          "/desk/questions", "/desk/notes", "/desk/helpers", "/desk/bikes", "/desk/letters",
          "/desk/import", "/desk/deleted", "/desk/people", "/desk/audit", "/season", "/account",
          "/desk/nowhere")  # fmt: skip
_GUIDE = ("/guide", "/guide/1", "/guide/1/report")
_RIDER = ("", "/change", "/draw", "/ride")
# Whether a page is readable by machine: WCAG 2.1 A and AA, and that all lies within landmarks, by
# axe-core's own ranks of harm.
_AXE = Path(axe_core.__file__).with_name("axe.min.js")
# Paths to each element that is in order would be a third of its work.
_RUN = """async () => (await axe.run(document, {runOnly: ["wcag2a", "wcag2aa", "wcag21aa"],
    rules: {"region": {enabled: true}, "landmark-unique": {enabled: true}},
    resultTypes: ["violations"], selectors: false}))
  .violations.filter(x => ["moderate", "serious", "critical"].includes(x.impact))
  .map(x => x.id + ": " + x.nodes.slice(0, 3).map(n => n.html).join(", "))"""


@pytest.fixture(scope="module")
def url(island_home: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    settings = WebSettings(
        home=island_home, data=tmp_path_factory.mktemp("desk"), region="island", workers=0,
        sign_ins_per_minute=1000,
    )  # fmt: skip
    with live_desk(settings) as where:
        yield where


@pytest.fixture(scope="module")
def browser() -> Iterator[Any]:
    with playwright.sync_playwright() as p:
        chromium = p.chromium.launch(executable_path=_CHROMIUM, args=["--no-sandbox"])
        yield chromium
        chromium.close()


@pytest.fixture(scope="module")
def link(url: str, browser: Any, island_home: Path) -> str:
    """The rider's link of a booking that is made, sent and answered with the keyboard alone."""
    desk = browser.new_page(viewport={"width": 1200, "height": 860})
    desk.goto(url + "/desk/new")
    _tab_to(desk, "[name=name]")
    desk.keyboard.type(WHO)
    _tab_to(desk, "[name=password]")
    desk.keyboard.type(PASSWORD)
    _press(desk)
    for field, text in (("ref", "K1"), ("customer", "Ada Rill"), ("email", "ada@rides.example")):
        _tab_to(desk, f"[name={field}]")
        desk.keyboard.type(text)
    _tab_to(desk, "main form button")
    _press(desk)
    found = str(desk.input_value("#the-link"))

    rider = browser.new_page(viewport={"width": 1200, "height": 860})
    # Listened for from the start: a chooser that opens at once would be missed now and then.
    rider.on("filechooser", lambda _: None)
    rider.goto(found)
    _tab_to(rider, "#files")
    with rider.expect_file_chooser() as chooser:
        rider.keyboard.press("Space")
    chooser.value.set_files(island_home / "demo" / "routes" / "high-tracks.gpx")
    _tab_to(rider, "[name=rider]")
    rider.keyboard.type("some")
    _tab_to(rider, "main form button:not(.link)")
    _press(rider)
    rider.wait_for_selector(".ask-part", timeout=180_000)
    before = rider.inner_text("h1")
    for n in range(rider.locator(".ask-part").count()):
        _tab_to(rider, f".ask-part:nth-of-type({n + 1}) input")
        # The choices of a part are one stop: keep, leave out, not sure.
        rider.keyboard.press("Space")
        if "there and back" in rider.locator(".ask-part").nth(n).inner_text():
            rider.keyboard.press("ArrowDown")
    assert rider.locator(".ask-part input[value=leave]:checked").count() >= 1
    _tab_to(rider, "button.ask-send")
    _press(rider)
    rider.wait_for_selector(".desk-bar", timeout=180_000)
    assert "eft out as asked" in rider.content() and rider.inner_text("h1") != before
    rider.close()
    desk.close()
    return found


def _press(page: Any) -> None:
    with page.expect_navigation():
        page.keyboard.press("Enter")


def _tab_to(page: Any, what: str, most: int = 120) -> None:
    """Go on with the tabulator until it stands on this, as whoever has no mouse does."""
    for _ in range(most):
        page.keyboard.press("Tab")
        if page.evaluate("what => document.activeElement.matches(what)", what):
            ring = page.evaluate("getComputedStyle(document.activeElement).outlineStyle")
            assert ring != "none", f"nothing shows where {what} has the focus"
            return
    raise AssertionError(f"{what} cannot be reached by keys")


def _signed_in(browser: Any, url: str, size: str, scheme: str) -> Any:
    width, height = SIZES[size]
    page = browser.new_page(viewport={"width": width, "height": height}, color_scheme=scheme)
    page.goto(url + "/sign-in")
    page.fill("[name=name]", WHO)
    page.fill("[name=password]", PASSWORD)
    with page.expect_navigation():
        page.click("main button")
    return page


def _findings(page: Any, path: str, voices: list[tuple[str, str]]) -> list[str]:
    """What axe finds on a page in each size and scheme; opened once, for that is half the cost."""
    page.emulate_media(color_scheme=voices[0][1])
    answer = page.goto(path)
    assert answer.status == (404 if path.endswith("nowhere") else 200), path
    page.evaluate("document.querySelectorAll('details').forEach(x => { x.open = true; })")
    page.evaluate(_AXE.read_text(encoding="utf-8"))
    found = []
    for size, scheme in voices:
        width, height = SIZES[size]
        page.set_viewport_size({"width": width, "height": height})
        page.emulate_media(color_scheme=scheme)
        assert page.evaluate("window.innerWidth") == width
        found += [f"{path}, {size} {scheme}: {said}" for said in page.evaluate(_RUN)]
    return found


@pytest.mark.parametrize(
    "voices",
    [
        [("phone", "light"), ("desktop", "dark")],
        # The same styles in the other pairs.
        pytest.param([("phone", "dark"), ("desktop", "light")], marks=pytest.mark.bench),
    ],
)
def test_axe_finds_nothing_serious(
    browser: Any, url: str, link: str, voices: list[tuple[str, str]]
) -> None:
    page = _signed_in(browser, url, *voices[0])
    paths = [*(url + path for path in (*_STAFF, *_GUIDE)), *(link + path for path in _RIDER)]
    found = [said for path in paths for said in _findings(page, path, voices)]
    page.close()
    assert found == []
    # The search itself finds what is wrong, colours too.
    page = browser.new_page()
    page.set_content(
        '<html lang="en"><title>x</title><img src="x"><input>'
        '<p style="color: #999; background: #fff">pale</p></html>'
    )
    page.evaluate(_AXE.read_text(encoding="utf-8"))
    assert {said.partition(":")[0] for said in page.evaluate(_RUN)} == {
        "image-alt", "label", "color-contrast", "region",
    }  # fmt: skip
    page.close()


def test_the_handover_sheet_prints_on_one_page(browser: Any, url: str, link: str) -> None:
    """The sheet alone, on one page of A4 with its boxes to tick and its lines to sign."""
    page = _signed_in(browser, url, "desktop", "light")
    page.goto(url + "/desk/b/K1/sheet/1")
    assert page.locator("select[name=bike]").is_visible()
    printed = page.pdf(prefer_css_page_size=True)
    assert len(re.findall(rb"/Type\s*/Page\b", printed)) == 1
    assert re.search(rb"/MediaBox\s*\[0 0 59[45][.\d]* 84[12][.\d]*\]", printed)  # ISO 216: A4
    page.emulate_media(media="print")
    assert page.locator("header.bar, form, .trip").evaluate_all(
        "parts => parts.every(part => !part.getClientRects().length)"
    )
    assert page.locator(".sheet .ticks li i").count() >= 5
    assert page.locator(".sheet .signed .blank").count() == 3
    page.close()


def test_the_map_is_scrolled_by_keys(browser: Any, url: str, link: str) -> None:
    page = _signed_in(browser, url, "phone", "light")
    page.goto(url + "/desk/notes")
    _tab_to(page, ".mapbox")
    for _ in range(5):
        page.keyboard.press("ArrowRight")
    page.wait_for_function("document.querySelector('.mapbox').scrollLeft > 40")
    page.close()
