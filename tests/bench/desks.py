"""Pictures of every page of the desk for the eye: `python -m tests.bench.desks OUT [WORD ...]`.

Of all pages, or those whose address holds one of the words: staff's, the guide's and a rider's, of
three bookings on the invented island (one forbidden, one of three riders with an open question,
one good), with a table to be imported, what is refused and several files at once. Each on a desk
in light and on a phone in dark, or as --looks says, in each language asked for. Needs Chromium and
playwright.
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

_SIZES = {"desk": (1200, 860), "phone": (390, 844)}
_ROUTES = (("K1", "Ada Rill", "high-tracks", "new"), ("K2", "Tom Varga", "few-points", "some"),
           ("K3", "Mira Holt", "coast-road", "much"))  # fmt: skip
_BOOKING = ("", "/riders", "/mail/1", "/sheet/1", "/report/1", "/incidents")
_PAGES = (
    "/desk", "/desk/new", *(f"/desk/b/K{n}" for n in (2, 3)), "/desk/b/K2/riders",
    *(f"/desk/b/K1{page}" for page in _BOOKING), "/desk/b/K1?open=details",
    "/desk/questions", "/desk/notes", "/desk/helpers", "/desk/bikes", "/desk/letters",
    "/desk/import", "/desk/deleted", "/desk/people", "/desk/audit", "/desk/learned", "/season",
    "/account", "/guide", "/guide/1", "/guide/1/report", "/desk/nowhere",
)  # fmt: skip
_RIDER = ("", "/change", "/draw", "/ride")
_TABLE = """ref,customer,email,starts_on,ends_on,wanted,rider
K1,Ada Rill,ada@rides.example,2027-03-14,2027-03-15,enduro,novice
K7,Ira Moss,,2027-04-02,2027-04-04,,steady
K8,,k8@rides.example,2027-05-20,,,expert
"""


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("out", type=Path)
    parser.add_argument("words", nargs="*", metavar="WORD")
    parser.add_argument("--lang", default="en,es,fr", help="codes with commas")
    parser.add_argument("--looks", default="desk-light,phone-dark", help="size-scheme, with commas")
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
            _joined(browser, url)
            for lang in asked.lang.split(","):
                _speak(browser, url, lang)
                for look in asked.looks.split(","):
                    camera = _Camera(browser, url, asked.out, asked.words, lang, *look.split("-"))
                    camera.pages([row[2] for row in _ROUTES], links, home)
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


def _joined(browser: Any, url: str) -> None:
    """Two more riders on the second booking, one of them new to it and with boxes."""
    desk = _signed_in(browser.new_context(), url)
    desk.goto(f"{url}/desk/b/K2/riders")
    for n, (who, riding, luggage) in enumerate((("Ben Ode", 1, -1), ("Ina Vale", -1, 1))):
        desk.fill(f"[name='customer.{n}']", who)
        for field, place in (("rider", riding), ("luggage", luggage)):
            options = desk.locator(f"[name='{field}.{n}'] option")
            values = options.evaluate_all("all => all.map(x => x.value)")
            desk.select_option(f"[name='{field}.{n}']", values[place])
    with desk.expect_navigation():
        desk.click("main form button >> nth=0")
    desk.context.close()


def _signed_in(context: Any, url: str) -> Any:
    page = context.new_page()
    page.goto(f"{url}/sign-in")
    page.fill("[name=name]", WHO)
    page.fill("[name=password]", PASSWORD)
    with page.expect_navigation():
        page.click("main button")
    return page


def _speak(browser: Any, url: str, lang: str) -> None:
    """Riders' pages are in the language of the booking."""
    desk = _signed_in(browser.new_context(), url)
    for ref, *_ in _ROUTES:
        desk.goto(f"{url}/desk/b/{ref}?open=details")
        desk.select_option("#details [name=lang]", lang)
        with desk.expect_navigation():
            desk.click("#details form button >> nth=0")
    desk.context.close()


class _Camera:
    """Takes pages in one language, size and scheme."""

    def __init__(
        self, browser: Any, url: str, out: Path, words: list[str], lang: str, size: str, scheme: str
    ) -> None:
        width, height = _SIZES[size]
        self.url, self.out, self.words = url, out, words
        self.tail, self.width = f"{lang}-{size}-{scheme}", width
        self.page = _signed_in(
            browser.new_context(
                viewport={"width": width, "height": height}, color_scheme=scheme, locale=lang
            ),
            url,
        )

    def pages(self, routes: list[str], links: list[str], home: Path) -> None:
        """All of them, whose names hold one of the words."""
        rider = [(f"rider-{n}{at}", link + at) for n, link in enumerate(links, 1) for at in _RIDER]
        for name, address in [*((at, self.url + at) for at in _PAGES), *rider]:
            if self.wanted(name):
                self.page.goto(address)
                self.shot(name)
        gpx = [home / "demo" / "routes" / f"{route}.gpx" for route in routes]
        if self.wanted("desk-import-shown"):
            self.page.goto(f"{self.url}/desk/import")
            self.send("[type=file]", {"name": "bookings.csv", "mimeType": "text/csv",
                                      "buffer": _TABLE.encode()})  # fmt: skip
            self.shot("desk-import-shown")
        if self.wanted("rider-3-refused"):
            self.page.goto(f"{links[2]}/change")
            self.send("#files", {"name": "way.gpx", "mimeType": "text/xml", "buffer": b"<gpx>"})
            self.page.wait_for_timeout(3000)
            self.page.goto(links[2])
            self.shot("rider-3-refused")
        if self.wanted("rider-3-several"):
            self.page.goto(f"{links[2]}/change")
            self.send("#files", gpx)
            self.shot("rider-3-waits")
            self.page.wait_for_selector("h1 + .lead, .compare, .desk-bar", timeout=180_000)
            self.page.wait_for_timeout(20_000)
            self.page.goto(links[2])
            self.shot("rider-3-several")
            self.page.goto(f"{self.url}/desk/b/K3")
            self.shot("desk-b-K3-several")
            self.page.goto(f"{self.url}/desk/b/K3/compare")
            self.shot("desk-b-K3-compare")
        self.page.context.close()

    def wanted(self, name: str) -> bool:
        return not self.words or any(word in name for word in self.words)

    def send(self, field: str, files: Any) -> None:
        self.page.set_input_files(field, files)
        with self.page.expect_navigation():
            self.page.click("main button:not(.link)")

    def shot(self, name: str) -> None:
        stem = re.sub(r"\W+", "-", name).strip("-")
        self.page.screenshot(path=self.out / f"{stem}-{self.tail}.png", full_page=True)
        if self.page.evaluate("document.documentElement.scrollWidth") > self.width:
            print(f"{stem}-{self.tail}: wider than the screen", flush=True)


if __name__ == "__main__":
    main()
