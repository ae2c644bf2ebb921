"""Tables of bookings out and in: what one would change is shown first, and can be taken back."""

from __future__ import annotations

import time
from typing import Annotated, Any
from urllib.parse import urlencode

import sqlalchemy as sa
from fastapi import APIRouter, Depends, HTTPException, Path, Request
from sqlalchemy.engine import Connection
from starlette.responses import Response

from terrain.errors import InputError
from terrain.text.catalogue import N_
from terrain.text.message import message
from terrain.text.plain import one_line
from terrain.web import schema
from terrain.web.access import Allow, Form
from terrain.web.bookings import note_event
from terrain.web.desk import desk_of
from terrain.web.imports import Stage, keep_table, mark_of, plan_of, take_back, take_in
from terrain.web.tables_in_out import COLUMNS, bookings_csv, columns_aside, read_bookings_csv

router = APIRouter(include_in_schema=False)
STAFF = [Depends(Allow("staff"))]
Number = Annotated[int, Path(ge=1, le=2**31 - 1)]
_OTHERWISE = N_("The bookings were changed meanwhile. See what the table would do now.")


@router.get("/desk/bookings.csv", dependencies=STAFF)
def bookings_out(request: Request) -> Response:
    desk = desk_of(request)
    with desk.db.read() as conn:
        data = bookings_csv(conn)
    headers = {"content-disposition": 'attachment; filename="bookings.csv"'}
    return Response(data, media_type="text/csv; charset=utf-8", headers=headers)


@router.get("/desk/import", dependencies=STAFF)
def form(request: Request) -> Response:
    return _form_page(request)


def _form_page(request: Request, fault: str = "") -> Response:
    desk = desk_of(request)
    with desk.db.read() as conn:
        done = conn.execute(
            sa.select(schema.imports)
            .where(schema.imports.c.state == Stage.DONE.value)
            .order_by(schema.imports.c.id.desc())
            .limit(10)
        ).all()
    return desk.page(
        request, "import.html", status=422 if fault else 200, fault=fault, columns=COLUMNS,
        imports=done,
    )  # fmt: skip


@router.post("/desk/import", dependencies=STAFF)
def look(request: Request) -> Response:
    """Keep the table and show what it would change; nothing is changed yet."""
    desk = desk_of(request)
    given: Form = request.state.form
    try:
        if not given.files:
            raise InputError(message("choose a file first"))
        rows = read_bookings_csv(given.files[0].content)
        if not rows:
            raise InputError(message("the table holds no booking"))
        with desk.db.write() as conn:
            number = keep_table(conn, rows, request.state.person.name, time.time())
            plan_of(conn, number)
    except InputError as exc:
        return _form_page(request, desk.fault(request, exc))
    aside = urlencode([("aside", name) for name in columns_aside(given.files[0].content)[:10]])
    return desk.go(f"/desk/import/{number}?{aside}" if aside else f"/desk/import/{number}")


@router.get("/desk/import/{number}", dependencies=STAFF)
def shown(request: Request, number: Number) -> Response:
    """What an import would do, or has done."""
    return _shown_page(request, number)


def _shown_page(request: Request, number: int, fault: str = "", **done: Any) -> Response:
    desk = desk_of(request)
    with desk.db.read() as conn:
        row = _import(conn, number)
        try:
            plans = plan_of(conn, number) if row.state == Stage.SHOWN.value else []
        except InputError as exc:
            return _form_page(request, desk.fault(request, exc))
    told = {"links": (), "stay": (), **done}
    return desk.page(
        request, "import_shown.html", status=409 if fault else 200, i=row, fault=fault,
        new=[plan for plan in plans if plan.is_new], mark=mark_of(plans), Stage=Stage,
        changed=[plan for plan in plans if plan.changes and not plan.is_new],
        aside=[one_line(name, 40) for name in request.query_params.getlist("aside")[:10]],
        same=sum(not plan.changes and not plan.is_new for plan in plans), **told,
    )  # fmt: skip


def _import(conn: Connection, number: int) -> Any:
    row = conn.execute(
        sa.select(schema.imports).where(schema.imports.c.id == number)
    ).first()  # fmt: skip
    if row is None:
        raise HTTPException(404, message("This import is not kept (any more)."))
    return row


@router.post("/desk/import/{number}", dependencies=STAFF)
def do(request: Request, number: Number) -> Response:
    """Take the table in as it was shown; the new links are shown this once."""
    desk, given = desk_of(request), request.state.form
    who, now = request.state.person.name, time.time()
    with desk.db.write() as conn:
        if _import(conn, number).state != Stage.SHOWN.value:
            return desk.go(f"/desk/import/{number}")
        plans = plan_of(conn, number)
        as_shown = given.get("seen") == mark_of(plans)
        if as_shown:
            done = take_in(
                conn, number, plans, who=who, now=now, lang=desk.settings.lang,
                units=desk.settings.units,
            )  # fmt: skip
            note_event(conn, who, message("bookings imported"), now)
    if not as_shown:
        return _shown_page(request, number, desk.translator(request)._(_OTHERWISE))
    links = tuple((ref, desk.whole(f"/t/{link}", request)) for ref, link in done.links)
    return _shown_page(request, number, links=links)


@router.post("/desk/import/{number}/back", dependencies=STAFF)
def back(request: Request, number: Number) -> Response:
    """Put the bookings back as they were before the import."""
    desk = desk_of(request)
    who, now = request.state.person.name, time.time()
    with desk.db.write() as conn:
        if _import(conn, number).state != Stage.DONE.value:
            return desk.go(f"/desk/import/{number}")
        stay = take_back(conn, number, who=who, now=now)
        note_event(conn, who, message("an import was taken back"), now)
    return _shown_page(request, number, stay=stay)
