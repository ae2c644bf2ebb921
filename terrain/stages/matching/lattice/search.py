"""Least-weight searches from a node of the road graph, bounded and stopped at their goals.

One search costs as much as the nodes it touches: its scratch memory is never cleared, only
stamped. The region may be large, so nothing here is worked out for all its edges.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from terrain.calc.heap import pop, push
from terrain.calc.kernels import Index, inner, kernel
from terrain.values.arrays import FloatArray, Int32Array


class EdgeGraph(NamedTuple):
    """The parts of a RoadsView that routing needs.

    rate : weight of a metre by kind of arc, shape (modes, kinds of arcs)
    least : least weight of a metre, shape (modes,)
    """

    node_lon: FloatArray
    node_lat: FloatArray

    edge_u: Int32Array
    edge_v: Int32Array
    edge_way: Int32Array
    edge_length_m: FloatArray
    way_kind: Int32Array
    out_start: Int32Array
    out_arc: Int32Array
    arc_head: Int32Array
    arc_length_m: FloatArray
    arc_kind: Int32Array
    rate: FloatArray
    least: FloatArray


class Aim(NamedTuple):
    """Where a search leads: to within near_m of a spot [deg], east_m and north_m metres a degree.

    rate : least weight of a metre on the way; 0 for a search that leads anywhere
    """

    lon: float
    lat: float
    east_m: float
    north_m: float
    near_m: float
    rate: float


class SearchBuffers(NamedTuple):
    """Scratch memory of searches, by node.

    weight, length, via : of the best way to a node; via is the place in out_arc of the arc it was
        reached by, -1 at the source. They hold where the last search `reached` the node.
    stamp : marks[0] if the last search reached the node, marks[0] + 1 once it settled it
    goal : marks[1] if the node is a goal of the searches to come
    heap_key, heap_node : the queue
    """

    weight: FloatArray
    length: FloatArray
    via: Int32Array
    stamp: Int32Array
    goal: Int32Array
    heap_key: FloatArray
    heap_node: Int32Array
    marks: Int32Array


def make_work(n_nodes: int, n_edges: int) -> SearchBuffers:
    """Scratch memory for a graph; pages are touched only where a search goes."""
    room = 2 * n_edges + 64  # every arc is offered once at most, and the source
    return SearchBuffers(
        weight=np.zeros(n_nodes), length=np.zeros(n_nodes), via=np.zeros(n_nodes, np.int32),
        stamp=np.zeros(n_nodes, np.int32), goal=np.zeros(n_nodes, np.int32),
        heap_key=np.zeros(room), heap_node=np.zeros(room, np.int32), marks=np.zeros(2, np.int32),
    )  # fmt: skip


@inner
def clear_goals(work: SearchBuffers) -> None:
    """From here on no node is a goal."""
    work.marks[1] += 1


@inner
def add_goal(work: SearchBuffers, node: Index) -> Index:
    """Make a node a goal; returns 1 if it was none, else 0."""
    if work.goal[node] == work.marks[1]:
        return 0
    work.goal[node] = work.marks[1]
    return 1


@inner
def reached(work: SearchBuffers, node: Index) -> bool:
    """Whether the last search found the best way to a goal."""
    return bool(work.stamp[node] >= work.marks[0])


@kernel
def spread(
    graph: EdgeGraph,
    work: SearchBuffers,
    source: Index,
    n_goals: Index,
    mode: Index,
    backwards: Index,
    reach: float,
    aim: Aim,
) -> None:
    """Search from a node until all goals are settled; the answers are left in `work`.

    mode : row of graph.rate; reach : greatest weight tried, of the way to the spot aimed at
    backwards : 1 if arcs weigh what their opposites do, as for a step back, else 0
    Source: Hart, Nilsson and Raphael 1968, A formal basis for the heuristic determination of
    minimum cost paths, IEEE Transactions SSC 4, with a heap and stale entries. The straight
    distance still to go never falls faster than the weight grows, so what is settled is right.
    """
    work.marks[0] += 2
    seen = work.marks[0]
    settled = seen + 1
    rate = graph.rate[mode]
    work.stamp[source] = seen
    work.weight[source] = work.length[source] = 0.0
    work.via[source] = -1
    size: Index = push(work.heap_key, work.heap_node, np.int64(0), 0.0, source)
    left = n_goals
    while size > 0 and left > 0:
        node = work.heap_node[0]
        size = pop(work.heap_key, work.heap_node, size)
        if work.stamp[node] == settled:
            continue
        work.stamp[node] = settled
        if work.goal[node] == work.marks[1]:
            left -= 1
        so_far, length = work.weight[node], work.length[node]
        for k in range(graph.out_start[node], graph.out_start[node + 1]):
            head = graph.arc_head[k]
            stamp = work.stamp[head]
            if stamp == settled:
                continue
            m = graph.arc_length_m[k]
            weight = so_far + m * rate[graph.arc_kind[k] ^ backwards]
            if weight > reach or (stamp == seen and work.weight[head] <= weight):
                continue
            key = weight + _to_go(graph, aim, head)
            if key > reach:
                continue
            work.stamp[head] = seen
            work.weight[head] = weight
            work.length[head] = length + m
            work.via[head] = k
            size = push(work.heap_key, work.heap_node, size, key, head)


@inner
def _to_go(graph: EdgeGraph, aim: Aim, node: Index) -> float:
    """Least weight from a node to the spot aimed at."""
    if aim.rate == 0.0:
        return 0.0
    x = (graph.node_lon[node] - aim.lon) * aim.east_m
    y = (graph.node_lat[node] - aim.lat) * aim.north_m
    apart_m: float = np.sqrt(x * x + y * y)
    return aim.rate * max(0.0, apart_m - aim.near_m)
