"""The speed of a ride as weak evidence of the ground under it.

How the logarithm of speed, less what the road class and this ride's own pace explain, is spread on
paved, gravel and track is learned on parts whose ground the map knows. It is asked of doubtful
ways only if it helped: with each ride left out in turn, the parts of that ride that the map knows
must be told better with it than by their road class alone. What it may say is bounded, however
many rides agree, since a slow rider and a bad road look alike.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

import numpy as np

from terrain.stages.ridden.learning.ground import trust_of
from terrain.tables.speed import ROAD_CLASS_SPEEDS, UNKNOWN_CLASS
from terrain.values.arrays import BoolArray, FloatArray, IntArray
from terrain.values.ground import LAND_GROUNDS
from terrain.values.learned import PacedWay, PaceEvidence
from terrain.values.ridden import Ridden

_PAVED_KPH = {row.highway: row.paved_kph for row in ROAD_CLASS_SPEEDS}


@dataclass(frozen=True, slots=True, kw_only=True)
class PaceModel:
    """When and how far speed is believed; common practice, no source, tried on simulated rides.

    sure : from which chance on the map's ground is known; least_m : shorter parts tell nothing
    least_rides, least_parts : of rides, and of parts on each of two grounds, to learn from
    gain : share by which the log loss must fall with each ride left out
    most : bound on the ratio of the chances of two grounds that speed may change
    weakest : least spread of log speed that is believed
    """

    sure: float = 0.9
    least_m: float = 250.0
    least_rides: int = 8
    least_parts: int = 12
    gain: float = 0.03
    most: float = 3.0
    weakest: float = 0.2
    source: str = "common practice, no source"


MODEL = PaceModel()


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Parts:
    """Parts that tell of speed, shape (n,): their ride, way, class, log speed over that of the
    class, length, the map's chances (n, 3), and the ground where it is known, else -1.
    """

    ride: IntArray
    way: IntArray
    highway: IntArray
    x: FloatArray
    length_m: FloatArray
    p: FloatArray
    ground: IntArray


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Fit:
    """Mean and spread of x by ground, (3,), NaN of a ground too little ridden; chances of the
    grounds by road class (c, 3)."""

    mean: FloatArray
    sd: FloatArray
    base: FloatArray


def learn_from_pace(rides: Sequence[Ridden], model: PaceModel = MODEL) -> PaceEvidence:
    """Whether speed tells of ground here, and what it says of the ways the map does not know."""
    parts = _parts_of(rides, model)
    known = parts.ground >= 0
    plain, with_pace = _left_out(parts, len(rides), model)
    grounds = np.bincount(parts.ground[known])
    enough = len(rides) >= model.least_rides and (grounds >= model.least_parts).sum() >= 2
    used = bool(enough and with_pace <= (1.0 - model.gain) * plain)
    return PaceEvidence(
        used=used, n_rides=len(rides), n_parts=int(known.sum()),
        log_loss_class=None if not known.any() else plain,
        log_loss_pace=None if not known.any() else with_pace,
        ways=_ways(parts, [ride.day for ride in rides], model) if used else (),
    )  # fmt: skip


def _parts_of(rides: Sequence[Ridden], model: PaceModel) -> _Parts:
    rows: list[tuple[int, int, str, float, float, tuple[float, float, float]]] = []
    for i, ride in enumerate(rides):
        for part in ride.parts:
            kph = part.speed_kph
            if part.p is None or kph is None or not part.shown or part.way_id is None:
                continue
            if part.length_m < model.least_m:
                continue
            usual = _PAVED_KPH.get(part.highway or "", UNKNOWN_CLASS.paved_kph)
            x = float(np.log(kph / usual))
            rows.append((i, part.way_id, part.highway or "", x, part.length_m, part.p))
    names = sorted({row[2] for row in rows})
    p = np.array([row[5] for row in rows]).reshape(len(rows), 3)
    sure = p.max(axis=1) >= model.sure
    return _Parts(
        ride=np.array([row[0] for row in rows], dtype=np.int64),
        way=np.array([row[1] for row in rows], dtype=np.int64),
        highway=np.array([names.index(row[2]) for row in rows], dtype=np.int64),
        x=np.array([row[3] for row in rows]), length_m=np.array([row[4] for row in rows]), p=p,
        ground=np.where(sure, p.argmax(axis=1) if len(p) else 0, -1).astype(np.int64),
    )  # fmt: skip


def _fit(parts: _Parts, use: BoolArray, model: PaceModel) -> _Fit:
    known = np.asarray(use & (parts.ground >= 0), dtype=np.bool_)
    mean, sd = np.full(3, np.nan), np.full(3, np.nan)
    for g in range(3):
        x = parts.x[known & (parts.ground == g)]
        if len(x) >= model.least_parts:
            mean[g] = float(np.median(x))
            sd[g] = max(1.4826 * float(np.median(np.abs(x - mean[g]))), model.weakest)
    n = int(parts.highway.max(initial=-1)) + 1
    base = np.ones((n, 3))
    np.add.at(base, (parts.highway[known], parts.ground[known]), 1.0)
    return _Fit(mean=mean, sd=sd, base=base / base.sum(axis=1, keepdims=True))


def _own_pace(parts: _Parts, fit: _Fit) -> FloatArray:
    """How much faster than the others each part's ride was where the ground is known (n,)."""
    told = (parts.ground >= 0) & ~np.isnan(fit.mean[np.maximum(parts.ground, 0)])
    off = np.where(told, parts.x - fit.mean[np.maximum(parts.ground, 0)], 0.0)
    total = np.bincount(parts.ride, weights=off)
    count = np.bincount(parts.ride, weights=told)
    return np.asarray((total / (count + 4.0))[parts.ride], dtype=np.float64)


def _log_ratios(parts: _Parts, fit: _Fit, model: PaceModel) -> FloatArray:
    """Logarithm of how much likelier each ground makes the speed, bounded; 0 where not known."""
    x = (parts.x - _own_pace(parts, fit))[:, None]
    log = -0.5 * ((x - fit.mean) / fit.sd) ** 2 - np.log(fit.sd)
    known = ~np.isnan(fit.mean)
    # A ground of unknown speed is as likely as the mean of the others.
    middle = log[:, known].mean(axis=1, keepdims=True) if known.any() else 0.0
    log = np.where(known, log - middle, 0.0)
    bound = 0.5 * float(np.log(model.most))
    return np.asarray(np.clip(log, -bound, bound), dtype=np.float64)


def _left_out(parts: _Parts, n_rides: int, model: PaceModel) -> tuple[float, float]:
    """Log loss of the known parts by their class alone, and with their speed: each ride judged by
    what the others taught.
    """
    plain, paced = np.zeros(len(parts.x)), np.zeros(len(parts.x))
    for ride in range(n_rides):
        mine = parts.ride == ride
        if not mine.any():
            continue
        fit = _fit(parts, ~mine, model)
        prior = fit.base[parts.highway]
        post = prior * np.exp(_log_ratios(parts, fit, model))
        post /= post.sum(axis=1, keepdims=True)
        row, g = np.arange(len(parts.x)), np.maximum(parts.ground, 0)
        plain[mine] = -np.log(prior[row, g])[mine]
        paced[mine] = -np.log(post[row, g])[mine]
    weight = np.where(parts.ground >= 0, parts.length_m, 0.0)
    if not weight.sum() > 0.0:
        return 0.0, 0.0
    return float(np.average(plain, weights=weight)), float(np.average(paced, weights=weight))


def _ways(parts: _Parts, days: Sequence[date], model: PaceModel) -> tuple[PacedWay, ...]:
    """The ways that the map does not know, with their chances after their speed."""
    log = _log_ratios(parts, _fit(parts, np.ones(len(parts.x), dtype=np.bool_), model), model)
    found = []
    for way in np.unique(parts.way[parts.ground < 0]).tolist():
        rows = np.flatnonzero((parts.way == way) & (parts.ground < 0))
        weight = parts.length_m[rows]
        # The mean, never the sum: rides of one fleet err alike.
        post = parts.p[rows[0]] * np.exp(np.average(log[rows], axis=0, weights=weight))
        post /= post.sum()
        n = len(np.unique(parts.ride[rows]))
        a, b, c = (float(v) for v in post)
        best = int(np.argmax(post))
        found.append(
            PacedWay(
                way_id=int(way), ground=LAND_GROUNDS[best], p=(a, b, c), n_rides=n,
                trust=trust_of(float(parts.p[rows[0], best]), float(post[best])),
                last_day=max(days[ride] for ride in np.unique(parts.ride[rows]).tolist()),
            )
        )  # fmt: skip
    return tuple(found)
