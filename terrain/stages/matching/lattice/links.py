"""What it costs to ride from one position on the road graph to the next."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from terrain.calc.kernels import Index, inner
from terrain.stages.matching.lattice.search import Goals, Graph, Work, edge_rates, spread
from terrain.values.arrays import FloatArray, Int8Array

INF = np.inf
ALONG = 0  # how: along the edge itself; else 1 + 2 * (end left by) + (end come in by)
NO_LINK = -1
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


class State(NamedTuple):
    """A position on an edge and the direction ridden: 0 as drawn, 1 against the drawing."""

    edge: int
    at_m: float
    direction: int


@inner
def step_at(steps: Steps, t: Index) -> Step:
    """The step from point t to the next."""
    return Step(
        steps.mode[t], steps.gap_m[t], steps.beta_m[t], steps.weight_beta_m[t],
        steps.reach_m[t], steps.slack_m, 0.5 * steps.off_cost + steps.off_gap_cost[t],
    )  # fmt: skip


@inner
def spread_step(
    graph: Graph, work: Work, source: Index, goals: Goals, step: Step, backwards: bool
) -> None:
    """Search for one step of the line: onward, or back within the line's noise."""
    reach = step.slack_m if backwards else step.reach_m
    spread(graph, work, source, goals, step.mode, backwards, reach)


@inner
def link(
    graph: Graph, here: State, there: State, between: FloatArray, step: Step, costs: Costs
) -> tuple[float, Index]:
    """Cost of riding from one state to another, and how.

    between : (weight, length) between the end nodes, shape (2, 2, 2, 2): [0 onward, 1 stepping
        back; end of here.edge; end of there.edge]; end 0 is u, end 1 is v
    Returns: cost, and how: ALONG, NO_LINK, or 1 + 2 * (end left by) + (end come in by).
    """
    here_ahead, here_back = edge_rates(graph, step.mode, here.edge)
    there_ahead, there_back = edge_rates(graph, step.mode, there.edge)
    best, how = INF, NO_LINK
    for leave in range(2):
        out_m = graph.edge_length_m[here.edge] - here.at_m if leave == 1 else here.at_m
        out_w = out_m * (here_ahead if leave == 1 else here_back)
        turned = leave == here.direction  # direction 0 leaves by v
        for enter in range(2):
            strange = enter != there.direction  # direction 0 comes in by u
            way = 1 if strange else 0
            if (strange and not turned) or between[way, leave, enter, 0] == INF:
                continue
            in_m = there.at_m if enter == 0 else graph.edge_length_m[there.edge] - there.at_m
            length = out_m + between[way, leave, enter, 1] + in_m
            if strange and length > step.slack_m:
                continue
            in_w = in_m * (there_ahead if enter == 0 else there_back)
            weight = out_w + between[way, leave, enter, 0] + in_w
            cost = _step_cost(step, costs, weight, length, turned, strange)
            if cost < best:
                best, how = cost, 1 + 2 * leave + enter
    if here.edge == there.edge:
        rate = here_ahead if there.at_m >= here.at_m else here_back
        cost = _along_cost(here, there, step, costs, rate)
        if cost < best:
            best, how = cost, ALONG
    return best, how


@inner
def _along_cost(here: State, there: State, step: Step, costs: Costs, rate: float) -> float:
    """Cost of riding along one edge; infinite if the directions rule it out."""
    length = abs(there.at_m - here.at_m)
    onward = 0 if there.at_m > here.at_m else 1
    same = here.direction == there.direction
    still = length < _SAME_M
    with_it = still or onward == here.direction
    back = same and not with_it
    if (back and length > step.slack_m) or (not same and with_it and not still):
        return INF
    return _step_cost(step, costs, length * rate, length, back or not same, back)


@inner
def _step_cost(
    step: Step, costs: Costs, weight: float, length: float, turned: bool, strange: bool
) -> float:
    if strange:  # a step back: no progress, whatever the line's noise pretends
        return (step.gap_m + _BACK_SHARE * length) / step.beta_m
    cost = costs.turn if turned else 0.0
    excess = abs(length - step.gap_m) / step.beta_m
    if step.mode != 0:
        excess = _WIND_TAIL * np.log1p(excess / _WIND_TAIL)
    extra = (weight - length) / step.weight_beta_m
    if step.mode == 0:
        extra = min(extra, costs.switch + step.off_share - _OFF_MARGIN)
    return cost + excess + extra
