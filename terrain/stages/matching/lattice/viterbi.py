"""The most likely ride through candidate positions: a hidden Markov model on a road graph.

Source of the model: Newson and Krumm 2009, Hidden Markov map matching through noise and
sparseness, ACM GIS, doi 10.1145/1653771.1653818. It differs in four ways: a state that lies off
the map; routing weights that prefer what a motorcycle may ride; states that know their riding
direction and may turn round in the middle of a way at a cost, or step back within the line's
noise for free; and tolerances that grow with the gap between points.

A state is 2 * candidate + direction (0 as drawn, 1 against the drawing).
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from terrain.calc.candidates import Candidates
from terrain.calc.kernels import Index, inner, kernel
from terrain.stages.matching.lattice.links import (
    INF,
    Costs,
    State,
    Step,
    Steps,
    link,
    spread_step,
    step_at,
)
from terrain.stages.matching.lattice.search import Graph, Work, mark_goals
from terrain.values.arrays import FloatArray, Int32Array

OFF_MAP = -1
_HOPELESS = 60.0  # a state this much dearer than the best is never on the best ride


class _Trellis(NamedTuple):
    """Costs so far and the way back through the states.

    cost, back : least cost of each state, and the state before it; shape (2 * candidates,)
    off_back : the state before point t if t lies off the map, shape (n,)
    slot : row of `table` for each end of the candidates of the point before, shape (most, 2)
    node : node of each row of `table`
    table : (weight, length) between end nodes, shape (2, 2 * most, 2 * most, 2): [0 onward,
        1 stepping back; row; goal slot]
    between : the same for one pair of candidates, shape (2, 2, 2, 2)
    """

    cost: FloatArray
    back: Int32Array
    off_back: Int32Array
    slot: Int32Array
    node: Int32Array
    table: FloatArray
    between: FloatArray


def likeliest(
    graph: Graph, work: Work, cands: Candidates, steps: Steps, costs: Costs
) -> Int32Array:
    """The likeliest state of each point, OFF_MAP where the ride lies off the map.

    Returns: 2 * candidate + direction, shape (n,).
    """
    n, total = len(cands.start) - 1, len(cands.edge)
    most = int(np.diff(cands.start).max(initial=1))
    trellis = _Trellis(
        cost=np.full(2 * total, np.inf), back=np.full(2 * total, OFF_MAP, np.int32),
        off_back=np.full(n, OFF_MAP, np.int32), slot=np.zeros((most, 2), np.int32),
        node=np.zeros(2 * most, np.int32), table=np.zeros((2, 2 * most, 2 * most, 2)),
        between=np.zeros((2, 2, 2, 2)),
    )  # fmt: skip
    off = _forward(graph, work, cands, steps, costs, trellis)
    first, end = 2 * int(cands.start[-2]), 2 * total
    last = OFF_MAP
    if end > first:
        best = first + int(np.argmin(trellis.cost[first:end]))
        last = best if trellis.cost[best] < off else OFF_MAP
    choice = np.empty(n, np.int32)
    _backward(trellis, choice, last)
    return choice


@kernel
def _forward(
    graph: Graph, work: Work, cands: Candidates, steps: Steps, costs: Costs, trellis: _Trellis
) -> float:
    """Fill the trellis from the first point to the last; returns the cost of ending off the map."""
    cost = trellis.cost
    for j in range(2 * cands.start[0], 2 * cands.start[1]):
        cost[j] = 0.5 * (cands.dist_m[j >> 1] / steps.sigma_m) ** 2
    off = steps.off_cost
    for t in range(1, len(cands.start) - 1):
        a, b, c = cands.start[t - 1], cands.start[t], cands.start[t + 1]
        best = OFF_MAP
        for i in range(2 * a, 2 * b):
            if best == OFF_MAP or cost[i] < cost[best]:
                best = i
        least = off if best == OFF_MAP else min(off, cost[best])
        if c > b:
            step = step_at(steps, t - 1)
            _search(graph, work, cands, step, trellis, t, least + _HOPELESS)
            _relax(graph, work, cands, step, costs, trellis, t, least + _HOPELESS)
        lost = steps.off_gap_cost[t - 1]
        for j in range(2 * b, 2 * c):
            if off + costs.switch + lost < cost[j]:
                cost[j] = off + costs.switch + lost
                trellis.back[j] = OFF_MAP
            cost[j] += 0.5 * (cands.dist_m[j >> 1] / steps.sigma_m) ** 2
        if best != OFF_MAP and cost[best] + costs.switch < off:
            off = cost[best] + costs.switch
            trellis.off_back[t] = best
        off += lost + steps.off_cost
    return off


@inner
def _search(
    graph: Graph,
    work: Work,
    cands: Candidates,
    step: Step,
    trellis: _Trellis,
    t: Index,
    limit: float,
) -> None:
    """Ways from the candidates of point t - 1 (dearer than `limit` left out) to those of t."""
    a, b, c = cands.start[t - 1], cands.start[t], cands.start[t + 1]
    goals = mark_goals(graph, work, cands.edge, np.int32(b), np.int32(c))
    # On one edge, going as far along it as the line does, no way round is ever likelier.
    alone = b - a == 1 and c - b == 1 and cands.edge[a] == cands.edge[b]
    if alone:
        alone = abs(cands.at_m[b] - cands.at_m[a]) <= step.gap_m + step.beta_m
    n_sources = 0
    for i in range(a, b):
        if min(trellis.cost[2 * i], trellis.cost[2 * i + 1]) > limit:
            continue
        e = cands.edge[i]
        for end in range(2):
            node = graph.edge_v[e] if end else graph.edge_u[e]
            slot = 0
            while slot < n_sources and trellis.node[slot] != node:
                slot += 1
            trellis.slot[i - a, end] = slot
            if slot < n_sources:
                continue
            trellis.node[slot] = node
            n_sources += 1
            for way in range(2):
                table = trellis.table[way, slot]
                for k in range(goals.n_nodes):
                    table[k, 0] = INF
                if alone:
                    continue
                spread_step(graph, work, node, goals, step, way == 1)
                for j in range(b, c):
                    f = cands.edge[j]
                    for enter in range(2):
                        goal = graph.edge_v[f] if enter else graph.edge_u[f]
                        if work.stamp[goal] == work.marks[0]:
                            k = work.goal_slot[goal]
                            table[k, 0] = work.weight[goal]
                            table[k, 1] = work.length[goal]


@inner
def _relax(
    graph: Graph, work: Work, cands: Candidates, step: Step, costs: Costs, trellis: _Trellis,
    t: Index, limit: float,
) -> None:  # fmt: skip
    """The cheapest link from the states of point t - 1 to each state of t."""
    a, b, c = cands.start[t - 1], cands.start[t], cands.start[t + 1]
    cost, table, between = trellis.cost, trellis.table, trellis.between
    for i in range(a, b):
        if min(cost[2 * i], cost[2 * i + 1]) > limit:
            continue
        for j in range(b, c):
            f = cands.edge[j]
            for leave in range(2):
                row = trellis.slot[i - a, leave]
                for enter in range(2):
                    k = work.goal_slot[graph.edge_v[f] if enter else graph.edge_u[f]]
                    for way in range(2):
                        between[way, leave, enter, 0] = table[way, row, k, 0]
                        between[way, leave, enter, 1] = table[way, row, k, 1]
            for d in range(2):
                base = cost[2 * i + d]
                here = State(cands.edge[i], cands.at_m[i], d)
                for g in range(2):
                    # Where the way is guessed, a fast road costs less than nothing.
                    if step.mode == 0 and base >= cost[2 * j + g]:
                        continue
                    there = State(f, cands.at_m[j], g)
                    extra, _ = link(graph, here, there, between, step, costs)
                    if base + extra < cost[2 * j + g]:
                        cost[2 * j + g] = base + extra
                        trellis.back[2 * j + g] = 2 * i + d


@kernel
def _backward(trellis: _Trellis, choice: Int32Array, last: Index) -> None:
    """Follow the cheapest chain of states back from the last one."""
    state = last
    for t in range(len(choice) - 1, -1, -1):
        choice[t] = state
        state = trellis.off_back[t] if state == OFF_MAP else trellis.back[state]
