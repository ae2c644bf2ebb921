"""What a weather service says of the days about a ride."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from typing import Any, ClassVar

from terrain.text.message import Message
from terrain.values.arrays import Columns, FloatArray
from terrain.values.plain import Plain

PAST_DAYS = 14  # columns before the day of asking
AHEAD_DAYS = 15  # columns from it


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Forecast(Columns):
    """Days at places along a route, as a service answered; NaN where it says nothing.

    source : whom to credit; asked_at, made_at : with a zone, the oldest of its answers; made_at is
        None where nothing was answered
    first : local date of the first column, PAST_DAYS before the day of asking
    lon, lat, ele_m : of n places, ele_m the height the figures hold for
    tmax_c, tmin_c : of the day; half_k : half of the 90 % band of tmax_c; vapour_g_m3 : mean of
        the day; rain_mm : of the day, of today what is left of it; shape (n, days) each
    n_asked : places asked for; why : why there is nothing for some or all of them, "" else
    """

    source: str
    asked_at: datetime
    made_at: datetime | None
    first: date
    lon: FloatArray
    lat: FloatArray
    ele_m: FloatArray
    tmax_c: FloatArray
    tmin_c: FloatArray
    half_k: FloatArray
    vapour_g_m3: FloatArray
    rain_mm: FloatArray
    n_asked: int
    why: Message | str = ""

    def __len__(self) -> int:
        return len(self.lon)

    def column(self, day: date) -> int:
        """Index of a day; below 0 or past the end where it is out of reach."""
        return (day - self.first).days


@dataclass(frozen=True, slots=True, kw_only=True)
class Weather(Plain):
    """What became of a forecast in a report.

    heat_share : share of the riding positions whose day it tells
    rain_past_mm, rain_ahead_mm : least and most along the ride of the 14 days before the day of
        asking and of the 7 from it; None where not told
    words : what to say of it, one sentence each; why : why there is none, "" if there is one
    """

    _untold: ClassVar = ("rain_past_mm", "rain_ahead_mm")
    source: str
    asked_at: datetime
    made_at: datetime | None
    heat_share: float
    rain_past_mm: tuple[float, float] | None
    rain_ahead_mm: tuple[float, float] | None
    words: tuple[str, ...]
    why: Message | str = ""

    def to_dict(self) -> dict[str, Any]:
        def span(mm: tuple[float, float] | None) -> dict[str, float] | None:
            return None if mm is None else {"least_mm": mm[0], "most_mm": mm[1]}

        return {
            **Plain.to_dict(self),
            "rain_past_14_days": span(self.rain_past_mm),
            "rain_next_7_days": span(self.rain_ahead_mm),
            "why": str(self.why) or None,
        }
