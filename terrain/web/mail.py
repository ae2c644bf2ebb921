"""The mail draft that was made with a report."""

from __future__ import annotations

import time
from collections.abc import Sequence
from typing import Any

import sqlalchemy as sa
from fastapi import HTTPException
from sqlalchemy.engine import Connection

from terrain.report.mail import Attachment, MailDraft, render_eml
from terrain.text.message import message
from terrain.web import bookings, schema
from terrain.web.bookings import Standing
from terrain.web.desk import Desk
from terrain.web.jobs import add_job
from terrain.web.work import unpack


def draft(desk: Desk, booking: Any, row: Standing) -> bytes:
    """The .eml with PDF and GPX attached, to the booking's address.

    Raises 404 while there is no report, 503 while one of an earlier version is made anew.
    """
    told = kept_draft(desk, row)
    assert row.report_id is not None
    with desk.db.read() as conn:
        pdf = bookings.report_file(conn, row.report_id, "rider.pdf")
        gpx = bookings.report_file(conn, row.report_id, "rider.gpx")
    if pdf is None or gpx is None:
        raise HTTPException(404, message("This report has no such file."))
    return render_eml(
        told,
        attachments=(
            Attachment(name=f"{booking.ref}.pdf", kind="application/pdf", data=unpack(pdf)),
            Attachment(name=f"{booking.ref}.gpx", kind="application/gpx+xml", data=unpack(gpx)),
        ),
        to=booking.email,
    )


def kept_draft(desk: Desk, row: Standing) -> MailDraft:
    """Subject and bodies as they were made with the report; a report without is made anew."""
    if row.report_id is None:
        raise HTTPException(404, message("There is no report yet."))
    with desk.db.read() as conn:
        text = conn.execute(
            sa.select(schema.reports.c.draft).where(schema.reports.c.id == row.report_id)
        ).scalar()
    if text is not None:
        return MailDraft.from_json(text)
    if not row.working:
        with desk.db.write() as conn:
            add_job(conn, "report", time.time(), route_id=row.route_id)
    raise HTTPException(
        503,
        message(
            "This report is of an earlier version and is being made anew. Try again in a minute."
        ),
    )


def kept_drafts(conn: Connection, rows: Sequence[Standing]) -> list[tuple[Standing, MailDraft]]:
    """The mails of a booking's routes that have one, to be shown beside its answer."""
    ids = [row.report_id for row in rows if row.report_id is not None]
    chosen = sa.select(schema.reports.c.id, schema.reports.c.draft)
    told = {row.id: row.draft for row in conn.execute(chosen.where(schema.reports.c.id.in_(ids)))}
    return [
        (row, MailDraft.from_json(told[row.report_id]))
        for row in rows
        if row.report_id is not None and told.get(row.report_id)
    ]
