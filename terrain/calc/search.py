"""Quickest and shortest ways by road, from many sources at once.

Dijkstra's algorithm over arcs held in rows by their tail. Parallel
edges stay apart, so that the better one wins. Places lie anywhere along an edge: each becomes a
source with an arc to the ends of its edge that may be reached from it.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from terrain.calc.cheapest import arcs_in_rows, carried_along, spread_cheapest
from terrain.calc.kernels import plain
from terrain.values.arrays import (
    BoolArray,
    Columns,
    FloatArray,
    Int8Array,
    Int32Array,
    freeze_fields,
)
from terrain.values.views import RoadsView

_TINY = 1e-6  # edges of no length are not divided by: common practice


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ArcGraph:
    """Directed arcs in rows: row i owns arcs start[i] .. start[i + 1] - 1.

    head : node each arc leads to; edge : edge it runs on; forward : True if it runs in the
    edge's drawing order. In a reversed graph `head` is where the arc comes from, so that a
    search finds the cost of reaching the sources instead of the cost of leaving them.
    """

    start: Int32Array
    head: Int32Array
    edge: Int32Array
    forward: BoolArray

    def __post_init__(self) -> None:
        freeze_fields(self, ("start",))
        freeze_fields(self, ("head", "edge", "forward"), len(self.head))

    @property
    def n_nodes(self) -> int:
        return len(self.start) - 1


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Seeds(Columns):
    """Where a search starts: `node` at `cost` on behalf of source `source`; shape (s,).

    Sources are numbered from 0; one source may seed several nodes.
    """

    node: Int32Array
    cost: FloatArray
    source: Int32Array


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ShortestPaths(Columns):
    """Result of a search; shape (nodes,) each.

    cost : in the unit of the weights, NaN where no source can be reached
    source : the source it belongs to, -1 where NaN
    before : the neighbour on the best way, towards the source; -1 next to the source or NaN
    """

    cost: FloatArray
    source: Int32Array
    before: Int32Array


def arc_graph(
    edge_u: Int32Array,
    edge_v: Int32Array,
    *,
    n_nodes: int,
    oneway: Int8Array,
    usable: BoolArray,
    reverse: bool = False,
) -> ArcGraph:
    """Arcs of the usable edges.

    edge_u, edge_v : end nodes in drawing order; oneway : 1 along, -1 against, 0 both; usable :
        edges to keep; shape (e,) each
    reverse : turn every arc round, to search towards the sources
    """
    start, head, edge, forward = arcs_in_rows(
        plain(edge_u, np.int32),
        plain(edge_v, np.int32),
        n_nodes,
        plain(oneway, np.int8),
        plain(usable, np.bool_),
        reverse,
    )
    return ArcGraph(start=start, head=head, edge=edge, forward=forward)


def edge_seeds(
    edge: Int32Array,
    at_m: FloatArray,
    *,
    edge_u: Int32Array,
    edge_v: Int32Array,
    edge_length_m: FloatArray,
    edge_cost: FloatArray,
    oneway: Int8Array,
    reverse: bool = False,
) -> Seeds:
    """Seeds for sources lying along edges.

    edge, at_m : edge of each source and metres from its start, shape (s,); sources with edge -1
        seed nothing
    edge_cost : cost of each whole edge, shape (e,)
    reverse : True for a reversed graph: the cost from the edge's ends to the source
    """
    on = np.flatnonzero(np.asarray(edge) >= 0).astype(np.int32)
    k = np.asarray(edge)[on]
    length = np.maximum(edge_length_m[k], _TINY)
    part = np.clip(np.asarray(at_m)[on] / length, 0.0, 1.0)
    to_v = part if reverse else 1.0 - part
    # From the source one leaves forward by v; one comes to it forward from u.
    ahead_node, back_node = (edge_u[k], edge_v[k]) if reverse else (edge_v[k], edge_u[k])
    ahead, back = oneway[k] != -1, oneway[k] != 1
    return Seeds(
        node=np.concatenate((ahead_node[ahead], back_node[back])).astype(np.int32),
        cost=np.concatenate(((to_v * edge_cost[k])[ahead], ((1.0 - to_v) * edge_cost[k])[back])),
        source=np.concatenate((on[ahead], on[back])).astype(np.int32),
    )


def node_seeds(node: ArrayLike) -> Seeds:
    """Seeds for sources that are nodes, at no cost."""
    nodes = np.asarray(node, dtype=np.int32)
    return Seeds(
        node=nodes,
        cost=np.zeros(len(nodes)),
        source=np.arange(len(nodes), dtype=np.int32),
    )


def search(
    graph: ArcGraph,
    edge_cost: FloatArray,
    seeds: Seeds,
    *,
    limit: float = np.inf,
) -> ShortestPaths:
    """The least cost between every node and its nearest source.

    edge_cost : cost of each whole edge, shape (e,); must not be NaN or negative on arcs used
    limit : nodes farther than this are left out (NaN)
    Over a reversed graph the cost is from the node to the source, else from the source to it.
    """
    return search_weighed(graph, arc_weight(graph, edge_cost), seeds, limit=limit)


def arc_weight(graph: ArcGraph, edge_cost: FloatArray) -> FloatArray:
    """The cost of each arc. Raises ValueError if one is NaN or negative."""
    weight = edge_cost[graph.edge]
    # Not "any below zero": a NaN is not below, and has to be found as well.
    if len(weight) and not weight.min() >= 0:
        raise ValueError("edge_cost holds NaN or negative values on usable edges")
    return weight


def search_weighed(
    graph: ArcGraph, weight: FloatArray, seeds: Seeds, *, limit: float = np.inf
) -> ShortestPaths:
    """`search` over arcs weighed by `arc_weight`, which many searches may share."""
    if np.isnan(seeds.cost).any():
        raise ValueError("a seed has no cost")
    cost, source, before = spread_cheapest(
        plain(graph.start, np.int32),
        plain(graph.head, np.int32),
        plain(weight),
        plain(seeds.node, np.int32),
        plain(seeds.cost),
        plain(seeds.source, np.int32),
        float(limit),
    )
    return ShortestPaths(cost=cost, source=source, before=before)


def walk(before: Int32Array, node: int) -> list[int]:
    """Nodes from `node` along Found.before to the one next to the source, both included."""
    path = [int(node)]
    while (node := int(before[node])) >= 0:
        path.append(node)
    return path


class RoadNet:
    """The usable roads of a region as a graph in one direction, with its riding times.

    usable : shape (e,); edge_s : time of each whole edge [s], NaN counts as closed; reverse :
        True to search towards the sources
    """

    __slots__ = ("edge_s", "graph", "oneway", "reverse", "roads")

    def __init__(
        self, roads: RoadsView, usable: BoolArray, edge_s: FloatArray, *, reverse: bool
    ) -> None:
        self.roads = roads
        self.reverse = reverse
        self.edge_s = edge_s
        self.oneway: Int8Array = roads.ways.oneway[roads.edge_way]
        self.graph = arc_graph(
            roads.edge_u,
            roads.edge_v,
            n_nodes=roads.n_nodes,
            oneway=self.oneway,
            usable=usable & ~np.isnan(edge_s),
            reverse=reverse,
        )

    def nearest(self, edge: Int32Array, at_m: FloatArray, edge_cost: FloatArray) -> ShortestPaths:
        """The nearest of places along edges, from or to every node, by the given cost."""
        return search(self.graph, edge_cost, self._seeds(edge, at_m, edge_cost))

    def carried(
        self, found: ShortestPaths, edge: Int32Array, at_m: FloatArray, edge_cost: FloatArray, *,
        load: FloatArray,
    ) -> FloatArray:  # fmt: skip
        """What the ways that `nearest` found add up to for every node, by a load of each edge."""
        seeds = self._seeds(edge, at_m, edge_cost)
        start_load = self._seeds(edge, at_m, load).cost  # in the order of the seeds
        at_seed = np.zeros(self.graph.n_nodes)
        chosen = seeds.cost <= found.cost[seeds.node]
        at_seed[seeds.node[chosen]] = start_load[chosen]
        return carried_along(
            plain(self.graph.start, np.int32), plain(self.graph.head, np.int32),
            plain(arc_weight(self.graph, edge_cost)), plain(load[self.graph.edge]),
            plain(found.cost), plain(found.before, np.int32), plain(at_seed),
        )  # fmt: skip

    def _seeds(self, edge: Int32Array, at_m: FloatArray, edge_cost: FloatArray) -> Seeds:
        # A place on a road without a known time can still be ridden up to.
        cost = np.where(np.isnan(edge_cost), self.roads.edge_length_m, edge_cost)
        return edge_seeds(
            edge,
            at_m,
            edge_u=self.roads.edge_u,
            edge_v=self.roads.edge_v,
            edge_length_m=self.roads.edge_length_m,
            edge_cost=cost,
            oneway=self.oneway,
            reverse=self.reverse,
        )
