"""What staff delete is kept until the day ends, so that one press brings it back.

It leaves its tables at once, so that no page, report or search finds it; when the day ends it is
gone. What a person wants deleted does not come here.
"""

from __future__ import annotations

import base64
import json
from collections.abc import Sequence
from datetime import datetime
from typing import Any

import sqlalchemy as sa
from sqlalchemy.engine import Connection
from sqlalchemy.exc import IntegrityError

from terrain.errors import InputError
from terrain.text.message import Message, message
from terrain.web import schema
from terrain.web.bookings import ask_again, note_event
from terrain.web.database import add_row
from terrain.web.jobs import add_job
from terrain.web.stored import event_message, stored_event
from terrain.web.work import pack, unpack

_BYTES = "bytes"
# Numbers of rows that the tables do not know as such.
_ALSO = {("reports", "job_id"): "jobs"}
_JUDGED_BY = ("rulings", "rider_rulings", "pins")


def put_aside(
    conn: Connection, table: sa.Table, ids: Sequence[Any], what: Message, *, who: str, now: float,
    path: str,
) -> int:  # fmt: skip
    """Keep rows with all that belongs to them; the caller deletes them.

    Returns the number to take them back by, 0 if there is nothing.
    ids : of the table's key; path : of the page where they stood
    """
    tidy_undo(conn, now)
    kept = {name: [_plain(row) for row in rows] for name, rows in _with_theirs(conn, table, ids)}
    if not kept:
        return 0
    body = pack(json.dumps(kept, ensure_ascii=False).encode())
    number: int = add_row(
        conn, schema.deleted, at=now, who=who[:80], what=stored_event(what), path=path, body=body
    )
    return number


def _with_theirs(
    conn: Connection, table: sa.Table, ids: Sequence[Any]
) -> list[tuple[str, Sequence[Any]]]:
    """The rows, then those of other tables that would be deleted with them."""
    key = next(iter(table.primary_key.columns))
    found = {table.name: conn.execute(sa.select(table).where(key.in_(list(ids)))).all()}
    for other in schema.metadata.sorted_tables:
        if other is table:
            continue
        mine = [
            fk.parent.in_([getattr(row, fk.column.name) for row in found[fk.column.table.name]])
            for fk in other.foreign_keys
            if fk.column.table.name in found
        ]
        if mine:
            found[other.name] = conn.execute(sa.select(other).where(sa.or_(*mine))).all()
    return [(name, rows) for name, rows in found.items() if rows]


def _plain(row: Any) -> dict[str, Any]:
    return {
        key: {_BYTES: base64.b64encode(value).decode()}
        if isinstance(value, bytes | memoryview)
        else value
        for key, value in row._mapping.items()
    }


def deleted_today(conn: Connection, now: float) -> Sequence[Any]:
    """What can be taken back, the last first, without what it holds."""
    table = schema.deleted
    query = sa.select(table.c.id, table.c.at, table.c.who, table.c.what, table.c.path)
    return conn.execute(
        query.where(table.c.at >= day_start(now)).order_by(table.c.id.desc()).limit(200)
    ).all()


def deleted_as(conn: Connection, number: int, now: float) -> Any:
    """One of them, or None."""
    return next((row for row in deleted_today(conn, now) if row.id == number), None)


def take_back(conn: Connection, number: int, *, who: str, now: float) -> str:
    """Put it where it was; returns the path of the page where it stands again.

    Raises InputError if the day is over, it was taken back already, or something new stands there.
    """
    table = schema.deleted
    row = conn.execute(
        sa.select(table).where(table.c.id == number, table.c.at >= day_start(now))
    ).first()
    if row is None:
        raise InputError(
            message("this cannot be taken back any more"), "",
            message("It was taken back already, or its day is over."),
        )  # fmt: skip
    try:
        with conn.begin_nested():
            _put_back(conn, json.loads(unpack(bytes(row.body))), now)
    except IntegrityError as exc:
        raise InputError(
            message("something new stands where this stood"), "",
            message("Rename or remove that, then take this back."),
        ) from exc  # fmt: skip
    conn.execute(table.delete().where(table.c.id == number))
    what = message("taken back: {name}", name=_name(row))
    note_event(conn, who, what, now, _booking_at(conn, row.path))
    return str(row.path)


def _name(row: Any) -> str:
    """What was deleted: of a booking by its reference, a person's name goes with it."""
    names = [str(value) for _, value in event_message(row.what).numbers]
    return _ref_at(row.path) or ", ".join(names)


def _ref_at(path: str) -> str:
    """The reference of the booking whose page it is, "" for another page."""
    return path.removeprefix("/desk/b/").partition("/")[0] if path.startswith("/desk/b/") else ""


def _booking_at(conn: Connection, path: str) -> int | None:
    """The booking whose page it is; its history tells of it."""
    mine = schema.bookings.c.ref == _ref_at(path)
    found = conn.execute(sa.select(schema.bookings.c.id).where(mine))
    return found.scalar()


def _put_back(conn: Connection, kept: dict[str, list[dict[str, Any]]], now: float) -> None:
    """Each row under its own number, or a new one where that was given away meanwhile."""
    new: dict[str, dict[int, int]] = {}
    for table in schema.metadata.sorted_tables:
        links = {fk.parent.name: fk.column.table.name for fk in table.foreign_keys}
        links |= {column: to for (name, column), to in _ALSO.items() if name == table.name}
        for old in kept.get(table.name, ()):
            values = {key: _value(value) for key, value in old.items()}
            for key, to in links.items():
                values[key] = new.get(to, {}).get(values[key], values[key])
            number = values.get("id")
            if number is not None and _taken(conn, table, number):
                del values["id"]
            done = add_row(conn, table, **values)
            if number is not None:
                new.setdefault(table.name, {})[number] = done
            if table.name in _JUDGED_BY and "routes" not in kept:
                add_job(conn, "report", now, route_id=values["route_id"])
            if table.name == "riders" and "bookings" not in kept:
                ask_again(conn, values["booking_id"], now)


def _taken(conn: Connection, table: sa.Table, number: int) -> bool:
    return conn.execute(sa.select(table.c.id).where(table.c.id == number)).first() is not None


def _value(value: Any) -> Any:
    return base64.b64decode(value[_BYTES]) if isinstance(value, dict) else value


def forget_at_once(conn: Connection, number: int, *, who: str, now: float) -> None:
    """Let what was deleted be gone now."""
    row = deleted_as(conn, number, now)
    if row is not None:
        conn.execute(schema.deleted.delete().where(schema.deleted.c.id == number))
        note_event(conn, who, message("deleted for good: {name}", name=_name(row)), now)


def forget_all_of(conn: Connection, ref: str) -> None:
    """Let all that was deleted of a booking be gone now."""
    conn.execute(schema.deleted.delete().where(schema.deleted.c.path == f"/desk/b/{ref}"))


def tidy_undo(conn: Connection, now: float) -> None:
    """Let all that was deleted before today be gone."""
    conn.execute(schema.deleted.delete().where(schema.deleted.c.at < day_start(now)))


def day_start(now: float) -> float:
    """Midnight before, by the clock of the desk's machine."""
    local = datetime.fromtimestamp(now).replace(hour=0, minute=0, second=0, microsecond=0)
    return local.timestamp()
