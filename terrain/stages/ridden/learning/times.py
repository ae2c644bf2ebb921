"""Riding times learned from recorded rides, few of them drawn towards the tables.

The logarithm of a ride's time over the tables' on one ground is taken as the sum of what all
rides share on that ground, what riders of that kind and bikes of that class add, what this ride
has on all grounds and on this one, and noise that averages out over hours. Each is normal about
zero, so that little evidence leaves the tables as they are: Lindley and Smith 1972, Bayes
estimates for the linear model, J. R. Stat. Soc. B 34, 1-41; the spreads between and within rides
are those that make the rides likeliest, with a prior: Gelman et al., Bayesian Data Analysis, 3rd
ed. 2013, chapters 5 and 15 (both from memory).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.optimize import minimize

from terrain.values.arrays import FloatArray, IntArray
from terrain.values.learned import LearnedTimes, PaceRow, RideLesson
from terrain.values.ridden import Ridden
from terrain.values.trip import OwnPace, Rider, Three

_Z90 = 1.6449  # 90 % of the normal distribution, by definition
_RIDERS = tuple(Rider)


@dataclass(frozen=True, slots=True, kw_only=True)
class TimeModel:
    """Beliefs before any ride; common practice, no source, but for what tests measure.

    sure : least chance of its likeliest ground for a part to teach; least_s : least expected time
        on a ground for it to count
    farthest : a ride whose whole time is more times the tables', or less, is doubtful
    ground_sd, rider_sd, class_sd : of the logarithm of the factors
    spreads : likeliest spread between rides, of a ride between grounds, and in ten minutes;
        spread_sd : of the logarithm of each; least_spread : that is taken
    """

    sure: float = 0.8
    least_s: float = 60.0
    farthest: float = 2.5
    ground_sd: float = 0.20
    rider_sd: float = 0.08
    class_sd: float = 0.08
    spreads: Three = (0.12, 0.06, 0.15)
    spread_sd: float = 0.5
    least_spread: float = 0.01
    block_s: float = 600.0  # ten minutes, as OwnPace counts
    source: str = "common practice, no source"


MODEL = TimeModel()


def lesson_of(ride: Ridden, model: TimeModel = MODEL) -> RideLesson:
    """What one ride teaches of times: of the parts whose ground and time are known well."""
    sums = np.zeros((3, 3))
    for part in ride.parts:
        if part.p is None or part.moving_s is None or not part.shown:
            continue
        g = int(np.argmax(part.p))
        if part.p[g] < model.sure:
            continue
        sums[g] += (part.length_m, part.moving_s, part.expected_s)
    length, moving, expected = ((float(a), float(b), float(c)) for a, b, c in sums.T)
    return RideLesson(
        name=ride.name, day=ride.day, rider=ride.rider, bike_class=ride.bike_class,
        length_m=length, moving_s=moving, expected_s=expected,
    )  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Rows:
    """One row per ride and ground, shape (n,): log ratio, expected time, and its effects' columns.

    ride : its ride's number; x : (n, m) which effects count
    """

    y: FloatArray
    expected_s: FloatArray
    ride: IntArray
    x: FloatArray


def learn_times(lessons: Sequence[RideLesson], model: TimeModel = MODEL) -> LearnedTimes | None:
    """Factors by ground, rider and bike class with intervals; None if no ride teaches anything."""
    used, left_out = _usable(lessons, model)
    if not used:
        return None
    classes = tuple(sorted({r.bike_class for r in used if r.bike_class}))
    rows = _rows(used, classes, model)
    prior = np.concatenate([
        np.full(3, model.ground_sd), np.full(9, model.rider_sd),
        np.full(3 * len(classes), model.class_sd),
    ])  # fmt: skip
    spreads = _likeliest_spreads(rows, prior, model)
    mean, cov = _posterior(rows, prior, spreads, model)
    days = sorted(r.day for r in used)
    found = []
    for rider in _RIDERS:
        for name in (*classes, None):
            pace = _pace(rider, name, classes, mean, cov, spreads, used, model)
            found.append(PaceRow(rider=rider, bike_class=name, pace=pace))
    return LearnedTimes(
        n_rides=len(used), length_m=sum(sum(r.length_m) for r in used), first_day=days[0],
        last_day=days[-1], ride_sd=spreads[0], ground_sd=spreads[1], stretch_sd=spreads[2],
        rows=tuple(found), left_out=tuple(left_out),
    )  # fmt: skip


def _usable(
    lessons: Sequence[RideLesson], model: TimeModel
) -> tuple[list[RideLesson], list[tuple[str, str]]]:
    used, left_out = [], []
    for lesson in lessons:
        moving, expected = sum(lesson.moving_s), sum(lesson.expected_s)
        if max(lesson.expected_s) < model.least_s:
            left_out.append((lesson.name, "too little of it on ground that is known well"))
        elif not 1 / model.farthest < moving / expected < model.farthest:
            ratio = f"{moving / expected:.1f}"
            left_out.append((lesson.name, f"its time is {ratio} times the tables'"))
        else:
            used.append(lesson)
    return used, left_out


def _rows(used: Sequence[RideLesson], classes: tuple[str, ...], model: TimeModel) -> _Rows:
    y, e, ride, x = [], [], [], []
    for i, lesson in enumerate(used):
        for g in range(3):
            moving, expected = lesson.moving_s[g], lesson.expected_s[g]
            if expected < model.least_s or moving <= 0.0:
                continue
            y.append(math.log(moving / expected))
            e.append(expected)
            ride.append(i)
            x.append(_columns(g, lesson.rider, lesson.bike_class, classes))
    return _Rows(y=np.array(y), expected_s=np.array(e), ride=np.array(ride), x=np.array(x))


def _columns(g: int, rider: Rider, name: str | None, classes: tuple[str, ...]) -> FloatArray:
    out = np.zeros(12 + 3 * len(classes))
    out[g] = out[3 + 3 * _RIDERS.index(rider) + g] = 1.0
    if name in classes:
        out[12 + 3 * classes.index(name) + g] = 1.0
    return out


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Sums:
    """Sums over the rows weighed by the inverse of their covariance: x'x, x'y, y'y; and the
    logarithm of its determinant.
    """

    xx: FloatArray
    xy: FloatArray
    yy: float
    log_det: float


def _sums(rows: _Rows, spreads: Three, model: TimeModel) -> _Sums:
    """The rows of a ride share its spread, so its covariance is a diagonal and one number: inverse
    and determinant by Sherman and Morrison 1950, Ann. Math. Statist. 21, 124-127.
    """
    own = spreads[1] ** 2 + spreads[2] ** 2 * model.block_s / rows.expected_s
    weight = 1.0 / own
    starts = np.flatnonzero(np.r_[True, np.diff(rows.ride) != 0])
    z = np.column_stack([rows.x, rows.y])
    of_ride = np.add.reduceat(z * weight[:, None], starts, axis=0)
    more = 1.0 + spreads[0] ** 2 * np.add.reduceat(weight, starts)
    whole = (z * weight[:, None]).T @ z - (of_ride * (spreads[0] ** 2 / more)[:, None]).T @ of_ride
    log_det = float(np.log(own).sum() + np.log(more).sum())
    return _Sums(xx=whole[:-1, :-1], xy=whole[:-1, -1], yy=float(whole[-1, -1]), log_det=log_det)


def _posterior(
    rows: _Rows, prior: FloatArray, spreads: Three, model: TimeModel
) -> tuple[FloatArray, FloatArray]:
    sums = _sums(rows, spreads, model)
    cov: FloatArray = np.asarray(np.linalg.inv(sums.xx + np.diag(prior**-2.0)), dtype=np.float64)
    return cov @ sums.xy, cov


def _likeliest_spreads(rows: _Rows, prior: FloatArray, model: TimeModel) -> Three:
    start = np.log(np.array(model.spreads))

    def spreads_of(logs: FloatArray) -> Three:
        # Rides that are all alike must not make a spread vanish.
        a, b, c = np.exp(np.clip(logs, math.log(model.least_spread), 0.0)).tolist()
        return a, b, c

    def cost(logs: FloatArray) -> float:
        sums = _sums(rows, spreads_of(logs), model)
        precision = sums.xx + np.diag(prior**-2.0)
        fit = sums.yy - float(sums.xy @ np.linalg.solve(precision, sums.xy))
        _, more = np.linalg.slogdet(precision)
        belief = float((((logs - start) / model.spread_sd) ** 2).sum())
        return 0.5 * (fit + sums.log_det + float(more) + belief)

    found = minimize(cost, start, method="Nelder-Mead", options={"xatol": 0.02, "fatol": 0.02})
    return spreads_of(found.x)


def _pace(
    rider: Rider, name: str | None, classes: tuple[str, ...], mean: FloatArray, cov: FloatArray,
    spreads: Three, used: Sequence[RideLesson], model: TimeModel,
) -> OwnPace:  # fmt: skip
    x = np.array([_columns(g, rider, name, classes) for g in range(3)])
    log = x @ mean
    var = np.einsum("gi,ij,gj->g", x, cov, x)
    if name is None and classes:
        var = var + model.class_sd**2  # of which class it is nothing is known
    sd = np.sqrt(var)
    spread = np.sqrt(var + spreads[0] ** 2 + spreads[1] ** 2)
    days = sorted(r.day for r in used)
    alike = [r for r in used if r.rider is rider and name in (None, r.bike_class)]
    return OwnPace(
        factor=_three(np.exp(log)), low=_three(np.exp(log - _Z90 * sd)),
        high=_three(np.exp(log + _Z90 * sd)), spread=_three(spread),
        ten_min_sd=spreads[2], n_rides=len(used), n_alike=len(alike), first_day=days[0],
        last_day=days[-1],
    )  # fmt: skip


def _three(values: FloatArray) -> Three:
    a, b, c = (float(v) for v in values)
    return a, b, c
