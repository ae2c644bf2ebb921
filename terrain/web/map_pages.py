"""Ground notes and helpers of the operator's own, put on the map and corrected there."""

from __future__ import annotations

import json
import re
import time
from collections.abc import Iterable, Sequence
from datetime import date
from typing import Any
from urllib.parse import quote

import sqlalchemy as sa
from fastapi import APIRouter, Depends, HTTPException, Request
from sqlalchemy.engine import Connection
from starlette.responses import Response

from terrain.errors import InputError
from terrain.text.catalogue import N_
from terrain.text.message import message
from terrain.text.plain import one_line, shortened
from terrain.values.fleet import BikeClass
from terrain.values.help import HelperKind
from terrain.web import schema
from terrain.web.access import Allow, Form
from terrain.web.bookings import note_event
from terrain.web.database import add_row, change_rows
from terrain.web.desk import Desk, desk_of
from terrain.web.points import Point, read_points, say_points
from terrain.web.regions import check_on_map, choose_map
from terrain.web.undo import put_aside
from terrain.web.work import fleet_of

router = APIRouter(include_in_schema=False)
STAFF = [Depends(Allow("staff"))]
_GROUNDS = ("", "paved", "gravel", "track")
_NOTE = ("ground", "severity", "date", "remark")
_HELPER = (("name", 120), ("kind", 20), ("repairs", 200), ("phone", 60), ("hours", 120),
           ("note", 300))  # fmt: skip


@router.get("/desk/notes", dependencies=STAFF)
def notes_page(
    request: Request, level: int = 0, lon: float = 0.0, lat: float = 0.0, change: int = 0
) -> Response:
    return _notes_page(request, level, (lon, lat), change)


def _notes_page(
    request: Request, level: int = 0, centre: Point | None = None, change: int = 0, fault: str = ""
) -> Response:
    from terrain.tables.ground_severity import SEVERITIES

    desk = desk_of(request)
    form: Form = request.state.form
    with desk.db.read() as conn:
        rows = conn.execute(sa.select(schema.notes).order_by(schema.notes.c.id.desc())).all()
    told = [(row, [(p[0], p[1]) for p in json.loads(row.line)]) for row in rows]
    today = date.today().isoformat()  # of the machine, which is where the desk is
    values = {"id": "", "ground": "", "severity": "", "date": today, "remark": "", "points": ""}
    for row, line in told:
        if row.id == change:
            values = {"id": str(row.id), "ground": row.ground, "severity": row.severity,
                      "date": row.noted, "remark": row.remark,
                      "points": say_points(line)}  # fmt: skip
    values |= {key: form.texts[key] for key in values if key in form.texts}
    return desk.page(
        request, "notes.html", status=422 if fault else 200, rows=told, fault=fault, v=values,
        grounds=_GROUNDS, severities=[row.name for row in SEVERITIES],
        **_map(request, desk, level, centre, [line for _, line in told], values),
    )  # fmt: skip


def _map(
    request: Request, desk: Desk, level: int, centre: Point | None,
    kept: Sequence[Sequence[Point]], values: dict[str, str],
) -> dict[str, Any]:  # fmt: skip
    """The map of a page with a form that takes points; what is kept is drawn with its number."""
    from terrain.web.mapdraw import draw_map, map_credit, view_of

    points = values["points"]
    drawn = read_points(points)
    asked = request.query_params.get("region", "") or request.state.form.get("region")
    choice = choose_map(desk.settings, asked, drawn)
    change = f"change={values['id']}&" if values["id"].isdigit() else ""
    keep = f"{change}region={quote(choice.name)}&" if choice.name else change
    told = {"points": points, "keep": keep, "choice": choice, "change_query": change}
    region = choice.region
    if region is None:
        return {**told, "map": "", "view": None, "credit": ()}
    if not (centre and any(centre)):
        centre = drawn[0] if level and drawn else None
    view = view_of(region, level, centre)
    label = desk.translator(request)._("Map of the region, north up")
    picture = draw_map(region, view, drawn, label, kept=kept)
    return {**told, "map": picture, "view": view,
            "credit": map_credit(region, desk.lang(request))}  # fmt: skip


@router.post("/desk/notes", dependencies=STAFF)
def keep_note(request: Request) -> Response:
    """Keep a ground note, new or corrected, checked as in a notes file."""
    from terrain.inputs.notes import parse_notes

    desk, form = desk_of(request), request.state.form
    line = [list(point) for point in read_points(form.get("points"))]
    told = {key: one_line(form.get(key), 300) for key in _NOTE if form.get(key).strip()}
    kind, at = ("Point", line[0]) if len(line) == 1 else ("LineString", line)
    feature = {"type": "Feature", "geometry": {"type": kind, "coordinates": at}, "properties": told}
    try:
        if not line:
            raise InputError(
                message("the note has no place"), "", message("Tap the map where it is.")
            )
        if "ground" not in told and "severity" not in told:
            raise InputError(
                message("the note tells no ground"),
                "",
                message("Choose the ground or its severity."),
            )
        parse_notes(json.dumps({"type": "FeatureCollection", "features": [feature]}).encode(), "")
        check_on_map(desk.settings, [(lon, lat) for lon, lat in line])
        if told.get("date", "") > date.today().isoformat():
            raise InputError(
                message("the day it was seen is still to come"), "", message("Correct the dates.")
            )
    except InputError as exc:
        return _notes_page(request, fault=desk.fault(request, exc))
    values = {
        "line": json.dumps(line), "ground": told.get("ground", ""),
        "severity": told.get("severity", ""), "noted": told.get("date", ""),
        "who": request.state.person.name, "remark": told.get("remark", ""),
    }  # fmt: skip
    _keep(desk, schema.notes, form, values)
    return desk.go("/desk/notes")


def _keep(desk: Desk, table: sa.Table, form: Form, values: dict[str, Any]) -> None:
    """Correct the row that the form names, or add one."""
    row_id = form.get("id")
    with desk.db.write() as conn:
        if not row_id:
            add_row(conn, table, **values, created_at=time.time())
            return
        mine = table.c.id == (int(row_id) if row_id.isdigit() and len(row_id) < 10 else -1)
        if not change_rows(conn, table, mine, **values):
            raise HTTPException(404, message("This was deleted meanwhile."))


@router.post("/desk/notes/{note_id}/delete", dependencies=STAFF)
def delete_note(request: Request, note_id: int) -> Response:
    desk = desk_of(request)
    with desk.db.write() as conn:
        gone = _delete(conn, request, schema.notes, note_id, N_("note deleted: {name}"))
    return desk.go(f"/desk/notes?gone={gone}")


@router.get("/desk/helpers", dependencies=STAFF)
def helpers_page(
    request: Request, level: int = 0, lon: float = 0.0, lat: float = 0.0, change: int = 0
) -> Response:
    return _helpers_page(request, level, (lon, lat), change)


def _helpers_page(
    request: Request, level: int = 0, centre: Point | None = None, change: int = 0, fault: str = ""
) -> Response:
    desk = desk_of(request)
    form: Form = request.state.form
    with desk.db.read() as conn:
        rows = conn.execute(sa.select(schema.helpers).order_by(schema.helpers.c.name)).all()
    values = dict.fromkeys(("id", "points", *(name for name, _ in _HELPER)), "")
    for row in rows:
        if row.id == change:
            values = {name: getattr(row, name) for name, _ in _HELPER}
            values |= {"id": str(row.id), "points": say_points([(row.lon, row.lat)])}
    values |= {key: form.texts[key] for key in values if key in form.texts}
    classes = fleet_of(desk.settings).classes
    if form.texts:
        values["repairs"] = _ticked(form, classes)
    titles = {item.name: desk.translator(request).translate_term(item.title) for item in classes}
    return desk.page(
        request, "helpers.html", status=422 if fault else 200, rows=rows, fault=fault, v=values,
        kinds=list(HelperKind), titles=titles, mended=_names(values["repairs"]),
        titled=lambda text: ", ".join(titles.get(name, name) for name in _names(text)),
        **_map(request, desk, level, centre, [[(row.lon, row.lat)] for row in rows], values),
    )  # fmt: skip


def _names(text: str) -> list[str]:
    """Classes as they are kept, in a row."""
    return re.findall(r"[^,;\s]+", text)


def _ticked(form: Form, classes: Iterable[BikeClass]) -> str:
    """The classes ticked as mended there, by name."""
    return " ".join(item.name for item in classes if form.get(f"repairs.{item.name}"))


@router.post("/desk/helpers", dependencies=STAFF)
def keep_helper(request: Request) -> Response:
    """Keep a helper of the operator's own, new or corrected, checked as in a helpers file."""
    from terrain.inputs.helpers import parse_helpers

    desk, form = desk_of(request), request.state.form
    points = read_points(form.get("points"))
    told = {key: one_line(form.get(key), longest) for key, longest in _HELPER}
    told["repairs"] = _ticked(form, fleet_of(desk.settings).classes)
    try:
        if not points:
            raise InputError(
                message("the helper has no place"), "", message("Tap the map where it is.")
            )
        if not told["name"]:
            raise InputError(message("the helper has no name"))
        given = {k: v for k, v in told.items() if v}
        geometry = {"type": "Point", "coordinates": list(points[-1])}
        feature = {"type": "Feature", "geometry": geometry, "properties": given}
        tree = {"type": "FeatureCollection", "features": [feature]}
        parse_helpers(json.dumps(tree).encode(), "")
        check_on_map(desk.settings, points[-1:])
    except InputError as exc:
        return _helpers_page(request, fault=desk.fault(request, exc))
    lon, lat = points[-1]
    _keep(desk, schema.helpers, form, {**told, "lon": lon, "lat": lat})
    return desk.go("/desk/helpers")


@router.post("/desk/helpers/{helper_id}/delete", dependencies=STAFF)
def delete_helper(request: Request, helper_id: int) -> Response:
    desk = desk_of(request)
    with desk.db.write() as conn:
        gone = _delete(conn, request, schema.helpers, helper_id, N_("helper deleted: {name}"))
    return desk.go(f"/desk/helpers?gone={gone}")


def _delete(conn: Connection, request: Request, table: sa.Table, row_id: int, what: str) -> int:
    """Delete a row that can be taken back until the day ends; returns its number there.

    what : with the field `name`, for a helper its own, for a note its ground and day
    """
    who, now = request.state.person.name, time.time()
    row = conn.execute(sa.select(table).where(table.c.id == row_id)).first()
    if row is None:
        return 0
    named = (row.name,) if table is schema.helpers else (row.ground, row.noted)
    told = message(what, name=shortened(", ".join(filter(None, named)), 60))
    gone = put_aside(conn, table, [row_id], told, who=who, now=now, path=f"/desk/{table.name}")
    conn.execute(table.delete().where(table.c.id == row_id))
    note_event(conn, who, told, now)
    return gone
