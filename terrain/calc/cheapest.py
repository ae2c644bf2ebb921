"""Arcs in rows by their tail, and the cheapest ways from seeded nodes over them, compiled."""

from __future__ import annotations

import numpy as np

from terrain.calc.heap import pop, push
from terrain.calc.kernels import Index, kernel
from terrain.values.arrays import BoolArray, FloatArray, Int8Array, Int32Array


@kernel
def arcs_in_rows(
    edge_u: Int32Array, edge_v: Int32Array, n_nodes: Index, oneway: Int8Array, usable: BoolArray,
    reverse: bool,
) -> tuple[Int32Array, Int32Array, Int32Array, BoolArray]:  # fmt: skip
    """Arcs of the usable edges by their tail: start of each row, and head, edge, forward of each.

    oneway : 1 along, -1 against, 0 both; reverse : turn every arc round
    A row holds the arcs along their edges first, then those against; by edge within both.
    """
    start = np.zeros(n_nodes + 1, np.int32)
    for k in range(len(edge_u)):
        if usable[k]:
            along, against = (edge_v[k], edge_u[k]) if reverse else (edge_u[k], edge_v[k])
            start[along + 1] += oneway[k] != -1
            start[against + 1] += oneway[k] != 1
    for node in range(n_nodes):
        start[node + 1] += start[node]
    place = start[:n_nodes].copy()
    head, edge = np.empty(start[n_nodes], np.int32), np.empty(start[n_nodes], np.int32)
    forward = np.empty(start[n_nodes], np.bool_)
    for ahead in (True, False):
        for k in range(len(edge_u)):
            if usable[k] and oneway[k] != (-1 if ahead else 1):
                from_u = ahead != reverse
                tail = edge_u[k] if from_u else edge_v[k]
                arc = place[tail]
                place[tail] += 1
                head[arc] = edge_v[k] if from_u else edge_u[k]
                edge[arc] = k
                forward[arc] = ahead
    return start, head, edge, forward


@kernel
def spread_cheapest(
    start: Int32Array,
    head: Int32Array,
    weight: FloatArray,
    seed_node: Int32Array,
    seed_cost: FloatArray,
    seed_source: Int32Array,
    limit: float,
) -> tuple[FloatArray, Int32Array, Int32Array]:
    """Least cost of each node from its nearest seed, the source of that seed, the node before.

    start, head : row i owns arcs start[i] .. start[i + 1] - 1; weight : of each arc, not negative
    limit : nodes farther than this are left out
    Returns cost (NaN where not reached), source and before (-1 where none).
    Source: Dijkstra 1959, Numerische Mathematik 1, 269-271, with a binary heap and stale entries.
    """
    n = len(start) - 1
    cost = np.full(n, np.inf)
    source = np.full(n, -1, np.int32)
    before = np.full(n, -1, np.int32)
    keys = np.empty(len(head) + len(seed_node) + 1)
    nodes = np.empty(len(head) + len(seed_node) + 1, np.int32)
    size: Index = 0
    for i in range(len(seed_node)):
        node = seed_node[i]
        if seed_cost[i] <= limit and seed_cost[i] < cost[node]:
            cost[node] = seed_cost[i]
            source[node] = seed_source[i]
            size = push(keys, nodes, size, seed_cost[i], node)
    while size > 0:
        key, node = keys[0], nodes[0]
        size = pop(keys, nodes, size)
        if key > cost[node]:
            continue
        for arc in range(start[node], start[node + 1]):
            there = head[arc]
            longer = key + weight[arc]
            if longer < cost[there] and longer <= limit:
                cost[there] = longer
                source[there] = source[node]
                before[there] = node
                out = start[there]
                # From a dead end there is only the way back.
                if start[there + 1] - out != 1 or head[out] != node:
                    size = push(keys, nodes, size, longer, there)
    for node in range(n):
        if cost[node] == np.inf:
            cost[node] = np.nan
    return cost, source, before
