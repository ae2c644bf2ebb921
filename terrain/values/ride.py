"""A ride: its line, its grounds, its grades and its speeds."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from terrain.values.arrays import Columns, FloatArray, Int8Array, freeze_fields
from terrain.values.ground import Ground, GroundKind, Stretch
from terrain.values.match import Match

GROUNDS: tuple[GroundKind, ...] = tuple(GroundKind)
PAVED, GRAVEL, TRACK, FERRY, UNMAPPED = range(len(GROUNDS))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Speeds(Columns):
    """Riding speeds of a ride cut in stretches, shape (k,); riding time only, no stops.

    from_m, to_m : metres along the ride
    speed_kph : most plausible mean moving speed; low_kph, high_kph its 90 % band
    time_s : riding time at speed_kph; usual_s : of a steady rider alone, on the tables' times
    ground_s : the same of a steady rider if it were paved, gravel, track, shape (k, 3)
    start_s : riding time from the start of the ride to the start of the stretch
    total_low_s, total_high_s : 90 % band of the whole riding time
    """

    from_m: FloatArray
    to_m: FloatArray
    speed_kph: FloatArray
    low_kph: FloatArray
    high_kph: FloatArray
    time_s: FloatArray
    usual_s: FloatArray
    ground_s: FloatArray
    start_s: FloatArray
    total_low_s: float
    total_high_s: float

    @property
    def total_s(self) -> float:
        """Riding time of the whole ride [s]."""
        return float(self.time_s.sum())

    def at_s(self, at_m: FloatArray) -> FloatArray:
        """Riding time from the start to each position of the ride [s], shape as at_m."""
        if not len(self.from_m):
            return np.zeros(np.shape(at_m))
        knots_m = np.append(self.from_m, self.to_m[-1])
        knots_s = np.append(self.start_s, self.total_s)
        out: FloatArray = np.interp(at_m, knots_m, knots_s)
        return out

    def to_dict(self) -> dict[str, float]:
        return {
            "riding_s": self.total_s,
            "riding_low_s": self.total_low_s,
            "riding_high_s": self.total_high_s,
        }


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Ride:
    """The match with ground and riding time along it.

    Stretches, shape (k,): from_m, to_m metres along the ride; ground code in GROUNDS; p (k, 3)
    probabilities of paved, gravel, track, NaN on ferries and off the map; severity 0..5, -1 not
    known.
    speeds : of each stretch; grade_pct : its mean grade, NaN where not known, shape (k,)
    knot_m, knot_s : riding time from the start at some positions, never falling; between them
    it grows evenly.
    """

    match: Match
    stretches: tuple[Stretch, ...]
    from_m: FloatArray
    to_m: FloatArray
    ground: Int8Array
    p: FloatArray
    severity: Int8Array
    grade_pct: FloatArray
    speeds: Speeds
    knot_m: FloatArray
    knot_s: FloatArray

    def __post_init__(self) -> None:
        names = ("from_m", "to_m", "ground", "p", "severity", "grade_pct")
        freeze_fields(self, names, len(self.stretches))
        freeze_fields(self, ("knot_m", "knot_s"), len(self.knot_m))

    @property
    def length_m(self) -> float:
        return self.match.length_m

    @property
    def total_s(self) -> float:
        """Riding time of the whole ride, no stops [s]."""
        return float(self.knot_s[-1]) if len(self.knot_s) else 0.0

    def time_s(self, at_m: FloatArray) -> FloatArray:
        """Riding time from the start to each position [s]."""
        if not len(self.knot_m):
            return np.zeros(np.shape(at_m))
        return np.asarray(np.interp(at_m, self.knot_m, self.knot_s), dtype=np.float64)

    def at_time(self, time_s: FloatArray) -> FloatArray:
        """Position reached after each riding time [m]."""
        if not len(self.knot_m):
            return np.zeros(np.shape(time_s))
        return np.asarray(np.interp(time_s, self.knot_s, self.knot_m), dtype=np.float64)

    def lonlat(self, at_m: float) -> tuple[float, float]:
        """Where a position lies [deg]."""
        line = self.match
        # Of the points on either side alone: np.interp copies whole lines that are read-only.
        i = max(int(np.searchsorted(line.at_m, at_m, side="right")) - 1, 0)
        near = slice(i, i + 2)
        return (
            float(np.interp(at_m, line.at_m[near], line.lon[near])),
            float(np.interp(at_m, line.at_m[near], line.lat[near])),
        )

    def ground_at(self, at_m: FloatArray) -> Int8Array:
        """Ground code at each position; a border belongs to the stretch that starts there."""
        row = np.searchsorted(self.to_m, at_m, side="right")
        return self.ground[np.minimum(row, len(self.ground) - 1)]

    def road_name(self, at_m: float) -> str | None:
        """Name of the way ridden at a position; None if it has none."""
        row = int(np.searchsorted(self.to_m, at_m, side="right"))
        return self.stretches[min(row, len(self.stretches) - 1)].name if self.stretches else None


def ride_of(
    match: Match, ground: Ground, speeds: Speeds, grade_pct: FloatArray | None = None
) -> Ride:
    """The match with its ground and speeds.

    grade_pct : mean grade of each stretch [%]; not known if None
    """
    stretches = ground.stretches
    nan = (np.nan, np.nan, np.nan)
    code = {kind: i for i, kind in enumerate(GROUNDS)}
    ends = speeds.to_m[-1:] if len(speeds.to_m) else np.zeros(0)
    return Ride(
        match=match,
        stretches=stretches,
        from_m=np.array([s.from_m for s in stretches], dtype=np.float64),
        to_m=np.array([s.to_m for s in stretches], dtype=np.float64),
        ground=np.array([code[s.ground] for s in stretches], dtype=np.int8),
        p=np.array([s.p or nan for s in stretches], dtype=np.float64).reshape(-1, 3),
        severity=np.array(
            [-1 if s.severity is None else int(s.severity) for s in stretches], dtype=np.int8
        ),
        grade_pct=np.full(len(stretches), np.nan) if grade_pct is None else grade_pct,
        speeds=speeds,
        knot_m=np.concatenate((speeds.from_m, ends)),
        knot_s=np.concatenate((speeds.start_s, [speeds.total_s] if len(ends) else [])),
    )
