"""The operator's rental log (CSV): read and checked, all faults at once.

Columns, in any order; only class and incident must be there:

    class,incident,days,km,ground,rider,date,setup,heat,failed
    light-trail,yes,3,410,track,steady,2027-01-12,off-road,34,chain

As spreadsheets write it: commas, semicolons or tabs, decimal commas, UTF-8, UTF-16 or the Western
character set. Columns of other names are left alone and told.
"""

from __future__ import annotations

import csv
import difflib
import io
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from terrain.errors import FleetError
from terrain.inputs.reading import read_most
from terrain.inputs.rentals.cells import (
    day_order,
    read_amount,
    read_class,
    read_date,
    read_ground,
    read_heat,
    read_incident,
    read_km,
    read_part,
    read_rider,
    read_setup,
)
from terrain.text.message import message
from terrain.values.rentals import Rental

_MAX_BYTES = 20_000_000
_COLUMNS = (
    "class", "incident", "days", "km", "ground", "rider", "date", "setup", "heat", "failed",
)  # fmt: skip
_NEEDED = ("class", "incident")
# What other tables call them.
_ALIASES = {
    "bike": "class", "bike class": "class", "bike_class": "class", "incidents": "incident",
    "breakdown": "incident", "day": "days", "kilometres": "km", "kilometers": "km",
    "distance_km": "km", "surface": "ground", "terrain": "ground", "level": "rider",
    "start": "date", "start_date": "date", "start date": "date", "temp_c": "heat",
    "max_temp_c": "heat", "temperature": "heat", "tyres": "setup", "part": "failed",
    "broke": "failed",
}  # fmt: skip
_MOST_FAULTS = 30
_MOST_LINES = 5  # lines told of the same fault
_BINARY = ((b"PK\x03\x04", "a spreadsheet file"), (b"\xd0\xcf\x11\xe0", "an old spreadsheet file"),
           (b"%PDF", "a PDF"))  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class RentalLog:
    """What a log holds. unread : columns that were left alone."""

    rentals: tuple[Rental, ...]
    unread: tuple[str, ...]


def read_log(path: str | Path, classes: Sequence[str] = ()) -> RentalLog:
    """The log in a file.

    classes : names and titles of the fleet's classes; a class that is nearly one of them is
        taken for a slip of the pen
    Raises FleetError with all its faults, each with line and fix.
    """
    path = Path(path)
    data = read_most(path, _MAX_BYTES, FleetError)
    if len(data) > _MAX_BYTES:
        raise FleetError(
            message("the file is too big for a rental log"), path.name, message("Send it in parts.")
        )
    for start, what in _BINARY:
        if data.startswith(start):
            raise FleetError(
                message("this is {what}, not a table", what=what),
                path.name,
                message("Save it as CSV first."),
            )
    return parse_log(_text(data), path.name, classes)


def _text(data: bytes) -> str:
    if data.startswith((b"\xff\xfe", b"\xfe\xff")):
        return data.decode("utf-16", errors="replace")
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError:
        # Spreadsheets still write the machine's own Western character set.
        return data.decode("cp1252", errors="replace")


def parse_log(text: str, source: str, classes: Sequence[str] = ()) -> RentalLog:
    """The log in a text; see `read_log`."""
    rows = _rows(text, source)
    if not rows:
        raise FleetError(
            message("the log is empty"),
            source,
            message("Its first line must be {example}.", example=str(_example())),
        )
    head_line, first = rows[0]
    told = [cell.strip() for cell in first]
    head = [_ALIASES.get(cell.lower(), cell.lower()) for cell in told]
    faults = _head_faults(head, head_line)
    rentals: list[Rental] = []
    if not faults:
        cells = _cells(head, rows[1:], faults)
        order = day_order([row.get("date", "") for _, row in cells])
        known = tuple(read_class(name) for name in classes)
        for line, row in cells:
            rental = _rental(row, line, order, known, faults)
            if rental is not None:
                rentals.append(rental)
        if not rentals and not faults:
            faults.append("the log has a head but no rentals; write one rental a line")
    if faults:
        raise _error(faults, source)
    named = zip(told, head, strict=True)
    unread = tuple(name for name, key in named if name and key not in _COLUMNS)
    return RentalLog(rentals=tuple(rentals), unread=unread)


def _rows(text: str, source: str) -> list[tuple[int, list[str]]]:
    """Line number and cells of each line that has any."""
    text = text.removeprefix("\ufeff").replace("\0", "")
    first, _, rest = text.partition("\n")
    skipped = 0
    if first.strip().lower().startswith("sep=") and len(first.strip()) == len("sep=;"):
        delimiter, text, skipped = first.strip()[-1], rest, 1
    else:
        delimiter = max(",;\t", key=first.count)
    try:
        reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter, strict=True)
        return [
            (reader.line_num + skipped, row) for row in reader if any(cell.strip() for cell in row)
        ]
    except csv.Error as exc:
        raise FleetError(
            message("this is not a table ({reason})", reason=str(exc)),
            source,
            message("Save it as CSV again."),
        ) from exc


def _cells(
    head: list[str], rows: Sequence[tuple[int, list[str]]], faults: list[str]
) -> list[tuple[int, dict[str, str]]]:
    """The cells of each line by column; lines with too many or too few are faults."""
    found = []
    for line, row in rows:
        while len(row) > len(head) and not row[-1].strip():
            row = row[:-1]
        if len(row) > len(head):
            faults.append(
                f"line {line}: {len(row)} cells where the head has {len(head)}; put numbers with "
                "a decimal comma in quotes, or save with semicolons"
            )
        elif len(row) < len(head) and any(name in head[len(row) :] for name in _NEEDED):
            faults.append(
                f"line {line}: {len(row)} cells where the head has {len(head)}; fill in "
                f"{', '.join(name for name in head[len(row) :] if name in _NEEDED)}"
            )
        else:
            found.append((line, dict(zip(head, (c.strip() for c in row), strict=False))))
    return found


def _example() -> str:
    return ",".join(_COLUMNS)


def _error(faults: list[str], source: str) -> FleetError:
    if len(faults) == 1:
        return FleetError(
            message("{text}", text=faults[0]),
            source,
            message("Columns: {names}.", names=str(_example())),
        )
    told = _alike_as_one(faults)
    listed = "\n".join(f"  {fault}." for fault in told[:_MOST_FAULTS])
    more = len(told) - _MOST_FAULTS
    listed += f"\n  and {more} more" if more > 0 else ""
    return FleetError(
        message("{faults} faults\n{listed}", faults=str(len(faults)), listed=str(listed)), source
    )


def _alike_as_one(faults: list[str]) -> list[str]:
    """The same fault on many lines is told once, with the first of them."""
    lines: dict[str, list[str]] = {}
    for fault in faults:
        line, _, what = fault.partition(": ")
        lines.setdefault(what, []).append(line.removeprefix("line "))
    told = []
    for what, at in lines.items():
        more = f" and {len(at) - _MOST_LINES} more" if len(at) > _MOST_LINES else ""
        word = "line" if len(at) == 1 else "lines"
        told.append(f"{word} {', '.join(at[:_MOST_LINES])}{more}: {what}")
    return told


def _head_faults(head: list[str], line: int) -> list[str]:
    missing = [name for name in _COLUMNS if name not in head]
    faults = []
    for name in head:
        near = difflib.get_close_matches(name, missing, n=1, cutoff=0.8)
        if name not in _COLUMNS and near:
            faults.append(f"line {line}: there is no column {name!r}; write {near[0]!r}")
            missing.remove(near[0])
    faults += [
        f"line {line}: column {name!r} is missing; the head may be {_example()}"
        for name in _NEEDED
        if name in missing
    ]
    faults += [
        f"line {line}: column {name!r} stands twice; take one of them out"
        for name in _COLUMNS
        if head.count(name) > 1
    ]
    return faults


def _rental(
    row: Mapping[str, str],
    line: int,
    order: str,
    known: Sequence[str],
    faults: list[str],
) -> Rental | None:
    before = len(faults)

    def take(name: str, convert: Callable[[str], Any]) -> Any:
        text = row.get(name, "")
        if not text and name not in _NEEDED:
            return None
        try:
            return convert(text)
        except ValueError as exc:
            faults.append(f"line {line}: {name} {text[:40]!r} {exc}")
            return None

    rental = {
        "bike": take("class", lambda text: _class_of(text, known)),
        "incident": take("incident", read_incident),
        "days": take("days", read_amount),
        "km": take("km", read_km),
        "ground": take("ground", read_ground),
        "rider": take("rider", read_rider),
        "day": take("date", lambda text: read_date(text, order)),
        "setup": take("setup", read_setup),
        "heat_c": take("heat", read_heat),
        "failed": take("failed", read_part),
    }
    return Rental(**rental) if len(faults) == before else None


def _class_of(text: str, known: Sequence[str]) -> str:
    name = read_class(text)
    if not known or name in known:
        return name
    for told in known:
        if told.replace("-", "") == name.replace("-", ""):
            return told
    near = difflib.get_close_matches(name, known, n=1, cutoff=0.8)
    if near:
        raise ValueError(f"is no class of the fleet; write {near[0]!r}")
    return name
