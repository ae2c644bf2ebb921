"""A desk whose reports are made at once, for tests of everything around the making."""

from __future__ import annotations

import os
import sys
import threading
import time
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

from terrain.errors import RouteError
from terrain.report.mail import MailDraft
from terrain.values.advice import BikeFit
from terrain.web import worker
from terrain.web.booked import mismatch
from terrain.web.database import Database
from terrain.web.settings import WebSettings
from terrain.web.stock import ElsewhereError
from terrain.web.summary import Summary
from terrain.web.supervisor import Supervisor
from terrain.web.work import Made, Material, pack
from tests.assessed import ADVICE

GPX = (
    b'<gpx version="1.1" creator="test" xmlns="http://www.topografix.com/GPX/1/1"><rte>'
    b'<rtept lat="1.0" lon="2.0"/><rtept lat="1.1" lon="2.1"/></rte></gpx>'
)
_SHEETS = b"""{"held": [], "sheets": [{"bike": "dual-sport", "title": "dual-sport",
"headline": {"text": "dual-sport, road setup", "message": "dual-sport, road setup",
"numbers": {}}, "payload_kg": 180.0, "end_s": 54000.0, "fit": [], "put": [], "say": []}]}"""
BIKES = [["small-all-rounder", "small all-rounder", 0.8], ["dual-sport", "dual-sport", 0.6]]


def quick_make(material: Material, settings: WebSettings, step: Callable[[str], None]) -> Made:
    """A report that repeats what it was made from: notes, helpers, pins and rider as `excluded`."""
    from terrain.tables.fleet import DEFAULT_FLEET

    if b"<gpx" not in material.content:
        raise RouteError("this is no GPX file", material.name, "Export it as GPX.")
    time.sleep(float(os.environ.get("STANDIN_SLEEP_S", "0")))
    step("writing")
    ruling = material.decision
    bikes = tuple(
        BikeFit(name=name, title=title, fit=fit, table=(), reasons=(), against=())
        for name, title, fit in BIKES
    )
    advice = replace(ADVICE, bikes=bikes)
    kept = {
        "route": material.name, "about": "12 km.",
        "setup": ruling.setup.value if ruling else "road", "forbidden": [],
        "verdict": "Road setup, likely right.", "lead": ruling.reason if ruling else "",
        "shares": [["paved", "90 % (80 to 95)"]], "know": "Heat: km 3",
        "bike": BIKES[0][0], "bikes": BIKES, "days": 1, "length_m": 12000.0,
        "mismatch": mismatch(material.booking.first.wanted, advice, DEFAULT_FLEET),
        "booked": mismatch(material.booking.first.wanted, advice, DEFAULT_FLEET, why=False),
        "differs": material.booking.first.wanted == "road-tourer",
        "edited": ruling is not None,
        "excluded": [material.notes, material.helpers, material.pins,
                     material.booking.first.rider.value],
        "why": ["3 km of hard riding."], "no_bike": "", "works": [], "ask": "",
        "places": [material.name, "Großer Ährenpaß"],
        "strip": {"length_m": 12000, "parts": [[0, 9000, 95, 5, 0], [9000, 12000, 5, 15, 80]],
                  "hard": [[9000, 12000]], "closed": [], "nights_m": []},
    }  # fmt: skip
    html = b"<!doctype html><html><head></head><body><h1>Stand-in</h1></body></html>"
    names = ("rider.html", "staff.html", "guide.html", "rider.pdf", "rider.gpx", "rider.kml",
             "rider.ics", "guide.card", "staff.csv", "staff.geojson")  # fmt: skip
    facts = b'{"days": [], "stops": [], "plan": {"problems": []}}'
    draft = MailDraft(
        subject=f"{material.name}: Road setup", plain="Hello,", html="<p>Hello,</p>",
        made_at="2027-02-01T09:00:00+00:00", seed=material.name, route=material.name,
        verdict="Road setup, likely right.", body="Road setup, likely right.",
        body_html="<h1>Road setup, likely right.</h1>",
    )  # fmt: skip
    return Made(
        summary=Summary.model_validate(kept),
        draft=draft.to_json(),
        facts=pack(facts),
        files={**{n: pack(html) for n in names}, "staff.sheets": pack(_SHEETS)},
    )


def _workers() -> int:
    return int(os.environ.get("STANDIN_WORKERS", "2"))


def serve(data: str, port: str, database: str = "") -> None:
    """A server in this process, its workers stand-ins too."""
    import uvicorn

    from terrain.web.app import create_app

    settings = WebSettings(
        home=Path(data), data=Path(data), database=database, open_upload=True, workers=_workers(),
        lease_s=2.0, tries=50, uploads_per_minute=1_000_000, max_bytes=20_000_000,
    )  # fmt: skip
    app = create_app(settings, worker_command=(sys.executable, "-m", "tests.web.standin", "worker"))
    uvicorn.run(app, host="127.0.0.1", port=int(port), access_log=False, log_level="warning")


def work(data: str, database: str) -> None:
    """Workers alone, as on a machine without a server."""
    settings = WebSettings(
        home=Path(data), data=Path(data), database=database, workers=_workers(), lease_s=2.0,
        tries=50,
    )  # fmt: skip
    command = (sys.executable, "-m", "tests.web.standin", "worker")
    Supervisor(Database(database), settings, command, tells=False).start()
    threading.Event().wait()


def make_or_leave(material: Material, settings: WebSettings, step: Callable[[str], None]) -> Made:
    """A home that holds a file "elsewhere" has another region than the desk."""
    if (settings.home / "elsewhere").exists():
        raise ElsewhereError("the region differs")
    return quick_make(material, settings, step)


if __name__ == "__main__":
    if sys.argv[1] == "worker":
        raise SystemExit(worker.main(make_or_leave))
    if sys.argv[1] == "work":
        work(*sys.argv[2:])
    serve(*sys.argv[2:])
