"""The mail draft of a stored report, by the report's own writer."""

from __future__ import annotations

import email
import json
from email import policy
from typing import Any

import sqlalchemy as sa
from fastapi import HTTPException

from terrain.text.message import message
from terrain.text.packed import with_messages
from terrain.web import bookings, schema
from terrain.web.bookings import Standing
from terrain.web.desk import Desk
from terrain.web.work import unpack


def draft(desk: Desk, booking: Any, row: Standing) -> bytes:
    """The .eml with PDF and GPX attached, to the booking's address.

    Raises 404 while there is no report.
    """
    from terrain.report.mail import Attachment, render_eml
    from terrain.text.translator import translator_for

    if row.report_id is None:
        raise HTTPException(404, message("There is no report yet."))
    with desk.db.read() as conn:
        pdf = bookings.report_file(conn, row.report_id, "rider.pdf")
        gpx = bookings.report_file(conn, row.report_id, "rider.gpx")
        facts = conn.execute(
            sa.select(schema.reports.c.facts).where(schema.reports.c.id == row.report_id)
        ).scalar()
    if pdf is None or gpx is None or facts is None:
        raise HTTPException(404, message("This report has no such file."))
    return render_eml(
        with_messages(json.loads(unpack(bytes(facts)))),
        translator_for(booking.lang, booking.units),
        attachments=(
            Attachment(name=f"{booking.ref}.pdf", kind="application/pdf", data=unpack(pdf)),
            Attachment(name=f"{booking.ref}.gpx", kind="application/gpx+xml", data=unpack(gpx)),
        ),
        to=booking.email,
    )


def draft_text(desk: Desk, booking: Any, row: Standing) -> tuple[str, str]:
    """The draft's subject and plain body, to be copied."""
    message = email.message_from_bytes(draft(desk, booking, row), policy=policy.default)
    body = message.get_body(("plain",))
    return str(message["Subject"]), str(body.get_content()) if body else ""
