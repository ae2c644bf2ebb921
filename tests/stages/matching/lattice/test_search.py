"""Searches of the matcher against networkx, on random graphs with one-ways, loops and twins."""

from __future__ import annotations

import networkx as nx
import numpy as np
import pytest

from terrain.calc.kernels import kernel
from terrain.region.graph import arc_columns
from terrain.stages.matching.lattice.search import (
    Graph,
    Work,
    add_goal,
    clear_goals,
    make_work,
    spread,
)
from terrain.values.arrays import Int32Array, frozen

_MODES = np.int8(0), np.int8(1)
_N_NODES, _N_EDGES = 120, 320


@pytest.fixture(scope="module")
def graph() -> Graph:
    """Edges drawn at random: some are loops, some twins, some of no length. Ways are of five kinds,
    and weigh more or less by direction."""
    rng = np.random.default_rng(9)
    u, v = rng.integers(0, _N_NODES, (2, _N_EDGES)).astype(np.int32)
    v[:6] = u[:6]
    u[10:16], v[10:16] = u[20:26], v[20:26]
    length = rng.uniform(10, 800, _N_EDGES)
    length[30:34] = 0.0
    arcs = arc_columns(np.r_[u, v], _N_NODES, length)
    kind = rng.integers(0, 5, _N_EDGES).astype(np.int32)
    arc_kind = 2 * kind[arcs["out_arc"] >> 1] + (arcs["out_arc"] & 1)
    # Frozen as a region's arrays are, so that the kernels need not be compiled for these alone.
    return Graph(
        edge_u=frozen(u), edge_v=frozen(v), edge_way=frozen(np.arange(_N_EDGES, dtype=np.int32)),
        edge_length_m=frozen(length), way_kind=frozen(kind), out_start=frozen(arcs["out_start"]),
        out_arc=frozen(arcs["out_arc"]), arc_head=frozen(arcs["arc_head"]),
        arc_length_m=frozen(arcs["arc_length_m"]), arc_kind=frozen(arc_kind),
        rate=rng.uniform(0.6, 20.0, (2, 10)),
    )  # fmt: skip


def _weights(graph: Graph, mode: int) -> nx.MultiDiGraph[int]:
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
def _make_goals(work: Work, nodes: Int32Array) -> int:
    clear_goals(work)
    n_goals = 0
    for node in nodes:
        n_goals += add_goal(work, node)
    return n_goals


def _search(
    graph: Graph, work: Work, source: int, mode: int, *, goals: Int32Array | None = None,
    backwards: int = 0, reach: float = np.inf,
) -> None:  # fmt: skip
    """Search from a node to all nodes, or to some."""
    everywhere = np.arange(_N_NODES, dtype=np.int32)
    n_goals = _make_goals(work, everywhere if goals is None else goals)
    spread(graph, work, np.int32(source), n_goals, _MODES[mode], np.int64(backwards), reach)


def _reached(work: Work) -> list[int]:
    found: list[int] = np.flatnonzero(work.stamp >= work.marks[0]).tolist()
    return found


@pytest.mark.parametrize("mode", [0, 1])
@pytest.mark.parametrize("reach", [np.inf, 900.0])
def test_weights_as_networkx_finds_them(graph: Graph, mode: int, reach: float) -> None:
    """shortest_path_length of networkx 3, from every tenth node to all."""
    theirs = _weights(graph, mode)
    work = make_work(_N_NODES, _N_EDGES)
    for source in graph.edge_u[::32].tolist():
        _search(graph, work, source, mode, reach=reach)
        want = nx.single_source_dijkstra_path_length(theirs, source, cutoff=reach)
        assert {n: work.weight[n] for n in _reached(work)} == pytest.approx(want)


def test_ways_and_lengths_belong_to_the_weights(graph: Graph) -> None:
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


def test_stepping_back_weighs_arcs_as_their_opposites(graph: Graph) -> None:
    theirs = _weights(graph, 1).reverse()
    work = make_work(_N_NODES, _N_EDGES)
    source = int(graph.edge_u[77])
    _search(graph, work, source, 1, backwards=1)
    want = nx.single_source_dijkstra_path_length(theirs, source)
    assert {n: work.weight[n] for n in _reached(work)} == pytest.approx(want)


def test_a_search_stops_at_its_goals(graph: Graph) -> None:
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
