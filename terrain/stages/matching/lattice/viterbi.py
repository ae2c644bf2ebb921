"""The most likely ride through candidate positions: a hidden Markov model on a road graph.

Source of the model: Newson and Krumm 2009, Hidden Markov map matching through noise and
sparseness, ACM GIS, doi 10.1145/1653771.1653818. It differs in four ways: a state that lies off
the map; routing weights that prefer what a motorcycle may ride; states that know their riding
direction and may turn round in the middle of a way at a cost, or step back within the line's
noise for free; and tolerances that grow with the gap between points.

State 2i + d rides from candidate i in direction d: 0 as drawn, 1 against the drawing. Gate 2i + e
is end e of its edge: 0 its start, 1 its end. So state x enters by gate x, and leaves by gate x ^ 1
without turning round, by gate x after it.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from terrain.calc.candidates import RoadCandidates
from terrain.calc.geodesy import metres_per_degree
from terrain.calc.kernels import Index, inner, kernel, plain
from terrain.stages.matching.lattice.links import (
    Costs,
    Step,
    Steps,
    along_cost,
    back_cost,
    least_cost,
    onward_cost,
    step_at,
)
from terrain.stages.matching.lattice.search import (
    Aim,
    EdgeGraph,
    SearchBuffers,
    add_goal,
    clear_goals,
    reached,
    spread,
)
from terrain.values.arrays import FloatArray, Int8Array, Int32Array

OFF_MAP = -1
ALONG = 0  # how: along the edge itself; else 1 + 2 * (end left by) + (end come in by) ...
BACK = 4  # ... and this more for a step back
_HOPELESS = 60.0  # a state this much dearer than the best is never on the best ride


class Spots(NamedTuple):
    """Candidates on their edges: those of point t are start[t] .. start[t + 1] - 1.

    edge, at_m, dist_m : as in Candidates; kind : of the way
    gate_node, gate_m : node of each gate and metres along the edge to it, shape (2 * candidates,)
    """

    lon: FloatArray
    lat: FloatArray
    start: Int32Array
    edge: Int32Array
    at_m: FloatArray
    dist_m: FloatArray
    kind: Int32Array
    gate_node: Int32Array
    gate_m: FloatArray


class Chain(NamedTuple):
    """The likeliest states, and how each was come to; shape (n,).

    state : OFF_MAP where the ride lies off the map
    how : ALONG, or 1 + 2 * (end left by) + (end come in by), and BACK more for a step back
    """

    state: Int32Array
    how: Int8Array


class _Trellis(NamedTuple):
    """Costs so far and the way back through the states.

    cost, back, how : least cost of each state, the state before it and how it was come from there;
        shape (2 * candidates,)
    off_back : the state before point t if t lies off the map, shape (n,)
    exits : gates that lead on from the point before, cheapest first; exit_cost : of each gate,
        shape (2 * candidates,)
    """

    cost: FloatArray
    back: Int32Array
    how: Int8Array
    off_back: Int32Array
    exits: Int32Array
    exit_cost: FloatArray


def spots_of(graph: EdgeGraph, lon: FloatArray, lat: FloatArray, cands: RoadCandidates) -> Spots:
    """The candidates of points with the ends of their edges."""
    edge, at_m = cands.edge, cands.at_m
    ends = np.stack([graph.edge_u[edge], graph.edge_v[edge]], axis=1)
    metres = np.stack([at_m, graph.edge_length_m[edge] - at_m], axis=1)
    return Spots(
        plain(lon), plain(lat), cands.start, edge, at_m, cands.dist_m,
        graph.way_kind[graph.edge_way[edge]], ends.ravel(), metres.ravel(),
    )  # fmt: skip


def likeliest(
    graph: EdgeGraph, work: SearchBuffers, spots: Spots, steps: Steps, costs: Costs
) -> Chain:
    """The likeliest state of each point, and how the ride came there."""
    n = len(spots.start) - 1
    room = 2 * len(spots.edge)
    trellis = _Trellis(
        cost=np.full(room, np.inf), back=np.full(room, OFF_MAP, np.int32),
        how=np.zeros(room, np.int8), off_back=np.full(n, OFF_MAP, np.int32),
        exits=np.zeros(room, np.int32), exit_cost=np.zeros(room),
    )  # fmt: skip
    off = _forward(graph, work, spots, steps, costs, trellis)
    first, end = 2 * int(spots.start[-2]), room
    last = OFF_MAP
    if end > first:
        best = first + int(np.argmin(trellis.cost[first:end]))
        last = best if trellis.cost[best] < off else OFF_MAP
    chain = Chain(np.empty(n, np.int32), np.zeros(n, np.int8))
    _backward(trellis, chain, last)
    return chain


@kernel
def _forward(
    graph: EdgeGraph,
    work: SearchBuffers,
    spots: Spots,
    steps: Steps,
    costs: Costs,
    trellis: _Trellis,
) -> float:
    """Fill the trellis from the first point to the last; returns the cost of ending off the map."""
    cost = trellis.cost
    for y in range(2 * spots.start[0], 2 * spots.start[1]):
        cost[y] = 0.5 * (spots.dist_m[y >> 1] / steps.sigma_m) ** 2
    off = steps.off_cost
    for t in range(1, len(spots.start) - 1):
        a, b, c = spots.start[t - 1], spots.start[t], spots.start[t + 1]
        best = OFF_MAP
        for x in range(2 * a, 2 * b):
            if best == OFF_MAP or cost[x] < cost[best]:
                best = x
        least = off if best == OFF_MAP else min(off, cost[best])
        lost = steps.off_gap_cost[t - 1]
        for y in range(2 * b, 2 * c):
            cost[y] = off + costs.switch + lost
        if c > b:
            step = step_at(steps, t - 1)
            _ride_on(graph, work, spots, step, costs, trellis, t, least + _HOPELESS)
        for y in range(2 * b, 2 * c):
            cost[y] += 0.5 * (spots.dist_m[y >> 1] / steps.sigma_m) ** 2
        if best != OFF_MAP and cost[best] + costs.switch < off:
            off = cost[best] + costs.switch
            trellis.off_back[t] = best
        off += lost + steps.off_cost
    return off


@inner
def _ride_on(
    graph: EdgeGraph,
    work: SearchBuffers,
    spots: Spots,
    step: Step,
    costs: Costs,
    trellis: _Trellis,
    t: Index,
    limit: float,
) -> None:
    """The cheapest ways from the states of point t - 1, not dearer than `limit`, to those of t."""
    a, b, c = spots.start[t - 1], spots.start[t], spots.start[t + 1]
    n_exits = _list_exits(spots, costs, trellis, t - 1, limit)
    for i in range(a, b):
        for j in range(b, c):
            if spots.edge[i] == spots.edge[j]:
                _ride_along(graph, spots, step, costs, trellis, i, j)
    # On one edge, going as far along it as the line does, no way round is ever likelier.
    alone = b - a == 1 and c - b == 1 and spots.edge[a] == spots.edge[b]
    if alone and abs(spots.at_m[b] - spots.at_m[a]) <= step.gap_m + step.beta_m:
        return
    for k in range(n_exits):
        node = spots.gate_node[trellis.exits[k]]
        first = True
        for other in range(k):
            first = first and spots.gate_node[trellis.exits[other]] != node
        if first:
            _ride_by(graph, work, spots, step, costs, trellis, t, k, n_exits)


@inner
def _list_exits(spots: Spots, costs: Costs, trellis: _Trellis, t: Index, limit: float) -> Index:
    """List the gates that lead on from point t, cheapest first; returns how many."""
    n_exits = 0
    for x in range(2 * spots.start[t], 2 * spots.start[t + 1]):
        cost = min(trellis.cost[x ^ 1], trellis.cost[x] + costs.turn)
        trellis.exit_cost[x] = cost
        if cost > limit:
            continue
        k = n_exits
        while k > 0 and trellis.exit_cost[trellis.exits[k - 1]] > cost:
            trellis.exits[k] = trellis.exits[k - 1]
            k -= 1
        trellis.exits[k] = x
        n_exits += 1
    return n_exits


@inner
def _ride_along(
    graph: EdgeGraph, spots: Spots, step: Step, costs: Costs, trellis: _Trellis, i: Index, j: Index
) -> None:
    """Try the ways along the edge on which both candidates lie, and to an end of it and back."""
    ahead_m = spots.at_m[j] - spots.at_m[i]
    rate = graph.rate[step.mode, 2 * spots.kind[i] + (0 if ahead_m >= 0.0 else 1)]
    for x in range(2 * i, 2 * i + 2):
        for y in range(2 * j, 2 * j + 2):
            cost = trellis.cost[x] + along_cost(step, costs, ahead_m, x & 1, y & 1, rate)
            if cost < trellis.cost[y]:
                trellis.cost[y] = cost
                trellis.back[y] = x
                trellis.how[y] = ALONG
    for end in range(2):
        leave, enter = np.int64(2 * i + end), np.int64(2 * j + end)
        _link(graph, spots, step, costs, trellis, leave, enter, np.int64(0), 0.0, 0.0)


@inner
def _ride_by(
    graph: EdgeGraph,
    work: SearchBuffers,
    spots: Spots,
    step: Step,
    costs: Costs,
    trellis: _Trellis,
    t: Index,
    first: Index,
    n_exits: Index,
) -> None:
    """Try the ways through the node of exit number `first`, for all exits that lead there."""
    node = spots.gate_node[trellis.exits[first]]
    aim = _aim(graph, spots, step, t)
    least = least_cost(step, costs, aim.rate)
    for back in range(2):
        clear_goals(work)
        n_goals: Index = np.int64(0)
        shortest = step.reach_m
        for k in range(first, n_exits):
            x = trellis.exits[k]
            if spots.gate_node[x] != node:
                continue
            for y in range(2 * spots.start[t], 2 * spots.start[t + 1]):
                beaten = not back and trellis.exit_cost[x] + least >= trellis.cost[y]
                if not beaten and _in_reach(graph, spots, step, x, y, back):
                    n_goals += add_goal(work, spots.gate_node[y])
                    shortest = min(shortest, _weight_out(graph, spots, step, x))
        if n_goals == 0:
            continue
        reach = step.slack_m if back else step.reach_m - shortest
        spread(graph, work, node, n_goals, step.mode, back, reach, aim)
        for k in range(first, n_exits):
            x = trellis.exits[k]
            if spots.gate_node[x] != node:
                continue
            for y in range(2 * spots.start[t], 2 * spots.start[t + 1]):
                goal = spots.gate_node[y]
                if reached(work, goal):
                    weight, length = work.weight[goal], work.length[goal]
                    out = np.int64(x)
                    _link(graph, spots, step, costs, trellis, out, y, back, weight, length)


@inner
def _aim(graph: EdgeGraph, spots: Spots, step: Step, t: Index) -> Aim:
    """The candidates of a point as what a search leads to."""
    near_m = 0.0
    for j in range(spots.start[t], spots.start[t + 1]):
        near_m = max(near_m, spots.dist_m[j])
    east_m, north_m = metres_per_degree(spots.lat[t])
    return Aim(spots.lon[t], spots.lat[t], east_m, north_m, near_m, graph.least[step.mode])


@inner
def _weight_out(graph: EdgeGraph, spots: Spots, step: Step, gate: Index) -> float:
    """Weight of the way out by a gate: along the drawing if it is the end of the edge."""
    kind = 2 * spots.kind[gate >> 1] + 1 - (gate & 1)
    weight: float = spots.gate_m[gate] * graph.rate[step.mode, kind]
    return weight


@inner
def _weight_in(graph: EdgeGraph, spots: Spots, step: Step, gate: Index) -> float:
    """Weight of the way in by a gate."""
    kind = 2 * spots.kind[gate >> 1] + (gate & 1)
    weight: float = spots.gate_m[gate] * graph.rate[step.mode, kind]
    return weight


@inner
def _in_reach(
    graph: EdgeGraph, spots: Spots, step: Step, leave: Index, enter: Index, back: Index
) -> bool:
    """Whether a way out by one gate and in by another may be short enough."""
    if back:
        near_m = spots.dist_m[leave >> 1] + spots.dist_m[enter >> 1] + step.slack_m
        way_m = spots.gate_m[leave] + spots.gate_m[enter]
        return bool(way_m <= step.slack_m and step.gap_m <= near_m)
    weight = _weight_out(graph, spots, step, leave) + _weight_in(graph, spots, step, enter)
    return bool(weight <= step.reach_m)


@inner
def _link(
    graph: EdgeGraph, spots: Spots, step: Step, costs: Costs, trellis: _Trellis,
    leave: Index, enter: Index, back: Index, weight: float, length: float,
) -> None:  # fmt: skip
    """Try the way out by one gate and in by another, of some weight and length between them."""
    length += spots.gate_m[leave] + spots.gate_m[enter]
    before, state = leave ^ 1, enter
    if back:
        before, state = leave, enter ^ 1
        cost = trellis.cost[leave] + back_cost(step, length)
    else:
        weight += _weight_out(graph, spots, step, leave) + _weight_in(graph, spots, step, enter)
        cost = trellis.exit_cost[leave] + onward_cost(step, costs, weight, length)
        if trellis.cost[leave ^ 1] > trellis.exit_cost[leave]:
            before = leave  # turned round first
    if cost < trellis.cost[state]:
        trellis.cost[state] = cost
        trellis.back[state] = before
        trellis.how[state] = 1 + 2 * (leave & 1) + (enter & 1) + BACK * back


@kernel
def _backward(trellis: _Trellis, chain: Chain, last: Index) -> None:
    """Follow the cheapest chain of states back from the last one."""
    state = last
    for t in range(len(chain.state) - 1, -1, -1):
        chain.state[t] = state
        if state == OFF_MAP:
            state = trellis.off_back[t]
        else:
            chain.how[t] = trellis.how[state]
            state = trellis.back[state]
