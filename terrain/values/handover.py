"""What the person needs who sets a bike up for one ride and hands it over."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from terrain.text.message import Message
from terrain.text.packed import message_from_json, message_json


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetItem:
    """One thing to do or to say, and why in this ride; a run of underscores is a blank to fill."""

    what: Message
    why: Message | str = ""

    def to_dict(self) -> dict[str, Any]:
        why = message_json(self.why) if isinstance(self.why, Message) else None
        return {"what": message_json(self.what), "why": why}

    @classmethod
    def from_dict(cls, told: Mapping[str, Any]) -> SheetItem:
        why = told["why"]
        return cls(
            what=message_from_json(told["what"]), why="" if why is None else message_from_json(why)
        )


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
    headline: Message
    payload_kg: float
    end_s: float | None
    fit: tuple[SheetItem, ...]
    put: tuple[SheetItem, ...]
    say: tuple[SheetItem, ...]

    def to_dict(self) -> dict[str, Any]:
        return {
            "bike": self.bike,
            "title": self.title,
            "headline": message_json(self.headline),
            "payload_kg": self.payload_kg,
            "end_s": self.end_s,
            "fit": [item.to_dict() for item in self.fit],
            "put": [item.to_dict() for item in self.put],
            "say": [item.to_dict() for item in self.say],
        }

    @classmethod
    def from_dict(cls, told: Mapping[str, Any]) -> Handover:
        return cls(
            bike=told["bike"],
            title=told["title"],
            headline=message_from_json(told["headline"]),
            payload_kg=told["payload_kg"],
            end_s=told["end_s"],
            fit=tuple(SheetItem.from_dict(item) for item in told["fit"]),
            put=tuple(SheetItem.from_dict(item) for item in told["put"]),
            say=tuple(SheetItem.from_dict(item) for item in told["say"]),
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Handovers:
    """The sheets of one ride, the class that fits best first.

    held : why none is printed: what forbids the ride or is open; empty if they are printed
    """

    held: tuple[Message, ...]
    sheets: tuple[Handover, ...]

    def to_dict(self) -> dict[str, Any]:
        return {
            "held": [message_json(said) for said in self.held],
            "sheets": [sheet.to_dict() for sheet in self.sheets],
        }

    @classmethod
    def from_dict(cls, told: Mapping[str, Any]) -> Handovers:
        return cls(
            held=tuple(message_from_json(said) for said in told["held"]),
            sheets=tuple(Handover.from_dict(sheet) for sheet in told["sheets"]),
        )
