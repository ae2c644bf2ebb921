"""A table of bookings taken in: first what it would change, then the change, then back again.

The table is kept for a day until somebody takes it in, and for a week so that it can be taken
back; with a booking goes what imports hold of it.
"""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import dataclass, replace
from enum import StrEnum
from typing import Any

import sqlalchemy as sa
from sqlalchemy.engine import Connection

from terrain.errors import InputError
from terrain.text.message import message
from terrain.text.translator import Translator
from terrain.web import bookings
from terrain.web.bookings import note_event
from terrain.web.changes import Change, changes_of, rider_changes
from terrain.web.database import add_row, change_rows
from terrain.web.details import BookingRows, Details, in_order, kept_rows
from terrain.web.keys import digest
from terrain.web.party import (
    change_riders,
    check_number,
    joined_by,
    keep_riders,
    riders_by_booking,
    riders_of,
)
from terrain.web.retention import forget_booking
from terrain.web.schema import bookings as table
from terrain.web.schema import import_rows, imports
from terrain.web.trips import OneRider

_RIDERS = "riders"
KEEP_SHOWN_S, KEEP_DONE_S = 86_400.0, 7 * 86_400.0


class Stage(StrEnum):
    """How far an import has come."""

    SHOWN = "shown"
    DONE = "done"
    BACK = "back"


@dataclass(frozen=True, slots=True, kw_only=True)
class RowPlan:
    """What one line of the table would do.

    own : what it tells of the booking, the reference too
    booking : the row of the booking that is there, None for a new one
    riders : the further riders there would be
    changes : none for a booking that stays as it was; a new one's are its details
    """

    ref: str
    own: Details
    booking: Any
    riders: tuple[OneRider, ...]
    changes: tuple[Change, ...]

    @property
    def is_new(self) -> bool:
        return self.booking is None

    def told(self, translator: Translator) -> str:
        """Its details in a row."""
        return translator.in_a_row(
            translator._("{name}: {what}", name=c.about(translator), what=c.becomes(translator))
            for c in self.changes
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Done:
    """What an import did. links : reference and secret of each new booking"""

    links: tuple[tuple[str, str], ...]
    changed: int


def keep_table(conn: Connection, rows: Sequence[BookingRows], who: str, now: float) -> int:
    """Keep a checked table to be looked at; returns the import's number."""
    old = sa.or_(
        sa.and_(imports.c.state == Stage.SHOWN.value, imports.c.made_at < now - KEEP_SHOWN_S),
        imports.c.made_at < now - KEEP_DONE_S,
    )
    conn.execute(imports.delete().where(old))
    number: int = add_row(conn, imports, who=who, made_at=now, state=Stage.SHOWN.value)
    conn.execute(
        import_rows.insert(),
        [{"import_id": number, "ref": told.own.ref, "told": json.dumps(told.columns())}
         for told in rows],
    )  # fmt: skip
    return number


def plan_of(conn: Connection, number: int) -> list[RowPlan]:
    """What the table would do to the bookings as they are now, line by line.

    Raises InputError if a trip would end before it starts, or riders are too many or out of order.
    """
    kept = conn.execute(_rows(number)).all()
    there = {
        row.ref: row
        for at in range(0, len(kept), 500)
        for row in conn.execute(
            sa.select(table).where(table.c.ref.in_([row.ref for row in kept[at : at + 500]]))
        )
    }
    ridden = riders_by_booking(conn, [row.id for row in there.values()])
    plans = []
    for row in kept:
        told, old = kept_rows(json.loads(row.told)), there.get(row.ref)
        if old is None:
            changes = tuple(
                Change(field=key, before="", after=value)
                for key, value in replace(told.own, ref=None).columns().items()
            )
        else:
            changes = changes_of(old, told.own)
            _check_dates(old, told.own)
        further = () if old is None else ridden[old.id]
        _check_order(old, told, further)
        riders = joined_by(further, told.riders)
        check_number(riders, row.ref)
        plans.append(
            RowPlan(
                ref=row.ref, own=told.own, booking=old, riders=riders,
                changes=(*changes, *rider_changes(further, riders)),
            )
        )  # fmt: skip
    return plans


def _check_order(old: Any, told: BookingRows, further: Sequence[OneRider]) -> None:
    """Whoever booked keeps the first row: in another one's he would take that one's name."""
    name = told.own.customer or ""
    if old is None or name.casefold() in ("", old.customer.casefold()):
        return
    named = {rider.customer.casefold() for rider in further}
    again = {(row.customer or "").casefold() for row in told.riders}
    if name.casefold() in named or old.customer.casefold() in again:
        raise InputError(
            message("{name} stands in the first row, but did not book", name=name), old.ref,
            message("Begin its rows with who booked: {name}.", name=old.customer or "–"),
        )  # fmt: skip


def _rows(number: int) -> sa.Select[Any]:
    return (
        sa.select(import_rows).where(import_rows.c.import_id == number).order_by(import_rows.c.id)
    )


def _check_dates(old: Any, told: Details) -> None:
    first = old.starts_on if told.starts_on is None else told.starts_on
    last = old.ends_on if told.ends_on is None else told.ends_on
    try:
        in_order(first, last)
    except InputError as exc:
        raise InputError(exc.what, old.ref, exc.fix) from exc


def mark_of(plans: Sequence[RowPlan]) -> str:
    """A short text that is another one if the table would do something else."""
    told = [
        [plan.ref, plan.is_new, [[c.whose, c.field, c.before, c.after] for c in plan.changes]]
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
                conn, plan.own, now, lang=lang, units=units
            )
            keep_riders(conn, booking_id, plan.riders)
            links.append((ref, link))
            change_rows(conn, import_rows, mine, booking_id=booking_id, before="")
            note_event(conn, who, message("booking imported"), now, booking_id)
        elif plan.changes:
            changed += 1
            kept = riders_of(conn, plan.booking.id)
            done = _change(conn, plan.booking.id, plan.own, now)
            before: list[list[Any]] = [[c.field, c.before, c.after] for c in done]
            if plan.riders != kept:
                before.append([_RIDERS, _columns(kept), _columns(plan.riders)])
            change_rows(
                conn, import_rows, mine, booking_id=plan.booking.id, before=json.dumps(before)
            )
            _tell(conn, plan.booking.id, done, message("changed by an import"), who, now)
            change_riders(conn, plan.booking, plan.riders, who=who, now=now)
    change_rows(conn, imports, imports.c.id == number, state=Stage.DONE.value)
    return Done(links=tuple(links), changed=changed)


def _change(conn: Connection, booking_id: int, told: Details, now: float) -> tuple[Change, ...]:
    """Change a booking; returns all that became another, the start that follows its day too."""
    old = _booking(conn, booking_id)
    bookings.change_booking(conn, booking_id, told, now)
    new = _booking(conn, booking_id)
    columns = {key: getattr(new, key) for key in (*bookings.DETAILS, "state")}
    return changes_of(old, Details(**columns))


def _columns(riders: Sequence[OneRider]) -> list[dict[str, Any]]:
    return [rider.columns() for rider in riders]


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
            imported = joined_by((), kept_rows(json.loads(row.told)).riders)
            if (
                here.changed_at > here.created_at
                or bookings.current_routes(conn, here.id)
                or riders_of(conn, here.id) != imported
            ):
                stay.append(here.ref)
            else:
                forget_booking(conn, here.id)
            continue
        held = {key: getattr(here, key, None) for key in (*bookings.DETAILS, "state")}
        held[_RIDERS] = _columns(riders_of(conn, here.id))
        done = json.loads(row.before)
        back = {key: old for key, old, new in done if held[key] == new}
        if len(back) < len(done):
            stay.append(here.ref)
        ridden = back.pop(_RIDERS, held[_RIDERS])
        if back or ridden != held[_RIDERS]:
            changed = _change(conn, here.id, Details(**back), now)
            _tell(conn, here.id, changed, message("an import was taken back"), who, now)
            riders = [OneRider.model_validate(columns) for columns in ridden]
            change_riders(conn, here, riders, who=who, now=now)
    change_rows(conn, imports, imports.c.id == number, state=Stage.BACK.value)
    return stay
