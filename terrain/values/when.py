"""When to go: a ride through twelve months by the hour of setting off."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, ClassVar

from terrain.values.plain import Plain


@dataclass(frozen=True, slots=True, kw_only=True)
class WhenCell(Plain):
    """One month and hour of setting off, on a mean day under a clear sky.

    start_h : local hour of setting off
    rest_share, hard_share : share of riding time, 0..1, at or above the levels "rest often" and
        "no hard exercise" in the wind of riding; the second is part of the first
    cold_share, ice_share : share of riding time in which hands grow cold at speed, and in which ice
        may lie on the road
    max_air_temp_c, max_wbgt_riding_c, min_wind_chill_c : of the ride [deg C]
    fan_s : time in which a liquid-cooled engine depends on its fan; None if not judged
    before_light_s : ridden before dawn on the first day [s]
    light_left_s : from arrival to dusk, on the day that leaves least; negative after dusk; None
        where it does not grow dark
    is_dark : some of it is ridden before dawn, or ends within an hour of dusk or after it
    is_best : among the best of all cells
    """

    _digits: ClassVar = {
        "rest_share": 3, "hard_share": 3, "cold_share": 3, "ice_share": 3, "max_air_temp_c": 1,
        "max_wbgt_riding_c": 1, "min_wind_chill_c": 1, "fan_s": None, "before_light_s": None,
        "light_left_s": None,
    }  # fmt: skip
    start_h: int
    rest_share: float
    hard_share: float
    cold_share: float
    ice_share: float
    max_air_temp_c: float
    max_wbgt_riding_c: float
    min_wind_chill_c: float
    fan_s: float | None
    before_light_s: float
    light_left_s: float | None
    is_dark: bool
    is_best: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class WhenMonth(Plain):
    """One month of the table.

    month : 1..12
    rain_mm : mean of the month over the ride, None not known
    shut_m, soft_m : length to take as shut until somebody local says it is open, and that may be
        impassable after rain; snow_m : of shut_m, by snow
    season_unknown_m : length of which the season cannot be judged
    daylight_s : sunrise to sunset where the ride starts
    """

    _digits: ClassVar = {
        "rain_mm": 1, "shut_m": None, "soft_m": None, "snow_m": None, "season_unknown_m": None,
        "daylight_s": None,
    }  # fmt: skip
    month: int
    rain_mm: float | None
    shut_m: float
    soft_m: float
    snow_m: float
    season_unknown_m: float
    daylight_s: float
    cells: tuple[WhenCell, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class When:
    """Twelve months by start hour, and what follows.

    length_m, riding_s, n_days : of the ride, as it is ridden when no date is known
    hours : local hours of setting off, the columns
    forbids : what forbids the ride in any month, in a few words each; "" if nothing does, or if it
        was not asked
    headline : the answer; lead : why, and the worst; notes : what the figures are not
    worst : month and hour of the worst cell
    climate : what the figures rest on
    """

    route: str
    region: str
    map_date: str | None
    attribution: tuple[str, ...]
    length_m: float
    riding_s: float
    n_days: int
    hours: tuple[int, ...]
    months: tuple[WhenMonth, ...]
    headline: str
    lead: tuple[str, ...]
    notes: tuple[str, ...]
    worst: tuple[int, int]
    climate: str
    forbids: str = ""

    def to_dict(self) -> dict[str, Any]:
        """The table as plain data, `terrain-when/1`: lengths in metres, times in seconds."""
        month, hour = self.worst
        return {
            "schema": "terrain-when/1",
            "route": {
                "name": self.route, "length_m": round(self.length_m, 1),
                "riding_s": round(self.riding_s), "days": self.n_days,
            },
            "region": {
                "name": self.region, "map_date": self.map_date,
                "attribution": list(self.attribution),
            },
            "climate": self.climate,
            "forbids": str(self.forbids),
            "headline": str(self.headline),
            "lead": [str(text) for text in self.lead],
            "notes": [str(text) for text in self.notes],
            "worst": {"month": month, "start_h": hour},
            "hours": list(self.hours),
            "months": [month.to_dict() for month in self.months],
        }  # fmt: skip
