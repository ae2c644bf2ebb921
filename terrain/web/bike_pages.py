"""The operator's own bikes with their faults, and the sheet by which one is handed over."""

from __future__ import annotations

import json
import time
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

import sqlalchemy as sa
from fastapi import APIRouter, Depends, HTTPException, Request
from sqlalchemy.engine import Connection
from starlette.responses import Response

from terrain.errors import InputError
from terrain.text.message import message
from terrain.text.plain import one_line
from terrain.text.terms import BAG_TERMS, FAULT_TERMS
from terrain.text.translator import translator_for
from terrain.values.handover import Handover, Handovers
from terrain.values.plan import clock
from terrain.web import bookings, schema
from terrain.web.access import Allow, Form
from terrain.web.database import add_row, change_rows
from terrain.web.desk import desk_of
from terrain.web.desk_pages import classes_of, found, own_route
from terrain.web.downloads import standing_report
from terrain.web.party import as_rider, numbered, riders_of
from terrain.web.undo import put_aside
from terrain.web.views import booking_view, trip_days
from terrain.web.work import unpack

router = APIRouter(include_in_schema=False)
STAFF = [Depends(Allow("staff"))]


@dataclass(frozen=True, slots=True, kw_only=True)
class OwnBike:
    """A bike of the operator's. last : the last fault of each part; open : those not mended"""

    row: Any
    last: dict[str, Any]
    open: tuple[Any, ...]


def own_bikes(conn: Connection) -> list[OwnBike]:
    """All bikes by name, with their faults."""
    rows = conn.execute(sa.select(schema.bikes).order_by(sa.func.lower(schema.bikes.c.name))).all()
    by_bike: dict[int, list[Any]] = {}
    table = schema.faults
    for fault in conn.execute(sa.select(table).order_by(table.c.seen_on, table.c.id)):
        by_bike.setdefault(fault.bike_id, []).append(fault)
    return [
        OwnBike(
            row=row,
            last={fault.part: fault for fault in by_bike.get(row.id, ())},
            open=tuple(fault for fault in by_bike.get(row.id, ()) if not fault.mended_on),
        )
        for row in rows
    ]


@router.get("/desk/bikes", dependencies=STAFF)
def bikes(request: Request) -> Response:
    return _bikes_page(request)


def _bikes_page(request: Request, fault: str = "") -> Response:
    desk = desk_of(request)
    with desk.db.read() as conn:
        rows = own_bikes(conn)
    return desk.page(
        request, "bikes.html", status=422 if fault else 200, rows=rows, parts=FAULT_TERMS,
        classes=classes_of(request), fault=fault, typed=request.state.form.texts,
        today=date.today().isoformat(),
    )  # fmt: skip


@router.post("/desk/bikes", dependencies=STAFF)
def change_bikes(request: Request) -> Response:
    """Add a bike, or change, mend, fault or take away one."""
    desk, form = desk_of(request), request.state.form
    try:
        with desk.db.write() as conn:
            gone = _change(conn, form, request.state.person.name, list(classes_of(request)))
    except InputError as exc:
        return _bikes_page(request, desk.fault(request, exc))
    return desk.go(f"/desk/bikes?gone={gone}" if gone else "/desk/bikes")


def _change(conn: Connection, form: Form, who: str, classes: Sequence[str]) -> int:
    """One change of the bikes; returns the number of what can be taken back, 0 if nothing can.

    Raises InputError for what cannot be.
    """
    table, faults = schema.bikes, schema.faults
    number = int(form.get("id")) if form.get("id").isdecimal() else 0
    if form.get("do") == "add":
        name = one_line(form.get("name"), 60)
        if not name or form.get("bike") not in classes:
            raise InputError(
                message("a bike needs its plate or nickname, and a class"), "",
                message("Give both."),
            )  # fmt: skip
        if conn.execute(sa.select(table.c.id).where(table.c.name == name)).first():
            raise InputError(
                message("there is already a bike {name}", name=repr(name)), "",
                message("Take another name."),
            )  # fmt: skip
        add_row(
            conn, table, name=name, bike=form.get("bike"), serviced_on=_day(form.get("serviced_on"))
        )
    elif form.get("do") == "service":
        serviced_on = _day(form.get("serviced_on"))
        change_rows(conn, table, table.c.id == number, serviced_on=serviced_on)
    elif form.get("do") == "fault" and form.get("part") in FAULT_TERMS:
        seen_on = _day(form.get("seen_on")) or date.today().isoformat()
        there = conn.execute(sa.select(table.c.id).where(table.c.id == number)).first()
        if there:
            add_row(
                conn, faults, bike_id=number, part=form.get("part"), seen_on=seen_on,
                note=one_line(form.get("note"), 300), who=who,
            )  # fmt: skip
    elif form.get("do") == "mended":
        mended = faults.update().where(faults.c.id == number)
        conn.execute(mended.values(mended_on=date.today().isoformat()))
    elif form.get("do") == "delete":
        plate = conn.execute(sa.select(table.c.name).where(table.c.id == number)).scalar()
        what, now = message("bike taken away: {name}", name=str(plate)), time.time()
        gone = put_aside(conn, table, [number], what, who=who, now=now, path="/desk/bikes")
        conn.execute(table.delete().where(table.c.id == number))
        if gone:
            bookings.note_event(conn, who, what, now)
        return gone
    return 0


def _day(text: str) -> str:
    try:
        return date.fromisoformat(text).isoformat() if text else ""
    except ValueError:
        raise InputError(
            message("{text} is no date", text=repr(text[:40])), "",
            message("Write it as 2027-03-14."),
        ) from None  # fmt: skip


@router.get("/desk/b/{ref}/sheet/{route_id}", dependencies=STAFF)
def sheet(
    request: Request, ref: str, route_id: int, bike: str = "", rider: int = 1
) -> Response:  # fmt: skip
    """The sheet for whoever sets the bike up; none while something forbids or is open.

    bike : name of a bike of the operator's, or of a class; rider : of a group, from 1
    """
    desk = desk_of(request)
    with desk.db.read() as conn:
        row = found(conn, ref)
        chosen = own_route(conn, row.id, route_id)
        data = bookings.report_file(conn, standing_report(chosen), numbered("staff.sheets", rider))
        mine = own_bikes(conn)
        row = as_rider(row, riders_of(conn, row.id), rider)
    if data is None:
        raise HTTPException(404, message("There is no sheet yet. Have the route read again."))
    told = Handovers.from_dict(json.loads(unpack(data)))
    able = [sheet.bike for sheet in told.sheets]
    fit = [item for item in mine if item.row.bike in able and not item.open]
    fit.sort(key=lambda item: able.index(item.row.bike))
    own = next((item for item in fit if item.row.name == bike), None)
    wanted = own.row.bike if own else bike or row.wanted
    picked = _picked(told, wanted)
    translator = translator_for(desk.lang(request), row.units)
    view = booking_view(row, [chosen], translator)
    return desk.page(
        request, "sheet.html", b=row, chosen=chosen, number=rider, held=told.held, sheet=picked,
        sheets=told.sheets, own=own, fit=fit, translator=translator, view=view, bags=BAG_TERMS,
        kept_in=[item for item in mine if item.row.bike in able and item.open],
        days=trip_days(row.starts_on, row.ends_on, translator), parts=FAULT_TERMS,
        back="" if picked is None or picked.end_s is None else clock(picked.end_s),
        day_of=lambda text: translator.day(date.fromisoformat(text)),
        made=translator.day(datetime.fromtimestamp(chosen.made_at or 0.0)),
    )  # fmt: skip


def _picked(told: Handovers, wanted: str) -> Handover | None:
    """The sheet of the class named; of the one that fits best if it is not among them."""
    word = wanted.strip().casefold()
    named = (x for x in told.sheets if word in (x.bike.casefold(), x.title.casefold()))
    return next(named, told.sheets[0] if told.sheets else None)
