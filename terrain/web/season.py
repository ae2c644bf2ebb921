"""The rides of the next weeks by day, with what each needs: bikes set up, van, guide, what forbids.

Only what is out on a day counts for that day; what no report tells yet is told as not known.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from typing import Any

import sqlalchemy as sa
from markupsafe import Markup
from sqlalchemy.engine import Connection

from terrain.text.catalogue import N_
from terrain.text.terms import SETUP_VALUE_TERMS, WEEKDAY_TERMS
from terrain.text.translator import Translator
from terrain.web import schema
from terrain.web.bookings import Standing
from terrain.web.summary import Told
from terrain.web.views import RouteView, answer_of, answer_over

_NOT_READ = N_("not read yet")
MOST = 200  # bookings on one page
WEEKS = (1, 2, 4, 8)


@dataclass(frozen=True, slots=True, kw_only=True)
class SeasonRide:
    """One route of a booking, or a booking without one, on one day.

    day_of : "day 2 of 3", "" for a ride of one day; said : its answer; forbids : whether something
    forbids it; bikes : setup to number, "" for not known; van, hot, shut : in words, "" for none
    known : whether a report tells
    """

    ref: str
    route_id: int | None
    name: str
    day_of: str
    said: str
    forbids: bool
    bikes: Mapping[str, int]
    guided: bool
    van: str
    hot: str
    shut: str
    known: bool

    def bikes_in(self, translator: Translator) -> str:
        """ "2 off-road, 1 road" """
        return _told_bikes(self.bikes, translator)


@dataclass(frozen=True, slots=True, kw_only=True)
class SeasonDay:
    """What is out on one day. needs : of all its rides together, in words"""

    day: date
    title: str
    rides: tuple[SeasonRide, ...]
    needs: tuple[str, ...]


def rides_between(conn: Connection, first: date, last: date) -> list[Any]:
    """Bookings that are out on one of these days, in the order they set off; one more than fit."""
    table = schema.bookings
    ends_on = sa.case((table.c.ends_on != "", table.c.ends_on), else_=table.c.starts_on)
    query = (
        sa.select(table)
        .where(
            table.c.starts_on != "",
            table.c.starts_on <= last.isoformat(),
            ends_on >= first.isoformat(),
        )
        .order_by(table.c.starts_on, table.c.id)
        .limit(MOST + 1)
    )
    return list(conn.execute(query))


def season_of(
    rows: Sequence[Any],
    told: Mapping[int, Sequence[Standing]],
    first: date,
    last: date,
    translator: Translator,
) -> list[SeasonDay]:
    """The days on which something is out."""
    by_day: dict[date, list[SeasonRide]] = {}
    for booking in rows:
        for day, ride in _rides(booking, told[booking.id], first, last, translator):
            by_day.setdefault(day, []).append(ride)
    return [
        SeasonDay(
            day=day, title=_title(day, translator), rides=tuple(rides),
            needs=tuple(_needs(rides, translator)),
        )
        for day, rides in sorted(by_day.items())
    ]  # fmt: skip


def _title(day: date, translator: Translator) -> str:
    weekday = translator._(WEEKDAY_TERMS[day.weekday()])
    told = translator._("{weekday}, {day}", weekday=weekday, day=translator.day(day))
    return told[:1].upper() + told[1:]


def _rides(
    booking: Any, rows: Sequence[Standing], first: date, last: date, translator: Translator
) -> Iterator[tuple[date, SeasonRide]]:
    """Every day of a booking within the days asked for, once for each of its routes."""
    start = date.fromisoformat(booking.starts_on)
    end = date.fromisoformat(booking.ends_on) if booking.ends_on else start
    n_days = (end - start).days + 1
    rides = [_ride(booking, row, translator) for row in rows]
    rides = rides or [_ride(booking, None, translator)]
    for offset in range(max(0, (first - start).days), min(n_days, (last - start).days + 1)):
        day_of = ""
        if n_days > 1:
            day_of = translator._("day {n} of {all}", n=offset + 1, all=n_days)
        for ride in rides:
            yield start + timedelta(days=offset), replace(ride, day_of=day_of)


def _ride(booking: Any, row: Standing | None, translator: Translator) -> SeasonRide:
    _ = translator._
    told = None if row is None else row.told(translator.lang)
    views = [] if row is None else [
        RouteView(row=row, told=told or Told(), answer=answer_of(row), strip=Markup(""))
    ]  # fmt: skip
    needs = None if told is None else told.needs
    return SeasonRide(
        ref=booking.ref,
        route_id=None if row is None or row.report_id is None else row.route_id,
        name=told.route if told else row.name if row else "",
        day_of="",
        said=answer_over(views, translator),
        forbids=bool(told and told.forbidden),
        bikes=_bikes(told),
        guided=bool(booking.guided),
        van=_("van") if needs and needs.van else "",
        hot="" if needs is None or needs.hot_c is None else translator.temp(needs.hot_c),
        shut=translator.distance(needs.shut_m) if needs and needs.shut_m else "",
        known=needs is not None,
    )


def _bikes(told: Told | None) -> dict[str, int]:
    """How many bikes go out with which setup; one of a setup not known without a report."""
    if told is None:
        return {"": 1}
    found: dict[str, int] = {}
    for setup in [rider.setup for rider in told.group] or [told.setup]:
        found[setup] = found.get(setup, 0) + 1
    return found


def _needs(rides: Sequence[SeasonRide], translator: Translator) -> Iterator[str]:
    """What the day needs in all: bikes by setup, guides and vans, then what stands against it."""
    n_ = translator.n_
    bikes: dict[str, int] = {}
    for ride in rides:
        for setup, n in ride.bikes.items():
            bikes[setup] = bikes.get(setup, 0) + n
    yield _told_bikes(bikes, translator)
    led, met = sum(x.guided for x in rides), sum(bool(x.van) for x in rides)
    hot, shut = sum(bool(x.hot) for x in rides), sum(bool(x.shut) for x in rides)
    no = sum(x.forbids for x in rides)
    yield from filter(
        None,
        (
            n_("one with a guide", "{n} with a guide", led) if led else "",
            n_("one with a van", "{n} with a van", met) if met else "",
            n_("one in the heat", "{n} in the heat", hot) if hot else "",
            n_("one over closed roads", "{n} over closed roads", shut) if shut else "",
            n_("one must not go as it is", "{n} must not go as they are", no) if no else "",
        ),
    )


def _told_bikes(bikes: Mapping[str, int], translator: Translator) -> str:
    """ "2 off-road, 1 road"; the order of the setups, those not known last."""
    order = [*SETUP_VALUE_TERMS, ""]
    words = {**SETUP_VALUE_TERMS, "": _NOT_READ}
    return ", ".join(
        f"{bikes[setup]} {translator._(words[setup])}"
        for setup in sorted(bikes, key=order.index)
    )  # fmt: skip
