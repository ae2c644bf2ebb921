"""Routes read again: one that failed, or all of these after a new map or other settings."""

from __future__ import annotations

import time
from datetime import date

import sqlalchemy as sa
from fastapi import APIRouter, Depends, HTTPException, Request
from sqlalchemy.engine import Connection
from starlette.responses import Response

from terrain.text.message import message
from terrain.web import bookings
from terrain.web.access import Allow
from terrain.web.desk import desk_of
from terrain.web.desk_pages import found
from terrain.web.jobs import FAILED, add_job
from terrain.web.roads import changed_roads
from terrain.web.schema import jobs, routes

router = APIRouter(include_in_schema=False)
STAFF = [Depends(Allow("staff"))]


@router.post("/desk/b/{ref}/again/{route_id}", dependencies=STAFF)
def one(request: Request, ref: str, route_id: int) -> Response:
    """Read one route again, with the map and the settings there are now."""
    desk, now = desk_of(request), time.time()
    with desk.db.write() as conn:
        row = found(conn, ref)
        if route_id not in [route.id for route in bookings.current_routes(conn, row.id)]:
            raise HTTPException(404, message("This booking has no such route (any more)."))
        _again(conn, row.id, route_id, request.state.person.name, now)
    return desk.go(f"/desk/b/{ref}")


@router.post("/desk/again/changed", dependencies=STAFF)
def all_changed(request: Request) -> Response:
    """Read all routes of open bookings again whose roads changed on the map since."""
    desk, now = desk_of(request), time.time()
    with desk.db.write() as conn:
        moved = changed_roads(conn, desk.settings, date.today().isoformat())
        for route_id, (booking_id, _) in moved.items():
            _again(conn, booking_id, route_id, request.state.person.name, now)
    return desk.go("/desk")


@router.post("/desk/again", dependencies=STAFF)
def all_failed(request: Request) -> Response:
    """Read all routes again that could not be read."""
    desk, now = desk_of(request), time.time()
    with desk.db.write() as conn:
        for row in conn.execute(_FAILED).all():
            _again(conn, row.booking_id, row.id, request.state.person.name, now)
    return desk.go("/desk")


def count_failed(conn: Connection) -> int:
    """Present routes whose last reading failed."""
    counted = sa.select(sa.func.count()).select_from(_FAILED.subquery())
    return int(conn.execute(counted).scalar() or 0)


def _again(conn: Connection, booking_id: int, route_id: int, who: str, now: float) -> None:
    add_job(conn, "report", now, route_id=route_id)
    bookings.note_event(conn, who, message("route read again"), now, booking_id)


_LAST = (
    sa.select(sa.func.max(jobs.c.id))
    .where(jobs.c.route_id == routes.c.id, jobs.c.kind == "report")
    .correlate(routes)
    .scalar_subquery()
)
_FAILED = (
    sa.select(routes.c.id, routes.c.booking_id)
    .join(jobs, jobs.c.id == _LAST)
    .where(routes.c.current.is_(True), jobs.c.state == FAILED)
)
