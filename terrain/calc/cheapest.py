"""Arcs in rows by their tail, and the cheapest ways from seeded nodes over them, compiled."""

from __future__ import annotations

import numpy as np

from terrain.calc.heap import pop, push
from terrain.calc.kernels import Index, kernel
from terrain.values.arrays import BoolArray, Float32Array, FloatArray, Int8Array, Int32Array


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
    room = len(head) + len(seed_node) + 1
    keys, nodes = np.empty(room), np.empty(room, np.int32)
    size: Index = np.int64(0)
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


@kernel
def carried_along(
    start: Int32Array, head: Int32Array, weight: FloatArray, load: FloatArray,
    cost: FloatArray, before: Int32Array, at_seed: FloatArray,
) -> FloatArray:  # fmt: skip
    """What the cheapest way of each node adds up to in another unit than its cost.

    start, head, weight : as for `spread_cheapest`, which made cost and before; load : of each arc
    at_seed : what the way next to a source carries, for nodes without a node before
    Returns the load of each node's way; NaN where not reached.
    """
    n = len(cost)
    out = np.full(n, np.nan)
    stack = np.empty(n, np.int32)
    for first in range(n):
        if np.isnan(cost[first]):
            continue
        size: Index = np.int64(0)
        node: Index = np.int64(first)
        while np.isnan(out[node]) and before[node] >= 0:
            stack[size] = node
            size += 1
            node = np.int64(before[node])
        if np.isnan(out[node]):
            out[node] = at_seed[node]
        while size > 0:
            size -= 1
            there = np.int64(stack[size])
            least, added = np.inf, 0.0
            for arc in range(start[node], start[node + 1]):
                if head[arc] == there and weight[arc] < least:
                    least, added = weight[arc], load[arc]
            out[there] = out[node] + added
            node = there
    return out


@kernel
def downhill(
    out_start: Int32Array, out_arc: Int32Array, edge_u: Int32Array, edge_v: Int32Array,
    edge_way: Int32Array, oneway: Int8Array, usable: BoolArray, edge_cost: Float32Array,
    cost: Float32Array, node: Index,
) -> tuple[Int32Array, Index]:  # fmt: skip
    """Edges of the cheapest way from a node to its source, by the cost of each node alone.

    out_start, out_arc : arcs by node, as in RoadsView; oneway : of ways; usable, edge_cost : of
        edges; cost : least cost to the source from each node, NaN where there is none
    Returns the edges in riding order, and the last node, next to the source.
    """
    edges = np.empty(len(cost), np.int32)
    size: Index = np.int64(0)
    here: Index = np.int64(node)
    while size < len(edges):
        least, by, there = np.inf, np.int64(-1), np.int64(-1)
        for i in range(out_start[here], out_start[here + 1]):
            edge, against = out_arc[i] >> 1, out_arc[i] & 1
            if not usable[edge] or oneway[edge_way[edge]] == (1 if against else -1):
                continue
            head = edge_u[edge] if against else edge_v[edge]
            total = np.float64(edge_cost[edge]) + np.float64(cost[head])
            if cost[head] < cost[here] and total < least:
                least, by, there = total, np.int64(edge), np.int64(head)
        # Costs are stored as float32: a way by arcs is no way on if it is longer than that.
        if by < 0 or least > np.float64(cost[here]) * (1 + 1e-6) + 1e-3:
            break
        edges[size] = by
        size += 1
        here = there
    return edges[:size].copy(), here
