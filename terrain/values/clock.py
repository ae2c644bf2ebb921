"""The clock a ride is ridden by: its nights, its hours of setting off, and when it passes where."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from enum import StrEnum
from typing import ClassVar
from zoneinfo import ZoneInfo

import numpy as np

from terrain.values.arrays import FloatArray, IntArray, freeze_fields
from terrain.values.plain import Plain

# Stops add 15-20 % to riding time, and lunch is more than that (common practice, no source).
SHARE_OF_STOPS = 0.18
LUNCH_S = 2_700.0
# A day that rides through these hours needs lunch.
MIDDAY_FROM_S, MIDDAY_TO_S = 12.0 * 3600, 13.5 * 3600


@dataclass(frozen=True, slots=True, kw_only=True)
class ClockChange:
    """The hands of the clock are moved, as summer time begins or ends.

    day : of the ride, from 0; at_s : when, by the clock as it was, in seconds after the midnight
        that begins the day; by_s : by how much, + is forward
    """

    day: int
    at_s: float
    by_s: float

    def is_met(self, day: int, start_s: float, time_s: float) -> bool:
        """Whether a time that runs on from setting off has come past it."""
        return day == self.day and start_s < self.at_s <= time_s


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class RideClock:
    """Days of a ride and the likely hour of passing each place.

    knot_m, knot_s : riding time from the start at some positions; night_m : where the days end,
        but for the last, shape (d - 1,); start_s : local time of setting off in seconds after
        midnight, shape (d,); back_s : from the last night's bed back to the ride, shape (d,)
    zone : of the start; changes : of its clock in the days of the ride
    Stops are taken as a share of the riding time; which stops they are is chosen later.
    """

    knot_m: FloatArray
    knot_s: FloatArray
    night_m: FloatArray
    start_s: FloatArray
    back_s: FloatArray
    zone: ZoneInfo
    changes: tuple[ClockChange, ...] = ()

    def __post_init__(self) -> None:
        freeze_fields(self, ("knot_m", "knot_s"), len(self.knot_m))
        freeze_fields(self, ("night_m",), len(self.night_m))
        freeze_fields(self, ("start_s", "back_s"), len(self.night_m) + 1)

    @property
    def n_days(self) -> int:
        return len(self.start_s)

    @property
    def ends_m(self) -> FloatArray:
        """Where each day ends, the last one with the ride [m], shape (d,)."""
        return np.append(self.night_m, self.knot_m[-1:] if len(self.knot_m) else [0.0])

    @property
    def begins_m(self) -> FloatArray:
        """Where each day begins [m], shape (d,)."""
        return np.append(0.0, self.night_m)

    def riding_s(self, at_m: FloatArray) -> FloatArray:
        """Riding time from the start of the ride [s]."""
        if not len(self.knot_m):
            return np.zeros(np.shape(at_m))
        return np.asarray(np.interp(at_m, self.knot_m, self.knot_s), dtype=np.float64)

    @property
    def day_riding_s(self) -> FloatArray:
        """Riding time of each day [s], shape (d,)."""
        return self.riding_s(self.ends_m) - self.riding_s(self.begins_m)

    def day_of(self, at_m: FloatArray) -> IntArray:
        """The day from 0 that a position is passed on; a night belongs to the day it ends."""
        return np.searchsorted(self.night_m, at_m, side="left").astype(np.int64)

    def passing_s(self, at_m: FloatArray) -> FloatArray:
        """Local time of passing each position in seconds after midnight of its day."""
        day, time_s = self.day_of(at_m), self._running_s(at_m)
        moved = np.zeros(np.shape(time_s))
        for change in self.changes:
            met = (day == change.day) & (self.start_s[day] < change.at_s)
            moved += np.where(met & (time_s >= change.at_s), change.by_s, 0.0)
        return time_s + moved

    def _running_s(self, at_m: FloatArray) -> FloatArray:
        """The same by a clock that runs on from setting off, whatever is done to the hands."""
        day = self.day_of(at_m)
        ridden = self.riding_s(at_m) - self.riding_s(self.begins_m)[day]
        time_s = self.start_s[day] + self.back_s[day] + ridden * (1.0 + SHARE_OF_STOPS)
        eats = (time_s > MIDDAY_TO_S) & (self.start_s[day] < MIDDAY_FROM_S)
        return np.where(eats, time_s + LUNCH_S / 2, time_s)

    def passing_unix_s(self, at_m: FloatArray, first: date, shift_s: float = 0.0) -> FloatArray:
        """Clock time of passing each position [s since 1970 UTC].

        first : the day of setting off; shift_s : how much later than by this clock, each day
        """
        midnights = (datetime.combine(first + timedelta(n), time()) for n in range(self.n_days))
        starts = np.array([
            (midnight + timedelta(seconds=start_s + shift_s)).replace(tzinfo=self.zone).timestamp()
            for midnight, start_s in zip(midnights, self.start_s.tolist(), strict=True)
        ])  # fmt: skip
        day = self.day_of(at_m)
        return np.asarray(starts[day] + self._running_s(at_m) - self.start_s[day], dtype=np.float64)


class SunKind(StrEnum):
    """Whether the sun rises and sets."""

    USUAL = "usual"
    POLAR_DAY = "polar day"  # the sun does not set
    POLAR_NIGHT = "polar night"  # the sun does not rise


@dataclass(frozen=True, slots=True, kw_only=True)
class SunDay(Plain):
    """Sun and twilight of one day, local times with zone.

    dawn, dusk : sun 6 degrees below the horizon; None where it does not come to that
    sunrise, sunset : None in polar day and polar night
    zone : IANA name of the time zone
    """

    _keys: ClassVar = {"day": "date"}
    _also: ClassVar = ("daylight_s",)
    day: date
    zone: str
    kind: SunKind
    dawn: datetime | None
    sunrise: datetime | None
    sunset: datetime | None
    dusk: datetime | None

    @property
    def daylight_s(self) -> float:
        """From sunrise to sunset [s]."""
        if self.sunrise is None or self.sunset is None:
            return 86_400.0 if self.kind is SunKind.POLAR_DAY else 0.0
        return (self.sunset - self.sunrise).total_seconds()
