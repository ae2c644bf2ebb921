"""The guide's pages: the plan by day, its stops to move, the sheet for the tank bag and the GPX."""

from __future__ import annotations

import json
import time
from collections.abc import Sequence
from datetime import date
from typing import Any

import sqlalchemy as sa
from fastapi import APIRouter, Depends, HTTPException, Request
from sqlalchemy.engine import Connection
from starlette.responses import Response

from terrain.errors import InputError
from terrain.text.catalogue import N_
from terrain.text.message import message
from terrain.text.packed import with_messages
from terrain.text.terms import BAG_TERMS, STOP_TERMS
from terrain.text.translator import translator_for
from terrain.values.plan import Plan
from terrain.web import bookings, schema
from terrain.web.access import Allow, Form
from terrain.web.bookings import Standing
from terrain.web.database import add_row
from terrain.web.desk import Desk, desk_of
from terrain.web.desk_pages import facts_of
from terrain.web.downloads import download, report_page
from terrain.web.group_views import drawn_groups
from terrain.web.jobs import add_job
from terrain.web.plan_form import KINDS, Wishes, added_beside, plan_table, typed_wishes
from terrain.web.rulings import DecidedMeanwhile, check_seen, mark_of
from terrain.web.undo import put_aside
from terrain.web.views import trip_days

router = APIRouter(include_in_schema=False)
GUIDE = [Depends(Allow("guide"))]
_PAGE = 100
_PLANNED_MEANWHILE = N_(
    "Somebody else changed this plan meanwhile. What you typed stands below: send it again to put "
    "it in place of theirs."
)


@router.get("/guide", dependencies=GUIDE)
def rides(request: Request, past: str = "", page: int = 1) -> Response:
    """The rides with a report, the next first; no address, and names in groups alone."""
    desk = desk_of(request)
    page = min(max(page, 1), 10_000)
    with desk.db.read() as conn:
        rows = _rides(conn, date.today().isoformat(), past=bool(past), skip=(page - 1) * _PAGE)
        told = bookings.standings(conn, [row.id for row in rows])
    shown = [(b, row) for b in rows[:_PAGE] for row in told[b.id] if row.summary]
    return desk.page(
        request, "guide.html", rows=shown, past=bool(past), page=page, more=len(rows) > _PAGE
    )


def _rides(conn: Connection, today: str, *, past: bool, skip: int) -> Sequence[Any]:
    """Rides that end today or later, or have no date, the next first; past ones, the last first."""
    table = schema.bookings
    ends_on = sa.case((table.c.ends_on != "", table.c.ends_on), else_=table.c.starts_on)
    dated = table.c.starts_on != ""
    query = sa.select(table).where(table.c.state != "waiting")
    if past:
        query = query.where(dated, ends_on < today).order_by(
            table.c.starts_on.desc(), table.c.id.desc()
        )
    else:
        query = query.where(sa.or_(sa.not_(dated), ends_on >= today)).order_by(
            sa.not_(dated), table.c.starts_on, table.c.id
        )
    return conn.execute(query.offset(skip).limit(_PAGE + 1)).all()


def _ride(conn: Connection, route_id: int) -> tuple[Any, Standing]:
    booking = conn.execute(
        sa.select(schema.bookings)
        .join(schema.routes, schema.routes.c.booking_id == schema.bookings.c.id)
        .where(schema.routes.c.id == route_id)
    ).first()
    if booking is not None:
        for row in bookings.standings(conn, [booking.id])[booking.id]:
            if row.route_id == route_id:
                return booking, row
    raise HTTPException(404, message("There is no such ride (any more)."))


@router.get("/guide/{route_id}", dependencies=GUIDE)
def plan(request: Request, route_id: int) -> Response:
    return _plan_page(request, route_id)


def _plan_page(request: Request, route_id: int, fault: str = "", *, status: int = 422) -> Response:
    desk = desk_of(request)
    with desk.db.read() as conn:
        booking, row = _ride(conn, route_id)
        kept = _kept(conn, route_id)
    kept_wishes = _wishes_of(kept)
    form: Form = request.state.form
    translator = translator_for(desk.lang(request), booking.units)
    made = plan_of(desk, row.report_id) if row.report_id is not None else None
    strip = None if row.summary is None else row.summary.strip
    return desk.page(
        request, "plan.html", status=status if fault else 200, b=booking, row=row, plan=made,
        table=None if made is None else plan_table(made, strip, kept_wishes, form, translator),
        dated=bool(booking.depart), kinds=[(k, STOP_TERMS[k]) for k in KINDS],
        fault=fault, translator=translator, typed=form.texts, pinned=kept is not None,
        seen=mark_of(kept), days=trip_days(booking.starts_on, booking.ends_on, translator),
        bags=BAG_TERMS, groups=drawn_groups([row], translator),
        more=added_beside(form, made),
    )  # fmt: skip


def _kept(conn: Connection, route_id: int) -> Any:
    """The wishes kept for a ride, or None."""
    return conn.execute(sa.select(schema.pins).where(schema.pins.c.route_id == route_id)).first()


def plan_of(desk: Desk, report_id: int) -> Plan:
    """The plan of a stored report, of this version of the program or an earlier one."""
    return Plan.from_dict(with_messages(facts_of(desk, report_id)))


def _wishes_of(kept: Any) -> Wishes:
    """The wishes that are kept for a ride, as they were typed; none if there are none."""
    if kept is None:
        return {}
    told: Wishes = json.loads(str(kept.body).partition("\n")[0].removeprefix("# "))
    return told


@router.post("/guide/{route_id}", dependencies=GUIDE)
def change_plan(request: Request, route_id: int) -> Response:
    """Keep the guide's wishes, checked as in a file of pins, and have the plan made anew."""
    from terrain.inputs.pins import parse_pins

    desk = desk_of(request)
    form: Form = request.state.form
    now, gone = time.time(), 0
    with desk.db.read() as conn:
        booking, row = _ride(conn, route_id)
        kept = _wishes_of(_kept(conn, route_id))
    made = plan_of(desk, row.report_id) if row.report_id is not None else None
    translator = translator_for("en", booking.units)
    wishes = typed_wishes(form, kept, made, translator.distance_unit_m)
    body = ""
    if "clear" not in form.texts:
        body = f"# {json.dumps(wishes, ensure_ascii=False)}\n{_toml(wishes)}"
        try:
            parse_pins(body.encode(), message("your plan"), by_line=False)
        except InputError as exc:
            return _plan_page(request, route_id, desk.fault(request, exc))
    try:
        with desk.db.write() as conn:
            booking, _ = _ride(conn, route_id)
            check_seen(form.get("seen"), _kept(conn, route_id))
            if not body:
                gone = put_aside(
                    conn, schema.pins, [route_id], message("plan cleared: {ref}", ref=booking.ref),
                    who=request.state.person.name, now=now, path=f"/guide/{route_id}",
                )  # fmt: skip
            _keep(conn, route_id, body, request.state.person.name, now)
            bookings.note_event(
                conn, request.state.person.name, message("plan changed"), now, booking.id
            )
    except DecidedMeanwhile:
        fault = desk.translator(request)._(_PLANNED_MEANWHILE)
        return _plan_page(request, route_id, fault, status=409)
    return desk.go(f"/guide/{route_id}?gone={gone}" if gone else f"/guide/{route_id}")


def _keep(conn: Connection, route_id: int, body: str, who: str, now: float) -> None:
    conn.execute(schema.pins.delete().where(schema.pins.c.route_id == route_id))
    if body:
        add_row(conn, schema.pins, route_id=route_id, body=body, who=who, made_at=now)
    add_job(conn, "report", now, route_id=route_id)


def _toml(wishes: Wishes) -> str:
    """The wishes in the words of a pins file; every text is quoted, so it stays text."""
    lines = [f"start = {_quoted(wishes['start'])}"] if wishes["start"] else []
    for night in wishes["nights"]:
        lines += ["[[day]]", f"number = {_number(night['number'])}",
                  f"end_km = {_number(night['km'])}"]  # fmt: skip
        if night["name"]:
            lines.append(f"name = {_quoted(night['name'])}")
    for stop in wishes["stops"]:
        lines += ["[[stop]]", f"km = {_number(stop['km'])}"]
        if stop["kind"]:
            lines.append(f"kind = {_quoted(stop['kind'])}")
        if stop["name"]:
            lines.append(f"name = {_quoted(stop['name'])}")
        if stop["min"]:
            lines.append(f"stay_min = {_number(stop['min'])}")
    for km in wishes["without"]:
        lines += ["[[without]]", f"km = {_number(km)}"]
    return "\n".join(lines) + "\n"


def _quoted(text: str) -> str:
    return json.dumps(text, ensure_ascii=False).replace("\x7f", "")


def _number(text: str) -> str:
    """A number as it was typed, or the text quoted, so that the check names it."""
    plain = text.replace(",", ".")
    try:
        value = float(plain)
    except ValueError:
        return _quoted(text)
    if value.is_integer() and abs(value) < 1e9:
        return str(int(value))
    return repr(value) if abs(value) < 1e9 else _quoted(text)


@router.get("/guide/{route_id}/report", dependencies=GUIDE)
def report(request: Request, route_id: int) -> Response:
    """The report as guides read it, in place."""
    desk = desk_of(request)
    with desk.db.read() as conn:
        _, row = _ride(conn, route_id)
    if row.report_id is None:
        raise HTTPException(404, message("There is no report yet."))
    bar = desk.part(request, "guide_bar.html", row=row)
    return report_page(desk, row, "guide.html", bar)


@router.get("/guide/{route_id}/files/{name}", dependencies=GUIDE)
def file(request: Request, route_id: int, name: str) -> Response:
    """The sheet for the tank bag or the GPX for the unit."""
    desk = desk_of(request)
    if name not in ("guide.card", "rider.gpx", "rider.pdf"):
        raise HTTPException(404)
    with desk.db.read() as conn:
        booking, _ = _ride(conn, route_id)
    return download(desk, booking, route_id, name)
