"""Searches of the matcher against networkx, on random graphs with one-ways, loops and twins."""

from __future__ import annotations

import networkx as nx
import numpy as np
import pytest

from terrain.stages.matching.lattice.search import Graph, edge_rates, make_work, mark_goals, spread
from terrain.values.arrays import frozen

_MODES = np.int8(0), np.int8(1)
_N_NODES, _N_EDGES = 120, 320


@pytest.fixture(scope="module")
def graph() -> Graph:
    """Edges drawn at random: some are loops, some twins, a fifth one-way, some of no length."""
    rng = np.random.default_rng(9)
    u, v = rng.integers(0, _N_NODES, (2, _N_EDGES)).astype(np.int32)
    v[:6] = u[:6]
    u[10:16], v[10:16] = u[20:26], v[20:26]
    length = rng.uniform(10, 800, _N_EDGES)
    length[30:34] = 0.0
    arcs = np.argsort(np.stack([u, v], axis=1).ravel(), kind="stable").astype(np.int32)
    tails = np.stack([u, v], axis=1).ravel()
    start = np.r_[0, np.cumsum(np.bincount(tails, minlength=_N_NODES))].astype(np.int32)
    way = np.arange(_N_EDGES, dtype=np.int32)
    rate = np.array([[1.0, 1.3, 2.0], [0.8, 1.9, 6.0]])
    flag_rate = np.ones((2, 18))
    flag_rate[:, 3], flag_rate[:, 7] = (1.1, 4.0), (1.5, 2.0)
    highway = rng.integers(0, 3, _N_EDGES).astype(np.int16)
    oneway = rng.choice([-1, 0, 0, 0, 1], _N_EDGES).astype(np.int8)
    flags = rng.choice([0, 0, 1, 8, 128, 136], _N_EDGES).astype(np.int32)
    # Frozen as a region's arrays are, so that the kernels need not be compiled for these alone.
    return Graph(
        frozen(u), frozen(v), frozen(way), frozen(length), frozen(start), frozen(arcs),
        frozen(highway), frozen(oneway), frozen(flags), rate, flag_rate, 8 | 128,
        np.array([2.0, 7.0]), np.array([4.0, 20.0]),
    )  # fmt: skip


def _weights(graph: Graph, mode: int) -> nx.MultiDiGraph[int]:
    """The weights as their documentation tells them, worked out edge by edge."""
    out: nx.MultiDiGraph[int] = nx.MultiDiGraph()
    out.add_nodes_from(range(_N_NODES))
    for e in range(_N_EDGES):
        way = int(graph.edge_way[e])
        plain = rate = graph.rate[mode][graph.way_highway[way]]
        for bit in (3, 7):
            if int(graph.way_flags[way]) & 1 << bit:
                rate = rate * graph.flag_rate[mode][bit]
        rate = max(plain, min(rate, graph.most[mode]))
        oneway, u, v = graph.way_oneway[way], int(graph.edge_u[e]), int(graph.edge_v[e])
        m = float(graph.edge_length_m[e])
        out.add_edge(u, v, weight=m * rate * (graph.against[mode] if oneway < 0 else 1.0), m=m)
        out.add_edge(v, u, weight=m * rate * (graph.against[mode] if oneway > 0 else 1.0), m=m)
    return out


@pytest.mark.parametrize("mode", _MODES)
@pytest.mark.parametrize("reach", [np.inf, 900.0])
def test_weights_as_networkx_finds_them(graph: Graph, mode: int, reach: float) -> None:
    """shortest_path_length of networkx 3, from every tenth node to all."""
    theirs = _weights(graph, mode)
    work = make_work(_N_NODES, _N_EDGES)
    everything = np.arange(_N_EDGES, dtype=np.int32)
    goals = mark_goals(graph, work, everything, np.int32(0), np.int32(_N_EDGES))
    assert goals.n_nodes == len(np.union1d(graph.edge_u, graph.edge_v))
    for source in graph.edge_u[::32]:
        spread(graph, work, source, goals, mode, False, float(reach))
        want = nx.single_source_dijkstra_path_length(theirs, int(source), cutoff=reach)
        got = {n: work.weight[n] for n in np.flatnonzero(work.stamp == work.marks[0]).tolist()}
        assert got == pytest.approx(want)


def test_ways_and_lengths_belong_to_the_weights(graph: Graph) -> None:
    theirs = _weights(graph, 0)
    work = make_work(_N_NODES, _N_EDGES)
    goals = mark_goals(
        graph, work, np.arange(_N_EDGES, dtype=np.int32), np.int32(0), np.int32(_N_EDGES)
    )
    source = graph.edge_u[50]
    spread(graph, work, source, goals, _MODES[0], False, np.inf)
    for node in np.flatnonzero(work.stamp == work.marks[0]).tolist():
        weight = length = 0.0
        at = node
        while at != source:
            arc = int(work.via[at])
            e, back = arc >> 1, arc & 1
            ahead_rate, back_rate = edge_rates(graph, _MODES[0], np.int32(e))
            weight += graph.edge_length_m[e] * (back_rate if back else ahead_rate)
            length += graph.edge_length_m[e]
            assert at == (graph.edge_u[e] if back else graph.edge_v[e])
            at = int(graph.edge_v[e] if back else graph.edge_u[e])
        assert weight == pytest.approx(work.weight[node])
        assert length == pytest.approx(work.length[node])
        assert weight == pytest.approx(nx.shortest_path_length(theirs, int(source), node, "weight"))


def test_stepping_back_weighs_arcs_as_their_opposites(graph: Graph) -> None:
    theirs = _weights(graph, 1).reverse()
    work = make_work(_N_NODES, _N_EDGES)
    goals = mark_goals(
        graph, work, np.arange(_N_EDGES, dtype=np.int32), np.int32(0), np.int32(_N_EDGES)
    )
    source = graph.edge_u[77]
    spread(graph, work, source, goals, _MODES[1], True, np.inf)
    want = nx.single_source_dijkstra_path_length(theirs, int(source))
    got = {n: work.weight[n] for n in np.flatnonzero(work.stamp == work.marks[0]).tolist()}
    assert got == pytest.approx(want)


def test_a_search_stops_at_its_goals(graph: Graph) -> None:
    """The nearest goals are right although most of the graph was never looked at."""
    theirs = _weights(graph, 0)
    work = make_work(_N_NODES, _N_EDGES)
    source = graph.edge_u[100]
    lengths = nx.single_source_dijkstra_path_length(theirs, int(source))
    near = min((lengths[int(graph.edge_u[e])] + lengths[int(graph.edge_v[e])], e)
               for e in range(_N_EDGES) if int(graph.edge_u[e]) in lengths)[1]  # fmt: skip
    goals = mark_goals(graph, work, np.array([near], np.int32), np.int32(0), np.int32(1))
    spread(graph, work, source, goals, _MODES[0], False, np.inf)
    for node in (int(graph.edge_u[near]), int(graph.edge_v[near])):
        assert work.settled[node] == work.marks[0]
        assert work.weight[node] == pytest.approx(lengths[node])
    assert (work.settled == work.marks[0]).sum() < 0.5 * len(lengths)
