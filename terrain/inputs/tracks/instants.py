"""Times as trackers write them: ISO 8601, counts since 1970, spreadsheet days, dates by hand."""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime

import numpy as np

from terrain.values.arrays import FloatArray

_NUMBER = re.compile(r"^\d+(?:[.,]\d+)?$")
_BY_HAND = re.compile(
    r"^(\d{1,4})[./-](\d{1,2})[./-](\d{1,4})(?:[T ]+(\d{1,2}):(\d{2})(?::(\d{2}(?:\.\d+)?))?)?"
    r"\s*([AaPp][Mm])?\s*(?:UTC|GMT|Z)?$"
)
_SHEET_EPOCH_S = -2_209_161_600.0  # 1899-12-30, day 0 of a spreadsheet
# From which value on a count since 1970 is one of milli-, micro- or nanoseconds: as seconds these
# would lie beyond the year 5000.
_UNITS = ((1e17, 1e9), (1e14, 1e6), (1e11, 1e3))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Instants:
    """time_s : seconds since 1970-01-01 UTC, NaN where it cannot be read, shape (n,)

    n_zoneless : times without a zone; day_first_guessed : nothing tells whether the day or the
        month comes first
    """

    time_s: FloatArray
    n_zoneless: int
    day_first_guessed: bool


def read_instants(texts: Sequence[str]) -> Instants:
    """The times of a table; all its rows together tell how its dates are written."""
    time_s = np.full(len(texts), np.nan)
    zoneless = 0
    by_hand: list[tuple[int, re.Match[str]]] = []
    for i, text in enumerate(texts):
        if _NUMBER.match(text):
            time_s[i] = _counted_s(float(text.replace(",", ".")))
            continue
        found = _BY_HAND.match(text)
        if found is not None and len(found[1]) < 4:
            by_hand.append((i, found))
            continue
        try:
            moment = datetime.fromisoformat(_iso(text, found))
        except ValueError:
            continue
        if moment.tzinfo is None:
            zoneless += 1
            moment = moment.replace(tzinfo=UTC)
        time_s[i] = moment.timestamp()
    guessed = False
    if by_hand:
        order, guessed = _order([found for _, found in by_hand])
        for i, found in by_hand:
            time_s[i] = _by_hand_s(found, order)
        zoneless += len(by_hand)
    return Instants(time_s=time_s, n_zoneless=zoneless, day_first_guessed=guessed)


def _counted_s(value: float) -> float:
    if 20_000 < value < 80_000:  # days of a spreadsheet, 1954 to 2119
        return _SHEET_EPOCH_S + value * 86_400.0
    for least, unit in _UNITS:
        if value >= least:
            return value / unit
    return value if value >= 1e8 else float("nan")


def _iso(text: str, found: re.Match[str] | None) -> str:
    text = re.sub(r"\s*(?:UTC|GMT)$", "Z", text.strip())
    if found is None:
        return text
    # 2027/3/14 7:30:05 and the like
    day = f"{int(found[1]):04d}-{int(found[2]):02d}-{int(found[3]):02d}"
    if found[4] is None:
        return day
    zone = "Z" if text.endswith("Z") else ""
    return f"{day}T{int(found[4]):02d}:{found[5]}:{(found[6] or '00')[:9]}{zone}"


_Order = Callable[[int, int], tuple[int, int]]


def _order(found: Sequence[re.Match[str]]) -> tuple[_Order, bool]:
    """How day and month stand, as a function of the first two numbers; whether it is a guess."""
    first = max(int(row[1]) for row in found)
    second = max(int(row[2]) for row in found)

    def day_first(a: int, b: int) -> tuple[int, int]:
        return a, b

    def month_first(a: int, b: int) -> tuple[int, int]:
        return b, a

    if second > 12:
        return month_first, False
    dotted = all("." in row[0][:3] for row in found)
    return day_first, first <= 12 and not dotted


def _by_hand_s(found: re.Match[str], order: _Order) -> float:
    day, month = order(int(found[1]), int(found[2]))
    year = int(found[3]) + (2000 if int(found[3]) < 100 else 0)
    hour = int(found[4] or 0)
    if found[7]:
        hour = hour % 12 + (12 if found[7].lower() == "pm" else 0)
    second = float(found[6] or 0)
    try:
        moment = datetime(year, month, day, hour, int(found[5] or 0), tzinfo=UTC)
    except ValueError:
        return float("nan")
    return moment.timestamp() + second
