"""The whole job, top to bottom: a route and a region in, a report out."""

from __future__ import annotations

import logging
import sys
from collections.abc import Sequence
from dataclasses import replace
from datetime import UTC, date, datetime
from importlib import import_module
from importlib.metadata import version
from pathlib import Path
from typing import NamedTuple
from zoneinfo import ZoneInfo

from terrain.calc.daylight import zone_at
from terrain.errors import RegionDamaged, RegionMissing, RegionNotCovering
from terrain.region.cover import holds, meets, road_share
from terrain.region.region import Region, open_folder, region_folders
from terrain.region.region import open_region as open_in_home
from terrain.settings import Settings
from terrain.stages.advice import advise_case, gather
from terrain.stages.days import choose_days, with_days
from terrain.stages.detours import find_detours, take_answers
from terrain.stages.exits import find_exits
from terrain.stages.ground import judge_ground
from terrain.stages.heat import judge_heat
from terrain.stages.help.judge import judge_help
from terrain.stages.matching import DEFAULT_PARAMS, MatchParams, match_route, other_ways
from terrain.stages.places import places_along, shut_by_clock
from terrain.stages.plan import bikes_for, make_plan
from terrain.stages.relief.judge import judge_relief
from terrain.stages.speed import judge_speed
from terrain.stages.verdict import judge_verdict
from terrain.stages.weather.judge import judge_weather
from terrain.stages.when import judge_when
from terrain.tables.climate import ATTRIBUTION
from terrain.tables.fleet import DEFAULT_FLEET
from terrain.text.message import message
from terrain.values.answers import AnsweredPart
from terrain.values.fleet import Fleet
from terrain.values.forecast import Forecast
from terrain.values.ground import Alternative, Ground, GroundNote
from terrain.values.group import InGroup, RidesWith
from terrain.values.help import Helper
from terrain.values.learned import Learned
from terrain.values.match import Match
from terrain.values.plan import Pins
from terrain.values.relief import Relief
from terrain.values.report import Assessed, RegionNote, Report
from terrain.values.ride import Ride
from terrain.values.route import Route
from terrain.values.trip import Trip
from terrain.values.when import When

_log = logging.getLogger(__name__)


def _leave_blas_out() -> None:
    """Before its first kernel numba looks for scipy's BLAS, which none of ours uses: a tenth of a
    second and 8 MB of every process that reports."""
    blas = "scipy.linalg.cython_blas"
    if blas not in sys.modules:
        sys.modules[blas] = None  # type: ignore[assignment]
        try:
            import_module("numba.np.arraymath")
        finally:
            del sys.modules[blas]


_leave_blas_out()


def assess(
    route: Route,
    region: Region,
    trip: Trip | None = None,
    fleet: Fleet = DEFAULT_FLEET,
    *,
    notes: Sequence[GroundNote] = (),
    helpers: Sequence[Helper] = (),
    pins: Pins | None = None,
    learned: Learned | None = None,
    forecast: Forecast | None = None,
    beside: RidesWith | None = None,
    made_at: datetime | None = None,
) -> Report:
    """What ground, relief, heat and help lie along a route, and what follows from it.

    trip : who rides, when, with what load; a steady rider on no date if None
    notes, helpers : the operator's own, as read by `terrain.inputs`
    pins : the guide's wishes for days and stops
    learned : times and ground from the operator's own rides, as `terrain learn` keeps them
    forecast : of the days about the departure, as `fetch_forecast` got it
    beside : whom the rider stays with: whose pace it is, and what bikes must reach a pump
    made_at : stamped on the report; map and notes age to it if the trip has no day; now if None
    Raises RegionNotCovering if no part of the route lies on the region's roads.
    """
    laid = match(route, region)
    zone = zone_at(float(laid.lon[0]), float(laid.lat[0]), region.zones)
    trip, made_at = _local(trip or Trip(), zone), made_at or datetime.now(UTC)
    if learned is not None:
        trip, notes = learned.trip(trip), (*learned.notes(), *notes)
    pace = None if beside is None else beside.slowest
    roads, day = region.roads, (trip.depart or made_at).date()
    on = _ridden(route, laid, region, day, pace or trip, notes, forecast)
    answered: tuple[AnsweredPart, ...] = ()
    if trip.answers:
        taken = take_answers(
            route, on.ride, roads, region.help, trip.answers, way_p=on.ground.way_p,
            noted=made_at.date(),
        )  # fmt: skip
        if taken.route is not route or taken.notes:
            # Another line, or another ground: all of it is judged anew.
            route, notes, laid = taken.route, (*notes, *taken.notes), match(taken.route, region)
            taken = taken.laid(laid)
            on = _ridden(route, laid, region, day, pace or trip, notes, forecast)
        answered, trip = taken.parts, replace(trip, answers=taken.on_ride)
    laid, ride, ground, relief, others = on.ride.match, on.ride, on.ground, on.relief, on.others
    places = places_along(laid, roads, region.places, region.areas)
    exits = find_exits(ride, roads, region.help)
    help_ = judge_help(
        ride, roads, region.places, region.help, fleet=fleet, helpers=helpers, exits=exits
    )
    detours = find_detours(
        ride, roads, region.help, way_p=ground.way_p, remote=help_.remote, trip=trip
    )
    pins = with_days(pins, route, laid)
    days = choose_days(
        ride, roads, region.places, region.help, rules=fleet.rules, trip=trip, helpers=helpers,
        pins=pins, zone=zone,
    )  # fmt: skip
    places = shut_by_clock(places, days.clock, trip.depart)
    heat = judge_heat(
        ride, relief, days.clock, trip=trip, fleet=fleet, own=region.climate,
        places=region.places, nodes=places.nodes, forecast=forecast,
    )  # fmt: skip
    case = gather(
        ride, ground, relief, places, help_, days, heat, others, roads=roads, trip=trip, fleet=fleet
    )
    advice = advise_case(case)
    plan = make_plan(
        ride, days, region.places, region.help, exits=exits, detours=detours, heat=heat,
        advice=advice, trip=trip, fleet=fleet, helpers=helpers, pins=pins,
        beside=() if beside is None else beside.bikes,
    )  # fmt: skip
    note, when = _region_note(region, day), None
    if trip.depart is None:
        when = judge_when(
            ride, relief, days.clock, roads, route=route.name, region=note, trip=trip,
            fleet=fleet, own=region.climate, engines=False,
        )  # fmt: skip
    assessed = Assessed(
        region=note, route=route, trip=trip, fleet=fleet, ride=ride,
        ground=ground, places=places, relief=relief, heat=heat, help=help_, advice=advice,
        plan=plan, found_shut=() if learned is None else learned.shut_on(laid),
        answered=answered, when=when,
        weather=None if forecast is None else judge_weather(forecast, laid, heat),
    )  # fmt: skip
    return Report(
        made_at=made_at, terrain_version=version("terrain"), assessed=assessed,
        verdict=judge_verdict(assessed),
    )  # fmt: skip


def assess_group(
    route: Route,
    region: Region,
    trips: Sequence[Trip],
    fleet: Fleet = DEFAULT_FLEET,
    *,
    notes: Sequence[GroundNote] = (),
    helpers: Sequence[Helper] = (),
    pins: Pins | None = None,
    learned: Learned | None = None,
    forecast: Forecast | None = None,
    made_at: datetime | None = None,
) -> tuple[InGroup, ...]:
    """A report for each rider of a group that stays together; nothing is averaged.

    trips : a rider each; the same route, day and answers
    All ride at the pace of the slowest, and stop where the bike of the shortest range must: days,
    clock, heat and stops are the same in each report, bike and rider are judged one by one.
    Raises RegionNotCovering if no part of the route lies on the region's roads.
    """
    made_at = made_at or datetime.now(UTC)

    def judged(trip: Trip, beside: RidesWith | None = None) -> Report:
        return assess(
            route, region, trip, fleet, notes=notes, helpers=helpers, pins=pins, learned=learned,
            forecast=forecast, beside=beside, made_at=made_at,
        )  # fmt: skip

    alone = {trip: judged(trip) for trip in dict.fromkeys(trips)}
    if len(alone) == 1:
        told = [InGroup(report=alone[trip], alone_s=_riding_s(alone[trip])) for trip in trips]
        return tuple(told)
    slowest = max(alone.values(), key=_riding_s)
    bikes = tuple(
        bike
        for report in alone.values()
        for bike in bikes_for(report.assessed.trip, fleet, report.assessed.advice)
    )
    beside = RidesWith(slowest=slowest.assessed.trip, bikes=tuple(dict.fromkeys(bikes)))
    together = {trip: judged(trip, beside) for trip in alone}
    return tuple(InGroup(report=together[trip], alone_s=_riding_s(alone[trip])) for trip in trips)


def _riding_s(report: Report) -> float:
    return report.assessed.ride.total_s


class _Ridden(NamedTuple):
    """A line on the map with its ground and riding times."""

    relief: Relief
    others: tuple[Alternative, ...]
    ground: Ground
    ride: Ride


def _ridden(
    route: Route,
    laid: Match,
    region: Region,
    day: date,
    trip: Trip,
    notes: Sequence[GroundNote],
    forecast: Forecast | None = None,
) -> _Ridden:
    """day : to which map and notes age"""
    roads = region.roads
    relief = judge_relief(laid, roads, region.heights, file_ele_m=route.ele_m)
    others = other_ways(laid, roads, region.ground)
    ground = judge_ground(
        laid, roads, region.ground, relief, day=day, trip=trip, notes=notes, others=others,
        forecast=forecast,
    )  # fmt: skip
    ride = judge_speed(laid, ground, relief, region.places, roads, trip=trip)
    return _Ridden(relief, others, ground, ride)


def when_to_go(
    route: Route,
    region: Region,
    trip: Trip | None = None,
    fleet: Fleet = DEFAULT_FLEET,
    *,
    notes: Sequence[GroundNote] = (),
    helpers: Sequence[Helper] = (),
) -> When:
    """Twelve months by start hour: heat, cold, light and ground of a ride that is judged once, with
    what forbids it in any of them.

    trip : who rides, with what load; its departure is not asked for
    Raises RegionNotCovering if no part of the route lies on the region's roads.
    """
    trip, roads = replace(trip or Trip(), depart=None), region.roads
    report = assess(route, region, trip, fleet, notes=notes, helpers=helpers)
    whole, verdict = report.assessed, report.verdict
    days = choose_days(
        whole.ride, roads, region.places, region.help, rules=fleet.rules, trip=trip,
        helpers=helpers, pins=with_days(None, route, whole.ride.match),
        zone=zone_at(*whole.ride.lonlat(0.0), region.zones),
    )  # fmt: skip
    when = judge_when(
        whole.ride, whole.relief, days.clock, roads, route=route.name, region=whole.region,
        trip=trip, fleet=fleet, own=region.climate,
    )  # fmt: skip
    return replace(when, forbids=verdict.worst if verdict.forbidden else "")


def _local(trip: Trip, zone: ZoneInfo) -> Trip:
    """The trip with its departure as the clock shows it where the ride starts, without a zone."""
    if trip.depart is None or trip.depart.tzinfo is None:
        return trip
    return replace(trip, depart=trip.depart.astimezone(zone).replace(tzinfo=None))


def match(route: Route, region: Region, params: MatchParams = DEFAULT_PARAMS) -> Match:
    """The route laid on the region's ways, in riding order.

    Raises RegionNotCovering if none of it lies on them.
    """
    ride = match_route(route, region.roads, params) if meets(region.info.bbox, route) else None
    if ride is None or ride.matched_m + ride.ferry_m <= 0:
        raise RegionNotCovering(
            message(
                "no part of the route lies on the roads of region {name}",
                name=repr(region.info.name),
            ),
            route.source or route.name,
            message(
                "Choose the region the route lies in, or build it with 'terrain region build'."
            ),
        )
    return ride


def open_region(name_or_folder: str | Path, home: Path | None = None) -> Region:
    """A local region by name or folder; opens in constant time.

    home : the folder of regions and settings; TERRAIN_HOME or the platform's data folder if None
    Raises RegionMissing, RegionDamaged.
    """
    return open_in_home(name_or_folder, home or Settings.from_env().home)


def find_region(route: Route, home: Path | None = None) -> Region:
    """The local region whose box holds the whole route and whose roads lie along most of it.

    Of several that do, the smallest. A ferry may stretch a box far beyond the region's roads.
    A damaged region is passed over, with a warning in the log.
    Raises RegionMissing if there are no regions, RegionNotCovering if none holds it,
    RegionDamaged if none of the sound ones does.
    """
    folders = region_folders(home or Settings.from_env().home)
    if not folders:
        raise RegionMissing(
            message("there are no regions on this machine yet"),
            "",
            message("Build one with 'terrain region build', or try 'terrain demo'."),
        )
    regions, damaged = _opened(folders)
    fitting = [region for region in regions if holds(region.info.bbox, route)]
    if not fitting:
        if damaged:  # it might be the one
            raise damaged[0]
        names = ", ".join(region.info.name for region in regions)
        raise RegionNotCovering(
            message("none of the regions here ({names}) covers the route", names=str(names)),
            route.source or route.name,
            message(
                "Build the one it lies in with 'terrain region build', or name one with --region."
            ),
        )
    if len(fitting) == 1:
        return fitting[0]
    # In tenths: a road more or less does not make a larger region the better one.
    return max(
        fitting,
        key=lambda region: (round(road_share(region, route), 1), -_area(region.info.bbox)),
    )


def _opened(folders: Sequence[Path]) -> tuple[list[Region], list[RegionDamaged]]:
    """The regions that open, and what is wrong with the others."""
    regions, damaged = [], []
    for folder in folders:
        try:
            regions.append(open_folder(folder))
        except RegionDamaged as fault:
            _log.warning("a region is passed over: %s", fault)
            damaged.append(fault)
    return regions, damaged


def _area(bbox: tuple[float, float, float, float]) -> float:
    west, south, east, north = bbox
    return (east - west) * (north - south)


def _region_note(region: Region, day: date | None = None) -> RegionNote:
    """day : the ride is judged for"""
    info = region.info
    return RegionNote(
        name=info.name,
        map_date=None if info.map_date is None else info.map_date.isoformat(),
        bbox=info.bbox,
        attribution=(*info.attribution, ATTRIBUTION),
        notes=region.notes,
        map_age_days=None if day is None or info.map_date is None else (day - info.map_date).days,
    )
