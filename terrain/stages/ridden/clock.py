"""How long each part of a ride was ridden, and where it stood.

Between two fixes that lie close in time everything was riding. Between two far apart, some of it
may have been standing: how much is weighed by what this rider takes here against the chance of a
stop (`standing.py`).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from terrain.stages.ridden.rests import Knots
from terrain.stages.ridden.standing import Between, share_out
from terrain.values.arrays import BoolArray, Columns, FloatArray

Estimate = Callable[[FloatArray], FloatArray]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class RideTimes(Columns):
    """The knots of a ride by place and time, shape (k,).

    at_m : metres along the match, never falling; arrive_s, leave_s : seconds since 1970 UTC
    moving_s : riding time from the first knot to each, shape (k,); the time across breaks of the
        record is left out
    stood_s : standing at each knot and in the gap after it that is no riding, shape (k,)
    drawn_s : moving_s as it may have been, shape (k, draws); moving_s is its mean
    broken : the time of the gap after a knot is not known, shape (k,)
    """

    at_m: FloatArray
    arrive_s: FloatArray
    leave_s: FloatArray
    moving_s: FloatArray
    stood_s: FloatArray
    drawn_s: FloatArray
    broken: BoolArray
    expected_s: FloatArray


def ride_times(knots: Knots, at_m: FloatArray, estimate: Estimate) -> RideTimes:
    """Riding and standing between the knots of a ride.

    at_m : place of each knot along the match, never falling, shape (k,)
    estimate : riding time from the start of the match to places on it [s]
    """
    expected = np.maximum.accumulate(estimate(at_m))
    gap_s = knots.arrive_s[1:] - knots.leave_s[:-1]
    broken = np.diff(knots.piece) != 0
    stood = knots.leave_s - knots.arrive_s
    drawn = share_out(
        Between(gap_s=gap_s, expected_s=np.diff(expected), broken=broken, rest_s=stood)
    )
    riding = drawn.mean(axis=0)
    stood[:-1] += np.where(broken, 0.0, gap_s - riding)
    return RideTimes(
        at_m=at_m, arrive_s=knots.arrive_s, leave_s=knots.leave_s,
        moving_s=np.concatenate([[0.0], np.cumsum(riding)]), stood_s=stood,
        drawn_s=np.pad(np.cumsum(drawn.T, axis=0), ((1, 0), (0, 0))),
        broken=np.append(broken, False), expected_s=expected,
    )  # fmt: skip


def moving_at(times: RideTimes, at_m: FloatArray, estimate: Estimate) -> FloatArray:
    """Riding time from the first knot to places of the ride [s].

    Between two knots it is shared out as the estimate is.
    """
    first = _firsts(times)
    return np.interp(estimate(at_m), times.expected_s[first], times.moving_s[first])


def moving_between(times: RideTimes, ends_m: FloatArray, estimate: Estimate) -> FloatArray:
    """Riding time between two places as it may have been, shape (draws,) [s]."""
    first = _firsts(times)
    at_s, known_s = estimate(ends_m), times.expected_s[first]
    ends = np.array([np.interp(at_s, known_s, drawn_s[first]) for drawn_s in times.drawn_s.T])
    return np.asarray(ends[:, 1] - ends[:, 0], dtype=np.float64)


def _firsts(times: RideTimes) -> BoolArray:
    """Knots with an estimate of their own; of several at one place the last."""
    return np.append(np.diff(times.expected_s) > 0.0, True)


def clock_at(times: RideTimes, at_m: FloatArray) -> FloatArray:
    """When the ride passed places of it, seconds since 1970 UTC; of a rest, the leaving."""
    # Arriving and leaving both: what lies before a rest was passed before it.
    both_s = np.column_stack([times.arrive_s, times.leave_s]).ravel()
    out: FloatArray = np.interp(at_m, np.repeat(times.at_m, 2), both_s)
    return out


def broken_between(times: RideTimes, from_m: FloatArray, to_m: FloatArray) -> BoolArray:
    """Whether a part of the ride lies mostly where the record is broken."""
    i = np.flatnonzero(times.broken)
    out = np.zeros(len(from_m), dtype=np.bool_)
    for a, b in zip(times.at_m[i], times.at_m[np.minimum(i + 1, len(times.at_m) - 1)], strict=True):
        common = np.minimum(b, to_m) - np.maximum(a, from_m)
        out |= common > 0.2 * (to_m - from_m)
    return out
