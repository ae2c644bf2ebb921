"""Bookings as a CSV table, in and out."""

from __future__ import annotations

import csv
import io
from collections.abc import Sequence
from dataclasses import replace
from typing import Any

import sqlalchemy as sa
from sqlalchemy.engine import Connection

from terrain.errors import InputError
from terrain.inputs.faults import Fault
from terrain.text.catalogue import N_
from terrain.text.message import Message, message, term
from terrain.text.plain import csv_table, one_line
from terrain.text.terms import DETAIL_TERMS
from terrain.web import bookings, schema
from terrain.web.bookings import State
from terrain.web.details import BookingRows, Details, checked_booking
from terrain.web.party import check_number, riders_by_booking
from terrain.web.summary import Told
from terrain.web.trips import RIDER_COLUMNS

COLUMNS = ("ref", "customer", "email", "starts_on", "ends_on", "wanted", "state", "depart", "rider",
           "riding", "wants", "pillion", "guided", "luggage", "lang", "remark")  # fmt: skip
# What the report says, by the name of its column: for reading, never taken in.
_TOLD = {"verdict": "verdict", "advised": "bike", "mismatch": "mismatch"}
_STATE = N_("State")
_MOST_ROWS = 5000
_MOST_FAULTS = 10
_ALIASES = {"reference": "ref", "name": "customer", "mail": "email", "e-mail": "email",
            "bike": "wanted", "from": "starts_on", "to": "ends_on"}  # fmt: skip


def bookings_csv(conn: Connection) -> bytes:
    """All bookings with their verdicts; no cell is taken for a formula."""
    rows = conn.execute(sa.select(schema.bookings).order_by(schema.bookings.c.id)).all()
    lines: list[list[object]] = [[*COLUMNS, *_TOLD]]
    for at in range(0, len(rows), 500):
        part = rows[at : at + 500]
        ids = [row.id for row in part]
        told, further = bookings.standings(conn, ids), riders_by_booking(conn, ids)
        for row in part:
            first = next((x.summary for x in told[row.id] if x.summary), Told())
            cells = [getattr(row, key) for key in COLUMNS] + [
                getattr(first, key) for key in _TOLD.values()
            ]
            lines.append([_cell(cell) for cell in cells])
            for rider in further[row.id]:
                own = {"ref": row.ref, **rider.columns()}
                lines.append([_cell(own.get(key)) for key in (*COLUMNS, *_TOLD)])
    return csv_table(lines).encode("utf-8-sig")


def _cell(value: Any) -> object:
    return ("yes" if value else "no") if isinstance(value, bool) else value


def read_bookings_csv(data: bytes) -> list[BookingRows]:
    """The bookings in a table with a head; only columns we know are read, no empty cell is.

    Further rows of a reference are its `riders`, each with a name and the columns of a rider.
    Raises InputError with the line of every fault, up to ten.
    """
    if b"\0" in data[:4096]:
        raise InputError(
            message("this is no CSV table"), "", message("Save the table as CSV, and send that.")
        )
    reader = _reader(data)
    rows: dict[str, BookingRows] = {}
    faults: list[Message] = []
    try:
        head = _head(next(reader, []))
        if "ref" not in head:
            raise InputError(
                message("the first line names no column ref"),
                message("line 1"),
                message("Columns: {names}.", names=", ".join(COLUMNS)),
            )
        for cells in reader:
            if any(cell.strip() for cell in cells):
                _take(dict(zip(head, cells, strict=False)), reader.line_num, rows, faults)
            if len(rows) > _MOST_ROWS:
                raise InputError(
                    message("the table holds more than {n} bookings", n=str(_MOST_ROWS)),
                    "",
                    message("Split it."),
                )
    except csv.Error as exc:
        raise InputError(
            message("this is no CSV ({reason})", reason=str(exc)),
            message("line {line}", line=str(reader.line_num)),
            "",
        ) from exc
    if faults:
        left = len(faults) - _MOST_FAULTS
        shown = faults[:_MOST_FAULTS]
        if left > 0:
            shown.append(message("And {n} more.", n=str(left)))
        listed = message("")
        for fault in shown:
            listed = message("{first}\n{then}", first=listed, then=fault)
        raise InputError(message("the table has faults"), "", listed)
    for ref, told in rows.items():
        check_number(told.riders, ref)
    return list(rows.values())


def columns_aside(data: bytes) -> tuple[str, ...]:
    """The columns of a table that are not taken in, as its first line names them."""
    cells: list[str] = next(_reader(data), [])
    known = (*COLUMNS, *_TOLD)
    pairs = zip(cells, _head(cells), strict=True)
    return tuple(one_line(cell, 40) for cell, name in pairs if name and name not in known)


def _reader(data: bytes) -> Any:
    """The rows of a table, by whichever sign its first line parts them."""
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError:
        # Spreadsheets still write the machine's own Western character set.
        text = data.decode("cp1252", errors="replace")
    first = text.partition("\n")[0]
    return csv.reader(io.StringIO(text, newline=""), delimiter=max(",;\t", key=first.count))


def _head(cells: Sequence[str]) -> list[str]:
    names = [cell.strip().lower() for cell in cells]
    return [_ALIASES.get(name, name) for name in names]


def _take(
    cells: dict[str, str], line: int, rows: dict[str, BookingRows], faults: list[Message]
) -> None:
    # Our own export marks texts that look like formulas; the mark comes off again.
    plain = {k: v.strip().removeprefix("'") if v.startswith("'") else v.strip()
             for k, v in cells.items() if k in COLUMNS}  # fmt: skip
    plain = {key: text for key, text in plain.items() if text or key == "ref"}
    titles = {state.words: state.value for state in State}
    if "state" in plain:
        plain["state"] = titles.get(plain["state"].lower(), plain["state"])
    for key in ("state", "rider", "riding", "wants", "luggage", "lang"):
        if key in plain:
            plain[key] = plain[key].lower()
    try:
        told = checked_booking(plain)
    except InputError as exc:
        text = Fault(what=exc.what, fix=exc.fix).told
        faults.append(
            message("Line {line}, {field}: {text}", line=str(line), field=exc.where, text=text)
        )
        return
    ref = told.ref or ""
    first = rows.get(ref)
    rows[ref] = BookingRows(own=told) if first is None else _with_rider(first, told, line, faults)


def _with_rider(first: BookingRows, told: Details, line: int, faults: list[Message]) -> BookingRows:
    """With a further row of the reference: one more rider of its booking."""
    if not told.customer:
        faults.append(
            message(
                "Line {line}: a further rider of {ref} has no name.", line=str(line),
                ref=told.ref or "",
            )
        )  # fmt: skip
    columns, booked = told.columns(), first.own.columns()
    for key, value in columns.items():
        if key not in RIDER_COLUMNS and value != booked.get(key):
            faults.append(
                message(
                    "Line {line}, {field}: it is of the whole booking, and the first row of {ref} "
                    "says otherwise.",
                    line=str(line), field=term(DETAIL_TERMS.get(key, _STATE)), ref=told.ref or "",
                )
            )  # fmt: skip
    of_rider: dict[str, Any] = {key: columns[key] for key in RIDER_COLUMNS if key in columns}
    return replace(first, riders=(*first.riders, Details(**of_rider)))
