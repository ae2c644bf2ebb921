"""Which class fits, with the table behind it; and which must not go."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from terrain.stages.advice.bikes.limits import exclusions
from terrain.stages.advice.bikes.measures import (
    carried_kg,
    incident_rate,
    range_m,
    reach_share,
    repair_ease,
)
from terrain.stages.advice.burden import OffRoadTime, along
from terrain.stages.advice.case import AdviceCase
from terrain.tables.advice import GUIDE, WEIGHTS, BikeModel
from terrain.values.advice import BikeFit, Contribution, Excluded, SetupChoice, Tyres
from terrain.values.arrays import FloatArray
from terrain.values.fleet import BikeClass
from terrain.values.trip import Luggage, Rider

# Common practice, no source.
_RIDER_LOSS = {Rider.NOVICE: 0.6, Rider.STEADY: 0.25, Rider.EXPERT: 0.0}
_RANK = {Rider.NOVICE: 0.0, Rider.STEADY: 0.5, Rider.EXPERT: 1.0}


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Ease:
    """How one bike takes each stretch on land, 0 bad to 1 at ease, shape (k,).

    paved, gravel, track : on each ground; mean : by the probabilities
    """

    paved: FloatArray
    gravel: FloatArray
    track: FloatArray
    mean: FloatArray


def weights_of(case: AdviceCase) -> dict[str, float]:
    """The weights of the fit table: the operator's where given."""
    return {name: row.weight for name, row in WEIGHTS.items()} | dict(case.fleet.weights)


def rank_bikes(
    case: AdviceCase,
    burden: OffRoadTime,
    model: BikeModel,
    choice: SetupChoice,
    *,
    tyres: Tyres | None = None,
) -> tuple[tuple[BikeFit, ...], tuple[Excluded, ...]]:
    """The classes that may go, best fit first; and those that must not, with the reasons.

    choice : the setup; where it is open a bike is judged by the worse of both outcomes too
    tyres : as advised; a class that takes them goes before all that do not

    The fits carry no words yet; `reasons.py` adds them.
    """
    weights = weights_of(case)
    fits: list[BikeFit] = []
    refused: list[Excluded] = []
    for bike in case.fleet.classes:
        why = exclusions(case, bike, model)
        if why:
            refused.append(Excluded(name=bike.name, title=bike.title, reasons=why))
            continue
        is_open, on_road = choice is SetupChoice.ASK, choice is SetupChoice.ROAD
        own = scores(case, burden, bike, model, is_open=is_open, on_road=on_road)
        if own["ground"] is not None and not takes(bike, tyres):
            own["ground"] *= model.wrong_tyres
        table = _table(own, weights)
        fits.append(
            BikeFit(
                name=bike.name,
                title=bike.title,
                fit=min(1.0, sum(row.points or 0.0 for row in table)),
                table=table,
                reasons=(),
                against=(),
            )
        )
    # The easier bike first where two fit alike, so that the order never hangs on the file's.
    order = {b.name: (hardness(b), b.name) for b in case.fleet.classes}
    wrong = {b.name: not takes(b, tyres) for b in case.fleet.classes}
    fits.sort(key=lambda f: (wrong[f.name], -round(f.fit, 9), order[f.name]))
    return tuple(fits), tuple(refused)


def takes(bike: BikeClass, tyres: Tyres | None) -> bool:
    """Whether it can be fitted with the tyres advised; any tyre does on a road."""
    return tyres in (None, Tyres.ROAD) or str(tyres) in bike.tyres


def _table(
    scores: Mapping[str, float | None], weights: Mapping[str, float]
) -> tuple[Contribution, ...]:
    """The weighted mean of what is known; the rest neither helps nor harms."""
    total = sum(weights[name] for name in WEIGHTS if scores[name] is not None)
    rows = []
    for name in WEIGHTS:
        score, weight = scores[name], weights[name]
        points = None if score is None else weight * score / total if total > 0 else 0.0
        rows.append(Contribution(what=name, weight=weight, score=score, points=points))
    return tuple(rows)


def scores(
    case: AdviceCase,
    burden: OffRoadTime,
    bike: BikeClass,
    model: BikeModel,
    *,
    is_open: bool,
    on_road: bool = False,
) -> dict[str, float | None]:
    """Each line of the table, 0..1; None where not known. Only "rider" depends on the rider."""
    return {
        "ground": ground_score(case, burden, bike, model, is_open=is_open),
        "rider": 1.0 - _RIDER_LOSS[case.trip.skill] * hardness(bike),
        "load": _load_score(case, bike, model, on_road=on_road),
        "repair": 1.0 - _alone(case) * reach_share(case, bike, model) * (1.0 - repair_ease(bike)),
        "reliability": max(0.0, 1.0 - incident_rate(case, bike).rate / model.rate_full),
        "heat": _heat_score(case, bike),
        "range": _range_score(case, bike),
    }


def _alone(case: AdviceCase) -> float:
    """How much of a breakdown far from help falls on the rider: a guide brings tools and parts."""
    return GUIDE.repair_left if case.trip.guided else 1.0


def hardness(bike: BikeClass) -> float:
    """How much a bike asks of its rider, 0..1: by the rider it is meant for, then by kind."""
    return 0.6 * _RANK[bike.minimum_rider] + 0.4 * bike.off_road


# -- ground --------------------------------------------------------------------------------------


def ease_of(case: AdviceCase, burden: OffRoadTime, bike: BikeClass, model: BikeModel) -> Ease:
    stretches = [case.stretches[i] for i in burden.row]
    kph = np.array([s.speed_kph or 0.0 for s in stretches], dtype=np.float64)
    fast = np.clip((kph - model.slow_kph) / (model.fast_kph - model.slow_kph), 0, 1)
    weak = model.power_loss * max(0.0, 1 - bike.power_kw / model.enough_kw)
    slow = 1 - model.dirt_manner * bike.off_road - weak
    paved = (1 - fast) * slow + fast * bike.motorway
    on_gravel = _dirt_ease(burden.severity[:, 0], bike, model)
    on_track = np.minimum(on_gravel, _dirt_ease(burden.severity[:, 1], bike, model))
    mean = (burden.p * np.column_stack([paved, on_gravel, on_track])).sum(axis=1)
    return Ease(paved=paved, gravel=on_gravel, track=on_track, mean=mean)


def _dirt_ease(severity: FloatArray, bike: BikeClass, model: BikeModel) -> FloatArray:
    needed = along(severity, model.ability_needed)
    short = np.maximum(0, needed - bike.off_road)
    heavy = model.mass_loss * max(0.0, bike.mass_kg - model.mass_free_kg) / 100
    return np.asarray(np.exp(-model.short_loss * short) * np.maximum(1 - heavy * severity / 3, 0))


def ground_score(
    case: AdviceCase, burden: OffRoadTime, bike: BikeClass, model: BikeModel, *, is_open: bool
) -> float | None:
    """Mean ease by riding time; where the setup is open, half of it in the worse of the two
    extreme worlds.

    The extremes are all doubtful ground turning out the better, and the worse: a bike for
    ground nobody knows must do either way, one for ground that is settled need not. Time out of
    its depth counts against all of it.
    """
    if not burden.ride_s > 0:
        return None
    ease = ease_of(case, burden, bike, model)
    by_ground = np.column_stack([ease.paved, ease.gravel, ease.track])
    out = (burden.p * _out_of_depth(by_ground, model)).sum(axis=1)
    expected = _less_depth(ease.mean, float((out * burden.time_s).sum()), burden.time_s, model)
    if not is_open:
        return expected
    i = np.arange(len(burden.row))
    worlds = [
        _of_world(by_ground[i, ground], burden.time_s, model)
        for ground in (burden.better(), burden.worse())
    ]
    return 0.5 * expected + 0.5 * min(worlds)


def _out_of_depth(ease: FloatArray, model: BikeModel) -> FloatArray:
    """0 at ease to 1 wholly out of its depth, shape as ease."""
    return np.asarray(np.clip((model.depth_ease - ease) / model.depth_ease, 0, 1))


def _of_world(ease: FloatArray, time_s: FloatArray, model: BikeModel) -> float:
    out_s = float((time_s * _out_of_depth(ease, model)).sum())
    return _less_depth(ease, out_s, time_s, model)


def _less_depth(ease: FloatArray, out_s: float, time_s: FloatArray, model: BikeModel) -> float:
    mean = float((ease * time_s).sum() / time_s.sum())
    return mean * (1 - model.depth_loss * min(1.0, out_s / model.depth_full_s))


# -- load, heat, range ---------------------------------------------------------------------------


def _load_score(case: AdviceCase, bike: BikeClass, model: BikeModel, *, on_road: bool) -> float:
    """Off tarmac soft bags in place of boxes do no harm; on a road trip who asks for boxes wants
    them, and a bike that takes none carries nothing."""
    trip = case.trip
    takes_it = trip.luggage in bike.luggage or trip.luggage is Luggage.NONE
    score = 1.0 if takes_it else 0.0 if on_road else 0.5
    used = carried_kg(trip, model) / bike.payload_kg
    score -= 0.5 * float(np.clip((used - 0.8) / 0.4, 0, 1))
    return max(0.0, score)


def _heat_score(case: AdviceCase, bike: BikeClass) -> float | None:
    engine = case.heat.engine_of(bike.name)
    if engine is None:
        return None
    share = min(1.0, engine.fan_s / 3600.0)
    return 1.0 - share * (0.3 if bike.fan else 0.6)


def _range_score(case: AdviceCase, bike: BikeClass) -> float | None:
    gap_m = case.fuel_gap_m
    if gap_m is None:
        return None
    if gap_m <= 0:
        return 1.0
    reach = range_m(case, bike)
    if reach is None:
        return None
    share = gap_m / reach
    return float(np.clip((1.0 - share) / 0.4, 0, 1))
