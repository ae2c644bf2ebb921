"""Plans of rides along straight roads drawn by hand."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime
from pathlib import Path

from terrain.stages.days import choose_days
from terrain.stages.exits import find_exits
from terrain.stages.plan.make import plan_stops
from terrain.tables.fleet import DEFAULT_FLEET
from terrain.values.fleet import BikeClass, FleetRules
from terrain.values.plan import Daylight, Plan, ProblemKind, StopKind
from terrain.values.ride import Ride
from terrain.values.trip import Trip
from tests.stages.tinymap import GRAVEL, PAVED, TRACK, TinyMap

SUMMER = Daylight(sunrise_s=6 * 3600.0, sunset_s=21 * 3600.0, dusk_s=21.5 * 3600.0)
WINTER = Daylight(sunrise_s=8 * 3600.0, sunset_s=16.4 * 3600.0, dusk_s=17 * 3600.0)
RULES = FleetRules()


def a_bike(tank_l: float = 10.0, per_100: float = 5.0) -> BikeClass:
    """160 km of range with the fifth of the tank kept back."""
    return replace(DEFAULT_FLEET.classes[0], tank_l=tank_l, consumption_l_100km=per_100)


def straight(km: list[float], grounds: list[dict[str, str]] | None = None) -> TinyMap:
    """A road due east through the given distances; nodes N0, N1, ..."""
    tiny = TinyMap(nodes={f"N{i}": (1000.0 * x, 0.0) for i, x in enumerate(km)})
    for i in range(len(km) - 1):
        tiny.way((f"N{i}", f"N{i + 1}"), grounds[i] if grounds else PAVED)
    return tiny


def pump_inn_and_track() -> TinyMap:
    """A lone pump 2 km off the road, a village with food, a track no van can follow."""
    tiny = straight(
        [0, 20.04, 40, 62.03, 75.06, 100, 140], [PAVED, PAVED, PAVED, TRACK, PAVED, PAVED]
    )
    tiny.nodes["P"] = (20_040, 2_000)
    tiny.way(("N1", "P"), GRAVEL)
    tiny.spot((20_040, 2_000), amenity="fuel", name="Lone Pump")
    tiny.spot((40_060, 100), place="village", name="Ash")
    tiny.spot((40_080, 80), amenity="restaurant", name="Inn")
    return tiny


def planned(
    tiny: TinyMap, folder: Path, *, bikes=None, rules: FleetRules = RULES, with_exits=True, **more
) -> tuple[Plan, Ride]:
    region = tiny.read(folder)
    names = [name for name in tiny.nodes if name.startswith("N")]
    ride = region.ride(*names)
    fields = region.fields()
    exits = find_exits(ride, region.roads, fields) if with_exits else ()
    trip, pins = more.pop("trip", Trip()), more.pop("pins", None)
    days = choose_days(
        ride, region.roads, region.places, fields, rules=rules, trip=trip, pins=pins,
        daylight=more.pop("daylight", ()), helpers=more.get("helpers", ()),
        zone=more.pop("zone", None),
    )  # fmt: skip
    plan = plan_stops(
        ride, days, region.places, fields, bikes=bikes or (a_bike(),), rules=rules, trip=trip,
        exits=exits, pins=pins, **more,
    )  # fmt: skip
    return plan, ride


def kinds_at(plan: Plan, kind: StopKind) -> list[float]:
    return [stop.at_m / 1000.0 for stop in plan.stops if kind in stop.kinds]


def problems_of(plan: Plan, kind: ProblemKind) -> list[str]:
    return [problem.text for problem in plan.problems if problem.kind is kind]


def trip_at(hour: int) -> Trip:
    return Trip(depart=datetime(2027, 7, 1, hour, 0))
