"""Bookings, the routes sent for them, and the reports made of these."""

from __future__ import annotations

import json
import secrets
from collections.abc import Sequence
from dataclasses import dataclass, replace
from enum import StrEnum
from typing import Any

import sqlalchemy as sa
from sqlalchemy.engine import Connection

from terrain.errors import InputError, explained
from terrain.text.message import Message, message, term
from terrain.text.plain import one_line, shortened
from terrain.text.terms import DETAIL_TERMS, STATE_TERMS, STEP_TERMS
from terrain.text.translator import Translator, translator_for
from terrain.web.changes import changes_of
from terrain.web.database import add_row, change_rows
from terrain.web.details import REFERENCE, Details, in_order
from terrain.web.found import found_by
from terrain.web.jobs import add_job
from terrain.web.keys import digest, new_secret
from terrain.web.schema import (
    bookings,
    events,
    files,
    jobs,
    questions,
    reports,
    routes,
)
from terrain.web.stored import stored_event, stored_text
from terrain.web.summary import Summary, Told


class State(StrEnum):
    """How far a booking has come."""

    WAITING = "waiting"
    ANALYSED = "analysed"
    ASKED = "asked"
    REPLIED = "replied"
    DECIDED = "decided"
    ANSWERED = "answered"
    SETTLED = "settled"

    @property
    def words(self) -> str:
        return STATE_TERMS[self.value]


@dataclass(frozen=True, slots=True, kw_only=True)
class Sent:
    """A file as it came: the client's name is only ever shown, never a path."""

    name: str
    content: bytes
    drawn: bool = False


# The details that a form of the desk shows and changes.
DETAILS = DETAIL_TERMS


def details_mark(row: Any) -> str:
    """A short text that changes whenever one of a booking's details does."""
    return digest(json.dumps([getattr(row, key) for key in DETAILS]))[:16]


def _first_start(starts_on: str) -> str:
    """When a ride sets off on its first day if nobody has said: shown in the forms to be changed.

    Without any date neither heat nor daylight nor season could be told.
    """
    return f"{starts_on}T08:30" if starts_on else ""


def add_booking(
    conn: Connection, told: Details, now: float, *, lang: str, units: str
) -> tuple[int, str, str]:
    """A new booking; returns its id, reference and the secret of its link.

    Raises InputError if the reference is taken.
    """
    ref = told.ref or ref_of("")
    if conn.execute(sa.select(bookings.c.id).where(bookings.c.ref == ref)).first():
        raise InputError(
            message("there is already a booking {ref}", ref=repr(ref)),
            term(REFERENCE),
            message("Take another reference."),
        )
    link = new_secret()
    depart = told.depart or _first_start(told.starts_on or "")
    values = {
        "lang": lang, "units": units, "state": State.WAITING.value, **told.columns(), "ref": ref,
        "depart": depart,
    }  # fmt: skip
    booking_id = add_row(
        conn, bookings, **values, words=found_by(values), link_hash=digest(link), created_at=now,
        changed_at=now,
    )  # fmt: skip
    return booking_id, ref, link


def ref_of(once: str) -> str:
    """A reference of ours; the same one for the same form that is sent again."""
    return f"R{(digest(once)[:8] if once else secrets.token_hex(4)).upper()}"


def by_ref(conn: Connection, ref: str) -> Any:
    return conn.execute(sa.select(bookings).where(bookings.c.ref == ref)).first()


def change_booking(conn: Connection, booking_id: int, told: Details, now: float) -> None:
    """Change a booking's columns; its reports are made again if the trip changed.

    Raises InputError if the trip would end before it starts.
    """
    old = conn.execute(sa.select(bookings).where(bookings.c.id == booking_id)).one()
    moved = told.starts_on not in (None, old.starts_on)
    if moved and told.depart in (None, old.depart) and old.depart[:10] == old.starts_on:
        # The start stood on the first day: it moves with it, at its hour.
        depart = f"{told.starts_on}{old.depart[10:] or 'T08:30'}" if told.starts_on else ""
        told = replace(told, depart=depart)
    values = told.columns()
    new = {**old._mapping, **values}
    if told.starts_on is not None or told.ends_on is not None:
        in_order(new["starts_on"], new["ends_on"])
    change_rows(
        conn, bookings, bookings.c.id == booking_id, **values, words=found_by(new), changed_at=now
    )
    trip = (
        "depart",
        "rider",
        "riding",
        "wants",
        "pillion",
        "guided",
        "luggage",
        "wanted",
        "lang",
        "units",
    )
    if any(new[key] != getattr(old, key) for key in trip):
        ask_again(conn, booking_id, now)


def told_changes(row: Any, told: Details) -> list[Message]:
    """What changes in a booking's details, for its history: a line for each, from what to what."""
    return [
        message(
            "{field}: {was}, now {now}", field=term(DETAILS[change.field]),
            was=term(_shown(change.before)), now=term(_shown(change.after)),
        )
        for change in changes_of(row, told)
        if change.field in DETAILS
    ]  # fmt: skip


def _shown(value: str | bool) -> str:
    if isinstance(value, bool):
        return "yes" if value else "no"
    return shortened(str(value), 40) or "–"


def ask_again(conn: Connection, booking_id: int, now: float) -> None:
    """Have the reports of all present routes of a booking made again."""
    for route in current_routes(conn, booking_id):
        add_job(conn, "report", now, route_id=route.id)


_NO_BOOKING = "new"


def sent_already(conn: Connection, once: str) -> int | None:
    """The booking that a form of no booking made when it was sent before; None if it was not."""
    mine = routes.c.once == f"{_NO_BOOKING}:{once[:80]}:0"
    found = conn.execute(sa.select(routes.c.booking_id).where(mine)).scalar() if once else None
    return None if found is None else int(found)


def add_routes(
    conn: Connection, booking_id: int, sent: Sequence[Sent], now: float, *, once: str = "",
    alone: bool = False,
) -> bool:  # fmt: skip
    """Keep the files in place of earlier ones and have them judged.

    once : the same text again means the same upload again, which changes nothing
    alone : the text is of a form that is of no booking yet
    Returns False for such an upload.
    """
    owner = _NO_BOOKING if alone else booking_id
    keys = [f"{owner}:{once[:80]}:{n}" if once else None for n in range(len(sent))]
    if once and conn.execute(sa.select(routes.c.id).where(routes.c.once == keys[0])).first():
        return False
    change_rows(conn, routes, routes.c.booking_id == booking_id, current=False)
    for item, key in zip(sent, keys, strict=True):
        done = add_row(
            conn, routes, booking_id=booking_id, name=one_line(item.name, 120) or "route.gpx",
            content=item.content, drawn=item.drawn, current=True, once=key, created_at=now,
        )  # fmt: skip
        add_job(conn, "report", now, route_id=done)
    change_rows(conn, bookings, bookings.c.id == booking_id, changed_at=now)
    # Another route makes void what was asked of the one before, and decided.
    void = (State.ANALYSED, State.ASKED, State.REPLIED, State.DECIDED)
    change_rows(
        conn, bookings, bookings.c.id == booking_id, bookings.c.state.in_([s.value for s in void]),
        state=State.WAITING.value,
    )  # fmt: skip
    change_rows(
        conn, questions, questions.c.booking_id == booking_id, questions.c.closed_at.is_(None),
        closed_at=now,
    )  # fmt: skip
    return True


_ROUTE = (routes.c.id, routes.c.booking_id, routes.c.name, routes.c.drawn, routes.c.current,
          routes.c.created_at)  # fmt: skip


def current_routes(conn: Connection, booking_id: int) -> Sequence[Any]:
    """The routes that count, without their content."""
    chosen = sa.select(*_ROUTE).where(routes.c.booking_id == booking_id, routes.c.current.is_(True))
    return conn.execute(chosen.order_by(routes.c.id)).all()


def fault_parts(stored: str) -> tuple[str, str, str, str]:
    """Why something failed, as it was stored: what, where, fix, and more for staff."""
    if not stored.startswith("["):
        return stored, "", "", ""
    what, where, fix, detail = json.loads(stored)
    # A file's name stands as it is.
    place = stored_text(where) if isinstance(where, dict) else where
    return stored_text(what), place, stored_text(fix), stored_text(detail)


def explained_beside(name: str, stored: str, translator: Translator) -> str:
    """Why a file cannot be used, as it was stored, in sentences beside its name."""
    what, where, fix, _ = fault_parts(stored)
    place = translator.translate(where)
    inside = place.removeprefix(name).lstrip(", ")
    told = explained(translator, what, inside, fix) if what else ""
    return told if inside == place else told[:1].upper() + told[1:]


@dataclass(frozen=True, slots=True, kw_only=True)
class Progress:
    """How far one route is: what a page asks for each second.

    state : of its latest job; step : what that does now; what : why it failed, see told_fault
    """

    route_id: int
    name: str
    state: str
    step: str
    what: str

    @property
    def working(self) -> bool:
        return self.state in ("waiting", "running")

    @property
    def outdated(self) -> bool:
        """Whether what was last said may be of what stood before."""
        return self.working or self.state == "failed"

    @property
    def fault(self) -> tuple[str, str, str, str]:
        """Why it failed: what, where, fix, and more for staff."""
        return fault_parts(self.what)

    def step_in(self, translator: Translator) -> str:
        """What is done with the route now, in words."""
        if self.state == "failed":
            return self.fault_in(translator.lang)
        if self.state == "running":
            return translator._(STEP_TERMS.get(self.step, STEP_TERMS["reading"]))
        return translator._("waiting") if self.state == "waiting" else translator._("ready")

    def fault_in(self, lang: str) -> str:
        """Why it failed, in sentences; the file's name stands beside it already."""
        return explained_beside(self.name, self.what, translator_for(lang))

    def why(self, lang: str) -> str:
        """Why it failed, without what to do about it."""
        return explained(translator_for(lang), self.fault[0])

    @property
    def detail(self) -> str:
        """What staff may want to know more."""
        return self.fault[3]


@dataclass(frozen=True, slots=True, kw_only=True)
class Standing(Progress):
    """One route with its latest job and report.

    report_id, made_at, summary : of the newest report, None if there is none yet
    """

    drawn: bool
    report_id: int | None
    made_at: float | None
    summary: Summary | None

    @property
    def differs(self) -> bool:
        """Whether the booked bike is not the advised one."""
        return self.summary is not None and self.summary.differs

    def told(self, lang: str) -> Told | None:
        """The summary with its sentences in a language."""
        return None if self.summary is None else self.summary.told(lang)


def progress(conn: Connection, booking_id: int) -> list[Progress]:
    """How far the present routes of a booking are, without their reports."""
    return _progress(conn.execute(_PROGRESS, {"booking": booking_id}).all())


def progress_of_route(conn: Connection, route_id: int) -> list[Progress]:
    """How far one present route is."""
    return _progress(conn.execute(_PROGRESS_OF_ROUTE, {"route": route_id}).all())


def _progress(rows: Sequence[Any]) -> list[Progress]:
    return [
        Progress(route_id=row.id, name=row.name, state=row.state or "done",
                 step=row.step or "", what=row.what or "")
        for row in rows
    ]  # fmt: skip


def standings(conn: Connection, booking_ids: Sequence[int]) -> dict[int, list[Standing]]:
    """How the present routes of each booking stand."""
    out: dict[int, list[Standing]] = {booking_id: [] for booking_id in booking_ids}
    last_job = newest_of(jobs, jobs.c.kind == "report")
    last_report = newest_of(reports)
    rows = conn.execute(
        sa.select(
            *_ROUTE, jobs.c.state, jobs.c.step, jobs.c.what, reports.c.id.label("report_id"),
            reports.c.made_at, reports.c.summary,
        )
        .outerjoin(jobs, jobs.c.id == last_job)
        .outerjoin(reports, reports.c.id == last_report)
        .where(routes.c.booking_id.in_(list(booking_ids)), routes.c.current.is_(True))
        .order_by(routes.c.id)
    ).all()  # fmt: skip
    for row in rows:
        out[row.booking_id].append(
            Standing(
                route_id=row.id, name=row.name, drawn=row.drawn, state=row.state or "done",
                step=row.step or "", what=row.what or "", report_id=row.report_id,
                made_at=row.made_at,
                summary=None if row.summary is None else Summary.from_json(row.summary),
            )
        )  # fmt: skip
    return out


def with_other_bike() -> sa.Select[Any]:
    """Ids of bookings of which a present route's newest report advises another bike."""
    newest = reports.c.id == newest_of(reports)
    # As Summary.to_json writes what Standing.differs reads.
    differs = reports.c.summary.contains('"differs": true')
    return sa.select(routes.c.booking_id).join(reports, newest).where(routes.c.current, differs)


def newest_of(table: sa.Table, *also: sa.ColumnElement[bool]) -> sa.ScalarSelect[Any]:
    """The newest row of a table for the route of the outer query."""
    newest = sa.select(sa.func.max(table.c.id)).where(table.c.route_id == routes.c.id, *also)
    return newest.correlate(routes).scalar_subquery()


_STEPS = (
    sa.select(routes.c.id, routes.c.name, jobs.c.state, jobs.c.step, jobs.c.what)
    .outerjoin(jobs, jobs.c.id == newest_of(jobs, jobs.c.kind == "report"))
    .where(routes.c.current.is_(True))
    .order_by(routes.c.id)
)
_PROGRESS = _STEPS.where(routes.c.booking_id == sa.bindparam("booking"))
_PROGRESS_OF_ROUTE = _STEPS.where(routes.c.id == sa.bindparam("route"))


def report_file(conn: Connection, report_id: int, name: str) -> bytes | None:
    """One stored file of a report."""
    query = sa.select(files.c.content).where(files.c.report_id == report_id, files.c.name == name)
    content = conn.execute(query).scalar()
    return None if content is None else bytes(content)


def note_event(
    conn: Connection, who: str, what: Message, now: float, booking_id: int | None = None
) -> None:
    """Write down who did what, for the booking's history; the numbers are terms."""
    add_row(conn, events, at=now, who=who[:80], what=stored_event(what), booking_id=booking_id)
