"""The search drawn towards its goal against networkx, and what it is drawn by."""

from __future__ import annotations

import networkx as nx
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pyproj import Geod

from terrain.calc.geodesy import steps_m
from terrain.calc.search import arc_graph
from terrain.stages.detours.guided import guided_graph, way_between


def _drawn_net(seed: int, n: int = 40, edges: int = 90):
    """Roads over 60 to 72 degrees north, no shorter than the crow flies; some at no cost a metre,
    some parallel, some one-way, some closed."""
    rng = np.random.default_rng(seed)
    lon, lat = rng.uniform(5.0, 9.0, n), rng.uniform(60.0, 72.0, n)
    u, v = (rng.integers(0, n, edges).astype(np.int32) for _ in range(2))
    crow = np.array([steps_m(lon[[a, b]], lat[[a, b]])[0] for a, b in zip(u, v, strict=True)])
    length = crow * rng.uniform(1.0, 1.6, edges)
    cost = length * rng.choice([0.5, 1.0, 3.0], edges)
    cost[rng.random(edges) < 0.02 * (seed % 2)] = 0.0
    oneway = rng.choice(np.array([0, 0, 1, -1], np.int8), edges)
    return lon, lat, u, v, length, cost, oneway, rng.random(edges) < 0.95


@settings(max_examples=80, deadline=None)
@given(st.integers(0, 10_000))
def test_a_way_costs_what_networkx_finds_and_hangs_together(seed) -> None:
    lon, lat, u, v, length, cost, oneway, usable = _drawn_net(seed)
    n = len(lon)
    graph = arc_graph(u, v, n_nodes=n, oneway=oneway, usable=usable)
    guided = guided_graph(graph, cost, edge_length_m=length, lon=lon, lat=lat)
    oracle = nx.MultiDiGraph()
    oracle.add_nodes_from(range(n))
    for k in np.flatnonzero(usable):
        if oneway[k] != -1:
            oracle.add_edge(int(u[k]), int(v[k]), cost=float(cost[k]))
        if oneway[k] != 1:
            oracle.add_edge(int(v[k]), int(u[k]), cost=float(cost[k]))
    first = seed % n
    want = nx.single_source_dijkstra_path_length(oracle, first, weight="cost")
    for last in range(n):
        arcs = way_between(guided, first, last)
        if last == first or last not in want:
            assert not len(arcs)
            continue
        edge, ahead = graph.edge[arcs], graph.forward[arcs]
        tail, head = np.where(ahead, u[edge], v[edge]), np.where(ahead, v[edge], u[edge])
        assert (tail[0], head[-1]) == (first, last)
        np.testing.assert_array_equal(tail[1:], head[:-1])
        assert cost[edge].sum() == pytest.approx(want[last], rel=1e-9, abs=1e-6)
        limit = want[last] * (1 + 1e-9) + 1e-6
        assert len(way_between(guided, first, last, limit=limit))
        if want[last] > 0:
            assert not len(way_between(guided, first, last, limit=0.99 * want[last]))


@settings(max_examples=80, deadline=None)
@given(st.integers(0, 10_000))
def test_shut_edges_are_as_if_they_were_not_there(seed) -> None:
    lon, lat, u, v, length, cost, oneway, usable = _drawn_net(seed)
    shut = np.random.default_rng(seed + 1).random(len(u)) < 0.3
    nets = []
    for fit in (usable, usable & ~shut):
        graph = arc_graph(u, v, n_nodes=len(lon), oneway=oneway, usable=fit)
        nets.append(guided_graph(graph, cost, edge_length_m=length, lon=lon, lat=lat))
    for last in range(len(lon)):
        found = nets[0].graph.edge[way_between(nets[0], seed % len(lon), last, shut=shut)]
        want = nets[1].graph.edge[way_between(nets[1], seed % len(lon), last)]
        assert not shut[found].any()
        assert bool(len(found)) == bool(len(want))
        assert cost[found].sum() == pytest.approx(cost[want].sum(), rel=1e-9, abs=1e-6)


def test_nothing_looks_farther_off_than_the_road_to_it_is_long() -> None:
    """Else the search would pass by the best way: lengths from pyproj's geodesics."""
    for seed in range(20):
        lon, lat, u, v, length, _, oneway, usable = _drawn_net(seed)
        graph = arc_graph(u, v, n_nodes=len(lon), oneway=oneway, usable=usable)
        guided = guided_graph(graph, length, edge_length_m=length, lon=lon, lat=lat)
        apart = np.hypot(guided.x_m[u] - guided.x_m[v], guided.y_m[u] - guided.y_m[v])
        assert (guided.rate * apart <= length).all()
        assert guided.rate == pytest.approx(0.999)


def test_missing_cost_is_refused() -> None:
    lon, lat, u, v, length, cost, oneway, usable = _drawn_net(1)
    graph = arc_graph(u, v, n_nodes=len(lon), oneway=oneway, usable=usable)
    cost[np.flatnonzero(usable)[0]] = np.nan
    with pytest.raises(ValueError, match="NaN"):
        guided_graph(graph, cost, edge_length_m=length, lon=lon, lat=lat)


def test_the_plane_is_hardly_smaller_than_the_map() -> None:
    """Else the search would look everywhere: a square of a hundredth of a degree at 45 N against
    pyproj's geodesics, and edges that weigh 2 and 3 a metre."""
    lon, lat = np.array([7.0, 7.01, 7.0]), np.array([45.0, 45.0, 45.01])
    geod = Geod(ellps="WGS84")
    east = geod.inv(7.0, 45.0, 7.01, 45.0)[2]
    north = geod.inv(7.0, 45.0, 7.0, 45.01)[2]
    length = np.array([east, north])
    both = np.zeros(2, np.int8)
    graph = arc_graph(
        np.array([0, 0], np.int32), np.array([1, 2], np.int32), n_nodes=3, oneway=both,
        usable=both == 0,
    )  # fmt: skip
    guided = guided_graph(
        graph, length * np.array([2.0, 3.0]), edge_length_m=length, lon=lon, lat=lat
    )
    assert guided.x_m[1] - guided.x_m[0] == pytest.approx(east, rel=1e-3)
    # A degree of latitude is half a percent shorter at the equator.
    assert 0.99 * north < guided.y_m[2] - guided.y_m[0] <= north
    assert guided.x_m[2] == guided.x_m[0] and guided.y_m[1] == guided.y_m[0]
    assert guided.rate == pytest.approx(2.0, rel=2e-3)
