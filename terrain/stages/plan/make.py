"""From a ride and its days to a plan: stops, then the clock."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from terrain.stages.days.choose import RideDays
from terrain.stages.plan.asked import (
    met_once,
    night_stops,
    pinned_stops,
    unwanted,
    van_stops,
    with_places,
)
from terrain.stages.plan.breaks import find_breaks
from terrain.stages.plan.candidates import stop_candidates, stop_problem
from terrain.stages.plan.course import bikes_for, course_of, fuel_ranges
from terrain.stages.plan.schedule import keep_time
from terrain.stages.plan.setting import Namer, PlanInputs
from terrain.stages.plan.stop_path import Chosen, StopProblem, choose_stops
from terrain.tables.heat import WATER_HOT_L_H
from terrain.text.catalogue import N_
from terrain.text.message import message, term
from terrain.values.advice import Advice
from terrain.values.arrays import FloatArray
from terrain.values.detours import Detour
from terrain.values.exits import Exit
from terrain.values.fleet import BikeClass, Fleet, FleetRules
from terrain.values.heat import Heat
from terrain.values.help import Helper, HelpFields
from terrain.values.plan import FuelRange, Pins, Plan, PlanProblem
from terrain.values.ride import Ride
from terrain.values.trip import Trip
from terrain.values.views import PlacesView

_NOTHING = np.zeros(0)


def make_plan(
    ride: Ride,
    days: RideDays,
    places: PlacesView,
    fields: HelpFields,
    *,
    exits: Sequence[Exit],
    detours: tuple[Detour, ...],
    heat: Heat,
    advice: Advice,
    trip: Trip,
    fleet: Fleet,
    helpers: Sequence[Helper] = (),
    pins: Pins | None = None,
    beside: Sequence[BikeClass] = (),
) -> Plan:
    """The guide's plan of a ride on the days chosen, for the class that is most likely ridden.

    beside : classes that others of the group ride
    """
    heat_at_m, heat_c = heat.temp_along()
    bikes = tuple(dict.fromkeys((*bikes_for(trip, fleet, advice), *beside)))
    return plan_stops(
        ride, days, places, fields, bikes=bikes, rules=fleet.rules,
        trip=trip, exits=exits, helpers=helpers, pins=pins, detours=detours,
        heat_at_m=heat_at_m, heat_c=heat_c,
        water_l_h=WATER_HOT_L_H if heat.rider is None else heat.rider.water_most_l_h,
    )  # fmt: skip


def plan_stops(
    ride: Ride,
    days: RideDays,
    places: PlacesView,
    fields: HelpFields,
    *,
    bikes: Sequence[BikeClass],
    rules: FleetRules,
    trip: Trip,
    exits: Sequence[Exit] = (),
    helpers: Sequence[Helper] = (),
    heat_at_m: FloatArray = _NOTHING,
    heat_c: FloatArray = _NOTHING,
    water_l_h: float = WATER_HOT_L_H,
    pins: Pins | None = None,
    detours: tuple[Detour, ...] = (),
) -> Plan:
    """Stops on the days chosen that keep the operator's limits, and what cannot be kept.

    bikes : the classes that ride; the one with the shortest range decides
    heat_at_m, heat_c : air temperature at the hour of passing [deg C], if known
    water_l_h : what to drink in the heat [L/h]
    pins : what the guide asks for, or does not want
    detours : found beforehand, handed on as suggestions
    Stops are chosen by dynamic programming; limits are broken only where they cannot be kept,
    and each break is told as a problem.
    """
    pins = pins or Pins()
    ranges = fuel_ranges(bikes, rules)
    fuel = ranges[0] if ranges else None
    course = course_of(ride, rules, fuel, heat_at_m=heat_at_m, heat_c=heat_c)
    near = days.near
    stops_asked, bad_stops = pinned_stops(pins, ride, near)
    # Who rides without a guide has no van behind.
    vans = van_stops(exits, ride.length_m) if trip.guided else []
    vans = [item for item in vans if not unwanted(item.at_m, pins)]
    asked = (
        *night_stops(days.nights, near, pins.nights),
        *met_once(vans, stops_asked),
    )
    asked = tuple(with_places(item, near) for item in sorted(asked, key=lambda item: item.at_m))
    candidates = stop_candidates(course, near, asked)
    problem = stop_problem(candidates, asked, course, fuel, days.clock)
    namer = Namer(ride, places, fields, near=near, helpers=tuple(helpers))
    chosen = _wanted(choose_stops(problem), problem, candidates.at_m, pins)
    setting = PlanInputs(
        ride=ride, course=course, ranges=ranges, clock=days.sun, candidates=candidates,
        asked=asked, problem=problem, chosen=chosen, namer=namer,
        water_l_h=water_l_h,
    )  # fmt: skip
    schedule = keep_time(setting)
    breaks = find_breaks(setting, schedule, rules)
    problems: tuple[PlanProblem, ...] = (*days.problems, *bad_stops, *breaks)
    return Plan(
        days=schedule.days,
        stops=schedule.stops,
        problems=tuple(sorted(problems, key=lambda item: (item.from_m, item.kind.value))),
        fuel=fuel,
        words=(*days.words, *plan_words(fuel, trip, rules, has_light=bool(days.sun.daylight))),
        detours=detours,
    )


def _wanted(chosen: Chosen, problem: StopProblem, at_m: FloatArray, pins: Pins) -> Chosen:
    """The stops chosen without those that the guide does not want; what that breaks is told."""
    inner = chosen.stops[1:-1]
    kept = tuple(i for i in inner if problem.must[i] or not unwanted(float(at_m[i]), pins))
    return chosen._replace(stops=(chosen.stops[0], *kept, chosen.stops[-1]))


def plan_words(
    fuel: FuelRange | None, trip: Trip, rules: FleetRules, *, has_light: bool
) -> tuple[str, ...]:
    """Assumptions of the plan."""
    words: list[str] = []
    if fuel is not None:
        words.append(
            message(
                "Fuel is planned for the {bike}, which gets least far: {range_m} on tarmac with "
                "{reserve_share} of the tank kept back, less off road. The tank is full at the "
                "start.",
                bike=term(fuel.title),
                range_m=fuel.range_m,
                reserve_share=rules.range_reserve,
            )
        )
    words.append(
        message(
            "A stop of 15 minutes or more every {rest_s} or {rest_m} of riding, sooner in the "
            "heat.",
            rest_s=rules.rest_every_s,
            rest_m=rules.rest_every_m,
        )
    )
    if not has_light and trip.depart is None:
        words.append(term(N_("No date is known, so daylight is not checked.")))
    if trip.depart is None:
        words.append(term(N_("No time of departure is known: the clock starts at 08:30.")))
    words.append(term(N_("Opening hours, prices and free beds are not checked. Call ahead.")))
    return tuple(words)
