"""The operator's rental log (CSV): read and checked, all faults at once.

Columns, in any order; only class and incident must be there:

    class,incident,days,km,ground,rider,date
    light-trail,no,3,410,track,steady,2027-01-12
"""

from __future__ import annotations

import csv
import difflib
import io
from collections.abc import Callable, Mapping
from datetime import date
from pathlib import Path
from typing import Any

from terrain.errors import FleetError
from terrain.values.rentals import Rental
from terrain.values.trip import Rider

_MAX_BYTES = 20_000_000
_COLUMNS = ("class", "incident", "days", "km", "ground", "rider", "date")
_NEEDED = ("class", "incident")
_GROUNDS = ("paved", "gravel", "track", "mixed")
_YES = frozenset(("yes", "y", "true", "1", "x"))
_NO = frozenset(("no", "n", "false", "0", ""))
_MOST_FAULTS = 30


def read_rentals(path: str | Path) -> tuple[Rental, ...]:
    """The rentals in a file. Raises FleetError with all its faults."""
    path = Path(path)
    try:
        with path.open("rb") as stream:
            data = stream.read(_MAX_BYTES + 1)
    except FileNotFoundError as exc:
        raise FleetError("there is no such file", str(path), "Check the name.") from exc
    except (OSError, ValueError) as exc:
        reason = getattr(exc, "strerror", None) or str(exc)
        raise FleetError(f"the file cannot be read ({reason})", str(path), "") from exc
    if len(data) > _MAX_BYTES:
        raise FleetError("the file is too big for a rental log", path.name, "Send it in parts.")
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError:
        # Spreadsheets still write the machine's own Western character set.
        text = data.decode("cp1252", errors="replace")
    return parse_rentals(text, path.name)


def parse_rentals(text: str, source: str) -> tuple[Rental, ...]:
    """The rentals in a text. Raises FleetError with all faults, each with line and fix."""
    first = text.split("\n", 1)[0]
    delimiter = max(",;\t", key=first.count)
    try:
        reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter, strict=True)
        rows = [(reader.line_num, row) for row in reader if any(cell.strip() for cell in row)]
    except csv.Error as exc:
        raise FleetError(f"this is not a table ({exc})", source, "Save it as CSV again.") from exc
    if not rows:
        raise FleetError("the log is empty", source, f"Its first line must be {_example()}.")
    head = [cell.strip().lower() for cell in rows[0][1]]
    faults = _head_faults(head)
    rentals: list[Rental] = []
    if not faults:
        for line, row in rows[1:]:
            rental = _rental(dict(zip(head, (c.strip() for c in row), strict=False)), line, faults)
            if rental is not None:
                rentals.append(rental)
        if not rentals and not faults:
            faults.append("the log has a head but no rentals; write one rental a line")
    if faults:
        raise _error(faults, source)
    return tuple(rentals)


def _example() -> str:
    return ",".join(_COLUMNS)


def _error(faults: list[str], source: str) -> FleetError:
    if len(faults) == 1:
        return FleetError(faults[0], source, f"Columns: {_example()}.")
    listed = "\n".join(f"  {fault}." for fault in faults[:_MOST_FAULTS])
    more = len(faults) - _MOST_FAULTS
    listed += f"\n  and {more} more" if more > 0 else ""
    return FleetError(f"{len(faults)} faults\n{listed}", source)


def _head_faults(head: list[str]) -> list[str]:
    faults = [
        f"line 1: there is no column {name!r}; {_near(name)}"
        for name in head
        if name not in _COLUMNS
    ]
    faults += [f"line 1: column {name!r} is missing" for name in _NEEDED if name not in head]
    faults += [
        f"line 1: column {name!r} stands twice"
        for name in sorted(set(head))
        if head.count(name) > 1
    ]
    return faults


def _near(name: str) -> str:
    near = difflib.get_close_matches(name, _COLUMNS, n=1)
    return f"write {near[0]!r}" if near else f"columns are {_example()}"


def _rental(row: Mapping[str, str], line: int, faults: list[str]) -> Rental | None:
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
        "bike": take("class", _name),
        "incident": take("incident", _yes_no),
        "days": take("days", _positive),
        "km": take("km", _positive),
        "ground": take("ground", _ground),
        "rider": take("rider", _rider),
        "day": take("date", _date),
    }
    return Rental(**rental) if len(faults) == before else None


def _name(text: str) -> str:
    if not text:
        raise ValueError("is empty; write the class as in the fleet file")
    return text.lower().replace(" ", "-")


def _yes_no(text: str) -> bool:
    word = text.lower()
    if word in _YES:
        return True
    if word in _NO:
        return False
    try:
        count = float(word.replace(",", "."))
    except ValueError:
        count = -1.0
    if count < 0:
        raise ValueError("must be yes or no")
    return count > 0


def _positive(text: str) -> float:
    try:
        value = float(text.replace(",", "."))
    except ValueError:
        value = -1.0
    if not 0 <= value < 1e6:
        raise ValueError("must be a number from 0 on")
    return value


def _ground(text: str) -> str:
    if text.lower() not in _GROUNDS:
        raise ValueError(f"must be one of {', '.join(_GROUNDS)}")
    return text.lower()


def _rider(text: str) -> Rider:
    try:
        return Rider(text.lower())
    except ValueError:
        raise ValueError(f"must be one of {', '.join(Rider)}") from None


def _date(text: str) -> date:
    try:
        return date.fromisoformat(text[:10])
    except ValueError:
        raise ValueError("must be a date such as 2027-01-31") from None
