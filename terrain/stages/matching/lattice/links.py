"""What it costs to ride from one position on the road graph to the next."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from terrain.calc.kernels import Index, inner
from terrain.values.arrays import FloatArray, Int8Array

INF = np.inf
# Roads wind: far from this many tolerances on, an excess of road over straight line grows in
# cost as its logarithm (chosen by measurement, tests/bench/matching.py).
_WIND_TAIL = 60.0
# A step back costs this share of its length on top of the gap it makes no way in (likewise).
_BACK_SHARE = 0.2
_SAME_M = 1e-6
# Riding what the line shows stays this much cheaper a step than leaving the map for every other
# point, also where the road is a bad one to ride: a line against a one-way lies on that way.
_OFF_MARGIN = 2.0


class Steps(NamedTuple):
    """What the line says between its n points; arrays have shape (n - 1,).

    sigma_m : spread of a point about its way; off_cost : cost of a point lying off the map
    slack_m : step backwards that is the line's own noise
    gap_m : straight distance to the next point
    mode : row of the weights; 0 where the line shows the way
    beta_m : tolerance of the difference between road and straight distance
    weight_beta_m : metres of extra weight that cost one unit
    reach_m : longest weighted path tried
    off_gap_cost : cost of crossing the gap off the map
    """

    sigma_m: float
    off_cost: float
    slack_m: float
    gap_m: FloatArray
    mode: Int8Array
    beta_m: FloatArray
    weight_beta_m: FloatArray
    reach_m: FloatArray
    off_gap_cost: FloatArray


class Costs(NamedTuple):
    """Costs that do not depend on the line.

    switch : leaving or joining the map; turn : turning round on the way
    """

    switch: float
    turn: float


class Step(NamedTuple):
    """One row of Steps; off_share : what each of two steps past one point off the map costs."""

    mode: int
    gap_m: float
    beta_m: float
    weight_beta_m: float
    reach_m: float
    slack_m: float
    off_share: float


@inner
def step_at(steps: Steps, t: Index) -> Step:
    """The step from point t to the next."""
    return Step(
        steps.mode[t], steps.gap_m[t], steps.beta_m[t], steps.weight_beta_m[t],
        steps.reach_m[t], steps.slack_m, 0.5 * steps.off_cost + steps.off_gap_cost[t],
    )  # fmt: skip


@inner
def onward_cost(step: Step, costs: Costs, weight: float, length: float) -> float:
    """Cost of riding on, over a way of some weight and length, without turning round."""
    excess = abs(length - step.gap_m) / step.beta_m
    if step.mode != 0:
        excess = _WIND_TAIL * np.log1p(excess / _WIND_TAIL)
    extra = (weight - length) / step.weight_beta_m
    if step.mode == 0:
        extra = min(extra, costs.switch + step.off_share - _OFF_MARGIN)
    return excess + extra


@inner
def least_cost(step: Step, costs: Costs, rate: float) -> float:
    """What no way on costs less than, if a metre of it weighs `rate` or more.

    Over the lengths of ways that weigh just that much, cost bends downwards on both sides of the
    gap: it is least at the gap, or at an end of what is tried.
    """
    gap_m, most_m = step.gap_m, step.reach_m
    return min(
        onward_cost(step, costs, 0.0, 0.0),
        onward_cost(step, costs, rate * gap_m, gap_m),
        onward_cost(step, costs, rate * most_m, most_m),
    )


@inner
def back_cost(step: Step, length: float) -> float:
    """Cost of a step back; infinite if it is longer than the line's noise."""
    if length > step.slack_m:
        return INF
    # No way is made, whatever the line's noise pretends.
    return (step.gap_m + _BACK_SHARE * length) / step.beta_m


@inner
def along_cost(
    step: Step, costs: Costs, ahead_m: float, here: Index, there: Index, rate: float
) -> float:
    """Cost of riding along one edge; infinite if the directions rule it out.

    ahead_m : how far, negative against the drawing; rate : weight of a metre that way
    here, there : directions of riding at both ends, 0 as drawn, 1 against it
    """
    length = abs(ahead_m)
    still = length < _SAME_M
    onward = 0 if ahead_m > 0.0 else 1
    if still or onward == here:
        if here != there and not still:
            return INF
        turn = 0.0 if here == there else costs.turn
        return turn + onward_cost(step, costs, length * rate, length)
    if here == there:
        return back_cost(step, length)
    return costs.turn + onward_cost(step, costs, length * rate, length)
