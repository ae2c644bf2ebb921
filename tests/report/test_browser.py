"""The page in a real browser, one process for all tests: quiet, without requests or scripts of a
name, accessible (axe-core, WCAG 2.1 A and AA), nothing wider than the screen, no label on another,
the same without scripts, linked by pointer, finger and keys."""

from __future__ import annotations

import shutil
from collections.abc import Callable, Iterator
from importlib.util import find_spec
from pathlib import Path
from typing import Any

import pytest

from terrain.report.html import render_html
from terrain.text.figures import Units
from terrain.text.translator import Translator, translator_for
from terrain.values.report import Report
from terrain.values.verdict import Audience
from tests.report.conftest import SAMPLES
from tests.report.hostile import NAMES
from tests.report.renamed import renamed

playwright = pytest.importorskip("playwright.sync_api", reason="playwright is not installed")
_CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser")
pytestmark = pytest.mark.skipif(_CHROMIUM is None, reason="no Chromium on this machine")

_PHONE, _DESK = (360, 740), (1280, 800)


class Viewer:
    """Opens pages from files in one browser; keeps what they asked for and what they logged."""

    def __init__(self, browser: Any, folder: Path) -> None:
        self.browser, self.folder = browser, folder
        self.contexts: list[Any] = []
        self.asked: list[str] = []
        self.logged: list[str] = []

    def open(self, text: str, size: tuple[int, int] = _DESK, **options: Any) -> Any:
        path = self.folder / "page.html"
        path.write_text(text, encoding="utf-8")
        context = self.browser.new_context(
            viewport={"width": size[0], "height": size[1]}, **options
        )
        self.contexts.append(context)
        page = context.new_page()
        self.asked, self.logged = [], []
        page.on("request", lambda request: self.asked.append(request.url))
        page.on("console", lambda message: self.logged.append(message.text))
        page.on("pageerror", lambda error: self.logged.append(str(error)))
        page.goto(path.as_uri())
        return page

    def close(self) -> None:
        for context in self.contexts:
            context.close()


def _sized(page: Any, *sizes: tuple[int, int]) -> Iterator[tuple[int, int]]:
    """One page on screens of several sizes: much cheaper than to open it for each."""
    for size in sizes:
        page.set_viewport_size({"width": size[0], "height": size[1]})
        assert page.evaluate("window.innerWidth") == size[0]
        yield size


@pytest.fixture(scope="module")
def _browser() -> Iterator[Any]:
    with playwright.sync_playwright() as driver:
        browser = driver.chromium.launch(executable_path=_CHROMIUM, args=["--no-sandbox"])
        yield browser
        browser.close()


@pytest.fixture
def viewer(_browser: Any, tmp_path: Path) -> Iterator[Viewer]:
    opens = Viewer(_browser, tmp_path)
    yield opens
    opens.close()


@pytest.fixture(scope="module")
def pages(sample_report: Callable[[str], Report]) -> dict[str, str]:
    """A page for each sample route: every language, audience and system of units is among them."""
    told = {
        "coast-road": (translator_for("en"), Audience.RIDER),
        "few-points": (translator_for("es", Units.IMPERIAL), Audience.STAFF),
        "high-tracks": (translator_for("en"), Audience.GUIDE),
        "over-the-strait": (translator_for("fr"), Audience.RIDER),
        "valleys-and-passes": (translator_for("es"), Audience.GUIDE),
    }
    return {name: render_html(sample_report(name), *told[name]) for name in SAMPLES}


@pytest.fixture(scope="module")
def opened(
    _browser: Any, pages: dict[str, str], tmp_path_factory: pytest.TempPathFactory
) -> Iterator[dict[str, tuple[Viewer, Any]]]:
    """Each page as it opened, with what it asked for, for tests that change its size alone."""
    viewers = {name: Viewer(_browser, tmp_path_factory.mktemp(name)) for name in pages}
    yield {name: (viewer, viewer.open(pages[name])) for name, viewer in viewers.items()}
    for viewer in viewers.values():
        viewer.close()


@pytest.fixture(scope="module")
def hostile(sample_report: Callable[[str], Report]) -> str:
    report = sample_report("valleys-and-passes")
    named = renamed(report, "Averyveryvery" * 20, *NAMES, title=" ".join(NAMES))
    return render_html(named, Translator())


def test_pages_are_quiet_and_ask_for_nothing(opened: dict[str, tuple[Viewer, Any]]) -> None:
    for viewer, _ in opened.values():
        assert viewer.logged == []
        assert [url for url in viewer.asked if not url.startswith("file:")] == []
        assert len(viewer.asked) == 1


def test_no_name_runs_as_script(viewer: Viewer, hostile: str) -> None:
    page = viewer.open(hostile)
    assert viewer.logged == []
    assert len(viewer.asked) == 1
    assert page.title().startswith("<script>document.title='owned'")
    assert page.locator("iframe, base, img").count() == 0
    assert page.locator("script").count() == 1


_AXE_RUN = """() => axe.run(document, {runOnly: {type: "tag", values:
  ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "best-practice"]}, selectors: false,
  resultTypes: ["violations"]}).then(found =>
  found.violations.map(v => [v.id, v.impact, v.nodes.slice(0, 3).map(n => n.html)]))"""


@pytest.mark.parametrize("name", ["few-points", "over-the-strait"])
def test_axe_finds_nothing_serious(name: str, viewer: Viewer, pages: dict[str, str]) -> None:
    spec = find_spec("axe_core_python")
    if spec is None or spec.origin is None:
        pytest.skip("axe-core is not installed (pip install axe-core-python)")
    axe = (Path(spec.origin).parent / "axe.min.js").read_text(encoding="utf-8")
    # The page's own policy lets scripts of the page run, and axe is put into it.
    page = viewer.open(pages[name])
    page.add_script_tag(content=axe)
    for size in _sized(page, _PHONE, _DESK):
        for scheme in ("light", "dark"):
            page.emulate_media(color_scheme=scheme)
            _unfold(page)
            found = page.evaluate(_AXE_RUN)
            assert [v for v in found if v[1] in ("serious", "critical")] == [], (size, scheme)


_TOO_WIDE = """() => { const most = document.documentElement.clientWidth + 1;
  return [...document.querySelectorAll("main *, header *, footer *")].filter(e =>
    !e.closest("svg, .scroll, thead") && e.getBoundingClientRect().right > most)
    .map(e => e.tagName + " " + e.textContent.slice(0, 60)); }"""


def test_nothing_is_wider_than_the_screen(
    viewer: Viewer, opened: dict[str, tuple[Viewer, Any]], hostile: str
) -> None:
    for page in [*(page for _, page in opened.values()), viewer.open(hostile)]:
        for size in _sized(page, _PHONE, (390, 844), (768, 1024), _DESK):
            assert page.evaluate(_TOO_WIDE) == [], size
            assert page.evaluate("document.documentElement.scrollWidth") <= size[0]


# Letters as the browser sets them, not as we guess them; a pixel of their boxes is air.
_ON_EACH_OTHER = """svg => { const boxes = [...svg.querySelectorAll("text")].map(t =>
    [t.textContent, t.getBoundingClientRect(), getComputedStyle(t).display]).filter(b =>
    b[2] !== "none");
  const found = [];
  for (let i = 0; i < boxes.length; i++) for (let k = i + 1; k < boxes.length; k++) {
    const [a, b] = [boxes[i][1], boxes[k][1]];
    const wide = Math.min(a.right, b.right) - Math.max(a.left, b.left);
    const tall = Math.min(a.bottom, b.bottom) - Math.max(a.top, b.top);
    if (wide > 2 && tall > 3.5) found.push([boxes[i][0], boxes[k][0], wide, tall]);
  } return found; }"""


def test_no_label_lies_on_another(opened: dict[str, tuple[Viewer, Any]]) -> None:
    for name, (_, page) in opened.items():
        for size in _sized(page, _PHONE, _DESK):
            drawings = page.locator("svg.strip, svg.downward, svg.map").all()
            shown = [svg for svg in drawings if svg.is_visible()]
            assert len(shown) >= 2
            for svg in shown:
                assert svg.evaluate(_ON_EACH_OTHER) == [], (name, size)


# A fold may stand within another: what shows is opened until none is left.
_UNFOLD = """() => { for (let n = 0; ; n++) {
  const shown = [...document.querySelectorAll('button[aria-expanded="false"]')]
    .find(button => button.getClientRects().length);
  if (!shown) return n;
  shown.click(); } }"""


def _unfold(page: Any) -> int:
    """Opens all that stands folded; returns how many parts did."""
    return int(page.evaluate(_UNFOLD))


def test_all_but_what_comes_first_is_folded(viewer: Viewer, pages: dict[str, str]) -> None:
    """Verdict, shares, diagram, map and cautions stand open; the rest waits for a finger."""
    for size in (_PHONE, _DESK):
        page = viewer.open(pages["coast-road"], size)
        folded_px = page.evaluate("document.documentElement.scrollHeight")
        assert not page.locator("table.sections").is_visible()
        assert page.locator("section.part").first.locator("li").first.is_visible()
        page.keyboard.press("Tab")
        while page.evaluate("document.activeElement.parentElement.id") != "h-table":
            page.keyboard.press("Tab")
        page.keyboard.press("Enter")
        assert page.locator("table.sections").is_visible()
        assert _unfold(page) >= 5
        assert page.evaluate("document.documentElement.scrollHeight") > 1.7 * folded_px


def test_a_long_ride_is_short_on_a_phone_and_folds_nothing_that_hurts(
    viewer: Viewer, long_report: Report
) -> None:
    """Half of the 6,624 px that this ride took before its days and its map were folded, and a row
    for the way round that decides it; what it asks comes on top."""
    text = render_html(long_report, Translator())
    page = viewer.open(text, (390, 844))
    asks = page.locator("section:has(.answers)").evaluate_all(
        "all => all.reduce((sum, x) => sum + x.getBoundingClientRect().height, 0)"
    )
    height = page.evaluate("document.documentElement.scrollHeight")
    assert height - asks <= 6_624 / 2 + 60
    assert not page.locator("svg.downward").first.is_visible()
    assert not page.locator("svg.map.small").is_visible()
    hurts = page.locator("h1, .answers, .found .told, #more li, #p-cautions > div > ul > li").all()
    assert len(hurts) > 10 and all(told.is_visible() for told in hurts)
    _unfold(page)
    assert page.locator("svg.downward").first.is_visible()
    assert page.locator("svg.map.small").is_visible()
    desk = viewer.open(text, _DESK)
    assert desk.locator("svg.map.large").is_visible()
    assert desk.locator("svg.strip").first.is_visible()


def test_a_folded_part_opens_for_paper_and_for_a_link_into_it(
    viewer: Viewer, pages: dict[str, str]
) -> None:
    page = viewer.open(pages["coast-road"], _PHONE)
    row = page.locator("#s2")
    assert not row.is_visible()
    page.evaluate("location.hash = 's2'")
    row.wait_for(state="visible", timeout=5000)
    again = viewer.open(pages["coast-road"], _PHONE)
    again.emulate_media(media="print")
    again.evaluate("window.dispatchEvent(new Event('beforeprint'))")
    assert again.locator("#s2").is_visible()


def test_without_scripts_everything_is_there(viewer: Viewer, pages: dict[str, str]) -> None:
    """A mail client shows the file and runs nothing."""
    for size in (_PHONE, _DESK):
        plain = viewer.open(pages["high-tracks"], size, java_script_enabled=False)
        told = plain.locator("body").inner_text().split()
        scripted = viewer.open(pages["high-tracks"], size)
        _unfold(scripted)
        assert told == scripted.locator("body").inner_text().split()
        heights = plain.locator(
            "main h2:not(.hidden), main h3, main li:not(.spots li), "
            "main p:not(.diagram, .down p), main tbody tr"
        ).evaluate_all("all => all.map(e => e.getBoundingClientRect().height)")
        assert len(heights) > 50
        assert min(heights) >= 10


def _marked(page: Any) -> set[str]:
    found = page.locator(".on[data-s]").all()
    return {f"{e.evaluate('e => e.tagName')} {e.get_attribute('data-s')}" for e in found}


def test_pointer_links_diagram_map_and_table(viewer: Viewer, pages: dict[str, str]) -> None:
    page = viewer.open(pages["high-tracks"])
    page.locator("svg.strip rect.hit").first.hover()
    assert _marked(page) == {"rect 1", "use 1", "TR 1"}
    told = page.locator("#told")
    assert told.inner_text() == page.locator("#s1").get_attribute("data-told")
    page.locator("#h-table .fold").click()
    page.locator("#s3").hover()
    assert _marked(page) == {"rect 3", "use 3", "TR 3"}


def test_finger_links_diagram_map_and_table(viewer: Viewer, pages: dict[str, str]) -> None:
    page = viewer.open(pages["high-tracks"], _PHONE, has_touch=True, is_mobile=True)
    page.locator("svg.downward rect.hit").first.tap()
    assert _marked(page) == {"rect 1", "use 1", "TR 1"}
    assert page.locator("#told").is_visible()
    page.locator("#h-table .fold").tap()
    page.locator("#s2").tap()
    assert _marked(page) == {"rect 2", "use 2", "TR 2"}


def test_keys_link_diagram_map_and_table(viewer: Viewer, pages: dict[str, str]) -> None:
    page = viewer.open(pages["high-tracks"])
    sections = page.locator("tr[data-s]").count()
    for box in page.locator("[data-keys]").all():
        box.focus()
        page.keyboard.press("ArrowRight")
        first = page.locator("tr.on").get_attribute("data-s")
        page.keyboard.press("ArrowRight")
        assert int(page.locator("tr.on").get_attribute("data-s")) == int(first) + 1
        for _ in range(sections + 2):
            page.keyboard.press("ArrowRight")
        assert page.locator("tr.on").get_attribute("data-s") == str(sections)
        for _ in range(sections + 2):
            page.keyboard.press("ArrowLeft")
        assert page.locator("tr.on").get_attribute("data-s") == "1"
    # Besides the links of the first screen two stops lead through the whole page.
    assert page.locator("[tabindex]").count() == 2


def test_paper_is_portrait_and_short(viewer: Viewer, pages: dict[str, str]) -> None:
    for name in ("coast-road", "high-tracks"):
        pdf = viewer.open(pages[name]).pdf(prefer_css_page_size=True, print_background=True)
        boxes = [part.split(b"]")[0].split() for part in pdf.split(b"/MediaBox [")[1:]]
        assert 3 <= len(boxes) <= 9
        assert all(float(box[2]) < float(box[3]) for box in boxes)
