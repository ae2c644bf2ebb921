"""How long each part of a ride was ridden, and where it stood.

Between two fixes that lie close in time everything was riding. Between two far apart, some of it
may have been standing: as much as the time exceeds what this rider takes here, by the estimate
and by how he rode the kilometres around.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from terrain.stages.ridden.rests import Knots
from terrain.values.arrays import BoolArray, FloatArray, freeze_fields

_AROUND_S = 900.0  # estimated riding time on either side that tells how fast the rider is
_LEAST_GAP_S = 20.0  # a shorter gap holds no stop worth splitting
# From how many times the usual on a gap holds a stop: three spreads of the logarithm of pace, which
# grow smaller over longer gaps (common practice, no source; tried on simulated rides).
_SPREAD, _SPREADS, _SPREAD_S = 0.3, 3.0, 60.0
_LEAST_STOP_S = 15.0
_RATIO = (0.35, 3.0)  # no rider is faster or slower than the estimate by more

Estimate = Callable[[FloatArray], FloatArray]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class RideTimes:
    """The knots of a ride by place and time, shape (k,).

    at_m : metres along the match, never falling; arrive_s, leave_s : seconds since 1970 UTC
    moving_s : riding time from the first knot to each, shape (k,); the time across breaks of the
        record is left out
    stood_s : standing at each knot and in the gap after it that is no riding, shape (k,)
    broken : the time of the gap after a knot is not known, shape (k,)
    """

    at_m: FloatArray
    arrive_s: FloatArray
    leave_s: FloatArray
    moving_s: FloatArray
    stood_s: FloatArray
    broken: BoolArray
    expected_s: FloatArray

    def __post_init__(self) -> None:
        names = ("at_m", "arrive_s", "leave_s", "moving_s", "stood_s", "broken", "expected_s")
        freeze_fields(self, names, len(self.at_m))


def ride_times(knots: Knots, at_m: FloatArray, estimate: Estimate) -> RideTimes:
    """Riding and standing between the knots of a ride.

    at_m : place of each knot along the match, never falling, shape (k,)
    estimate : riding time from the start of the match to places on it [s]
    """
    expected = np.maximum.accumulate(estimate(at_m))
    gap_s = knots.arrive_s[1:] - knots.leave_s[:-1]
    e = np.diff(expected)
    broken = np.diff(knots.piece) != 0
    rest = (knots.leave_s - knots.arrive_s) > 0.0
    beside = rest[:-1] | rest[1:]
    own = _own_pace(expected, gap_s, e, ~broken & ~beside) * e
    # Beside a rest a part of the gap may be rest as well; elsewhere only what is far too long.
    long = (gap_s >= _LEAST_GAP_S) & _too_slow(gap_s, own) & (gap_s - own >= _LEAST_STOP_S)
    beside |= np.append(long[1:], False) | np.append(False, long[:-1])
    part = beside & (gap_s > own) & (gap_s >= _LEAST_GAP_S / 2)
    riding = np.where(long | part, np.minimum(own, gap_s), gap_s)
    riding = np.where(broken, 0.0, riding)
    stood = knots.leave_s - knots.arrive_s
    stood[:-1] += np.where(broken, 0.0, gap_s - riding)
    return RideTimes(
        at_m=at_m, arrive_s=knots.arrive_s, leave_s=knots.leave_s,
        moving_s=np.concatenate([[0.0], np.cumsum(riding)]), stood_s=stood,
        broken=np.append(broken, False), expected_s=expected,
    )  # fmt: skip


def _too_slow(gap_s: FloatArray, own_s: FloatArray) -> BoolArray:
    """Whether a gap took far longer than this rider takes for it."""
    spread = _SPREAD / np.sqrt(1.0 + own_s / _SPREAD_S)
    return np.asarray(gap_s > own_s * np.exp(_SPREADS * spread), dtype=np.bool_)


def _own_pace(
    expected: FloatArray, gap_s: FloatArray, e: FloatArray, good: BoolArray
) -> FloatArray:
    """The rider's time over the estimate around each gap, shape (k - 1,).

    Stops hidden in the gaps around would spoil a mean: gaps far slower than the ride's median
    count as the median.
    """
    seen = good & (e > 0.5)
    if not seen.any():
        return np.ones(len(e))
    order = np.argsort(gap_s[seen] / e[seen])
    weight = np.cumsum(e[seen][order])
    usual = float((gap_s[seen] / e[seen])[order][np.searchsorted(weight, weight[-1] / 2)])
    usual = float(np.clip(usual, *_RATIO))
    held = seen & (~_too_slow(gap_s, usual * e) | (gap_s < _LEAST_GAP_S))
    own_s = np.concatenate([[0.0], np.cumsum(np.where(held, gap_s, 0.0))])
    own_e = np.concatenate([[0.0], np.cumsum(np.where(held, e, 0.0))])
    middle = (expected[1:] + expected[:-1]) / 2
    low = np.searchsorted(expected, middle - _AROUND_S)
    high = np.maximum(np.searchsorted(expected, middle + _AROUND_S, side="right") - 1, low)
    near_s, near_e = own_s[high] - own_s[low], own_e[high] - own_e[low]
    # Worth five minutes of the ride's usual pace, so that little around does not decide alone.
    pace: FloatArray = (near_s + 300.0 * usual) / (near_e + 300.0)
    return np.asarray(np.clip(pace, *_RATIO), dtype=np.float64)


def moving_at(times: RideTimes, at_m: FloatArray, estimate: Estimate) -> FloatArray:
    """Riding time from the first knot to places of the ride [s].

    Between two knots it is shared out as the estimate is.
    """
    first = _firsts(times)
    return np.interp(estimate(at_m), times.expected_s[first], times.moving_s[first])


def _firsts(times: RideTimes) -> BoolArray:
    """Knots with an estimate of their own; of several at one place the last."""
    return np.append(np.diff(times.expected_s) > 0.0, True)


def clock_at(times: RideTimes, at_m: FloatArray) -> FloatArray:
    """When the ride passed places of it, seconds since 1970 UTC; of a rest, the leaving."""
    rises = np.append(np.diff(times.at_m) > 0.0, True)
    out: FloatArray = np.interp(at_m, times.at_m[rises], times.leave_s[rises])
    return out


def broken_between(times: RideTimes, from_m: FloatArray, to_m: FloatArray) -> BoolArray:
    """Whether a part of the ride lies mostly where the record is broken."""
    i = np.flatnonzero(times.broken)
    out = np.zeros(len(from_m), dtype=np.bool_)
    for a, b in zip(times.at_m[i], times.at_m[np.minimum(i + 1, len(times.at_m) - 1)], strict=True):
        common = np.minimum(b, to_m) - np.maximum(a, from_m)
        out |= common > 0.2 * (to_m - from_m)
    return out
