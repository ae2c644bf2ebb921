"""What one stage hands to the next, put in the shape the next one asks for."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, datetime, timedelta

import numpy as np
from scipy.spatial import cKDTree

from terrain.calc.daylight import sun_day, zone_at
from terrain.calc.geodesy import metres_per_degree
from terrain.stages.heat import HeatInputs
from terrain.stages.speed.edges import way_ferry_kph
from terrain.stages.speed.judge import judge_speed, ride_bend_deg_km
from terrain.stages.speed.pace import SpeedInputs
from terrain.text.figures import N_
from terrain.text.message import sentence
from terrain.values.advice import Advice
from terrain.values.arrays import BoolArray, FloatArray
from terrain.values.clock import RideClock, SunKind
from terrain.values.fleet import BikeClass, Fleet
from terrain.values.ground import Ground, GroundKind, Severity
from terrain.values.match import Match
from terrain.values.plan import Daylight, Plan, PlanProblem, ProblemKind
from terrain.values.relief import Relief
from terrain.values.ride import Ride, Speeds
from terrain.values.trip import Trip
from terrain.values.views import PLACE_KINDS, PlaceKind, PlacesView, RoadsView

# How far from its node a settlement slows traffic [m]; common practice, no source.
_SETTLED_M: dict[PlaceKind, float] = {
    PlaceKind.CITY: 2500.0, PlaceKind.TOWN: 1000.0, PlaceKind.VILLAGE: 350.0,
    PlaceKind.HAMLET: 120.0,
}  # fmt: skip
_NOTHING = np.zeros(0)
_DAYS_AHEAD = 14  # no ride of more days is planned day by day
_STREETS = ("residential", "living_street")


def ride_speeds(
    match: Match,
    roads: RoadsView,
    places: PlacesView,
    ground: Ground,
    relief: Relief,
    trip: Trip,
) -> Speeds:
    """Riding speed of each stretch of `ground`."""
    stretches = ground.stretches
    from_m = np.array([s.from_m for s in stretches])
    to_m = np.array([s.to_m for s in stretches])
    way = np.array([s.way for s in stretches], dtype=np.int64)
    on_map, row = way >= 0, np.maximum(way, 0)
    nan = (np.nan, np.nan, np.nan)
    severity = [np.nan if s.severity is None else int(s.severity) for s in stretches]
    ferry = np.array([s.ground is GroundKind.FERRY for s in stretches])
    inputs = SpeedInputs(
        highway=np.where(on_map, roads.ways.highway.codes[row], -1).astype(np.int16),
        highway_values=roads.ways.highway.values,
        maxspeed_kph=np.where(on_map, roads.ways.maxspeed_kph[row], np.nan).astype(np.float64),
        p=np.array([s.p or nan for s in stretches], dtype=np.float64).reshape(-1, 3),
        severity=np.array(severity) / float(max(Severity)),
        grade_pct=relief.grade_between(from_m, to_m),
        bend_deg_km=ride_bend_deg_km(match.lon, match.lat, match.at_m, from_m, to_m),
        settled=_settled(match, places, (from_m + to_m) / 2)
        | np.array([s.highway in _STREETS for s in stretches]),
        ferry=ferry,
        ferry_kph=np.where(ferry & on_map, way_ferry_kph(roads)[row], np.nan),
    )
    return judge_speed(from_m, to_m, inputs=inputs, trip=trip)


def _settled(match: Match, places: PlacesView, at_m: FloatArray) -> BoolArray:
    """True where a position of the ride lies inside a settlement."""
    lon, lat = match.lonlat(at_m)
    m_lon, m_lat = metres_per_degree(float(match.lat.mean()))
    inside = np.zeros(len(at_m), dtype=np.bool_)
    for kind, reach_m in _SETTLED_M.items():
        here = places.kind == PLACE_KINDS.index(kind)
        if here.any():
            tree = cKDTree(np.column_stack([places.lon[here] * m_lon, places.lat[here] * m_lat]))
            away, _ = tree.query(np.column_stack([lon * m_lon, lat * m_lat]))
            inside |= away <= reach_m
    return inside


def heat_inputs(
    match: Match, ground: Ground, relief: Relief, speeds: Speeds, clock: RideClock
) -> HeatInputs:
    """The ride as the heat stage asks for it."""
    stretches = ground.stretches
    nan = (np.nan, np.nan, np.nan)
    severity = [np.nan if s.severity is None else int(s.severity) for s in stretches]
    known = relief.source is not None
    return HeatInputs(
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
        p=np.array([s.p or nan for s in stretches], dtype=np.float64).reshape(-1, 3),
        severity=np.array(severity) / float(max(Severity)),
        ferry=np.array([s.ground is GroundKind.FERRY for s in stretches]),
        clock=clock,
    )


def stretch_grades(ground: Ground, relief: Relief) -> tuple[float | None, ...]:
    """Mean grade of each stretch [%]; None where not known or on a ferry."""
    from_m = np.array([s.from_m for s in ground.stretches])
    to_m = np.array([s.to_m for s in ground.stretches])
    grades = relief.grade_between(from_m, to_m)
    return tuple(
        None if np.isnan(grade) or s.ground is GroundKind.FERRY else float(grade)
        for grade, s in zip(grades, ground.stretches, strict=True)
    )


def bikes_for(trip: Trip, fleet: Fleet, advice: Advice) -> tuple[BikeClass, ...]:
    """The class a plan must suit: the one asked for, else the best advised, else all."""
    names = [trip.wanted_class or "", *(bike.name for bike in advice.bikes)]
    found = [bike for name in names if (bike := fleet.named(name)) is not None]
    return tuple(found[:1]) or fleet.classes


def local_trip(trip: Trip, match: Match) -> Trip:
    """The trip with its departure as the clock shows it where the ride starts, without a zone."""
    if trip.depart is None or trip.depart.tzinfo is None:
        return trip
    zone = zone_at(float(match.lon[0]), float(match.lat[0]))
    return replace(trip, depart=trip.depart.astimezone(zone).replace(tzinfo=None))


_NO_SUNRISE = N_(
    "The sun does not rise on {polar_day} where the ride starts: all of it is in the dark or in "
    "twilight. No tracks at night; ride another time of year, or only what may be ridden in the "
    "dark."
)
_NO_SUNSET = N_(
    "The sun does not set on {polar_day} where the ride starts: days end by riding time alone."
)


def daylight_of(trip: Trip, ride: Ride) -> tuple[Daylight, ...]:
    """The light of the first days of a trip, at its start; empty without a date.

    Ends before the first day on which the sun does not rise or set: that day has no end to keep.
    """
    if trip.depart is None:
        return ()
    lon, lat = ride.lonlat(0.0)
    zone = zone_at(lon, lat)
    found = []
    for n in range(_DAYS_AHEAD):
        day = trip.depart.date() + timedelta(days=n)
        sun = sun_day(lon, lat, day, zone)
        if sun.sunrise is None or sun.sunset is None:
            break
        dusk = sun.dusk or sun.sunset
        found.append(
            Daylight(
                sunrise_s=_since_midnight_s(sun.sunrise, day),
                sunset_s=_since_midnight_s(sun.sunset, day),
                dusk_s=_since_midnight_s(dusk, day),
            )
        )  # fmt: skip
    return tuple(found)


def with_polar_sun(plan: Plan, trip: Trip, ride: Ride) -> Plan:
    """The plan with a word on a sun that does not rise, or does not set, on a day of the ride."""
    if trip.depart is None:
        return plan
    lon, lat = ride.lonlat(0.0)
    zone = zone_at(lon, lat)
    dates = [trip.depart.date() + timedelta(days=n) for n in range(max(1, len(plan.days)))]
    for day in dates:
        kind = sun_day(lon, lat, day, zone).kind
        if kind is SunKind.POLAR_NIGHT:
            text = sentence(_NO_SUNRISE, polar_day=day.isoformat())
            dark = PlanProblem(kind=ProblemKind.DAYLIGHT, from_m=0.0, to_m=ride.length_m, text=text)
            return replace(plan, problems=(dark, *plan.problems))
        if kind is SunKind.POLAR_DAY:
            said = sentence(_NO_SUNSET, polar_day=day.isoformat())
            return replace(plan, words=(said, *plan.words))
    return plan


def _since_midnight_s(moment: datetime, day: date) -> float:
    # In a northern summer dusk comes after midnight: that is late in the day, not early.
    days = (moment.date() - day).days
    return days * 86_400.0 + moment.hour * 3600.0 + moment.minute * 60.0 + moment.second
