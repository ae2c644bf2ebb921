"""How the engines of the fleet bear the ride."""

from __future__ import annotations

from dataclasses import dataclass, fields, replace
from typing import Any

import numpy as np

from terrain.calc.atmosphere import air_density_kg_m3, pressure_hpa, unblown_power_share
from terrain.stages.heat.engine_model import (
    EngineRun,
    rolling_resistance,
    run_engine,
    tractive_power_w,
    usual_coolant_l,
)
from terrain.stages.heat.passage import Passage
from terrain.tables.common import LUGGAGE_KG, PILLION_KG, RIDER_KG, UNMAPPED_P
from terrain.tables.engine import (
    CAUSE_SHARE,
    CLIMB_PCT,
    CLUTCH_GRADE_PCT,
    CLUTCH_KPH,
    CLUTCH_LOOSE_P,
    ENGINE,
    FAN_LONG_S,
    FAN_SOME_S,
    HOT_AIR_C,
    LITTLE_COOLANT,
    LUGGAGE_CDA_M2,
    SOFT_P,
    UNKNOWN_GRADE_PCT,
    WALKING_KPH,
)
from terrain.values.arrays import BoolArray, FloatArray, spans
from terrain.values.fleet import BikeClass, Cooling
from terrain.values.heat import AirAlong, Concern, EngineHeat, HeatCause, HotRun
from terrain.values.trip import Trip

# Common practice, no source.
_STEP_M = 100.0
_MOST_STEPS = 4000
_JOIN_S = 60.0  # hot parts closer than this in time are one run
_CLUTCH_S = 60.0  # a clutch that works for less than this does not get hot
_KNOWN_ENOUGH = 0.5  # share of the ride whose grade must be known


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Steps:
    """The ride in short steps, shape (n,): middle, ends, time, speed, grade, ground, height.

    grade_known : where False, grade_pct is the mean grade between the nearest known places
    """

    at_m: FloatArray
    from_m: FloatArray
    to_m: FloatArray
    time_s: FloatArray
    speed_m_s: FloatArray
    grade_pct: FloatArray
    grade_known: BoolArray
    p: FloatArray
    severity: FloatArray
    ele_m: FloatArray
    running: BoolArray


def grades_known(inputs: Passage) -> bool:
    """Whether enough of the ride's grades are known to judge engines."""
    return inputs.grade_known_share >= _KNOWN_ENOUGH


def ride_steps(inputs: Passage, step_m: float = _STEP_M) -> Steps:
    """Steps of about step_m, at most 4000 of them; the finest are cut at stretch borders too."""
    n = int(np.clip(np.ceil(inputs.length_m / step_m), 1, _MOST_STEPS))
    even = np.linspace(0.0, inputs.length_m, n + 1)
    edges = even
    if step_m <= _STEP_M and len(inputs.from_m) <= _MOST_STEPS:
        edges = np.unique(np.concatenate([even, inputs.from_m, inputs.to_m]))
    from_m, to_m = edges[:-1], edges[1:]
    at_m = (from_m + to_m) / 2.0
    row = inputs.stretch_of(at_m)
    p = np.where(np.isnan(inputs.p[row]), UNMAPPED_P, inputs.p[row])
    ferry = inputs.ferry[row]
    grade, ele_m = inputs.grades(at_m), _closed(at_m, inputs.heights(at_m))
    steps = Steps(
        at_m=at_m,
        from_m=from_m,
        to_m=to_m,
        time_s=np.diff(inputs.clock.riding_s(edges)),
        speed_m_s=np.where(ferry, 0.0, inputs.speed_kph[row] / 3.6),
        grade_pct=_bridged(at_m, grade, ele_m),
        grade_known=~np.isnan(grade),
        p=p,
        severity=inputs.severity[row],
        ele_m=ele_m,
        running=~ferry,
    )
    return _with_standing(steps, inputs)


def _with_standing(steps: Steps, inputs: Passage) -> Steps:
    """Steps of no length where one stands with the engine running; on a ferry it is off."""
    after = np.minimum(np.searchsorted(steps.to_m, inputs.stand_at_m), len(steps.at_m) - 1)
    keep = steps.running[after]
    after, stand_s, at_m = after[keep], inputs.stand_s[keep], inputs.stand_at_m[keep]
    here: dict[str, FloatArray | float | bool] = {
        "at_m": at_m, "from_m": at_m, "to_m": at_m, "time_s": stand_s, "speed_m_s": 0.0,
        "grade_pct": 0.0, "grade_known": True, "running": True,
    }  # fmt: skip
    rows = {}
    for item in fields(steps):
        values = getattr(steps, item.name)
        rows[item.name] = np.insert(values, after + 1, here.get(item.name, values[after]), axis=0)
    return Steps(**rows)


def _closed(at_m: FloatArray, ele_m: FloatArray) -> FloatArray:
    """Heights with those not known taken between the nearest known ones; 0 if none is known.

    At sea level air cools best; that is a tenth of a hill's, where speed and heat are many times.
    """
    known = ~np.isnan(ele_m)
    if not known.any():
        return np.zeros_like(ele_m)
    return np.asarray(np.interp(at_m, at_m[known], ele_m[known]), dtype=np.float64)


def _bridged(at_m: FloatArray, grade_pct: FloatArray, ele_m: FloatArray) -> FloatArray:
    """Grades with each unknown run given the mean grade between the known places beside it.

    An engine must climb that much in all, however the climb is spread; 0 where a side is missing.
    """
    unknown = np.isnan(grade_pct)
    out = np.where(unknown, 0.0, grade_pct)
    for first, end in spans(unknown):
        if first > 0 and end < len(at_m):
            rise = ele_m[end] - ele_m[first - 1]
            out[first:end] = 100.0 * rise / (at_m[end] - at_m[first - 1])
    return out


def judge_engine(bike: BikeClass, steps: Steps, air: AirAlong, trip: Trip) -> EngineHeat:
    """One class of bike over the ride, on a mean day and on a day at the band's upper end.

    Where no grade is known it is taken as level, and at the upper end as a climb.
    """
    air_c = np.asarray(np.interp(steps.at_m, air.at_m, air.temp_c), dtype=np.float64)
    high_c = np.asarray(np.interp(steps.at_m, air.at_m, air.high_c), dtype=np.float64)
    run, density = _run(bike, steps, air_c, trip)
    climb = np.where(steps.grade_known, 0.0, UNKNOWN_GRADE_PCT)
    high, _ = _run(bike, replace(steps, grade_pct=steps.grade_pct + climb), high_c, trip)
    liquid = bike.cooling is Cooling.LIQUID
    limit = ENGINE.boil_c if liquid else ENGINE.fin_limit_c
    over = run.cooled_c > limit
    runs = _hot_runs(bike, steps, run, air_c, over)
    fan_s = float(steps.time_s[run.hot].sum())
    fan_high_s = float(steps.time_s[high.hot].sum())
    concern = _concern(fan_s, float(steps.time_s[over].sum()))
    causes: tuple[HeatCause, ...] = ()
    if concern is not Concern.LOW:
        causes = _causes(bike, steps, run.hot, air_c)
    guessed = not steps.grade_known[steps.to_m > steps.from_m].any()
    # Climbs that nobody knows are descents for half of them.
    if guessed and concern is Concern.LOW and fan_high_s >= 2 * FAN_LONG_S:
        concern, causes = Concern.MEDIUM, (HeatCause.UNKNOWN,)
    left = unblown_power_share(density)
    asked = run.power_w / ENGINE.drive_share / (1000.0 * bike.power_kw * left)
    return EngineHeat(
        bike=bike.name,
        title=bike.title,
        cooling=bike.cooling.value,
        concern=concern,
        causes=causes,
        fan_s=fan_s,
        fan_high_s=fan_high_s,
        longest_s=max((r.time_s for r in runs), default=0.0),
        boil_s=float(steps.time_s[over].sum()),
        peak_c=float(run.bare_c.max()),
        cooled_peak_c=float(run.cooled_c.max()),
        limit_c=limit,
        most_power_share=float(asked.max()),
        least_power_left=float(left.min()),
        runs=runs,
    )


def fan_seconds(bike: BikeClass, steps: Steps, air: AirAlong, trip: Trip) -> float:
    """Time in which a bike's airflow alone is not enough on a mean day [s]."""
    air_c = np.asarray(np.interp(steps.at_m, air.at_m, air.temp_c), dtype=np.float64)
    run, _ = _run(bike, steps, air_c, trip)
    return float(steps.time_s[run.hot].sum())


def _run(
    bike: BikeClass, steps: Steps, air_c: FloatArray, trip: Trip
) -> tuple[EngineRun, FloatArray]:
    density = air_density_kg_m3(pressure_hpa(steps.ele_m), air_c)
    load = RIDER_KG + LUGGAGE_KG[trip.luggage.value]
    if trip.pillion and bike.seats > 1:
        load += PILLION_KG
    power = tractive_power_w(
        steps.speed_m_s,
        steps.grade_pct,
        mass_kg=bike.mass_kg + load,
        rolling=rolling_resistance(steps.p, steps.severity),
        drag_area_m2=bike.drag_area_m2 + LUGGAGE_CDA_M2[trip.luggage.value],
        density_kg_m3=density,
    )
    run = run_engine(
        bike,
        time_s=steps.time_s,
        power_w=power,
        speed_m_s=steps.speed_m_s,
        air_c=air_c,
        density_kg_m3=density,
        running=steps.running,
    )
    return run, density


def _concern(fan_s: float, boil_s: float) -> Concern:
    if boil_s > 0.0 or fan_s >= FAN_LONG_S:
        return Concern.HIGH
    return Concern.MEDIUM if fan_s >= FAN_SOME_S else Concern.LOW


def _causes(
    bike: BikeClass, steps: Steps, hot: BoolArray, air_c: FloatArray
) -> tuple[HeatCause, ...]:
    """What holds over a good part of the time in which an engine is hot, the longest first.

    Hot air makes nothing hot by itself and comes after what does.
    """
    stands = steps.to_m <= steps.from_m
    found = {
        HeatCause.STANDING: stands,
        HeatCause.WALKING: ~stands & (steps.speed_m_s * 3.6 <= WALKING_KPH),
        HeatCause.CLIMB: ~stands & (steps.grade_pct >= CLIMB_PCT),
        HeatCause.SOFT: ~stands & (steps.p[:, 2] >= SOFT_P),
        HeatCause.AIR: air_c >= HOT_AIR_C,
    }
    hot_s = np.where(hot, steps.time_s, 0.0)
    share = {cause: float(hot_s[mask].sum()) / float(hot_s.sum()) for cause, mask in found.items()}
    named = [cause for cause, part in share.items() if part >= CAUSE_SHARE] or [
        max(share, key=lambda cause: share[cause])
    ]
    named.sort(key=lambda cause: (cause is HeatCause.AIR, -share[cause]))
    usual_l = usual_coolant_l(bike.power_kw)
    if bike.coolant_l is not None and bike.coolant_l < LITTLE_COOLANT * usual_l:
        named.append(HeatCause.COOLANT)
    return tuple(named)


def _hot_runs(
    bike: BikeClass, steps: Steps, run: EngineRun, air_c: FloatArray, over: BoolArray
) -> tuple[HotRun, ...]:
    why = "fan" if bike.cooling is Cooling.LIQUID else "fins"
    out = []
    for first, last in _joined_spans(run.hot, steps.time_s):
        part = slice(first, last + 1)
        out.append(
            HotRun(
                from_m=float(steps.from_m[first]),
                to_m=float(steps.to_m[last]),
                why="boil" if over[part].any() else why,
                bike=bike.name,
                time_s=float(steps.time_s[part].sum()),
                air_temp_c=float(air_c[part].max()),
                peak_c=float(run.bare_c[part].max()),
                ratio=float(run.ratio[part].max()),
                **_way(steps, part),
            )
        )
    return tuple(out)


def clutch_runs(steps: Steps, bike: str = "") -> tuple[HotRun, ...]:
    """Parts that are slow, steep and loose together: a slipping clutch gets hot."""
    hard = (
        (steps.speed_m_s * 3.6 <= CLUTCH_KPH)
        & steps.grade_known
        & (steps.grade_pct >= CLUTCH_GRADE_PCT)
        & (steps.p[:, 2] >= CLUTCH_LOOSE_P)
        & steps.running
    )
    return tuple(
        HotRun(
            from_m=float(steps.from_m[first]),
            to_m=float(steps.to_m[last]),
            why="clutch",
            bike=bike,
            time_s=float(steps.time_s[first : last + 1].sum()),
            air_temp_c=None,
            peak_c=None,
            ratio=None,
            **_way(steps, slice(first, last + 1)),
        )
        for first, last in _joined_spans(hard, steps.time_s)
        if steps.time_s[first : last + 1].sum() >= _CLUTCH_S
    )


def _way(steps: Steps, part: slice) -> dict[str, Any]:
    length = steps.to_m[part] - steps.from_m[part]
    measured = steps.grade_known[part]
    total_m = float(length.sum())
    stated = 0.0 < _KNOWN_ENOUGH * total_m <= float(length[measured].sum())
    mean = np.average(steps.grade_pct[part], weights=length * measured) if stated else None
    return {
        "grade_pct": None if mean is None else float(mean),
        "speed_kph": float(3.6 * length.sum() / max(steps.time_s[part].sum(), 1e-9)),
    }


def _joined_spans(mask: BoolArray, time_s: FloatArray) -> list[tuple[int, int]]:
    """First and last index of each run of True, gaps shorter than a minute closed."""
    joined: list[tuple[int, int]] = []
    for first, end in spans(mask):
        if joined and time_s[joined[-1][1] + 1 : first].sum() < _JOIN_S:
            joined[-1] = (joined[-1][0], end - 1)
        else:
            joined.append((first, end - 1))
    return joined
