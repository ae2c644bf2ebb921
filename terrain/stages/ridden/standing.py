"""How much of the time between two fixes was riding, and how sure that is.

A gap is riding, or riding and a stop. Riding takes what the estimate says times this rider's own
pace, with a spread that averages out over longer gaps; a stop takes any time up to the gap, each
factor of it as likely. What is told is the mean of riding over both, so that short stops that no
single gap shows are left out as often as they happen, and long rides of sparse fixes come out
right on average (a mixture, the rider's pace by expectation-maximisation).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from terrain.values.arrays import BoolArray, Columns, FloatArray


@dataclass(frozen=True, slots=True, kw_only=True)
class StandingRules:
    """What is believed of stops and pace before a ride is looked at.

    Common practice, no source; fitted on simulated rides of other draws than those scored.

    gap_s : a shorter gap holds no stop worth splitting; beside_s : beside a rest
    stop_each_s : estimated riding between stops; stop_s : shortest and longest stop in a gap
    pace_spread, pace_s : of the logarithm of pace at a place, and how long it keeps to itself
    estimate_spread : of the logarithm of what the estimate says of a gap, however long
    around_s : estimated riding on either side that tells how fast the rider is
    usual_s : worth of the whole ride's pace against that; table_s : of the estimate against that
    ratio : no rider is faster or slower than the estimate by more
    """

    gap_s: float = 20.0
    beside_s: float = 4.0
    stop_each_s: float = 2_000.0
    stop_s: tuple[float, float] = (20.0, 3_600.0)
    pace_spread: float = 0.25
    pace_s: float = 70.0
    estimate_spread: float = 0.15
    around_s: float = 600.0
    usual_s: float = 200.0
    table_s: float = 600.0
    ratio: tuple[float, float] = (0.35, 3.0)


RULES = StandingRules()
# Common practice, no source.
_LEAST_S = 0.5  # an estimate below this is no ground covered
_ROUNDS = 8
_STOPS = 36  # lengths of a stop that are weighed


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Between(Columns):
    """The gaps between the knots of a ride, in riding order, shape (n,).

    gap_s : clock time; expected_s : riding time by the estimate; middle_s : estimated riding time
        from the start to the middle; beside_rest : a rest ends or begins it; broken : the clock is
        not known
    """

    gap_s: FloatArray
    expected_s: FloatArray
    middle_s: FloatArray
    beside_rest: BoolArray
    broken: BoolArray


def share_out(gaps: Between, rules: StandingRules = RULES) -> tuple[FloatArray, FloatArray]:
    """Riding in each gap and its standard error [s], shape (n,) each; 0 where broken."""
    gap_s, e = gaps.gap_s, gaps.expected_s
    long = ~gaps.broken & (gap_s >= rules.gap_s) & (e > _LEAST_S) & ~gaps.beside_rest
    own = ~gaps.broken & (e > _LEAST_S) & ~gaps.beside_rest
    riding = np.where(gaps.broken, 0.0, gap_s)
    spread = np.zeros(len(e))
    # At first all counts as riding.
    pace = _pace_around(gaps, riding, own, rules)
    for _ in range(_ROUNDS if long.any() else 0):
        riding[long], spread[long] = _weighed(gap_s[long], pace[long] * e[long], e[long], rules)
        pace = _pace_around(gaps, riding, own, rules)
    # Of a gap beside a rest all that exceeds this rider's own time is rest as well.
    held = ~gaps.broken & (gap_s >= rules.beside_s)
    beside = held & gaps.beside_rest
    still = held & (e <= _LEAST_S)
    riding[beside | still] = np.minimum(pace * e, gap_s)[beside | still]
    error = riding * _log_spread(e, rules)
    spread[beside] = np.minimum(error, gap_s - riding)[beside]
    return riding, spread


def _log_spread(expected_s: FloatArray, rules: StandingRules) -> FloatArray:
    """Of the logarithm of riding time over a gap: noise that keeps to itself, averaged over it."""
    x = np.maximum(expected_s, _LEAST_S) / rules.pace_s
    averaged = 2.0 * (x - 1.0 + np.exp(-x)) / x**2
    return np.asarray(np.sqrt(rules.pace_spread**2 * averaged + rules.estimate_spread**2))


def _weighed(
    gap_s: FloatArray, own_s: FloatArray, expected_s: FloatArray, rules: StandingRules
) -> tuple[FloatArray, FloatArray]:
    """Mean and spread of riding in gaps that may hold a stop [s].

    own_s : what this rider takes for the gap on average
    """
    stops = np.concatenate([[0.0], np.geomspace(*rules.stop_s, _STOPS)])
    riding = gap_s[:, None] - stops
    may = riding > _LEAST_S
    log_riding = np.log(np.where(may, riding, 1.0))
    spread = _log_spread(expected_s, rules)[:, None]
    # Lognormal about the mean.
    off = (log_riding - np.log(own_s)[:, None] + spread**2 / 2.0) / spread
    some = np.exp(-expected_s / rules.stop_each_s)[:, None]
    each = (1.0 - some) / np.maximum(may[:, 1:].sum(axis=1, keepdims=True), 1)
    prior = np.concatenate([some, np.repeat(each, _STOPS, axis=1)], axis=1)
    log_weight = np.where(may, np.log(prior) - off**2 / 2.0 - log_riding, -np.inf)
    weight = np.exp(log_weight - log_weight.max(axis=1, keepdims=True))
    weight /= weight.sum(axis=1, keepdims=True)
    mean = (weight * riding).sum(axis=1)
    return mean, np.sqrt((weight * (riding - mean[:, None]) ** 2).sum(axis=1))


def _pace_around(
    gaps: Between, riding_s: FloatArray, own: BoolArray, rules: StandingRules
) -> FloatArray:
    """The rider's time over the estimate around each gap, shape (n,)."""
    s = np.concatenate([[0.0], np.cumsum(np.where(own, riding_s, 0.0))])
    e = np.concatenate([[0.0], np.cumsum(np.where(own, gaps.expected_s, 0.0))])
    low = np.searchsorted(gaps.middle_s, gaps.middle_s - rules.around_s)
    high = np.searchsorted(gaps.middle_s, gaps.middle_s + rules.around_s, side="right")
    usual = (s[-1] + rules.table_s) / (e[-1] + rules.table_s)
    pace = (s[high] - s[low] + rules.usual_s * usual) / (e[high] - e[low] + rules.usual_s)
    return np.asarray(np.clip(pace, *rules.ratio), dtype=np.float64)
