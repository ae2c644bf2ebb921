"""The cells of a rental log: each reader takes a text; its WrongError is said after that text."""

from __future__ import annotations

import re
from collections.abc import Iterable
from datetime import date

from terrain.inputs.faults import WrongError
from terrain.inputs.tables import clean
from terrain.text.message import message
from terrain.values.trip import Rider

_GROUNDS = ("paved", "gravel", "track", "mixed")
_YES = frozenset(("yes", "y", "true", "1", "x", "si", "sí", "oui", "ja"))
_NO = frozenset(("no", "n", "false", "0", "", "-", "non", "nein", "none", "not"))
_ISO = re.compile(r"(\d{4})-(\d{1,2})-(\d{1,2})(?:[T ].*)?")
_PARTS = re.compile(r"(\d{1,2})([./-])(\d{1,2})\2(\d{4}|\d{2})(?: .*)?")
_THOUSANDS = re.compile(r"\d{1,3}([.,])\d{3}(?:\1\d{3})*")
_AS_ISO = message("Write it as 2027-01-31.")
_DAY_FIRST, _MONTH_FIRST, _EITHER, _BOTH = "day first", "month first", "either", "both"


def read_class(text: str) -> str:
    """The class by its name as in the fleet file, or by its title."""
    name = re.sub(r"[\s_]+", "-", text.strip().lower())
    if not name:
        raise WrongError(message("is empty"), message("Write the class as in the fleet file."))
    return name


def read_incident(text: str) -> bool:
    """Yes or no, or how many; an empty cell is no."""
    word = text.strip().lower()
    if word in _YES:
        return True
    if word in _NO:
        return False
    try:
        count = float(word.replace(",", "."))
    except ValueError:
        count = -1.0
    if not 0 <= count < 1e6:
        raise WrongError(message("must be yes or no"))
    return count > 0


def read_amount(text: str) -> float:
    """A number from 0 on, with a decimal point or comma, with or without its unit."""
    plain = re.sub(r"[\s\u00a0\u202f']|(?:km|days?)$", "", text.strip().lower())
    if "," in plain and "." in plain:
        # The mark that comes last is the decimal one.
        thousands = "," if plain.rfind(",") < plain.rfind(".") else "."
        plain = plain.replace(thousands, "")
    try:
        value = float(plain.replace(",", "."))
    except ValueError:
        value = -1.0
    if not 0 <= value < 1e6:
        raise WrongError(message("must be a number from 0 on, such as 410 or 410.5"))
    return value


def read_km(text: str) -> float:
    """Kilometres; "1,234" and "1.234" are thousands, for nobody logs metres."""
    plain = text.strip().lower().removesuffix("km").strip()
    if _THOUSANDS.fullmatch(plain):
        plain = re.sub(r"[.,]", "", plain)
    return read_amount(plain)


def read_ground(text: str) -> str:
    if text.lower() not in _GROUNDS:
        raise WrongError(message("must be one of {names}", names=", ".join(_GROUNDS)))
    return text.lower()


def read_rider(text: str) -> Rider:
    try:
        return Rider(text.lower())
    except ValueError:
        raise WrongError(message("must be one of {names}", names=", ".join(Rider))) from None


def read_setup(text: str) -> str:
    word = text.lower().replace(" ", "-").replace("offroad", "off-road")
    if word not in ("road", "off-road"):
        raise WrongError(message("must be road or off-road"))
    return word


def read_heat(text: str) -> float:
    """The hottest air of the ride [C], with or without its unit."""
    plain = text.lower().replace(",", ".").replace("°", "").removesuffix("c").strip()
    try:
        value = float(plain)
    except ValueError:
        value = float("nan")
    if not -40.0 <= value <= 60.0:
        raise WrongError(message("must be degrees Celsius, such as 34"))
    return value


def read_part(text: str) -> str:
    """What broke, in a word or two, of one spelling."""
    return clean(text.lower(), 40)


def day_order(texts: Iterable[str]) -> str:
    """Whether the dates of a log put the day first or the month: only a whole log can tell."""
    first = second = parts = False
    for text in texts:
        found = _PARTS.fullmatch(text.strip())
        if found is None:
            continue
        if found[2] == ".":  # with dots the day comes first everywhere
            continue
        parts = True
        first |= int(found[1]) > 12
        second |= int(found[3]) > 12
    if first and second:
        return _BOTH
    if first:
        return _DAY_FIRST
    if second:
        return _MONTH_FIRST
    return _EITHER if parts else _DAY_FIRST


def read_date(text: str, order: str) -> date:
    """A date as 2027-01-31, 31.1.2027, or 31/1/2027 in the log's own order of day and month."""
    iso = _ISO.fullmatch(text.strip())
    found = _PARTS.fullmatch(text.strip())
    try:
        if iso is not None:
            return date(int(iso[1]), int(iso[2]), int(iso[3]))
        if found is not None:
            a, b, year = int(found[1]), int(found[3]), int(found[4])
            year += 2000 if year < 100 else 0
            if found[2] == "." or order == _DAY_FIRST:
                return date(year, b, a)
            if order == _MONTH_FIRST:
                return date(year, a, b)
            if a == b:
                return date(year, a, b)
    except ValueError:
        raise WrongError(message("is no day of the calendar"), _AS_ISO) from None
    if found is not None and order == _BOTH:
        raise WrongError(message("may be day or month first, and the log has both"), _AS_ISO)
    if found is not None:
        raise WrongError(message("may be day or month first, and nothing tells"), _AS_ISO)
    raise WrongError(message("must be a date such as 2027-01-31"))
