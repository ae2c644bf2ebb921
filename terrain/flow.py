"""The whole job, top to bottom: a route and a region in, a report out."""

from __future__ import annotations

import logging
from collections.abc import Sequence
from datetime import UTC, date, datetime
from importlib.metadata import version
from pathlib import Path
from typing import NamedTuple

import numpy as np

from terrain.errors import RegionDamaged, RegionMissing, RegionNotCovering
from terrain.joins import (
    bikes_for,
    daylight_of,
    heat_inputs,
    local_trip,
    ride_speeds,
    stretch_grades,
    with_polar_sun,
)
from terrain.joins_advice import advice_inputs
from terrain.region.cover import holds, meets, road_share
from terrain.region.region import Region, open_folder, region_folders
from terrain.region.region import open_region as open_in_home
from terrain.settings import Settings
from terrain.stages.advice import advise
from terrain.stages.days import RideDays, choose_days
from terrain.stages.detours import find_detours
from terrain.stages.exits import find_exits
from terrain.stages.ground import judge_ground, with_notes
from terrain.stages.heat import judge_heat
from terrain.stages.help.judge import judge_help
from terrain.stages.matching import lay_route, other_ways
from terrain.stages.places.areas import areas_along
from terrain.stages.places.around import look_around
from terrain.stages.plan import make_plan
from terrain.stages.relief.judge import judge_relief
from terrain.tables.climate import ATTRIBUTION
from terrain.tables.fleet import DEFAULT_FLEET
from terrain.tables.heat import WATER_HOT_L_H
from terrain.text.message import sentence
from terrain.values.advice import Advice
from terrain.values.detours import Detour
from terrain.values.exits import Exit
from terrain.values.fleet import Fleet
from terrain.values.ground import Ground, GroundNote, OtherWay, WayGround
from terrain.values.heat import Heat
from terrain.values.help import Help, Helper
from terrain.values.match import Match
from terrain.values.plan import Pins
from terrain.values.relief import Relief
from terrain.values.report import NotKnown, RegionNote, Report
from terrain.values.ride import Ride, Speeds, ride_of
from terrain.values.route import Route
from terrain.values.trip import Trip

_log = logging.getLogger(__name__)


def assess(
    route: Route,
    region: Region,
    trip: Trip | None = None,
    fleet: Fleet = DEFAULT_FLEET,
    *,
    notes: Sequence[GroundNote] = (),
    helpers: Sequence[Helper] = (),
    pins: Pins | None = None,
    made_at: datetime | None = None,
) -> Report:
    """What ground, relief, heat and help lie along a route, and what follows from it.

    trip : who rides, when, with what load; a steady rider on no date if None
    notes, helpers : the operator's own, as read by `terrain.inputs`
    pins : the guide's wishes for days and stops
    made_at : stamped on the report; map and notes age to it if the trip has no day; now if None
    Raises RegionNotCovering if no part of the route lies on the region's roads.
    """
    laid = match(route, region)
    trip = local_trip(trip or Trip(), laid)
    made_at = made_at or datetime.now(UTC)
    land = _land_of(laid, route, region, trip, notes, (trip.depart or made_at).date())
    reach = _reach_of(land, region, fleet, helpers)
    # One clock for all that follows: where the days end, and the hour each place is passed.
    days = choose_days(
        land.ride, region.roads, region.places, region.help, rules=fleet.rules, trip=trip,
        helpers=helpers, daylight=daylight_of(trip, land.ride), pins=pins,
    )  # fmt: skip
    heat = judge_heat(
        heat_inputs(laid, land.ground, land.relief, land.speeds, days.clock),
        trip=trip, fleet=fleet, own=region.climate,
    )  # fmt: skip
    advice = _advice_on(laid, land, reach, days, heat, region=region, trip=trip, fleet=fleet)
    heat_at_m, heat_c = heat.temp_along()
    plan = make_plan(
        land.ride, days, region.places, region.help, bikes=bikes_for(trip, fleet, advice),
        rules=fleet.rules, trip=trip, exits=reach.exits, helpers=helpers, pins=pins,
        detours=reach.detours, heat_at_m=heat_at_m, heat_c=heat_c,
        water_l_h=WATER_HOT_L_H if heat.rider is None else heat.rider.water_most_l_h,
    )  # fmt: skip
    return Report(
        made_at=made_at, terrain_version=version("terrain"), region=_region_note(region),
        route=route, trip=trip, match=laid, ground=land.ground, speeds=land.speeds,
        grade_pct=stretch_grades(land.ground, land.relief), relief=land.relief, heat=heat,
        help=reach.help_, advice=advice, plan=with_polar_sun(plan, trip, land.ride),
        surroundings=look_around(laid, region.roads, region.places),
        not_known=_not_known(land.relief),
    )  # fmt: skip


class _Land(NamedTuple):
    """What lies under the wheels, and how fast it is ridden.

    others : the ways that may have been meant where the line leaves it open
    noted : the ground of all ways of the region, the operator's notes heeded
    """

    relief: Relief
    ground: Ground
    others: tuple[OtherWay, ...]
    noted: WayGround
    speeds: Speeds
    ride: Ride


def _land_of(
    laid: Match, route: Route, region: Region, trip: Trip, notes: Sequence[GroundNote], day: date
) -> _Land:
    """Heights, ground and speed. day : to which map and notes age."""
    roads = region.roads
    relief = judge_relief(laid, roads, region.heights, file_ele_m=route.ele_m)
    others = other_ways(laid, roads)
    ground = judge_ground(
        laid, roads, region.ground, month=None if trip.depart is None else trip.depart.month,
        today=day, notes=notes, grade_pct=relief.grade_between(laid.from_m, laid.to_m),
        others=others, ele_m=relief.ele_at((laid.from_m + laid.to_m) / 2),
    )  # fmt: skip
    speeds = ride_speeds(laid, roads, region.places, ground, relief, trip)
    return _Land(
        relief=relief,
        ground=ground,
        others=others,
        noted=with_notes(region.ground, roads, notes, day),
        speeds=speeds,
        ride=ride_of(laid, ground, speeds),
    )


class _Reach(NamedTuple):
    """What can be reached by road from the ride: ways out, help, and ways round what is remote."""

    exits: tuple[Exit, ...]
    help_: Help
    detours: tuple[Detour, ...]


def _reach_of(land: _Land, region: Region, fleet: Fleet, helpers: Sequence[Helper]) -> _Reach:
    roads, fields = region.roads, region.help
    exits = find_exits(land.ride, roads, fields)
    help_ = judge_help(
        land.ride, roads, region.places, fields, fleet=fleet, helpers=helpers, exits=exits
    )
    way_p = np.asarray(land.noted.p, dtype=np.float64)
    detours = find_detours(land.ride, roads, fields, way_p=way_p, remote=help_.remote)
    return _Reach(exits=exits, help_=help_, detours=detours)


def _advice_on(
    laid: Match, land: _Land, reach: _Reach, days: RideDays, heat: Heat, *,
    region: Region, trip: Trip, fleet: Fleet,
) -> Advice:  # fmt: skip
    inputs = advice_inputs(
        match=laid, roads=region.roads, places=region.places, ground=land.ground,
        relief=land.relief, speeds=land.speeds, heat=heat, help_=reach.help_, clock=days.clock,
        fuel=days.fuel, trip=trip, fleet=fleet, way_ground=land.noted, others=land.others,
        areas=None if region.areas is None else areas_along(laid, region.areas),
    )  # fmt: skip
    return advise(inputs)


def match(route: Route, region: Region) -> Match:
    """The route laid on the region's ways, in riding order.

    Raises RegionNotCovering if none of it lies on them.
    """
    ride = lay_route(route, region.roads) if meets(region.info.bbox, route) else None
    if ride is None or ride.matched_m + ride.ferry_m <= 0:
        raise RegionNotCovering(
            f"no part of the route lies on the roads of region {region.info.name!r}",
            route.source or route.name,
            "Choose the region the route lies in, or build it with 'terrain region build'.",
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
            "there are no regions on this machine yet",
            "",
            "Build one with 'terrain region build', or try 'terrain demo'.",
        )
    regions, damaged = _opened(folders)
    fitting = [region for region in regions if holds(region.info.bbox, route)]
    if not fitting:
        if damaged:  # it might be the one
            raise damaged[0]
        names = ", ".join(region.info.name for region in regions)
        raise RegionNotCovering(
            f"none of the regions here ({names}) covers the route",
            route.source or route.name,
            "Build the one it lies in with 'terrain region build', or name one with --region.",
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


def _region_note(region: Region) -> RegionNote:
    info = region.info
    return RegionNote(
        name=info.name,
        map_date=None if info.map_date is None else info.map_date.isoformat(),
        bbox=info.bbox,
        attribution=(*info.attribution, ATTRIBUTION),
        notes=info.notes,
    )


_VOID_M = 200.0  # a shorter part without a grade changes neither speed nor heat
_NO_HEIGHTS = sentence("no heights: the region has no elevation here")
_NO_CLIMB = sentence("the climb and descent: heights are known for too little of the ride")


def _not_known(relief: Relief) -> tuple[NotKnown, ...]:
    """The parts of the report that are missing, with the reason."""
    missing = []
    if relief.source is None:
        missing.append(NotKnown(key="relief", why=_NO_HEIGHTS))
    elif relief.ascent_m is None:
        missing.append(NotKnown(key="relief.ascent_m", why=_NO_CLIMB))
    if relief.void_m >= _VOID_M:
        why = sentence(
            "the grade of {void_m}: the elevation data has holes there, so speed takes what is "
            "usual for the road, and the engine the mean climb across",
            void_m=relief.void_m,
        )
        missing.append(NotKnown(key="stretches.grade_pct", why=why))
    return tuple(missing)
