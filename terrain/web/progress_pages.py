"""How far the work is, for the part of a page that follows it while the page stands still."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from fastapi import APIRouter, Depends, Request
from sqlalchemy.engine import Connection
from starlette.responses import JSONResponse, Response

from terrain.web import bookings
from terrain.web.access import LINK, Allow
from terrain.web.bookings import Progress
from terrain.web.desk import desk_of

router = APIRouter(include_in_schema=False)


@router.get("/t/{link}/state", dependencies=[Depends(Allow(LINK))])
async def of_trip(request: Request, link: str) -> Response:
    """How far the routes are, for the rider's page."""
    booking_id = request.state.booking.id
    return await _told(request, lambda conn: bookings.progress(conn, booking_id))


@router.get("/desk/b/{ref}/state", dependencies=[Depends(Allow("staff"))])
async def of_booking(request: Request, ref: str) -> Response:
    """The same, for the page of a booking."""

    def rows(conn: Connection) -> Sequence[Progress]:
        row = bookings.by_ref(conn, ref)
        return bookings.progress(conn, row.id) if row is not None else ()

    return await _told(request, rows)


@router.get("/guide/{route_id}/state", dependencies=[Depends(Allow("guide"))])
async def of_ride(request: Request, route_id: int) -> Response:
    """The same, for the page of a plan."""
    return await _told(request, lambda conn: bookings.progress_of_route(conn, route_id))


async def _told(request: Request, rows: Callable[[Connection], Sequence[Progress]]) -> Response:
    desk = desk_of(request)
    found = await desk.db.soon(rows)
    translator = desk.translator(request)
    told = [{"id": row.route_id, "text": row.step_in(translator)} for row in found]
    return JSONResponse({"working": any(row.working for row in found), "routes": told})
