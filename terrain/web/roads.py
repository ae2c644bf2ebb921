"""Open bookings whose roads an update of the map changed since their report was made."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import suppress

import numpy as np
import sqlalchemy as sa
from sqlalchemy.engine import Connection

from terrain.errors import RegionError
from terrain.region.changed import ChangedWays, changed_ways
from terrain.region.pack import current_pack
from terrain.region.region import find_folder, region_folders
from terrain.web.bookings import State, newest_of
from terrain.web.jobs import RUNNING, WAITING
from terrain.web.schema import bookings, jobs, reports, routes
from terrain.web.settings import WebSettings
from terrain.web.work import unpack


def changed_roads(
    conn: Connection, settings: WebSettings, today: str, booking_id: int | None = None
) -> dict[int, tuple[int, int]]:
    """Route to its booking and the number of its ways that were changed or taken away since.

    today : ISO date; settled bookings, and trips that are over, are left out, and so are routes
        that are being read again
    booking_id : of this booking alone
    """
    logs = list(_logs(settings))
    newest = max((float(log.at_s.max()) for log in logs), default=0.0)
    if not newest:
        return {}
    query = (
        sa.select(routes.c.id, routes.c.booking_id, reports.c.made_at, reports.c.ways)
        .join(bookings, bookings.c.id == routes.c.booking_id)
        .join(reports, reports.c.id == newest_of(reports))
        .outerjoin(jobs, jobs.c.id == newest_of(jobs, jobs.c.kind == "report"))
        .where(
            routes.c.current.is_(True),
            bookings.c.state != State.SETTLED.value,
            sa.or_(bookings.c.ends_on == "", bookings.c.ends_on >= today),
            reports.c.made_at < newest,
            reports.c.ways.is_not(None),
            sa.or_(jobs.c.state.is_(None), jobs.c.state.not_in((WAITING, RUNNING))),
        )
    )
    if booking_id is not None:
        query = query.where(bookings.c.id == booking_id)
    found = {}
    for row in conn.execute(query):
        ridden = np.frombuffer(unpack(bytes(row.ways)), dtype="<i8")
        hit: set[int] = set()
        for log in logs:
            hit |= set(np.intersect1d(ridden, log.since(row.made_at)).tolist())
        if hit:
            found[row.id] = (row.booking_id, len(hit))
    return found


def _logs(settings: WebSettings) -> Iterator[ChangedWays]:
    """What updates changed in each region of the desk; a damaged one is told of elsewhere."""
    home = settings.home
    folders = [find_folder(settings.region, home)] if settings.region else region_folders(home)
    for folder in folders:
        with suppress(RegionError):
            log = changed_ways(current_pack(folder))
            if len(log.at_s):
                yield log
