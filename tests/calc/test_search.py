"""Searches by road against networkx, an independent implementation of Dijkstra's algorithm."""

from __future__ import annotations

from itertools import pairwise
from typing import NamedTuple

import networkx as nx
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from terrain.calc.search import (
    arc_graph,
    edge_seeds,
    node_seeds,
    search,
    walk,
)


class Net(NamedTuple):
    u: np.ndarray
    v: np.ndarray
    length: np.ndarray
    oneway: np.ndarray
    usable: np.ndarray
    n: int

    def graph(self, *, reverse: bool):
        return arc_graph(
            self.u, self.v, n_nodes=self.n, oneway=self.oneway, usable=self.usable, reverse=reverse
        )

    def seeds(self, edge, at_m, *, reverse: bool):
        return edge_seeds(
            np.asarray(edge, np.int32), np.asarray(at_m, float), edge_u=self.u, edge_v=self.v,
            edge_length_m=self.length, edge_cost=self.length, oneway=self.oneway, reverse=reverse,
        )  # fmt: skip

    def networkx(self) -> nx.MultiDiGraph:
        out = nx.MultiDiGraph()
        out.add_nodes_from(range(self.n))
        for k in np.flatnonzero(self.usable):
            u, v, m = int(self.u[k]), int(self.v[k]), float(self.length[k])
            if self.oneway[k] != -1:
                out.add_edge(u, v, length=m)
            if self.oneway[k] != 1:
                out.add_edge(v, u, length=m)
        return out


def _random_net(seed: int, n: int = 30, edges: int = 60) -> Net:
    """Loops, parallel edges, oneways both ways, closed edges and lone nodes are all likely."""
    rng = np.random.default_rng(seed)
    return Net(
        u=rng.integers(0, n, edges).astype(np.int32),
        v=rng.integers(0, n, edges).astype(np.int32),
        length=np.round(rng.uniform(1, 1000, edges), 1),
        oneway=rng.choice(np.array([0, 0, 0, 1, -1], np.int8), edges),
        usable=rng.random(edges) < 0.9,
        n=n,
    )


def _with_place(net: Net, edge: int, at_m: float) -> nx.MultiDiGraph:
    """The same graph with a node "place" that cuts one edge, as a surveyor would draw it."""
    out = net.networkx()
    u, v, m = int(net.u[edge]), int(net.v[edge]), float(net.length[edge])
    if net.oneway[edge] != -1:
        out.add_edge(u, "place", length=at_m)
        out.add_edge("place", v, length=m - at_m)
    if net.oneway[edge] != 1:
        out.add_edge(v, "place", length=m - at_m)
        out.add_edge("place", u, length=at_m)
    return out


@settings(max_examples=60, deadline=None)
@given(st.integers(0, 10_000), st.booleans(), st.floats(0, 1))
def test_distance_to_and_from_a_place_on_an_edge_equals_networkx(seed, reverse, part) -> None:
    net = _random_net(seed)
    edge = seed % len(net.u)
    at_m = part * net.length[edge]
    found = search(net.graph(reverse=reverse), net.length, net.seeds([edge], [at_m],
                   reverse=reverse))  # fmt: skip
    oracle = _with_place(net, edge, at_m)
    if reverse:
        oracle = oracle.reverse()
    want = nx.single_source_dijkstra_path_length(oracle, "place", weight="length")
    for node in range(net.n):
        if node in want:
            assert found.cost[node] == pytest.approx(want[node], abs=1e-3)
            assert found.source[node] == 0
        else:
            assert np.isnan(found.cost[node])
            assert found.source[node] == -1


@settings(max_examples=40, deadline=None)
@given(st.integers(0, 10_000), st.integers(1, 8))
def test_nearest_of_many_sources_equals_the_least_of_single_searches(seed, n_sources) -> None:
    net = _random_net(seed)
    rng = np.random.default_rng(seed + 1)
    edge = rng.integers(0, len(net.u), n_sources)
    at_m = rng.random(n_sources) * net.length[edge]
    graph = net.graph(reverse=True)
    found = search(graph, net.length, net.seeds(edge, at_m, reverse=True))
    single = np.stack([
        search(graph, net.length, net.seeds([e], [a], reverse=True)).cost
        for e, a in zip(edge, at_m, strict=True)
    ])  # fmt: skip
    lone = np.isnan(single).all(axis=0)
    least = np.min(np.where(np.isnan(single), np.inf, single), axis=0)
    np.testing.assert_array_equal(np.isnan(found.cost), lone)
    np.testing.assert_allclose(found.cost[~lone], least[~lone], atol=1e-6)
    of_source = single[found.source[~lone], np.flatnonzero(~lone)]
    np.testing.assert_allclose(of_source, least[~lone], atol=1e-6)


def _cheapest_edge(graph, net: Net, tail: int, head: int) -> tuple[int, bool]:
    """The cheapest edge from tail to head, and whether it runs forward."""
    row = range(graph.start[tail], graph.start[tail + 1])
    arc = min((k for k in row if graph.head[k] == head), key=lambda k: net.length[graph.edge[k]])
    return int(graph.edge[arc]), bool(graph.forward[arc])


@settings(max_examples=40, deadline=None)
@given(st.integers(0, 10_000))
def test_walk_to_the_source_is_as_long_as_the_distance(seed) -> None:
    net = _random_net(seed)
    graph = net.graph(reverse=True)
    target = seed % net.n
    found = search(graph, net.length, node_seeds([target]))
    ahead = net.graph(reverse=False)
    for node in np.flatnonzero(~np.isnan(found.cost)):
        path = walk(found.before, int(node))
        assert path[-1] == target
        steps = [_cheapest_edge(ahead, net, a, b) for a, b in pairwise(path)]
        assert sum(net.length[k] for k, _ in steps) == pytest.approx(found.cost[node], abs=1e-3)
        for (k, on), here, there in zip(steps, path, path[1:], strict=False):
            ends = (net.u[k], net.v[k]) if on else (net.v[k], net.u[k])
            assert ends == (here, there)
            assert net.oneway[k] != (-1 if on else 1)


def test_parallel_edges_are_not_added_up() -> None:
    net = Net(
        u=np.array([0, 0], np.int32), v=np.array([1, 1], np.int32), length=np.array([300.0, 200.0]),
        oneway=np.zeros(2, np.int8), usable=np.ones(2, bool), n=2,
    )  # fmt: skip
    found = search(net.graph(reverse=False), net.length, node_seeds([0]))
    assert found.cost[1] == pytest.approx(200.0, abs=1e-3)


def test_oneway_decides_between_to_and_from() -> None:
    """Round a block: 100 m with the arrow, 300 m the long way back."""
    net = Net(
        u=np.array([0, 1, 2], np.int32), v=np.array([1, 2, 0], np.int32),
        length=np.array([100.0, 100.0, 200.0]), oneway=np.ones(3, np.int8),
        usable=np.ones(3, bool), n=3,
    )  # fmt: skip
    there = search(net.graph(reverse=True), net.length, node_seeds([1])).cost
    back = search(net.graph(reverse=False), net.length, node_seeds([1])).cost
    assert there[0] == pytest.approx(100.0, abs=1e-3)
    assert back[0] == pytest.approx(300.0, abs=1e-3)


@settings(max_examples=30, deadline=None)
@given(st.integers(0, 10_000))
def test_search_from_one_node_equals_networkx(seed) -> None:
    net = _random_net(seed)
    found = search(net.graph(reverse=False), net.length, node_seeds([seed % net.n]))
    want = nx.single_source_dijkstra_path_length(net.networkx(), seed % net.n, weight="length")
    assert {i for i in range(net.n) if found.source[i] == 0} == set(want)
    for node, metres in want.items():
        assert found.cost[node] == pytest.approx(metres, abs=1e-3)


def test_limit_leaves_far_nodes_out_and_no_source_finds_nothing() -> None:
    net = _random_net(3)
    graph = net.graph(reverse=False)
    near = search(graph, net.length, node_seeds([0]), limit=400.0)
    far = search(graph, net.length, node_seeds([0]))
    assert np.nanmax(near.cost) <= 400.0
    np.testing.assert_array_equal(~np.isnan(near.cost), far.cost <= 400.0)
    assert np.isnan(search(graph, net.length, node_seeds([])).cost).all()


def test_missing_weight_is_refused() -> None:
    net = _random_net(1)
    weight = net.length.copy()
    weight[np.flatnonzero(net.usable)[0]] = np.nan
    with pytest.raises(ValueError, match="NaN"):
        search(net.graph(reverse=False), weight, node_seeds([0]))


@pytest.mark.parametrize("reverse", [False, True])
@pytest.mark.parametrize(
    ("at_m", "to_u", "to_v"), [(-5.0, 0, 60), (0, 0, 60), (25, 15, 45), (100, 60, 0), (130, 60, 0)]
)
def test_seeds_share_an_edge_by_where_the_source_lies(
    reverse: bool, at_m: float, to_u: float, to_v: float
) -> None:
    """An edge of 100 m that costs 60; what lies beyond an end counts as at it."""
    seeds = edge_seeds(
        np.array([0, -1], np.int32), np.array([at_m, 0.0]), edge_u=np.array([3], np.int32),
        edge_v=np.array([4], np.int32), edge_length_m=np.array([100.0]),
        edge_cost=np.array([60.0]), oneway=np.zeros(1, np.int8), reverse=reverse,
    )  # fmt: skip
    assert dict(zip(seeds.node.tolist(), seeds.cost.tolist(), strict=True)) == pytest.approx(
        {3: to_u, 4: to_v}
    )
    assert seeds.source.tolist() == [0, 0]
