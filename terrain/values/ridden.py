"""A recorded ride read against the map, and against its plan if it had one."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Any

from terrain.values.ground import Basis, GroundKind, Severity
from terrain.values.rounding import rounded
from terrain.values.route import Problem
from terrain.values.trip import Rider

SCHEMA = "terrain-ridden/1"
#: What is left out at both ends before anything is kept: homes and hotels lie there [m].
TRIMMED_M = 1_500.0
#: Standing at least so long is a stop [s].
STOP_S = 180.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Stop:
    """Standing for three minutes or more.

    at_m : metres along the ride; from_time, to_time : local time, ISO 8601
    """

    at_m: float
    standing_s: float
    from_time: str
    to_time: str
    lon: float
    lat: float

    def to_dict(self) -> dict[str, Any]:
        return {
            "at_m": self.at_m, "standing_s": self.standing_s, "from": self.from_time,
            "to": self.to_time, "lon": self.lon, "lat": self.lat,
        }  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class RiddenPart:
    """A run of the ride on one way and one ground.

    ground : the likeliest by the map; p : chances of paved, gravel, track; None off land
    moving_s : None where the record is broken, so that nobody knows
    expected_s : riding time by the same tables as a report, for the rider that was named
    clock_s : clock time from the start of the ride to the end of the part, rests included
    off_plan : ridden and not planned; None without a plan
    shown : the record shows the way; False where it was found between far-apart fixes
    """

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
        return {
            "from_m": self.from_m, "to_m": self.to_m, "way_id": self.way_id,
            "highway": self.highway, "name": self.name, "ground": self.ground.value,
            "p": None if self.p is None else dict(zip(("paved", "gravel", "track"), self.p,
                                                      strict=True)),
            "basis": None if self.basis is None else self.basis.value,
            "severity": None if self.severity is None else int(self.severity),
            "grade_pct": self.grade_pct, "moving_s": self.moving_s,
            "expected_s": self.expected_s, "clock_s": self.clock_s, "speed_kph": self.speed_kph,
            "off_plan": self.off_plan, "shown": self.shown,
        }  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class Leaving:
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
        return {
            "from_m": self.from_m, "to_m": self.to_m, "plan_from_m": self.plan_from_m,
            "plan_to_m": self.plan_to_m,
            "ways": [{"way_id": way, "length_m": m} for way, m in self.ways],
        }  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanStretch:
    """A run of the plan on one ground. p : chances of paved, gravel, track; None off land"""

    from_m: float
    to_m: float
    ground: GroundKind
    p: tuple[float, float, float] | None


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanFollowed:
    """The ride against its plan.

    off_plan_m : ridden, not planned; missed_m : planned, not ridden; length_m : of the plan
    planned_s : riding time by the report's tables
    stretches : ground of the plan; anchors : (ride, plan) [m] of places on both, in riding order
    """

    name: str
    length_m: float
    off_plan_m: float
    missed_m: float
    planned_s: float
    leavings: tuple[Leaving, ...]
    stretches: tuple[PlanStretch, ...] = ()
    anchors: tuple[tuple[float, float], ...] = ()

    def to_dict(self) -> dict[str, Any]:
        return {
            "name": self.name, "length_m": self.length_m, "planned_s": self.planned_s,
            "leavings": [item.to_dict() for item in self.leavings],
        }  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class TimeOn:
    """Moving time on one kind of stretch against the estimate.

    by : "ground", "severity" or "grade"; what : which of them
    """

    by: str
    what: str
    length_m: float
    moving_s: float
    expected_s: float

    def to_dict(self) -> dict[str, Any]:
        return {
            "by": self.by, "what": self.what, "length_m": self.length_m,
            "moving_s": self.moving_s, "expected_s": self.expected_s,
        }  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class Ridden:
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
            "schema": SCHEMA, "name": self.name, "region": self.region,
            "day": self.day.isoformat(), "start_time": self.start_time,
            "end_time": self.end_time, "rider": self.rider.value,
            "bike_class": self.bike_class, "length_m": self.length_m,
            "moving_s": self.moving_s, "moving_low_s": self.moving_low_s,
            "moving_high_s": self.moving_high_s, "standing_s": self.standing_s,
            "expected_s": self.expected_s, "expected_low_s": self.expected_low_s,
            "expected_high_s": self.expected_high_s, "night_s": self.night_s, "far_s": self.far_s,
            "median_gap_s": self.median_gap_s,
            "off_plan_m": None if plan is None else plan.off_plan_m,
            "missed_m": None if plan is None else plan.missed_m,
            "plan": None if plan is None else plan.to_dict(),
            "stops": [stop.to_dict() for stop in self.stops],
            "times": [time.to_dict() for time in self.times],
            "parts": [part.to_dict() for part in self.parts],
            "problems": [problem.to_dict() for problem in self.problems],
        }  # fmt: skip
        out: dict[str, Any] = rounded(facts)
        # Tenths: a part of some metres takes a second or two.
        for row, part in zip(out["parts"], self.parts, strict=True):
            row["moving_s"] = None if part.moving_s is None else round(part.moving_s, 1)
            row["expected_s"] = round(part.expected_s, 1)
        return out
