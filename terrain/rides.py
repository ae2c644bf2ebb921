"""After the ride: a recording and a region in, what was ridden out."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from terrain.flow import match
from terrain.joins import ride_speeds, stretch_grades
from terrain.region.region import Region
from terrain.stages.ground import judge_ground
from terrain.stages.help.judge import judge_help
from terrain.stages.relief.judge import judge_relief
from terrain.stages.ridden.compare import compare
from terrain.stages.ridden.follow import along_plan
from terrain.stages.ridden.judge import RiddenInputs, judge_ridden
from terrain.stages.ridden.rests import knots_of, route_of
from terrain.tables.fleet import DEFAULT_FLEET
from terrain.values.arrays import FloatArray
from terrain.values.fleet import Fleet
from terrain.values.ground import Ground
from terrain.values.match import Match
from terrain.values.ridden import Ridden
from terrain.values.ride import Speeds, ride_of
from terrain.values.route import Route
from terrain.values.track import Track
from terrain.values.trip import Trip


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
    planned = None if plan is None else _laid(match(plan, region), plan, region, trip)
    own = np.arange(route.n_points)
    if planned is not None:
        filled = along_plan(route, knots, planned.match, planned.speeds)
        route, own = filled.route, filled.index
    laid = match(route, region)
    known = _laid(laid, route, region, trip)
    inputs = RiddenInputs(
        name=track.name, source=track.source, region=region.info.name, knots=knots, match=laid,
        at_m=laid.point_at_m[own], ground=known.ground, speeds=known.speeds,
        grade_pct=known.grade_pct,
        rider=trip.rider, bike_class=trip.wanted_class, problems=track.problems,
        remote=_remote(known, region, fleet) if help_asked else None,
        plan=None if planned is None else compare(laid, planned.match),
        plan_name="" if plan is None else plan.name,
        plan_length_m=0.0 if planned is None else planned.match.length_m,
        plan_s=0.0 if planned is None else planned.speeds.total_s,
    )  # fmt: skip
    return judge_ridden(inputs)


def line_of(track: Track) -> Route:
    """The line of a recording, rests made points: what regions are chosen by."""
    return route_of(knots_of(track), track.name, track.source)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Laid:
    """A line on the map with its ground and riding times."""

    match: Match
    ground: Ground
    speeds: Speeds
    grade_pct: tuple[float | None, ...]


def _laid(laid: Match, route: Route, region: Region, trip: Trip) -> _Laid:
    roads = region.roads
    relief = judge_relief(laid, roads, region.heights, file_ele_m=route.ele_m)
    ground = judge_ground(
        laid, roads, region.ground, grade_pct=relief.grade_between(laid.from_m, laid.to_m)
    )
    speeds = ride_speeds(laid, roads, region.places, ground, relief, trip)
    return _Laid(match=laid, ground=ground, speeds=speeds, grade_pct=stretch_grades(ground, relief))


def _remote(known: _Laid, region: Region, fleet: Fleet) -> FloatArray:
    ride = ride_of(known.match, known.ground, known.speeds)
    found = judge_help(ride, region.roads, region.places, region.help, fleet=fleet)
    return np.array([(run.from_m, run.to_m) for run in found.remote]).reshape(-1, 2)
