"""Bookings as a CSV table, in and out."""

from __future__ import annotations

import csv
import io
from collections.abc import Callable
from typing import Any

import sqlalchemy as sa
from sqlalchemy.engine import Connection

from terrain.errors import InputError
from terrain.text.plain import csv_cell
from terrain.web import bookings, schema
from terrain.web.bookings import State

COLUMNS = ("ref", "customer", "email", "starts_on", "ends_on", "wanted", "state", "depart", "rider",
           "pillion", "guided", "luggage", "lang", "remark")  # fmt: skip
# What the report says, by the name of its column: for reading, never taken in.
_TOLD = {"verdict": "verdict", "advised": "bike", "mismatch": "mismatch"}
_MOST_ROWS = 5000
_MOST_FAULTS = 10
_ALIASES = {"reference": "ref", "name": "customer", "mail": "email", "e-mail": "email",
            "bike": "wanted", "from": "starts_on", "to": "ends_on"}  # fmt: skip


def bookings_csv(conn: Connection) -> bytes:
    """All bookings with their verdicts; no cell is taken for a formula."""
    rows = conn.execute(sa.select(schema.bookings).order_by(schema.bookings.c.id)).all()
    out = io.StringIO(newline="")
    writer = csv.writer(out)
    writer.writerow((*COLUMNS, *_TOLD))
    for at in range(0, len(rows), 500):
        part = rows[at : at + 500]
        told = bookings.standings(conn, [row.id for row in part])
        for row in part:
            first = next((x.summary for x in told[row.id] if x.summary), None) or {}
            cells = [getattr(row, key) for key in COLUMNS] + [
                first.get(key, "") for key in _TOLD.values()
            ]
            for key in ("pillion", "guided"):
                cells[COLUMNS.index(key)] = "yes" if getattr(row, key) else "no"
            writer.writerow([csv_cell(cell) for cell in cells])
    return out.getvalue().encode("utf-8-sig")


def read_bookings_csv(data: bytes, say: Callable[[str], str] = str) -> list[dict[str, Any]]:
    """The bookings in a table with a head; only columns we know are read.

    say : tells a fault in the reader's language
    Raises InputError with the line of every fault, up to ten.
    """
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError:
        # Spreadsheets still write the machine's own Western character set.
        text = data.decode("cp1252", errors="replace")
    first = text.partition("\n")[0]
    delimiter = max(",;\t", key=first.count)
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter)
    rows: list[dict[str, Any]] = []
    faults: list[str] = []
    seen: set[str] = set()
    try:
        head = [
            _ALIASES.get(cell.strip().lower(), cell.strip().lower()) for cell in next(reader, [])
        ]
        if "ref" not in head:
            raise InputError(
                "the first line names no column ref", "line 1", f"Columns: {', '.join(COLUMNS)}."
            )
        for cells in reader:
            if any(cell.strip() for cell in cells):
                _take(
                    dict(zip(head, cells, strict=False)), reader.line_num, rows, faults, seen, say
                )
            if len(rows) > _MOST_ROWS:
                raise InputError(
                    f"the table holds more than {_MOST_ROWS} bookings", "", "Split it."
                )
    except csv.Error as exc:
        raise InputError(f"this is no CSV ({exc})", f"line {reader.line_num}", "") from exc
    if faults:
        left = len(faults) - _MOST_FAULTS
        more = [say(f"And {left} more") + "."] if left > 0 else []
        raise InputError("the table has faults", "", "\n".join(["", *faults[:_MOST_FAULTS], *more]))
    return rows


def _take(
    cells: dict[str, str], line: int, rows: list[dict[str, Any]], faults: list[str],
    seen: set[str], say: Callable[[str], str],
) -> None:  # fmt: skip
    # Our own export marks texts that look like formulas; the mark comes off again.
    plain = {k: v.strip().removeprefix("'") if v.startswith("'") else v.strip()
             for k, v in cells.items() if k in COLUMNS}  # fmt: skip
    titles = {state.words: state.value for state in State}
    plain["state"] = titles.get(plain.get("state", "").lower(), plain.get("state", "").lower())
    for key in ("rider", "luggage", "lang"):
        if key in plain:
            plain[key] = plain[key].lower()
    try:
        told = bookings.checked_booking(plain)
    except InputError as exc:
        faults.append(_upper(f"{say(f'line {line}')}, {exc.where}: {say(exc.what)}."))
        return
    if told["ref"] in seen:
        faults.append(_upper(say(f"line {line}: {told['ref']} stands twice") + "."))
    seen.add(told["ref"])
    rows.append(told)


def _upper(text: str) -> str:
    return text[:1].upper() + text[1:]
