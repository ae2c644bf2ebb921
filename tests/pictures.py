"""The diagram of a sample ride as README shows it: `python -m tests.pictures` draws it anew."""

from __future__ import annotations

import tempfile
from datetime import UTC, datetime
from pathlib import Path

import terrain
from terrain.demo.region import ensure_demo_region
from terrain.report.diagram.diagram import render_days
from terrain.report.drawing.stills import still
from terrain.text.translator import Translator

ROUTE = "valleys-and-passes"
PICTURE = Path(__file__).resolve().parents[1] / "sample_routes" / f"{ROUTE}.svg"


def draw(home: Path) -> bytes:
    """The ride's day as an SVG file that stands alone.

    home : a folder with the demo's region
    """
    route = terrain.read_route(home / "demo" / "routes" / f"{ROUTE}.gpx")
    trip = terrain.Trip(depart=datetime(2027, 3, 14, 7, 30))
    report = terrain.assess(
        route, terrain.open_region("island", home), trip, made_at=datetime(2027, 2, 1, tzinfo=UTC)
    )
    (day,) = render_days(report, Translator())
    return still(day.svg) + b"\n"


if __name__ == "__main__":
    with tempfile.TemporaryDirectory() as folder:
        ensure_demo_region(Path(folder))
        PICTURE.write_bytes(draw(Path(folder)))
    print(PICTURE)
