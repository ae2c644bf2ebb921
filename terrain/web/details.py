"""What is told of a booking, by a form, a table or the API."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import asdict, dataclass
from datetime import date, datetime
from typing import Any

from terrain.errors import InputError
from terrain.text.catalogue import LANGUAGES, N_
from terrain.text.message import message, term
from terrain.text.plain import one_line
from terrain.text.terms import DETAIL_TERMS, STATE_TERMS
from terrain.values.trip import Luggage, Rider, Riding, Wants

REFERENCE = N_("Reference")
_OTHERS = {"units": N_("Units"), "state": N_("State")}
_TICKS = {"1": True, "true": True, "yes": True, "on": True,
          "": False, "0": False, "false": False, "no": False, "off": False}  # fmt: skip
_REF = re.compile(r"[A-Za-z0-9][A-Za-z0-9._-]{0,39}")
_LONGEST = {"customer": 120, "email": 254, "wanted": 80, "remark": 2000}
_WORDS: dict[str, tuple[str, ...]] = {
    "lang": LANGUAGES, "units": ("metric", "imperial"), "rider": tuple(Rider),
    "riding": tuple(Riding), "wants": tuple(Wants), "luggage": tuple(Luggage),
    "state": tuple(STATE_TERMS),
}  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class Details:
    """Details of a booking as its columns hold them; None for what is not told.

    starts_on, ends_on : ISO 8601, depart local time too; "" for none
    riding, wants : "" where nobody said
    """

    ref: str | None = None
    customer: str | None = None
    email: str | None = None
    starts_on: str | None = None
    ends_on: str | None = None
    wanted: str | None = None
    lang: str | None = None
    units: str | None = None
    depart: str | None = None
    rider: str | None = None
    riding: str | None = None
    wants: str | None = None
    luggage: str | None = None
    pillion: bool | None = None
    guided: bool | None = None
    remark: str | None = None
    state: str | None = None

    def columns(self) -> dict[str, str | bool]:
        """Those that are told, by the names of their columns."""
        return {key: value for key, value in asdict(self).items() if value is not None}


@dataclass(frozen=True, slots=True, kw_only=True)
class BookingRows:
    """A booking as the rows of a table tell it. riders : what is told of each further one"""

    own: Details
    riders: tuple[Details, ...] = ()

    def columns(self) -> dict[str, Any]:
        """As it is kept until the table is taken in."""
        riders = [rider.columns() for rider in self.riders]
        return {**self.own.columns(), **({"riders": riders} if riders else {})}


def kept_rows(columns: Mapping[str, Any]) -> BookingRows:
    """A booking of a table that was kept."""
    own = {key: value for key, value in columns.items() if key != "riders"}
    riders = tuple(Details(**rider) for rider in columns.get("riders", ()))
    return BookingRows(own=Details(**own), riders=riders)


def checked_booking(given: Mapping[str, Any]) -> Details:
    """The details of a booking out of texts from a form, a table or the API.

    Raises InputError naming the field.
    """
    texts = {key: one_line(given[key] or "", n) for key, n in _LONGEST.items() if key in given}
    email = texts.get("email")
    if email and not re.fullmatch(r"[^@\s]+@[^@\s]+", email):
        raise InputError(
            message("{text} is no mail address", text=repr(email)), term(DETAIL_TERMS["email"]),
            message("Write name@place."),
        )  # fmt: skip
    if "ref" in given:
        texts["ref"] = _ref(given["ref"] or "")
    for key in ("starts_on", "ends_on"):
        if key in given:
            texts[key] = _day(str(given[key] or ""), key)
    in_order(texts.get("starts_on"), texts.get("ends_on"))
    if "depart" in given:
        texts["depart"] = _moment(str(given["depart"] or ""))
    texts |= {key: _word(str(given[key]), key) for key in _WORDS if given.get(key)}
    return Details(**texts, pillion=_ticked(given, "pillion"), guided=_ticked(given, "guided"))


def _ref(text: str) -> str:
    ref = one_line(text, 80)
    if not _REF.fullmatch(ref):
        raise InputError(
            message("{text} cannot be a reference", text=repr(ref)), term(REFERENCE),
            message("Use up to 40 letters, digits, dots and hyphens."),
        )  # fmt: skip
    return ref


def _word(text: str, key: str) -> str:
    if text not in _WORDS[key]:
        raise InputError(
            message("{text} is not known", text=repr(text[:40])),
            term(DETAIL_TERMS.get(key) or _OTHERS[key]),
            message("Use {words}.", words=", ".join(_WORDS[key])),
        )
    return text


def _ticked(given: Mapping[str, Any], key: str) -> bool | None:
    if key not in given:
        return None
    text = str(given[key] or "").lower()
    if text not in _TICKS:  # a second person who is not counted makes a bike look lighter
        raise InputError(
            message("{text} is not known", text=repr(text[:40])), term(DETAIL_TERMS[key]),
            message("Use {words}.", words="yes, no"),
        )  # fmt: skip
    return _TICKS[text]


def in_order(starts_on: str | None, ends_on: str | None) -> None:
    """Raises InputError if a trip would end before it starts."""
    if starts_on and ends_on and ends_on < starts_on:
        raise InputError(
            message("the trip ends before it starts"),
            term(DETAIL_TERMS["ends_on"]),
            message("Correct the dates."),
        )


def _day(text: str, key: str) -> str:
    if not text.strip():
        return ""
    try:
        return date.fromisoformat(text.strip()).isoformat()
    except ValueError:
        raise InputError(
            message("{text} is no date", text=repr(text[:40])),
            term(DETAIL_TERMS[key]),
            message("Write it as 2027-03-14."),
        ) from None


def _moment(text: str) -> str:
    if not text.strip():
        return ""
    try:
        moment = datetime.fromisoformat(text.strip())
    except ValueError:
        raise InputError(
            message("{text} is no date and time", text=repr(text[:40])),
            term(DETAIL_TERMS["depart"]),
            message("Write it as 2027-03-14T07:30."),
        ) from None
    if moment.tzinfo is not None:
        raise InputError(
            message("{text} names a time zone", text=repr(text[:40])), term(DETAIL_TERMS["depart"]),
            message(
                "Write the local time where the ride starts, without a zone: 2027-03-14T07:30."
            ),
        )  # fmt: skip
    return moment.isoformat(timespec="minutes")
