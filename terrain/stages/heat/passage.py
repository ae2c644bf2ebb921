"""What the heat stage is given of a ride, and the clock it rides by."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import datetime
from zoneinfo import ZoneInfo

import numpy as np

from terrain.stages.places.settled import towns_along
from terrain.tables.engine import (
    BORDER_QUEUE_S,
    PICTURE_EVERY_S,
    PICTURE_S,
    TOWN_QUEUE_EVERY_S,
    TOWN_STANDING_SHARE,
)
from terrain.values.arrays import BoolArray, FloatArray, freeze_fields
from terrain.values.clock import RideClock
from terrain.values.ground import Severity
from terrain.values.places import RideNode
from terrain.values.relief import Relief
from terrain.values.ride import FERRY, Ride
from terrain.values.views import PlacesView

_NOTHING = np.zeros(0)
_BORDER = "border"


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Passage:
    """A ride as the heat stage needs it.

    Line, shape (p,): line_at_m metres along the ride, lon, lat [deg]
    Heights, shape (r,): ele_at_m, ele_m, grade_pct (+ is up); NaN where not known; may be empty
    Stretches, shape (k,): from_m, to_m; start_s riding time to their start, speed_kph; p (k, 3)
        probabilities of paved, gravel, track, NaN rows where not known; severity 0..1, NaN not
        known; ferry True on a ferry
    clock : the days and the hours of passing
    stand_at_m, stand_s : where one stands with the engine running, in riding order, and how long;
        shape (q,)
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
    clock: RideClock
    stand_at_m: FloatArray = field(default_factory=lambda: _NOTHING)
    stand_s: FloatArray = field(default_factory=lambda: _NOTHING)

    def __post_init__(self) -> None:
        freeze_fields(self, ("line_at_m", "lon", "lat"), len(self.line_at_m))
        freeze_fields(self, ("ele_at_m", "ele_m", "grade_pct"), len(self.ele_at_m))
        names = ("from_m", "to_m", "start_s", "speed_kph", "p", "severity", "ferry")
        freeze_fields(self, names, len(self.from_m))
        freeze_fields(self, ("stand_at_m", "stand_s"), len(self.stand_at_m))
        if not len(self.from_m) or not len(self.line_at_m):
            raise ValueError("a ride needs a line and at least one stretch")

    @property
    def length_m(self) -> float:
        return float(self.to_m[-1])

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
    def height_known_share(self) -> float:
        """Share of the ride with a height, filled ones too, 0..1."""
        return float(np.mean(~np.isnan(self.ele_m))) if len(self.ele_m) else 0.0

    @property
    def zone(self) -> ZoneInfo:
        """Time zone of the start."""
        return self.clock.zone


def departure(depart: datetime, zone: ZoneInfo) -> datetime:
    """The time of setting off with its zone; a time without zone is local to the start."""
    return depart.replace(tzinfo=zone) if depart.tzinfo is None else depart.astimezone(zone)


def passing_unix_s(inputs: Passage, at_m: FloatArray, start: datetime) -> FloatArray:
    """Clock time at which each position is reached [s since 1970 UTC].

    start : setting off on the first day; the days that follow shift with it
    """
    clock = inputs.clock
    set_off_s = 3600.0 * start.hour + 60.0 * start.minute + start.second
    shift_s = set_off_s - float(clock.start_s[0])
    return clock.passing_unix_s(at_m, start.date(), shift_s)


def passage_of(
    ride: Ride,
    relief: Relief,
    clock: RideClock,
    places: PlacesView | None = None,
    nodes: Sequence[RideNode] = (),
) -> Passage:
    """The ride as heat sees it: heights, speeds and ground by the hour of passing.

    places : of the region, for the towns ridden through; nodes : on the ride, for border posts
    """
    known = relief.source is not None
    match, speeds = ride.match, ride.speeds
    return Passage(
        line_at_m=match.at_m,
        lon=match.lon,
        lat=match.lat,
        ele_at_m=relief.at_m if known else _NOTHING,
        ele_m=relief.ele_m if known else _NOTHING,
        grade_pct=relief.grade_pct if known else _NOTHING,
        from_m=speeds.from_m,
        to_m=speeds.to_m,
        start_s=speeds.start_s,
        speed_kph=speeds.speed_kph,
        p=ride.p,
        severity=np.where(ride.severity < 0, np.nan, ride.severity / float(max(Severity))),
        ferry=ride.ground == FERRY,
        clock=clock,
        **_standing(ride, places, nodes),
    )


def _standing(
    ride: Ride, places: PlacesView | None, nodes: Sequence[RideNode]
) -> dict[str, FloatArray]:
    """Queues of towns and borders, and stops for pictures, with the engine running."""
    found: list[tuple[float, float]] = [
        (node.at_m, BORDER_QUEUE_S) for node in nodes if node.kind == _BORDER
    ]
    towns = _NOTHING.reshape(0, 2) if places is None else towns_along(ride.match, places)
    share = TOWN_STANDING_SHARE / (1.0 - TOWN_STANDING_SHARE)
    for from_m, to_m in towns:
        start_s, end_s = ride.time_s(np.array([from_m, to_m]))
        parts = max(int(np.ceil((end_s - start_s) / TOWN_QUEUE_EVERY_S)), 1)
        part_s = (end_s - start_s) / parts
        middle_s = start_s + part_s * (np.arange(parts) + 0.5)
        found += [(float(at), part_s * share) for at in ride.at_time(middle_s)]
    hours = np.arange(PICTURE_EVERY_S, ride.total_s, PICTURE_EVERY_S)
    found += [(float(at), PICTURE_S) for at in ride.at_time(hours)]
    rows = np.array(sorted(found), dtype=np.float64).reshape(len(found), 2)
    return {"stand_at_m": rows[:, 0].copy(), "stand_s": rows[:, 1].copy()}
