"""The cheapest ways from seeded nodes over arcs in rows, compiled."""

from __future__ import annotations

import numpy as np

from terrain.calc.heap import pop, push
from terrain.calc.kernels import Index, kernel
from terrain.values.arrays import FloatArray, Int32Array


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
