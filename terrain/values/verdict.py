"""The answer to a ride: what forbids it, what endangers it, what to send out and what is not known.

Made once, by `terrain.stages.verdict`; every channel says this and adds no judgement of its own.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from itertools import pairwise
from typing import Any, ClassVar

from terrain.text.message import Message, after
from terrain.values.advice import RiderVerdict, SetupChoice, Tyres
from terrain.values.answers import AskedPart
from terrain.values.ground import Basis, GroundKind, by_land
from terrain.values.plain import Plain
from terrain.values.rounding import rounded


class Audience(StrEnum):
    """Who reads it. Facts are the same for all; what to do about them is not."""

    RIDER = "rider"
    STAFF = "staff"
    GUIDE = "guide"


class Rank(StrEnum):
    """How much harm a finding stands for, the gravest first.

    forbidden : the ride must not go like this; never left out, in no channel
    danger : somebody may get hurt or be left stranded
    care : goes well for who prepares for it
    note : good to know
    """

    FORBIDDEN = "forbidden"
    DANGER = "danger"
    CARE = "care"
    NOTE = "note"


class FindingKind(StrEnum):
    """What a finding is about; the order is the order within a rank."""

    CLOSED = "closed"  # tagged as closed to motorcycles, or only with permission
    NO_BIKE = "no-bike"  # no bike of the fleet may go
    WANTED_BIKE = "wanted-bike"  # the bike asked for must not go, or fits badly
    BEYOND_RIDER = "beyond-rider"  # or, as care, at the edge of what the rider can do
    OVERLOAD = "overload"
    DARK = "dark"
    HEAT = "heat"
    WATER = "water"  # fords, and what lies under water at times
    SEASON = "season"  # a road that may be shut, or too soft, ends a day whatever else is right
    REMOTE = "remote"
    HARD = "hard"
    FUEL = "fuel"
    BORDER = "border"  # a rented bike abroad: leave, insurance and papers
    STEEP = "steep"
    TUNNEL = "tunnel"  # long, and not lit by the map
    COLD = "cold"
    ENGINE = "engine"
    GUESS = "guess"  # the answer rests on a guess: of the way, or of the ground
    WISH = "wish"  # another kind of trip than the rider came for
    FERRY = "ferry"


@dataclass(frozen=True, slots=True, kw_only=True)
class RidePart(Plain):
    """A part of the ride, metres along it; both the same for a spot."""

    from_m: float
    to_m: float

    @property
    def length_m(self) -> float:
        return self.to_m - self.from_m


@dataclass(frozen=True, slots=True, kw_only=True)
class PerAudience(Plain):
    """One thing in the words for each audience; "" where there is nothing to say."""

    rider: Message | str
    staff: Message | str
    guide: Message | str

    def to(self, audience: Audience) -> Message | str:
        return {
            Audience.RIDER: self.rider,
            Audience.STAFF: self.staff,
            Audience.GUIDE: self.guide,
        }[audience]


def for_all(text: Message | str) -> PerAudience:
    """The same words for everybody."""
    return PerAudience(rider=text, staff=text, guide=text)


@dataclass(frozen=True, slots=True, kw_only=True)
class Finding:
    """One thing that a person must hear.

    what : the fact, without where it lies; why : its reason, "" if it needs none
    place : the name of the place that its longest part lies near, None if none is near or it is
        about all of the ride
    do : what to do about it, in whole sentences for each audience
    parts : every place of it in riding order, apart from each other; empty if it is not about a
        part of the ride but about all of it
    size : how bad it is, for the order among findings of one rank and kind; in what unit the kind
        measures
    """

    kind: FindingKind
    rank: Rank
    what: Message
    do: PerAudience
    parts: tuple[RidePart, ...] = ()
    place: str | None = None
    size: float = 0.0
    why: Message | str = ""

    def __post_init__(self) -> None:
        ends = [0.0, *(at_m for part in self.parts for at_m in (part.from_m, part.to_m))]
        if any(b < a for a, b in pairwise(ends)):
            raise ValueError(f"parts out of order: {self.parts}")

    @property
    def told(self) -> Message:
        """The fact with its reason."""
        return after(self.what, self.why)

    @property
    def from_m(self) -> float | None:
        """Where the first place starts; None if it is the whole ride."""
        return self.parts[0].from_m if self.parts else None

    @property
    def to_m(self) -> float | None:
        """Where the last place ends; None if it is the whole ride."""
        return self.parts[-1].to_m if self.parts else None

    @property
    def length_m(self) -> float | None:
        """Sum over all places; None if it is the whole ride."""
        return sum(part.length_m for part in self.parts) if self.parts else None

    @property
    def longest(self) -> RidePart | None:
        """The longest of its places, the first of those that are equally long."""
        return max(self.parts, key=lambda part: part.length_m, default=None)

    def to_dict(self, ride_m: float) -> dict[str, Any]:
        """For JSON; what is about all of the ride lies from its start to its end.

        ride_m : length of the ride; `do` is told to the rider, `do_for` to each audience
        """
        parts = self.parts or (RidePart(from_m=0.0, to_m=ride_m),)
        told = [rounded(part.to_dict()) for part in parts]
        span_m = told[-1]["to_m"] - told[0]["from_m"]
        return {
            "kind": self.kind.value,
            "rank": self.rank.value,
            "from_m": told[0]["from_m"],
            "to_m": told[-1]["to_m"],
            "length_m": round(min(sum(part.length_m for part in parts), span_m), 1),
            "parts": told,
            "place": self.place,
            "what": self.told,
            "do": self.do.rider,
            "do_for": self.do.to_dict(),
        }


class Sureness(StrEnum):
    """How sure the answer is, in four steps."""

    NEARLY_CERTAIN = "nearly-certain"
    VERY_LIKELY = "very-likely"
    LIKELY = "likely"
    NOT_CERTAIN = "not-certain"
    AS_GUESSED = "as-guessed"  # in reports made before firm answers allowed for other ways


@dataclass(frozen=True, slots=True, kw_only=True)
class Certainty:
    """How sure the answer is.

    p : probability that it is right, 0..1; None if it is open or was decided by the desk
    sureness : the same in steps, None with p; text : in words, "" with None
    """

    p: float | None = None
    sureness: Sureness | None = None
    text: Message | str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class BookedBike(Plain):
    """What becomes of the class the customer asked for.

    bike : class; title : as people call it
    fits : False if it must not go, or is not in the fleet; None if it may but another is better
    why : in a sentence
    """

    _keys: ClassVar = {"bike": "class"}
    bike: str
    title: str
    fits: bool | None
    why: Message


@dataclass(frozen=True, slots=True, kw_only=True)
class Unknown(Plain):
    """Something the report cannot say.

    key : the key of the JSON that is null, empty or a guess because of it; a missing fact has one
    why : one sentence
    length_m : how much of the ride; None if all of it or not a matter of length
    parts : where, in riding order; empty if it is about no part of the ride
    """

    _untold: ClassVar = ("parts",)
    _digits: ClassVar = {"length_m": 1}
    key: str
    why: Message | str
    length_m: float | None = None
    parts: tuple[RidePart, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Section(Plain):
    """A run of the ride that is told as one: few enough for a person to read.

    number : 1 for the first; from_m, to_m : metres along the ride
    ground : the ground of most of it; lengths : (ground, metres) of the stretches in it
    p : mean probabilities of paved, gravel, track of its land stretches by length; None if none
    basis : (basis, metres), the most first; names : road names in it, the longest first
    highway : class of road of most of it, None off the map
    unnamed : whether more of it has no name than bears the first of the names
    first, last : indices of its stretches in the report, both included
    time_s : riding time; up_m, down_m : climb and descent; None where too little is known
    """

    _untold: ClassVar = ("number", "lengths", "basis", "first", "last")
    number: int
    from_m: float
    to_m: float
    ground: GroundKind
    lengths: tuple[tuple[GroundKind, float], ...]
    p: tuple[float, float, float] | None
    basis: tuple[tuple[Basis, float], ...]
    names: tuple[str, ...]
    unnamed: bool
    highway: str | None
    first: int
    last: int
    time_s: float | None
    up_m: float | None
    down_m: float | None

    @property
    def length_m(self) -> float:
        return self.to_m - self.from_m

    def to_dict(self) -> dict[str, Any]:
        told: dict[str, Any] = rounded(Plain.to_dict(self))
        if self.p is not None:
            told["p"] = rounded(by_land(self.p))
        basis = {key.value: round(length_m, 1) for key, length_m in self.basis}
        return {**told, "basis_m": basis}


@dataclass(frozen=True, slots=True, kw_only=True)
class Verdict:
    """What a person must hear about a ride, the same for every channel.

    answer : how to send the bike out; tyres : what to fit, None if to be settled
    certainty : how sure that is
    headline : the answer in a sentence or two, what forbids first
    worst : what matters most and nothing else: all that forbids, or the question, or the answer
    aside : what to hear beside it where setup and bike stand on their own; "" for none
    lead : the desk's reason if it decided, the bike, the one thing to settle first; "" for none
    setup : "Road setup", without how sure; to_settle : the one thing to settle, "" if none
    bike_text : it as a sentence, "" if there is none; says so where it fits poorly
    bike, bike_title : the class that goes first; None if none may go, or none can be named
    booked : what becomes of the class asked for; None if none was
    rider : how the ride suits the rider
    riding_s : (most likely, low, high) time in the saddle, 90 % band; None if not known
    findings : by harm, the gravest first; each `forbidden` one must be said in every channel
    unknown : what cannot be said; sections : the ride in few pieces, in riding order
    asked : the parts that the rider has to say yes or no to
    decided : whether the desk decided it
    """

    answer: SetupChoice
    tyres: Tyres | None
    certainty: Certainty
    headline: Message
    worst: Message
    aside: Message | str
    lead: Message | str
    setup: Message
    to_settle: Message | str
    bike: str | None
    bike_title: str | None
    bike_text: str
    booked: BookedBike | None
    rider: RiderVerdict
    riding_s: tuple[float, float, float] | None
    findings: tuple[Finding, ...]
    unknown: tuple[Unknown, ...]
    sections: tuple[Section, ...]
    asked: tuple[AskedPart, ...] = ()
    decided: bool = False

    def of(self, *ranks: Rank) -> tuple[Finding, ...]:
        """The findings of these ranks, in the verdict's order."""
        return tuple(item for item in self.findings if item.rank in ranks)

    @property
    def forbidden(self) -> tuple[Finding, ...]:
        return self.of(Rank.FORBIDDEN)

    def to_dict(self, ride_m: float) -> dict[str, Any]:
        """The contract's `verdict` object. ride_m : length of the ride"""
        certainty = self.certainty
        return {
            "answer": self.answer.value,
            "certainty": rounded(certainty.p, "certainty"),
            "sureness": None if certainty.sureness is None else certainty.sureness.value,
            "headline": self.headline,
            "lead": self.lead,
            "to_settle": self.to_settle,
            "bike": self.bike,
            "wanted": None if self.booked is None else self.booked.to_dict(),
            "rider": self.rider.value,
            "findings": [item.to_dict(ride_m) for item in self.findings],
            "unknown": [item.to_dict() for item in self.unknown],
            "asked": [rounded(item.to_dict()) for item in self.asked],
            "decided": self.decided,
        }

    def first(self, most: int) -> tuple[Finding, ...]:
        """All that forbids, then the gravest others up to `most`, each kind of these once, but
        each thing that closes the way: a locked gate says nothing of a private road."""
        others: dict[tuple[FindingKind, str], Finding] = {}
        for item in self.findings:
            if item.rank is not Rank.FORBIDDEN:
                apart = str(item.what) if item.kind is FindingKind.CLOSED else ""
                others.setdefault((item.kind, apart), item)
        return (*self.forbidden, *list(others.values())[:most])


@dataclass(frozen=True, slots=True, kw_only=True)
class StaffDecision:
    """The rental desk's own decision in place of the advice.

    setup : how the bike goes out; bike : class that goes first, "" for no change
    reason : why, as typed; who : decided; unix_s : when
    """

    setup: SetupChoice
    bike: str
    reason: str
    who: str
    unix_s: float
