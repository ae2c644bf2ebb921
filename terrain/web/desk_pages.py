"""The staff's pages: the table of bookings, one booking, its report and its mail draft."""

from __future__ import annotations

import json
import secrets
import time
from collections.abc import Mapping
from datetime import date
from typing import Any

import sqlalchemy as sa
from fastapi import APIRouter, Depends, HTTPException, Request
from sqlalchemy.engine import Connection
from starlette.responses import RedirectResponse, Response

from terrain.errors import InputError
from terrain.text.catalogue import N_
from terrain.text.message import Message, message
from terrain.text.packed import with_messages
from terrain.text.terms import BAG_TERMS, EXPERIENCE_TERMS, RIDING_TERMS, WANTS_TERMS
from terrain.text.translator import Translator, translator_for
from terrain.web import answers, bookings, links, schema
from terrain.web.access import Allow, Form
from terrain.web.bookings import Standing, State
from terrain.web.changes import changes_of
from terrain.web.desk import Desk, desk_of
from terrain.web.details import Details, checked_booking
from terrain.web.downloads import LAST_FAILED, download, report_page
from terrain.web.group_views import drawn_groups
from terrain.web.group_work import WHO_BOOKED as WHO_BOOKED_TITLE
from terrain.web.jobs import add_job
from terrain.web.limits import check_count
from terrain.web.mail import shown_mails
from terrain.web.party import names_of, numbered
from terrain.web.people import Person
from terrain.web.retention import export_zip, forget_booking
from terrain.web.roads import changed_roads
from terrain.web.rulings import (
    EVERYBODY,
    SETUPS,
    DecidedMeanwhile,
    barred_bikes,
    decide,
    kept_as,
    leaves_open,
    mark_of,
    rulings_of,
)
from terrain.web.undo import forget_all_of, put_aside
from terrain.web.views import DECIDER_WORDS, booking_view, trip_days
from terrain.web.work import fleet_of

router = APIRouter(include_in_schema=False)
STAFF = [Depends(Allow("staff"))]
_PAGE = 100
_NO_FILE = N_("Choose a file first.")
_MEANWHILE = N_(
    "Somebody else changed this booking meanwhile. Kept now: {kept}. What you typed stands below: "
    "keep the details to put it in their place."
)
_DECIDED_MEANWHILE = N_(
    "Somebody else decided meanwhile; it stands beside your words. Send yours again to put them in "
    "its place."
)
_WITHDRAWN = message("decision withdrawn")
_MEANWHILE_SAME = N_("Somebody else changed this booking meanwhile, to what you typed.")


@router.get("/desk/new", dependencies=STAFF)
def new_form(request: Request) -> Response:
    return _new_page(request, Form().texts)


@router.post("/desk/new", dependencies=STAFF)
def new(request: Request) -> Response:
    desk, form = desk_of(request), request.state.form
    given = {key: value for key, value in form.texts.items() if key != "ref" or value.strip()}
    now = time.time()
    try:
        # The same form without a reference sent twice is one booking.
        once = bookings.ref_of(form.get("once"))
        told = checked_booking({"ref": once, **given})
        with desk.db.write() as conn:
            if "ref" not in given and bookings.by_ref(conn, once) is not None:
                return desk.go(f"/desk/b/{once}")
            booking_id, ref, link = bookings.add_booking(
                conn, told, now, lang=desk.settings.lang, units=desk.settings.units
            )
            bookings.note_event(conn, _who(request), message("booking made"), now, booking_id)
    except InputError as exc:
        return _new_page(request, form.texts, desk.fault(request, exc))
    return _booking_page(request, ref, link=link)  # once: the link is kept nowhere


def _new_page(request: Request, values: dict[str, str], fault: str = "") -> Response:
    desk = desk_of(request)
    return desk.page(
        request, "booking_new.html", status=422 if fault else 200, values=values, fault=fault,
        classes=classes_of(request), usual_lang=desk.settings.lang,
        once=values.get("once") or secrets.token_hex(8),
    )  # fmt: skip


def classes_of(request: Request) -> dict[str, str]:
    """The fleet's classes: their names, and their titles in the reader's language."""
    desk = desk_of(request)
    translator = translator_for(desk.lang(request))
    return {
        row.name: translator.translate_term(row.title) for row in fleet_of(desk.settings).classes
    }


@router.get("/desk/b/{ref}", dependencies=STAFF)
def booking(request: Request, ref: str) -> Response:
    return _booking_page(request, ref)


def _booking_page(
    request: Request,
    ref: str,
    *,
    link: str = "",
    fault: str = "",
    typed: Mapping[str, Any] | None = None,
    decided: Mapping[tuple[int, str], Mapping[str, str]] | None = None,
    status: int = 422,
) -> Response:
    """The booking.

    typed : details as they were typed, to stand in the form beside a fault; decided : decisions
        as they were typed, by route and whose they are
    """
    desk, now = desk_of(request), time.time()
    with desk.db.read() as conn:
        row = found(conn, ref)
        rows = bookings.standings(conn, [row.id])[row.id]
        changed = changed_roads(conn, desk.settings, date.today().isoformat(), row.id)
        history = conn.execute(
            sa.select(schema.events)
            .where(schema.events.c.booking_id == row.id)
            .order_by(schema.events.c.id.desc())
            .limit(30)
        ).all()
        rulings = rulings_of(conn, [x.route_id for x in rows])
        mails = shown_mails(desk, conn, row, rows, who=_who(request))
        asked, open_days = answers.questions_of(conn, rows), answers.open_days(conn, row.id, now)
        rounds = answers.rounds_of(conn, rows, desk.lang(request))
        names = names_of(conn, row.id, row.customer)
    translator = translator_for(desk.lang(request), row.units)
    opened = "details" if typed is not None else request.query_params.get("open", "")
    return desk.page(
        request, "booking.html", status=status if fault else 200, b=row,
        view=booking_view(row, rows, translator), translator=translator,
        days=trip_days(row.starts_on, row.ends_on, translator), bags=BAG_TERMS,
        ridings=RIDING_TERMS, wants=WANTS_TERMS, riders_said=EXPERIENCE_TERMS,
        decides=DECIDER_WORDS, mails=mails, last_failed=LAST_FAILED, opened=opened,
        once=secrets.token_hex(8),
        can_send=bool(desk.settings.mail_host and row.email),
        v={**row._mapping, **(typed or {})}, mark=bookings.details_mark(row),
        history=history, rulings=rulings, setups=SETUPS, decided=decided or {},
        ruling_mark=mark_of, barred=barred_bikes, fault=fault, asked=asked, open_days=open_days,
        rounds=rounds,
        classes=classes_of(request),
        working=any(x.working for x in rows), groups=drawn_groups(rows, translator),
        n_riders=len(names), riders=names,
        changed={route_id: n for route_id, (_, n) in changed.items()},
        link=desk.whole(f"/t/{link}", request) if link else "",
    )  # fmt: skip


def found(conn: Connection, ref: str) -> Any:
    """The booking of a reference; 404 if there is none."""
    row = bookings.by_ref(conn, ref)
    if row is None:
        raise HTTPException(404, message("There is no booking of this reference."))
    return row


def _who(request: Request) -> str:
    person: Person = request.state.person
    return person.name


@router.post("/desk/b/{ref}", dependencies=STAFF)
def change(request: Request, ref: str) -> Response:
    """Change the booking's details or its state."""
    desk, form = desk_of(request), request.state.form
    now = time.time()
    given = {key: value for key, value in form.texts.items() if key != "ref"}
    if "rider" in given:
        given["pillion"] = form.get("pillion")
        given["guided"] = form.get("guided")
    try:
        told = checked_booking(given)
        with desk.db.write() as conn:
            row = found(conn, ref)
            if form.get("seen") not in ("", bookings.details_mark(row)):
                raise _Changed(row, told)
            bookings.change_booking(conn, row.id, told, now)
            for what in bookings.told_changes(row, told):
                bookings.note_event(conn, _who(request), what, now, row.id)
            if told.state is not None:
                state = State(told.state)
                answers.follow_state(conn, row.id, state, _who(request), now)
                what = message("state: {state}", state=state.words)
                bookings.note_event(conn, _who(request), what, now, row.id)
    except _Changed as exc:
        fault = exc.say(desk.translator(request))
        return _booking_page(request, ref, fault=fault, typed=given, status=409)
    except InputError as exc:
        return _booking_page(request, ref, fault=desk.fault(request, exc), typed=given)
    return desk.go(f"/desk/b/{ref}")


class _Changed(Exception):
    """Somebody else changed the booking since the form was opened."""

    def __init__(self, row: Any, typed: Details) -> None:
        super().__init__(row.ref)
        self.kept = [item for item in changes_of(row, typed) if item.field in bookings.DETAILS]

    def say(self, translator: Translator) -> str:
        """What is kept now where it is not what was typed."""

        def said(value: str | bool) -> str:
            if isinstance(value, bool):
                return translator._("yes") if value else translator._("no")
            return translator._(value) or "–"

        kept = ", ".join(f"{translator._(item.title)}: {said(item.before)}" for item in self.kept)
        return translator._(_MEANWHILE, kept=kept) if kept else translator._(_MEANWHILE_SAME)


@router.post("/desk/b/{ref}/link", dependencies=STAFF)
def link(request: Request, ref: str) -> Response:
    """Make a new link; the old one ends. It is shown this once."""
    desk = desk_of(request)
    with desk.db.write() as conn:
        row = found(conn, ref)
        fresh = links.renew_link(conn, row.id)
        bookings.note_event(conn, _who(request), message("new link"), time.time(), row.id)
    return _booking_page(request, ref, link=fresh)


@router.post("/desk/b/{ref}/routes", dependencies=[Depends(Allow("staff", limited=True))])
def send(request: Request, ref: str) -> Response:
    """Files that came another way, such as by mail."""
    desk = desk_of(request)
    form: Form = request.state.form
    if not form.files:
        return _booking_page(request, ref, fault=desk.translator(request)._(_NO_FILE))
    try:
        check_count(form.files, desk.settings.max_files)
        # Nobody has said yet how the rider rides: it is asked for beside the first file.
        if form.texts.get("rider") == "":
            raise InputError(message("Choose the off-road experience of the rider."))
        told = checked_booking({"rider": form.get("rider")}) if form.get("rider") else None
    except InputError as exc:
        return _booking_page(request, ref, fault=desk.fault(request, exc))
    now = time.time()
    with desk.db.write() as conn:
        row = found(conn, ref)
        if told is not None:
            bookings.change_booking(conn, row.id, told, now)
        bookings.add_routes(conn, row.id, form.files, now, once=form.get("once"))
        bookings.note_event(conn, _who(request), message("route added"), now, row.id)
    return desk.go(f"/desk/b/{ref}")


@router.post("/desk/b/{ref}/ruling/{route_id}", dependencies=STAFF)
def rule(request: Request, ref: str, route_id: int) -> Response:
    """Put the desk's decision, with its reason, in place of the advice."""
    desk, form = desk_of(request), request.state.form
    now, gone, whose = time.time(), 0, form.get("rider")
    mine = (route_id, whose)
    try:
        with desk.db.write() as conn:
            row = found(conn, ref)
            route = own_route(conn, row.id, route_id)
            names = names_of(conn, row.id, row.customer)
            if whose not in (EVERYBODY, *names):
                raise HTTPException(404, message("This rider is not on the booking (any more)."))
            name = names.get(whose) or WHO_BOOKED_TITLE
            if "withdraw" in form.texts:
                gone = put_aside(
                    conn, *kept_as(conn, route_id, whose), _told("", whose, name),
                    who=_who(request), now=now, path=f"/desk/b/{ref}",
                )  # fmt: skip
            setup = decide(
                conn, route_id, form.texts, who=_who(request), now=now, whose=whose,
                barred=barred_bikes(route.summary, whose, [*names]),
            )  # fmt: skip
            there = rulings_of(conn, [route_id])
            if setup and not (whose and leaves_open(route, there, [*names])):
                answers.settle(conn, row.id, State.DECIDED, now)
            add_job(conn, "report", now, route_id=route_id)
            bookings.note_event(conn, _who(request), _told(setup, whose, name), now, row.id)
    except DecidedMeanwhile:
        fault, decided = desk.translator(request)._(_DECIDED_MEANWHILE), {mine: form.texts}
        return _booking_page(request, ref, fault=fault, decided=decided, status=409)
    except InputError as exc:
        fault, decided = desk.fault(request, exc), {mine: form.texts}
        return _booking_page(request, ref, fault=fault, decided=decided)
    return desk.go(f"/desk/b/{ref}?gone={gone}" if gone else f"/desk/b/{ref}")


def _told(setup: str, whose: str, name: str) -> Message:
    """A decision for the history; "" for one that was withdrawn."""
    if whose == EVERYBODY:
        return message("decided: {setup}", setup=setup) if setup else _WITHDRAWN
    if not setup:
        return message("decision for {name} withdrawn", name=name)
    return message("decided for {name}: {setup}", name=name, setup=setup)


def own_route(conn: Connection, booking_id: int, route_id: int) -> Standing:
    rows = bookings.standings(conn, [booking_id])[booking_id]
    for row in rows:
        if row.route_id == route_id:
            return row
    raise HTTPException(404, message("This booking has no such route (any more)."))


@router.get("/desk/b/{ref}/report/{route_id}", dependencies=STAFF)
def report(request: Request, ref: str, route_id: int, rider: int = 1) -> Response:
    """The report as staff read it, in place. rider : of a group, from 1"""
    desk = desk_of(request)
    with desk.db.read() as conn:
        row = found(conn, ref)
        chosen = own_route(conn, row.id, route_id)
    if chosen.report_id is None:
        raise HTTPException(404, message("There is no report yet."))
    bar = desk.part(request, "desk_bar.html", b=row, chosen=chosen)
    return report_page(desk, chosen, numbered("staff.html", rider), bar)


_FILES = ("rider.pdf", "rider.gpx", "rider.kml", "rider.ics", "staff.csv", "staff.geojson")


@router.get("/desk/b/{ref}/files/{route_id}/{name}", dependencies=STAFF)
def file(request: Request, ref: str, route_id: int, name: str) -> Response:
    """A file of the report, such as rider.pdf, rider.ics or staff.csv."""
    desk = desk_of(request)
    if name not in _FILES:
        raise HTTPException(404)
    with desk.db.read() as conn:
        row = found(conn, ref)
    return download(desk, row, route_id, name)


@router.get("/desk/b/{ref}/compare", dependencies=STAFF)
def compare(request: Request, ref: str) -> Response:
    """The booking's routes side by side."""
    desk = desk_of(request)
    with desk.db.read() as conn:
        row = found(conn, ref)
        rows = bookings.standings(conn, [row.id])[row.id]
    lang = desk.lang(request)
    ready = [(x, x.told(lang)) for x in rows if x.summary]
    return desk.page(request, "compare.html", b=row, rows=ready)


@router.get("/desk/b/{ref}/export.zip", dependencies=STAFF)
def export(request: Request, ref: str) -> Response:
    """All that is kept about the booking's person."""
    desk = desk_of(request)
    with desk.db.read() as conn:
        data = export_zip(conn, found(conn, ref).id)
    headers = {"content-disposition": f'attachment; filename="{ref}-data.zip"'}
    return Response(data, media_type="application/zip", headers=headers)


@router.post("/desk/b/{ref}/delete", dependencies=STAFF)
def delete(request: Request, ref: str) -> RedirectResponse:
    """Delete the booking and all data of its person: until midnight it can be taken back, unless
    the person wants it gone at once.
    """
    desk, form = desk_of(request), request.state.form
    if form.get("sure") != "yes":
        return desk.go(f"/desk/b/{ref}")
    now, gone = time.time(), 0
    with desk.db.write() as conn:
        row = found(conn, ref)
        what = message("booking deleted: {ref}", ref=ref)
        if form.get("at_once") != "yes":
            gone = put_aside(
                conn, schema.bookings, [row.id], what, who=_who(request), now=now,
                path=f"/desk/b/{ref}",
            )  # fmt: skip
        else:
            forget_all_of(conn, ref)
        forget_booking(conn, row.id)
        bookings.note_event(conn, _who(request), what, now)
    return desk.go(f"/desk?gone={gone}" if gone else "/desk")


def facts_of(desk: Desk, report_id: int) -> dict[str, Any]:
    """A stored report as its JSON."""
    from terrain.web.work import unpack

    with desk.db.read() as conn:
        data = conn.execute(
            sa.select(schema.reports.c.facts).where(schema.reports.c.id == report_id)
        ).scalar()
    if data is None:
        raise HTTPException(404, message("There is no report yet."))
    told: dict[str, Any] = with_messages(json.loads(unpack(bytes(data))))
    return told
