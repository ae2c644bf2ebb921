"""What the heat stage is given of a ride, and the clock it rides by."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from zoneinfo import ZoneInfo

import numpy as np

from terrain.calc.daylight import zone_at
from terrain.values.arrays import BoolArray, FloatArray, freeze_fields

STOPS_SHARE = (
    1.15  # time on the way over riding time: stops add 15-20 % (common practice, no source)
)
_DAY_S = 86_400.0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class HeatInputs:
    """A ride as the heat stage needs it.

    Line, shape (p,): line_at_m metres along the ride, lon, lat [deg]
    Heights, shape (r,): ele_at_m, ele_m, grade_pct (+ is up); NaN where not known; may be empty
    Stretches, shape (k,): from_m, to_m; start_s riding time to their start, speed_kph; p (k, 3)
        probabilities of paved, gravel, track, NaN rows where not known; severity 0..1, NaN not
        known; ferry True on a ferry
    ride_day_s : riding time of a full day; a longer ride goes on next morning
    """

    line_at_m: FloatArray
    lon: FloatArray
    lat: FloatArray
    ele_at_m: FloatArray
    ele_m: FloatArray
    grade_pct: FloatArray
    from_m: FloatArray
    to_m: FloatArray
    start_s: FloatArray
    speed_kph: FloatArray
    p: FloatArray
    severity: FloatArray
    ferry: BoolArray
    ride_day_s: float = 6.0 * 3600.0

    def __post_init__(self) -> None:
        freeze_fields(self, ("line_at_m", "lon", "lat"), len(self.line_at_m))
        freeze_fields(self, ("ele_at_m", "ele_m", "grade_pct"), len(self.ele_at_m))
        names = ("from_m", "to_m", "start_s", "speed_kph", "p", "severity", "ferry")
        freeze_fields(self, names, len(self.from_m))
        if not len(self.from_m) or not len(self.line_at_m):
            raise ValueError("a ride needs a line and at least one stretch")

    @property
    def length_m(self) -> float:
        return float(self.to_m[-1])

    @property
    def total_s(self) -> float:
        """Riding time of the whole ride [s]."""
        last = (self.to_m[-1] - self.from_m[-1]) / max(self.speed_kph[-1] / 3.6, 0.1)
        return float(self.start_s[-1] + last)

    def riding_s(self, at_m: FloatArray) -> FloatArray:
        """Riding time to each position [s]."""
        knots_m = np.append(self.from_m, self.to_m[-1])
        knots_s = np.append(self.start_s, self.total_s)
        return np.asarray(np.interp(at_m, knots_m, knots_s), dtype=np.float64)

    def stretch_of(self, at_m: FloatArray) -> np.ndarray:
        """Index of the stretch each position lies on."""
        row = np.searchsorted(self.to_m, at_m, side="right")
        return np.minimum(row, len(self.to_m) - 1)

    def lonlat(self, at_m: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Positions on the line [deg]."""
        lon = np.interp(at_m, self.line_at_m, self.lon)
        lat = np.interp(at_m, self.line_at_m, self.lat)
        return np.asarray(lon, dtype=np.float64), np.asarray(lat, dtype=np.float64)

    def heights(self, at_m: FloatArray) -> FloatArray:
        """Heights at positions [m], NaN where not known."""
        return self._along(self.ele_m, at_m)

    def grades(self, at_m: FloatArray) -> FloatArray:
        """Grades at positions [%], NaN where not known."""
        return self._along(self.grade_pct, at_m)

    def _along(self, values: FloatArray, at_m: FloatArray) -> FloatArray:
        if not len(self.ele_at_m):
            return np.full(len(at_m), np.nan)
        return np.asarray(np.interp(at_m, self.ele_at_m, values), dtype=np.float64)

    @property
    def grade_known_share(self) -> float:
        """Share of the ride with a known grade, 0..1."""
        return float(np.mean(~np.isnan(self.grade_pct))) if len(self.grade_pct) else 0.0

    @property
    def zone(self) -> ZoneInfo:
        """Time zone of the start."""
        return zone_at(float(self.lon[0]), float(self.lat[0]))


def departure(depart: datetime, zone: ZoneInfo) -> datetime:
    """The time of setting off with its zone; a time without zone is local to the start."""
    return depart.replace(tzinfo=zone) if depart.tzinfo is None else depart.astimezone(zone)


def passing_unix_s(inputs: HeatInputs, at_m: FloatArray, start: datetime) -> FloatArray:
    """Clock time at which each position is reached [s since 1970 UTC].

    Stops stretch the riding time by 15 %; after a full day of riding the ride goes on the next
    day at the hour of the first departure.
    """
    riding = inputs.riding_s(at_m)
    # The last moment of a day belongs to that day, so that an even number of days ends in time.
    day = np.floor(np.maximum(riding - 1.0, 0.0) / inputs.ride_day_s)
    within = riding - day * inputs.ride_day_s
    out: FloatArray = start.timestamp() + day * _DAY_S + within * STOPS_SHARE
    return out
