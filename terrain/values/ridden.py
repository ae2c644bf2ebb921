"""A recorded ride read against the map, and against its plan if it had one."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Any, ClassVar

from terrain.values.ground import Basis, GroundKind, Severity, by_land
from terrain.values.plain import Plain
from terrain.values.rounding import rounded
from terrain.values.route import Problem
from terrain.values.trip import Rider

SCHEMA = "terrain-ridden/1"
#: What is left out at both ends before anything is kept: homes and hotels lie there [m].
TRIMMED_M = 1_500.0
#: Standing at least so long is a stop [s].
STOP_S = 180.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Stop(Plain):
    """Standing for three minutes or more.

    at_m : metres along the ride; from_time, to_time : local time, ISO 8601
    """

    _keys: ClassVar = {"from_time": "from", "to_time": "to"}
    at_m: float
    standing_s: float
    from_time: str
    to_time: str
    lon: float
    lat: float


@dataclass(frozen=True, slots=True, kw_only=True)
class RiddenPart(Plain):
    """A run of the ride on one way and one ground.

    ground : the likeliest by the map; p : chances of paved, gravel, track; None off land
    moving_s : None where the record is broken, so that nobody knows
    expected_s : riding time by the same tables as a report, for the rider that was named
    clock_s : clock time from the start of the ride to the end of the part, rests included
    off_plan : ridden and not planned; None without a plan
    shown : the record shows the way; False where it was found between far-apart fixes
    """

    _also: ClassVar = ("speed_kph",)
    from_m: float
    to_m: float
    way_id: int | None
    highway: str | None
    name: str | None
    ground: GroundKind
    p: tuple[float, float, float] | None
    basis: Basis | None
    severity: Severity | None
    grade_pct: float | None
    moving_s: float | None
    expected_s: float
    clock_s: float
    off_plan: bool | None
    shown: bool

    @property
    def length_m(self) -> float:
        return self.to_m - self.from_m

    @property
    def speed_kph(self) -> float | None:
        if not self.moving_s:
            return None
        return 3.6 * self.length_m / self.moving_s

    def to_dict(self) -> dict[str, Any]:
        told = Plain.to_dict(self)
        if self.p is not None:
            told["p"] = by_land(self.p)
        return told


@dataclass(frozen=True, slots=True, kw_only=True)
class Leaving(Plain):
    """Where the ride left its plan: what it rode, and what of the plan it left out.

    from_m, to_m : along the ride; plan_from_m, plan_to_m : along the plan; a pair is equal where
        nothing was ridden, or nothing left out
    ways : [(OSM way id, metres), ...] ridden instead
    """

    from_m: float
    to_m: float
    plan_from_m: float
    plan_to_m: float
    ways: tuple[tuple[int, float], ...]

    def to_dict(self) -> dict[str, Any]:
        ways = [{"way_id": way, "length_m": m} for way, m in self.ways]
        return {**Plain.to_dict(self), "ways": ways}


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanStretch:
    """A run of the plan on one ground. p : chances of paved, gravel, track; None off land"""

    from_m: float
    to_m: float
    ground: GroundKind
    p: tuple[float, float, float] | None


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanFollowed(Plain):
    """The ride against its plan.

    off_plan_m : ridden, not planned; missed_m : planned, not ridden; length_m : of the plan
    planned_s : riding time by the report's tables
    stretches : ground of the plan; anchors : (ride, plan) [m] of places on both, in riding order
    """

    _untold: ClassVar = ("off_plan_m", "missed_m", "stretches", "anchors")
    name: str
    length_m: float
    off_plan_m: float
    missed_m: float
    planned_s: float
    leavings: tuple[Leaving, ...]
    stretches: tuple[PlanStretch, ...] = ()
    anchors: tuple[tuple[float, float], ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class TimeOn(Plain):
    """Moving time on one kind of stretch against the estimate.

    by : "ground", "severity" or "grade"; what : which of them
    """

    by: str
    what: str
    length_m: float
    moving_s: float
    expected_s: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Ridden(Plain):
    """What a recorded ride tells, after its first and last 1,500 m were cut off.

    day : local date of the start; start_time, end_time : local, ISO 8601, of what is left
    median_gap_s : usual time between two fixes
    moving_s, standing_s : add up to the time of the record, its breaks left out;
        moving_low_s, moving_high_s : 90 % band, wide where fixes are too far apart to show stops
    expected_s : riding time by the tables, or by the operator's own rides if the trip has them;
        expected_low_s, expected_high_s : its 90 % band
    night_s : moving between dusk and dawn (sun 6 degrees below the horizon)
    far_s : longest time without a break beyond the operator's limits of help; None if not asked
    rider, bike_class : as they were named, for learning
    """

    name: str
    region: str
    day: date
    start_time: str
    end_time: str
    rider: Rider
    bike_class: str | None
    length_m: float
    moving_s: float
    moving_low_s: float
    moving_high_s: float
    standing_s: float
    expected_s: float
    expected_low_s: float
    expected_high_s: float
    night_s: float
    far_s: float | None
    median_gap_s: float
    stops: tuple[Stop, ...]
    parts: tuple[RiddenPart, ...]
    times: tuple[TimeOn, ...]
    plan: PlanFollowed | None
    problems: tuple[Problem, ...]

    def to_dict(self) -> dict[str, Any]:
        """`terrain-ridden/1`: plain data, ready for JSON."""
        plan = self.plan
        facts = {
            "schema": SCHEMA,
            **Plain.to_dict(self),
            "off_plan_m": None if plan is None else plan.off_plan_m,
            "missed_m": None if plan is None else plan.missed_m,
        }
        out: dict[str, Any] = rounded(facts)
        # Tenths: a part of some metres takes a second or two.
        for row, part in zip(out["parts"], self.parts, strict=True):
            row["moving_s"] = None if part.moving_s is None else round(part.moving_s, 1)
            row["expected_s"] = round(part.expected_s, 1)
        return out
