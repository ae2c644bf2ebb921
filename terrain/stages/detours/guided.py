"""The cheapest way between two nodes, by a search that is drawn towards its goal."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from terrain.calc.geodesy import metres_per_degree
from terrain.calc.heap import pop, push
from terrain.calc.kernels import Index, kernel, plain
from terrain.calc.search import ArcGraph, arc_weight
from terrain.values.arrays import BoolArray, FloatArray, Int32Array, freeze_fields

# Size of the work; common practice, no source.
_TINY_M = 1e-6  # an edge of no length says nothing of what a metre costs
_SLACK = 0.999  # rounding may not make the way to the goal look dearer than it is
NONE_SHUT = np.zeros(0, dtype=np.bool_)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class GuidedGraph:
    """A graph on a plane, so that a search knows what the rest of a way costs at least.

    weight : of each arc; x_m, y_m : of each node; rate : no way costs less than this for each
    metre between its ends as the crow flies
    """

    graph: ArcGraph
    weight: FloatArray
    x_m: FloatArray
    y_m: FloatArray
    rate: float

    def __post_init__(self) -> None:
        freeze_fields(self, ("weight",), len(self.graph.head))
        freeze_fields(self, ("x_m", "y_m"), self.graph.n_nodes)


def guided_graph(
    graph: ArcGraph,
    edge_cost: FloatArray,
    *,
    edge_length_m: FloatArray,
    lon: FloatArray,
    lat: FloatArray,
) -> GuidedGraph:
    """The graph with what its arcs cost, and where its nodes lie.

    edge_cost : cost of each whole edge, shape (e,); must not be NaN or negative on arcs used
    edge_length_m : of each edge, shape (e,), along its line from node to node
    lon, lat : of each node [deg], shape (n,), without a jump at 180
    """
    weight = arc_weight(graph, edge_cost)
    length = edge_length_m[graph.edge]
    long = length > _TINY_M
    rate = np.min(weight[long] / length[long], initial=np.inf)
    # Degrees are nowhere in the graph shorter than these, so no straight line is too long.
    far = float(np.max(np.abs(lat), initial=0.0))
    return GuidedGraph(
        graph=graph,
        weight=weight,
        x_m=lon * metres_per_degree(far)[0],
        y_m=lat * metres_per_degree(0.0)[1],
        rate=float(rate) * _SLACK if np.isfinite(rate) else 0.0,
    )


def way_between(
    guided: GuidedGraph,
    first: int,
    last: int,
    *,
    limit: float = np.inf,
    shut: BoolArray = NONE_SHUT,
) -> Int32Array:
    """Arcs of the cheapest way from one node to another; empty if there is none.

    limit : most the way may cost; shut : edges of the graph that this way may not take, shape
    (e,), or of no length if it may take all
    """
    graph = guided.graph
    return _arcs_between(
        plain(graph.start, np.int32),
        plain(graph.head, np.int32),
        plain(graph.edge, np.int32),
        plain(guided.weight),
        plain(guided.x_m),
        plain(guided.y_m),
        float(guided.rate),
        int(first),
        int(last),
        float(limit),
        plain(shut, np.bool_),
    )


@kernel
def _arcs_between(
    start: Int32Array, head: Int32Array, edge: Int32Array, weight: FloatArray, x_m: FloatArray,
    y_m: FloatArray, rate: float, first: Index, last: Index, limit: float, shut: BoolArray,
) -> Int32Array:  # fmt: skip
    """Arcs of the cheapest way, in order.

    Source: Hart, Nilsson and Raphael 1968, IEEE Trans. Syst. Sci. Cybern. 4, 100-107: with a
    bound that never falls by more than an arc costs, no node is looked at twice.
    """
    n = len(start) - 1
    cost = np.full(n, np.inf)
    via = np.full(n, -1, np.int32)
    before = np.full(n, -1, np.int32)
    settled = np.zeros(n, np.bool_)
    room = len(head) + 1
    keys, nodes = np.empty(room), np.empty(room, np.int32)
    cost[first] = 0.0
    size = push(keys, nodes, np.int64(0), 0.0, np.int32(first))
    while size > 0:
        node = nodes[0]
        size = pop(keys, nodes, size)
        if settled[node]:
            continue
        settled[node] = True
        if node == last:
            break
        for arc in range(start[node], start[node + 1]):
            if len(shut) and shut[edge[arc]]:
                continue
            there = head[arc]
            longer = cost[node] + weight[arc]
            # A dead end leads nowhere but back.
            dead = start[there + 1] - start[there] == 1 and head[start[there]] == node
            if longer < cost[there] and not settled[there] and (not dead or there == last):
                x, y = x_m[there] - x_m[last], y_m[there] - y_m[last]
                rest = rate * np.sqrt(x * x + y * y)
                if longer + rest <= limit:
                    cost[there] = longer
                    via[there] = arc
                    before[there] = node
                    size = push(keys, nodes, size, longer + rest, there)
    count = 0
    if settled[last]:
        node = np.int32(last)
        while node != first:
            node = before[node]
            count += 1
    arcs = np.empty(count, np.int32)
    node = np.int32(last)
    for i in range(count - 1, -1, -1):
        arcs[i] = via[node]
        node = before[node]
    return arcs
