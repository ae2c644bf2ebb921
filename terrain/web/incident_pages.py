"""After a rental: what happened on which bike; the log that incident rates are learned of."""

from __future__ import annotations

import time
from collections.abc import Sequence
from datetime import date
from typing import Any

import sqlalchemy as sa
from fastapi import APIRouter, Depends, Request
from sqlalchemy.engine import Connection
from starlette.responses import Response

from terrain.errors import InputError
from terrain.text.message import message
from terrain.text.plain import csv_table, one_line
from terrain.web import bookings, schema
from terrain.web.access import Allow, Form
from terrain.web.database import add_row
from terrain.web.desk import desk_of
from terrain.web.desk_pages import found
from terrain.web.summary import Told
from terrain.web.work import fleet_of

router = APIRouter(include_in_schema=False)
STAFF = [Depends(Allow("staff"))]
_COLUMNS = ("class", "incident", "days", "km", "ground", "rider", "date", "setup", "heat", "failed")


@router.get("/desk/b/{ref}/incidents", dependencies=STAFF)
def incidents(request: Request, ref: str) -> Response:
    """What is put down for a booking, and the form for more."""
    return _incidents_page(request, ref)


def _incidents_page(request: Request, ref: str, fault: str = "") -> Response:
    desk = desk_of(request)
    with desk.db.read() as conn:
        row = found(conn, ref)
        rows = bookings.standings(conn, [row.id])[row.id]
        told = _of_booking(conn, row.id)
    summary = next((x.summary for x in rows if x.summary), Told())
    translator = desk.translator(request)
    classes = {
        bike.name: translator.translate_term(bike.title)
        for bike in fleet_of(desk.settings).classes
    }  # fmt: skip
    return desk.page(
        request, "incidents.html", status=422 if fault else 200, b=row, told=told, fault=fault,
        classes=classes, usual=row.wanted if row.wanted in classes else summary.bike,
        typed=request.state.form.texts,
    )  # fmt: skip


def _of_booking(conn: Connection, booking_id: int) -> list[Any]:
    table = schema.incidents
    query = sa.select(table).where(table.c.booking_id == booking_id).order_by(table.c.id)
    return list(conn.execute(query))


@router.post("/desk/b/{ref}/incidents", dependencies=STAFF)
def put_down(request: Request, ref: str) -> Response:
    """Put down what happened, or that nothing did."""
    desk = desk_of(request)
    form: Form = request.state.form
    who, now = request.state.person.name, time.time()
    try:
        told = _checked(form, [bike.name for bike in fleet_of(desk.settings).classes])
        with desk.db.write() as conn:
            row = found(conn, ref)
            add_row(conn, schema.incidents, booking_id=row.id, who=who, at=now, **told)
            what = told["failed"] or message("nothing happened")
            bookings.note_event(conn, who, message("put down: {what}", what=what), now, row.id)
    except InputError as exc:
        return _incidents_page(request, ref, desk.fault(request, exc))
    return desk.go(f"/desk/b/{ref}/incidents")


def _checked(form: Form, classes: list[str]) -> dict[str, Any]:
    bike, failed = form.get("bike"), one_line(form.get("failed"), 40)
    well = "well" in form.texts
    if bike not in classes:
        raise InputError(
            message("the fleet has no such class"), "", message("Choose one of the list.")
        )
    if not well and not failed:
        raise InputError(message("say what failed, or that nothing happened"))
    text = form.get("at_km").strip().replace(",", ".")
    try:
        at_km = float(text) if text and not well else None
    except ValueError:
        at_km = -1.0
    if at_km is not None and not 0 <= at_km < 100_000:
        raise InputError(
            message("the kilometre is no number"), "", message("Write it as 47 or 47.5.")
        )
    return {
        "bike": bike, "failed": "" if well else failed, "at_km": at_km,
        "ended_trip": not well and form.get("ended") == "yes",
    }  # fmt: skip


@router.get("/desk/rentals.csv", dependencies=STAFF)
def log(request: Request) -> Response:
    """All rentals of which something is put down, as `terrain fleet learn` reads them."""
    desk = desk_of(request)
    with desk.db.read() as conn:
        data = rentals_csv(conn)
    headers = {"content-disposition": 'attachment; filename="rentals.csv"'}
    return Response(data, media_type="text/csv; charset=utf-8", headers=headers)


def rentals_csv(conn: Connection) -> bytes:
    """A row a rental and bike: one where several things failed is one incident of the first."""
    table, owner = schema.incidents, schema.bookings
    query = (
        sa.select(table, owner.c.rider, owner.c.starts_on, owner.c.ends_on)
        .join(owner, owner.c.id == table.c.booking_id)
        .order_by(table.c.booking_id, table.c.failed == "", table.c.id)
    )
    rows: dict[tuple[int, str], Any] = {}
    for row in conn.execute(query):
        rows.setdefault((row.booking_id, row.bike), row)
    told = bookings.standings(conn, sorted({key[0] for key in rows}))
    lines: list[Sequence[object]] = [_COLUMNS]
    for row in rows.values():
        summary = next((x.summary for x in told[row.booking_id] if x.summary), Told())
        ride = summary.rental
        lines.append(
            (
                row.bike, "yes" if row.failed else "no", _days(row.starts_on, row.ends_on),
                ride.km, ride.ground, row.rider, row.starts_on,
                ride.setup if ride.setup != "ask" else "",
                None if ride.heat_c is None else round(ride.heat_c), row.failed,
            )
        )  # fmt: skip
    return csv_table(lines).encode("utf-8")


def _days(starts_on: str, ends_on: str) -> int | str:
    if not starts_on:
        return ""
    last = date.fromisoformat(ends_on or starts_on)
    return max(1, (last - date.fromisoformat(starts_on)).days + 1)
