"""How long data are kept, and what a person may take away or have deleted."""

from __future__ import annotations

import io
import json
import zipfile
from datetime import UTC, datetime, timedelta
from typing import Any

import sqlalchemy as sa
from sqlalchemy.engine import Connection

from terrain.text.message import message
from terrain.text.terms import DETAIL_TERMS
from terrain.web import schema
from terrain.web.bookings import State, note_event
from terrain.web.database import Database, change_rows
from terrain.web.party import riders_of
from terrain.web.rides import exported, forget_rides, forget_tracks, forget_whose
from terrain.web.undo import tidy_undo
from terrain.web.work import unpack


def forget_old(db: Database, keep_days: int, now: float, *, keep_tracks_days: int = 0) -> int:
    """Delete bookings that neither changed nor ended within so many days; returns how many.

    Routes show where people live, so all of a booking goes: routes, reports, name, history.
    """
    day = (datetime.fromtimestamp(now, UTC) - timedelta(days=keep_days)).date().isoformat()
    old = sa.and_(
        schema.bookings.c.changed_at < now - keep_days * 86400.0,
        # Unknown dates are empty texts, before every day.
        *(schema.bookings.c[date] < day for date in ("starts_on", "depart", "ends_on")),
    )
    with db.write() as conn:
        gone = conn.execute(sa.select(schema.bookings.c.id, schema.bookings.c.ref).where(old)).all()
        for row in gone:
            forget_whose(conn, row.id)
            forget_booking(conn, row.id)
            what = message("kept long enough, deleted: {ref}", ref=row.ref)
            note_event(conn, "desk", what, now)
        forget_tracks(conn, keep_tracks_days, now)
        tidy_undo(conn, now)
        conn.execute(schema.sessions.delete().where(schema.sessions.c.seen_at < now - 30 * 86400))
        conn.execute(
            schema.jobs.delete().where(
                schema.jobs.c.done_at < now - 7 * 86400, schema.jobs.c.kind == "webhook"
            )
        )
    return len(gone)


def forget_routes(conn: Connection, booking_id: int) -> None:
    """Delete the routes of a booking with all that was made of them, and its recorded rides."""
    forget_rides(conn, booking_id)
    mine = sa.select(schema.routes.c.id).where(schema.routes.c.booking_id == booking_id)
    for table in (schema.jobs, schema.pins, schema.rulings, schema.rider_rulings, schema.answers):
        conn.execute(table.delete().where(table.c.route_id.in_(mine)))
    reports = sa.select(schema.reports.c.id).where(schema.reports.c.booking_id == booking_id)
    conn.execute(schema.files.delete().where(schema.files.c.report_id.in_(reports)))
    for table in (schema.reports, schema.routes):
        conn.execute(table.delete().where(table.c.booking_id == booking_id))
    change_rows(
        conn, schema.bookings, schema.bookings.c.id == booking_id, state=State.WAITING.value
    )


def forget_booking(conn: Connection, booking_id: int) -> None:
    """Delete a booking and all that belongs to it."""
    forget_routes(conn, booking_id)
    for table in (
        schema.events,
        schema.answers,
        schema.questions,
        schema.mails,
        schema.links,
        schema.incidents,
        schema.riders,
    ):
        conn.execute(table.delete().where(table.c.booking_id == booking_id))
    conn.execute(schema.bookings.delete().where(schema.bookings.c.id == booking_id))


def export_zip(conn: Connection, booking_id: int, *, for_rider: bool = False) -> bytes:
    """All that is kept about one booking: a JSON file, the routes as sent, the reports.

    for_rider : without what staff say among themselves: remark, and reports in their voices
    """
    row = conn.execute(sa.select(schema.bookings).where(schema.bookings.c.id == booking_id)).one()
    told: dict[str, Any] = {k: v for k, v in row._mapping.items() if k != "link_hash"}
    if for_rider:
        del told["remark"]
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive:
        told["routes"] = _put_routes(conn, booking_id, archive, for_rider=for_rider)
        told["history"] = [
            dict(event._mapping)
            for event in conn.execute(
                sa.select(schema.events.c.at, schema.events.c.what)
                .where(schema.events.c.booking_id == booking_id)
                .order_by(schema.events.c.id)
            )
            if not (for_rider and DETAIL_TERMS["remark"] in event.what)
        ]
        mine = schema.answers.c.booking_id == booking_id
        told["answers"] = [
            {k: v for k, v in row._mapping.items() if k != "booking_id"}
            for row in conn.execute(sa.select(schema.answers).where(mine))
        ]
        sent = sa.select(schema.mails.c.at, schema.mails.c.kind, schema.mails.c.subject)
        told["mails"] = [
            dict(row._mapping)
            for row in conn.execute(sent.where(schema.mails.c.booking_id == booking_id))
        ]
        told["riders"] = [rider.columns() for rider in riders_of(conn, booking_id)]
        told |= exported(conn, booking_id, archive)
        archive.writestr("booking.json", json.dumps(told, ensure_ascii=False, indent=1))
    return out.getvalue()


def _put_routes(
    conn: Connection, booking_id: int, archive: zipfile.ZipFile, *, for_rider: bool
) -> list[dict[str, Any]]:
    told = []
    mine = schema.routes.c.booking_id == booking_id
    for route in conn.execute(sa.select(schema.routes).where(mine).order_by(schema.routes.c.id)):
        # The names in the archive are ours; what the client called the file is told as text.
        archive.writestr(f"route-{route.id}.gpx", bytes(route.content))
        told.append({"file": f"route-{route.id}.gpx", "name": route.name, "sent": route.created_at})
    made = sa.select(schema.files, schema.reports.c.route_id).join(
        schema.reports, schema.reports.c.id == schema.files.c.report_id
    )
    for file in conn.execute(made.where(schema.reports.c.booking_id == booking_id)):
        if for_rider and not file.name.startswith("rider."):
            continue
        archive.writestr(f"report-{file.route_id}-{file.name}", unpack(bytes(file.content)))
    return told
