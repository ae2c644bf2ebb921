"""Searches of the matcher against networkx, on random graphs with one-ways, loops and twins."""

from __future__ import annotations

import networkx as nx
import numpy as np
import pytest

from terrain.calc.kernels import kernel
from terrain.region.graph import arc_columns
from terrain.stages.matching.lattice.search import (
    Aim,
    EdgeGraph,
    SearchBuffers,
    add_goal,
    clear_goals,
    make_work,
    spread,
)
from terrain.values.arrays import FloatArray, Int32Array, frozen
from tests.stages.tinymap import EAST_M, NORTH_M

_MODES = np.int8(0), np.int8(1)
_N_NODES, _N_EDGES = 120, 320
ANYWHERE = Aim(0.0, 0.0, EAST_M, NORTH_M, 0.0, 0.0)


@pytest.fixture(scope="module")
def graph() -> EdgeGraph:
    """Edges drawn at random: some are loops, some twins, some of no length. Ways are of five kinds,
    and weigh more or less by direction."""
    rng = np.random.default_rng(9)
    u, v = rng.integers(0, _N_NODES, (2, _N_EDGES)).astype(np.int32)
    v[:6] = u[:6]
    u[10:16], v[10:16] = u[20:26], v[20:26]
    length = rng.uniform(10, 800, _N_EDGES)
    length[30:34] = 0.0
    return _graph(u, v, length, np.zeros((2, _N_NODES)))


@pytest.fixture(scope="module")
def map_graph() -> EdgeGraph:
    """Edges that wind, between neighbours among nodes within a kilometre of 0 N 0 E."""
    rng = np.random.default_rng(4)
    xy = rng.uniform(-1000.0, 1000.0, (2, _N_NODES))
    u = rng.integers(0, _N_NODES, _N_EDGES).astype(np.int32)
    apart = np.hypot(*(xy[:, u, None] - xy[:, None, :]))
    near = np.argsort(apart, axis=1)[np.arange(_N_EDGES), rng.integers(1, 6, _N_EDGES)]
    length = apart[np.arange(_N_EDGES), near] * rng.uniform(1.01, 1.3, _N_EDGES)
    return _graph(u, near.astype(np.int32), length, xy, most=1.2)


def _graph(
    u: Int32Array, v: Int32Array, length: FloatArray, xy: FloatArray, most: float = 20.0
) -> EdgeGraph:
    rng = np.random.default_rng(7)
    rate = rng.uniform(0.6, most, (2, 10))
    arcs = arc_columns(np.r_[u, v], _N_NODES, length)
    kind = rng.integers(0, 5, _N_EDGES).astype(np.int32)
    arc_kind = 2 * kind[arcs["out_arc"] >> 1] + (arcs["out_arc"] & 1)
    # Frozen as a region's arrays are, so that the kernels need not be compiled for these alone.
    return EdgeGraph(
        node_lon=frozen(xy[0] / EAST_M), node_lat=frozen(xy[1] / NORTH_M), edge_u=frozen(u),
        edge_v=frozen(v), edge_way=frozen(np.arange(_N_EDGES, dtype=np.int32)),
        edge_length_m=frozen(length), way_kind=frozen(kind), out_start=frozen(arcs["out_start"]),
        out_arc=frozen(arcs["out_arc"]), arc_head=frozen(arcs["arc_head"]),
        arc_length_m=frozen(arcs["arc_length_m"]), arc_kind=frozen(arc_kind),
        rate=rate, least=rate.min(axis=1),
    )  # fmt: skip


def _weights(graph: EdgeGraph, mode: int) -> nx.MultiDiGraph[int]:
    """The weights as their documentation tells them, worked out edge by edge."""
    out: nx.MultiDiGraph[int] = nx.MultiDiGraph()
    out.add_nodes_from(range(_N_NODES))
    for e in range(_N_EDGES):
        kind, u, v = int(graph.way_kind[e]), int(graph.edge_u[e]), int(graph.edge_v[e])
        m = float(graph.edge_length_m[e])
        out.add_edge(u, v, weight=m * graph.rate[mode, 2 * kind], m=m)
        out.add_edge(v, u, weight=m * graph.rate[mode, 2 * kind + 1], m=m)
    return out


@kernel
def _make_goals(work: SearchBuffers, nodes: Int32Array) -> int:
    clear_goals(work)
    n_goals = 0
    for node in nodes:
        n_goals += add_goal(work, node)
    return n_goals


def _search(
    graph: EdgeGraph,
    work: SearchBuffers,
    source: int,
    mode: int,
    *,
    goals: Int32Array | None = None,
    backwards: int = 0,
    reach: float = np.inf,
    aim: Aim = ANYWHERE,
) -> None:
    """Search from a node to all nodes, or to some."""
    everywhere = np.arange(_N_NODES, dtype=np.int32)
    n_goals = _make_goals(work, everywhere if goals is None else goals)
    spread(graph, work, np.int32(source), n_goals, _MODES[mode], np.int64(backwards), reach, aim)


def _reached(work: SearchBuffers) -> list[int]:
    found: list[int] = np.flatnonzero(work.stamp >= work.marks[0]).tolist()
    return found


@pytest.mark.parametrize("mode", [0, 1])
@pytest.mark.parametrize("reach", [np.inf, 900.0])
def test_weights_as_networkx_finds_them(graph: EdgeGraph, mode: int, reach: float) -> None:
    """shortest_path_length of networkx 3, from every tenth node to all."""
    theirs = _weights(graph, mode)
    work = make_work(_N_NODES, _N_EDGES)
    for source in graph.edge_u[::32].tolist():
        _search(graph, work, source, mode, reach=reach)
        want = nx.single_source_dijkstra_path_length(theirs, source, cutoff=reach)
        assert {n: work.weight[n] for n in _reached(work)} == pytest.approx(want)


def test_ways_and_lengths_belong_to_the_weights(graph: EdgeGraph) -> None:
    theirs = _weights(graph, 0)
    work = make_work(_N_NODES, _N_EDGES)
    source = int(graph.edge_u[50])
    _search(graph, work, source, 0)
    for node in _reached(work):
        weight = length = 0.0
        at = node
        while at != source:
            place = int(work.via[at])
            e, back = graph.out_arc[place] >> 1, graph.out_arc[place] & 1
            weight += graph.edge_length_m[e] * graph.rate[0, 2 * graph.way_kind[e] + back]
            length += graph.edge_length_m[e]
            assert at == (graph.edge_u[e] if back else graph.edge_v[e])
            at = int(graph.edge_v[e] if back else graph.edge_u[e])
        assert weight == pytest.approx(work.weight[node])
        assert length == pytest.approx(work.length[node])
        assert weight == pytest.approx(nx.shortest_path_length(theirs, source, node, "weight"))


def test_stepping_back_weighs_arcs_as_their_opposites(graph: EdgeGraph) -> None:
    theirs = _weights(graph, 1).reverse()
    work = make_work(_N_NODES, _N_EDGES)
    source = int(graph.edge_u[77])
    _search(graph, work, source, 1, backwards=1)
    want = nx.single_source_dijkstra_path_length(theirs, source)
    assert {n: work.weight[n] for n in _reached(work)} == pytest.approx(want)


def test_a_search_stops_at_its_goals(graph: EdgeGraph) -> None:
    """The nearest goals are right although most of the graph was never looked at."""
    theirs = _weights(graph, 0)
    work = make_work(_N_NODES, _N_EDGES)
    source = int(graph.edge_u[100])
    lengths = nx.single_source_dijkstra_path_length(theirs, source)
    near = sorted(lengths, key=lengths.__getitem__)[1:3]
    _search(graph, work, source, 0, goals=np.array(near, np.int32))
    for node in near:
        assert work.stamp[node] == work.marks[0] + 1
        assert work.weight[node] == pytest.approx(lengths[node])
    assert len(_reached(work)) < 0.5 * len(lengths)
    _search(graph, work, source, 0, goals=np.zeros(0, np.int32))
    assert _reached(work) == [source]


@pytest.mark.parametrize("mode", [0, 1])
def test_a_search_with_an_aim_finds_the_same_and_looks_at_less(
    map_graph: EdgeGraph, mode: int
) -> None:
    work = make_work(_N_NODES, _N_EDGES)
    looked_at = aimed_at = 0
    for source, goal in np.random.default_rng(2).integers(0, _N_NODES, (40, 2)).tolist():
        goals = np.array([goal], np.int32)
        _search(map_graph, work, source, mode, goals=goals)
        want, found = work.weight[goal], work.stamp[goal] > work.marks[0]
        looked_at += len(_reached(work))
        spot = float(map_graph.node_lon[goal]), float(map_graph.node_lat[goal])
        aim = Aim(*spot, EAST_M, NORTH_M, 0.0, float(map_graph.least[mode]))
        _search(map_graph, work, source, mode, goals=goals, aim=aim)
        assert (work.stamp[goal] > work.marks[0]) == found
        assert not found or work.weight[goal] == pytest.approx(want)
        aimed_at += len(_reached(work))
        _search(map_graph, work, source, mode, goals=goals, aim=aim, reach=0.999 * float(want))
        assert work.stamp[goal] < work.marks[0] or source == goal
    assert aimed_at < 0.85 * looked_at
