"""What was answered about parts of a ride, and what became of each answer."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from enum import StrEnum
from typing import Any, ClassVar

from terrain.text.message import Message
from terrain.values.ground import GroundKind
from terrain.values.plain import Plain


class Reply(StrEnum):
    """What somebody says of a part of the route that was asked about."""

    KEEP = "keep"  # it is meant to be ridden
    LEAVE = "leave"  # it is left out
    UNSURE = "unsure"
    PAVED = "paved"  # what the ground is there, as somebody knows it
    GRAVEL = "gravel"
    TRACK = "track"

    @property
    def ground(self) -> GroundKind | None:
        """The ground it tells of; None if it tells of none."""
        told = (Reply.PAVED, Reply.GRAVEL, Reply.TRACK)
        return GroundKind(self.value) if self in told else None


@dataclass(frozen=True, slots=True, kw_only=True)
class PartAnswer(Plain):
    """An answer about a part of the route as it was sent, metres from its start."""

    from_m: float
    to_m: float
    reply: Reply

    def __post_init__(self) -> None:
        # Callers may pass the plain words.
        object.__setattr__(self, "reply", Reply(self.reply))
        if not 0 <= self.from_m < self.to_m:
            raise ValueError(f"no part of a route: {self.from_m} to {self.to_m}")

    def covers(self, from_m: float, to_m: float, share: float = 0.8) -> bool:
        """Whether it is about most of another part."""
        both = min(self.to_m, to_m) - max(self.from_m, from_m)
        return both >= share * (to_m - from_m)


class Outcome(StrEnum):
    """What became of an answer."""

    KEPT = "kept"
    ROUND = "round"  # left out; the ride goes another way
    SKIPPED = "skipped"  # left out: a way there and back, or the ride's first or last part
    NO_WAY = "no-way"  # to be left out, but no way round is mapped: still in the ride
    TOLD = "told"  # its ground was told, and counts
    OPEN = "open"  # nobody knows


@dataclass(frozen=True, slots=True, kw_only=True)
class AnsweredPart(Plain):
    """An answer with what became of it.

    now_from_m, now_to_m : where it, or the way round it, lies on the ride that was judged; both
        the same where it was skipped
    added_m : how much longer the ride is for it, negative if shorter; None if it is as sent
    roads : names of the longest roads of the way round
    gone_m : what is no longer ridden, (from, to) on the route as sent; None if all of it is
    words : what became of it, in a sentence; "" if there is nothing to say
    """

    _untold: ClassVar = ("answer", "gone_m")
    answer: PartAnswer
    outcome: Outcome
    now_from_m: float
    now_to_m: float
    added_m: float | None = None
    roads: tuple[str, ...] = ()
    gone_m: tuple[float, float] | None = None
    words: Message | str = ""

    def to_dict(self) -> dict[str, Any]:
        return {**self.answer.to_dict(), **Plain.to_dict(self)}


def as_sent(answered: Iterable[AnsweredPart], now_m: float) -> float:
    """Where a position on the ride lies on the route as it was sent.

    On a way round it is where that leaves the route.
    """
    moved_m = 0.0  # how much farther on the ride is than the route
    for part in sorted(answered, key=lambda part: part.now_from_m):
        if part.gone_m is None or part.gone_m[0] + moved_m < part.now_from_m - 1.0:
            continue  # kept, or told already by another answer
        if now_m <= part.now_from_m:
            break
        if now_m < part.now_to_m:
            return part.gone_m[0]
        moved_m = part.now_to_m - part.gone_m[1]
    return now_m - moved_m


#: Codes of the advice's questions that one part's reply answers.
TICKED = frozenset(
    ("ride-this-run", "skip-this-run", "rider-below-run", "which-ground", "which-one")
)


#: Codes of those about several parts, each of which gets a reply of its own.
PARTS_TICKED = frozenset(
    ("which-any", "which-parts", "which-parts-many", "which-parts-good", "which-parts-bad")
)


@dataclass(frozen=True, slots=True, kw_only=True)
class AskedPart(Plain):
    """A part of the ride that its rider is asked about.

    code : short stable name of why; from_m, to_m : on the ride that was judged
    sent_from_m, sent_to_m : on the route as it was sent, which answers go by
    about_ground : whether what is asked is its ground; else, whether it is meant to be ridden
    if_left : what leaving it out would mean; "" if that is not known beforehand
    again, sent_again : where else the same road is ridden, likewise; an answer is about all of them
    """

    code: str
    from_m: float
    to_m: float
    sent_from_m: float
    sent_to_m: float
    text: Message
    about_ground: bool
    if_left: Message | str
    again: tuple[tuple[float, float], ...] = ()
    sent_again: tuple[tuple[float, float], ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class AfterPart:
    """A part of the ride whose ground its rider is asked about afterwards.

    way_ids : OSM ids of its ways in riding order, each once; text : which part it is
    """

    from_m: float
    to_m: float
    way_ids: tuple[int, ...]
    text: Message
