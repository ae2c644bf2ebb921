"""Twelve months by start hour: heat, ice, light and ground of one ride.

Match, ground, heights, speed and nights are taken as they were judged once; only the clock, the
air and the season change from cell to cell.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from datetime import datetime, timedelta
from itertools import product
from typing import NamedTuple

import numpy as np

from terrain.calc.daylight import sun_day
from terrain.stages.heat.air import climate_along, riding_airs_along
from terrain.stages.heat.engine import Steps, fan_seconds, grades_known, ride_steps
from terrain.stages.heat.passage import Passage, passage_of
from terrain.stages.when.season import ground_by_month
from terrain.stages.when.words import headline, lead, notes
from terrain.tables.when import WHEN, WhenRules
from terrain.values.arrays import FloatArray
from terrain.values.climate import ClimateGrid
from terrain.values.clock import RideClock, SunDay, SunKind
from terrain.values.fleet import BikeClass, Cooling, Fleet
from terrain.values.heat import AirAlong
from terrain.values.relief import Relief
from terrain.values.report import RegionNote
from terrain.values.ride import Ride
from terrain.values.trip import Trip
from terrain.values.views import RoadsView
from terrain.values.when import When, WhenCell, WhenMonth

_ANY_YEAR = 2025  # the sun of the year's middle days hardly changes from year to year
_SAMPLES = 48
_ENGINE_STEP_M = 500.0
_DAY_S = 86_400.0


def judge_when(
    ride: Ride,
    relief: Relief,
    clock: RideClock,
    roads: RoadsView,
    *,
    route: str,
    region: RegionNote,
    trip: Trip,
    fleet: Fleet,
    own: ClimateGrid | None = None,
    rules: WhenRules = WHEN,
    engines: bool = True,
) -> When:
    """The table, its best and worst cells, and what follows.

    clock : of the ride on no date; its hours of setting off are changed
    own : the operator's monthly climate grids
    engines : whether to judge how long an engine depends on its fan; `fan_s` is None if not
    """
    inputs = passage_of(ride, relief, clock)
    whole = climate_along(inputs, own)
    climate = replace(whole, at_m=np.linspace(0.0, inputs.length_m, _SAMPLES))
    suns = _suns(inputs)
    grid = tuple(product(range(12), rules.hours))
    cases = [_case(inputs, suns[month], month + 1, hour) for month, hour in grid]
    airs = riding_airs_along(cases, climate)
    engine = _engine(inputs, trip, fleet, airs) if engines else None
    share = _time_shares(inputs, climate.at_m)
    cells = [
        _cell(hour, suns[month], case[0].clock, air, share, rules)
        for (month, hour), case, air in zip(grid, cases, airs, strict=True)
    ]
    if engine is not None:
        bike, steps = engine
        cells = [
            replace(cell, fan_s=fan_seconds(bike, steps, air, trip))
            for cell, air in zip(cells, airs, strict=True)
        ]
    season = ground_by_month(ride, roads, relief)
    n = len(rules.hours)
    months = tuple(
        WhenMonth(
            month=m + 1, rain_mm=climate.rain_mm(m + 1), shut_m=season[m].shut_m,
            soft_m=season[m].soft_m, snow_m=season[m].snow_m,
            season_unknown_m=season[m].unknown_m, daylight_s=suns[m][0].daylight_s,
            cells=tuple(cells[m * n : m * n + n]),
        )
        for m in range(12)
    )  # fmt: skip
    months, worst = rank_months(months, ride.length_m, rules)
    return When(
        route=route, region=region.name, map_date=region.map_date,
        attribution=region.attribution, length_m=ride.length_m, riding_s=ride.total_s,
        n_days=inputs.clock.n_days, hours=rules.hours, months=months,
        headline=headline(months, rules),
        lead=lead(months, worst, heights=relief.source is not None),
        notes=notes(months), worst=worst, climate=whole.basis,
    )  # fmt: skip


def _suns(inputs: Passage) -> list[list[SunDay]]:
    """The sun of each day of the ride, in the middle of each month, where the day ends."""
    lon, lat = inputs.lonlat(np.append(0.0, inputs.clock.ends_m))
    found = []
    for month in range(1, 13):
        first = datetime(_ANY_YEAR, month, 15)
        days = [first + timedelta(days=max(n - 1, 0)) for n in range(len(lon))]
        found.append([
            sun_day(float(lon[n]), float(lat[n]), day.date(), inputs.zone)
            for n, day in enumerate(days)
        ])  # fmt: skip
    return found


def _case(
    inputs: Passage, suns: Sequence[SunDay], month: int, hour: int
) -> tuple[Passage, datetime]:
    """The ride by the clock of a month and hour; later days do not set off before sunrise."""
    start = datetime(_ANY_YEAR, month, 15, hour, tzinfo=inputs.zone)
    off_s = [3600.0 * hour]
    for sun in suns[1 : inputs.clock.n_days]:
        rise_s = 0.0 if sun.sunrise is None else _since_midnight_s(sun.sunrise, sun)
        off_s.append(max(3600.0 * hour, rise_s))
    clock = replace(inputs.clock, start_s=np.array(off_s))
    return replace(inputs, clock=clock), start


def _since_midnight_s(moment: datetime, sun: SunDay) -> float:
    days = (moment.date() - sun.day).days
    return days * _DAY_S + moment.hour * 3600.0 + moment.minute * 60.0 + moment.second


def _time_shares(inputs: Passage, at_m: FloatArray) -> FloatArray:
    """Share of the riding time that each position stands for, ferries left out, shape (n,)."""
    edges = np.concatenate([at_m[:1], (at_m[1:] + at_m[:-1]) / 2.0, at_m[-1:]])
    time_s = np.diff(inputs.clock.riding_s(edges))
    time_s = np.where(inputs.ferry[inputs.stretch_of(at_m)], 0.0, time_s)
    total = float(time_s.sum())
    return time_s / total if total > 0 else np.full(len(at_m), 1.0 / len(at_m))


def _cell(
    hour: int,
    suns: Sequence[SunDay],
    clock: RideClock,
    air: AirAlong,
    share: FloatArray,
    rules: WhenRules,
) -> WhenCell:
    before_s, left_s = _light(hour, suns, clock)
    wbgt = air.wbgt_riding_c
    return WhenCell(
        start_h=hour,
        rest_share=float(share[wbgt >= rules.rest_c].sum()),
        hard_share=float(share[wbgt >= rules.hard_c].sum()),
        cold_share=float(share[air.wind_chill_c < rules.cold_c].sum()),
        ice_share=float(share[air.temp_c <= rules.ice_c].sum()),
        max_air_temp_c=float(air.temp_c.max()),
        max_wbgt_riding_c=float(np.nanmax(wbgt)),
        min_wind_chill_c=float(air.wind_chill_c.min()),
        fan_s=None,
        before_light_s=before_s,
        light_left_s=left_s,
        is_dark=before_s > 0 or (left_s is not None and left_s < rules.light_s),
    )


def _light(hour: int, suns: Sequence[SunDay], clock: RideClock) -> tuple[float, float | None]:
    """Riding before dawn on the first day [s], and the least light left on an arrival [s]."""
    first = suns[0]
    dawn = first.dawn or (first.sunrise if first.dusk or first.kind is not SunKind.USUAL else None)
    before_s = 0.0
    if first.kind is SunKind.POLAR_NIGHT and dawn is None:
        before_s = _DAY_S
    elif dawn is not None:
        before_s = max(_since_midnight_s(dawn, first) - 3600.0 * hour, 0.0)
    left: list[float] = []
    for arrival_s, sun in zip(clock.passing_s(clock.ends_m).tolist(), suns[1:], strict=True):
        dusk = sun.dusk or (sun.sunset if sun.kind is SunKind.USUAL and sun.dawn else None)
        if dusk is not None:
            left.append(_since_midnight_s(dusk, sun) - arrival_s)
        elif sun.kind is SunKind.POLAR_NIGHT:
            left.append(-_DAY_S)
    return before_s, min(left, default=None)


def _engine(
    inputs: Passage, trip: Trip, fleet: Fleet, airs: Sequence[AirAlong]
) -> tuple[BikeClass, Steps] | None:
    """The liquid-cooled class that depends most on its fan, and the ride in steps; None if the
    grades are not known or there is no such class."""
    fanned = [bike for bike in fleet.classes if bike.cooling is Cooling.LIQUID]
    wanted = fleet.named(trip.wanted_class or "")
    if wanted in fanned:
        fanned = [wanted] if wanted is not None else fanned
    if not fanned or not grades_known(inputs):
        return None
    steps = ride_steps(inputs, _ENGINE_STEP_M)
    hottest = max(airs, key=lambda air: float(air.temp_c.max()))
    return max(fanned, key=lambda bike: fan_seconds(bike, steps, hottest, trip)), steps


# -- best and worst --------------------------------------------------------------------------------


class _Rank(NamedTuple):
    """What makes a cell worse, the gravest first: shut, dark, then the sum of discomforts."""

    shut: int
    dark: bool
    trouble: float


def _rank(month: WhenMonth, cell: WhenCell, length_m: float, rules: WhenRules) -> _Rank:
    shut = month.shut_m / max(length_m, 1.0)
    soft = month.soft_m / max(length_m, 1.0)
    return _Rank(
        shut=int(shut / rules.shut_step + 0.5),
        dark=cell.is_dark,
        trouble=cell.rest_share + cell.hard_share + cell.cold_share + cell.ice_share + soft,
    )


def _all(months: Sequence[WhenMonth]) -> Iterator[tuple[WhenMonth, WhenCell]]:
    for month in months:
        for cell in month.cells:
            yield month, cell


def rank_months(
    months: Sequence[WhenMonth], length_m: float, rules: WhenRules
) -> tuple[tuple[WhenMonth, ...], tuple[int, int]]:
    """The months with their best cells marked, and month and hour of the worst."""
    ranks = {(m.month, c.start_h): _rank(m, c, length_m, rules) for m, c in _all(months)}
    best = min(ranks.values())
    worst = max(ranks, key=lambda key: ranks[key])

    def is_best(key: tuple[int, int]) -> bool:
        rank = ranks[key]
        return rank[:2] == best[:2] and rank.trouble <= best.trouble + rules.near

    marked = tuple(
        replace(
            m, cells=tuple(replace(c, is_best=is_best((m.month, c.start_h))) for c in m.cells)
        )
        for m in months
    )  # fmt: skip
    return marked, worst
