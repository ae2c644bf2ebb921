"""A table of bookings taken in: first what it would change, then the change, then back again.

The table is kept for a day until somebody takes it in, and for a week so that it can be taken
back; with a booking goes what imports hold of it.
"""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum
from typing import Any

import sqlalchemy as sa
from sqlalchemy.engine import Connection

from terrain.errors import InputError
from terrain.text.message import message
from terrain.web import bookings
from terrain.web.bookings import note_event
from terrain.web.changes import Change, changes_of
from terrain.web.keys import digest
from terrain.web.retention import forget_booking
from terrain.web.schema import bookings as table
from terrain.web.schema import import_rows, imports

KEEP_SHOWN_S, KEEP_DONE_S = 86_400.0, 7 * 86_400.0


class Stage(StrEnum):
    """How far an import has come."""

    SHOWN = "shown"
    DONE = "done"
    BACK = "back"


@dataclass(frozen=True, slots=True, kw_only=True)
class RowPlan:
    """What one line of the table would do.

    booking : the row of the booking that is there, None for a new one
    changes : none for a booking that stays as it was; a new one's are its details
    """

    ref: str
    told: Mapping[str, Any]
    booking: Any
    changes: tuple[Change, ...]

    @property
    def is_new(self) -> bool:
        return self.booking is None


@dataclass(frozen=True, slots=True, kw_only=True)
class Done:
    """What an import did. links : reference and secret of each new booking"""

    links: tuple[tuple[str, str], ...]
    changed: int


def keep_table(conn: Connection, rows: Sequence[Mapping[str, Any]], who: str, now: float) -> int:
    """Keep a checked table to be looked at; returns the import's number."""
    old = sa.or_(
        sa.and_(imports.c.state == Stage.SHOWN.value, imports.c.made_at < now - KEEP_SHOWN_S),
        imports.c.made_at < now - KEEP_DONE_S,
    )
    conn.execute(imports.delete().where(old))
    done = conn.execute(imports.insert().values(who=who, made_at=now, state=Stage.SHOWN.value))
    assert done.inserted_primary_key is not None
    number = int(done.inserted_primary_key[0])
    conn.execute(
        import_rows.insert(),
        [{"import_id": number, "ref": told["ref"], "told": json.dumps(dict(told))}
         for told in rows],
    )  # fmt: skip
    return number


def plan_of(conn: Connection, number: int) -> list[RowPlan]:
    """What the table would do to the bookings as they are now, line by line.

    Raises InputError if a trip would end before it starts.
    """
    kept = conn.execute(_rows(number)).all()
    there = {
        row.ref: row
        for at in range(0, len(kept), 500)
        for row in conn.execute(
            sa.select(table).where(table.c.ref.in_([row.ref for row in kept[at : at + 500]]))
        )
    }
    plans = []
    for row in kept:
        told, old = json.loads(row.told), there.get(row.ref)
        given = {key: value for key, value in told.items() if key != "ref"}
        if old is None:
            changes = tuple(
                Change(field=key, before="", after=value) for key, value in given.items()
            )
        else:
            changes = changes_of(old, given)
            _check_dates(old, given)
        plans.append(RowPlan(ref=row.ref, told=told, booking=old, changes=changes))
    return plans


def _rows(number: int) -> sa.Select[Any]:
    return (
        sa.select(import_rows).where(import_rows.c.import_id == number).order_by(import_rows.c.id)
    )


def _check_dates(old: Any, told: Mapping[str, Any]) -> None:
    first, last = (told.get(key, getattr(old, key)) for key in ("starts_on", "ends_on"))
    if first and last and last < first:
        raise InputError(
            message("the trip ends before it starts"), old.ref, message("Correct the dates.")
        )


def mark_of(plans: Sequence[RowPlan]) -> str:
    """A short text that is another one if the table would do something else."""
    told = [
        [plan.ref, plan.is_new, [[c.field, c.before, c.after] for c in plan.changes]]
        for plan in plans
    ]
    return digest(json.dumps(told))[:16]


def take_in(
    conn: Connection, number: int, plans: Sequence[RowPlan], *, who: str, now: float, lang: str,
    units: str,
) -> Done:  # fmt: skip
    """Do what was shown; each booking's history says what became of it."""
    links: list[tuple[str, str]] = []
    changed = 0
    for plan in plans:
        mine = sa.and_(import_rows.c.import_id == number, import_rows.c.ref == plan.ref)
        if plan.is_new:
            booking_id, ref, link = bookings.add_booking(
                conn, plan.told, now, lang=lang, units=units
            )
            links.append((ref, link))
            conn.execute(import_rows.update().where(mine).values(booking_id=booking_id, before=""))
            note_event(conn, who, message("booking imported"), now, booking_id)
        elif plan.changes:
            changed += 1
            done = _change(conn, plan.booking.id, plan.told, now)
            before = json.dumps([[c.field, c.before, c.after] for c in done])
            conn.execute(
                import_rows.update()
                .where(mine)
                .values(booking_id=plan.booking.id, before=before)
            )  # fmt: skip
            _tell(conn, plan.booking.id, done, message("changed by an import"), who, now)
    conn.execute(imports.update().where(imports.c.id == number).values(state=Stage.DONE.value))
    return Done(links=tuple(links), changed=changed)


def _change(
    conn: Connection, booking_id: int, told: Mapping[str, Any], now: float
) -> tuple[Change, ...]:
    """Change a booking; returns all that became another, the start that follows its day too."""
    given = {key: value for key, value in told.items() if key != "ref"}
    old = _booking(conn, booking_id)
    bookings.change_booking(conn, booking_id, given, now)
    new = _booking(conn, booking_id)
    return changes_of(old, {key: getattr(new, key) for key in (*bookings.DETAILS, "state")})


def _booking(conn: Connection, booking_id: int) -> Any:
    return conn.execute(sa.select(table).where(table.c.id == booking_id)).one()


def _tell(
    conn: Connection, booking_id: int, done: Sequence[Change], what: Any, who: str, now: float
) -> None:
    note_event(conn, who, what, now, booking_id)
    for change in done:
        note_event(conn, who, change.told(), now, booking_id)


def take_back(conn: Connection, number: int, *, who: str, now: float) -> list[str]:
    """Put everything back as it was before an import.

    Returns the references of bookings of which something was changed, or sent, after the import:
    that stays, the rest goes back.
    """
    stay: list[str] = []
    for row in conn.execute(_rows(number)).all():
        if row.booking_id is None or row.before is None:
            continue
        here = _booking(conn, row.booking_id)
        if row.before == "":
            if here.changed_at > here.created_at or bookings.current_routes(conn, here.id):
                stay.append(here.ref)
            else:
                forget_booking(conn, here.id)
            continue
        done = [
            Change(field=key, before=old, after=new) for key, old, new in json.loads(row.before)
        ]
        back = {c.field: c.before for c in done if getattr(here, c.field) == c.after}
        if len(back) < len(done):
            stay.append(here.ref)
        if back:
            changed = _change(conn, here.id, back, now)
            _tell(conn, here.id, changed, message("an import was taken back"), who, now)
    conn.execute(imports.update().where(imports.c.id == number).values(state=Stage.BACK.value))
    return stay
