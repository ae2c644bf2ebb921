"""After the ride: a recording and a region in, what was ridden out."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from terrain.flow import match
from terrain.region.region import Region
from terrain.stages.ground.judge import ground_along
from terrain.stages.help.judge import judge_help
from terrain.stages.matching import DEFAULT_PARAMS, MatchParams
from terrain.stages.relief.judge import judge_relief
from terrain.stages.ridden.compare import compare
from terrain.stages.ridden.follow import along_plan
from terrain.stages.ridden.judge import RiddenInputs, judge_ridden
from terrain.stages.ridden.rests import knots_of, route_of
from terrain.stages.speed import judge_speed
from terrain.tables.fleet import DEFAULT_FLEET
from terrain.values.arrays import FloatArray
from terrain.values.fleet import Fleet
from terrain.values.ground import Ground
from terrain.values.learned import Statement
from terrain.values.match import Match
from terrain.values.ridden import PlanStretch, Ridden
from terrain.values.ride import Ride, Speeds
from terrain.values.route import Route
from terrain.values.track import Track
from terrain.values.trip import Three, Trip

OFF_PLAN = MatchParams(any_road=True)


def ridden(
    track: Track,
    region: Region,
    plan: Route | None = None,
    trip: Trip | None = None,
    fleet: Fleet = DEFAULT_FLEET,
    *,
    help_asked: bool = True,
) -> Ridden:
    """Where a recorded ride went, how long it took by ground, and where it left its plan.

    plan : what was planned, if anything
    trip : who rode and with what load; a steady rider if None
    fleet : its limits say what is far from help
    help_asked : False leaves out the time far from help, which takes longest to find
    Raises TrackError for a ride that is too short or has another plan, RegionNotCovering.
    """
    trip = trip or Trip()
    knots = knots_of(track)
    route = route_of(knots, track.name, track.source)
    planned = None if plan is None else _ride_on(match(plan, region), plan, region, trip)[1]
    own = np.arange(route.n_points)
    if planned is not None:
        filled = along_plan(route, knots, planned.match, planned.speeds)
        route, own = filled.route, filled.index
    # Off its plan a ride left the way a planner takes: what is left to guess follows no planner.
    laid = match(route, region, DEFAULT_PARAMS if plan is None else OFF_PLAN)
    ground, ride = _ride_on(laid, route, region, trip)
    inputs = RiddenInputs(
        name=track.name, source=track.source, region=region.info.name, knots=knots, match=laid,
        at_m=laid.point_at_m[own], ground=ground, speeds=ride.speeds,
        grade_pct=tuple(None if np.isnan(x) else float(x) for x in ride.grade_pct),
        rider=trip.rider, bike_class=trip.wanted_class, problems=track.problems,
        zones=region.zones,
        remote=_remote(ride, region, fleet) if help_asked else None,
        plan=None if planned is None else compare(laid, planned.match),
        plan_name="" if plan is None else plan.name,
        plan_length_m=0.0 if planned is None else planned.match.length_m,
        plan_s=0.0 if planned is None else planned.speeds.total_s,
        plan_stretches=() if planned is None else _strip(planned),
    )  # fmt: skip
    return judge_ridden(inputs)


def _strip(ride: Ride) -> tuple[PlanStretch, ...]:
    return tuple(
        PlanStretch(from_m=s.from_m, to_m=s.to_m, ground=s.ground, p=s.p) for s in ride.stretches
    )


def line_of(track: Track) -> Route:
    """The line of a recording, rests made points: what regions are chosen by."""
    return route_of(knots_of(track), track.name, track.source)


def estimated(route: Route, region: Region, trip: Trip) -> Speeds:
    """Riding times along a line as they are expected of a recorded ride."""
    return _ride_on(match(route, region), route, region, trip)[1].speeds


def _ride_on(laid: Match, route: Route, region: Region, trip: Trip) -> tuple[Ground, Ride]:
    """A line on the map with its ground and riding times."""
    roads = region.roads
    relief = judge_relief(laid, roads, region.heights, file_ele_m=route.ele_m)
    grade_pct = relief.grade_between(laid.from_m, laid.to_m)
    ground = ground_along(laid, roads, region.ground, grade_pct=grade_pct)
    return ground, judge_speed(laid, ground, relief, region.places, roads, trip=trip)


def _remote(ride: Ride, region: Region, fleet: Fleet) -> FloatArray:
    found = judge_help(ride, region.roads, region.places, region.help, fleet=fleet)
    return np.array([(run.from_m, run.to_m) for run in found.remote]).reshape(-1, 2)


def map_ground(region: Region, statements: Sequence[Statement]) -> dict[int, Three]:
    """The chances of paved, gravel and track of the ways told of, as the map alone has them."""
    told = np.unique([s.way_id for s in statements])
    rows = np.flatnonzero(np.isin(region.roads.ways.way_id, told))
    found: dict[int, Three] = {}
    for row in rows.tolist():
        a, b, c = (float(v) for v in region.ground.p[row])
        found[int(region.roads.ways.way_id[row])] = (a, b, c)
    return found
