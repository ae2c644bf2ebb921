"""Pictures of every page of the desk for the eye: `python -m tests.bench.desks OUT [WORD ...]`.

Of all pages, or those whose address holds one of the words: staff's, the guide's and a rider's, of
three bookings on the invented island (one forbidden, one with an open question, one good). Each on
a desk in light and on a phone in dark, in each language asked for. Needs Chromium and playwright.
"""

from __future__ import annotations

import argparse
import re
import shutil
import tempfile
from pathlib import Path
from typing import Any

from playwright.sync_api import sync_playwright

from terrain.demo.region import ensure_demo_region
from terrain.web.settings import WebSettings
from tests.web.conftest import PASSWORD
from tests.web.live import WHO, live_desk

_LOOKS = (("desk", 1200, 860, "light"), ("phone", 390, 844, "dark"))
_ROUTES = (("K1", "Ada Rill", "high-tracks", "new"), ("K2", "Tom Varga", "few-points", "some"),
           ("K3", "Mira Holt", "coast-road", "much"))  # fmt: skip
_BOOKING = ("", "/riders", "/mail/1", "/sheet/1", "/report/1", "/incidents")
_PAGES = (
    "/desk", "/desk/new", *(f"/desk/b/K{n}" for n in (2, 3)),
    *(f"/desk/b/K1{page}" for page in _BOOKING), "/desk/b/K1?open=details",
    "/desk/questions", "/desk/notes", "/desk/helpers", "/desk/bikes", "/desk/letters",
    "/desk/import", "/desk/deleted", "/desk/people", "/desk/audit", "/desk/learned", "/season",
    "/account", "/guide", "/guide/1", "/guide/1/report", "/desk/nowhere",
)  # fmt: skip
_RIDER = ("", "/change", "/draw", "/ride")


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("out", type=Path)
    parser.add_argument("words", nargs="*", metavar="WORD")
    parser.add_argument("--lang", default="en,es,fr", help="codes with commas")
    asked = parser.parse_intermixed_args()
    asked.out.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory() as folder, sync_playwright() as driver:
        home = Path(folder)
        ensure_demo_region(home)
        settings = WebSettings(home=home, data=home / "desk", region="island", workers=0,
                               sign_ins_per_minute=1000)  # fmt: skip
        path = shutil.which("chromium") or shutil.which("chromium-browser")
        browser = driver.chromium.launch(executable_path=path, args=["--no-sandbox"])
        with live_desk(settings) as url:
            links = [_booked(browser, url, home, *row) for row in _ROUTES]
            for lang in asked.lang.split(","):
                for look in _LOOKS:
                    _pictures(browser, url, links, asked.out, asked.words, lang, *look)
        browser.close()


def _booked(browser: Any, url: str, home: Path, ref: str, who: str, route: str, riding: str) -> str:
    """The rider's link of a booking whose route is read."""
    desk = _signed_in(browser.new_context(), url)
    desk.goto(f"{url}/desk/new")
    desk.fill("[name=ref]", ref)
    desk.fill("[name=customer]", who)
    desk.fill("[name=email]", f"{ref.lower()}@rides.example")
    desk.click("main button")
    link = str(desk.input_value("#the-link"))
    desk.goto(link)
    desk.set_input_files("#files", home / "demo" / "routes" / f"{route}.gpx")
    choices = desk.locator("[name=rider] option").evaluate_all("all => all.map(x => x.value)")
    desk.select_option("[name=rider]", {"new": choices[-3], "some": choices[-2]}.get(
        riding, choices[-1]))  # fmt: skip
    desk.click("main button:not(.link)")
    desk.wait_for_selector(".desk-bar", timeout=180_000)
    desk.context.close()
    return link


def _signed_in(context: Any, url: str) -> Any:
    page = context.new_page()
    page.goto(f"{url}/sign-in")
    page.fill("[name=name]", WHO)
    page.fill("[name=password]", PASSWORD)
    with page.expect_navigation():
        page.click("main button")
    return page


def _pictures(
    browser: Any, url: str, links: list[str], out: Path, words: list[str], lang: str, size: str,
    width: int, height: int, scheme: str,
) -> None:  # fmt: skip
    context = browser.new_context(
        viewport={"width": width, "height": height}, color_scheme=scheme, locale=lang
    )
    page = _signed_in(context, url)
    rider = [(f"rider-{n}{at}", link + at) for n, link in enumerate(links, 1) for at in _RIDER]
    for name, address in [*((at, url + at) for at in _PAGES), *rider]:
        if words and not any(word in name for word in words):
            continue
        page.goto(address)
        stem = re.sub(r"\W+", "-", name).strip("-")
        page.screenshot(path=out / f"{stem}-{lang}-{size}-{scheme}.png", full_page=True)
        if page.evaluate("document.documentElement.scrollWidth") > width:
            print(f"{stem}-{lang}-{size}: wider than the screen", flush=True)
    context.close()


if __name__ == "__main__":
    main()
