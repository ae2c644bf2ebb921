"""The operator's rental log (CSV): read and checked, all faults at once.

Columns, in any order; only class and incident must be there:

    class,incident,days,km,ground,rider,date,setup,heat,failed
    light-trail,yes,3,410,track,steady,2027-01-12,off-road,34,chain

As spreadsheets write it: commas, semicolons or tabs, decimal commas, UTF-8, UTF-16 or the Western
character set. Columns of other names are left alone and told.
"""

from __future__ import annotations

import difflib
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from terrain.errors import FleetError
from terrain.inputs.faults import Fault, WrongError, faults_error
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
from terrain.inputs.tables import TableRow, table_rows, table_text
from terrain.text.catalogue import N_
from terrain.text.message import message, term
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
_EXAMPLE = ",".join(_COLUMNS)
_BINARY = (
    (b"PK\x03\x04", N_("this is a spreadsheet file, not a table")),
    (b"\xd0\xcf\x11\xe0", N_("this is an old spreadsheet file, not a table")),
    (b"%PDF", N_("this is a PDF, not a table")),
)


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
            raise FleetError(term(what), path.name, message("Save it as CSV first."))
    return parse_log(table_text(data), path.name, classes)


def parse_log(text: str, source: str, classes: Sequence[str] = ()) -> RentalLog:
    """The log in a text; see `read_log`."""
    rows = list(table_rows(text, source, FleetError))
    if not rows:
        raise FleetError(
            message("the log is empty"),
            source,
            message("Its first line must be {example}.", example=_EXAMPLE),
        )
    told = [cell.strip() for cell in rows[0].cells]
    head = [_ALIASES.get(cell.lower(), cell.lower()) for cell in told]
    faults = _head_faults(head, rows[0].line)
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
            what = message("the log has a head but no rentals")
            faults.append(Fault(what=what, fix=message("Write one rental a line.")))
    if faults:
        raise faults_error(faults, FleetError, source)
    named = zip(told, head, strict=True)
    unread = tuple(name for name, key in named if name and key not in _COLUMNS)
    return RentalLog(rentals=tuple(rentals), unread=unread)


def _cells(
    head: list[str], rows: Sequence[TableRow], faults: list[Fault]
) -> list[tuple[int, dict[str, str]]]:
    """The cells of each line by column; lines with too many or too few are faults."""
    found = []
    for line, row in ((row.line, row.cells) for row in rows):
        while len(row) > len(head) and not row[-1].strip():
            row = row[:-1]
        what = message("{n} cells where the head has {most}", n=str(len(row)), most=str(len(head)))
        lacking = [name for name in head[len(row) :] if name in _NEEDED]
        if len(row) > len(head):
            fix = message("Put numbers with a decimal comma in quotes, or save with semicolons.")
            faults.append(Fault(line=line, what=what, fix=fix))
        elif lacking:
            fix = message("Fill in {names}.", names=", ".join(lacking))
            faults.append(Fault(line=line, what=what, fix=fix))
        else:
            found.append((line, dict(zip(head, (c.strip() for c in row), strict=False))))
    return found


def _head_faults(head: list[str], line: int) -> list[Fault]:
    missing = [name for name in _COLUMNS if name not in head]
    example = message("The head may be {example}.", example=_EXAMPLE)
    faults = []
    for name in head:
        near = difflib.get_close_matches(name, missing, n=1, cutoff=0.8)
        if name not in _COLUMNS and near:
            what = message("there is no column {name}", name=repr(name))
            fix = message("Write {name}.", name=repr(near[0]))
            faults.append(Fault(line=line, what=what, fix=fix))
            missing.remove(near[0])
    for name in _NEEDED:
        if name in missing:
            what = message("column {name} is missing", name=repr(name))
            faults.append(Fault(line=line, what=what, fix=example))
    for name in _COLUMNS:
        if head.count(name) > 1:
            what = message("column {name} stands twice", name=repr(name))
            faults.append(Fault(line=line, what=what, fix=message("Take one of them out.")))
    return faults


def _rental(
    row: Mapping[str, str],
    line: int,
    order: str,
    known: Sequence[str],
    faults: list[Fault],
) -> Rental | None:
    before = len(faults)

    def take(name: str, convert: Callable[[str], Any]) -> Any:
        text = row.get(name, "")
        if not text and name not in _NEEDED:
            return None
        try:
            return convert(text)
        except WrongError as exc:
            what = message("{key} {value} {fault}", key=name, value=repr(text[:40]), fault=exc.what)
            faults.append(Fault(line=line, what=what, fix=exc.fix))
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
        fix = message("Write {name}.", name=repr(near[0]))
        raise WrongError(message("is no class of the fleet"), fix)
    return name
