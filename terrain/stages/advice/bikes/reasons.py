"""Words for and against each class, each tied to a stretch or a number."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from terrain.calc.atmosphere import standard_density_kg_m3, unblown_power_share
from terrain.stages.advice.bikes.measures import (
    canister_l,
    fast_m,
    incident_rate,
    motorway_m,
    range_m,
)
from terrain.stages.advice.bikes.rank import Ease, ease_of, hardness, takes
from terrain.stages.advice.burden import OffRoadTime
from terrain.stages.advice.case import AdviceCase
from terrain.stages.advice.runs import StretchRun, runs_where
from terrain.stages.advice.words import advice_item
from terrain.stages.heat.words import cause_terms
from terrain.tables.advice import PRACTICE, BikeModel
from terrain.tables.fuel import FUEL_MODEL
from terrain.text.terms import PARTS_TERMS, REPAIR_TERMS
from terrain.values.advice import AdviceItem, BikeFit, Tyres
from terrain.values.fleet import BikeClass
from terrain.values.trip import Luggage, Rider

# Common practice, no source.
_MUCH_S = 900.0
_AT_EASE = 0.85  # mean ease off tarmac from which a bike is at home there
_MUCH_SHARE = 0.2  # less tarmac than this decides nothing


def with_reasons(
    case: AdviceCase,
    burden: OffRoadTime,
    fits: tuple[BikeFit, ...],
    tyres: Tyres | None,
    model: BikeModel,
) -> tuple[BikeFit, ...]:
    """The fits with their words."""
    out = []
    for fit in fits:
        bike = case.fleet.named(fit.name)
        assert bike is not None
        good, bad = _words(case, burden, bike, tyres, model)
        out.append(replace(fit, reasons=tuple(good), against=tuple(bad)))
    return tuple(out)


def _words(
    case: AdviceCase,
    burden: OffRoadTime,
    bike: BikeClass,
    tyres: Tyres | None,
    model: BikeModel,
) -> tuple[list[AdviceItem], list[AdviceItem]]:
    good: list[AdviceItem] = []
    bad: list[AdviceItem] = []
    _ground_words(case, burden, bike, model, good, bad)
    _repair_words(case, bike, good, bad)
    _rate_words(case, bike, good, bad)
    _road_words(case, bike, good, bad)
    _range_words(case, bike, good, bad)
    _rider_words(case, bike, good, bad)
    _rest_words(case, burden, bike, tyres, bad)
    return good, bad


def _ground_words(
    case: AdviceCase,
    burden: OffRoadTime,
    bike: BikeClass,
    model: BikeModel,
    good: list[AdviceItem],
    bad: list[AdviceItem],
) -> None:
    if not burden.ride_s > 0:
        return
    ease = ease_of(case, burden, bike, model)
    paved_s = float((burden.time_s * burden.p[:, 0]).sum())
    dirt_s = burden.ride_s - paved_s
    tarmac = float(np.average(ease.paved, weights=burden.time_s))
    much = paved_s >= max(_MUCH_S, _MUCH_SHARE * burden.ride_s)
    if much and tarmac >= 0.75:
        good.append(advice_item("suits-tarmac", paved_s=paved_s, tarmac_ease=tarmac))
    elif much and tarmac < 0.68:
        bad.append(advice_item("dull-tarmac", paved_s=paved_s, tarmac_ease=tarmac))
    if dirt_s < _MUCH_S / 3:
        return
    dirt = _dirt_mean(burden, ease)
    short = _out_of_depth(case, burden, ease, model)
    hard_s = float(sum(case.stretches[i].time_s for i in short.rows)) if short else 0.0
    if short is not None and hard_s >= _MUCH_S / 3:
        bad.append(advice_item("short-dirt", from_m=short.from_m, to_m=short.to_m, hard_s=hard_s,
                       from_at_m=short.from_m, to_at_m=short.to_m, dirt_ease=dirt))  # fmt: skip
    elif dirt >= _AT_EASE and dirt_s >= _MUCH_S:
        good.append(advice_item("suits-dirt", dirt_s=dirt_s, dirt_ease=dirt))
    elif dirt >= 0.55:
        good.append(advice_item("copes-dirt", dirt_s=dirt_s, dirt_ease=dirt))
    if bike.mass_kg >= 180 and dirt_s >= _MUCH_S:
        bad.append(advice_item("heavy-dirt", mass_kg=bike.mass_kg, dirt_s=dirt_s))
    hard_s = float((burden.time_s[:, None] * burden.hard * burden.p).sum())
    if hard_s < _MUCH_S / 3:
        return
    worst = _hardest(case, burden)
    if short is None and dirt < _AT_EASE:
        bad.append(advice_item("hard-work", from_m=worst.from_m, to_m=worst.to_m, hard_s=hard_s,
                       from_at_m=worst.from_m))  # fmt: skip
    if bike.clearance_mm < model.clearance_mm:
        bad.append(advice_item("low-clearance", from_m=worst.from_m, to_m=worst.to_m,
                       clearance_mm=bike.clearance_mm, hard_s=hard_s,
                       from_at_m=worst.from_m))  # fmt: skip


def _hardest(case: AdviceCase, burden: OffRoadTime) -> StretchRun:
    """The longest run of ground that road tyres cannot do."""
    chosen = np.zeros(len(case.stretches), dtype=np.bool_)
    chosen[burden.row[burden.hard[:, 2]]] = True
    return max(runs_where(case, chosen), key=lambda run: run.time_s(case))


def _dirt_mean(burden: OffRoadTime, ease: Ease) -> float:
    weight = burden.time_s[:, None] * burden.p[:, 1:]
    total = float(weight.sum())
    return float((weight * np.column_stack([ease.gravel, ease.track])).sum()) / max(total, 1e-9)


def _out_of_depth(
    case: AdviceCase, burden: OffRoadTime, ease: Ease, model: BikeModel
) -> StretchRun | None:
    """The longest run where the bike is likely out of its depth."""
    likely = burden.likely()
    by_ground = np.column_stack([ease.paved, ease.gravel, ease.track])
    chosen = np.zeros(len(case.stretches), dtype=np.bool_)
    out = (likely > 0) & (by_ground[np.arange(len(likely)), likely] < model.depth_ease)
    chosen[burden.row[out]] = True
    runs = runs_where(case, chosen)
    return max(runs, key=lambda run: run.time_s(case)) if runs else None


def _repair_words(
    case: AdviceCase, bike: BikeClass, good: list[AdviceItem], bad: list[AdviceItem]
) -> None:
    reach = case.reach_of(bike.name)
    if reach is None:
        return
    if not reach.known:
        bad.append(advice_item("no-help-known", parts=PARTS_TERMS[bike.parts]))
        return
    if reach.farthest_s is None or reach.farthest_s < 3600:
        return
    if not bike.kick_start:
        bad.append(advice_item("no-kick-start", far_s=reach.farthest_s, source=PRACTICE))
    easy = bike.parts.value == "common" and bike.repair.value == "easy"
    at = reach.farthest_at_m if reach.farthest_at_m is not None else 0.0
    said = advice_item(
        "easy-repair" if easy else "hard-repair",
        from_m=at,
        to_m=at,
        source=PRACTICE,
        parts=PARTS_TERMS[bike.parts],
        repair=REPAIR_TERMS[bike.repair],
        far_s=reach.farthest_s,
        far_m=reach.farthest_m,
        here_at_m=at,
    )
    (good if easy else bad).append(said)


def _rate_words(
    case: AdviceCase, bike: BikeClass, good: list[AdviceItem], bad: list[AdviceItem]
) -> None:
    found = incident_rate(case, bike)
    if 0.04 < found.rate < 0.08:
        return
    reliable = found.rate <= 0.04
    code, rated = ("reliable", "reliable-rate") if reliable else ("unreliable", "unreliable-rate")
    # A rate is for those who keep the log; the others read what follows from it.
    (good if reliable else bad).extend(
        (
            advice_item(code, source=bike.incident_basis).only_for("rider", "guide"),
            advice_item(
                rated, source=bike.incident_basis, rate_share=found.rate,
                low_share=found.low, high_share=found.high, basis=found.basis,
            ).only_for("staff"),
        )
    )  # fmt: skip


def _road_words(
    case: AdviceCase, bike: BikeClass, good: list[AdviceItem], bad: list[AdviceItem]
) -> None:
    length = max(motorway_m(case), fast_m(case, 90.0))
    if length < 10_000:
        return
    if bike.motorway >= 0.8:
        good.append(advice_item("motorway-good", motorway_m=length, motorway_ability=bike.motorway))
    elif bike.motorway <= 0.5:
        bad.append(advice_item("motorway", motorway_m=length, motorway_ability=bike.motorway))


def _range_words(
    case: AdviceCase, bike: BikeClass, good: list[AdviceItem], bad: list[AdviceItem]
) -> None:
    gap, reach = case.fuel_gap_m, range_m(case, bike)
    if gap is None or reach is None:
        return
    start = case.fuel_gap_from_m or 0.0
    carry = canister_l(case, bike)
    if carry > 0:
        bad.append(
            advice_item(
                "range-carry",
                from_m=start,
                to_m=start + gap,
                range_m=reach,
                gap_m=gap,
                from_at_m=start,
                carry_l=carry,
                source=FUEL_MODEL.source,
            )
        )
    elif gap > 0.6 * reach:
        bad.append(
            advice_item(
                "range-tight",
                from_m=start,
                to_m=start + gap,
                range_m=reach,
                gap_m=gap,
                from_at_m=start,
                source=FUEL_MODEL.source,
            )
        )
    elif gap > 80_000:
        good.append(
            advice_item("range-good", from_m=start, to_m=start + gap, range_m=reach, gap_m=gap)
        )


def _rider_words(
    case: AdviceCase, bike: BikeClass, good: list[AdviceItem], bad: list[AdviceItem]
) -> None:
    rider = case.trip.skill
    if rider is Rider.NOVICE and hardness(bike) <= 0.2:
        good.append(advice_item("asks-little", hardness=hardness(bike)))
    elif rider is Rider.STEADY and hardness(bike) >= 0.8:
        bad.append(advice_item("asks-much", rider=rider.value, hardness=hardness(bike)))


def _rest_words(
    case: AdviceCase,
    burden: OffRoadTime,
    bike: BikeClass,
    tyres: Tyres | None,
    bad: list[AdviceItem],
) -> None:
    trip = case.trip
    if trip.luggage is not Luggage.NONE and trip.luggage not in bike.luggage:
        bad.append(advice_item("luggage-not", luggage=trip.luggage.value))
    dirt_s = float((burden.time_s * (1 - burden.p[:, 0])).sum())
    if trip.pillion and dirt_s >= _MUCH_S:
        bad.append(advice_item("two-up-slow", dirt_s=dirt_s, source=PRACTICE))
    engine = case.heat.engine_of(bike.name)
    if engine is not None and engine.is_high:
        code, (from_m, to_m) = "fan-works" if bike.fan else "no-fan", engine.hottest_part
        bad.append(advice_item(code, from_m=from_m, to_m=to_m, why=cause_terms(engine.causes),
                       from_at_m=from_m or 0.0))  # fmt: skip
    top = case.max_ele_m
    if top is not None and top >= 2500 and bike.power_kw < 18:
        share = float(unblown_power_share(standard_density_kg_m3(np.array(top))))
        bad.append(advice_item("thin-air", from_m=case.max_ele_at_m, to_m=case.max_ele_at_m,
                       max_ele_m=top, here_at_m=case.max_ele_at_m, power_share=share,
                       source="air density of ISO 2533:1975"))  # fmt: skip
    if tyres is not None and not takes(bike, tyres):
        bad.append(advice_item("no-tyres", tyres=tyres.value))
