"""Help, ways out, detours and plan of rides at the edge of what can be: never an error."""

from __future__ import annotations

import json

import numpy as np
import pytest

from terrain.stages.days import choose_days
from terrain.stages.detours import find_detours
from terrain.stages.exits import find_exits
from terrain.stages.help import judge_help
from terrain.stages.plan.make import plan_stops
from terrain.tables.fleet import DEFAULT_FLEET
from terrain.values.exits import Exit
from terrain.values.ground import GroundKind
from terrain.values.help import Help
from terrain.values.match import LegKind, Match
from terrain.values.plan import Plan
from terrain.values.ride import Ride
from terrain.values.trip import Trip
from tests.stages.tinymap import PAVED, TRACK, TinyMap, TinyRegion, ride_on

FERRY = {"route": "ferry", "duration": "00:30"}


def _region(tmp_path, *, places: bool = False) -> TinyRegion:
    tiny = TinyMap(nodes={"A": (0, 0), "B": (10_000, 0), "C": (30_000, 0), "D": (40_000, 0)})
    tiny.way("AB", PAVED).way("BC", FERRY).way("CD", TRACK)
    if places:
        tiny.spot((0, 0), shop="motorcycle_repair", name="West Works")
        tiny.spot((40_000, 0), amenity="fuel")
    return tiny.read(tmp_path)


def _off_map(length_m: float, *, pieces: int = 1) -> Ride:
    """A ride that touches no mapped way."""
    ends = np.linspace(0.0, length_m, pieces + 1)
    none = np.full(pieces, -1, np.int32)
    nan = np.full(pieces, np.nan)
    match = Match(
        kind=np.full(pieces, LegKind.UNMAPPED, np.int8), filled=np.zeros(pieces, bool), edge=none,
        way=none, way_id=none.astype(np.int64), forward=np.ones(pieces, bool), edge_from_m=nan,
        edge_to_m=nan, from_m=ends[:-1], to_m=ends[1:], offset_m=nan, lon=ends / 111_319.49,
        lat=np.zeros(pieces + 1), at_m=ends, point_at_m=np.zeros(0),
        breaks_m=tuple(ends[1:-1]),
    )  # fmt: skip
    return ride_on(match, [GroundKind.UNMAPPED] * pieces, np.zeros((0, 3)))


def _all(ride: Ride, region: TinyRegion) -> tuple[Help, tuple[Exit, ...], Plan]:
    fields = region.fields()
    roads, places = region.roads, region.places
    exits = find_exits(ride, roads, fields)
    help_ = judge_help(ride, roads, places, fields, fleet=DEFAULT_FLEET, exits=exits)
    detours = find_detours(ride, roads, fields, way_p=region.way_p, remote=help_.remote)
    days = choose_days(ride, roads, places, fields, rules=DEFAULT_FLEET.rules, trip=Trip())
    plan = plan_stops(
        ride, days, places, fields, bikes=DEFAULT_FLEET.classes, rules=DEFAULT_FLEET.rules,
        trip=Trip(), exits=exits, detours=detours,
    )  # fmt: skip
    json.dumps([help_.to_dict(), plan.to_dict()], allow_nan=False)
    return help_, exits, plan


@pytest.mark.parametrize("places", [False, True], ids=["no places", "places"])
def test_ride_over_a_ferry(tmp_path, places) -> None:
    region = _region(tmp_path, places=places)
    help_, exits, plan = _all(region.ride(*"ABCD"), region)
    assert [(round(way.from_m), round(way.to_m)) for way in exits] == [(30_000, 40_000)]
    # Nothing is measured on the water, and the crossing burns no fuel.
    assert np.isnan(help_.along.mechanic_m[np.abs(help_.along.at_m - 20_000) < 5_000]).all()
    assert not plan.problems or all(p.kind.value != "fuel" for p in plan.problems)


def test_ride_on_a_ferry_alone(tmp_path) -> None:
    region = _region(tmp_path, places=True)
    help_, exits, plan = _all(region.ride("B", "C"), region)
    assert exits == ()
    assert help_.remote == ()
    assert len(plan.days) == 1


def test_ride_wholly_off_the_map(tmp_path) -> None:
    help_, exits, plan = _all(_off_map(50_000.0), _region(tmp_path, places=True))
    assert all(far.farthest_m is None for _, far in help_.kinds)
    assert [(way.from_m, way.to_m, way.worst) for way in exits] == [(0.0, 50_000.0, None)]
    assert exits[0].unknown_m == pytest.approx(50_000.0)
    assert "No way out" in exits[0].words
    assert len(plan.days) == 1


@pytest.mark.parametrize(("length_m", "n_exits"), [(39_000.0, 3), (60_000.0, 2)])
def test_ride_in_pieces_off_the_map(tmp_path, length_m: float, n_exits: int) -> None:
    """Nobody rides over a break of the line; the roads end at 40 km, where the third may begin."""
    _, exits, plan = _all(_off_map(length_m, pieces=3), _region(tmp_path))
    assert len(exits) == n_exits
    assert plan.days[-1].to_m == pytest.approx(length_m)


@pytest.mark.parametrize("length_m", [0.5, 30.0, 900.0])
def test_very_short_ride(tmp_path, length_m) -> None:
    _, _, plan = _all(_off_map(length_m), _region(tmp_path))
    assert plan.stops == ()
    assert len(plan.days) == 1


def test_very_long_ride_without_a_single_place(tmp_path) -> None:
    """3000 km of nothing: nights and rests are still planned, and said to be bare."""
    _, _, plan = _all(_off_map(3_000_000.0), _region(tmp_path))
    assert len(plan.days) >= 3_000_000 / 5 / (6 * 3600)  # 18 km/h, six hours a day
    kinds = {problem.kind.value for problem in plan.problems}
    assert {"fuel", "lodging"} <= kinds
