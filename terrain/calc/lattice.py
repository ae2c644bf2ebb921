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
from numba import njit

from terrain.calc.candidates import Candidates
from terrain.values.arrays import FloatArray, Int8Array, Int16Array, Int32Array

OFF_MAP = -1
_INF = np.inf
WIND_TAIL = 60.0
_HOPELESS = 60.0  # a state this much dearer than the best is never on the best ride


class Graph(NamedTuple):
    """The parts of a RoadsView that routing needs.

    rate : weight of a metre by highway code, shape (modes, codes)
    flag_rate : factor on the weight by WayFlag bit, shape (modes, bits); flag_mask the bits that
        have one
    against : factor on the weight for riding against a one-way, shape (modes,)
    """

    edge_u: Int32Array
    edge_v: Int32Array
    edge_way: Int32Array
    edge_length_m: FloatArray
    out_start: Int32Array
    out_arc: Int32Array
    way_highway: Int16Array
    way_oneway: Int8Array
    way_flags: Int32Array
    rate: FloatArray
    flag_rate: FloatArray
    flag_mask: int
    against: FloatArray


class Steps(NamedTuple):
    """What the line says at each of its n points and between them.

    sigma_m : spread of the point about its way, shape (n,)
    off_cost : cost of lying off the map, shape (n,)
    gap_m : straight distance to the next point, shape (n - 1,)
    mode : row of the weights; 0 where the line shows the way, shape (n - 1,)
    beta_m : tolerance of the difference between road and straight distance, shape (n - 1,)
    weight_beta_m : metres of extra weight that cost one unit, shape (n - 1,)
    reach_m : longest weighted path tried, shape (n - 1,)
    slack_m : step backwards that is the line's own noise, shape (n - 1,)
    off_gap_cost : cost of crossing the gap off the map, shape (n - 1,)
    """

    sigma_m: FloatArray
    off_cost: FloatArray
    gap_m: FloatArray
    mode: Int8Array
    beta_m: FloatArray
    weight_beta_m: FloatArray
    reach_m: FloatArray
    slack_m: FloatArray
    off_gap_cost: FloatArray


class Costs(NamedTuple):
    """Costs that do not depend on the line.

    switch : leaving or joining the map; turn : turning round on the way
    """

    switch: float
    turn: float


class Work(NamedTuple):
    """Scratch memory of one search; `stamp` tells which entries belong to the current one."""

    weight: FloatArray
    length: FloatArray
    via: Int32Array
    stamp: Int32Array
    settled: Int32Array
    goal: Int32Array
    goal_slot: Int32Array
    heap_key: FloatArray
    heap_node: Int32Array
    count: Int32Array


def make_work(n_nodes: int, n_edges: int) -> Work:
    """Scratch memory for a graph; pages are touched only where a search goes."""
    room = 2 * n_edges + 64
    return Work(
        np.zeros(n_nodes), np.zeros(n_nodes), np.zeros(n_nodes, np.int32),
        np.zeros(n_nodes, np.int32), np.zeros(n_nodes, np.int32), np.zeros(n_nodes, np.int32),
        np.zeros(n_nodes, np.int32), np.zeros(room), np.zeros(room, np.int32), np.zeros(2, np.int32),
    )  # fmt: skip


@njit(cache=True, nogil=True)
def _push(work, size, key, node):
    keys, nodes = work.heap_key, work.heap_node
    i = size
    while i > 0:
        parent = (i - 1) >> 1
        if keys[parent] <= key:
            break
        keys[i] = keys[parent]
        nodes[i] = nodes[parent]
        i = parent
    keys[i] = key
    nodes[i] = node
    return size + 1


@njit(cache=True, nogil=True)
def _pop(work, size):
    """Remove the least entry (slot 0); returns the new size."""
    keys, nodes = work.heap_key, work.heap_node
    size -= 1
    key, node = keys[size], nodes[size]
    i = 0
    while True:
        child = 2 * i + 1
        if child >= size:
            break
        if child + 1 < size and keys[child + 1] < keys[child]:
            child += 1
        if keys[child] >= key:
            break
        keys[i] = keys[child]
        nodes[i] = nodes[child]
        i = child
    keys[i] = key
    nodes[i] = node
    return size


@njit(cache=True, nogil=True)
def _edge_rates(graph, mode, edge):
    """Weight of a metre of an edge ridden as drawn, and against the drawing."""
    way = graph.edge_way[edge]
    rate = graph.rate[mode, graph.way_highway[way]]
    flags = graph.way_flags[way]
    if flags & graph.flag_mask:
        for bit in range(graph.flag_rate.shape[1]):
            if flags >> bit & 1:
                rate *= graph.flag_rate[mode, bit]
    ahead, back = rate, rate
    oneway = graph.way_oneway[way]
    if oneway > 0:
        back *= graph.against[mode]
    elif oneway < 0:
        ahead *= graph.against[mode]
    return ahead, back


@njit(cache=True, nogil=True)
def _offer(work, node, weight, length, arc, size):
    """Offer a way to a node; returns the new heap size."""
    mark = work.count[0]
    if work.stamp[node] == mark and work.weight[node] <= weight:
        return size
    work.stamp[node] = mark
    work.weight[node] = weight
    work.length[node] = length
    work.via[node] = arc
    return _push(work, size, weight, node)


@njit(cache=True, nogil=True)
def _spread(graph, work, mode, backwards, source, goal_mark, n_goals, reach):
    """Least weights from a node to the nodes around it, until all goals are settled.

    Goals are nodes with work.goal == goal_mark; via holds the arc a node was reached by, -1 at
    the source. backwards : arcs weigh what their opposites do, as for a step back.
    """
    work.count[0] += 1
    mark = work.count[0]
    size = _offer(work, source, 0.0, 0.0, -1, 0)
    left = n_goals
    while size > 0:
        key = work.heap_key[0]
        node = work.heap_node[0]
        size = _pop(work, size)
        if work.settled[node] == mark:
            continue
        work.settled[node] = mark
        if work.goal[node] == goal_mark:
            left -= 1
            if left == 0:
                break
        for k in range(graph.out_start[node], graph.out_start[node + 1]):
            arc = graph.out_arc[k]
            e = arc >> 1
            head = graph.edge_u[e] if arc & 1 else graph.edge_v[e]
            if work.settled[head] == mark:
                continue
            ahead, back = _edge_rates(graph, mode, e)
            m = graph.edge_length_m[e]
            weight = key + m * (back if bool(arc & 1) != backwards else ahead)
            if weight <= reach:
                size = _offer(work, head, weight, work.length[node] + m, arc, size)


@njit(cache=True, nogil=True)
def _mark_goals(graph, work, cand_edge, first, last):
    """Number the end nodes of the candidates' edges; returns (mark, how many)."""
    work.count[1] += 1
    mark = work.count[1]
    n_goals = 0
    for j in range(first, last):
        for node in (graph.edge_u[cand_edge[j]], graph.edge_v[cand_edge[j]]):
            if work.goal[node] != mark:
                work.goal[node] = mark
                work.goal_slot[node] = n_goals
                n_goals += 1
    return mark, n_goals


@njit(cache=True, nogil=True)
def _link(graph, mode, e, s, d, f, r, g, between, gap, beta, weight_beta, slack, costs):
    """Cost of riding from position s of edge e in direction d to position r of edge f in g.

    between : (weight, length) between the end nodes, shape (2, 2, 2, 2): [0 onward, 1 stepping
        back; end of e; end of f]; end 0 is u, end 1 is v
    Returns: cost, and how: 0 along the edge itself, else 1 + 2 * (end left by) + (end come in by).
    """
    e_ahead, e_back = _edge_rates(graph, mode, e)
    f_ahead, f_back = _edge_rates(graph, mode, f)
    e_length, f_length = graph.edge_length_m[e], graph.edge_length_m[f]
    best, how = _INF, -1
    for leave in range(2):
        out_m = e_length - s if leave == 1 else s
        out_w = out_m * (e_ahead if leave == 1 else e_back)
        turned = leave == d  # direction 0 leaves by v
        for enter in range(2):
            strange = enter != g  # direction 0 comes in by u
            way = 1 if strange else 0
            if (strange and not turned) or between[way, leave, enter, 0] == _INF:
                continue
            in_m = r if enter == 0 else f_length - r
            length = out_m + between[way, leave, enter, 1] + in_m
            if strange and length > slack:
                continue
            in_w = in_m * (f_ahead if enter == 0 else f_back)
            weight = out_w + between[way, leave, enter, 0] + in_w
            cost = _step_cost(mode, weight, length, gap, beta, weight_beta, costs, turned, strange)
            if cost < best:
                best, how = cost, 1 + 2 * leave + enter
    if e == f:
        length = abs(r - s)
        onward = 0 if r > s else 1
        same = d == g
        with_it = length < 1e-6 or onward == d
        if not (same and not with_it and length > slack) and (same or not with_it):
            weight = length * (e_ahead if r >= s else e_back)
            cost = _step_cost(
                mode,
                weight,
                length,
                gap,
                beta,
                weight_beta,
                costs,
                not with_it,
                same and not with_it,
            )
            if cost < best:
                best, how = cost, 0
        elif not same and with_it and length < 1e-6:
            cost = _step_cost(mode, 0.0, 0.0, gap, beta, weight_beta, costs, True, False)
            if cost < best:
                best, how = cost, 0
    return best, how


@njit(cache=True, nogil=True)
def _step_cost(mode, weight, length, gap, beta, weight_beta, costs, turned, strange):
    if strange:  # a step back: no progress, whatever the line's noise pretends
        return (gap + 0.2 * length) / beta
    cost = costs.turn if turned else 0.0
    excess = abs(length - gap) / beta
    if mode != 0:  # roads wind: a long way round between far points is no great surprise
        excess = WIND_TAIL * np.log1p(excess / WIND_TAIL)
    return cost + excess + (weight - length) / weight_beta


@njit(cache=True, nogil=True)
def likeliest(
    graph: Graph, work: Work, cands: Candidates, steps: Steps, costs: Costs
) -> Int32Array:
    """The likeliest state of each point, OFF_MAP where the ride lies off the map.

    Returns: 2 * candidate + direction, shape (n,).
    """
    n = len(cands.start) - 1
    total = len(cands.edge)
    cost = np.full(2 * total, _INF)
    back = np.full(2 * total, -2, dtype=np.int32)
    off_back = np.full(n, -2, dtype=np.int32)
    most = 1
    for t in range(n):
        most = max(most, cands.start[t + 1] - cands.start[t])
    table = np.zeros((2, 2 * most, 2 * most, 2))
    source_slot = np.empty((most, 2), dtype=np.int32)
    source_node = np.empty(2 * most, dtype=np.int32)
    between = np.zeros((2, 2, 2, 2))
    for j in range(cands.start[0], cands.start[1]):
        cost[2 * j] = cost[2 * j + 1] = 0.5 * (cands.dist_m[j] / steps.sigma_m[0]) ** 2
    off = steps.off_cost[0]
    for t in range(1, n):
        a, b = cands.start[t - 1], cands.start[t]
        c = cands.start[t + 1]
        mode, slack = steps.mode[t - 1], steps.slack_m[t - 1]
        gap, beta, reach = steps.gap_m[t - 1], steps.beta_m[t - 1], steps.reach_m[t - 1]
        weight_beta = steps.weight_beta_m[t - 1]
        least = off
        best_on = -1
        for i in range(2 * a, 2 * b):
            least = min(least, cost[i])
            if best_on < 0 or cost[i] < cost[best_on]:
                best_on = i
        goal_mark, n_goals = _mark_goals(graph, work, cands.edge, b, c)
        alone = b - a == 1 and c - b == 1 and cands.edge[a] == cands.edge[b]
        n_sources = 0
        for i in range(a, b):
            if min(cost[2 * i], cost[2 * i + 1]) > least + _HOPELESS or c == b:
                continue
            e = cands.edge[i]
            for end in range(2):
                node = graph.edge_v[e] if end else graph.edge_u[e]
                slot = -1
                for k in range(n_sources):
                    if source_node[k] == node:
                        slot = k
                        break
                if slot < 0:
                    slot = n_sources
                    source_node[slot] = node
                    n_sources += 1
                    for way in range(2):
                        for k in range(n_goals):
                            table[way, slot, k, 0] = _INF
                        if alone:
                            continue
                        _spread(
                            graph, work, mode, way == 1, node, goal_mark, n_goals,
                            slack if way else reach,
                        )  # fmt: skip
                        mark = work.count[0]
                        for j in range(b, c):
                            for goal in (graph.edge_u[cands.edge[j]], graph.edge_v[cands.edge[j]]):
                                k = work.goal_slot[goal]
                                if work.stamp[goal] == mark:
                                    table[way, slot, k, 0] = work.weight[goal]
                                    table[way, slot, k, 1] = work.length[goal]
                source_slot[i - a, end] = slot
        for i in range(a, b):
            if min(cost[2 * i], cost[2 * i + 1]) > least + _HOPELESS or c == b:
                continue
            for j in range(b, c):
                f = cands.edge[j]
                for leave in range(2):
                    row = source_slot[i - a, leave]
                    for enter in range(2):
                        k = work.goal_slot[graph.edge_v[f] if enter else graph.edge_u[f]]
                        between[0, leave, enter] = table[0, row, k]
                        between[1, leave, enter] = table[1, row, k]
                for d in range(2):
                    base = cost[2 * i + d]
                    for g in range(2):
                        if base >= cost[2 * j + g]:
                            continue
                        step, how = _link(
                            graph, mode, cands.edge[i], cands.at_m[i], d, f, cands.at_m[j], g,
                            between, gap, beta, weight_beta, slack, costs,
                        )  # fmt: skip
                        if base + step < cost[2 * j + g]:
                            cost[2 * j + g] = base + step
                            back[2 * j + g] = 2 * i + d
        lost = steps.off_gap_cost[t - 1]
        for j in range(2 * b, 2 * c):
            if off + costs.switch + lost < cost[j]:
                cost[j] = off + costs.switch + lost
                back[j] = OFF_MAP
            cost[j] += 0.5 * (cands.dist_m[j >> 1] / steps.sigma_m[t]) ** 2
        off_back[t] = OFF_MAP
        if best_on >= 0 and cost[best_on] + costs.switch < off:
            off = cost[best_on] + costs.switch
            off_back[t] = best_on
        off += lost + steps.off_cost[t]
    choice = np.full(n, OFF_MAP, dtype=np.int32)
    best, last = off, OFF_MAP
    for j in range(2 * cands.start[n - 1], 2 * cands.start[n]):
        if cost[j] < best:
            best, last = cost[j], j
    for t in range(n - 1, -1, -1):
        choice[t] = last
        last = off_back[t] if last == OFF_MAP else back[last]
    return choice


@njit(cache=True, nogil=True)
def ridden_pieces(
    graph: Graph, work: Work, cands: Candidates, steps: Steps, costs: Costs, choice: Int32Array
) -> tuple[Int32Array, FloatArray, FloatArray, Int32Array]:
    """The edge pieces ridden between chosen states.

    Returns: edge (k,), from_m, to_m along the edge in riding order, step (k,): the step (from
    point t to t + 1) each piece belongs to. Steps that touch OFF_MAP give no pieces.
    """
    room = 256
    edge = np.empty(room, dtype=np.int32)
    from_m = np.empty(room)
    to_m = np.empty(room)
    step = np.empty(room, dtype=np.int32)
    used = 0
    chain = np.empty(1024, dtype=np.int32)
    between = np.zeros((2, 2, 2, 2))
    for t in range(len(choice) - 1):
        if choice[t] == OFF_MAP or choice[t + 1] == OFF_MAP:
            continue
        i, j = choice[t] >> 1, choice[t + 1] >> 1
        d, g = choice[t] & 1, choice[t + 1] & 1
        mode = steps.mode[t]
        e, f = cands.edge[i], cands.edge[j]
        s, r = cands.at_m[i], cands.at_m[j]
        goal_mark, n_goals = _mark_goals(graph, work, cands.edge, j, j + 1)
        between[:] = _INF
        straight_on = e == f and d == g and (r - s) * (1 - 2 * d) >= 0.0
        if not straight_on:
            for way in range(2):
                for leave in range(2):
                    source = graph.edge_v[e] if leave else graph.edge_u[e]
                    reach = steps.slack_m[t] if way else steps.reach_m[t]
                    _spread(graph, work, mode, way == 1, source, goal_mark, n_goals, reach)
                    for enter in range(2):
                        goal = graph.edge_v[f] if enter else graph.edge_u[f]
                        if work.stamp[goal] == work.count[0]:
                            between[way, leave, enter, 0] = work.weight[goal]
                            between[way, leave, enter, 1] = work.length[goal]
        _, how = _link(
            graph, mode, e, s, d, f, r, g, between,
            steps.gap_m[t], steps.beta_m[t], steps.weight_beta_m[t], steps.slack_m[t], costs,
        )  # fmt: skip
        n_chain = 0
        leave, enter = (how - 1) >> 1, (how - 1) & 1
        if how > 0:
            source = graph.edge_v[e] if leave else graph.edge_u[e]
            strange = leave == d and enter != g
            reach = steps.slack_m[t] if strange else steps.reach_m[t]
            _spread(graph, work, mode, strange, source, goal_mark, n_goals, reach)
            tail = graph.edge_v[f] if enter else graph.edge_u[f]
            while tail != source:
                arc = work.via[tail]
                if n_chain == len(chain):
                    chain = _grown(chain, 2 * n_chain)
                chain[n_chain] = arc
                n_chain += 1
                tail = graph.edge_v[arc >> 1] if arc & 1 else graph.edge_u[arc >> 1]
        while used + n_chain + 2 > room:
            room *= 2
            edge, step = _grown(edge, room), _grown(step, room)
            from_m, to_m = _grown(from_m, room), _grown(to_m, room)
        if how <= 0:
            edge[used], from_m[used], to_m[used], step[used] = e, s, r, t
            used += 1
            continue
        edge[used], from_m[used], step[used] = e, s, t
        to_m[used] = graph.edge_length_m[e] if leave else 0.0
        used += 1
        for k in range(n_chain - 1, -1, -1):
            x, whole = chain[k] >> 1, graph.edge_length_m[chain[k] >> 1]
            edge[used], step[used] = x, t
            from_m[used] = whole if chain[k] & 1 else 0.0
            to_m[used] = 0.0 if chain[k] & 1 else whole
            used += 1
        edge[used], step[used] = f, t
        from_m[used] = graph.edge_length_m[f] if enter else 0.0
        to_m[used] = r
        used += 1
    return edge[:used].copy(), from_m[:used].copy(), to_m[:used].copy(), step[:used].copy()


@njit(cache=True, nogil=True)
def _grown(array, room):
    grown = np.empty(room, dtype=array.dtype)
    grown[: len(array)] = array
    return grown
