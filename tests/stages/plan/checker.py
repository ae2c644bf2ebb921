"""An independent check of a plan: rides it and counts, knowing nothing of how it was made."""

from __future__ import annotations

import math
from itertools import pairwise

from terrain.values.fleet import BikeClass, FleetRules
from terrain.values.ground import GroundKind
from terrain.values.plan import Plan, PlanProblem, ProblemKind, Stop, StopKind
from terrain.values.ride import Ride

# Consumption over that on tarmac: +20 % on gravel, +35 % on track (DOMAIN E: +20-50 %).
_THIRST = (1.0, 1.2, 1.35)


def faults_of(plan: Plan, ride: Ride, bikes: tuple[BikeClass, ...], rules: FleetRules) -> list[str]:
    """Everything wrong with a plan in cool weather; empty if it is sound and honest."""
    return [
        *_order(plan, ride),
        *_rest(plan, ride, rules),
        *_fuel(plan, ride, bikes, rules),
        *_days(plan, ride, rules),
    ]


def litres(ride: Ride, bike: BikeClass, from_m: float, to_m: float) -> float:
    """Fuel burnt between two positions, stretch by stretch."""
    total = 0.0
    for stretch in ride.stretches:
        metres = min(to_m, stretch.to_m) - max(from_m, stretch.from_m)
        if metres <= 0 or stretch.ground is GroundKind.FERRY:
            continue
        thirst = 1.35 if stretch.p is None else sum(
            p * f for p, f in zip(stretch.p, _THIRST, strict=True)
        )  # fmt: skip
        total += metres / 1000.0 * bike.consumption_l_100km / 100.0 * thirst
    return total


def ride_s(ride: Ride, from_m: float, to_m: float) -> float:
    a, b = ride.time_s([from_m, to_m])  # type: ignore[arg-type]
    return float(b - a)


def _order(plan: Plan, ride: Ride) -> list[str]:
    out = []
    ends = [0.0] + [day.to_m for day in plan.days]
    if [day.from_m for day in plan.days] != ends[:-1] or abs(ends[-1] - ride.length_m) > 0.5:
        out.append("the days do not cover the ride")
    if [day.number for day in plan.days] != list(range(1, len(plan.days) + 1)):
        out.append("the days are not numbered in order")
    places = [stop.at_m for stop in plan.stops]
    if places != sorted(places) or any(not 0 <= at <= ride.length_m for at in places):
        out.append("the stops are not in riding order")
    for day in plan.days:
        today = [stop for stop in plan.stops if stop.day == day.number]
        if any(not day.from_m <= stop.at_m <= day.to_m for stop in today):
            out.append(f"day {day.number} has a stop outside it")
        nights = [stop for stop in today if StopKind.NIGHT in stop.kinds]
        last = day.number == len(plan.days)
        if len(nights) != (0 if last else 1):
            out.append(f"day {day.number} ends with {len(nights)} nights")
        elif not last and abs(nights[0].at_m - day.to_m) > 0.5:
            out.append(f"the night of day {day.number} is not where the day ends")
        spent = sum(stop.stay_s for stop in today)
        if (
            day.stops_s + 1.0 < spent
            or abs(day.start_s + day.riding_s + day.stops_s - day.end_s) > 1
        ):
            out.append(f"the clock of day {day.number} does not add up")
        if abs(day.riding_s - ride_s(ride, day.from_m, day.to_m)) > 1.0:
            out.append(f"the riding time of day {day.number} is not the ride's")
    for stop in plan.stops:
        if StopKind.NIGHT not in stop.kinds and not stop.pinned and stop.stay_s < 900.0:
            out.append(f"the stop at {stop.at_m:.0f} is shorter than 15 minutes")
    return out


def _told(plan: Plan, kind: ProblemKind, from_m: float, to_m: float) -> PlanProblem | None:
    for problem in plan.problems:
        if problem.kind is kind and problem.from_m <= from_m + 1 and problem.to_m >= to_m - 1:
            return problem
    return None


def _rest(plan: Plan, ride: Ride, rules: FleetRules) -> list[str]:
    out = []
    for a, b in pairwise([0.0, *(stop.at_m for stop in plan.stops), ride.length_m]):
        too_long = ride_s(ride, a, b) > rules.rest_every_s * 1.001
        too_far = b - a > rules.rest_every_m * 1.001
        if (too_long or too_far) and _told(plan, ProblemKind.REST, a, b) is None:
            out.append(f"no rest between {a:.0f} and {b:.0f}, and nothing said")
    return out


def _fuel(plan: Plan, ride: Ride, bikes: tuple[BikeClass, ...], rules: FleetRules) -> list[str]:
    out = []
    told = [p for p in plan.problems if p.kind is ProblemKind.FUEL]
    worst: dict[tuple[float, float], float] = {}
    for bike in bikes:
        usable = bike.tank_l * (1.0 - rules.range_reserve)
        l_per_m = bike.consumption_l_100km / 100_000.0
        used, since, extra = 0.0, 0.0, 0.0
        marks: list[Stop | None] = [*plan.stops, None]
        for stop in marks:
            at = ride.length_m if stop is None else stop.at_m
            off = 0.0 if stop is None else stop.off_m
            fills = stop is not None and StopKind.FUEL in stop.kinds
            used = litres(ride, bike, since, at) + extra + off * l_per_m
            if fills or stop is None:
                if used > usable + 1e-6:
                    worst[since, at] = max(worst.get((since, at), 0.0), used - usable)
                since, extra = at, off * l_per_m
            else:
                # Near stops are counted as on the ride: 300 m there and back at most.
                extra += 2.0 * off * l_per_m if off > 300.0 else 0.0
    for (a, b), short in worst.items():
        problem = next((p for p in told if abs(p.from_m - a) < 1 and abs(p.to_m - b) < 1), None)
        if problem is None:
            if short > 0.05:
                out.append(f"{short:.2f} L short between {a:.0f} and {b:.0f}, and nothing said")
        elif problem.carry_l is None or not short - 0.05 <= problem.carry_l <= short + 1.05:
            out.append(f"told to carry {problem.carry_l}, short by {short:.2f}")
    for problem in told:
        if not any(abs(problem.from_m - a) < 1 and abs(problem.to_m - b) < 1 for a, b in worst):
            out.append(f"a fuel problem is told that there is not: {problem.text}")
    return out


def _days(plan: Plan, ride: Ride, rules: FleetRules) -> list[str]:
    out = []

    def check(kind: ProblemKind, day_from: float, day_to: float, broken: bool, what: str) -> None:
        told = _told(plan, kind, day_from, day_to) is not None
        if broken and not told:
            out.append(f"{what} ({day_from:.0f} to {day_to:.0f}), and nothing said")
        if told and not broken:
            out.append(f"told of {what} that there is not")

    for day in plan.days:
        span = (day.from_m, day.to_m)
        check(ProblemKind.LONG_DAY, *span, day.riding_s > rules.ride_day_s + 1.0, "a long day")
        late = False
        if day.daylight is not None:
            latest = day.daylight.dusk_s - 3600.0
            late = day.end_s > latest or day.start_s < day.daylight.sunrise_s
            if day.margin_s is None or not math.isclose(day.margin_s, latest - day.end_s):
                out.append(f"the margin of day {day.number} is wrong")
        check(ProblemKind.DAYLIGHT, *span, late, "a day in the dark")
        no_bed = day.number < len(plan.days) and day.lodging is None
        check(ProblemKind.LODGING, *span, no_bed, "a night without a bed")
    return out
