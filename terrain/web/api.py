"""The JSON API for the operator's booking system: bookings, routes, reports; OpenAPI."""

from __future__ import annotations

import time
from collections.abc import Sequence
from typing import Annotated, Any, Literal

import sqlalchemy as sa
from fastapi import APIRouter, Body, Depends, HTTPException, Path, Query, Request
from pydantic import BaseModel, ConfigDict, Field, StrictBool
from sqlalchemy.engine import Connection
from starlette.responses import JSONResponse, Response

from terrain.report.letter import LetterKind
from terrain.text.catalogue import LANGUAGES
from terrain.text.message import message
from terrain.web import bookings, party, schema
from terrain.web.access import OPEN, TOKEN, Allow
from terrain.web.bookings import Sent, State
from terrain.web.database import BusyError
from terrain.web.desk import desk_of
from terrain.web.desk_pages import facts_of, found
from terrain.web.details import Details, checked_booking
from terrain.web.downloads import attachment, download
from terrain.web.jobs import queue_length
from terrain.web.mail import eml_of
from terrain.web.retention import forget_booking
from terrain.web.summary import Told
from terrain.web.trips import OneRider

router = APIRouter(prefix="/api/v1")
_TOKEN = [Depends(Allow(TOKEN))]
Ref = Annotated[str, Path(pattern=r"^[A-Za-z0-9][A-Za-z0-9._-]{0,39}$")]


class Fault(BaseModel):
    """What went wrong, where, and how to put it right."""

    what: str
    where: str
    fix: str


class Refused(BaseModel):
    """Every error has this shape."""

    error: Fault


_ERRORS: dict[int | str, dict[str, Any]] = {
    code: {"model": Refused} for code in (400, 401, 404, 413, 422, 429, 503)
}


class RiderIn(BaseModel):
    """A rider beside the one who booked; what is left out is the desk's usual."""

    model_config = ConfigDict(extra="forbid")
    customer: str = Field(min_length=1, max_length=120, pattern=r"\S")
    email: str = Field("", max_length=254, pattern=r"^\s*([^@\s]+@[^@\s]+)?\s*$")
    wanted: str = Field("", max_length=80, description="bike class wanted")
    rider: Literal["novice", "steady", "expert"] = "steady"
    riding: Literal["new", "practised"] | None = None
    luggage: Literal["none", "soft", "boxes"] = "soft"
    pillion: StrictBool = False


class BookingIn(BaseModel):
    """A booking; what is left out stays as it is, or takes the desk's usual."""

    model_config = ConfigDict(extra="forbid")
    customer: str | None = Field(None, max_length=120)
    email: str | None = Field(
        None, max_length=254, pattern=r"^\s*([^@\s]+@[^@\s]+)?\s*$", description="name@place"
    )
    starts_on: str | None = Field(None, description="ISO date")
    ends_on: str | None = Field(None, description="ISO date")
    wanted: str | None = Field(None, max_length=80, description="bike class wanted")
    state: Literal["waiting", "analysed", "asked", "answered", "settled"] | None = None
    lang: str | None = Field(None, pattern=f"^({'|'.join(LANGUAGES)})$")
    units: Literal["metric", "imperial"] | None = None
    depart: str | None = Field(None, description="local time, such as 2027-03-14T07:30")
    rider: Literal["novice", "steady", "expert"] | None = None
    riding: Literal["new", "practised"] | None = None
    wants: Literal["road", "off-road", "open"] | None = None
    pillion: StrictBool | None = None
    guided: StrictBool | None = None
    luggage: Literal["none", "soft", "boxes"] | None = None
    remark: str | None = Field(None, max_length=2000)
    riders: list[RiderIn] | None = Field(
        None, max_length=party.MOST, description="those beside who booked, in place of all before"
    )

    def told(self) -> Details:
        return checked_booking(self.model_dump(exclude_none=True, exclude={"riders"}))

    def further(self) -> tuple[OneRider, ...] | None:
        """The riders beside who booked; None if nothing is said of them."""
        if self.riders is None:
            return None
        return party.checked_riders([rider.model_dump(exclude_none=True) for rider in self.riders])


class NewBooking(BookingIn):
    """A new booking; without a reference it gets one."""

    ref: str | None = Field(None, pattern=r"^[A-Za-z0-9][A-Za-z0-9._-]{0,39}$")


class RouteOut(BaseModel):
    """One route of a booking and its verdict."""

    id: int
    name: str
    state: Literal["waiting", "running", "done", "failed"]
    fault: str
    report_id: int | None
    summary: Told | None


class BookingOut(BaseModel):
    """A booking with its routes. link : the rider's page, only when it was just made"""

    ref: str
    customer: str
    email: str
    starts_on: str
    ends_on: str
    wanted: str
    state: str
    lang: str
    units: str
    depart: str
    rider: str
    riding: str
    wants: str
    pillion: bool
    guided: bool
    luggage: str
    remark: str
    riders: list[OneRider]
    routes: list[RouteOut]
    link: str | None = None


@router.get("/openapi.json", dependencies=[Depends(Allow(OPEN))], include_in_schema=False)
def description(request: Request) -> Response:
    """This API as OpenAPI 3.1."""
    told = request.app.openapi()
    parts = {
        **told["components"],
        "securitySchemes": {"token": {"type": "http", "scheme": "bearer"}},
    }
    return JSONResponse({**told, "components": parts, "security": [{"token": []}]})


@router.get("/bookings", dependencies=_TOKEN, responses=_ERRORS)
def list_bookings(
    request: Request,
    state: Annotated[State | None, Query()] = None,
    after: Annotated[str, Query(max_length=40, description="reference of the last one seen")] = "",
    limit: Annotated[int, Query(ge=1, le=200)] = 50,
) -> list[BookingOut]:
    """Bookings by reference."""
    desk = desk_of(request)
    query = sa.select(schema.bookings).where(schema.bookings.c.ref > after.replace("\x00", ""))
    if state is not None:
        query = query.where(schema.bookings.c.state == state.value)
    with desk.db.read() as conn:
        rows = conn.execute(query.order_by(schema.bookings.c.ref).limit(limit)).all()
        return _out(conn, rows)


def _out(conn: Connection, rows: Sequence[Any]) -> list[BookingOut]:
    """Bookings with their riders, routes and verdicts."""
    ids = [row.id for row in rows]
    routes, riders = bookings.standings(conn, ids), party.riders_by_booking(conn, ids)
    return [_one(row, riders[row.id], routes[row.id]) for row in rows]


def _one(row: Any, riders: Sequence[OneRider], routes: Sequence[bookings.Standing]) -> BookingOut:
    fields = {name: getattr(row, name) for name in BookingOut.model_fields if hasattr(row, name)}
    listed = [
        RouteOut(
            id=x.route_id, name=x.name, state=x.state,  # type: ignore[arg-type]
            fault=x.fault_in("en"),
            report_id=x.report_id, summary=x.told("en"),
        )
        for x in routes
    ]  # fmt: skip
    return BookingOut(**fields, riders=list(riders), routes=listed)


@router.post("/bookings", dependencies=_TOKEN, responses=_ERRORS, status_code=201)
def make_booking(request: Request, given: NewBooking) -> BookingOut:
    """Make a booking; the answer holds the rider's link, this once."""
    desk = desk_of(request)
    now = time.time()
    told, further = given.told(), given.further()
    with desk.db.write() as conn:
        booking_id, ref, link = bookings.add_booking(
            conn, told, now, lang=desk.settings.lang, units=desk.settings.units
        )
        bookings.note_event(
            conn, f"api: {request.state.token}", message("booking made"), now, booking_id
        )
        party.keep_riders(conn, booking_id, further or ())
        (made,) = _out(conn, [found(conn, ref)])
    return made.model_copy(update={"link": desk.whole(f"/t/{link}", request)})


@router.get("/bookings/{ref}", dependencies=_TOKEN, responses=_ERRORS)
def get_booking(request: Request, ref: Ref) -> BookingOut:
    """One booking with its routes and their verdicts."""
    desk = desk_of(request)
    with desk.db.read() as conn:
        return _out(conn, [found(conn, ref)])[0]


@router.patch("/bookings/{ref}", dependencies=_TOKEN, responses=_ERRORS)
def change_booking(request: Request, ref: Ref, given: BookingIn) -> BookingOut:
    """Change a booking; its reports are made again if the trip changed."""
    desk = desk_of(request)
    now = time.time()
    told, further = given.told(), given.further()
    with desk.db.write() as conn:
        row, who = found(conn, ref), f"api: {request.state.token}"
        if told != Details():
            bookings.change_booking(conn, row.id, told, now)
            bookings.note_event(conn, who, message("changed"), now, row.id)
        if further is not None:
            party.change_riders(conn, row, further, who=who, now=now)
        return _out(conn, [found(conn, ref)])[0]


@router.delete("/bookings/{ref}", dependencies=_TOKEN, responses=_ERRORS, status_code=204)
def delete_booking(request: Request, ref: Ref) -> None:
    """Delete a booking with all data of its person."""
    desk = desk_of(request)
    with desk.db.write() as conn:
        forget_booking(conn, found(conn, ref).id)
        what = message("booking deleted: {ref}", ref=ref)
        bookings.note_event(conn, f"api: {request.state.token}", what, time.time())


@router.post("/bookings/{ref}/routes", dependencies=_TOKEN, responses=_ERRORS, status_code=202)
def send_route(
    request: Request,
    ref: Ref,
    content: Annotated[bytes, Body(media_type="application/gpx+xml", min_length=1)],
    name: Annotated[str, Query(max_length=120)] = "route.gpx",
    once: Annotated[str, Query(max_length=80, description="the same text: the same upload")] = "",
) -> BookingOut:
    """Send a booking's route, in place of earlier ones; the body is the file."""
    desk = desk_of(request)
    now = time.time()
    with desk.db.write() as conn:
        row = found(conn, ref)
        if queue_length(conn) >= desk.settings.max_queue:
            raise BusyError(
                message("too many routes are waiting"), "", message("Try again in a few minutes.")
            )
        sent = Sent(name=name, content=content)
        bookings.add_routes(conn, row.id, [sent], now, once=once.replace("\x00", ""))
        return _out(conn, [row])[0]


@router.get("/bookings/{ref}/report", dependencies=_TOKEN, responses=_ERRORS)
def get_report(
    request: Request,
    ref: Ref,
    route: Annotated[int, Query(ge=0, le=2**53)] = 0,
    kind: Annotated[
        Literal["json", "pdf", "gpx", "kml", "ics", "csv", "geojson", "eml"], Query()
    ] = "json",
) -> Response:
    """The newest report of a route (of the first if 0): terrain-report/1 or a file."""
    desk = desk_of(request)
    with desk.db.read() as conn:
        row = found(conn, ref)
        routes = bookings.standings(conn, [row.id])[row.id]
    chosen = next((x for x in routes if x.report_id and route in (0, x.route_id)), None)
    if chosen is None or chosen.report_id is None:
        raise HTTPException(404, message("There is no report yet."))
    if kind == "json":
        return JSONResponse(facts_of(desk, chosen.report_id))
    if kind == "eml":
        _, data = eml_of(desk, row, chosen, kind=LetterKind.ANSWER, link="", who="")
        return attachment(data, row.ref, "mail.eml")
    audience = "staff" if kind in ("csv", "geojson") else "rider"
    return download(desk, row, chosen.route_id, f"{audience}.{kind}")
