"""Advice: what it is made from, and what it says. Every sentence carries its numbers."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum
from typing import Any

from terrain.text.message import Number as Number
from terrain.text.message import Sentence
from terrain.values.fleet import Fleet
from terrain.values.ground import Basis, GroundKind, SeasonRisk, Severity
from terrain.values.places import AreaRun
from terrain.values.trip import Trip

# -- what advice is made from --------------------------------------------------------------------


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
    BORDER = "border"
    MILITARY = "military"  # within an area
    PROTECTED = "protected"  # within an area
    BARRIER = "barrier"


# Told at a point of the ride, not as a run.
SPOT_LAWS = frozenset({LawKind.BORDER, LawKind.BARRIER})


@dataclass(frozen=True, slots=True, kw_only=True)
class AdviceStretch:
    """One stretch of the ride with all that advice needs of it.

    from_m, to_m : metres along the ride
    p : probabilities of paved, gravel, track; None on a ferry and off the map
    time_s : riding time, 0 on a ferry
    severity : 0..5, None not known
    smoothness : as tagged, for the first vehicle that gets through
    way : stretches of the same number are one guess about the ground; -1 a guess of its own
    errors : (group, part) of the variance of the guess's error that it shares with a group; one
        for each grouping, in the same order on all stretches; empty if it shares none
    """

    from_m: float
    to_m: float
    ground: GroundKind
    p: tuple[float, float, float] | None
    time_s: float
    speed_kph: float | None = None
    severity: float | None = None
    season_risk: SeasonRisk | None = None
    grade_pct: float | None = None
    basis: Basis | None = None
    highway: str | None = None
    surface: str | None = None
    name: str | None = None
    way: int = -1
    errors: tuple[tuple[int, float], ...] = ()
    ford: bool = False
    smoothness: str | None = None
    laws: tuple[LawKind, ...] = ()

    @property
    def length_m(self) -> float:
        return self.to_m - self.from_m

    @property
    def impassable(self) -> bool:
        """Tagged so for every wheeled vehicle."""
        return self.smoothness == "impassable"

    @property
    def broken(self) -> bool:
        """Sealed ground that a tag or a note tells as hard to ride as a track."""
        return (
            self.ground is GroundKind.PAVED
            and self.basis in (Basis.TAGGED, Basis.GRADED, Basis.NOTED)
            and (self.severity or 0.0) >= Severity.ROUGH
        )

    @property
    def off_tarmac(self) -> bool:
        """Rides as gravel or track."""
        return self.ground in (GroundKind.GRAVEL, GroundKind.TRACK) or self.broken


@dataclass(frozen=True, slots=True, kw_only=True)
class OneWay:
    """A way the ride may have gone instead, and how likely; positions of its own from its start."""

    weight: float
    stretches: tuple[AdviceStretch, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class OtherWays:
    """A part of the ride between two far-apart points that may have gone other ways.

    weight : how likely the way is that was taken for it, on the scale of the others' weights
    """

    from_m: float
    to_m: float
    weight: float
    ways: tuple[OneWay, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Spot:
    """Something that matters at one point of the ride, such as a ford or a border post."""

    at_m: float
    kind: str  # "ford" or a LawKind
    name: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class HeatFacts:
    """Heat of the ride; None where not known.

    max_wbgt_c, max_wbgt_riding_c : standing or at walking pace in the sun; in the wind of riding
    hot_at_m : where on the ride it is hottest
    caution_s : riding time at or above the first caution level for the rider
    fan_s : riding time in which the engine depends on its fan
    fan_from_m, fan_to_m : the hardest part for the engine
    class_fan_s : the same time by bike class; classes left out take fan_s
    """

    max_air_temp_c: float | None = None
    hot_at_m: float | None = None
    max_heat_index_c: float | None = None
    max_wbgt_c: float | None = None
    max_wbgt_riding_c: float | None = None
    caution_s: float | None = None
    fan_s: float | None = None
    fan_from_m: float | None = None
    fan_to_m: float | None = None
    class_fan_s: tuple[tuple[str, float], ...] = ()

    def fan_s_of(self, name: str) -> float | None:
        """Riding time in which a class depends on its fan [s]; None where not known."""
        return dict(self.class_fan_s).get(name, self.fan_s)


@dataclass(frozen=True, slots=True, kw_only=True)
class ClassReach:
    """How far from help one bike class gets; None where not known.

    known : False if nothing that counts as help for it is known
    farthest_s, farthest_m, at_m : the point farthest from help by time
    remote_m : length of the ride beyond the operator's limits for it
    """

    name: str
    known: bool
    farthest_s: float | None = None
    farthest_m: float | None = None
    at_m: float | None = None
    remote_m: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class AdviceInputs:
    """All that advice needs, and nothing else; None where not known.

    month : 1..12 of the departure
    n_days, day_s, day_from_m, day_to_m : riding days of the plan; the longest, with its time
    days : from and to of each day [m]; equal days are taken if empty
    max_ele_m, max_ele_at_m, rise_m : highest point; how far it lies above the start
    mechanic_s, mechanic_m, mechanic_at_m : the point farthest from any mechanic
    remote_m : length of the ride beyond the operator's limits
    hospital_s, hospital_at_m : the point farthest from a hospital
    reach : by bike class
    ramps : steep parts of the ride, (from_m, to_m, grade_pct); None if heights are not known
    fuel_gap_m, fuel_gap_from_m : longest way between two fills, with the ways to the pumps;
        fuel_gap_tarmac_m : the metres of tarmac that burn as much
    places : named places the ride passes, in riding order
    areas : the parts within military and protected areas; None if the region holds no areas
    gaps : parts of the ride between two points too far apart to show the way, (from_m, to_m)
    other_ways : those where another way is known that may have been meant
    """

    stretches: tuple[AdviceStretch, ...]
    trip: Trip
    fleet: Fleet
    month: int | None = None
    n_days: int | None = None
    day_s: float | None = None
    day_from_m: float | None = None
    day_to_m: float | None = None
    days: tuple[tuple[float, float], ...] = ()
    max_ele_m: float | None = None
    max_ele_at_m: float | None = None
    rise_m: float | None = None
    mechanic_s: float | None = None
    mechanic_m: float | None = None
    mechanic_at_m: float | None = None
    remote_m: float = 0.0
    hospital_s: float | None = None
    hospital_at_m: float | None = None
    reach: tuple[ClassReach, ...] = ()
    fuel_gap_m: float | None = None
    fuel_gap_from_m: float | None = None
    fuel_gap_tarmac_m: float | None = None
    heat: HeatFacts = HeatFacts()
    spots: tuple[Spot, ...] = ()
    areas: tuple[AreaRun, ...] | None = None
    ramps: tuple[tuple[float, float, float], ...] | None = None
    places: tuple[Spot, ...] = ()
    gaps: tuple[tuple[float, float], ...] = ()
    other_ways: tuple[OtherWays, ...] = ()

    @property
    def length_m(self) -> float:
        return self.stretches[-1].to_m if self.stretches else 0.0

    def reach_of(self, name: str) -> ClassReach | None:
        return next((r for r in self.reach if r.name == name), None)


# -- what it says --------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True)
class Said:
    """One sentence of advice, with the numbers it rests on.

    code : short stable name of what is said, such as "long-gravel"
    text : the sentence; its numbers may be more than its message shows
    from_m, to_m : the part of the ride it is about; None if it is about all of it
    source : where a rule comes from; empty for what was computed
    """

    code: str
    text: Sentence
    from_m: float | None = None
    to_m: float | None = None
    source: str = ""

    @property
    def message(self) -> str:
        """The sentence with its numbers left open, such as "{run_m} of track"."""
        return self.text.message

    @property
    def numbers(self) -> tuple[tuple[str, Number], ...]:
        return self.text.numbers

    def to_dict(self) -> dict[str, Any]:
        return {
            "code": self.code,
            "text": self.text,
            "message": self.message,
            "numbers": dict(self.numbers),
            "from_m": self.from_m,
            "to_m": self.to_m,
            "source": self.source or None,
        }


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
class Flip:
    """What would change the answer: if this holds, then that choice."""

    said: Said
    then: SetupChoice

    def to_dict(self) -> dict[str, Any]:
        return {**self.said.to_dict(), "then": self.then.value}


@dataclass(frozen=True, slots=True, kw_only=True)
class Setup:
    """Road or off-road setup.

    p_off_road : probability that the ride is one for off-road setup; None if nothing is known
    off_road_s : weighted off-road riding time [s], with its 90 % interval; of ride_s in all
    hard_s : riding time on ground that road tyres cannot do, with its 90 % interval
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
    pressures: tuple[Said, ...]
    reasons: tuple[Said, ...]
    flips: tuple[Flip, ...]

    def to_dict(self) -> dict[str, Any]:
        return {
            "choice": self.choice.value,
            "p_off_road": self.p_off_road,
            "ride_s": self.ride_s,
            "off_road_s": _interval(self.off_road_s),
            "hard_s": _interval(self.hard_s),
            "plausible_low_s": self.plausible_low_s,
            "plausible_high_s": self.plausible_high_s,
            "tyres": None if self.tyres is None else self.tyres.value,
            "pressures": _said(self.pressures),
            "reasons": _said(self.reasons),
            "flips": [flip.to_dict() for flip in self.flips],
        }


@dataclass(frozen=True, slots=True, kw_only=True)
class Contribution:
    """One line of the table behind a fit.

    score : 0..1; None if what it takes is not known
    points : weight times score, over the sum of the weights whose scores are known
    """

    what: str
    weight: float
    score: float | None
    points: float | None

    def to_dict(self) -> dict[str, Any]:
        return {
            "what": self.what,
            "weight": self.weight,
            "score": self.score,
            "points": self.points,
        }


@dataclass(frozen=True, slots=True, kw_only=True)
class BikeFit:
    """How well one bike class fits. fit 0..1 is the sum of the points in the table."""

    name: str
    title: str
    fit: float
    table: tuple[Contribution, ...]
    reasons: tuple[Said, ...]
    against: tuple[Said, ...]

    def to_dict(self) -> dict[str, Any]:
        return {
            "class": self.name,
            "title": self.title,
            "fit": self.fit,
            "table": [row.to_dict() for row in self.table],
            "reasons": _said(self.reasons),
            "against": _said(self.against),
        }


@dataclass(frozen=True, slots=True, kw_only=True)
class Excluded:
    """A bike class that must not go, and why."""

    name: str
    title: str
    reasons: tuple[Said, ...]

    def to_dict(self) -> dict[str, Any]:
        return {"class": self.name, "title": self.title, "reasons": _said(self.reasons)}


class RiderVerdict(StrEnum):
    """How the ride suits the rider."""

    WITHIN = "within"
    STRETCHING = "stretching"
    BEYOND = "beyond"


@dataclass(frozen=True, slots=True, kw_only=True)
class RiderFit:
    """How the ride suits the rider; reasons that stretch or go beyond them, worst first.

    n_beyond : how many of the reasons, from the first, are beyond them
    """

    rider: str
    verdict: RiderVerdict
    text: str
    reasons: tuple[Said, ...]
    n_beyond: int = 0

    def to_dict(self) -> dict[str, Any]:
        return {
            "rider": self.rider,
            "verdict": self.verdict.value,
            "text": self.text,
            "reasons": _said(self.reasons),
        }


@dataclass(frozen=True, slots=True, kw_only=True)
class Advice:
    """Setup, bikes, rider, spares, checks, questions, cautions, law.

    wanted : what to say about the class the customer asked for; None if none was
    rests_on : what the advice rests on: map, practice, the operator's own log
    """

    setup: Setup
    excluded: tuple[Excluded, ...]
    bikes: tuple[BikeFit, ...]
    wanted: Said | None
    rider: RiderFit
    spares: tuple[Said, ...]
    checks: tuple[Said, ...]
    questions: tuple[Said, ...]
    cautions: tuple[Said, ...]
    law: tuple[Said, ...]
    weights: Mapping[str, float]
    rests_on: tuple[Said, ...]

    def to_dict(self) -> dict[str, Any]:
        """The contract's `advice` object."""
        return {
            "setup": self.setup.to_dict(),
            "excluded": [item.to_dict() for item in self.excluded],
            "bikes": [bike.to_dict() for bike in self.bikes],
            "wanted": None if self.wanted is None else self.wanted.to_dict(),
            "rider": self.rider.to_dict(),
            "spares": _said(self.spares),
            "checks": _said(self.checks),
            "questions": _said(self.questions),
            "cautions": _said(self.cautions),
            "law": _said(self.law),
            "weights": dict(self.weights),
            "rests_on": _said(self.rests_on),
        }


def _said(items: tuple[Said, ...]) -> list[dict[str, Any]]:
    return [item.to_dict() for item in items]


def _interval(values: tuple[float, float, float]) -> dict[str, float]:
    best, low, high = values
    return {"best": best, "low": low, "high": high}
