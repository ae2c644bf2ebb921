"""What the person needs who sets a bike up for one ride and hands it over."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from typing import Annotated, Any

from pydantic import PlainSerializer, PlainValidator, TypeAdapter

from terrain.text.message import Message
from terrain.text.packed import message_from_json, message_json

Kept = Annotated[Message, PlainValidator(message_from_json), PlainSerializer(message_json)]
KeptOrNone = Annotated[
    Message | str,
    PlainValidator(lambda told: message_from_json(told) if told else ""),
    PlainSerializer(lambda said: message_json(said) if said else None),
]


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetItem:
    """One thing to do or to say, and why in this ride; a run of underscores is a blank to fill."""

    what: Kept
    why: KeptOrNone = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Handover:
    """The sheet for one class of bike on one ride.

    bike, title : class, and what people call it; payload_kg : most it may carry
    headline : class, setup and tyres; end_s : local time of the last
        arrival, seconds after midnight
    fit, put, say : to fit and check, to put on the bike, to say to the rider
    """

    bike: str
    title: str
    headline: Kept
    payload_kg: float
    end_s: float | None
    fit: tuple[SheetItem, ...]
    put: tuple[SheetItem, ...]
    say: tuple[SheetItem, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Handovers:
    """The sheets of one ride, the class that fits best first.

    held : why none is printed: what forbids the ride or is open; empty if they are printed
    """

    held: tuple[Kept, ...]
    sheets: tuple[Handover, ...]

    def to_dict(self) -> dict[str, Any]:
        """Plain data, ready for JSON; the messages keep their numbers."""
        told: dict[str, Any] = _form().dump_python(self, mode="json")
        return told

    @classmethod
    def from_dict(cls, told: Mapping[str, Any]) -> Handovers:
        """The sheets that `to_dict` told."""
        return _form().validate_python(told)


@cache
def _form() -> TypeAdapter[Handovers]:
    return TypeAdapter(Handovers)
