"""Cheapest ways, what they carry and how they are walked back, on nets small enough to see."""

from __future__ import annotations

from itertools import pairwise

import networkx as nx
import numpy as np
import pytest

from terrain.calc.cheapest import carried_along, downhill
from terrain.calc.kernels import plain
from terrain.calc.search import Seeds, arc_graph, arc_weight, search, walk


def _way(oneway: int, *, usable: bool = True, drawn_back: bool = False) -> tuple[list[int], int]:
    """From node 2 by node 1 to node 0, the source: edges 0-1 and 1-2; or straight by edge 2."""
    ends = np.array([[0, 1], [1, 2], [2, 0]], np.int32)
    if drawn_back:
        ends[1] = ends[1, ::-1]
    arcs = [(2 * e + back, int(ends[e, back])) for e in range(3) for back in (0, 1)]
    by_node = [[arc for arc, tail in arcs if tail == node] for node in range(3)]
    start = np.cumsum([0, *map(len, by_node)]).astype(np.int32)
    edges, last = downhill(
        start, np.concatenate(by_node).astype(np.int32), ends[:, 0].copy(), ends[:, 1].copy(),
        np.arange(3, dtype=np.int32), np.array([0, oneway, 0], np.int8),
        np.array([True, usable, True]), np.array([10.0, 10.0, 50.0], np.float32),
        np.array([0.0, 10.0, 20.0], np.float32), np.int64(2),
    )  # fmt: skip
    return edges.tolist(), int(last)


@pytest.mark.parametrize(
    ("oneway", "drawn_back", "passes"),
    [(0, False, True), (1, False, False), (-1, False, True), (1, True, True), (-1, True, False)],
)
def test_a_one_way_is_followed_as_it_may_be_ridden(
    oneway: int, drawn_back: bool, passes: bool
) -> None:
    """Drawn from 1 to 2 and ridden from 2 to 1: against its drawing, unless it is drawn back.

    OSM wiki, Key:oneway: yes is along the drawing, -1 against it.
    """
    # The other way on costs more than node 2 is known to: then the search stops where it is.
    assert _way(oneway, drawn_back=drawn_back) == (([1, 0], 0) if passes else ([], 2))


def test_a_closed_edge_leads_nowhere() -> None:
    assert _way(0, usable=False) == ([], 2)


@pytest.mark.parametrize(("costs", "passes"), [(21.0, True), (19.0, True), (18.9, False)])
def test_a_way_that_costs_more_than_its_node_is_no_way_on(costs: float, passes: bool) -> None:
    """Two edges of 10: to a node that is known to cost less some other way leads."""
    start = np.array([0, 1, 3, 4], np.int32)
    arcs = np.array([0, 1, 2, 3], np.int32)  # edge 0 from node 0 to 1, edge 1 from 1 to 2
    edges, last = downhill(
        start, arcs, np.array([0, 1], np.int32), np.array([1, 2], np.int32),
        np.arange(2, dtype=np.int32), np.zeros(2, np.int8), np.ones(2, bool),
        np.full(2, 10.0, np.float32), np.array([0.0, 9.0, costs], np.float32), np.int64(2),
    )  # fmt: skip
    assert (edges.tolist(), int(last)) == (([1], 1) if passes else ([], 2))


def test_one_as_far_as_the_limit_is_reached_and_none_beyond() -> None:
    """A road of three edges of 10 from a seed at 5, and another seed too dear by itself."""
    ends = np.arange(5, dtype=np.int32)
    graph = arc_graph(
        ends[:3], ends[1:4], n_nodes=5, oneway=np.zeros(3, np.int8), usable=np.ones(3, bool)
    )
    seeds = Seeds(
        node=np.array([0, 4, 0], np.int32), cost=np.array([5.0, 26.0, 7.0]),
        source=np.array([0, 1, 2], np.int32),
    )  # fmt: skip
    found = search(graph, np.full(3, 10.0), seeds, limit=25.0)
    np.testing.assert_array_equal(found.cost, [5.0, 15.0, 25.0, np.nan, np.nan])
    assert found.source.tolist() == [0, 0, 0, -1, -1]
    assert found.before.tolist() == [-1, 0, 1, -1, -1]
    alone = search(graph, np.full(3, 10.0), seeds, limit=26.0)
    assert alone.cost[4] == 26.0 and alone.source[4] == 1


@pytest.mark.parametrize("seed", range(6))
def test_what_a_way_carries_is_what_its_edges_carry(seed: int) -> None:
    """Against networkx, which finds the same ways by itself; parallel edges, some one-way."""
    rng = np.random.default_rng(seed)
    n, m = 25, 60
    u, v = (rng.integers(0, n, m).astype(np.int32) for _ in range(2))
    cost, load = rng.uniform(1.0, 100.0, m), rng.uniform(1.0, 9.0, m)
    oneway = rng.choice(np.array([0, 0, 1, -1], np.int8), m)
    graph = arc_graph(u, v, n_nodes=n, oneway=oneway, usable=np.ones(m, bool))
    seeds = Seeds(node=np.array([3, 8], np.int32), cost=np.array([2.0, 40.0]),
                  source=np.array([0, 1], np.int32))  # fmt: skip
    found = search(graph, cost, seeds)
    at_seed = rng.uniform(100.0, 200.0, n)
    got = carried_along(
        plain(graph.start, np.int32), plain(graph.head, np.int32), plain(arc_weight(graph, cost)),
        plain(load[graph.edge]), plain(found.cost), plain(found.before, np.int32), plain(at_seed),
    )  # fmt: skip
    net = nx.DiGraph()
    for k in range(m):
        for a, b, shut in ((u[k], v[k], -1), (v[k], u[k], 1)):
            if oneway[k] != shut and cost[k] < net.get_edge_data(a, b, {"cost": np.inf})["cost"]:
                net.add_edge(int(a), int(b), cost=cost[k], load=load[k])
    for node, first_cost in ((3, 2.0), (8, 40.0)):
        net.add_edge("seed", node, cost=first_cost, load=at_seed[node])
    reached = nx.single_source_dijkstra_path(net, "seed", weight="cost")
    for node in range(n):
        if node not in reached:
            assert np.isnan(got[node]) and np.isnan(found.cost[node])
            continue
        path = reached[node]
        assert got[node] == pytest.approx(sum(net.edges[e]["load"] for e in pairwise(path)))
        assert walk(found.before, node) == path[:0:-1]
    assert len(reached) > 15
