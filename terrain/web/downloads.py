"""The files of a report, as they were written; the report page with a line of ours above it."""

from __future__ import annotations

import base64
import hashlib
import re
from functools import cache
from importlib.resources import files
from typing import Any

from fastapi import HTTPException
from markupsafe import escape
from starlette.responses import Response

from terrain.text.message import message
from terrain.web import bookings
from terrain.web.bookings import Standing
from terrain.web.desk import Desk
from terrain.web.work import unpack

_KINDS = {
    "html": "text/html; charset=utf-8",
    "pdf": "application/pdf",
    "card": "application/pdf",
    "gpx": "application/gpx+xml",
    "kml": "application/xml",
    "ics": "text/calendar; charset=utf-8",
    "csv": "text/csv; charset=utf-8",
    "geojson": "application/geo+json",
    "eml": "message/rfc822",
}


# An answer in the report's own table of answers: part, reply, words.
_ANSWER = re.compile(r'<dt data-answer="(([0-9]+\.[0-9]+)\.[a-z]+)">(.*?)</dt>')


BEING_MADE = message("This report is being made anew. Try again in a minute.")
LAST_FAILED = message(
    "The last reading of this route failed, so what was said before may no longer hold. Read it "
    "again first."
)


def standing_report(row: Standing) -> int:
    """The id of a report that is of what the booking holds now: for what goes out of the desk.

    Raises 404 while there is no report, 503 while it is made anew, 409 if that failed.
    """
    if row.report_id is None:
        raise HTTPException(404, message("There is no report yet."))
    if row.working:
        raise HTTPException(503, BEING_MADE)
    if row.outdated:
        raise HTTPException(409, LAST_FAILED)
    return row.report_id


def report_page(
    desk: Desk, row: Standing, name: str, bar: str, asked: str = "", answer_at: str = ""
) -> Response:
    """The report's own page in place, with our line of links above it.

    asked : stands below its first words, which no question may come before
    answer_at : the address whose form takes an answer; each answer of the report links to it
    """
    assert row.report_id is not None
    html = _content(desk, row.report_id, name).decode("utf-8")
    if answer_at:
        of_route = f"part.{row.route_id}."
        to = f"{escape(desk.at(answer_at))}&amp;said={of_route}\\1#{of_route}\\2"
        html = _ANSWER.sub(rf'<dt><a href="{to}">\3</a></dt>', html)
    head, opening, rest = html.partition("<body>")
    style = f"<style>{_bar_css()}</style></head>"
    first, closing, rest = rest.partition("</header>")
    html = head.replace("</head>", style, 1) + opening + bar + first + closing + asked + rest
    return Response(
        html, media_type=_KINDS["html"], headers={"content-security-policy": report_rule()}
    )


def download(desk: Desk, booking: Any, route_id: int, name: str) -> Response:
    """A file of the newest report of one of a booking's routes; of the first if 0.

    Raises 404 while there is none, 503 while it is made anew: nobody rides by what stood before.
    """
    with desk.db.read() as conn:
        rows = bookings.standings(conn, [booking.id])[booking.id]
    for row in rows:
        if row.report_id is not None and route_id in (0, row.route_id):
            if row.working:
                raise HTTPException(503, BEING_MADE)
            return attachment(_content(desk, row.report_id, name), booking.ref, name)
    raise HTTPException(404, message("There is no report yet."))


def attachment(data: bytes, ref: str, name: str) -> Response:
    """A file to be saved, under a name of ours."""
    kind = name.rpartition(".")[2]
    plain = f"{ref}-card.pdf" if kind == "card" else f"{ref}-report.{kind}"
    headers = {"content-disposition": f'attachment; filename="{plain}"'}
    return Response(data, media_type=_KINDS[kind], headers=headers)


def _content(desk: Desk, report_id: int, name: str) -> bytes:
    with desk.db.read() as conn:
        data = bookings.report_file(conn, report_id, name)
    if data is None:
        raise HTTPException(404, message("This report has no such file."))
    return unpack(data)


@cache
def report_rule() -> str:
    """The report brings one script and its styles; that script alone may run."""
    script = (files("terrain.report") / "templates" / "report.js").read_bytes()
    mark = base64.b64encode(hashlib.sha256(script).digest()).decode()
    return (
        f"default-src 'none'; script-src 'sha256-{mark}'; style-src 'unsafe-inline'; "
        "img-src data:; form-action 'self'; frame-ancestors 'none'; base-uri 'none'"
    )


@cache
def _bar_css() -> str:
    own = files("terrain.web") / "static"
    return "".join(
        (own / name).read_text(encoding="utf-8") for name in ("bar.css", "questions.css")
    )
