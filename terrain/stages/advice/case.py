"""All that advice reads of a ride, and nothing else."""

from __future__ import annotations

from dataclasses import dataclass, field, replace

from terrain.values.advice import LawKind
from terrain.values.arrays import FloatArray
from terrain.values.fleet import Fleet
from terrain.values.ground import Basis, Errors, GroundKind, SeasonCause, SeasonRisk, Severity
from terrain.values.heat import Heat
from terrain.values.help import ClassHelp
from terrain.values.places import AreaRun, PlacesAlong, RideNode
from terrain.values.trip import Three, Trip

# Riding times that differ by less than a share, or than some minutes, are told as the same.
# All common practice, no source.
_AS_LONG, _AS_LONG_S = 0.05, 300.0
#: What a tag or a note tells, and nobody has to guess.
SEEN = (Basis.TAGGED, Basis.GRADED, Basis.NOTED)


def three(values: FloatArray) -> Three:
    paved, gravel, track = values.tolist()
    return paved, gravel, track


@dataclass(frozen=True, slots=True, kw_only=True)
class AdviceStretch:
    """One stretch of the ride with all that advice needs of it.

    from_m, to_m : metres along the ride
    p : probabilities of paved, gravel, track; None on a ferry and off the map
    time_s : riding time, 0 on a ferry; usual_s : of a steady rider alone, the same if None
    ground_s : of that rider if it were paved, gravel, track; as long on each if None
    severity : 0..5, None not known
    smoothness : as tagged, for the first vehicle that gets through
    way : stretches of the same number are one guess about the ground; -1 a guess of its own
    errors : what the guess's error is shared with
    """

    from_m: float
    to_m: float
    ground: GroundKind
    p: tuple[float, float, float] | None
    time_s: float
    usual_s: float | None = None
    ground_s: Three | None = None
    speed_kph: float | None = None
    severity: float | None = None
    season_risk: SeasonRisk | None = None
    season_cause: SeasonCause | None = None
    grade_pct: float | None = None
    basis: Basis | None = None
    highway: str | None = None
    surface: str | None = None
    name: str | None = None
    way: int = -1
    errors: Errors = field(default_factory=Errors)
    ford: bool = False
    smoothness: str | None = None
    laws: tuple[LawKind, ...] = ()

    @property
    def length_m(self) -> float:
        return self.to_m - self.from_m

    def as_usual(self) -> AdviceStretch:
        """The stretch with the usual rider's time."""
        return self if self.usual_s is None else replace(self, time_s=self.usual_s)

    @property
    def time_on_s(self) -> Three:
        """Riding time if it were paved, gravel, track: this rider is as much slower on each."""
        if self.ground_s is None or not self.usual_s or self.broken:
            return self.time_s, self.time_s, self.time_s
        paved, gravel, track = self.ground_s
        slower = self.time_s / self.usual_s
        return slower * paved, slower * gravel, slower * track

    @property
    def impassable(self) -> bool:
        """Tagged so for every wheeled vehicle, or steps."""
        return self.smoothness == "impassable" or self.highway == "steps"

    @property
    def broken(self) -> bool:
        """Sealed ground that a tag or a note tells as hard to ride as a track."""
        hard = (self.severity or 0.0) >= Severity.ROUGH  # first, as it holds of few stretches
        return hard and self.ground is GroundKind.PAVED and self.basis in SEEN

    @property
    def off_tarmac(self) -> bool:
        """Rides as gravel or track."""
        return self.ground in (GroundKind.GRAVEL, GroundKind.TRACK) or self.broken


@dataclass(frozen=True, slots=True, kw_only=True)
class AlternativeRoute:
    """A way the ride may have gone instead, and how likely; positions of its own from its start."""

    weight: float
    stretches: tuple[AdviceStretch, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Alternatives:
    """A part of the ride between two far-apart points that may have gone other ways.

    weight : how likely the way is that was taken for it, on the scale of the others' weights
    """

    from_m: float
    to_m: float
    weight: float
    ways: tuple[AlternativeRoute, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class AdviceCase:
    """All that advice needs, and nothing else; None where not known.

    month : 1..12 of the departure
    n_days, day_s, day_from_m, day_to_m : riding days of the plan; the longest, with its time
    days : from and to of each day [m]; equal days are taken if empty
    max_ele_m, max_ele_at_m, rise_m : highest point; how far it lies above the start
    mechanic_s, mechanic_m : farthest from any mechanic by time, and by way
    mechanic_at_m, mechanic_there_m : the point farthest by time, and the way from there
    remote_m : length of the ride beyond the operator's limits
    alone : somewhere neither a mechanic nor a town within the limits can be reached
    hospital_s, hospital_at_m : the point farthest from a hospital; hospital_ferry_m : of the way
    reach : by bike class
    ramps : steep parts of the ride, (from_m, to_m, grade_pct); None if heights are not known
    fuel_gap_m, fuel_gap_from_m : longest way between two fills, with the ways to the pumps;
        fuel_gap_tarmac_m : the metres of tarmac that burn as much
    nodes : fords, border posts and barriers; places : what lies along the ride
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
    mechanic_there_m: float | None = None
    remote_m: float = 0.0
    alone: bool = False
    hospital_s: float | None = None
    hospital_at_m: float | None = None
    hospital_ferry_m: float = 0.0
    reach: tuple[ClassHelp, ...] = ()
    fuel_gap_m: float | None = None
    fuel_gap_from_m: float | None = None
    fuel_gap_tarmac_m: float | None = None
    heat: Heat = field(default_factory=Heat)
    nodes: tuple[RideNode, ...] = ()
    areas: tuple[AreaRun, ...] | None = None
    ramps: tuple[tuple[float, float, float], ...] | None = None
    places: PlacesAlong | None = None
    gaps: tuple[tuple[float, float], ...] = ()
    other_ways: tuple[Alternatives, ...] = ()

    @property
    def length_m(self) -> float:
        return self.stretches[-1].to_m if self.stretches else 0.0

    def as_usual(self) -> AdviceCase:
        """The ride as the usual rider would ride it: its ground weighs the same, whoever does."""
        if all(s.usual_s in (None, s.time_s) for s in self.stretches):
            return self
        return replace(
            self,
            stretches=tuple(s.as_usual() for s in self.stretches),
            other_ways=tuple(
                replace(
                    fork,
                    ways=tuple(
                        replace(way, stretches=tuple(s.as_usual() for s in way.stretches))
                        for way in fork.ways
                    ),
                )
                for fork in self.other_ways
            ),
        )

    @property
    def is_usual(self) -> bool:
        """Whether the ride takes this rider as long as the usual one, near enough."""
        ride_s = sum(s.time_s for s in self.stretches)
        usual_s = sum(s.time_s if s.usual_s is None else s.usual_s for s in self.stretches)
        return abs(ride_s - usual_s) <= max(_AS_LONG * usual_s, _AS_LONG_S)

    def reach_of(self, name: str) -> ClassHelp | None:
        return next((r for r in self.reach if r.name == name), None)
