"""What the ground is, how sure we are, and what that rests on."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date
from enum import IntEnum, IntFlag, StrEnum
from typing import Any, ClassVar, NamedTuple

import numpy as np

from terrain.values.arrays import (
    Columns,
    Float32Array,
    FloatArray,
    Int8Array,
    Int16Array,
    Int32Array,
)
from terrain.values.plain import Plain


class GroundKind(StrEnum):
    """What is under the wheels."""

    PAVED = "paved"  # sealed or bound surface
    GRAVEL = "gravel"  # unsealed but built and maintained
    TRACK = "track"  # unsealed, unbuilt or degraded
    FERRY = "ferry"
    UNMAPPED = "unmapped"


#: The grounds that carry a probability, in the order of every (n, 3) array.
LAND_GROUNDS: tuple[GroundKind, ...] = (GroundKind.PAVED, GroundKind.GRAVEL, GroundKind.TRACK)


class Basis(StrEnum):
    """What a stretch's ground rests on."""

    TAGGED = "tagged"  # a surface tag
    GRADED = "graded"  # tracktype or smoothness
    INFERRED = "inferred"  # class and surroundings
    NOTED = "noted"  # the operator's own note
    UNMAPPED = "unmapped"


#: The order of the codes in WayGround.basis and Ground.basis; -1 is a ferry.
BASES: tuple[Basis, ...] = tuple(Basis)


class SeasonRisk(StrEnum):
    """What rain and snow may do to a stretch in the month of the trip.

    none : hard ground; rain makes it wet, not soft
    damp : may be soft or slippery after rain, in a month that is not wet
    doubtful : a wet month; may be impassable after rain
    confirm-first : a month of heavy rain, snow that may lie, or a road made for another season;
        may be impassable for days, so take it as shut until somebody local says it is open
    """

    NONE = "none"
    DAMP = "damp"
    DOUBTFUL = "doubtful"
    CONFIRM_FIRST = "confirm-first"


class SeasonCause(StrEnum):
    """What a season risk comes of."""

    RAIN = "rain"  # softens
    THAW = "thaw"  # frozen and soft by turns
    SNOW = "snow"  # shuts
    FROST = "frost"  # a road made for frost, and gone without it
    TAGGED = "tagged"  # the map says that it is open at some season only


class Severity(IntEnum):
    """How hard a stretch is to ride, 0 to 5; terrain/tables/ground_severity.py says more."""

    SMOOTH = 0
    EASY = 1
    LOOSE = 2
    ROUGH = 3
    HARD = 4
    EXTREME = 5


@dataclass(frozen=True, slots=True, kw_only=True)
class Share(Plain):
    """A share 0..1 of matched land length with its 90 % interval."""

    best: float
    low: float
    high: float

    def __post_init__(self) -> None:
        if not 0 <= self.low <= self.best <= self.high <= 1:
            raise ValueError(f"share out of order: {self.low} {self.best} {self.high}")


@dataclass(frozen=True, slots=True, kw_only=True)
class TagFact(Plain):
    """A tag of the map, or a line of the operator's notes, that a judgement rests on.

    edited : date of the way's last edit, ISO 8601; None if not known
    """

    way_id: int
    key: str
    value: str
    edited: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Count(Plain):
    """Tagged ways that were counted for an untagged one.

    what : "near" (same kind of road nearby), "road" (same name or number), "joined" (touching)
    n : how many tagged ways counted; paved, gravel, track, unpaved : how many of them were
        which ("unpaved" tells no more than that)
    within_km : how far the count reached; None where distance did not matter
    examples : the surface tags of some of them, the strongest first
    """

    _digits: ClassVar = {"within_km": 1}
    what: str
    n: int
    paved: int
    gravel: int
    track: int
    unpaved: int = 0
    within_km: float | None = None
    examples: tuple[TagFact, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class GroundNote(Plain):
    """What the operator knows of a piece of ground.

    way_id : the OSM way it is about; None if `line` says where
    line : (lon, lat) along it; one point for a spot; empty with a way_id
    ground, severity : None if the note does not say
    noted : when it was seen; None if not told
    source : file and line, as shown to people
    trust : belief in it on the day it was made, 0..1; None takes that of the operator's own
    """

    _keys: ClassVar = {"noted": "date"}
    _untold: ClassVar = ("way_id", "line", "trust")
    way_id: int | None = None
    line: tuple[tuple[float, float], ...] = ()
    ground: GroundKind | None = None
    severity: Severity | None = None
    noted: date | None = None
    who: str = ""
    remark: str = ""
    source: str = ""
    trust: float | None = None

    def __post_init__(self) -> None:
        if self.ground is not None and self.ground not in LAND_GROUNDS:
            raise ValueError(f"a note cannot say {self.ground}")
        if (self.way_id is None) == (not self.line):
            raise ValueError("a note needs either a way or a line")


@dataclass(frozen=True, slots=True, kw_only=True)
class Evidence(Plain):
    """What a stretch's ground rests on, in words and as the tags and counts behind them.

    clashes : tags that do not fit each other, in words
    season, ride : why the season risk and the severity are what they are, in words
    note : the operator's note that decided, if one did
    """

    text: str
    tags: tuple[TagFact, ...] = ()
    counts: tuple[Count, ...] = ()
    clashes: tuple[str, ...] = ()
    season: str = ""
    ride: str = ""
    note: GroundNote | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Stretch(Plain):
    """A run of the ride with one way and one ground.

    from_m, to_m : metres along the ride
    way : row in the region's ways, -1 off the map; way_id OSM id, None off the map
    p : probabilities of paved, gravel, track; None on a ferry and off the map
    season_risk : None if neither month nor rain is known; season_cause : what it comes of, None
        where there is no risk
    severity : None on a ferry and off the map; severity_tagged : a tag or note says so, else it
        is inferred
    """

    _untold: ClassVar = ("way",)
    from_m: float
    to_m: float
    way: int
    way_id: int | None
    highway: str | None
    surface: str | None
    name: str | None
    ground: GroundKind
    p: tuple[float, float, float] | None
    basis: Basis | None
    season_risk: SeasonRisk | None
    season_cause: SeasonCause | None = None
    severity: Severity | None
    severity_tagged: bool = False
    evidence: Evidence

    @property
    def length_m(self) -> float:
        return self.to_m - self.from_m

    def to_dict(self) -> dict[str, Any]:
        told = Plain.to_dict(self)
        if self.p is not None:
            told["p"] = by_land(self.p)
        return told


_LAND_KEYS = tuple(map(str, LAND_GROUNDS))


def by_land(values: Iterable[float]) -> dict[str, float]:
    """Three values by the ground each is of: paved, gravel, track."""
    return dict(zip(_LAND_KEYS, values, strict=True))


class Clash(IntFlag):
    """Tags of one way that do not fit each other, one bit each."""

    SURFACE_TRACKTYPE = 1
    SURFACE_SMOOTHNESS = 2
    TRACKTYPE_SMOOTHNESS = 4


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class WayEvidence(Columns):
    """What was counted for the ways without a surface tag. Shape (w, ...).

    near, road, joined : (w, 4) counts of tagged ways (paved, gravel, track, only "unpaved"):
        the nearest of the same class, those of the same name or number, those that touch
    near_m : distance to the farthest one counted in `near` [m]; NaN none
    near_way, road_way, joined_way : rows of some of them, -1 none
    chain : number of the run of ways that go straight on as one road
    """

    near: Int16Array
    near_m: Float32Array
    near_way: Int32Array
    road: Int16Array
    road_way: Int32Array
    joined: Int16Array
    joined_way: Int32Array
    chain: Int32Array


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class WayGround(Columns):
    """The ground of every way of a region, made at build.

    Per way, shape (w,): p float32 (w, 3) probabilities of LAND, none 0 or 1; basis code in
    BASES; clash bits of Clash; evidence what was counted.
    map_day : days since 1970-01-01 of the map's newest edit, -1 not known
    """

    p: Float32Array
    basis: Int8Array
    clash: Int8Array
    evidence: WayEvidence
    map_day: int = -1

    def __len__(self) -> int:
        return len(self.basis)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Alternative(Columns):
    """One way the ride may have gone between two far-apart points.

    from_m, to_m : the part of the ride it is about; parts are the same or do not overlap
    weight : how likely it is among those of the same part; they need not sum to 1
    way, length_m : rows of the ways ridden and how far on each, shape (j,); -1 off the map
    ridden : True for the one the match holds
    """

    from_m: float
    to_m: float
    weight: float
    way: Int32Array
    length_m: FloatArray
    ridden: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Option(Plain):
    """One way through a part of the ride: how likely, how long, and its expected shares."""

    weight: float
    length_m: float
    paved: float
    gravel: float
    track: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Choice(Plain):
    """A part of the ride where several ways are plausible.

    matters : largest difference the choice makes to the paved share of the whole ride, 0..1
    """

    from_m: float
    to_m: float
    matters: float
    options: tuple[Option, ...]


class Errors(NamedTuple):
    """What the error of a guess is shared with.

    shared : (group, part of the variance), one for each grouping, in the same order for all
    split : (group, variance) of the error of track against gravel beside that
    """

    shared: tuple[tuple[int, float], ...] = ()
    split: tuple[int, float] = (0, 0.0)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Ground(Columns):
    """The ground of a ride.

    Legs, shape (k,): p (k, 3), NaN on ferries and off the map; basis code in BASES, -1 on a
    ferry; severity 0..5, -1 not known.
    shares : of matched length on land, by LAND; None where no land was matched
    basis_shares : share of the length on land (ferries left out) by what it rests on, sum 1
    choices : parts where several ways are plausible, the one that matters most first
    words : what the shares rest on, in sentences
    ways : the ground of every way of the region, the operator's notes heeded
    errors : of each stretch, what its error is shared with
    """

    p: FloatArray
    basis: Int8Array
    severity: Int8Array
    stretches: tuple[Stretch, ...]
    shares: Mapping[GroundKind, Share] | None
    basis_shares: Mapping[Basis, float]
    choices: tuple[Choice, ...] = ()
    words: tuple[str, ...] = ()
    ways: WayGround | None = None
    errors: tuple[Errors, ...] = ()

    @property
    def way_p(self) -> FloatArray:
        """Probabilities of paved, gravel, track per way of the region, shape (w, 3)."""
        p = np.zeros((0, 3)) if self.ways is None else self.ways.p
        return np.asarray(p, dtype=np.float64)

    def to_dict(self) -> dict[str, Any]:
        """The contract's `ground` object; the stretches are joined elsewhere."""
        shares = self.shares
        return {
            "shares": {
                kind.value: None if shares is None else shares[kind].to_dict()
                for kind in LAND_GROUNDS
            },
            "basis": {basis.value: self.basis_shares.get(basis, 0.0) for basis in BASES},
            "choices": [choice.to_dict() for choice in self.choices],
            "words": list(self.words),
        }
