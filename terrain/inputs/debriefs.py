"""What riders and guides say of ways after the trip, from CSV.

Columns: way_id (of OpenStreetMap); said (paved, gravel, track, shut, or not ridden); who; date
(2026-03-31). Rows that say "not ridden" teach nothing and are left aside.
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from pathlib import Path

from terrain.errors import LearnedError
from terrain.inputs.faults import Fault, WrongError, faults_error
from terrain.inputs.reading import read_most
from terrain.inputs.tables import table_rows, table_text
from terrain.text.message import message
from terrain.values.ground import GroundKind
from terrain.values.learned import Statement

_MAX_BYTES = 8_000_000
_GROUNDS = {kind.value: kind for kind in (GroundKind.PAVED, GroundKind.GRAVEL, GroundKind.TRACK)}
_SHUT = frozenset(("shut", "closed", "barred"))
_NOT_RIDDEN = frozenset(("not ridden", "not-ridden", "not_ridden", "did not ride", ""))
_HEAD = "way_id,said,who,date"


def read_debriefs(path: str | Path) -> tuple[Statement, ...]:
    """The statements in a CSV file.

    Raises LearnedError naming every faulty line with its fix.
    """
    path = Path(path)
    data = read_most(path, _MAX_BYTES, LearnedError)
    if len(data) > _MAX_BYTES:
        raise LearnedError(message("the file is larger than 8 MB"), path.name, message("Split it."))
    return parse_debriefs(data, path.name)


def parse_debriefs(data: bytes, source: str) -> tuple[Statement, ...]:
    """The statements in the bytes of a file; see `read_debriefs`."""
    statements: list[Statement] = []
    faults: list[Fault] = []
    head: list[str] = []
    for row in table_rows(table_text(data), source, LearnedError):
        cells = [cell.strip() for cell in row.cells]
        if not head:
            head = [cell.lower() for cell in cells]
            missing = [key for key in _HEAD.split(",") if key not in head]
            if missing:
                raise LearnedError(
                    message("there is no column {names}", names=", ".join(missing)),
                    message("{file}, line {line}", file=source, line=str(row.line)),
                    message("Start with: {head}", head=_HEAD),
                )
            continue
        try:
            found = _statement(dict(zip(head, cells, strict=False)))
        except WrongError as exc:
            faults.append(Fault(line=row.line, what=exc.what, fix=exc.fix))
            continue
        if found is not None:
            statements.append(found)
    if not head:
        raise LearnedError(
            message("the file is empty"), source, message("Start with: {head}", head=_HEAD)
        )
    if faults:
        raise faults_error(faults, LearnedError, source)
    return tuple(statements)


def _statement(row: Mapping[str, str]) -> Statement | None:
    said = row.get("said", "").lower()
    if said in _NOT_RIDDEN:
        return None
    way, who = row.get("way_id", "").removeprefix("way/"), row.get("who", "")[:100]
    text = row.get("date", "")
    try:
        day = date.fromisoformat(text[:10])
    except ValueError:
        fix = message("Write year-month-day, as in 2026-03-31.")
        raise WrongError(message("date {text} is not a date", text=repr(text)), fix) from None
    if not (way.isascii() and way.isdigit() and 0 < int(way) < 2**62):
        raise WrongError(
            message("way_id {way} is not the number of a way", way=repr(way)),
            message("Copy it from the map."),
        )
    if not who:
        raise WrongError(message("who said so is missing"))
    if said not in _GROUNDS and said not in _SHUT:
        raise WrongError(
            message("{word} is not paved, gravel, track, shut or not ridden", word=repr(said))
        )
    return Statement(
        way_id=int(way), who=who, day=day, ground=_GROUNDS.get(said), shut=said in _SHUT
    )
