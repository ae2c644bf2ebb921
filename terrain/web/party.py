"""The riders of a booking beside the one who made it."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from types import SimpleNamespace
from typing import Any

import sqlalchemy as sa
from sqlalchemy.engine import Connection

from terrain.errors import InputError
from terrain.text.message import message
from terrain.web.bookings import ask_again, note_event
from terrain.web.changes import rider_changes, same_riders
from terrain.web.database import add_row, change_rows
from terrain.web.details import Details, checked_booking
from terrain.web.keys import digest
from terrain.web.rulings import WHO_BOOKED
from terrain.web.schema import riders
from terrain.web.trips import RIDER_COLUMNS, OneRider
from terrain.web.undo import put_aside

MOST = 12  # riders beside the first
_SPARE = 2  # empty rows in the form
_ORDER = (riders.c.place, riders.c.id)  # one that was fetched back may share a place
_SIDE = [riders.c[key] for key in RIDER_COLUMNS]


def riders_of(conn: Connection, booking_id: int) -> tuple[OneRider, ...]:
    """The further riders in their order."""
    return riders_by_booking(conn, [booking_id])[booking_id]


def riders_by_booking(
    conn: Connection, booking_ids: Sequence[int]
) -> dict[int, tuple[OneRider, ...]]:
    """The further riders of each booking, in their order."""
    found: dict[int, list[OneRider]] = {booking_id: [] for booking_id in booking_ids}
    query = sa.select(riders.c.booking_id, *_SIDE).where(riders.c.booking_id.in_(booking_ids))
    for row in conn.execute(query.order_by(*_ORDER)):
        found[row.booking_id].append(OneRider.model_validate(dict(row._mapping)))
    return {booking_id: tuple(rows) for booking_id, rows in found.items()}


def mark_of_riders(rows: Sequence[OneRider]) -> str:
    """A short text that changes whenever one of them does."""
    return digest(json.dumps([row.columns() for row in rows]))[:16]


def form_rows(rows: Sequence[OneRider]) -> list[OneRider]:
    """The riders with empty rows below for more."""
    return [*rows, *[OneRider()] * max(0, min(_SPARE, MOST - len(rows)))]


def typed_rows(texts: Mapping[str, str]) -> list[dict[str, Any]]:
    """The riders as a form has them, also those without a name."""
    found = []
    for n in range(MOST + _SPARE):
        row: dict[str, Any] = {key: texts.get(f"{key}.{n}", "") for key in RIDER_COLUMNS}
        if f"customer.{n}" in texts:
            found.append({**row, "pillion": bool(row["pillion"])})
    return found


def checked_riders(rows: Sequence[Mapping[str, Any]]) -> tuple[OneRider, ...]:
    """Those with a name, out of texts.

    Raises InputError naming the rider, also if how he rides is left open.
    """
    found = []
    for row in rows:
        if not str(row["customer"]).strip():
            continue
        if not row["rider"]:
            raise InputError(
                message("nobody has said how this rider rides off road"),
                str(row["customer"])[:60], message("Choose it: nothing is taken for granted."),
            )  # fmt: skip
        try:
            told = checked_booking({**row, "pillion": "yes" if row["pillion"] else ""})
        except InputError as exc:
            raise InputError(exc.what, str(row["customer"])[:60], exc.fix) from exc
        found.append(OneRider.model_validate(told.columns()))
    check_number(found)
    return tuple(found)


def check_number(found: Sequence[Any], where: str = "") -> None:
    """Raises InputError if these are too many beside the first. where : what has them"""
    if len(found) > MOST:
        raise InputError(
            message("a booking takes {n} riders", n=str(MOST + 1)), where,
            message("Make a second booking for the others."),
        )  # fmt: skip


def joined_by(kept: Sequence[OneRider], told: Sequence[Details]) -> tuple[OneRider, ...]:
    """The riders with what a table tells of them by name; who and what is not told stays."""
    riders = list(kept)
    pairs = same_riders([rider.customer for rider in kept], [row.customer or "" for row in told])
    for at, row in zip(pairs, told, strict=True):
        if at is None:
            riders.append(OneRider.model_validate(row.columns()))
        else:
            riders[at] = OneRider.model_validate({**kept[at].columns(), **row.columns()})
    return tuple(riders)


def keep_riders(conn: Connection, booking_id: int, rows: Sequence[OneRider]) -> None:
    """Put these riders in place of those before; one who stays keeps what was decided for him."""
    there = _numbered(conn, booking_id)
    here = same_riders([row.customer for row in there], [row.customer for row in rows])
    gone = [row.id for n, row in enumerate(there) if n not in here]
    conn.execute(riders.delete().where(riders.c.id.in_(gone)))
    for place, (at, rider) in enumerate(zip(here, rows, strict=True), 2):
        values = {"place": place, **rider.columns()}
        if at is None:
            add_row(conn, riders, booking_id=booking_id, **values)
        else:
            change_rows(conn, riders, riders.c.id == there[at].id, **values)


def _numbered(conn: Connection, booking_id: int) -> Sequence[Any]:
    mine = sa.select(riders.c.id, riders.c.customer).where(riders.c.booking_id == booking_id)
    return conn.execute(mine.order_by(*_ORDER)).all()


def names_of(conn: Connection, booking_id: int, who_booked: str) -> dict[str, str]:
    """The riders in their order, by whose a decision is: who booked, then each by the number."""
    further = _numbered(conn, booking_id)
    return {WHO_BOOKED: who_booked, **{str(row.id): row.customer for row in further}}


def change_riders(
    conn: Connection, booking: Any, told: Sequence[OneRider], *, who: str, now: float
) -> int:
    """Keep these riders, and have the routes judged for all of them; nothing if they are the same.

    Returns the number under which riders whose name is gone were put aside, 0 if none was.
    """
    kept = riders_of(conn, booking.id)
    if tuple(told) == kept:
        return 0
    gone = _put_off(conn, booking, told, who=who, now=now)
    keep_riders(conn, booking.id, told)
    ask_again(conn, booking.id, now)
    what = message("riders: {was}, now {now}", was=str(len(kept) + 1), now=str(len(told) + 1))
    note_event(conn, who, what, now, booking.id)
    for change in rider_changes(kept, told):
        note_event(conn, who, change.told(), now, booking.id)
    return gone


def _put_off(
    conn: Connection, booking: Any, told: Sequence[OneRider], *, who: str, now: float
) -> int:
    """Put aside the riders whose name is gone; returns their number there, 0 for none."""
    rows = _numbered(conn, booking.id)
    here = same_riders([row.customer for row in rows], [rider.customer for rider in told])
    off = [row for n, row in enumerate(rows) if n not in here]
    if not off:
        return 0
    what = message("taken off: {names}", names=", ".join(row.customer for row in off))
    return put_aside(
        conn, riders, [row.id for row in off], what, who=who, now=now, path=f"/desk/b/{booking.ref}"
    )


def numbered(name: str, rider: int) -> str:
    """The name of a report's file for one rider of a group: "staff2.html"; 1 has the plain one."""
    stem, dot, kind = name.partition(".")
    return name if rider < 2 else f"{stem}{rider}{dot}{kind}"


def as_rider(booking: Any, further: Sequence[OneRider], rider: int) -> Any:
    """The booking with the details of one of its riders in place of the first one's."""
    own = further[rider - 2].columns() if 2 <= rider < len(further) + 2 else {}
    return SimpleNamespace(**{**booking._mapping, **own})
