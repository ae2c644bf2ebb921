"""The table of bookings: which are shown, and in which order."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from enum import StrEnum
from typing import Any
from urllib.parse import urlencode

import sqlalchemy as sa
from sqlalchemy.engine import Connection

from terrain.web import bookings, schema
from terrain.web.bookings import State
from terrain.web.database import add_row
from terrain.web.found import folded

PAGE = 100
# Whose turn it is, by state: the desk has to answer, the rider has to, nobody has to.
_DESK = (State.ANALYSED, State.REPLIED, State.DECIDED)
_RIDER = (State.WAITING, State.ASKED)


class Sort(StrEnum):
    """Orders of the table."""

    TURN = "turn"
    DATE = "date"
    AGE = "age"
    CHANGED = "changed"
    REF = "ref"


@dataclass(frozen=True, slots=True, kw_only=True)
class Filter:
    """What is asked of the table; "" asks nothing. since, until : first days, ISO dates"""

    q: str = ""
    state: str = ""
    since: str = ""
    until: str = ""
    differs: bool = False
    sort: Sort = Sort.TURN
    page: int = 1

    @property
    def asks(self) -> bool:
        """Whether it leaves anything out."""
        return bool(self.q or self.state or self.since or self.until or self.differs)

    def query(self, page: int = 1) -> str:
        """As the end of an address."""
        told = {
            "q": self.q, "state": self.state, "since": self.since, "until": self.until,
            "differs": "1" if self.differs else "",
            "sort": "" if self.sort is Sort.TURN else self.sort.value,
            "page": str(page) if page > 1 else "",
        }  # fmt: skip
        return urlencode({key: value for key, value in told.items() if value})


def asked_filter(**given: str) -> Filter:
    """A filter out of an address; what cannot be is left out."""
    state, sort = given.get("state", ""), given.get("sort", "")
    page = given.get("page", "")
    return Filter(
        q=given.get("q", "")[:80].strip(),
        state=state if state in [s.value for s in State] else "",
        since=_day(given.get("since", "")),
        until=_day(given.get("until", "")),
        differs=bool(given.get("differs")),
        sort=Sort(sort) if sort in [s.value for s in Sort] else Sort.TURN,
        page=min(max(int(page), 1), 10_000) if page.isdecimal() and len(page) < 6 else 1,
    )


def _day(text: str) -> str:
    try:
        return date.fromisoformat(text.strip()).isoformat()
    except ValueError:
        return ""


def find(conn: Connection, asked: Filter, today: str) -> Sequence[Any]:
    """The bookings of one page and one more, each with `asked_at` of its open question.

    today : ISO date; trips that are over come last
    """
    table, open_ = schema.bookings, _open_questions()
    query = sa.select(table, open_.c.asked_at).outerjoin(open_, open_.c.booking_id == table.c.id)
    if asked.state:
        query = query.where(table.c.state == asked.state)
    if asked.since:
        query = query.where(table.c.starts_on >= asked.since)
    if asked.until:
        query = query.where(table.c.starts_on != "", table.c.starts_on <= asked.until)
    if asked.differs:
        query = query.where(table.c.id.in_(bookings.with_other_bike()))
    for word in folded(asked.q).split():
        query = query.where(_holds(word))
    query = query.order_by(*_order(asked.sort, open_, today))
    return conn.execute(query.offset((asked.page - 1) * PAGE).limit(PAGE + 1)).all()


def _open_questions() -> sa.Subquery:
    table = schema.questions
    first = sa.func.min(table.c.asked_at).label("asked_at")
    chosen = sa.select(table.c.booking_id, first).where(table.c.closed_at.is_(None))
    return chosen.group_by(table.c.booking_id).subquery()


def _holds(word: str) -> sa.ColumnElement[bool]:
    """Whether a booking, its present routes or their reports are found by a folded word."""
    table, routes, reports = schema.bookings, schema.routes, schema.reports
    by_route = (
        sa.select(routes.c.booking_id)
        .outerjoin(reports, reports.c.route_id == routes.c.id)
        .where(
            routes.c.current,
            sa.or_(
                reports.c.words.contains(word, autoescape=True),
                sa.func.lower(routes.c.name).contains(word, autoescape=True),
            ),
        )
    )
    # A booking from before words were kept is found by its columns.
    columns = (table.c.ref, table.c.customer, table.c.email, table.c.wanted)
    old = [sa.func.lower(column).contains(word, autoescape=True) for column in columns]
    return sa.or_(
        table.c.words.contains(word, autoescape=True), sa.and_(table.c.words == "", sa.or_(*old)),
        table.c.id.in_(by_route),
    )  # fmt: skip


def _order(sort: Sort, open_: sa.Subquery, today: str) -> tuple[sa.ColumnElement[Any], ...]:
    table = schema.bookings
    over = sa.case(
        (table.c.starts_on == "", 1),
        (sa.case((table.c.ends_on != "", table.c.ends_on), else_=table.c.starts_on) >= today, 0),
        else_=2,
    )
    newest = (table.c.changed_at.desc(), table.c.id.desc())
    if sort is Sort.DATE:
        return (sa.case((table.c.starts_on == "", 1), else_=0), table.c.starts_on, *newest)
    if sort is Sort.AGE:
        return (sa.case((open_.c.asked_at.is_(None), 1), else_=0), open_.c.asked_at, *newest)
    if sort is Sort.CHANGED:
        return newest
    if sort is Sort.REF:
        return (table.c.ref,)
    return (_turn(), over, table.c.starts_on, *newest)


def _turn() -> sa.ColumnElement[int]:
    """0 where the desk has to do something, 1 the rider, 2 nobody."""
    table = schema.bookings
    failed = _with_failed_route()
    return sa.case(
        (table.c.state.in_([s.value for s in _DESK]), 0),
        (sa.and_(table.c.state == State.WAITING.value, table.c.id.in_(failed)), 0),
        (table.c.state.in_([s.value for s in _RIDER]), 1),
        else_=2,
    )


def _with_failed_route() -> sa.Select[Any]:
    """Ids of bookings of which a present route could not be read."""
    routes, jobs = schema.routes, schema.jobs
    newest = jobs.c.id == bookings.newest_of(jobs, jobs.c.kind == "report")
    failed = (routes.c.current, jobs.c.state == "failed")
    return sa.select(routes.c.booking_id).join(jobs, newest).where(*failed)


def views_of(conn: Connection, user_id: int) -> Sequence[Any]:
    """The filters that somebody keeps, by name."""
    table = schema.views
    chosen = sa.select(table).where(table.c.user_id == user_id)
    return conn.execute(chosen.order_by(sa.func.lower(table.c.name))).all()


def keep_view(conn: Connection, user_id: int, name: str, query: str) -> None:
    """Keep a filter under a name; one of the same name is replaced."""
    table = schema.views
    drop_view(conn, user_id, name)
    add_row(conn, table, user_id=user_id, name=name, query=query)


def drop_view(conn: Connection, user_id: int, name: str) -> None:
    table = schema.views
    conn.execute(table.delete().where(table.c.user_id == user_id, table.c.name == name))
