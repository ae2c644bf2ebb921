"""What a plan cannot keep: fuel, rest, light, length of days, beds, water, lunch."""

from __future__ import annotations

from itertools import pairwise

import numpy as np

from terrain.stages.days.fuel import carry_l
from terrain.stages.days.near import TOWN, WATER
from terrain.stages.plan.schedule import Schedule
from terrain.stages.plan.setting import Namer, PlanInputs
from terrain.text.catalogue import N_
from terrain.text.message import message, term
from terrain.values.arrays import FloatArray
from terrain.values.clock import MIDDAY_FROM_S, MIDDAY_TO_S
from terrain.values.fleet import FleetRules
from terrain.values.plan import Day, PlanProblem, ProblemKind, StopKind, clock

# Common practice, no source.
_DRY_S = 7_200.0
_DAY_S = 24 * 3_600.0
_DARK = N_("Day {n_day} arrives at {end}; it is dark at {dusk}. Arrive an hour before.")
_TOMORROW = N_(
    "Day {n_day} arrives at {end} the next day; it is dark at {dusk}. Arrive an hour before."
)
_CARRY = N_(
    "{gap_m} without fuel from {place} to {until}; your range on this ground is {range_m} "
    "({bike}): carry {carry_l}."
)
_TOO_FAR = N_(
    "{gap_m} without fuel from {place} to {until}; your range on this ground is {range_m} "
    "({bike}): {carry_l} would have to be carried, and the most is {most_l}."
)


def find_breaks(setting: PlanInputs, schedule: Schedule, rules: FleetRules) -> list[PlanProblem]:
    """Every limit the plan breaks, as a problem."""
    out = [*_fuel(setting, rules), *_rest(setting), *_water(setting)]
    for day in schedule.days:
        out += _day(day, schedule, rules)
    return out


def _fuel(setting: PlanInputs, rules: FleetRules) -> list[PlanProblem]:
    problem, namer = setting.problem, setting.namer
    if not setting.ranges:
        return []
    fuel = setting.ranges[0]
    last = len(problem.strain) - 1
    fills = [0, *(i for i in setting.chosen.stops[1:-1] if problem.fuel[i]), last]
    at_m, out = setting.candidates.at_m, []
    for a, b in pairwise(fills):
        need = problem.litres[b] - problem.litres[a] + problem.off_l[a] + problem.off_l[b]
        if need - fuel.usable_l <= 1e-9:
            continue
        a_m, b_m = float(at_m[a]), float(at_m[b])
        extra = setting.candidates.off_m[a] + setting.candidates.off_m[b]
        gap_m = b_m - a_m + float(extra)
        # A class of longer range may still lack more litres.
        tarmac_m = 1000.0 * float(need) / fuel.l_per_km
        carry = max(carry_l(tarmac_m, r.l_per_km, r.usable_l) for r in setting.ranges)
        until = term(N_("the end of the ride")) if b == last else _place(namer, b_m)
        out.append(
            PlanProblem(
                kind=ProblemKind.FUEL,
                from_m=a_m,
                to_m=b_m,
                text=message(
                    _CARRY if carry <= rules.carry_l else _TOO_FAR,
                    gap_m=gap_m,
                    place=_place(namer, a_m),
                    until=until,
                    range_m=gap_m * fuel.usable_l / float(need),
                    bike=term(fuel.title),
                    carry_l=carry,
                    **({} if carry <= rules.carry_l else {"most_l": rules.carry_l}),
                ),
                carry_l=carry,
            )
        )
    return out


def _place(namer: Namer, at_m: float) -> str:
    name = namer.near_name(at_m)
    return message("{at_m}{named}", at_m=at_m, named=f" ({name})" if name else "")


def _rest(setting: PlanInputs) -> list[PlanProblem]:
    at_m, strain = setting.candidates.at_m, setting.problem.strain
    out = []
    for a, b in pairwise(setting.chosen.stops):
        if strain[b] - strain[a] > 1.0 + 1e-6:
            out.append(
                PlanProblem(
                    kind=ProblemKind.REST,
                    from_m=float(at_m[a]),
                    to_m=float(at_m[b]),
                    text=message(
                        "No stop fits between {from_at_m} and {to_at_m}: the ride is longer than "
                        "the limit between rests.",
                        from_at_m=float(at_m[a]),
                        to_at_m=float(at_m[b]),
                    ),
                )
            )
    return out


def _water(setting: PlanInputs) -> list[PlanProblem]:
    """Hot hours between places with water, where these are long."""
    course, candidates = setting.course, setting.candidates
    hot_s = np.concatenate(([0.0], np.cumsum(np.where(course.hot, np.diff(course.ride_s), 0.0))))
    wet = (candidates.bits & (WATER | TOWN)) != 0
    stops = setting.chosen.stops
    fills = [stops[0], *(i for i in stops[1:-1] if wet[i] or setting.is_night(i)), stops[-1]]
    out = []
    for a, b in pairwise(fills):
        span = np.array([candidates.at_m[a], candidates.at_m[b]], dtype=np.float64)
        spent: FloatArray = np.interp(span, course.at_m, hot_s)
        dry_s = float(spent[1] - spent[0])
        if dry_s < _DRY_S:
            continue
        litres = int(np.ceil(dry_s / 3600.0 * setting.water_l_h))
        out.append(
            PlanProblem(
                kind=ProblemKind.WATER,
                from_m=float(span[0]),
                to_m=float(span[1]),
                text=message(
                    "{hot_s} of riding in the heat between stops with water on the map: carry "
                    "{water_l} of water each.",
                    hot_s=dry_s,
                    water_l=litres,
                ),
            )
        )
    return out


def _day(day: Day, schedule: Schedule, rules: FleetRules) -> list[PlanProblem]:
    out = []

    def add(kind: ProblemKind, text: str) -> None:
        out.append(PlanProblem(kind=kind, from_m=day.from_m, to_m=day.to_m, text=text))

    if day.riding_s > rules.ride_day_s + 1.0:
        add(
            ProblemKind.LONG_DAY,
            message(
                "Day {n_day} has {riding_s} in the saddle; the limit is {limit_s}.",
                n_day=day.number,
                riding_s=day.riding_s,
                limit_s=rules.ride_day_s,
            ),
        )
    if day.margin_s is not None and day.margin_s < 0 and day.daylight is not None:
        add(
            ProblemKind.DAYLIGHT,
            message(
                _TOMORROW if day.end_s >= _DAY_S else _DARK,
                n_day=day.number,
                end=clock((300.0 * round(day.end_s / 300.0)) % _DAY_S),
                dusk=clock(day.daylight.dusk_s),
            ),
        )
    if day.daylight is not None and day.start_s <= day.daylight.sunrise_s - 60.0:
        add(
            ProblemKind.DAYLIGHT,
            message(
                "Day {n_day} sets off at {start}, before sunrise at {sunrise}.",
                n_day=day.number,
                start=clock(day.start_s),
                sunrise=clock(day.daylight.sunrise_s),
            ),
        )
    if day.number < len(schedule.days) and day.lodging is None:
        add(
            ProblemKind.LODGING,
            message(
                "The map data hold no lodging where day {n_day} ends ({end_at_m}). That is not "
                "the same as none: ask.",
                n_day=day.number,
                end_at_m=day.to_m,
            ),
        )
    ate = any(StopKind.LUNCH in stop.kinds for stop in schedule.stops if stop.day == day.number)
    if day.start_s < MIDDAY_FROM_S and day.end_s > MIDDAY_TO_S + 3_600.0 and not ate:
        text = message("Day {n_day} has no stop for lunch: take food along.", n_day=day.number)
        add(ProblemKind.LUNCH, text)
    return out
