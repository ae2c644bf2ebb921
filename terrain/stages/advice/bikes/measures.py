"""Plain measures of a bike on this ride: range, load, mending, incidents."""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np

from terrain.stages.advice.case import AdviceCase
from terrain.stages.days.fuel import carry_l, fuel_factors
from terrain.tables.advice import BikeModel
from terrain.values.fleet import BikeClass, Parts, Repair
from terrain.values.ground import GroundKind
from terrain.values.trip import Trip

# Common practice, no source.
_PARTS = {Parts.COMMON: 1.0, Parts.FAIR: 0.6, Parts.RARE: 0.2}
_UNNAMED = 0.5
_NO_KICK_START = 0.8
_REPAIR = {Repair.EASY: 1.0, Repair.FAIR: 0.6, Repair.HARD: 0.2}


def repair_ease(bike: BikeClass) -> float:
    """How easily it is got going by the road, 0..1: parts and difficulty alike.

    Without a kick start any electrical fault strands it (common practice, no source).
    """
    starts = 1.0 if bike.kick_start else _NO_KICK_START
    return 0.5 * (_PARTS[bike.parts] + _REPAIR[bike.repair]) * starts


def reach_share(case: AdviceCase, bike: BikeClass, model: BikeModel) -> float:
    """How far from help for this class the ride goes, 0 near to 1 as far as counts."""
    reach = case.reach_of(bike.name)
    if reach is None:
        far_s, far_m = case.mechanic_s, case.mechanic_m
    elif not reach.known:
        # Nobody who mends it is named: somebody can be found, but farther off than for others.
        any_share = _share_of(case.mechanic_s, case.mechanic_m, model)
        return min(1.0, max(_UNNAMED, 2 * any_share))
    else:
        far_s, far_m = reach.farthest_s, reach.farthest_m
    return _share_of(far_s, far_m, model)


def _share_of(far_s: float | None, far_m: float | None, model: BikeModel) -> float:
    if far_s is None and far_m is None:
        return 1.0
    return min(1.0, max((far_s or 0.0) / model.far_s, (far_m or 0.0) / model.far_m))


def consumption_factor(case: AdviceCase) -> float:
    """Consumption on the longest way between pumps over that on tarmac, by its ground."""
    start = case.fuel_gap_from_m or 0.0
    end = start + (case.fuel_gap_m or case.length_m)
    nan = (math.nan, math.nan, math.nan)
    mapped = [None if s.ground is GroundKind.UNMAPPED else s.p for s in case.stretches]
    factor = fuel_factors(
        np.array([p or nan for p in mapped]),
        np.array([-1.0 if s.severity is None else s.severity for s in case.stretches]),
        np.array([s.ground is GroundKind.FERRY for s in case.stretches], dtype=np.bool_),
    )
    low = np.maximum([s.from_m for s in case.stretches], start)
    length = np.maximum(np.minimum([s.to_m for s in case.stretches], end) - low, 0.0)
    # A ferry burns nothing, and is no way either.
    length = np.where(factor > 0, length, 0.0)
    total = float(length.sum())
    return float((length * factor).sum()) / total if total > 0 else 1.0


def tarmac_m(case: AdviceCase) -> float | None:
    """The metres of tarmac that burn as much as the longest way between pumps; None if unknown."""
    if case.fuel_gap_m is None:
        return None
    if case.fuel_gap_tarmac_m is not None:
        return case.fuel_gap_tarmac_m
    return case.fuel_gap_m * consumption_factor(case)


def usable_l(case: AdviceCase, bike: BikeClass) -> float:
    """What the tank gives with the reserve kept [L]."""
    return bike.tank_l * (1 - case.fleet.rules.range_reserve)


def range_m(case: AdviceCase, bike: BikeClass) -> float | None:
    """How far a tank goes on the ground of the longest way between pumps, with the reserve kept.

    In metres; None if that way is not known.
    """
    need_m = tarmac_m(case)
    if need_m is None or case.fuel_gap_m is None:
        return None
    factor = need_m / case.fuel_gap_m if case.fuel_gap_m > 0 and need_m > 0 else 1.0
    return 100_000.0 * usable_l(case, bike) / (bike.consumption_l_100km * factor)


def canister_l(case: AdviceCase, bike: BikeClass) -> float:
    """Whole litres to carry over the longest way between pumps; 0 if none, or it is not known."""
    need_m = tarmac_m(case)
    if need_m is None:
        return 0.0
    return carry_l(need_m, bike.consumption_l_100km / 100.0, usable_l(case, bike))


def carried_kg(trip: Trip, model: BikeModel) -> float:
    """Weight of people and luggage [kg]."""
    people = model.person_kg + (model.pillion_kg if trip.pillion else 0.0)
    return people + dict(model.luggage_kg)[trip.luggage.value]


def motorway_m(case: AdviceCase) -> float:
    return sum(s.length_m for s in case.stretches if (s.highway or "").startswith("motorway"))


def fast_m(case: AdviceCase, kph: float) -> float:
    """Length ridden at or above a speed [m]."""
    return sum(s.length_m for s in case.stretches if (s.speed_kph or 0.0) >= kph)


class Incidents(NamedTuple):
    """Incidents per rental, and what they rest on."""

    rate: float
    low: float | None
    high: float | None
    basis: str


def incident_rate(case: AdviceCase, bike: BikeClass) -> Incidents:
    """The class's rate on the ground that most of the riding is on, where it was learnt."""
    ground = _main_ground(case) if bike.incidents else None
    for row in bike.incidents:
        if row.ground == ground:
            basis = f"{row.incidents} in {row.rentals} of your rentals on {ground}"
            return Incidents(row.rate, row.low, row.high, basis)
    return Incidents(bike.incident_rate, bike.incident_low, bike.incident_high, bike.incident_basis)


def _main_ground(case: AdviceCase) -> str:
    time = {"paved": 0.0, "gravel": 0.0, "track": 0.0}
    for s in case.stretches:
        for ground, p in zip(time, s.p or (0.0, 0.5, 0.5), strict=True):
            time[ground] += p * s.time_s
    total = sum(time.values())
    top = max(time, key=lambda g: time[g])
    return top if total > 0 and time[top] >= 0.6 * total else "mixed"
