"""Ways through a gap by way of the nodes near it, looked at one after another; compiled."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from terrain.calc.kernels import Index, inner, kernel
from terrain.values.arrays import FloatArray, Int32Array


class Tree(NamedTuple):
    """The cheapest ways between one end of the gap and the nodes near it, shape (nodes,).

    before : the next node towards the end, -1 at the last one; edge : the edge to it
    """

    before: Int32Array
    edge: Int32Array


class Edges(NamedTuple):
    """Edges near the gap: the node each starts at, its length, and its column among the ways."""

    u: Int32Array
    length_m: FloatArray
    way: Int32Array


class Ends(NamedTuple):
    """The spots at both ends of the gap: edge, and metres from its start; shape (2,)."""

    edge: Int32Array
    at_m: FloatArray


@kernel
def edges_before(
    start: Int32Array, head: Int32Array, arc_edge: Int32Array, edge_cost: FloatArray,
    before: Int32Array,
) -> Int32Array:  # fmt: skip
    """The cheapest edge to each node from the one before it, -1 where there is none.

    start, head, arc_edge : arcs in rows by their tail, as an ArcGraph has them
    """
    edge = np.empty(len(before), np.int32)
    for node in range(len(before)):
        edge[node] = -1
        tail = before[node]
        if tail < 0:
            continue
        for arc in range(start[tail], start[tail + 1]):
            e = arc_edge[arc]
            better = edge[node] < 0 or edge_cost[e] < edge_cost[edge[node]]
            if head[arc] == node and better:
                edge[node] = e
    return edge


@kernel
def ways_by_nodes(
    nodes: Int32Array, there: Tree, back: Tree, edges: Edges, ends: Ends, alike: float,
    via: Int32Array, metres: FloatArray,
) -> Index:  # fmt: skip
    """The first ways by `nodes` that differ from those taken before; returns how many are taken.

    nodes : those to go by, likeliest first; there, back : ways from the first end, to the second
    alike : share of the shorter way's length from which two ways are taken for one
    via : node each way goes by, shape (most,), filled from row 1 on
    metres : by way, shape (most, ways); row 0 is the way ridden, the rows after it are filled
    """
    tried = np.zeros(len(there.before), np.bool_)
    seen = np.zeros(len(there.before), np.int32)
    chain = np.zeros(len(there.before), np.int32)
    taken = 1
    for i in range(len(nodes)):
        if taken == len(metres):
            break
        node = nodes[i]
        if tried[node]:
            continue
        tried[node] = True
        n_chain = _chain(node, there, back, seen, i + 1, chain)
        if n_chain == 0:  # rides back the way it came
            continue
        for k in range(n_chain):
            tried[chain[k]] = True
        _measure(node, there, back, edges, ends, metres, taken)
        if _is_new(metres, taken, alike):
            via[taken] = node
            taken += 1
    return taken


@inner
def _chain(
    node: Index, there: Tree, back: Tree, seen: Int32Array, mark: Index, chain: Int32Array
) -> Index:
    """List the nodes of the way by a node; returns how many, 0 if it passes one twice.

    seen : the mark of the last way that passed each node
    """
    n_chain = 0
    for side in range(2):
        before = back.before if side else there.before
        here = before[node] if side else node
        while here >= 0:
            if seen[here] == mark:
                return 0
            seen[here] = mark
            chain[n_chain] = here
            n_chain += 1
            here = before[here]
    return n_chain


@inner
def _measure(
    node: Index, there: Tree, back: Tree, edges: Edges, ends: Ends, metres: FloatArray, row: Index
) -> None:
    """Write the metres by way of the way by a node, with its parts of the edges at both ends."""
    for way in range(metres.shape[1]):
        metres[row, way] = 0.0
    for side in range(2):
        tree = back if side else there
        here = node
        while tree.before[here] >= 0:
            edge = tree.edge[here]
            metres[row, edges.way[edge]] = metres[row, edges.way[edge]] + edges.length_m[edge]
            here = tree.before[here]
        edge, at_m = ends.edge[side], ends.at_m[side]
        part = at_m if edges.u[edge] == here else edges.length_m[edge] - at_m
        metres[row, edges.way[edge]] = metres[row, edges.way[edge]] + part


@inner
def _is_new(metres: FloatArray, row: Index, alike: float) -> bool:
    """Whether a way has a length and differs from all rows before it."""
    length = _length(metres, row)
    if not length > 0.0:
        return False
    for other in range(row):
        common = 0.0
        for way in range(metres.shape[1]):
            common += min(metres[row, way], metres[other, way])
        if common / max(min(length, _length(metres, other)), 1.0) >= alike:
            return False
    return True


@inner
def _length(metres: FloatArray, row: Index) -> float:
    total = 0.0
    for way in range(metres.shape[1]):
        total += metres[row, way]
    return total
