"""What heat, cold and height do to rider and engine along a ride."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import UTC, datetime
from enum import StrEnum
from typing import Any, ClassVar
from zoneinfo import ZoneInfo

import numpy as np

from terrain.values.arrays import Columns, FloatArray
from terrain.values.clock import SunDay
from terrain.values.plain import Plain, keys_of, plain
from terrain.values.rounding import rounded


class Concern(StrEnum):
    """How much of a matter something is."""

    LOW = "low"
    MEDIUM = "medium"
    HIGH = "high"


class HeatCause(StrEnum):
    """What makes an engine hot on a ride."""

    STANDING = "standing"
    WALKING = "walking-pace"
    CLIMB = "climb"
    SOFT = "soft-ground"
    AIR = "hot-air"
    COOLANT = "little-coolant"
    UNKNOWN = "grades-unknown"


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class AirAlong(Columns):
    """The air along the ride at the hour each position is reached, shape (n,).

    at_m : metres along the ride; unix_s : clock time of passing
    temp_c, low_c, high_c : air temperature of a mean day and its 90 % band
    humidity_pct; heat_index_c in shade
    wbgt_still_c : in the sun, standing or at walking pace; wbgt_riding_c : in the wind of riding
    wind_chill_c : at riding speed
    ele_m : NaN where not known
    """

    at_m: FloatArray
    unix_s: FloatArray
    temp_c: FloatArray
    low_c: FloatArray
    high_c: FloatArray
    humidity_pct: FloatArray
    heat_index_c: FloatArray
    wbgt_still_c: FloatArray
    wbgt_riding_c: FloatArray
    wind_chill_c: FloatArray
    ele_m: FloatArray


@dataclass(frozen=True, slots=True, kw_only=True)
class LevelHours(Plain):
    """Hours of riding at or above a published caution level."""

    _digits: ClassVar = {"hours": 2}
    measure: str
    above: float
    word: str
    hours: float
    source: str


@dataclass(frozen=True, slots=True, kw_only=True)
class HotSpell(Plain):
    """A part of the ride, its hour, and the worst it brings."""

    _digits: ClassVar = {"temp_c": 1, "heat_index_c": 1, "wbgt_c": 1}
    from_m: float
    to_m: float
    start: datetime
    temp_c: float
    heat_index_c: float
    wbgt_c: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Caution(Plain):
    """A sentence for the rider, where it starts to hold, and what it rests on."""

    code: str
    text: str
    at_m: float | None
    source: str


@dataclass(frozen=True, slots=True, kw_only=True)
class RiderHeat(Plain):
    """The rider's heat and cold on the day of travel.

    max_air_temp_c with its band; max_wbgt_c standing or at walking pace in the sun;
    max_wbgt_gear_c the same with what body armour adds; max_wbgt_riding_c in the wind of riding
    over_limit_h : hours above the ISO 7243 limit of the effort the ground asks, if slow or still;
        over_riding_h : in the wind of riding, and over_riding, the parts (from_m, to_m) where
    used_to_heat : whether the limits are those of people who have lived with such heat
    water_l_h : mean and most to drink an hour; water_l : over the riding time
    """

    _keys: ClassVar = {
        "over_riding_h": "over_limit_riding_h", "water_l_h": "water_l_per_h",
        "water_most_l_h": "water_most_l_per_h",
    }  # fmt: skip
    _untold: ClassVar = ("over_riding",)
    _digits: ClassVar = {
        "max_air_temp_c": 1, "max_air_temp_low_c": 1, "max_air_temp_high_c": 1, "min_air_temp_c": 1,
        "max_heat_index_c": 1, "max_wbgt_c": 1, "max_wbgt_gear_c": 1, "max_wbgt_riding_c": 1,
        "min_wind_chill_c": 1, "water_l": 1, "over_limit_h": 2, "over_riding_h": 2, "water_l_h": 2,
        "water_most_l_h": 2,
    }  # fmt: skip
    max_air_temp_c: float
    max_air_temp_low_c: float
    max_air_temp_high_c: float
    max_air_temp_at_m: float
    min_air_temp_c: float
    min_air_temp_at_m: float
    max_heat_index_c: float
    max_wbgt_c: float
    max_wbgt_gear_c: float
    max_wbgt_riding_c: float
    min_wind_chill_c: float
    min_wind_chill_at_m: float
    hours_above: tuple[LevelHours, ...]
    over_limit_h: float
    over_riding_h: float
    over_riding: tuple[tuple[float, float], ...]
    used_to_heat: bool
    worst: HotSpell
    water_l_h: float
    water_most_l_h: float
    water_l: float
    water_source: str

    @property
    def caution_h(self) -> float:
        """Riding time at or above the lowest caution level of the heat index."""
        hours = (level.hours for level in self.hours_above if level.measure == "heat_index_c")
        return max(hours, default=0.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class HotRun(Plain):
    """A part of the ride on which an engine leans on its fan, or its clutch suffers.

    why : "fan", "fins", "boil" or "clutch"; peak_c engine temperature without the fan, None for
        a clutch; ratio : heat over what the airflow carries away, at its worst
    """

    _keys: ClassVar = {"bike": "class"}
    _untold: ClassVar = ("time_s",)
    _digits: ClassVar = {"air_temp_c": 1, "peak_c": 1, "ratio": 2, "grade_pct": 1, "speed_kph": 1}
    from_m: float
    to_m: float
    why: str
    bike: str
    time_s: float
    air_temp_c: float | None
    peak_c: float | None
    ratio: float | None
    grade_pct: float | None
    speed_kph: float

    def to_dict(self) -> dict[str, Any]:
        return {**Plain.to_dict(self), "minutes": round(self.time_s / 60.0)}


@dataclass(frozen=True, slots=True, kw_only=True)
class EngineHeat(Plain):
    """How one class of bike bears the ride.

    concern : the level that people read; causes : why, the weightiest first
    fan_s : time in which the airflow alone would let the coolant pass the fan's switch point
        (liquid), or the head pass the point where oil thins (air, oil)
    fan_high_s : the same at the upper end of the temperature band
    longest_s : longest run of that; boil_s : time near the boil, or past the head's limit, even
        with the fan
    peak_c : highest temperature without the fan, cooled_peak_c with it; limit_c : boil or limit
    most_power_share : most power asked over what the engine has at that height
    """

    _keys: ClassVar = {
        "bike": "class", "peak_c": "peak_without_fan_c", "cooled_peak_c": "peak_c",
        "least_power_left": "power_left_at_top",
    }  # fmt: skip
    _untold: ClassVar = ("fan_s", "fan_high_s", "longest_s", "boil_s", "runs")
    _digits: ClassVar = {
        "peak_c": 0, "cooled_peak_c": 0, "limit_c": 0, "most_power_share": 2, "least_power_left": 2,
    }  # fmt: skip
    bike: str
    title: str
    cooling: str
    concern: Concern
    causes: tuple[HeatCause, ...]
    fan_s: float
    fan_high_s: float
    longest_s: float
    boil_s: float
    peak_c: float
    cooled_peak_c: float
    limit_c: float
    most_power_share: float
    least_power_left: float
    runs: tuple[HotRun, ...]

    @property
    def is_high(self) -> bool:
        return self.concern is Concern.HIGH

    @property
    def hottest_part(self) -> tuple[float | None, float | None]:
        """From and to of the part on which it is hot longest; None where there is none."""
        longest = max(self.runs, key=lambda run: run.time_s, default=None)
        return (None, None) if longest is None else (longest.from_m, longest.to_m)

    def to_dict(self) -> dict[str, Any]:
        return {
            **Plain.to_dict(self),
            "fan_dependent_min": round(self.fan_s / 60.0),
            "fan_dependent_high_min": round(self.fan_high_s / 60.0),
            "longest_run_min": round(self.longest_s / 60.0),
            "near_limit_min": round(self.boil_s / 60.0),
        }


@dataclass(frozen=True, slots=True, kw_only=True)
class MonthHeat(Plain):
    """The ride in the middle of a month.

    At the hour of departure; where none is known the highest values are those of the day's heat
    and the lowest those of its cold. fan_s : of the hardest class with a fan; None if heights
    are not known.
    """

    _untold: ClassVar = ("fan_s",)
    _digits: ClassVar = {
        "max_air_temp_c": 1, "max_air_temp_low_c": 1, "max_air_temp_high_c": 1, "min_air_temp_c": 1,
        "max_heat_index_c": 1, "max_wbgt_c": 1, "min_wind_chill_c": 1, "rain_mm": 0,
        "daylight_s": None,
    }  # fmt: skip
    month: int
    max_air_temp_c: float
    max_air_temp_low_c: float
    max_air_temp_high_c: float
    min_air_temp_c: float
    max_heat_index_c: float
    max_wbgt_c: float
    min_wind_chill_c: float
    rain_mm: float | None
    daylight_s: float
    fan_s: float | None

    def to_dict(self) -> dict[str, Any]:
        fan_min = None if self.fan_s is None else round(self.fan_s / 60.0)
        return {**Plain.to_dict(self), "fan_dependent_min": fan_min}


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class StretchAir(Columns):
    """The air in the middle of each stretch of ground, shape (k,)."""

    from_m: FloatArray
    to_m: FloatArray
    unix_s: FloatArray
    temp_c: FloatArray
    heat_index_c: FloatArray
    wbgt_c: FloatArray


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Heat(Plain):
    """Heat, cold and height along a ride.

    basis : what it rests on, by key, for people and programs
    air, rider, stretches, sun : None without a date of travel
    engines : one per class of the fleet; empty without a date or without heights
    months : the ride in each month of the year, January first
    asks : questions whose answers would settle more; words : what to know, plain sentences
    forecast_share : share of the ride whose day a forecast tells; the mean of the month elsewhere
    rain_mm : most that a forecast tells along the ride for the day of passing; None if it does not
    """

    _untold: ClassVar = ("air", "rider", "stretches", "engines", "clutch", "forecast_share",
                         "rain_mm")  # fmt: skip
    basis: Mapping[str, Any] = field(default_factory=dict)
    air: AirAlong | None = None
    rider: RiderHeat | None = None
    stretches: StretchAir | None = None
    engines: tuple[EngineHeat, ...] = ()
    clutch: tuple[HotRun, ...] = ()
    months: tuple[MonthHeat, ...] = ()
    sun: SunDay | None = None
    cautions: tuple[Caution, ...] = ()
    asks: tuple[str, ...] = ()
    words: tuple[str, ...] = ()
    forecast_share: float = 0.0
    rain_mm: float | None = None

    @property
    def zone(self) -> ZoneInfo:
        """Time zone of the start."""
        return ZoneInfo(str(self.basis.get("zone", "UTC")))

    @property
    def hardest(self) -> EngineHeat | None:
        """The class that leans on its cooling longest; None if engines were not judged."""
        return max(self.engines, key=lambda e: (e.boil_s, e.fan_s, e.peak_c), default=None)

    def engine_of(self, bike: str) -> EngineHeat | None:
        """The engine of a class, or of the hardest if the class was not judged."""
        return next((engine for engine in self.engines if engine.bike == bike), self.hardest)

    def temp_along(self) -> tuple[FloatArray, FloatArray]:
        """Positions, and air temperature at the hour of passing; empty without a date."""
        if self.air is None:
            return np.zeros(0), np.zeros(0)
        return self.air.at_m, self.air.temp_c

    def to_dict(self) -> dict[str, Any]:
        """The contract's `heat` object: every key is there always, null where not known."""
        no_rider = dict.fromkeys(keys_of(RiderHeat))
        told = {
            **Plain.to_dict(self),
            "rider": no_rider if self.rider is None else self.rider.to_dict(),
            "engine": _engine(self),
            "stretches": [] if self.stretches is None else _stretches(self.stretches, self.zone),
            "profile": None if self.air is None else _profile(self.air, self.zone),
        }
        out: dict[str, Any] = rounded(told)
        return out


_MOST_RUNS = 20


def _engine(heat: Heat) -> dict[str, Any]:
    hardest = heat.hardest
    runs = [] if hardest is None else sorted(hardest.runs, key=_weight)[:_MOST_RUNS]
    clutch = sorted(heat.clutch, key=lambda run: -run.time_s)[:_MOST_RUNS]
    fanned: list[EngineHeat] = [e for e in heat.engines if e.cooling == "liquid"]
    return {
        "fan_dependent_min": round(max(e.fan_s for e in fanned) / 60.0) if fanned else None,
        "longest_run_min": round(max(e.longest_s for e in fanned) / 60.0) if fanned else None,
        "concern": None if hardest is None else hardest.concern.value,
        "causes": [] if hardest is None else [cause.value for cause in hardest.causes],
        "hardest_class": None if hardest is None else hardest.bike,
        "classes": plain(heat.engines),
        "stretches": plain(runs),
        "clutch_hot": plain(clutch),
    }


def _weight(run: Any) -> tuple[float, float]:
    return (-(run.ratio or 0.0), -run.time_s)


def _stretches(rows: StretchAir, zone: ZoneInfo) -> list[dict[str, Any]]:
    names = ("from_m", "to_m", "temp_c", "heat_index_c", "wbgt_c")
    columns = zip(*(getattr(rows, name).tolist() for name in names), strict=True)
    return [
        {"at": _clock(unix_s, zone), **dict(zip(names, row, strict=True))}
        for unix_s, row in zip(rows.unix_s, columns, strict=True)
    ]


def _profile(air: AirAlong, zone: ZoneInfo) -> dict[str, Any]:
    return {
        "at_m": np.round(air.at_m, 1),
        "at": [_clock(unix_s, zone) for unix_s in air.unix_s],
        "wbgt_c": air.wbgt_still_c,
        **{name: getattr(air, name) for name in _PROFILED},
    }


_PROFILED = ("temp_c", "low_c", "high_c", "heat_index_c", "wbgt_riding_c", "wind_chill_c")


def _clock(unix_s: float, zone: ZoneInfo) -> str:
    moment = datetime.fromtimestamp(float(unix_s), UTC).astimezone(zone)
    return moment.isoformat(timespec="minutes")
