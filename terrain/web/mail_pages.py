"""Mails at the desk: read, download, send; and the letters they are written by."""

from __future__ import annotations

import secrets
import time
from typing import Any

import sqlalchemy as sa
from fastapi import APIRouter, Depends, HTTPException, Request
from starlette.responses import Response

from terrain.errors import InputError, TerrainError
from terrain.report.letter import FIELDS, Letter, LetterKind, checked_letter, ours, write_letter
from terrain.report.mail import MailDraft
from terrain.text.catalogue import LANG_NAMES
from terrain.text.message import message
from terrain.text.terms import LETTER_TERMS
from terrain.text.translator import translator_for
from terrain.web import answers, bookings, links, schema
from terrain.web.access import Allow, Form
from terrain.web.desk import Desk, desk_of
from terrain.web.desk_pages import found, own_route
from terrain.web.downloads import attachment
from terrain.web.mail import (
    LINK_TO_COME,
    eml_of,
    keep_letter,
    kept_draft,
    letter_of,
    page_link,
    send,
    signature,
    written,
)
from terrain.web.party import as_rider, riders_of

router = APIRouter(include_in_schema=False)
STAFF = [Depends(Allow("staff"))]


@router.get("/desk/b/{ref}/mail/{route_id}", dependencies=STAFF)
def mail(
    request: Request, ref: str, route_id: int, kind: str = "answer", rider: int = 0
) -> Response:
    """The mail as it would go: to read, send, copy or take. rider : of a group, 0 for all"""
    return _mail_page(request, ref, route_id, _kind(kind), rider)


def _mail_page(
    request: Request, ref: str, route_id: int, kind: LetterKind, rider: int, fault: str = ""
) -> Response:
    desk = desk_of(request)
    with desk.db.read() as conn:
        row = found(conn, ref)
        chosen = own_route(conn, row.id, route_id)
        further = riders_of(conn, row.id)
    row = as_rider(row, further, rider)
    draft = kept_draft(desk, chosen, rider)
    with desk.db.read() as conn:
        told = written(
            desk, conn, row, draft, kind=kind, link=LINK_TO_COME, who=request.state.person.name
        )
    return desk.page(
        request, "mail.html", status=502 if fault else 200, b=row, chosen=chosen, mail=told,
        kind=kind.value, fault=fault, rider=rider, further=further, once=secrets.token_hex(8),
        can_send=bool(desk.settings.mail_host and row.email),
        has_server=bool(desk.settings.mail_host),
    )  # fmt: skip


@router.get("/desk/b/{ref}/draft/{route_id}", dependencies=STAFF)
def mail_file(
    request: Request, ref: str, route_id: int, kind: str = "answer", rider: int = 0
) -> Response:
    """The mail as a file that mail programs open as a draft, with a link made for it."""
    desk = desk_of(request)
    with desk.db.read() as conn:
        row = found(conn, ref)
        chosen = own_route(conn, row.id, route_id)
        row = as_rider(row, riders_of(conn, row.id), rider)
    kept_draft(desk, chosen, rider)
    with desk.db.write() as conn:
        secret = links.link_for_mail(conn, row.id, time.time())
    _, data = eml_of(
        desk, row, chosen, kind=_kind(kind), link=page_link(desk, secret, _here(request)),
        who=request.state.person.name, rider=rider,
    )  # fmt: skip
    return attachment(data, row.ref, "mail.eml")


@router.post("/desk/b/{ref}/send/{route_id}", dependencies=STAFF)
def send_it(request: Request, ref: str, route_id: int) -> Response:
    """Send the mail by the operator's server."""
    desk, form = desk_of(request), request.state.form
    kind = _kind(form.get("kind", "answer"))
    rider = int(form.get("rider")) if form.get("rider").isdecimal() else 0
    if not desk.settings.mail_host:
        raise HTTPException(404, message("No mail server is set up: download the draft."))
    with desk.db.read() as conn:
        row = found(conn, ref)
        chosen = own_route(conn, row.id, route_id)
        row = as_rider(row, riders_of(conn, row.id), rider)
    try:
        send(
            desk, row, chosen, kind=kind, who=request.state.person.name, here=_here(request),
            once=form.get("once")[:80], rider=rider,
        )  # fmt: skip
    except TerrainError as exc:
        return _mail_page(request, ref, route_id, kind, rider, desk.fault(request, exc))
    return desk.go(f"/desk/b/{ref}")


@router.post("/desk/b/{ref}/reminded", dependencies=STAFF)
def reminded(request: Request, ref: str) -> Response:
    """Write down that the reminder went out by somebody's own mail program."""
    desk = desk_of(request)
    with desk.db.write() as conn:
        answers.remind_rider(conn, found(conn, ref), request.state.person.name, time.time())
    return desk.go("/desk/questions")


def _kind(text: str) -> LetterKind:
    return LetterKind(text) if text in list(LetterKind) else LetterKind.ANSWER


def _here(request: Request) -> str:
    desk = desk_of(request)
    return f"{request.url.scheme}://{request.url.netloc}{desk.at('')}"


@router.get("/desk/letters", dependencies=STAFF)
def letters(request: Request, kind: str = "answer", lang: str = "") -> Response:
    """One letter in one language, with a preview."""
    desk = desk_of(request)
    lang = lang if lang in LANG_NAMES else desk.settings.lang
    with desk.db.read() as conn:
        text = letter_of(conn, _kind(kind), lang)
    return _letter_page(request, _kind(kind), lang, text or ours(_kind(kind), translator_for(lang)))


@router.post("/desk/letters", dependencies=STAFF)
def change_letter(request: Request) -> Response:
    """Keep the letter, show it before, or take ours back."""
    desk = desk_of(request)
    form: Form = request.state.form
    kind, lang, text = _kind(form.get("kind")), form.get("lang"), form.get("body")
    lang = lang if lang in LANG_NAMES else desk.settings.lang
    try:
        if "preview" in form.texts:
            return _letter_page(request, kind, lang, checked_letter(kind, text))
        with desk.db.write() as conn:
            keep_letter(
                conn, kind, lang, "" if "ours" in form.texts else text,
                who=request.state.person.name, now=time.time(),
            )  # fmt: skip
            what = message("letter changed: {kind}, {lang}", kind=kind.value, lang=lang)
            bookings.note_event(conn, request.state.person.name, what, time.time())
    except InputError as exc:
        return _letter_page(request, kind, lang, text, desk.fault(request, exc))
    return desk.go(f"/desk/letters?kind={kind.value}&lang={lang}")


def _letter_page(
    request: Request, kind: LetterKind, lang: str, text: str, fault: str = ""
) -> Response:
    desk, translator = desk_of(request), translator_for(lang)
    shown = None
    if not fault:
        letter = Letter(
            kind=kind, customer="Ada Rill", link=LINK_TO_COME, days=3,
            signature=signature(desk, request.state.person.name, lang),
        )  # fmt: skip
        shown = write_letter(_sample(desk, lang), letter, translator, template=text)
    with desk.db.read() as conn:
        own = bool(letter_of(conn, kind, lang))
    return desk.page(
        request, "letters.html", status=422 if fault else 200, kind=kind.value, for_lang=lang,
        kinds=LETTER_TERMS, body=text, shown=shown, fault=fault, fields=FIELDS, own=own,
    )  # fmt: skip


def _sample(desk: Desk, lang: str) -> MailDraft:
    """The newest mail in the language, to show the letter with; else a made-up one."""
    query = (
        sa.select(schema.reports.c.draft)
        .join(schema.bookings, schema.bookings.c.id == schema.reports.c.booking_id)
        .where(schema.bookings.c.lang == lang, schema.reports.c.draft.is_not(None))
        .order_by(schema.reports.c.id.desc())
        .limit(1)
    )
    with desk.db.read() as conn:
        text: Any = conn.execute(query).scalar()
    draft = None if text is None else MailDraft.from_json(text)
    if draft is not None and draft.body:
        return draft
    say = translator_for(lang)._
    verdict = say("Ask first: road or off-road setup is open")
    return MailDraft(
        subject=verdict, plain="", html="", made_at="", seed="", route="Rill Pass", about="",
        verdict=verdict, body=verdict, body_html=f"<p>{verdict}</p>",
        asked=(verdict,),
    )  # fmt: skip
