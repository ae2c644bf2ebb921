"""The desk's own decision in place of the advice, with its reason: seen wherever advice is."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any

from terrain.report.findings import DECIDING
from terrain.text.message import Message, message
from terrain.text.plain import plain_line
from terrain.values.report import Facts

SETUPS = ("road", "off-road", "ask")


@dataclass(frozen=True, slots=True, kw_only=True)
class Ruling:
    """What the desk decided.

    setup : one of SETUPS; bike : class that goes first, "" for no change; who, reason, made_at
    """

    setup: str
    bike: str
    reason: str
    who: str
    made_at: float


def apply_ruling(facts: Facts, ruling: Ruling) -> Facts:
    """The report's facts with the desk's decision; what was computed stays under `edited`.

    A bike that must not go is never put first.
    """
    advice = facts.get("advice")
    if advice is None:
        return facts
    setup, bikes = advice["setup"], advice["bikes"]
    first = [bike for bike in bikes if bike["class"] == ruling.bike]
    rest = [bike for bike in bikes if bike["class"] != ruling.bike]
    text = message("The rental desk decided this: {reason}", reason=plain_line(ruling.reason))
    edited = {
        "was": {"choice": setup["choice"], "p_off_road": setup["p_off_road"],
                "class": bikes[0]["class"] if bikes else None},
        "reason": ruling.reason,
        "at": datetime.fromtimestamp(ruling.made_at, UTC).isoformat(timespec="seconds"),
    }  # fmt: skip
    decided = {
        **setup,
        "choice": ruling.setup,
        "reasons": [_said(text), *setup["reasons"]],
        "flips": [],
        # How sure the reckoning was says nothing about a decision.
        "p_off_road": setup["p_off_road"] if ruling.setup == setup["choice"] else None,
    }
    questions = [q for q in advice["questions"] if q["code"] not in DECIDING]
    if ruling.setup == "ask":
        questions = advice["questions"]
    if ruling.setup != setup["choice"]:
        # Tyres and pressures were reckoned for the setup that is not taken.
        decided = {**decided, "tyres": None, "pressures": []}
    new = {**advice, "setup": decided, "bikes": first + rest, "questions": questions}
    return {**facts, "advice": {**new, "edited": edited}}


def _said(text: Message) -> dict[str, Any]:
    return {
        "code": "desk-decided",
        "text": text,
        "message": text.message,
        "numbers": dict(text.numbers),
        "from_m": None,
        "to_m": None,
        "source": "the rental desk",
    }
