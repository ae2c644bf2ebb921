"""Advice: what it says. Every sentence carries its numbers."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from enum import StrEnum
from typing import Any, ClassVar

from terrain.text.message import Message, Number
from terrain.values.plain import Plain


@dataclass(frozen=True, slots=True, kw_only=True)
class AdviceItem(Plain):
    """One sentence of advice, with the numbers it rests on.

    code : short stable name of what is said, such as "long-gravel"
    text : the sentence; its numbers may be more than its message shows
    from_m, to_m : the part of the ride it is about; None if it is about all of it
    spans : from and to of each part, where it is about several
    source : where a rule comes from; empty for what was computed
    audiences : whom it is for, such as "staff"; empty for all
    """

    _keys: ClassVar = {"audiences": "for"}
    _also: ClassVar = ("message",)
    code: str
    text: Message
    from_m: float | None = None
    to_m: float | None = None
    source: str = ""
    audiences: tuple[str, ...] = ()
    spans: tuple[tuple[float, float], ...] = ()

    def is_for(self, audience: str) -> bool:
        """Whether it is said to them."""
        return not self.audiences or audience in self.audiences

    def only_for(self, *audiences: str) -> AdviceItem:
        return replace(self, audiences=audiences)

    def over(self, spans: Iterable[tuple[float, float]]) -> AdviceItem:
        """The same about several parts, at least one."""
        parts = tuple(sorted(spans))
        return replace(self, from_m=parts[0][0], to_m=max(b for _, b in parts), spans=parts)

    @property
    def places(self) -> tuple[tuple[float, float], ...]:
        """From and to of each part it is about [m]; empty if it is about all of the ride."""
        if self.from_m is None or self.to_m is None:
            return ()
        return self.spans or ((self.from_m, self.to_m),)

    @property
    def message(self) -> str:
        """The sentence with its numbers left open, such as "{run_m} of track"."""
        return self.text.message

    @property
    def numbers(self) -> tuple[tuple[str, Number], ...]:
        return self.text.numbers

    def to_dict(self) -> dict[str, Any]:
        numbers = dict(self.numbers)
        return {**Plain.to_dict(self), "numbers": numbers, "source": self.source or None}


class SetupChoice(StrEnum):
    """How to send the bike out."""

    ROAD = "road"
    OFF_ROAD = "off-road"
    ASK = "ask"


class Tyres(StrEnum):
    """What to fit."""

    ROAD = "road"
    MIXED = "mixed"
    BLOCK = "block"


@dataclass(frozen=True, slots=True, kw_only=True)
class Flip(Plain):
    """What would change the answer: if this holds, then that choice."""

    said: AdviceItem
    then: SetupChoice

    def to_dict(self) -> dict[str, Any]:
        return {**self.said.to_dict(), "then": self.then.value}


@dataclass(frozen=True, slots=True, kw_only=True)
class Setup(Plain):
    """Road or off-road setup.

    p_off_road : probability that the ride is one for off-road setup; None if nothing is known
    off_road_s : weighted off-road riding time [s], of ride_s in all, with the 90 % interval that
        doubt of ground and way leaves, each ground at its own pace; how hard it turns out, and how
        fast it is ridden, is not in it
    hard_s : the same of riding time on ground that road tyres cannot do
    plausible_low_s, plausible_high_s : weighted off-road riding time if all doubtful ground
        turns out the better, the worse
    tyres : what to fit under that choice; None if to be settled by asking
    """

    choice: SetupChoice
    p_off_road: float | None
    ride_s: float
    off_road_s: tuple[float, float, float]
    hard_s: tuple[float, float, float]
    plausible_low_s: float
    plausible_high_s: float
    tyres: Tyres | None
    pressures: tuple[AdviceItem, ...]
    reasons: tuple[AdviceItem, ...]
    flips: tuple[Flip, ...]

    def to_dict(self) -> dict[str, Any]:
        off_road_s, hard_s = _interval(self.off_road_s), _interval(self.hard_s)
        return {**Plain.to_dict(self), "off_road_s": off_road_s, "hard_s": hard_s}


@dataclass(frozen=True, slots=True, kw_only=True)
class Contribution(Plain):
    """One line of the table behind a fit.

    score : 0..1; None if what it takes is not known
    points : weight times score, over the sum of the weights whose scores are known
    """

    what: str
    weight: float
    score: float | None
    points: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class BikeFit(Plain):
    """How well one bike class fits. fit 0..1 is the sum of the points in the table."""

    _keys: ClassVar = {"name": "class"}
    name: str
    title: str
    fit: float
    table: tuple[Contribution, ...]
    reasons: tuple[AdviceItem, ...]
    against: tuple[AdviceItem, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Excluded(Plain):
    """A bike class that must not go, and why."""

    _keys: ClassVar = {"name": "class"}
    name: str
    title: str
    reasons: tuple[AdviceItem, ...]


class RiderVerdict(StrEnum):
    """How the ride suits the rider."""

    WITHIN = "within"
    STRETCHING = "stretching"
    BEYOND = "beyond"


@dataclass(frozen=True, slots=True, kw_only=True)
class RiderFit(Plain):
    """How the ride suits the rider; reasons that stretch or go beyond them, worst first.

    n_beyond : how many of the reasons, from the first, are beyond them; n_worst : how many are as
        grave as the verdict
    """

    _untold: ClassVar = ("n_beyond", "n_worst")
    rider: str
    verdict: RiderVerdict
    text: str
    reasons: tuple[AdviceItem, ...]
    n_beyond: int = 0
    n_worst: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class Decided:
    """What was advised before the rental desk decided otherwise, and why it did.

    choice, p_off_road, bike : as reckoned; reason : as typed; unix_s : when it was decided
    """

    choice: SetupChoice
    p_off_road: float | None
    bike: str | None
    reason: str
    unix_s: float

    def to_dict(self) -> dict[str, Any]:
        was = {"choice": self.choice.value, "p_off_road": self.p_off_road, "class": self.bike}
        at = datetime.fromtimestamp(self.unix_s, UTC).isoformat(timespec="seconds")
        return {"was": was, "reason": self.reason, "at": at}


@dataclass(frozen=True, slots=True, kw_only=True)
class Advice(Plain):
    """Setup, bikes, rider, spares, checks, questions, cautions, law.

    wanted : what to say about the class the customer asked for; None if none was
    rests_on : what the advice rests on: map, practice, the operator's own log
    edited : the desk's decision, if it took one
    """

    _untold: ClassVar = ("edited",)
    setup: Setup
    excluded: tuple[Excluded, ...]
    bikes: tuple[BikeFit, ...]
    wanted: AdviceItem | None
    rider: RiderFit
    spares: tuple[AdviceItem, ...]
    checks: tuple[AdviceItem, ...]
    questions: tuple[AdviceItem, ...]
    cautions: tuple[AdviceItem, ...]
    law: tuple[AdviceItem, ...]
    weights: Mapping[str, float]
    rests_on: tuple[AdviceItem, ...]
    edited: Decided | None = None

    def to_dict(self) -> dict[str, Any]:
        """The contract's `advice` object."""
        edited = {} if self.edited is None else {"edited": self.edited.to_dict()}
        return {**Plain.to_dict(self), **edited}


def _interval(values: tuple[float, float, float]) -> dict[str, float]:
    best, low, high = values
    return {"best": best, "low": low, "high": high}


class LawKind(StrEnum):
    """What may forbid, limit or charge a ride on a stretch, or at a spot."""

    CLOSED = "closed"  # tagged as closed to motorcycles
    PRIVATE = "private"  # private, by permit, for customers or deliveries
    DESTINATION = "destination"  # no through ride
    NO_MOTOR_ROAD = "no-motor-road"  # path, footway, cycleway: no motor road by default
    TOLL = "toll"
    CONDITIONAL = "conditional"  # open at times or to some only
    CONSTRUCTION = "construction"
    DISUSED = "disused"  # tagged as abandoned, disused or gone
    FLOODS = "floods"  # under water at high tide or in floods
    TUNNEL = "tunnel"  # a long one of which no tag says that it is lit
    BORDER = "border"
    MILITARY = "military"  # within an area
    PROTECTED = "protected"  # within an area
    BARRIER = "barrier"
    MOTORWAY = "motorway-law"  # some countries keep motorcycles off, all or small ones


# Told at a point of the ride, not as a run.
SPOT_LAWS = frozenset({LawKind.BORDER, LawKind.BARRIER})
