"""The most likely ride through candidate positions: a hidden Markov model on a road graph.

Source of the model: Newson and Krumm 2009, Hidden Markov map matching through noise and
sparseness, ACM GIS, doi 10.1145/1653771.1653818. It differs in four ways: a state that lies off
the map; routing weights that prefer what a motorcycle may ride; positions instead of directed
edges as states, so that a ride may turn round in the middle of a way; and tolerances that grow
with the gap between points.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numba import njit

from terrain.calc.candidates import Candidates
from terrain.values.arrays import BoolArray, FloatArray, Int8Array, Int16Array, Int32Array

OFF_MAP = -1
PATH_BIT = 512
_INF = np.inf


class Graph(NamedTuple):
    """The parts of a RoadsView that routing needs.

    rate : weight of a metre by highway code, shape (2, codes): row 0 where the line shows the
        way taken, row 1 where it must be guessed
    against : factor on the weight for riding against a one-way, shape (2,)
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
    against: FloatArray


class Steps(NamedTuple):
    """What the line says at each of its n points and between them.

    sigma_m : spread of the point about its way, shape (n,)
    off_cost : cost of lying off the map, shape (n,)
    gap_m : straight distance to the next point, shape (n - 1,)
    sparse : 1 where the gap must be guessed, shape (n - 1,)
    beta_m : tolerance of the difference between road and straight distance, shape (n - 1,)
    reach_m : longest weighted path tried, shape (n - 1,)
    """

    sigma_m: FloatArray
    off_cost: FloatArray
    gap_m: FloatArray
    sparse: Int8Array
    beta_m: FloatArray
    reach_m: FloatArray


class Work(NamedTuple):
    """Scratch memory of one search; `stamp` tells which entries belong to the current one."""

    weight: FloatArray
    length: FloatArray
    via: Int32Array
    stamp: Int32Array
    settled: Int32Array
    goal: Int32Array
    heap_key: FloatArray
    heap_node: Int32Array
    count: Int32Array


def make_work(n_nodes: int, n_edges: int) -> Work:
    """Scratch memory for a graph; pages are touched only where a search goes."""
    room = 2 * n_edges + 64
    return Work(
        np.zeros(n_nodes), np.zeros(n_nodes), np.zeros(n_nodes, np.int32),
        np.zeros(n_nodes, np.int32), np.zeros(n_nodes, np.int32), np.zeros(n_nodes, np.int32),
        np.zeros(room), np.zeros(room, np.int32), np.zeros(2, np.int32),
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
def _reach(graph, work, mode, node, weight, length, arc, size):
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
def _spread(graph, work, mode, edge, at_m, n_goals, reach):
    """Least weights from a position to the nodes around it, until all goals are settled.

    Goals are nodes with work.goal == the current mark; via holds the arc a node was reached by,
    -1 - arc for the two nodes of the starting edge.
    """
    mark = work.count[0]
    ahead, back = _edge_rates(graph, mode, edge)
    rest = graph.edge_length_m[edge] - at_m
    size = 0
    size = _reach(graph, work, mode, graph.edge_v[edge], rest * ahead, rest, -1 - 2 * edge, size)
    size = _reach(
        graph, work, mode, graph.edge_u[edge], at_m * back, at_m, -1 - (2 * edge + 1), size
    )
    left = n_goals
    while size > 0:
        key = work.heap_key[0]
        node = work.heap_node[0]
        size = _pop(work, size)
        if work.settled[node] == mark or key > work.weight[node]:
            continue
        if key > reach:
            break
        work.settled[node] = mark
        if work.goal[node] == mark:
            left -= 1
            if left == 0:
                break
        for k in range(graph.out_start[node], graph.out_start[node + 1]):
            arc = graph.out_arc[k]
            e = arc >> 1
            ahead, back = _edge_rates(graph, mode, e)
            if arc & 1:
                head, rate = graph.edge_u[e], back
            else:
                head, rate = graph.edge_v[e], ahead
            if work.settled[head] == mark:
                continue
            m = graph.edge_length_m[e]
            weight = key + m * rate
            if weight <= reach:
                size = _reach(graph, work, mode, head, weight, work.length[node] + m, arc, size)
    return left


@njit(cache=True, nogil=True)
def _arrival(graph, work, mode, edge, at_m, to_edge, to_at_m):
    """Least weight and its length from the spread's start to a position, and how it arrives.

    how : 0 along the starting edge itself, 1 through u as drawn, 2 through v, -1 not reached.
    """
    mark = work.count[0]
    ahead, back = _edge_rates(graph, mode, to_edge)
    best, length, how = _INF, _INF, -1
    if edge == to_edge:
        length = abs(to_at_m - at_m)
        best = length * (ahead if to_at_m >= at_m else back)
        how = 0
    u, v = graph.edge_u[to_edge], graph.edge_v[to_edge]
    if work.stamp[u] == mark:
        weight = work.weight[u] + to_at_m * ahead
        if weight < best:
            best, length, how = weight, work.length[u] + to_at_m, 1
    if work.stamp[v] == mark:
        rest = graph.edge_length_m[to_edge] - to_at_m
        weight = work.weight[v] + rest * back
        if weight < best:
            best, length, how = weight, work.length[v] + rest, 2
    return best, length, how


@njit(cache=True, nogil=True)
def _mark_goals(graph, work, cand_edge, first, last):
    """Start a new search whose goals are the end nodes of the candidates; returns their number."""
    work.count[0] += 1
    mark = work.count[0]
    n_goals = 0
    for j in range(first, last):
        for node in (graph.edge_u[cand_edge[j]], graph.edge_v[cand_edge[j]]):
            if work.goal[node] != mark:
                work.goal[node] = mark
                n_goals += 1
    return n_goals


@njit(cache=True, nogil=True)
def likeliest(
    graph: Graph,
    work: Work,
    cands: Candidates,
    steps: Steps,
    switch_cost: float,
    weight_beta_m: float,
) -> Int32Array:
    """The likeliest candidate of each point, OFF_MAP where the ride lies off the map.

    switch_cost : cost of leaving or joining the map
    weight_beta_m : metres of extra weight that cost one unit where the line shows the way
    Returns: candidate index, shape (n,).
    """
    n = len(cands.start) - 1
    total = len(cands.edge)
    cost = np.full(total, _INF)
    back = np.full(total, -2, dtype=np.int32)
    off_back = np.full(n, -2, dtype=np.int32)
    for j in range(cands.start[0], cands.start[1]):
        cost[j] = 0.5 * (cands.dist_m[j] / steps.sigma_m[0]) ** 2
    off = steps.off_cost[0]
    for t in range(1, n):
        a, b = cands.start[t - 1], cands.start[t]
        c = cands.start[t + 1]
        mode = steps.sparse[t - 1]
        gap, beta, reach = steps.gap_m[t - 1], steps.beta_m[t - 1], steps.reach_m[t - 1]
        least = off
        for i in range(a, b):
            least = min(least, cost[i])
        for i in range(a, b):
            # Too dear to be on the best ride: even a free step could not catch up.
            if cost[i] == _INF or cost[i] > least + 60.0:
                continue
            n_goals = _mark_goals(graph, work, cands.edge, b, c)
            if n_goals == 0:
                continue
            _spread(graph, work, mode, cands.edge[i], cands.at_m[i], n_goals, reach)
            for j in range(b, c):
                weight, length, how = _arrival(
                    graph, work, mode, cands.edge[i], cands.at_m[i], cands.edge[j], cands.at_m[j]
                )
                if how < 0:
                    continue
                if mode == 1:
                    step = max(0.0, weight - gap) / beta
                else:
                    step = abs(length - gap) / beta + (weight - length) / weight_beta_m
                if cost[i] + step < cost[j]:
                    cost[j] = cost[i] + step
                    back[j] = i
        best_on = -1
        for i in range(a, b):
            if best_on < 0 or cost[i] < cost[best_on]:
                best_on = i
        for j in range(b, c):
            if off + switch_cost < cost[j]:
                cost[j] = off + switch_cost
                back[j] = OFF_MAP
            cost[j] += 0.5 * (cands.dist_m[j] / steps.sigma_m[t]) ** 2
        off_back[t] = OFF_MAP
        if best_on >= 0 and cost[best_on] + switch_cost < off:
            off = cost[best_on] + switch_cost
            off_back[t] = best_on
        off += steps.off_cost[t]
    choice = np.full(n, OFF_MAP, dtype=np.int32)
    best, last = off, OFF_MAP
    for j in range(cands.start[n - 1], cands.start[n]):
        if cost[j] < best:
            best, last = cost[j], j
    for t in range(n - 1, -1, -1):
        choice[t] = last
        last = off_back[t] if last == OFF_MAP else back[last]
    return choice


@njit(cache=True, nogil=True)
def ridden_pieces(
    graph: Graph, work: Work, cands: Candidates, steps: Steps, choice: Int32Array
) -> tuple[Int32Array, FloatArray, FloatArray, Int32Array]:
    """The edge pieces ridden between chosen candidates.

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
    for t in range(len(choice) - 1):
        i, j = choice[t], choice[t + 1]
        if i == OFF_MAP or j == OFF_MAP:
            continue
        mode = steps.sparse[t]
        e, f = cands.edge[i], cands.edge[j]
        s, r = cands.at_m[i], cands.at_m[j]
        n_goals = _mark_goals(graph, work, cands.edge, j, j + 1)
        _spread(graph, work, mode, e, s, n_goals, steps.reach_m[t])
        _, _, how = _arrival(graph, work, mode, e, s, f, r)
        n_chain = 0
        tail = -1
        if how == 1:
            tail = graph.edge_u[f]
        elif how == 2:
            tail = graph.edge_v[f]
        while tail >= 0:
            arc = work.via[tail]
            if n_chain == len(chain):
                grown = np.empty(2 * n_chain, dtype=np.int32)
                grown[:n_chain] = chain
                chain = grown
            chain[n_chain] = arc
            n_chain += 1
            if arc < 0:
                break
            tail = graph.edge_v[arc >> 1] if arc & 1 else graph.edge_u[arc >> 1]
        while used + n_chain + 2 > room:
            room *= 2
            edge, step = _grown(edge, room), _grown(step, room)
            from_m, to_m = _grown(from_m, room), _grown(to_m, room)
        if how == 0:
            edge[used], from_m[used], to_m[used], step[used] = e, s, r, t
            used += 1
            continue
        for k in range(n_chain - 1, -1, -1):
            arc = chain[k]
            first = arc < 0
            if first:
                arc = -1 - arc
            x = arc >> 1
            whole = graph.edge_length_m[x]
            edge[used], step[used] = x, t
            from_m[used] = s if first else (whole if arc & 1 else 0.0)
            to_m[used] = 0.0 if arc & 1 else whole
            used += 1
        edge[used], step[used] = f, t
        from_m[used] = 0.0 if how == 1 else graph.edge_length_m[f]
        to_m[used] = r
        used += 1
    return edge[:used].copy(), from_m[:used].copy(), to_m[:used].copy(), step[:used].copy()


@njit(cache=True, nogil=True)
def _grown(array, room):
    grown = np.empty(room, dtype=array.dtype)
    grown[: len(array)] = array
    return grown
