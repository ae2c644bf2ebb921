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
from terrain.web.bookings import checked_booking
from terrain.web.keys import digest
from terrain.web.schema import riders

MOST = 12  # riders beside the first
#: What is asked of each rider, as the booking's own columns are named.
COLUMNS = ("customer", "email", "wanted", "rider", "riding", "luggage", "pillion")
_SPARE = 2  # empty rows in the form
_SIDE = [riders.c[key] for key in COLUMNS]


def riders_of(conn: Connection, booking_id: int) -> list[dict[str, Any]]:
    """The further riders in their order, by the names of a booking's columns."""
    query = sa.select(*_SIDE).where(riders.c.booking_id == booking_id).order_by(riders.c.place)
    return [dict(row._mapping) for row in conn.execute(query)]


def mark_of_riders(rows: Sequence[Mapping[str, Any]]) -> str:
    """A short text that changes whenever one of them does."""
    return digest(json.dumps([dict(row) for row in rows]))[:16]


def form_rows(rows: Sequence[Mapping[str, Any]]) -> list[dict[str, Any]]:
    """The riders with empty rows below for more."""
    empty = {"customer": "", "email": "", "wanted": "", "rider": "steady", "riding": "",
             "luggage": "soft", "pillion": False}  # fmt: skip
    more = max(0, min(_SPARE, MOST - len(rows)))
    return [*(dict(row) for row in rows), *(dict(empty) for _ in range(more))]


def typed_rows(texts: Mapping[str, str]) -> list[dict[str, Any]]:
    """The riders as a form has them, also those without a name."""
    found = []
    for n in range(MOST + _SPARE):
        row: dict[str, Any] = {key: texts.get(f"{key}.{n}", "") for key in COLUMNS}
        if f"customer.{n}" in texts:
            found.append({**row, "pillion": bool(row["pillion"])})
    return found


def checked_riders(rows: Sequence[Mapping[str, Any]]) -> list[dict[str, Any]]:
    """The columns of those with a name. Raises InputError naming the rider."""
    found = []
    for row in rows:
        if not str(row["customer"]).strip():
            continue
        try:
            told = checked_booking({**row, "pillion": "yes" if row["pillion"] else ""})
        except InputError as exc:
            raise InputError(exc.what, str(row["customer"])[:60], exc.fix) from exc
        found.append({"riding": "", "rider": "steady", "luggage": "soft", **told})
    if len(found) > MOST:
        raise InputError(
            message("a booking takes {n} riders", n=str(MOST + 1)), "",
            message("Make a second booking for the others."),
        )  # fmt: skip
    return found


def keep_riders(conn: Connection, booking_id: int, rows: Sequence[Mapping[str, Any]]) -> None:
    """Put these riders in place of those before."""
    conn.execute(riders.delete().where(riders.c.booking_id == booking_id))
    if rows:
        conn.execute(
            riders.insert(),
            [{"booking_id": booking_id, "place": n, **row} for n, row in enumerate(rows, 2)],
        )


def numbered(name: str, rider: int) -> str:
    """The name of a report's file for one rider of a group: "staff2.html"; 1 has the plain one."""
    stem, dot, kind = name.partition(".")
    return name if rider < 2 else f"{stem}{rider}{dot}{kind}"


def as_rider(booking: Any, further: Sequence[Mapping[str, Any]], rider: int) -> Any:
    """The booking with the details of one of its riders in place of the first one's."""
    own = further[rider - 2] if 2 <= rider < len(further) + 2 else {}
    return SimpleNamespace(**{**booking._mapping, **own})
