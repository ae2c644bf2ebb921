"""Sentences that can be said in another language and other units after they were made.

A stage says `sentence("Ride on to {at_m}.", at_m=31_000)` and gets a text: English, metric,
good for the JSON. The text keeps its message and its numbers, so that `Teller.tell` says it anew.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date
from functools import lru_cache
from typing import Any, TypeAlias

from terrain.text.figures import N_, NBSP, THIN, Figures

#: A number; a name, told as it stands; a sentence, told in its turn; or a list of these.
Number: TypeAlias = "float | int | str | bool | Sentence | tuple[Any, ...] | None"


class Sentence(str):
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
    ) -> Sentence:
        made = super().__new__(cls, text)
        made.message, made.many, made.numbers = message, many, numbers
        return made

    def __reduce__(self) -> tuple[Any, ...]:
        return Sentence, (str(self), self.message, self.many, self.numbers)

    def __str__(self) -> str:
        return str.__str__(self)


@dataclass(frozen=True, slots=True, kw_only=True)
class Teller(Figures):
    """Says sentences in one language and one system of units."""

    def tell(self, said: Any) -> str:
        """A sentence in this language and these units; a plain text as it stands.

        said : a text, or a row of the JSON with `text`, `message` and `numbers`
        """
        if isinstance(said, Mapping):
            text = said["text"]
            if not isinstance(text, Sentence):
                text = Sentence(text, said["message"], "", tuple(said["numbers"].items()))
            said = text
        if not isinstance(said, Sentence):
            return str(said)
        if not said.numbers:
            return self._(said.message)
        shown: dict[str, Any] = {n: _Shown(self, n, value) for n, value in said.numbers}
        if said.many:
            del shown["n"]
            n: Any = dict(said.numbers)["n"]
            return self.n_(said.message, said.many, n, **shown)
        return self._(said.message, **shown)

    def say(self, message: str, many: str = "", /, **numbers: Number) -> str:
        """A sentence that was not made before, see `sentence`."""
        return self.tell(Sentence("", message, many, tuple(numbers.items())))

    def tell_all(self, said: Iterable[Any]) -> list[str]:
        return [self.tell(item) for item in said]

    def figure(self, name: str, value: Any, *, bare: bool = False) -> str:
        """A number as text by the end of its name; bare: without its unit."""
        if isinstance(value, str):
            return self._day_of(value) if name.endswith("_day") else self.tell(value)
        if value is None:
            return self._("not known")
        if isinstance(value, bool):
            return self.yes(value)
        if isinstance(value, list | tuple):
            return self.listing([self.figure(name, item) for item in value])
        text = self._measure(name, float(value))
        return text.partition(NBSP)[0] if bare else text

    def _measure(self, name: str, value: float) -> str:
        teller = _measure_of(name)
        if teller:
            return str(getattr(self, teller)(value))
        if name.endswith("_month"):
            return self.month(int(value))
        return self.number(value, 0 if value.is_integer() else 1)

    def _grade(self, grade_pct: float) -> str:
        return self.amount(grade_pct, "%")

    def _volume_cc(self, cc: float) -> str:
        return self.amount(cc, "cc")

    def _day_of(self, iso: str) -> str:
        if len(iso) == 7:
            year, month = iso.split("-")
            return self._("{month} {year}", month=self.month(int(month)), year=year)
        return self.day(date.fromisoformat(iso))


_MEASURES: tuple[tuple[str, str], ...] = (
    ("_at_m", "at"), ("_ele_m", "height"), ("_m", "far"), ("_s", "lasting"), ("_c", "temp"),
    ("_share", "percent"), ("_pct", "_grade"), ("_kph", "speed"), ("_kg", "mass"),
    ("_cc", "_volume_cc"), ("_mm", "small"), ("_bar", "pressure"), ("_l", "volume"),
)  # fmt: skip


@lru_cache(maxsize=1024)
def _measure_of(name: str) -> str:
    """The method that tells a number of this name; "" if its name has no unit."""
    return next((t for end, t in _MEASURES if name.endswith(end) or name == end[1:]), "")


class _Shown:
    """A number that `str.format` asks for its text; "n" as format asks for it without its unit."""

    __slots__ = ("name", "teller", "value")

    def __init__(self, teller: Teller, name: str, value: Number) -> None:
        self.teller, self.name, self.value = teller, name, value

    def __format__(self, spec: str) -> str:
        return self.teller.figure(self.name, self.value, bare=spec == "n")


ENGLISH = Teller()


def sentence(message: str, many: str = "", /, **numbers: Number) -> Sentence:
    """A sentence by its message and numbers, see Sentence.

    many : the message for other n than 1, where it speaks of n things
    """
    made = Sentence("", message, many, tuple(numbers.items()))
    return Sentence(spaced(ENGLISH.tell(made)), message, many, made.numbers)


_NEXT_TO = N_("{first} {then}")


def joined(parts: Iterable[str], message: str = _NEXT_TO) -> str:
    """Sentences one after the other; "" if there are none.

    message : how two are joined, with {first} and {then}
    """
    whole: str | None = None
    for part in parts:
        if part:
            whole = part if whole is None else sentence(message, first=whole, then=part)
    return whole or ""


@lru_cache(maxsize=256)
def word(text: str) -> Sentence:
    """A word or title that the catalogue may hold, such as the title of a kind of bike."""
    return sentence(text)


def spaced(text: str) -> str:
    """The text with plain spaces, as in the JSON."""
    return text.replace(NBSP, " ").replace(THIN, " ")


# -- sentences in the JSON -------------------------------------------------------------------------


def messages_of(facts: Any) -> dict[str, dict[str, Any]]:
    """The sentences in plain data by their text, with message and numbers, ready for JSON."""
    found: dict[str, Sentence] = {}
    _collect(facts, found)
    return {text: _to_dict(said) for text, said in found.items()}


def packed(said: Sentence) -> dict[str, Any]:
    """One sentence ready for JSON, see `unpacked`."""
    return {"text": str(said), **_to_dict(said)}


def unpacked(told: Mapping[str, Any]) -> Sentence:
    """The sentence that `packed` put in JSON."""
    return _from_dict(told["text"], told)


def revived(facts: Any) -> Any:
    """Facts read from JSON, their texts made sentences again by `messages`."""
    if not isinstance(facts, dict) or "messages" not in facts:
        return facts
    held = {text: _from_dict(text, told) for text, told in facts["messages"].items()}
    return _replaced({key: item for key, item in facts.items() if key != "messages"}, held) | {
        "messages": facts["messages"]
    }


def _collect(value: Any, found: dict[str, Sentence]) -> None:
    """The sentences in plain data put into `found` by their text."""
    if isinstance(value, dict):
        value = value.values()
    elif not value or isinstance(value[0], float | int):  # a list of numbers, likely long
        return
    for item in value:
        kind = type(item)
        if kind is Sentence:
            found[str(item)] = item
        elif kind is dict or kind is list or kind is tuple:
            _collect(item, found)


def _replaced(value: Any, held: Mapping[str, Sentence]) -> Any:
    if isinstance(value, str):
        return held.get(value, value)
    if isinstance(value, dict):
        return {key: _replaced(item, held) for key, item in value.items()}
    if isinstance(value, list) and value and not isinstance(value[0], float | int):
        return [_replaced(item, held) for item in value]
    return value


def _to_dict(said: Sentence) -> dict[str, Any]:
    told: dict[str, Any] = {"message": said.message}
    if said.many:
        told["many"] = said.many
    if said.numbers:
        told["numbers"] = {name: _number(value) for name, value in said.numbers}
    return told


def _number(value: Any) -> Any:
    if isinstance(value, Sentence):
        return packed(value)
    if isinstance(value, list | tuple):
        return [_number(item) for item in value]
    if hasattr(value, "item"):  # a number of NumPy
        value = value.item()
    return round(value, 4) if isinstance(value, float) else value


def _from_dict(text: str, told: Mapping[str, Any]) -> Sentence:
    numbers = tuple((name, _back(item)) for name, item in told.get("numbers", {}).items())
    return Sentence(text, told["message"], told.get("many", ""), numbers)


def _back(item: Any) -> Any:
    if isinstance(item, dict):
        return unpacked(item)
    return tuple(_back(part) for part in item) if isinstance(item, list) else item
