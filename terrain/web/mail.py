"""The mails of a booking: the desk's letter round what was found, as a draft or sent."""

from __future__ import annotations

import time
from collections.abc import Sequence
from typing import Any

import sqlalchemy as sa
from fastapi import HTTPException
from sqlalchemy.engine import Connection

from terrain.errors import InputError
from terrain.report.letter import Letter, LetterKind, checked_letter, write_letter
from terrain.report.mail import Attachment, MailDraft, checked_addresses, render_eml
from terrain.text.message import message
from terrain.text.translator import translator_for
from terrain.web import answers, bookings, links, schema
from terrain.web.bookings import Standing, State
from terrain.web.database import add_row, change_rows
from terrain.web.desk import Desk
from terrain.web.downloads import BEING_MADE, standing_report
from terrain.web.jobs import add_job
from terrain.web.party import numbered
from terrain.web.smtp import send_mail
from terrain.web.work import unpack


def letter_of(conn: Connection, kind: LetterKind, lang: str) -> str:
    """The operator's own letter; "" if there is none."""
    table = schema.letters
    query = sa.select(table.c.body).where(table.c.kind == kind.value, table.c.lang == lang)
    return str(conn.execute(query).scalar() or "")


def keep_letter(
    conn: Connection, kind: LetterKind, lang: str, text: str, *, who: str, now: float
) -> None:
    """Put the operator's own letter in place of ours; an empty one gives ours back.

    Raises InputError for a letter that lacks what it has to say.
    """
    body = checked_letter(kind, text) if text.strip() else ""
    table = schema.letters
    conn.execute(table.delete().where(table.c.kind == kind.value, table.c.lang == lang))
    if body:
        add_row(conn, table, kind=kind.value, lang=lang, body=body, who=who, changed_at=now)


def written(
    desk: Desk,
    conn: Connection,
    booking: Any,
    draft: MailDraft,
    *,
    kind: LetterKind,
    link: str,
    who: str,
) -> MailDraft:
    """The mail as the rider reads it, in his language."""
    translator = translator_for(booking.lang, booking.units)
    days = answers.open_days(conn, booking.id, time.time()) or 0
    letter = Letter(
        kind=kind, customer=booking.customer, link=link, days=days,
        signature=signature(desk, who, booking.lang),
    )  # fmt: skip
    template = letter_of(conn, kind, booking.lang)
    return write_letter(draft, letter, translator, template=template)


def signature(desk: Desk, who: str, lang: str) -> str:
    """What stands below a mail: the operator's own lines, or who wrote it for whom."""
    own = desk.settings.mail_signature.strip()
    operator = translator_for(lang)._(desk.settings.operator)
    return own or ", ".join(filter(None, (who, operator)))


def page_link(desk: Desk, secret: str, here: str) -> str:
    """The address of the rider's page. here : the desk's own, where no public one is set"""
    return (desk.settings.public_url.rstrip("/") or here.rstrip("/")) + f"/t/{secret}"


def kept_draft(desk: Desk, row: Standing, rider: int = 0) -> MailDraft:
    """What was said with the report; one of an earlier version is made anew.

    rider : of a group, from 1, for a mail to that one alone; 0 for the mail to all

    Raises as `standing_report`, and 503 for one of an earlier version.
    """
    report_id = standing_report(row)
    with desk.db.read() as conn:
        text = conn.execute(
            sa.select(schema.reports.c.draft).where(schema.reports.c.id == report_id)
        ).scalar()
        own = bookings.report_file(conn, report_id, f"draft{rider}.json") if rider else None
    if own is not None:
        text = unpack(own).decode()
    draft = None if text is None else MailDraft.from_json(text)
    if draft is not None and draft.body:
        return draft
    with desk.db.write() as conn:
        add_job(conn, "report", time.time(), route_id=row.route_id)
    raise HTTPException(503, BEING_MADE)


def shown_mails(
    desk: Desk, conn: Connection, booking: Any, rows: Sequence[Standing], *, who: str
) -> list[tuple[Standing, MailDraft]]:
    """The mails of a booking's routes as they would go, to be shown beside its answer."""
    ids = [row.report_id for row in rows if row.report_id is not None]
    chosen = sa.select(schema.reports.c.id, schema.reports.c.draft)
    kept = {row.id: row.draft for row in conn.execute(chosen.where(schema.reports.c.id.in_(ids)))}
    found = []
    for row in rows:
        text = None if row.outdated or row.report_id is None else kept.get(row.report_id)
        draft = None if text is None else MailDraft.from_json(text)
        if draft is not None and draft.body:
            mail = written(
                desk, conn, booking, draft, kind=LetterKind.ANSWER, link=LINK_TO_COME, who=who
            )
            found.append((row, mail))
    return found


#: Stands for the link in a mail that is only shown: the true one is made when it goes.
LINK_TO_COME = "https://…"


def eml_of(
    desk: Desk,
    booking: Any,
    row: Standing,
    *,
    kind: LetterKind,
    link: str,
    who: str,
    sender: str = "",
    rider: int = 0,
) -> tuple[MailDraft, bytes]:
    """The mail and its bytes, with PDF and GPX where it brings the report.

    booking : with the details of the rider it goes to, see `kept_draft`
    sender : whom it comes from; a draft to be sent by hand if empty
    """
    draft = kept_draft(desk, row, rider)
    assert row.report_id is not None
    with desk.db.read() as conn:
        mail = written(desk, conn, booking, draft, kind=kind, link=link, who=who)
        attached: tuple[Attachment, ...] = ()
        if kind is LetterKind.ANSWER:
            attached = _attached(conn, booking.ref, row.report_id, rider)
    return mail, render_eml(mail, attachments=attached, to=booking.email, sender=sender)


def _attached(conn: Connection, ref: str, report_id: int, rider: int) -> tuple[Attachment, ...]:
    pdf = bookings.report_file(conn, report_id, numbered("rider.pdf", rider))
    gpx = bookings.report_file(conn, report_id, "rider.gpx")
    if pdf is None or gpx is None:
        raise HTTPException(404, message("This report has no such file."))
    return (
        Attachment(name=f"{ref}.pdf", kind="application/pdf", data=unpack(pdf)),
        Attachment(name=f"{ref}.gpx", kind="application/gpx+xml", data=unpack(gpx)),
    )


def send(
    desk: Desk,
    booking: Any,
    row: Standing,
    *,
    kind: LetterKind,
    who: str,
    here: str,
    once: str,
    rider: int = 0,
) -> bool:
    """Send the mail by the operator's server and note how far the booking is.

    once : the same text again is the same press again, which sends nothing
    Returns False for such a press. Raises MailError, InputError without an address.
    """
    settings, now = desk.settings, time.time()
    if not booking.email:
        raise InputError(
            message("the booking has no address"), "", message("Enter it in the details.")
        )
    with desk.db.write() as conn:
        there = sa.select(schema.mails.c.id).where(schema.mails.c.once == once)
        if not once or conn.execute(there).first() is not None:
            return False
        link = page_link(desk, links.link_for_mail(conn, booking.id, now), here)
        mail_id = add_row(
            conn, schema.mails, booking_id=booking.id, kind=kind.value, to=booking.email,
            subject="", who=who, at=now, once=once,
        )  # fmt: skip
    mine = schema.mails.c.id == mail_id
    try:
        mail, data = eml_of(
            desk, booking, row, kind=kind, link=link, who=who, sender=settings.mail_from,
            rider=rider,
        )  # fmt: skip
        send_mail(settings, data, to=checked_addresses(booking.email))
    except BaseException:
        with desk.db.write() as conn:
            conn.execute(schema.mails.delete().where(mine))
        raise
    with desk.db.write() as conn:
        change_rows(conn, schema.mails, mine, subject=mail.subject[:200])
        _note(conn, booking, mail, kind=kind, who=who, now=now)
    return True


def _note(
    conn: Connection, booking: Any, mail: MailDraft, *, kind: LetterKind, who: str, now: float
) -> None:
    """A mail that asks leaves the question open; one that does not is the answer."""
    if kind is LetterKind.REMINDER:
        answers.remind_rider(conn, booking, who, now)
        return
    if mail.asked:
        answers.ask_rider(conn, booking.id, who, now)
        what = message("question sent to {to}", to=booking.email)
        asked = {"state": State.ASKED.value, "changed_at": now}
        change_rows(conn, schema.bookings, schema.bookings.c.id == booking.id, **asked)
    else:
        answers.settle(conn, booking.id, State.ANSWERED, now)
        what = message("answer sent to {to}", to=booking.email)
    bookings.note_event(conn, who, what, now, booking.id)
