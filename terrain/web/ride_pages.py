"""After the ride: the rider's recording, and what he says of the road."""

from __future__ import annotations

import time

from fastapi import APIRouter, Depends, HTTPException, Request
from starlette.responses import Response

from terrain.errors import InputError
from terrain.text.catalogue import N_
from terrain.text.message import message
from terrain.text.terms import SAID_TERMS
from terrain.text.translator import translator_for
from terrain.web import bookings, rides
from terrain.web.access import LINK, Allow, Form
from terrain.web.bookings import explained_beside
from terrain.web.desk import desk_of
from terrain.web.desk_pages import found
from terrain.web.downloads import report_rule

router = APIRouter(include_in_schema=False)
STAFF = [Depends(Allow("staff"))]
_KEPT = N_("The recording is deleted as soon as it is read; times and ground by road are kept.")
_KEPT_DAYS = N_(
    "The recording is deleted {days} days after it is read; times and ground by road are kept."
)


@router.get("/t/{link}/ride", dependencies=[Depends(Allow(LINK))])
def after(request: Request, link: str) -> Response:
    """One page after the ride: send the recording, say what the road was."""
    return _after_page(request, link)


def _after_page(request: Request, link: str, fault: str = "") -> Response:
    desk, booking = desk_of(request), request.state.booking
    with desk.db.read() as conn:
        rows = bookings.standings(conn, [booking.id])[booking.id]
        sent = rides.rides_of(conn, booking.id)
        asked = rides.after_questions(conn, booking.id, rows, booking.lang)
    days = desk.settings.keep_tracks_days
    translator = translator_for(booking.lang)
    return desk.page(
        request, "ride.html", status=422 if fault else 200, lang=booking.lang, link=link,
        sent=sent, asked=asked, words=SAID_TERMS, fault=fault, ref=booking.ref,
        why=lambda item: explained_beside(item.name, item.fault, translator),
        kept=translator._(_KEPT_DAYS, days=days) if days else translator._(_KEPT),
        thanks=request.query_params.get("thanks", "") == "1",
    )  # fmt: skip


@router.post("/t/{link}/ride", dependencies=[Depends(Allow(LINK, limited=True))])
def take(request: Request, link: str) -> Response:
    """Take the recording and what is said, whichever came."""
    desk, booking = desk_of(request), request.state.booking
    form: Form = request.state.form
    now = time.time()
    try:
        with desk.db.write() as conn:
            rows = bookings.standings(conn, [booking.id])[booking.id]
            asked = rides.after_questions(conn, booking.id, rows, booking.lang)
            said = rides.keep_said(conn, booking, asked, form.texts, now)
            if not form.files and not said:
                raise InputError(message("Choose a file first, or say what the road was."))
            if form.files:
                rides.add_rides(conn, booking.id, form.files, now)
                what = message("ride sent")
                bookings.note_event(conn, "rider", what, now, booking.id)
            if said:
                what = message("said what the road was: {n}", n=str(said))
                bookings.note_event(conn, "rider", what, now, booking.id)
    except InputError as exc:
        return _after_page(request, link, exc.say(translator_for(booking.lang)))
    return desk.go(f"/t/{link}/ride?thanks=1")


@router.get("/t/{link}/ride/{ride_id}", dependencies=[Depends(Allow(LINK))])
def page(request: Request, link: str, ride_id: int) -> Response:
    """The ride against its plan, drawn; its rider's alone."""
    desk, booking = desk_of(request), request.state.booking
    with desk.db.read() as conn:
        html = rides.page_of(conn, booking.id, ride_id) if ride_id < 2**31 else None
    return _drawn(html)


@router.get("/desk/b/{ref}/ride/{ride_id}", dependencies=STAFF)
def page_for_staff(request: Request, ref: str, ride_id: int) -> Response:
    desk = desk_of(request)
    with desk.db.read() as conn:
        booking = found(conn, ref)
        html = rides.page_of(conn, booking.id, ride_id) if ride_id < 2**31 else None
    return _drawn(html)


def _drawn(html: bytes | None) -> Response:
    if html is None:
        raise HTTPException(404, message("This ride is not read (yet)."))
    rule = {"content-security-policy": report_rule()}
    return Response(html, media_type="text/html; charset=utf-8", headers=rule)
