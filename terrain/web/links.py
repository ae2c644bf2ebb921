"""The riders' links: the booking's own, shown once, and those that went out with mails."""

from __future__ import annotations

from typing import Any

import sqlalchemy as sa
from sqlalchemy.engine import Connection

from terrain.web.database import add_row, change_rows
from terrain.web.keys import digest, new_secret
from terrain.web.schema import bookings, links


def renew_link(conn: Connection, booking_id: int) -> str:
    """A new link for a booking; those before stop working."""
    link = new_secret()
    conn.execute(links.delete().where(links.c.booking_id == booking_id))
    change_rows(conn, bookings, bookings.c.id == booking_id, link_hash=digest(link))
    return link


def link_for_mail(conn: Connection, booking_id: int, now: float) -> str:
    """A link more for a booking, to go out with a mail; those before go on working."""
    link = new_secret()
    add_row(conn, links, hash=digest(link), booking_id=booking_id, made_at=now)
    return link


def by_link(conn: Connection, link: str) -> Any:
    """The booking of a link, or None."""
    hashed = digest(link)
    mailed = sa.select(links.c.booking_id).where(links.c.hash == hashed).scalar_subquery()
    own = sa.or_(bookings.c.link_hash == hashed, bookings.c.id == mailed)
    return conn.execute(sa.select(bookings).where(own)).first()
