"""Pictures of pages for the eye: `python -m tests.bench.sheets OUT [ROUTE.gpx ... --region NAME]`.

Each ride as page on a desk and on a phone, light, dark and on paper, in every language. Needs
Chromium and playwright. Without routes the sample routes on the invented island are drawn.
"""

from __future__ import annotations

import argparse
import shutil
import tempfile
from datetime import datetime
from pathlib import Path
from typing import Any

from playwright.sync_api import sync_playwright

import terrain
from terrain.demo.region import ensure_demo_region
from terrain.report.html import render_html
from terrain.text.catalogue import LANGUAGES
from terrain.text.translator import translator_for
from terrain.values.verdict import Audience

_SIZES = {"desk": (1280, 800), "phone": (390, 844)}
_TRIPS = {
    "dated": {"depart": datetime(2027, 7, 14, 7, 30), "wanted_class": "road-tourer"},
    "undated": {"rider": terrain.Rider.NOVICE, "pillion": True},
}


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("out", type=Path)
    parser.add_argument("routes", type=Path, nargs="*")
    parser.add_argument("--region", default="island")
    asked = parser.parse_args()
    asked.out.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory() as folder, sync_playwright() as driver:
        home = None
        if asked.region == "island":
            home = Path(folder)
            ensure_demo_region(home)
        region = terrain.open_region(asked.region, home)
        routes = asked.routes or sorted(Path("sample_routes").glob("*.gpx"))
        path = shutil.which("chromium") or shutil.which("chromium-browser")
        browser = driver.chromium.launch(executable_path=path, args=["--no-sandbox"])
        for route in routes:
            for name, trip in _TRIPS.items():
                report = terrain.assess(terrain.read_route(route), region, terrain.Trip(**trip))
                for lang in LANGUAGES:
                    text = render_html(report, translator_for(lang), Audience.RIDER)
                    _shoot(browser, text, asked.out, f"{route.stem}-{name}-{lang}")
        browser.close()


def _shoot(browser: Any, text: str, out: Path, stem: str) -> None:
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
    page.pdf(path=out / f"{stem}.pdf", prefer_css_page_size=True, print_background=True)
    page.close()


if __name__ == "__main__":
    main()
