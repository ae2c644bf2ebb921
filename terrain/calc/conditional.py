"""Whether a conditional tag of OSM holds at a moment.

Source: OSM wiki, Conditional restrictions (`value @ (condition); value @ (condition)`, of which the
last that holds wins) and Key:opening hours; of the latter months, days of the month, weekdays and
hours are read. A public holiday counts as the weekday it is.
"""

from __future__ import annotations

import re
from datetime import datetime
from functools import lru_cache

_MONTHS = ("jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec")
_DAYS = ("mo", "tu", "we", "th", "fr", "sa", "su")
_RULE = re.compile(r"([^@;]+)@\s*(\([^()]*\)|[^;()]+)")
# Limits that no motorcycle reaches: weight in tonnes from half a tonne on, size in metres from two.
_LARGE = re.compile(r"^(?:(?:max)?(?:weight|weightrating|axleload)\s*>=?\s*(?:0?\.[5-9]|[1-9])"
                    r"|(?:max)?(?:height|width|length)\s*>=?\s*(?:[2-9]|\d\d))")  # fmt: skip
_DATE = rf"(?:{'|'.join(_MONTHS)})(?:\s+\d{{1,2}})?"
_DATES = re.compile(rf"^({_DATE})(?:\s*-\s*({_DATE}|\d{{1,2}}))?$")
_HOURS = re.compile(r"^(\d{1,2}):(\d\d)-(\d{1,2}):(\d\d)$")
_PART = re.compile(rf"(?P<date>{_DATE}(?:\s*-\s*(?:{_DATE}|\d{{1,2}}\b))?)"
                   r"|(?P<hour>\d{1,2}:\d\d-\d{1,2}:\d\d)"
                   rf"|(?P<day>\b(?:{'|'.join(_DAYS)}|[ps]h)(?:-(?:{'|'.join(_DAYS)}))?\b)"
                   r"|(?P<always>24/7)")  # fmt: skip


@lru_cache(maxsize=1024)  # a ride has few such tags
def conditional_rules(text: str) -> tuple[tuple[str, str], ...]:
    """Value and condition of each rule of a conditional tag's value."""
    return tuple((value.strip(), cond.strip("() ")) for value, cond in _RULE.findall(text))


def holds_at(condition: str, at: datetime | None) -> bool | None:
    """Whether a condition holds; None where that cannot be told. at : local; None not known"""
    each = [_alternatives(part.strip().lower(), at) for part in re.split(r"\bAND\b", condition)]
    if False in each:
        return False
    return None if None in each else True


def _alternatives(text: str, at: datetime | None) -> bool | None:
    if _LARGE.match(text):
        return False
    each = [_holds(part.strip(), at) for part in text.split(";") if part.strip()]
    if True in each:
        return True
    return None if None in each or not each else False


def _holds(text: str, at: datetime | None) -> bool | None:
    """One rule of opening hours: all kinds of limits that it names must hold."""
    found = list(_PART.finditer(text))
    if re.sub(r"[\s,:]", "", _PART.sub("", text)) or not found:
        return None
    if all(part["always"] for part in found):
        return True
    if at is None:
        return None
    return all(
        any(test(part[kind], at) for part in found if part[kind])
        for kind, test in (("date", _on_date), ("day", _on_day), ("hour", _in_hours))
        if any(part[kind] for part in found)
    )


def _on_date(text: str, at: datetime) -> bool:
    match = _DATES.match(text)
    assert match is not None
    first, last = match[1], match[2] or match[1]
    if last.isdigit():
        last = f"{first[:3]} {last}"
    a, b = _month_day(first, 1), _month_day(last, 31)
    here = (at.month, at.day)
    return a <= here <= b if a <= b else here >= a or here <= b


def _month_day(text: str, usual: int) -> tuple[int, int]:
    month, _, day = text.partition(" ")
    return _MONTHS.index(month) + 1, int(day) if day else usual


def _on_day(text: str, at: datetime) -> bool:
    first, _, last = text.partition("-")
    if first not in _DAYS:
        return False
    a = _DAYS.index(first)
    b = _DAYS.index(last) if last else a
    day = at.weekday()
    return a <= day <= b if a <= b else day >= a or day <= b


def _in_hours(text: str, at: datetime) -> bool:
    match = _HOURS.match(text)
    assert match is not None
    a, b = int(match[1]) * 60 + int(match[2]), int(match[3]) * 60 + int(match[4])
    here = at.hour * 60 + at.minute
    return a <= here < b if a < b else here >= a or here < b
