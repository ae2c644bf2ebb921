"""The chosen stops on the clock: days, arrivals, names, reasons."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from terrain.stages.days.near import FUEL, TOWN, WATER
from terrain.stages.plan.candidates import RequiredStop
from terrain.stages.plan.course import VERY_HOT_C, RideSums
from terrain.stages.plan.setting import PlanInputs
from terrain.text.catalogue import N_
from terrain.text.message import join_messages, message, term
from terrain.values.clock import LUNCH_S
from terrain.values.plan import BEFORE_DUSK_S, Day, Stop, StopKind
from terrain.values.ride import FERRY, PAVED, UNMAPPED, Ride

# Common practice, no source.
CHECK_S = 600.0
_MIDDAY_S = 12.5 * 3600.0
# A day this much off the tarmac is hard on rider and bike (common practice, no source).
_HARD_M, _HARD_S = 20_000.0, 5_400.0
_NEARLY_ALL = 0.9
_HARD_SEVERITY, _HARD_SEVERITY_M = 3, 5_000.0


class Schedule(NamedTuple):
    """Days and stops with the clock; `rows` : the candidate of each stop."""

    days: tuple[Day, ...]
    stops: tuple[Stop, ...]
    rows: tuple[int, ...]


def keep_time(setting: PlanInputs) -> Schedule:
    """Days and stops of the chosen candidates, by the clock."""
    at_m = setting.candidates.at_m
    visits = [visit_of(row, setting) for row in setting.chosen.stops[1:-1]]
    days: list[Day] = []
    stops: list[Stop] = []
    rows: list[int] = []
    begin, today, back_s = 0.0, list[Visit](), 0.0
    for visit in [*visits, None]:
        if visit is not None:
            today.append(visit)
            if StopKind.NIGHT not in visit.kinds:
                continue
        end = setting.ride.length_m if visit is None else float(at_m[visit.row])
        number = len(days) + 1
        hard = hard_day(setting.ride, setting.course, begin, end)
        if hard:
            today = _with_check(today, setting, begin, number)
        day, told = _ride_day(number, (begin, end), today, setting, hard, back_s)
        days.append(day)
        stops += told
        rows += [item.row for item in today]
        begin, today = end, []
        back_s = 0.0 if visit is None else float(setting.candidates.off_s[visit.row])
    return Schedule(tuple(days), tuple(stops), tuple(rows))


def hard_day(ride: Ride, course: RideSums, begin: float, end: float) -> tuple[str, ...]:
    """Why a day is hard on rider and bike; empty if it is not."""
    low, high = np.maximum(ride.from_m, begin), np.minimum(ride.to_m, end)
    length = np.maximum(high - low, 0.0)
    spent = np.where(length > 0, ride.time_s(high) - ride.time_s(low), 0.0)
    blank = ride.ground == UNMAPPED
    off = (ride.ground != PAVED) & (ride.ground != FERRY) & ~blank
    why = []
    off_m, blank_m = float(length[off].sum()), float(length[blank].sum())
    rough_m = float(length[ride.severity >= _HARD_SEVERITY].sum())
    all_rough = False
    if off_m + blank_m >= _HARD_M or spent[off | blank].sum() >= _HARD_S:
        all_rough = off_m > 0.0 and rough_m >= _NEARLY_ALL * off_m
        rough = N_("{off_m} off road, rough or worse")
        if off_m:
            why.append(message(rough if all_rough else N_("{off_m} off road"), off_m=off_m))
        if blank_m:
            why.append(message("{unmapped_m} on no road of the map", unmapped_m=blank_m))
    if rough_m >= _HARD_SEVERITY_M and not all_rough:
        why.append(message("{rough_m} rough or worse", rough_m=rough_m))
    today = (course.at_m[:-1] >= begin) & (course.at_m[1:] <= end)
    peak = float(
        np.max(course.temp_c[today], initial=-np.inf, where=~np.isnan(course.temp_c[today]))
    )
    if peak >= VERY_HOT_C:
        why.append(message("{peak_c}", peak_c=peak))
    return tuple(why)


def _with_check(today: list[Visit], setting: PlanInputs, begin: float, number: int) -> list[Visit]:
    """Coolant and oil at lunch, else at the stop nearest to midday."""
    course, candidates = setting.course, setting.candidates
    able = [i for i, visit in enumerate(today) if StopKind.NIGHT not in visit.kinds]
    if not able:
        return today
    start_s = float(np.interp(begin, course.at_m, course.ride_s))

    def off_midday(i: int) -> float:
        ridden = float(np.interp(candidates.at_m[today[i].row], course.at_m, course.ride_s))
        lunch_first = 0.0 if StopKind.LUNCH in today[i].kinds else 1.0
        passed = setting.clock.sets_off_s(number - 1) + (ridden - start_s) + i * STAY_S
        return lunch_first * 1e6 + abs(passed - _MIDDAY_S)

    best = min(able, key=off_midday)
    visit = today[best]
    checked = visit._replace(kinds=(*visit.kinds, StopKind.CHECK), stay_s=visit.stay_s + CHECK_S)
    if visit.kinds == (StopKind.REST,):
        checked = checked._replace(kinds=(StopKind.CHECK, StopKind.REST))
    return [*today[:best], checked, *today[best + 1 :]]


def _ride_day(
    number: int,
    span: tuple[float, float],
    today: list[Visit],
    setting: PlanInputs,
    hard: tuple[str, ...],
    back_s: float,
) -> tuple[Day, list[Stop]]:
    """One day ridden by the clock. back_s : from last night's bed back to the ride"""
    course, candidates, clock = setting.course, setting.candidates, setting.clock
    begin, end = span
    start_s = clock.sets_off_s(number - 1)
    now_s = start_s + back_s
    begin_s = float(np.interp(begin, course.at_m, course.ride_s))
    ridden_s = begin_s
    stops: list[Stop] = []
    lodging = None
    lodging_off = None
    for visit in today:
        at_s = float(np.interp(candidates.at_m[visit.row], course.at_m, course.ride_s))
        off_s = float(candidates.off_s[visit.row])
        now_s += at_s - ridden_s + off_s
        ridden_s = at_s
        stop = tell_stop(visit, setting, day=number, arrive_s=clock.told_s(number - 1, now_s))
        stops.append(stop)
        if StopKind.NIGHT in visit.kinds:
            lodging = stop.place
            lodging_off = stop.off_m if stop.place is not None else None
        else:
            now_s += visit.stay_s + off_s
    end_ride_s = float(np.interp(end, course.at_m, course.ride_s))
    now_s += end_ride_s - ridden_s
    sun, end_s = clock.sun(number - 1), clock.told_s(number - 1, now_s)
    riding_s = end_ride_s - begin_s
    return (
        Day(
            number=number,
            from_m=begin,
            to_m=end,
            riding_s=riding_s,
            stops_s=now_s - start_s - riding_s,
            start_s=start_s,
            end_s=end_s,
            daylight=sun,
            margin_s=None if sun is None else sun.dusk_s - BEFORE_DUSK_S - end_s,
            lodging=lodging,
            lodging_off_m=lodging_off,
            hard=hard,
        ),
        stops,
    )


# At least 15 minutes: UK Highway Code, rule 91.
# All common practice, no source.
STAY_S = 900.0


class Visit(NamedTuple):
    """One chosen stop before it is told."""

    row: int
    kinds: tuple[StopKind, ...]
    stay_s: float
    asked: RequiredStop | None


def visit_of(row: int, setting: PlanInputs) -> Visit:
    """One chosen candidate with its reasons and stay."""
    item = setting.asked_at(row)
    bits = int(setting.candidates.bits[row])
    kinds = list(item.kinds) if item else []
    if bits & FUEL:
        kinds.append(StopKind.FUEL)
    if row in setting.chosen.lunches:
        kinds.append(StopKind.LUNCH)
    if not kinds:
        hot = bool(setting.course.is_hot(setting.candidates.at_m[row : row + 1])[0])
        kinds.append(StopKind.WATER if hot and bits & WATER else StopKind.REST)
    stay = LUNCH_S if StopKind.LUNCH in kinds else STAY_S
    if StopKind.NIGHT in kinds:  # the day ends on arrival, whatever is eaten there
        stay = 0.0
    if item is not None and item.stay_s is not None:
        stay = item.stay_s
    return Visit(row, tuple(dict.fromkeys(kinds)), stay, item)


def tell_stop(visit: Visit, setting: PlanInputs, *, day: int, arrive_s: float) -> Stop:
    """A visit as a stop of the plan."""
    candidates, namer = setting.candidates, setting.namer
    row, item = visit.row, visit.asked
    at_m = float(candidates.at_m[row])
    near_row = int(candidates.near[row]) if item is None else item.source
    place = namer.place(near_row)
    lon, lat = namer.ride.lonlat(at_m)
    if place is not None:
        lon, lat = place.lon, place.lat
    elif item is not None and item.lon is not None and item.lat is not None:
        lon, lat = item.lon, item.lat
    name = item.name if item is not None else None
    if name is None and place is not None:
        name = place.name
    if name is None and (around := namer.near_name(at_m)) is not None:
        name = message("near {place}", place=around)
    return Stop(
        at_m=at_m,
        off_m=float(candidates.off_m[row]),
        kinds=visit.kinds,
        name=name,
        lon=lon,
        lat=lat,
        why=_why(visit, int(candidates.bits[row]), setting.course, at_m),
        day=day,
        arrive_s=arrive_s,
        stay_s=visit.stay_s,
        van_access=bool(namer.near.van[near_row]) if near_row >= 0 else namer.van_at(at_m),
        place=place,
        pinned=item is not None and item.pinned,
    )


def _why(visit: Visit, bits: int, course: RideSums, at_m: float) -> str:
    hot = bool(course.is_hot(np.array([at_m]))[0])
    texts = [visit.asked.why] if visit.asked is not None else []
    alone = visit.asked is None and not {StopKind.LUNCH, StopKind.NIGHT} & set(visit.kinds)
    reasons = {
        # A station is often chosen for the rest alone, long before the tank asks for it.
        StopKind.FUEL: N_("Rest and fill up.") if alone else N_("Fill up."),
        StopKind.LUNCH: N_("Lunch."),
        StopKind.CHECK: N_("Check coolant and oil: a hard day."),
        StopKind.WATER: N_("Rest and drink: it is hot, and water is mapped here."),
        StopKind.REST: N_("Rest."),
    }
    texts += [term(reasons[kind]) for kind in visit.kinds if kind in reasons]
    if hot and StopKind.REST in visit.kinds:
        texts.append(
            term(N_("Hot: shade is likely in the village, but no water is mapped here."))
            if bits & TOWN
            else term(N_("Hot: look for shade; no water is mapped here."))
        )
    return join_messages(texts)
