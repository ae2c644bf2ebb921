"""Whether the ride suits the rider: honest about loose climbs, fords, sand, height, hours, heat."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace
from math import ceil

import numpy as np

from terrain.stages.advice.burden import OffRoadTime
from terrain.stages.advice.case import AdviceCase
from terrain.stages.advice.runs import StretchRun, near, off_road_runs, runs_where
from terrain.stages.advice.setup.judge import SOFT_M, soft_length_m
from terrain.stages.advice.words import advice_item
from terrain.stages.relief.gradient import parts_on
from terrain.tables.advice import (
    ALTITUDE,
    GUIDE,
    HEAT,
    LOOSE_M,
    NEW_RIDER_DAY_S,
    PRACTICE,
    RIDERS,
    RiderLimits,
)
from terrain.tables.heat import OVER_LIMIT_H
from terrain.tables.verdict import LIMITS
from terrain.text.catalogue import N_
from terrain.text.message import after, message
from terrain.values.advice import AdviceItem, RiderFit, RiderVerdict
from terrain.values.arrays import joined_spans
from terrain.values.ground import GroundKind, SeasonRisk
from terrain.values.heat import RiderHeat
from terrain.values.trip import Trip

# Common practice, no source.
_WITHIN, _STRETCHING, _BEYOND = range(3)
_VERDICTS = (RiderVerdict.WITHIN, RiderVerdict.STRETCHING, RiderVerdict.BEYOND)
# Ground harder than a rider likes counts from this long on; a level or more harder, sooner.
_ENOUGH_S, _ENOUGH_HARD_S = 600.0, 120.0
_SANDS = ("sand", "dirt/sand")
_NEARLY_ALL = 0.8  # a part with this share of what is beyond the rider stands for all of it
_BY_TIME = ("beyond-off-road", "pillion-off-road")
_PART_SHARE = 0.4  # a longer part of the ride is not left out, it is another ride
_PILLION_S = 1_800.0
_LONG_RAMPS_M = 300.0
_ONE_RAMP = 0.95  # a ramp of this share of all that is steep is told alone
_FELT_K = 1.0  # air felt hotter by less than this is told as it is

Found = tuple[int, AdviceItem]


def judge_rider(case: AdviceCase, burden: OffRoadTime) -> RiderFit:
    """How the ride suits the rider, with what stretches them and what is beyond them."""
    fit = _judged(case, burden)
    off_m = sum(s.length_m for s in case.stretches if s.ground is GroundKind.UNMAPPED)
    if fit.verdict is RiderVerdict.BEYOND or off_m < LIMITS.off_map_share * case.length_m:
        return fit
    told = message("So it is as far as it is on the map: of {unmapped_m} nothing is known.",
                   unmapped_m=off_m)  # fmt: skip
    return replace(fit, text=after(message(fit.text), told))


def _judged(case: AdviceCase, burden: OffRoadTime) -> RiderFit:
    alone = _fit(case, burden, _limits(case.trip))
    if not case.trip.guided:
        return alone
    led = _fit(case, burden, limits_of(case.trip))
    if led.verdict is RiderVerdict.BEYOND:
        return replace(led, text=advice_item("rider-beyond-guided", rider=led.rider).text)
    if led.verdict is alone.verdict:
        return led
    within = led.verdict is RiderVerdict.WITHIN
    code = "rider-within-guided" if within else "rider-stretching-guided"
    return replace(led, text=advice_item(code, rider=led.rider).text)


def limits_of(trip: Trip) -> RiderLimits:
    """What stretches the trip's rider and what is beyond them, with the guide if one goes along."""
    return _with_guide(_limits(trip)) if trip.guided else _limits(trip)


def _limits(trip: Trip) -> RiderLimits:
    limits = RIDERS[trip.skill]
    return replace(limits, day_s=NEW_RIDER_DAY_S) if trip.is_new else limits


def _with_guide(limits: RiderLimits) -> RiderLimits:
    """What the rider can do with somebody who picks up, pushes, shows the line and mends."""
    easy, hard = limits.severity
    return replace(
        limits,
        severity=(easy + GUIDE.severity, hard + GUIDE.severity),
        off_road_s=(limits.off_road_s[0] * GUIDE.time, limits.off_road_s[1] * GUIDE.time),
        loose_grade_pct=(
            limits.loose_grade_pct[0] + GUIDE.grade_pct, limits.loose_grade_pct[1] + GUIDE.grade_pct
        ),
        sand_s=(limits.sand_s[0] * GUIDE.time, limits.sand_s[1] * GUIDE.time),
        fords=(ceil(limits.fords[0] * GUIDE.count), ceil(limits.fords[1] * GUIDE.count)),
    )  # fmt: skip


def _fit(case: AdviceCase, burden: OffRoadTime, limits: RiderLimits) -> RiderFit:
    checks = (
        _ground(case, limits),
        _off_road_day(case, burden, limits),
        _loose(case, limits),
        _sand(case, limits),
        _fords(case, limits),
        _long_day(case, limits),
        _altitude(case),
        _heat(case),
        _season(case),
        _pillion(case, burden, limits),
    )
    found = sorted((item for check in checks for item in check), key=lambda item: -item[0])
    worst = max((level for level, _ in found), default=_WITHIN)
    rider = case.trip.skill.value
    verdict = _VERDICTS[worst]
    code = f"rider-{verdict.value}"
    return RiderFit(
        rider=rider,
        verdict=verdict,
        text=advice_item(code, rider=rider).text,
        reasons=tuple(said for _, said in found),
        n_beyond=sum(level == _BEYOND for level, _ in found),
        n_worst=sum(level == worst for level, _ in found),
    )


def _at(said: AdviceItem, spans: Iterable[tuple[float, float]]) -> AdviceItem:
    """The same with every part of it, about the worst of which it tells."""
    return replace(said, spans=tuple(joined_spans(spans)))


def beyond_part(case: AdviceCase, fit: RiderFit) -> tuple[float, float] | None:
    """The one part of the ride without which it is not beyond the rider; None if there is none.

    Nobody leaves out a ramp: the part is the whole run off tarmac that holds nearly all of each
    reason.
    """
    reasons = [_spans_of(case, said) for said in fit.reasons[: fit.n_beyond]]
    for run in off_road_runs(case) if reasons else ():
        if run.length_m <= _PART_SHARE * case.length_m and all(
            _share_within(spans, run) >= _NEARLY_ALL for spans in reasons
        ):
            return run.from_m, run.to_m
    return None


def _spans_of(case: AdviceCase, said: AdviceItem) -> Sequence[tuple[float, float]]:
    """Where a reason lies; of a day that is too long off tarmac, all that it rides there."""
    if said.code not in _BY_TIME:
        return said.places
    from_m, to_m = said.from_m or 0.0, case.length_m if said.to_m is None else said.to_m
    dirt = [s for s in case.stretches if s.off_tarmac]
    return [(s.from_m, s.to_m) for s in dirt if from_m <= (s.from_m + s.to_m) / 2 < to_m]


def _share_within(spans: Sequence[tuple[float, float]], run: StretchRun) -> float:
    """Share of their length that lies in a run; of spots, of their number."""
    whole = sum(b - a for a, b in spans)
    if whole > 0:
        return sum(max(0.0, min(b, run.to_m) - max(a, run.from_m)) for a, b in spans) / whole
    return float(np.mean([run.from_m <= a <= run.to_m for a, _ in spans])) if spans else 0.0


def _level(value: float, limits: tuple[float, float]) -> int:
    return _BEYOND if value >= limits[1] else _STRETCHING if value >= limits[0] else _WITHIN


def _runs(case: AdviceCase, chosen: Iterable[bool]) -> list[StretchRun]:
    return runs_where(case, np.fromiter(chosen, dtype=np.bool_))


def _ground(case: AdviceCase, limits: RiderLimits) -> list[Found]:
    for level, limit, code in (
        (_BEYOND, limits.severity[1], "beyond-ground"),
        (_STRETCHING, limits.severity[0], "stretch-ground"),
    ):
        runs = _runs(
            case,
            (s.off_tarmac and (s.severity or 0.0) >= limit for s in case.stretches),
        )
        time_s = sum(run.time_s(case) for run in runs)
        hard_s = sum(
            s.time_s
            for run in runs
            for s in run.stretches(case)
            if (s.severity or 0.0) >= limit + 1
        )
        if time_s < _ENOUGH_S and hard_s < _ENOUGH_HARD_S:
            continue
        worst = max(runs, key=lambda run: run.time_s(case))
        severity = max(s.severity or 0.0 for s in worst.stretches(case))
        said = advice_item(
            code, from_m=worst.from_m, to_m=worst.to_m, run_s=time_s, severity=round(severity),
            from_at_m=worst.from_m, near=near(case, worst.from_m), limit=limit,
            part_s=worst.time_s(case), part_share=worst.time_s(case) / time_s, source=PRACTICE,
        )  # fmt: skip
        hard = [s for run in runs for s in run.stretches(case)]
        return [(level, _at(said, ((s.from_m, s.to_m) for s in hard)))]
    return []


def _off_road_day(case: AdviceCase, burden: OffRoadTime, limits: RiderLimits) -> list[Found]:
    """Off-road time of the day with most of it."""
    off_s, from_m, to_m = _worst_day(case, burden)
    level = _level(off_s, limits.off_road_s)
    if level == _WITHIN:
        return []
    return [(level, advice_item("beyond-off-road", from_m=from_m, to_m=to_m, off_s=off_s,
                        n_days=max(1, case.n_days or 1), source=PRACTICE))]  # fmt: skip


def _worst_day(case: AdviceCase, burden: OffRoadTime) -> tuple[float, float | None, float | None]:
    """Expected weighted off-road time of the day with most of it [s], and its span [m].

    By equal days, with no span, where the days are not known.
    """
    total = burden.expected_s()[0]
    from_m = np.array([case.stretches[i].from_m for i in burden.row], dtype=np.float64)
    to_m = np.array([case.stretches[i].to_m for i in burden.row], dtype=np.float64)
    own = (burden.ground_s * burden.p * burden.weight).sum(axis=1)
    if len(case.days) < 2 or not own.sum() > 0:
        return total / max(1, len(case.days) or case.n_days or 1), None, None
    pace = own / np.maximum(to_m - from_m, 1e-9)
    by_day = [
        float((pace * np.clip(np.minimum(to_m, b) - np.maximum(from_m, a), 0, None)).sum())
        for a, b in case.days
    ]
    worst = int(np.argmax(by_day))
    # Where the way itself is in doubt, the total knows more than the ridden stretches.
    return (by_day[worst] * total / float(own.sum()), *case.days[worst])


def _loose(case: AdviceCase, limits: RiderLimits) -> list[Found]:
    first, beyond = limits.loose_grade_pct
    steep = [part for part in loose_parts(case) if part[2] >= first]
    if not steep:
        return []
    from_m, to_m, grade = max(steep, key=lambda part: part[2])
    # A ramp of some car lengths is walked; it puts no ride beyond a rider.
    too_steep_m = sum(b - a for a, b, pct in steep if pct >= beyond)
    level = _BEYOND if too_steep_m >= _LONG_RAMPS_M else _STRETCHING
    steep_m = sum(b - a for a, b, _ in steep)
    said = advice_item(
        "loose-climb-one" if to_m - from_m >= _ONE_RAMP * steep_m else "loose-climb",
        from_m=from_m,
        to_m=to_m,
        grade_pct=grade,
        run_m=to_m - from_m,
        from_at_m=from_m,
        near=near(case, from_m),
        steep_m=steep_m,
        limit_pct=first,
        source=PRACTICE,
    )
    least_pct = beyond if level == _BEYOND else first
    return [(level, _at(said, ((a, b) for a, b, pct in steep if pct >= least_pct)))]


def loose_parts(case: AdviceCase) -> list[tuple[float, float, float]]:
    """Steep parts on loose ground: from, to [m] and steepness, up or down [%].

    From the ramps of the ride where they are known, else from the grades of its stretches.
    """
    dirt = [s for s in case.stretches if s.off_tarmac]
    if case.ramps is None:
        parts = [(s.from_m, s.to_m, abs(s.grade_pct)) for s in dirt if s.grade_pct is not None]
        return [part for part in parts if part[1] - part[0] >= LOOSE_M]
    return parts_on(case.ramps, [(s.from_m, s.to_m) for s in dirt], LOOSE_M)


def _sand(case: AdviceCase, limits: RiderLimits) -> list[Found]:
    sand = [s for s in case.stretches if s.surface in _SANDS and s.off_tarmac]
    time_s = sum(s.time_s for s in sand)
    level = _level(time_s, limits.sand_s)
    if level == _WITHIN:
        return []
    said = advice_item("sand", from_m=sand[0].from_m, to_m=sand[-1].to_m, sand_s=time_s,
               from_at_m=sand[0].from_m, near=near(case, sand[0].from_m),
               source=PRACTICE)  # fmt: skip
    return [(level, said.over((s.from_m, s.to_m) for s in sand))]


def ford_places(case: AdviceCase) -> list[float]:
    """Where the fords are [m along the ride]; a mapped spot on a ford stretch counts once."""
    stretches = [(s.from_m, s.to_m) for s in case.stretches if s.ford]
    spots = [spot.at_m for spot in case.nodes if spot.kind == "ford"]
    lone = [at for at in spots if not any(a - 50 <= at <= b + 50 for a, b in stretches)]
    return sorted([a for a, _ in stretches] + lone)


def _fords(case: AdviceCase, limits: RiderLimits) -> list[Found]:
    places = ford_places(case)
    if not places:
        return []
    code = "fords" if len(places) > 1 else "ford-one"
    said = advice_item(code, from_m=places[0], to_m=places[-1], n_fords=len(places),
               first_at_m=places[0], near=near(case, places[0]), source=PRACTICE)  # fmt: skip
    return [(_level(len(places), limits.fords), said.over((at, at) for at in places))]


def _long_day(case: AdviceCase, limits: RiderLimits) -> list[Found]:
    if case.day_s is None:
        return []
    level = _level(case.day_s, limits.day_s)
    if level == _WITHIN:
        return []
    # A long day tires, and is told so; it puts no ride beyond a rider, who can split it.
    return [(_STRETCHING, advice_item("long-day", from_m=case.day_from_m, to_m=case.day_to_m,
                              day_s=case.day_s, source=PRACTICE))]  # fmt: skip


def _altitude(case: AdviceCase) -> list[Found]:
    top = case.max_ele_m
    if top is None or top < ALTITUDE.risk_m:
        return []
    at = case.max_ele_at_m or 0.0
    said = advice_item(
        "altitude",
        from_m=at,
        to_m=at,
        max_ele_m=top,
        here_at_m=at,
        near=near(case, at),
        rise_ele_m=case.rise_m or 0.0,
        risk_ele_m=ALTITUDE.risk_m,
        day_ele_m=ALTITUDE.one_day_m,
        source=ALTITUDE.source,
    )
    return [(_STRETCHING if top >= ALTITUDE.one_day_m else _WITHIN, said)]


def is_hot(heat: RiderHeat) -> bool:
    """True if heat reaches a level at which riders are told to take care."""
    return (
        heat.max_heat_index_c >= HEAT.heat_index_c[0]
        or heat.max_wbgt_c >= HEAT.wbgt_c[1]
        or heat.max_air_temp_c >= HEAT.gear_air_c
    )


def _heat(case: AdviceCase) -> list[Found]:
    heat = case.heat.rider
    if heat is None or not is_hot(heat):
        return []
    # Standing still any tropical sun is too much; what counts is an hour in the wind of riding,
    # against what people bear who live with it. Gear is as hot for them as for anybody.
    stop = heat.max_wbgt_riding_c >= HEAT.wbgt_c[2]
    stress = stop or heat.over_riding_h >= OVER_LIMIT_H
    danger = not heat.used_to_heat and heat.max_heat_index_c >= HEAT.heat_index_c[1]
    severe = stress or danger or heat.max_air_temp_c >= HEAT.gear_air_c
    at = heat.max_air_temp_at_m
    code = "heat-rider-felt"
    if stress:
        code = "heat-rider-stop" if stop else "heat-rider-stress"
    elif heat.max_heat_index_c < heat.max_air_temp_c + _FELT_K:
        code = "heat-rider-sun"  # dry air: not the shade but the sun makes it hot
    said = advice_item(
        code,
        from_m=at,
        to_m=at,
        hot_at_m=at,
        near=near(case, at),
        max_air_c=heat.max_air_temp_c,
        max_heat_index_c=heat.max_heat_index_c,
        max_wbgt_c=heat.max_wbgt_c,
        riding_wbgt_c=heat.max_wbgt_riding_c,
        caution_s=3600.0 * heat.caution_h,
        over_s=3600.0 * heat.over_riding_h,
        whom=N_("people used to heat") if heat.used_to_heat else N_("people not used to heat"),
        source=HEAT.source,
    )
    return [(_STRETCHING if severe else _WITHIN, said)]


def _season(case: AdviceCase) -> list[Found]:
    shut = soft_length_m(case, SeasonRisk.CONFIRM_FIRST)
    doubtful = soft_length_m(case, SeasonRisk.DOUBTFUL)
    if shut + doubtful < SOFT_M:
        return []
    risks = (SeasonRisk.CONFIRM_FIRST, SeasonRisk.DOUBTFUL)
    rows = [s for s in case.stretches if s.season_risk in risks]
    first, last = rows[0], rows[-1]
    said = advice_item("soft-season", from_m=first.from_m, to_m=last.to_m, soft_m=shut + doubtful,
               first_at_m=first.from_m, near=near(case, first.from_m),
               source=PRACTICE)  # fmt: skip
    return [(_STRETCHING if shut > 0 else _WITHIN, said)]


def _pillion(case: AdviceCase, burden: OffRoadTime, limits: RiderLimits) -> list[Found]:
    """Two up halves the off-road riding that a rider is at ease with."""
    if not case.trip.pillion:
        return []
    found: list[Found] = []
    off_s = burden.expected_s()[0]
    if off_s >= _PILLION_S:
        day_s = _worst_day(case, burden)[0]
        level = _BEYOND if day_s >= limits.off_road_s[1] / 2 else _STRETCHING
        found.append((level, advice_item("pillion-off-road", off_s=off_s, source=PRACTICE)))
    if case.trip.is_new:
        # On tarmac too a passenger is no load to learn with.
        found.append((_STRETCHING, advice_item("pillion-new", source=PRACTICE)))
    return found
