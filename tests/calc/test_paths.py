"""Ways as edges and as lines, on a map small enough to count by hand."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from terrain.calc.paths import (
    Piece,
    arcs_out,
    length_of,
    line_of,
    line_of_edges,
    pieces_of_nodes,
    way_out_nodes,
)
from tests.stages.tinymap import EAST_M, PAVED, TRACK, TinyMap, TinyRegion


@pytest.fixture(scope="module")
def tiny(tmp_path_factory: pytest.TempPathFactory) -> TinyRegion:
    """a to b by a short and a long way, b to c one-way, c to d; the bend m is no crossing."""
    drawn = TinyMap(nodes={
        "a": (0, 0), "b": (1000, 0), "c": (2000, 0), "d": (2000, 600), "m": (500, 400),
    })  # fmt: skip
    drawn.way("ab", PAVED).way("amb", TRACK).way("bc", PAVED, oneway="yes").way("cd", PAVED)
    return drawn.read(Path(tmp_path_factory.mktemp("tiny")))


def _edge(tiny: TinyRegion, way_id: int) -> int:
    (edge,) = np.flatnonzero(tiny.roads.ways.way_id[tiny.roads.edge_way] == way_id)
    return int(edge)


def _heads(tiny: TinyRegion, node: str, usable: np.ndarray) -> list[tuple[int, str]]:
    """Ways and nodes that may be ridden to from a node."""
    roads, name = tiny.roads, {row: name for name, row in tiny.node.items()}
    return sorted(
        (int(roads.ways.way_id[roads.edge_way[edge]]), name[head])
        for edge, head in arcs_out(roads, tiny.node[node], usable)
    )


def test_arcs_follow_one_ways_and_what_may_be_used(tiny: TinyRegion) -> None:
    every = np.ones(tiny.roads.n_edges, dtype=bool)
    assert _heads(tiny, "a", every) == [(1, "b"), (2, "b")]
    assert _heads(tiny, "b", every) == [(1, "a"), (2, "a"), (3, "c")]
    assert _heads(tiny, "c", every) == [(4, "d")]  # not back over the one-way
    some = every.copy()
    some[_edge(tiny, 1)] = False
    assert _heads(tiny, "b", some) == [(2, "a"), (3, "c")]


def test_pieces_take_the_cheaper_of_two_edges_and_know_their_direction(tiny: TinyRegion) -> None:
    roads, every = tiny.roads, np.ones(tiny.roads.n_edges, dtype=bool)
    a, b, c = (tiny.node[name] for name in "abc")
    short, long, on = _edge(tiny, 1), _edge(tiny, 2), _edge(tiny, 3)
    pieces = pieces_of_nodes(roads, [a, b, c], every, roads.edge_length_m)
    assert [piece.edge for piece in pieces] == [short, on]
    assert length_of(pieces) == pytest.approx(2000, rel=1e-3)
    dear = roads.edge_length_m.copy()
    dear[short] = 9e9
    (back,) = pieces_of_nodes(roads, [b, a], every, dear)
    assert back.edge == long
    ahead = roads.edge_u[long] == b
    whole = float(roads.edge_length_m[long])
    assert (back.from_m, back.to_m) == ((0.0, whole) if ahead else (whole, 0.0))
    with pytest.raises(ValueError, match="no usable edge"):
        pieces_of_nodes(roads, [c, b], every, roads.edge_length_m)


def test_a_way_out_is_walked_to_its_end() -> None:
    assert way_out_nodes(np.array([2, -1, 1], dtype=np.int32), 0) == [0, 2, 1]
    assert way_out_nodes(np.array([2, -1, 1], dtype=np.int32), 1) == [1]


def _xs(line: tuple[np.ndarray, np.ndarray]) -> list[float]:
    return [round(float(x) * EAST_M) for x in line[0]]


def test_lines_run_in_riding_order_and_double_no_point(tiny: TinyRegion) -> None:
    roads = tiny.roads
    long, short = _edge(tiny, 2), _edge(tiny, 1)
    whole = float(roads.edge_length_m[long])
    ahead = Piece(long, 0.0, whole)
    assert _xs(line_of(roads, [ahead])) == [0, 500, 1000]
    assert _xs(line_of(roads, [Piece(long, whole, 0.0)])) == [1000, 500, 0]
    # Out by the long way, back by the short one: b stands once.
    back = Piece(short, float(roads.edge_length_m[short]), 0.0)
    assert _xs(line_of(roads, [ahead, back])) == [0, 500, 1000, 0]
    assert [len(part) for part in line_of(roads, [])] == [0, 0]


@pytest.mark.parametrize(("from_part", "to_part", "xs"), [
    (0.25, 0.75, [250, 500, 750]), (0.75, 0.25, [750, 500, 250]), (0.6, 0.8, [600, 800]),
    (0.0, 0.25, [0, 250]), (1.0, 0.75, [1000, 750]),
])  # fmt: skip
def test_part_of_an_edge(tiny: TinyRegion, from_part: float, to_part: float, xs: list[int]) -> None:
    long = _edge(tiny, 2)
    whole = float(tiny.roads.edge_length_m[long])
    piece = Piece(long, from_part * whole, to_part * whole)
    assert _xs(line_of(tiny.roads, [piece])) == pytest.approx(xs, abs=1)
    assert length_of([piece]) == pytest.approx(0.5 * whole if len(xs) == 3 else abs(
        to_part - from_part) * whole)  # fmt: skip


def test_lines_of_whole_edges_are_those_of_their_pieces(tiny: TinyRegion) -> None:
    roads = tiny.roads
    edge = np.array([_edge(tiny, 2), _edge(tiny, 1), _edge(tiny, 3)], dtype=np.int32)
    ahead = np.array([True, False, True])
    pieces = [
        Piece(int(k), 0.0, float(roads.edge_length_m[k]))
        if on else Piece(int(k), float(roads.edge_length_m[k]), 0.0)
        for k, on in zip(edge, ahead, strict=True)
    ]  # fmt: skip
    for ours, theirs in zip(line_of_edges(roads, edge, ahead), line_of(roads, pieces), strict=True):
        np.testing.assert_array_equal(ours, theirs)
    assert _xs(line_of_edges(roads, edge, ahead)) == [0, 500, 1000, 0, 1000, 2000]
