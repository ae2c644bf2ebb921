"""The rider's heat, cold, water and height."""

from __future__ import annotations

from datetime import UTC, datetime
from zoneinfo import ZoneInfo

import numpy as np

from terrain.stages.heat.passage import Passage
from terrain.tables.common import UNMAPPED_P
from terrain.tables.heat import (
    COLD_LEVELS,
    EFFORTS,
    GEAR_WBGT_K,
    HARD_SEVERITY,
    HEAT_LEVELS,
    HEIGHT_LEVELS,
    HEIGHT_STAY_S,
    ICE_C,
    QUART_L,
    WATER_COOL_L_H,
    WATER_MOST_L_H,
    WATER_SOURCE,
    WATER_STEPS_F,
    Measure,
)
from terrain.text.catalogue import N_
from terrain.text.message import message, term
from terrain.values.arrays import BoolArray, FloatArray, spans
from terrain.values.heat import AirAlong, Caution, HotSpell, LevelHours, RiderHeat

# Common practice, no source.
_DAY_S = 86_400.0  # by definition
_SPELL_K = 0.5  # the worst part is what lies within this of the worst WBGT


def judge_rider(inputs: Passage, air: AirAlong, zone: ZoneInfo, *, used_to_heat: bool) -> RiderHeat:
    """The rider's figures over the ride.

    used_to_heat : as riders are who have lived with such heat; else the limits are lower
    """
    hours = _hours_each(inputs, air)
    effort = _effort_shares(inputs, air.at_m)
    water = _water_l_h(air.wbgt_still_c, effort)
    limit = effort @ np.array([e.wbgt_limit_c if used_to_heat else e.wbgt_new_c for e in EFFORTS])
    over = np.nan_to_num(air.wbgt_riding_c, nan=-99.0) > limit
    hot, cold, chill = (
        int(np.argmax(air.temp_c)),
        int(np.argmin(air.temp_c)),
        int(np.argmin(air.wind_chill_c)),
    )
    total_h = float(hours.sum())
    return RiderHeat(
        max_air_temp_c=float(air.temp_c[hot]),
        max_air_temp_low_c=float(air.low_c[hot]),
        max_air_temp_high_c=float(air.high_c[hot]),
        max_air_temp_at_m=float(air.at_m[hot]),
        min_air_temp_c=float(air.temp_c[cold]),
        min_air_temp_at_m=float(air.at_m[cold]),
        max_heat_index_c=float(air.heat_index_c.max()),
        max_wbgt_c=float(np.nanmax(air.wbgt_still_c)),
        max_wbgt_gear_c=float(np.nanmax(air.wbgt_still_c)) + GEAR_WBGT_K,
        max_wbgt_riding_c=float(np.nanmax(air.wbgt_riding_c)),
        min_wind_chill_c=float(air.wind_chill_c[chill]),
        min_wind_chill_at_m=float(air.at_m[chill]),
        hours_above=_levels(air, hours),
        over_limit_h=float(hours[air.wbgt_still_c > limit].sum()),
        over_riding_h=float(hours[over].sum()),
        over_riding=tuple(
            (_between(air.at_m, first - 1), _between(air.at_m, end - 1))
            for first, end in spans(over)
        ),
        used_to_heat=used_to_heat,
        worst=_worst(air, zone),
        water_l_h=float(np.average(water, weights=hours)) if total_h > 0 else float(water.mean()),
        water_most_l_h=float(water.max()),
        water_l=float((water * hours).sum()),
        water_source=WATER_SOURCE,
    )


def _hours_each(inputs: Passage, air: AirAlong) -> FloatArray:
    """Riding hours that each position stands for, ferries left out; shape (n,)."""
    edges = np.concatenate([air.at_m[:1], (air.at_m[1:] + air.at_m[:-1]) / 2.0, air.at_m[-1:]])
    hours = np.diff(inputs.clock.riding_s(edges)) / 3600.0
    return np.where(inputs.ferry[inputs.stretch_of(air.at_m)], 0.0, hours)


def _effort_shares(inputs: Passage, at_m: FloatArray) -> FloatArray:
    """Share of low, moderate and high effort at each position, shape (n, 3)."""
    row = inputs.stretch_of(at_m)
    p = np.where(np.isnan(inputs.p[row]), UNMAPPED_P, inputs.p[row])
    hard = inputs.severity[row] >= HARD_SEVERITY
    track = p[:, 2]
    return np.stack(
        [p[:, 0], p[:, 1] + np.where(hard, 0.0, track), np.where(hard, track, 0.0)], axis=1
    )


def _water_l_h(wbgt_c: FloatArray, effort: FloatArray) -> FloatArray:
    table = np.array([[WATER_COOL_L_H, *(q * QUART_L for q in e.water_qt_h)] for e in EFFORTS])
    step = np.searchsorted(np.array(WATER_STEPS_F), wbgt_c * 1.8 + 32.0, side="right")
    litres = np.sum(effort * table[:, step].T, axis=1)
    return np.asarray(np.minimum(litres, WATER_MOST_L_H), dtype=np.float64)


def _levels(air: AirAlong, hours: FloatArray) -> tuple[LevelHours, ...]:
    values = {
        Measure.AIR: air.temp_c,
        Measure.INDEX: air.heat_index_c,
        Measure.WBGT: air.wbgt_still_c,
        Measure.RIDING: air.wbgt_riding_c,
    }
    return tuple(
        LevelHours(
            measure=level.measure.value,
            above=level.above,
            word=level.word,
            hours=float(hours[values[level.measure] >= level.above].sum()),
            source=level.source,
        )
        for level in HEAT_LEVELS
    )


def _worst(air: AirAlong, zone: ZoneInfo) -> HotSpell:
    wet = np.nan_to_num(air.wbgt_still_c, nan=-99.0)
    top = int(np.argmax(wet))
    near = wet >= wet[top] - _SPELL_K
    first, last = top, top
    while first > 0 and near[first - 1]:
        first -= 1
    while last < len(wet) - 1 and near[last + 1]:
        last += 1
    part = slice(first, last + 1)
    start = datetime.fromtimestamp(float(air.unix_s[first]), UTC).astimezone(zone)
    return HotSpell(
        from_m=_between(air.at_m, first - 1),
        to_m=_between(air.at_m, last),
        start=start,
        temp_c=float(air.temp_c[part].max()),
        heat_index_c=float(air.heat_index_c[part].max()),
        wbgt_c=float(wet[top]),
    )


def _between(at_m: FloatArray, i: int) -> float:
    """Half-way from a sample to the next, for each stands for the ride around it."""
    return float((at_m[max(i, 0)] + at_m[min(i + 1, len(at_m) - 1)]) / 2.0)


def _stays_from(over: BoolArray, inputs: Passage) -> int | None:
    """Where one comes to such a height and stays for as long as makes people sick; None if one only
    passes over it. Who starts or ends the ride there may have been there, or stay.

    over : at each height of the ride
    """
    moment_s = inputs.clock.passing_s(inputs.ele_at_m)
    moment_s += _DAY_S * inputs.clock.day_of(inputs.ele_at_m)
    for first, end in spans(over):
        at_an_end = first == 0 or end == len(over)
        if at_an_end or moment_s[end - 1] - moment_s[first] >= HEIGHT_STAY_S:
            return int(first)
    return None


def rider_cautions(air: AirAlong | None, inputs: Passage) -> tuple[Caution, ...]:
    """What to say of height, cold and ice, each with the first place it holds."""
    found: list[Caution] = []
    known = ~np.isnan(inputs.ele_m)
    for height in HEIGHT_LEVELS:
        first = _stays_from(known & (inputs.ele_m >= height.above), inputs)
        if first is not None:
            at = float(inputs.ele_at_m[first])
            code = f"height-{height.above:.0f}"
            text = message(height.text, step_ele_m=height.step_ele_m, rest_ele_m=height.rest_ele_m)
            found.append(Caution(code=code, text=text, at_m=at, source=height.source))
    if air is not None:
        worst = [c for c in COLD_LEVELS if (air.wind_chill_c < c.below).any()]
        for cold in worst[-1:]:
            at = float(air.at_m[np.argmax(air.wind_chill_c < cold.below)])
            code = f"cold-{cold.below:.0f}"
            found.append(Caution(code=code, text=term(cold.text), at_m=at, source=cold.source))
        if (air.temp_c <= ICE_C).any():
            at = float(air.at_m[np.argmax(air.temp_c <= ICE_C)])
            text = message(
                "Air near freezing: ice may lie in shade, on bridges and in the early hours."
            )
            source = N_("common practice, no source")
            found.append(Caution(code="ice", text=text, at_m=at, source=source))
    return tuple(found)
