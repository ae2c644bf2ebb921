"""The rider's pages: send a route, watch, read the report, correct it, take it along."""

from __future__ import annotations

import secrets
import time
from typing import Any

from fastapi import APIRouter, Depends, HTTPException, Request
from sqlalchemy.engine import Connection
from starlette.responses import Response

from terrain.errors import InputError, RegionMissing, TerrainError
from terrain.text.catalogue import LANG_NAMES, N_
from terrain.text.message import message
from terrain.text.terms import BAG_TERMS, EXPERIENCE_TERMS, RIDING_TERMS, WANTS_TERMS
from terrain.text.translator import translator_for
from terrain.values.trip import Rider
from terrain.web import bookings, links
from terrain.web.access import LINK, OPEN, Allow, Form
from terrain.web.bookings import Sent
from terrain.web.database import BusyError
from terrain.web.desk import Desk, desk_of
from terrain.web.details import Details, checked_booking
from terrain.web.downloads import download, report_page
from terrain.web.group_views import group_view
from terrain.web.jobs import queue_length
from terrain.web.limits import check_count
from terrain.web.party import numbered
from terrain.web.points import Point, points_to_gpx, read_points, say_points
from terrain.web.question_pages import question_values
from terrain.web.regions import choose_map, has_region, route_start
from terrain.web.retention import export_zip, forget_routes
from terrain.web.undo import forget_all_of

_FILES_HINT = N_(
    "Up to {n} files of {mb} MB in all; GPX, KML, KMZ, GeoJSON, GeoPackage, CSV, encoded polyline "
    "or .zip. Each is one route to compare."
)
_KEEP = N_(
    "Your route is kept for {days} days, for this rental only. You can delete it at any time."
)

router = APIRouter(include_in_schema=False)
_TRIP = ("depart", "rider", "riding", "wants", "luggage", "lang")


@router.get("/ride", dependencies=[Depends(Allow(OPEN))])
def open_form(request: Request) -> Response:
    """The upload page without a booking, if the operator allows it."""
    desk = _open_desk(request)
    lang = _asked_lang(request, desk)
    return _form_page(desk, request, _blank(desk, lang), "/ride", lang=lang)


@router.post("/ride", dependencies=[Depends(Allow(OPEN, limited=True))])
def open_send(request: Request) -> Response:
    desk = _open_desk(request)
    form: Form = request.state.form
    lang = form.get("lang", desk.settings.lang)
    now = time.time()
    try:
        told = _told(form)
        check_count(form.files, desk.settings.max_files)
        if not form.files and form.get("then") != "draw":
            raise InputError(message("Choose a file first."))
        with desk.db.write() as conn:
            again = bookings.sent_already(conn, form.get("once"))
            if again is not None:  # the same press: its answer did not arrive
                return desk.go(f"/t/{links.link_for_mail(conn, again, now)}")
            _check_room(conn, desk)
            booking_id, _, link = bookings.add_booking(
                conn, told, now, lang=desk.settings.lang, units=desk.settings.units
            )
            if form.files:
                bookings.add_routes(
                    conn, booking_id, form.files, now, once=form.get("once"), alone=True
                )
    except InputError as exc:
        values = {**_blank(desk, lang), **form.texts}
        return _form_page(desk, request, values, "/ride", lang=lang, fault=_said(exc, lang))
    return desk.go(f"/t/{link}" if form.files else f"/t/{link}/draw")


@router.get("/t/{link}", dependencies=[Depends(Allow(LINK))])
def trip(request: Request, link: str, route: int = 0, rider: int = 1, said: str = "") -> Response:
    """Where the trip stands: the form, the progress, or the report in place.

    rider : of a group, from 1
    said : an answer chosen in the report, which its form shows chosen: the rider has to send it
    """
    desk, booking = desk_of(request), request.state.booking
    with desk.db.read() as conn:
        rows = bookings.standings(conn, [booking.id])[booking.id]
    if not rows:
        return _form_page(desk, request, _unsaid(booking), f"/t/{link}", lang=booking.lang)
    ready = [row for row in rows if row.report_id is not None and not row.working]
    if any(row.working for row in rows) or not ready:
        working = any(row.working for row in rows)
        return desk.page(
            request, "progress.html", lang=booking.lang, rows=rows, link=link,
            working=working, ref=booking.ref,
        )  # fmt: skip
    chosen = next((row for row in ready if row.route_id == route), ready[0])
    bar = desk.part(
        request,
        "rider_bar.html",
        link=link,
        rows=rows,
        chosen=chosen,
        ref=booking.ref,
        dated=bool(booking.depart),
        number=rider,
        group=group_view(chosen, booking.lang),
    )
    asks = desk.part(
        request, "questions_rider.html",
        **question_values(desk, booking, ready, f"/t/{link}/answers", said=said),
    )  # fmt: skip
    return report_page(
        desk, chosen, numbered("rider.html", rider), bar, asks,
        answer_at=f"/t/{link}?route={chosen.route_id}&rider={rider}",
    )  # fmt: skip


@router.get("/t/{link}/change", dependencies=[Depends(Allow(LINK))])
def change_form(request: Request, link: str) -> Response:
    desk, booking = desk_of(request), request.state.booking
    return _form_page(desk, request, booking._mapping, f"/t/{link}", lang=booking.lang, again=True)


@router.post("/t/{link}", dependencies=[Depends(Allow(LINK, limited=True))])
def send(request: Request, link: str) -> Response:
    """Take the files and the trip's details; keep the old route if no file came."""
    desk, booking = desk_of(request), request.state.booking
    form: Form = request.state.form
    now = time.time()
    try:
        told = _told(form)
        check_count(form.files, desk.settings.max_files)
        with desk.db.write() as conn:
            has_route = bool(bookings.current_routes(conn, booking.id))
            if not form.files and not has_route and form.get("then") != "draw":
                raise InputError(message("Choose a file first."))
            _check_room(conn, desk)
            if form.files:
                bookings.add_routes(conn, booking.id, form.files, now, once=form.get("once"))
            bookings.change_booking(conn, booking.id, told, now)
            bookings.note_event(conn, "rider", message("route or details sent"), now, booking.id)
    except InputError as exc:
        values = {**_unsaid(booking), **form.texts}
        return _form_page(
            desk, request, values, f"/t/{link}", lang=booking.lang, fault=_said(exc, booking.lang)
        )
    return desk.go(f"/t/{link}/draw" if form.get("then") == "draw" else f"/t/{link}")


@router.get("/t/{link}/draw", dependencies=[Depends(Allow(LINK))])
def draw_form(request: Request, link: str) -> Response:
    return _draw_page(request, link, [], 0)


@router.post("/t/{link}/draw", dependencies=[Depends(Allow(LINK))])
def draw(request: Request, link: str) -> Response:
    """One step of drawing, or the route's sending."""
    desk, booking = desk_of(request), request.state.booking
    form: Form = request.state.form
    points, level = read_points(form.get("points")), _whole(form.get("level"))
    now = time.time()
    if "send" in form.texts:
        if len(points) < 2:
            return _draw_page(
                request,
                link,
                points,
                level,
                translator_for(booking.lang)._("Draw at least two points."),
            )
        content = points_to_gpx(points, f"{booking.ref} ({len(points)})")
        sent = Sent(name="drawn.gpx", content=content, drawn=True)
        with desk.db.write() as conn:
            _check_room(conn, desk)
            bookings.add_routes(conn, booking.id, [sent], now, once=form.get("once"))
            bookings.note_event(conn, "rider", message("route drawn"), now, booking.id)
        return desk.go(f"/t/{link}")
    points, level = _drawn_on(desk, form, points, level)
    return _draw_page(request, link, points, level)


def _drawn_on(desk: Desk, form: Form, points: list[Point], level: int) -> tuple[list[Point], int]:
    """The points and the level after one button of the drawing page."""
    from terrain.web.mapdraw import places_of, view_of

    region = choose_map(desk.settings, form.get("region"), points).region
    if region is None:
        return points, level
    if "at.x" in form.texts:
        seen = view_of(region, level, _centre(form))
        spot = seen.place(float(_whole(form.get("at.x"))), float(_whole(form.get("at.y"))))
        return [*points, spot], level
    if "undo" in form.texts:
        return points[:-1], level
    if "near" in form.texts or "far" in form.texts:
        return points, level + (1 if "near" in form.texts else -1)
    for name, lon, lat, _ in places_of(region.folder, region.pack):
        if form.get("place") and name == form.get("place"):
            return [*points, (round(lon, 5), round(lat, 5))], level
    return points, level


def _draw_page(
    request: Request, link: str, points: list[Point], level: int, fault: str = ""
) -> Response:
    from terrain.web.mapdraw import draw_map, map_credit, places_of, view_of

    desk, booking = desk_of(request), request.state.booking
    form: Form = request.state.form
    asked = request.query_params.get("region", "") or form.get("region")
    with desk.db.read() as conn:
        choice = choose_map(desk.settings, asked, points or route_start(conn, booking.id))
    region = choice.region
    if choice.asks:
        return desk.page(
            request, "draw_which.html", lang=booking.lang, link=link, choice=choice
        )  # fmt: skip
    if region is None:
        raise RegionMissing(
            message("there is no map to draw on yet"), "", message("Send a file instead.")
        )
    centre = points[-1] if points else _centre(form)
    view = view_of(region, level, centre)
    names = sorted({place[0] for place in places_of(region.folder, region.pack)})
    return desk.page(
        request, "draw.html", lang=booking.lang, link=link, view=view, names=names,
        points=say_points(points), n=len(points), fault=fault, once=secrets.token_hex(8),
        map=draw_map(region, view, points, translator_for(booking.lang)._("Draw your route")),
        credit=map_credit(region, booking.lang), choice=choice,
    )  # fmt: skip


@router.get("/t/{link}/map.svg", dependencies=[Depends(Allow(LINK))])
def map_image(
    request: Request, link: str, level: int = 0, lon: float = 0.0, lat: float = 0.0,
    points: str = "", region: str = "",
) -> Response:  # fmt: skip
    """The map as a picture, for browsers without script."""
    from terrain.web.mapdraw import map_picture, view_of

    desk = desk_of(request)
    drawn = read_points(points)
    chosen = choose_map(desk.settings, region, drawn or [(lon, lat)]).region
    if chosen is None:
        raise HTTPException(404)
    view = view_of(chosen, level, (lon, lat))
    data = map_picture(chosen, view, drawn, _MAP_CSS)
    rule = {"content-security-policy": "default-src 'none'; style-src 'unsafe-inline'"}
    return Response(data, media_type="image/svg+xml", headers=rule)


_MAP_CSS = (
    "svg{background:#fff;font:12px sans-serif}.road{fill:none;stroke:#8a8a8a}.r0{stroke-width:3}"
    ".r1{stroke-width:2}.line{fill:none;stroke:#0072b2;stroke-width:3}.point{fill:#0072b2}"
    ".spot{fill:#1b1b1b}"
)


@router.get("/t/{link}/report.{kind}", dependencies=[Depends(Allow(LINK))])
def take(request: Request, link: str, kind: str, route: int = 0, rider: int = 1) -> Response:
    """The report's PDF, GPX, KML or calendar."""
    desk, booking = desk_of(request), request.state.booking
    if kind not in ("pdf", "gpx", "kml", "ics"):
        raise HTTPException(404)
    return download(
        desk, booking, route, numbered("rider.pdf", rider) if kind == "pdf" else f"rider.{kind}"
    )


@router.get("/t/{link}/export.zip", dependencies=[Depends(Allow(LINK, limited=True))])
def take_all(request: Request, link: str) -> Response:
    """All that is kept about the trip."""
    desk, booking = desk_of(request), request.state.booking
    with desk.db.read() as conn:
        data = export_zip(conn, booking.id, for_rider=True)
    name = f'attachment; filename="{booking.ref}-data.zip"'
    return Response(data, media_type="application/zip", headers={"content-disposition": name})


@router.post("/t/{link}/delete", dependencies=[Depends(Allow(LINK))])
def delete(request: Request, link: str) -> Response:
    """Delete the trip's routes and reports on the rider's word."""
    desk, booking = desk_of(request), request.state.booking
    form: Form = request.state.form
    if form.get("sure") != "yes":
        return desk.go(f"/t/{link}/change")
    with desk.db.write() as conn:
        forget_routes(conn, booking.id)
        forget_all_of(conn, booking.ref)
        bookings.note_event(conn, "rider", message("routes deleted"), time.time(), booking.id)
    return desk.page(request, "deleted.html", lang=booking.lang, link=link)


def _said(exc: TerrainError, lang: str) -> str:
    return exc.say(translator_for(lang))


def _open_desk(request: Request) -> Desk:
    desk = desk_of(request)
    if not desk.settings.open_upload:
        raise HTTPException(404, message("Routes are sent by the link that comes with a booking."))
    return desk


def _asked_lang(request: Request, desk: Desk) -> str:
    asked = request.query_params.get("lang", "")
    return asked if asked in LANG_NAMES else desk.lang(request)


def _blank(desk: Desk, lang: str) -> dict[str, Any]:
    return {
        "depart": "", "rider": "", "riding": "", "wants": "", "pillion": False,
        "guided": False, "luggage": "soft",
        "lang": lang,
    }  # fmt: skip


def _unsaid(booking: Any) -> dict[str, Any]:
    """The booking as it stands in the first form: a steady rider is what every one begins with, and
    nobody has said it."""
    said = dict(booking._mapping)
    return {**said, "rider": "" if said["rider"] == Rider.STEADY else said["rider"]}


def _told(form: Form) -> Details:
    """The trip's details in the form; how the rider rides is not guessed for him.

    Raises InputError for one that does not say it, or says what is not known.
    """
    if form.texts.get("rider") == "":
        raise InputError(message("Choose your off-road experience."))
    given = {key: form.texts[key] for key in _TRIP if key in form.texts}
    if "rider" in given:
        # Boxes that are not ticked are not sent.
        given["pillion"] = form.get("pillion")
        given["guided"] = form.get("guided")
    return checked_booking(given)


def _check_room(conn: Connection, desk: Desk) -> None:
    if queue_length(conn) >= desk.settings.max_queue:
        raise BusyError(
            message("too many routes are waiting"), "", message("Try again in a few minutes.")
        )


def _form_page(
    desk: Desk, request: Request, values: Any, target: str, *, lang: str, again: bool = False,
    fault: str = "",
) -> Response:  # fmt: skip
    translator = translator_for(lang)
    settings = desk.settings
    return desk.page(
        request, "rider_form.html", status=422 if fault else 200, lang=lang, values=values,
        riders=EXPERIENCE_TERMS, bags=BAG_TERMS, ridings=RIDING_TERMS, wants=WANTS_TERMS,
        target=target, again=again, fault=fault, once=secrets.token_hex(8),
        can_draw=has_region(settings),
        hint=translator._(_FILES_HINT, n=settings.max_files, mb=settings.max_bytes // 1_000_000),
        keep=translator._(_KEEP, days=settings.keep_days),
    )  # fmt: skip


def _centre(form: Form) -> Point | None:
    found = read_points(f"{form.get('lon')},{form.get('lat')}")
    return found[0] if found else None


def _whole(text: str) -> int:
    return int(text) if text.isascii() and text.isdigit() and len(text) < 6 else 0
