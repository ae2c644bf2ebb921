"""The guide's plan: days, stops, and what cannot be done as asked."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum
from typing import Any, ClassVar

from terrain.values.detours import Detour
from terrain.values.help import PlaceRef
from terrain.values.plain import Plain


class StopKind(StrEnum):
    """What a stop is for."""

    FUEL = "fuel"
    LUNCH = "lunch"
    REST = "rest"
    WATER = "water"  # rest in the heat where water is mapped
    CHECK = "check"  # coolant and oil at midday of a hard day
    VAN = "van"  # meeting point with the support van
    NIGHT = "night"
    PINNED = "pinned"  # asked for by the guide


@dataclass(frozen=True, slots=True, kw_only=True)
class Daylight:
    """Sun of one day, local time in seconds after midnight.

    dusk_s : end of civil twilight (sun 6 degrees below the horizon)
    """

    sunrise_s: float
    sunset_s: float
    dusk_s: float

    @property
    def dawn_s(self) -> float:
        """Begin of civil twilight: as long before sunrise as dusk is after sunset, to a minute."""
        return self.sunrise_s - (self.dusk_s - self.sunset_s)


@dataclass(frozen=True, slots=True, kw_only=True)
class PinnedNight:
    """The guide's wish for where a day ends.

    day : number of the day, from 1; at_m or lon, lat : where; where : file and line
    by_file : the route's own file ends the day there, no guide asked for it
    """

    day: int
    at_m: float | None = None
    lon: float | None = None
    lat: float | None = None
    name: str | None = None
    where: str = ""
    by_file: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class PinnedStop:
    """The guide's wish for a stop. stay_s : how long; where : file and line."""

    kind: StopKind = StopKind.PINNED
    at_m: float | None = None
    lon: float | None = None
    lat: float | None = None
    name: str | None = None
    stay_s: float | None = None
    where: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Pins:
    """All wishes of a guide for one plan.

    start_s : local time of setting off each day; without_m : where the plan's own stop is not
    wanted, metres along the ride
    """

    nights: tuple[PinnedNight, ...] = ()
    stops: tuple[PinnedStop, ...] = ()
    start_s: float | None = None
    without_m: tuple[float, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Stop(Plain):
    """One stop of the plan.

    at_m : metres along the ride where one leaves it; off_m : way by road from there to the
        place, one way
    kinds : all it is for, the main reason first; why : in a sentence
    arrive_s : local time in seconds after midnight of its day; stay_s : time spent
    van_access : whether a van can come there, None if not known
    place : the mapped or known place, None by the roadside
    """

    _untold: ClassVar = ("arrive_s",)
    at_m: float
    off_m: float
    kinds: tuple[StopKind, ...]
    name: str | None
    lon: float
    lat: float
    why: str
    day: int
    arrive_s: float
    stay_s: float
    van_access: bool | None
    place: PlaceRef | None
    pinned: bool = False

    def to_dict(self) -> dict[str, Any]:
        kind, arrive = self.kinds[0].value, clock(self.arrive_s)
        return {**Plain.to_dict(self), "kind": kind, "arrive": arrive}

    @classmethod
    def from_dict(cls, told: Mapping[str, Any]) -> Stop:
        return cls(
            at_m=told["at_m"], off_m=told.get("off_m", 0.0),
            kinds=tuple(StopKind(kind) for kind in told.get("kinds", [told["kind"]])),
            name=told["name"], lon=told["lon"], lat=told["lat"], why=told["why"],
            day=told["day"], arrive_s=seconds(told["arrive"]), stay_s=told["stay_s"],
            van_access=told["van_access"], place=_place(told.get("place")),
            pinned=told.get("pinned", False),
        )  # fmt: skip


# Arrive an hour before civil dusk (common practice, no source).
BEFORE_DUSK_S = 3_600.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Day(Plain):
    """One day of the plan.

    riding_s, stops_s : time in the saddle and at stops (ways to them included)
    start_s, end_s : local time in seconds after midnight
    margin_s : from arrival to an hour before civil dusk, negative if later; None without a date
    hard : why the day is hard on rider or bike; empty if it is not
    """

    _keys: ClassVar = {"margin_s": "daylight_margin_s"}
    _untold: ClassVar = ("start_s", "end_s", "daylight")
    number: int
    from_m: float
    to_m: float
    riding_s: float
    stops_s: float
    start_s: float
    end_s: float
    daylight: Daylight | None
    margin_s: float | None
    lodging: PlaceRef | None
    lodging_off_m: float | None
    hard: tuple[str, ...]

    @property
    def before_dark_s(self) -> float | None:
        """From arrival to civil dusk [s], negative if later; None without a date."""
        return None if self.margin_s is None else self.margin_s + BEFORE_DUSK_S

    @property
    def is_dark(self) -> bool:
        """Whether all of it lies before dawn or after dusk."""
        sun = self.daylight
        return sun is not None and (self.end_s <= sun.dawn_s or self.start_s >= sun.dusk_s)

    def to_dict(self) -> dict[str, Any]:
        sun = self.daylight
        return {
            **Plain.to_dict(self),
            "start": clock(self.start_s),
            "end": clock(self.end_s),
            "sunrise": None if sun is None else clock(sun.sunrise_s),
            "sunset": None if sun is None else clock(sun.sunset_s),
            "dusk": None if sun is None else clock(sun.dusk_s),
        }

    @classmethod
    def from_dict(cls, told: Mapping[str, Any]) -> Day:
        sun = None
        if told["sunrise"] is not None:
            sun = Daylight(
                sunrise_s=seconds(told["sunrise"]), sunset_s=seconds(told["sunset"]),
                dusk_s=seconds(told["dusk"]),
            )  # fmt: skip
        return cls(
            number=told["number"], from_m=told["from_m"], to_m=told["to_m"],
            riding_s=told["riding_s"], stops_s=told["stops_s"], start_s=seconds(told["start"]),
            end_s=seconds(told["end"]), daylight=sun, margin_s=told["daylight_margin_s"],
            lodging=_place(told["lodging"]), lodging_off_m=told.get("lodging_off_m"),
            hard=tuple(told["hard"]),
        )  # fmt: skip


class ProblemKind(StrEnum):
    """What a plan cannot do."""

    FUEL = "fuel"
    REST = "rest"
    WATER = "water"
    LUNCH = "lunch"
    DAYLIGHT = "daylight"
    LONG_DAY = "long-day"
    LODGING = "lodging"
    PIN = "pin"


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanProblem(Plain):
    """One leg that cannot be done as asked. carry_l : fuel to carry, where that helps."""

    kind: ProblemKind
    from_m: float
    to_m: float
    text: str
    carry_l: float | None = None

    @classmethod
    def from_dict(cls, told: Mapping[str, Any]) -> PlanProblem:
        return cls(
            kind=ProblemKind(told["kind"]), from_m=told["from_m"], to_m=told["to_m"],
            text=told["text"], carry_l=told.get("carry_l"),
        )  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class FuelRange(Plain):
    """How far the group gets: by the bike class with the shortest range.

    bike, title : name of the class, and what people call it
    usable_l : tank less the reserve; l_per_km : worst steady consumption on tarmac; off-road
    consumption is higher by ground
    """

    _keys: ClassVar = {"bike": "class"}
    _also: ClassVar = ("range_m",)
    bike: str
    title: str
    usable_l: float
    l_per_km: float

    @property
    def range_m(self) -> float:
        """Range on tarmac with the reserve kept [m]."""
        return 1000.0 * self.usable_l / self.l_per_km


@dataclass(frozen=True, slots=True, kw_only=True)
class Plan(Plain):
    """Days and stops of a ride, with what breaks.

    words : what the plan takes for granted; detours : suggestions, never applied
    """

    days: tuple[Day, ...]
    stops: tuple[Stop, ...]
    problems: tuple[PlanProblem, ...]
    fuel: FuelRange | None
    words: tuple[str, ...]
    detours: tuple[Detour, ...] = ()

    def to_dict(self) -> dict[str, Any]:
        """The contract's `days` and `stops`, then `detours`, and `plan` with the rest."""
        told = Plain.to_dict(self)
        rest = {key: told.pop(key) for key in ("problems", "fuel", "words")}
        return {**told, "plan": rest}

    @classmethod
    def from_dict(cls, told: Mapping[str, Any]) -> Plan:
        """The plan of a report's JSON: times to the minute, without detours, whose lines it lacks.

        told : `to_dict`, or the whole report as JSON, of this version or an earlier one
        """
        rest: Mapping[str, Any] = told.get("plan") or {}
        fuel = rest.get("fuel")
        return cls(
            days=tuple(Day.from_dict(day) for day in told["days"]),
            stops=tuple(Stop.from_dict(stop) for stop in told["stops"]),
            problems=tuple(PlanProblem.from_dict(item) for item in rest.get("problems", ())),
            fuel=None
            if fuel is None
            else FuelRange(
                bike=fuel["class"], title=fuel["title"], usable_l=fuel["usable_l"],
                l_per_km=fuel["l_per_km"],
            ),
            words=tuple(rest.get("words", ())),
        )  # fmt: skip


def _place(told: Mapping[str, Any] | None) -> PlaceRef | None:
    return None if told is None else PlaceRef.from_dict(told)


def seconds(text: str) -> float:
    """A local time as `clock` writes it, in seconds after midnight."""
    hours, minutes = text.split(":")
    return 3600.0 * int(hours) + 60.0 * int(minutes)


def clock(time_s: float) -> str:
    """A local time as HH:MM; past midnight with the days that it is later (01:10+1)."""
    days, minutes = divmod(round(time_s / 60), 24 * 60)
    return f"{minutes // 60:02d}:{minutes % 60:02d}" + (f"+{days}" if days else "")
