"""Least-weight searches from a node of the road graph, bounded and stopped at their goals.

One search costs as much as the nodes it touches: its scratch memory is never cleared, only
stamped. The region may be large, so nothing here is worked out for all its edges.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from terrain.calc.heap import pop, push
from terrain.calc.kernels import Index, inner, kernel
from terrain.values.arrays import FloatArray, Int8Array, Int16Array, Int32Array


class Graph(NamedTuple):
    """The parts of a RoadsView that routing needs.

    rate : weight of a metre by highway code, shape (modes, codes)
    flag_rate : factor on the weight by WayFlag bit, shape (modes, bits); flag_mask the bits that
        have one; they raise a weight to most at most, shape (modes,)
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
    most: FloatArray
    against: FloatArray


class Work(NamedTuple):
    """Scratch memory of searches, by node.

    weight, length, via : of the best way to a node; via is the arc it was reached by, -1 at the
        source. They hold for the last search where stamp == marks[0].
    settled : search that settled the node; goal : round of goals it belongs to, goal_slot its
        number among them
    heap_key, heap_node : the queue; marks : number of the last search, of the last round of goals
    """

    weight: FloatArray
    length: FloatArray
    via: Int32Array
    stamp: Int32Array
    settled: Int32Array
    goal: Int32Array
    goal_slot: Int32Array
    heap_key: FloatArray
    heap_node: Int32Array
    marks: Int32Array


class Goals(NamedTuple):
    """A round of goals: nodes with work.goal == mark, n_nodes of them."""

    mark: int
    n_nodes: int


def make_work(n_nodes: int, n_edges: int) -> Work:
    """Scratch memory for a graph; pages are touched only where a search goes."""
    room = 2 * n_edges + 64  # every arc is offered once at most, and the source
    return Work(
        weight=np.zeros(n_nodes), length=np.zeros(n_nodes), via=np.zeros(n_nodes, np.int32),
        stamp=np.zeros(n_nodes, np.int32), settled=np.zeros(n_nodes, np.int32),
        goal=np.zeros(n_nodes, np.int32), goal_slot=np.zeros(n_nodes, np.int32),
        heap_key=np.zeros(room), heap_node=np.zeros(room, np.int32), marks=np.zeros(2, np.int32),
    )  # fmt: skip


@kernel
def edge_rates(graph: Graph, mode: Index, edge: Index) -> tuple[float, float]:
    """Weight of a metre of an edge ridden as drawn, and against the drawing."""
    way = graph.edge_way[edge]
    rate = graph.rate[mode, graph.way_highway[way]]
    flags = graph.way_flags[way]
    if flags & graph.flag_mask:
        for bit in range(graph.flag_rate.shape[1]):
            if flags >> bit & 1:
                rate *= graph.flag_rate[mode, bit]
        rate = max(graph.rate[mode, graph.way_highway[way]], min(rate, graph.most[mode]))
    ahead, back = rate, rate
    oneway = graph.way_oneway[way]
    if oneway > 0:
        back *= graph.against[mode]
    elif oneway < 0:
        ahead *= graph.against[mode]
    return ahead, back


@kernel
def mark_goals(graph: Graph, work: Work, edges: Int32Array, first: Index, last: Index) -> Goals:
    """Make the end nodes of edges[first:last] the goals of the searches to come."""
    work.marks[1] += 1
    mark = work.marks[1]
    n_goals = 0
    for j in range(first, last):
        for end in range(2):
            node = graph.edge_v[edges[j]] if end else graph.edge_u[edges[j]]
            if work.goal[node] != mark:
                work.goal[node] = mark
                work.goal_slot[node] = n_goals
                n_goals += 1
    return Goals(mark, n_goals)


@kernel
def spread(
    graph: Graph,
    work: Work,
    source: Index,
    goals: Goals,
    mode: Index,
    backwards: bool,
    reach: float,
) -> None:
    """Search from a node until all goals are settled; the answers are left in `work`.

    mode : row of graph.rate; reach : greatest weight tried
    backwards : arcs weigh what their opposites do, as for a step back
    Source: Dijkstra 1959, Numerische Mathematik 1, 269-271, with a binary heap and stale entries.
    """
    work.marks[0] += 1
    mark = work.marks[0]
    size = _offer(work, source, 0.0, 0.0, np.int32(-1), np.int64(0))
    left = goals.n_nodes
    while size > 0:
        key = work.heap_key[0]
        node = work.heap_node[0]
        size = pop(work.heap_key, work.heap_node, size)
        if work.settled[node] == mark:
            continue
        work.settled[node] = mark
        if work.goal[node] == goals.mark:
            left -= 1
            if left == 0:
                break
        for k in range(graph.out_start[node], graph.out_start[node + 1]):
            arc = graph.out_arc[k]
            e = np.int32(arc >> 1)
            head = graph.edge_u[e] if arc & 1 else graph.edge_v[e]
            if work.settled[head] == mark:
                continue
            ahead, back = edge_rates(graph, mode, e)
            m = graph.edge_length_m[e]
            weight = key + m * (back if bool(arc & 1) != backwards else ahead)
            if weight <= reach:
                size = _offer(work, head, weight, work.length[node] + m, arc, size)


@inner
def _offer(work: Work, node: Index, weight: float, length: float, arc: Index, size: Index) -> Index:
    """Offer a way to a node; returns the new heap size."""
    mark = work.marks[0]
    if work.stamp[node] == mark and work.weight[node] <= weight:
        return size
    work.stamp[node] = mark
    work.weight[node] = weight
    work.length[node] = length
    work.via[node] = arc
    return push(work.heap_key, work.heap_node, size, weight, node)
