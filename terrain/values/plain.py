"""Values as plain data for JSON: a key for each field, in the order of the fields."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Mapping
from dataclasses import fields
from datetime import date, datetime
from enum import Enum
from functools import cache
from operator import attrgetter
from types import NoneType
from typing import Any, ClassVar

from terrain.text.message import Message

_AS_IT_STANDS = frozenset({str, Message, int, float, bool, type(None)})


class Plain:
    """A dataclass that tells itself as plain data, with what it holds of others like it.

    _keys : keys of fields that are told by another name; _untold : fields that are left out
    _also : properties that are told too; _digits : decimals of a number, None for a whole one
    """

    __slots__ = ()
    _keys: ClassVar[Mapping[str, str]] = {}
    _untold: ClassVar[tuple[str, ...]] = ()
    _also: ClassVar[tuple[str, ...]] = ()
    _digits: ClassVar[Mapping[str, int | None]] = {}

    def to_dict(self) -> dict[str, Any]:
        """Plain data, ready for JSON; numbers that are not finite stay, but for `_digits`."""
        kind: Any = type(self)  # else no key of a cache to mypy
        keys, values, digits = _form(kind)
        told = {
            key: value if type(value) in _AS_IT_STANDS else plain(value)
            for key, value in zip(keys, values(self), strict=True)
        }
        for key, n in digits:
            told[key] = stated(told[key], n)
        return told


def keys_of(kind: type[Plain]) -> list[str]:
    """The keys that a class tells its fields by."""
    form: Any = _form
    return list(form(kind)[0])


@cache
def _form(
    kind: Any,
) -> tuple[list[str], Callable[[Plain], tuple[Any, ...]], list[tuple[str, int | None]]]:
    """Of a class: its keys, what gets their values, and the keys of numbers with their decimals."""
    own = [field.name for field in fields(kind) if field.name not in kind._untold]
    names = [*own, *kind._also]
    get = attrgetter(*names)
    renamed = {name: kind._keys.get(name, name) for name in names}
    digits = [(renamed[name], n) for name, n in kind._digits.items()]
    return list(renamed.values()), get if len(names) > 1 else lambda value: (get(value),), digits


def plain(value: Any) -> Any:
    """A value as plain data: tuples as lists, moments to the minute, enumerations by their value.

    Raises TypeError for what has no such form.
    """
    kind: Any = type(value)  # else no key of a cache to mypy
    return _teller(kind)(value)


@cache
def _teller(kind: Any) -> Callable[[Any], Any]:
    """What makes plain data of the values of a type; a long ride holds tens of thousands."""
    if issubclass(kind, Plain):
        told: Callable[[Any], Any] = kind.to_dict
        return told
    if issubclass(kind, Enum):
        return attrgetter("value")
    if issubclass(kind, tuple | list):
        return _listed
    if issubclass(kind, Mapping):
        return lambda value: {plain(key): plain(item) for key, item in value.items()}
    if issubclass(kind, str | int | float | NoneType):
        return lambda value: value
    if issubclass(kind, datetime):
        return lambda value: value.isoformat(timespec="minutes")
    if issubclass(kind, date):
        return date.isoformat
    raise TypeError(f"{kind.__name__} is not told in JSON")


def _listed(values: Iterable[Any]) -> list[Any]:
    return [item if type(item) in _AS_IT_STANDS else plain(item) for item in values]


def stated(value: float | None, digits: int | None = 1) -> float | None:
    """A number as told to people, whole for None; None for what is not known."""
    if value is None or not math.isfinite(value):
        return None
    return round(float(value), digits)
