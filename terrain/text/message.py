"""Messages: texts that can be said in another language and other units after they were made.

A stage says `message("Ride on to {at_m}.", at_m=31_000)` and gets a text: English, metric,
good for the JSON. It keeps its English form and its numbers, so that `Translator.translate`
says it anew.
"""

from __future__ import annotations

from collections.abc import Iterable
from functools import lru_cache
from typing import Any, TypeAlias

from terrain.text.catalogue import N_
from terrain.text.figures import NBSP, THIN, Figures

#: A number; a name, told as it stands; a message, told in its turn; or a list of these.
Number: TypeAlias = "float | int | str | bool | Message | tuple[Any, ...] | None"


class Message(str):
    """An English text with metric units that remembers what it was made from.

    message : with its {numbers} left open; the end of a number's name says what it is: _m a
        length, _at_m a place along the ride, _ele_m a height, _s a duration, _c a temperature,
        _share and _pct percentages, _kph, _kg, _l, _mm, _bar, _month 1..12, _day an ISO date;
        "{low_c:n}" is the number without its unit
    many : the message where the number `n` is not 1; empty if it has no plural
    numbers : by name
    """

    __slots__ = ("many", "message", "numbers")
    message: str
    many: str
    numbers: tuple[tuple[str, Number], ...]

    def __new__(
        cls, text: str, message: str, many: str, numbers: tuple[tuple[str, Number], ...]
    ) -> Message:
        made = super().__new__(cls, text)
        made.message, made.many, made.numbers = message, many, numbers
        return made

    def __reduce__(self) -> tuple[Any, ...]:
        return Message, (str(self), self.message, self.many, self.numbers)

    def __str__(self) -> str:
        return str.__str__(self)


_ENGLISH = Figures()


def message(form: str, many: str = "", /, **numbers: Number) -> Message:
    """A message by its English form and numbers, see Message.

    many : the form for other n than 1, where it speaks of n things
    """
    text = spaced(_ENGLISH.fill(form, many, numbers))
    return Message(text, form, many, tuple(numbers.items()))


def road_called(name: str) -> str:
    """A road's name, or its number as that of a road: a bare "7" in a text may be anything."""
    is_number = any(c.isdigit() for c in name) and not any(c.isalpha() for c in name)
    return message("road {number}", number=name) if is_number else name


_NEXT_TO = N_("{first} {then}")


def join_messages(parts: Iterable[str], link: str = _NEXT_TO) -> str:
    """Messages one after the other; "" if there are none.

    link : how two are joined, with {first} and {then}
    """
    whole: str | None = None
    for part in parts:
        if part:
            whole = part if whole is None else message(link, first=whole, then=part)
    return whole or ""


def after(first: Message, *more: str) -> Message:
    """A message and what follows it, one after the other."""
    for then in filter(None, more):
        first = message(_NEXT_TO, first=first, then=then)
    return first


@lru_cache(maxsize=256)
def term(text: str) -> Message:
    """A word or title that the catalogue may hold, such as the title of a kind of bike."""
    return message(text)


def share_range(low_share: float, high_share: float) -> Message:
    """ "43 to 48 %"; "48 %" where both are told alike, "over 99 %" if it is no less."""
    if _ENGLISH.percent(low_share) == _ENGLISH.percent(high_share):
        return message("{high_share}", high_share=high_share)
    if low_share >= 0.995:
        return message("{high_share}", high_share=low_share)
    return message("{low_share:n} to {high_share}", low_share=low_share, high_share=high_share)


def spaced(text: str) -> str:
    """The text with plain spaces, as in the JSON."""
    return text.replace(NBSP, " ").replace(THIN, " ")
