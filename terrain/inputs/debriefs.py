"""What riders and guides say of ways after the trip, from CSV.

Columns: way_id (of OpenStreetMap); said (paved, gravel, track, shut, or not ridden); who; date
(2026-03-31). Rows that say "not ridden" teach nothing and are left aside.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Mapping
from datetime import date
from pathlib import Path

from terrain.errors import LearnedError
from terrain.inputs.reading import read_most
from terrain.text.message import message
from terrain.values.ground import GroundKind
from terrain.values.learned import Statement

_MAX_BYTES = 8_000_000
_GROUNDS = {kind.value: kind for kind in (GroundKind.PAVED, GroundKind.GRAVEL, GroundKind.TRACK)}
_SHUT = frozenset(("shut", "closed", "barred"))
_NOT_RIDDEN = frozenset(("not ridden", "not-ridden", "not_ridden", "did not ride", ""))
_MOST_FAULTS = 12
_HEAD = "way_id,said,who,date"


def read_debriefs(path: str | Path) -> tuple[Statement, ...]:
    """The statements in a CSV file.

    Raises LearnedError naming every faulty line (up to twelve) with its fix.
    """
    path = Path(path)
    data = read_most(path, _MAX_BYTES, LearnedError)
    if len(data) > _MAX_BYTES:
        raise LearnedError(message("the file is larger than 8 MB"), path.name, message("Split it."))
    return parse_debriefs(data, path.name)


def parse_debriefs(data: bytes, source: str) -> tuple[Statement, ...]:
    """The statements in the bytes of a file; see `read_debriefs`."""
    text = data.decode("utf-8-sig", errors="replace").replace("\0", "")
    first = text.partition("\n")[0]
    rows = csv.reader(io.StringIO(text, newline=""), delimiter=max(",;\t", key=first.count))
    statements: list[Statement] = []
    faults: list[str] = []
    head: list[str] = []
    try:
        for cells in rows:
            if not any(cell.strip() for cell in cells):
                continue
            if not head:
                head = [cell.strip().lower() for cell in cells]
                missing = [key for key in _HEAD.split(",") if key not in head]
                if missing:
                    raise LearnedError(
                        message("there is no column {names}", names=", ".join(missing)),
                        message("{source}, line 1", source=str(source)),
                        message("Start with: {head}", head=str(_HEAD)),
                    )
                continue
            row = dict(zip(head, (cell.strip() for cell in cells), strict=False))
            found = _statement(row, f"line {rows.line_num}", faults)
            if found is not None:
                statements.append(found)
    except csv.Error as exc:
        raise LearnedError(
            message("this is not a table ({reason})", reason=str(exc)),
            source,
            message("Save it as CSV again."),
        ) from exc
    if not head:
        raise LearnedError(
            message("the file is empty"), source, message("Start with: {head}", head=str(_HEAD))
        )
    if faults:
        more = f"\n  And {len(faults) - _MOST_FAULTS} more." if len(faults) > _MOST_FAULTS else ""
        listed = "\n  ".join(faults[:_MOST_FAULTS])
        raise LearnedError(
            message("{faults} lines are wrong", faults=str(len(faults))),
            source,
            message("{text}", text=f"\n  {listed}{more}"),
        )
    return tuple(statements)


def _statement(row: Mapping[str, str], where: str, faults: list[str]) -> Statement | None:
    said = row.get("said", "").lower()
    if said in _NOT_RIDDEN:
        return None
    way, who = row.get("way_id", "").removeprefix("way/"), row.get("who", "")[:100]
    try:
        day = date.fromisoformat(row.get("date", "")[:10])
    except ValueError:
        faults.append(f"{where}: date {row.get('date', '')!r} is not as 2026-03-31")
        return None
    if not (way.isascii() and way.isdigit() and 0 < int(way) < 2**62):
        faults.append(f"{where}: way_id {way!r} is not the number of a way")
    elif not who:
        faults.append(f"{where}: who said so is missing")
    elif said not in _GROUNDS and said not in _SHUT:
        faults.append(f"{where}: {said!r} is not paved, gravel, track, shut or not ridden")
    else:
        return Statement(
            way_id=int(way), who=who, day=day, ground=_GROUNDS.get(said), shut=said in _SHUT
        )
    return None
