"""The season: what is out on each day of the next weeks, and what it needs."""

from __future__ import annotations

from datetime import date, timedelta

from fastapi import APIRouter, Depends, Request
from starlette.responses import Response

from terrain.text.translator import translator_for
from terrain.web import bookings
from terrain.web.access import Allow
from terrain.web.desk import desk_of
from terrain.web.people import Role
from terrain.web.season import MOST, WEEKS, rides_between, season_of

router = APIRouter(include_in_schema=False)
_USUAL_WEEKS = 2


@router.get("/season", dependencies=[Depends(Allow("guide"))])
def season(request: Request, since: str = "", weeks: str = "") -> Response:
    """Rides by day, for staff and guides; no address, and names in groups alone.

    since : first day, today if it is none; weeks : how many
    """
    desk = desk_of(request)
    first = _day(since)
    n = int(weeks) if weeks.isdecimal() and int(weeks[:4]) in WEEKS else _USUAL_WEEKS
    last = first + timedelta(days=7 * n - 1)
    translator = translator_for(desk.lang(request), desk.settings.units)
    with desk.db.read() as conn:
        rows = rides_between(conn, first, last)
        told = bookings.standings(conn, [row.id for row in rows[:MOST]])
    return desk.page(
        request, "season.html", translator=translator, first=first, n_weeks=n, choices=WEEKS,
        days=season_of(rows[:MOST], told, first, last, translator), more=len(rows) > MOST,
        until=translator.day(last), since=translator.day(first),
        before=(first - timedelta(days=7 * n)).isoformat(), after=(last + timedelta(1)).isoformat(),
        to_booking=request.state.person.role.may(Role.STAFF),
    )  # fmt: skip


def _day(text: str) -> date:
    """The day that is asked for, within what calendars hold; today if it is none."""
    try:
        day = date.fromisoformat(text)
    except ValueError:
        return date.today()
    return day if 1971 <= day.year <= 2200 else date.today()
