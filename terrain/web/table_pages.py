"""The staff's first page: the table of bookings, those first that wait for the desk."""

from __future__ import annotations

import time
from dataclasses import dataclass
from datetime import date
from typing import Any

from fastapi import APIRouter, Depends, Request
from sqlalchemy.engine import Connection
from starlette.responses import Response

from terrain.errors import TerrainError
from terrain.report.desk.strip import LOW_PX
from terrain.text.message import message
from terrain.text.plain import one_line
from terrain.text.terms import SORT_TERMS
from terrain.text.translator import Translator, translator_for
from terrain.web import bookings, schema
from terrain.web.access import Allow
from terrain.web.bookings import Standing
from terrain.web.desk import desk_of
from terrain.web.people import Role
from terrain.web.regions import has_region
from terrain.web.reread_pages import count_failed
from terrain.web.roads import changed_roads
from terrain.web.table import (
    PAGE,
    Filter,
    asked_filter,
    drop_view,
    find,
    keep_view,
    views_of,
)
from terrain.web.undo import put_aside
from terrain.web.views import DECIDER_TURN, BookingView, booking_view, longest_of, trip_days
from terrain.web.work import fleet_of

router = APIRouter(include_in_schema=False)
_DAY_S = 86400.0


@dataclass(frozen=True, slots=True, kw_only=True)
class TableRow:
    """One booking in the table. open_days : since the rider was asked, None if nothing is open"""

    booking: Any
    view: BookingView
    days: str
    bike: str
    open_days: int | None


@router.get("/desk", dependencies=[Depends(Allow("guide"))])
def table(request: Request) -> Response:
    """The bookings with their answers, those first that wait for the desk."""
    desk, person = desk_of(request), request.state.person
    if not person.role.may(Role.STAFF):
        return desk.go("/guide")
    asked = asked_filter(**dict(request.query_params))
    lang = desk.lang(request)
    try:
        titles = {row.name: row.title for row in fleet_of(desk.settings).classes}
    except TerrainError:  # the forms and every report tell of a damaged fleet file
        titles = {}
    with desk.db.read() as conn:
        found = find(conn, asked, date.today().isoformat())
        told = bookings.standings(conn, [row.id for row in found[:PAGE]])
        kept, failed = views_of(conn, person.id), count_failed(conn)
        changed = changed_roads(conn, desk.settings, date.today().isoformat())
    longest_m = longest_of([x for rows in told.values() for x in rows])
    rows = [_row(row, told[row.id], longest_m, lang, titles) for row in found[:PAGE]]
    return desk.page(
        request, "bookings.html", rows=rows, asked=asked, more=len(found) > PAGE,
        has_map=has_region(desk.settings), sorts=SORT_TERMS, turns=DECIDER_TURN, views=kept,
        failed=failed, n_changed=len(changed), changed={ref for ref, _ in changed.values()},
    )  # fmt: skip


def _row(
    booking: Any, rows: list[Standing], longest_m: float, lang: str, titles: dict[str, str]
) -> TableRow:
    translator: Translator = translator_for(lang, booking.units)
    asked_at = booking.asked_at
    return TableRow(
        booking=booking,
        view=booking_view(booking, rows, translator, longest_m=longest_m, tall_px=LOW_PX),
        days=trip_days(booking.starts_on, booking.ends_on, translator),
        bike=translator.translate_term(titles.get(booking.wanted, booking.wanted)),
        open_days=None if asked_at is None else int((time.time() - asked_at) // _DAY_S),
    )


@router.post("/desk/views", dependencies=[Depends(Allow("staff"))])
def keep(request: Request) -> Response:
    """Keep the filter at hand under a name, or drop one."""
    desk, form = desk_of(request), request.state.form
    asked: Filter = asked_filter(**{key: form.get(key) for key in _FIELDS})
    name, gone = one_line(form.get("name"), 60), 0
    with desk.db.write() as conn:
        if form.get("drop"):
            gone = _drop(conn, request, one_line(form.get("drop"), 60))
        elif name:
            keep_view(conn, request.state.person.id, name, asked.query())
    query = "&".join(filter(None, (asked.query(), f"gone={gone}" if gone else "")))
    return desk.go(f"/desk?{query}" if query else "/desk")


def _drop(conn: Connection, request: Request, name: str) -> int:
    """Drop a view that can be taken back until the day ends; returns its number there."""
    person = request.state.person
    ids = [view.id for view in views_of(conn, person.id) if view.name == name]
    what = message("view dropped: {name}", name=name)
    gone = put_aside(conn, schema.views, ids, what, who=person.name, now=time.time(), path="/desk")
    drop_view(conn, person.id, name)
    return gone


_FIELDS = ("q", "state", "since", "until", "differs", "sort")
