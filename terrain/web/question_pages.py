"""Where questions are answered: by the rider by the link, or by staff for a call; what is open."""

from __future__ import annotations

import time
from typing import Any

from fastapi import APIRouter, Depends, Request
from starlette.responses import Response

from terrain.errors import InputError
from terrain.text.terms import BAG_TERMS, EXPERIENCE_TERMS, RIDING_TERMS, WANTS_TERMS
from terrain.text.translator import translator_for
from terrain.web import answers, bookings
from terrain.web.access import LINK, Allow, Form
from terrain.web.bookings import Standing
from terrain.web.desk import Desk, desk_of
from terrain.web.desk_pages import found
from terrain.web.details import checked_booking
from terrain.web.summary import Told

router = APIRouter(include_in_schema=False)
STAFF = [Depends(Allow("staff"))]
_TRIP = ("rider", "riding", "wants", "luggage")


@router.post("/t/{link}/answers", dependencies=[Depends(Allow(LINK, limited=True))])
def of_rider(request: Request, link: str) -> Response:
    """Take the rider's answers and have the route judged anew."""
    desk, booking = desk_of(request), request.state.booking
    try:
        _keep(desk, booking, request.state.form, answers.RIDER)
    except InputError as exc:
        with desk.db.read() as conn:
            rows = bookings.standings(conn, [booking.id])[booking.id]
        fault = exc.say(translator_for(booking.lang))
        return desk.page(
            request, "questions_page.html", status=422, lang=booking.lang, fault=fault,
            **question_values(desk, booking, rows, f"/t/{link}/answers"),
        )  # fmt: skip
    return desk.go(f"/t/{link}")


@router.get("/desk/b/{ref}/answers", dependencies=STAFF)
def by_telephone(request: Request, ref: str) -> Response:
    """The rider's questions for staff to tick while the rider is on the telephone."""
    return _telephone_page(request, ref)


def _telephone_page(request: Request, ref: str, fault: str = "") -> Response:
    desk = desk_of(request)
    with desk.db.read() as conn:
        row = found(conn, ref)
        rows = bookings.standings(conn, [row.id])[row.id]
    return desk.page(
        request, "questions_page.html", status=422 if fault else 200, fault=fault,
        **question_values(desk, row, rows, f"/desk/b/{ref}/answers", lang=desk.lang(request)),
    )  # fmt: skip


@router.post("/desk/b/{ref}/answers", dependencies=STAFF)
def told_by_telephone(request: Request, ref: str) -> Response:
    desk = desk_of(request)
    with desk.db.read() as conn:
        row = found(conn, ref)
    try:
        _keep(desk, row, request.state.form, request.state.person.name)
    except InputError as exc:
        return _telephone_page(request, ref, desk.fault(request, exc))
    return desk.go(f"/desk/b/{ref}")


@router.get("/desk/questions", dependencies=STAFF)
def open_ones(request: Request) -> Response:
    """The open questions, the oldest first."""
    desk = desk_of(request)
    with desk.db.read() as conn:
        rows = answers.open_questions(conn, time.time())
        told = bookings.standings(conn, [item.booking.id for item in rows])
    return desk.page(
        request, "open_questions.html", rows=[(item, told[item.booking.id]) for item in rows]
    )


def _keep(desk: Desk, booking: Any, form: Form, who: str) -> None:
    given = {key: form.texts[key] for key in _TRIP if key in form.texts}
    if "rider" in given:
        given["pillion"] = form.get("pillion")  # a box that is not ticked is not sent
    told, now = checked_booking(given), time.time()
    with desk.db.write() as conn:
        rows = bookings.standings(conn, [booking.id])[booking.id]
        changed = bool(bookings.told_changes(booking, told))
        answers.keep_answers(conn, booking, rows, form.texts, changed=changed, who=who, now=now)
        bookings.change_booking(conn, booking.id, told, now)


def question_values(
    desk: Desk, booking: Any, rows: list[Standing], target: str, *, lang: str = "", said: str = ""
) -> dict[str, Any]:
    """What the form of questions needs.

    lang : who reads it; the rider's if empty
    said : a question's key and the answer to show chosen; what is no such thing counts for nothing
    """
    lang, (key, _, value) = lang or booking.lang, said.rpartition(".")
    with desk.db.read() as conn:
        asked = answers.questions_of(conn, rows)
    told = [(row.name if len(rows) > 1 else "", row.told(lang) or Told()) for row in rows]
    return {
        "asked": asked,
        "picked": {q.key: value for q in asked if q.key == key and value in q.choices},
        "also": [(name, text) for name, item in told for text in item.questions],
        "v": booking._mapping,
        "target": target,
        "riders": EXPERIENCE_TERMS,
        "ridings": RIDING_TERMS,
        "wants": WANTS_TERMS,
        "bags": BAG_TERMS,
        "ref": booking.ref,
    }
