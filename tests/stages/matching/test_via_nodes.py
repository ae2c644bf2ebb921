"""The parts of the search for ways by a node, by hand, as Python runs them."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from terrain.stages.matching import via_nodes
from terrain.stages.matching.lattice import pieces


def _rows(*ways_m: dict[int, float]) -> Any:
    """Scratch memory with metres by way of some ways taken."""
    metres, way = np.zeros((len(ways_m), 9)), np.zeros((len(ways_m), 9), np.int32)
    for row, held in enumerate(ways_m):
        for k, (number, length) in enumerate(held.items()):
            way[row, k], metres[row, number] = number, length
    counts = np.array([len(held) for held in ways_m], np.int32)
    return SimpleNamespace(metres=metres, way=way, n_ways=counts)


@pytest.mark.parametrize(
    ("ways_m", "new"),
    [
        (({1: 100.0}, {2: 100.0}), True),
        (({1: 100.0}, {1: 79.0, 2: 21.0}), True),
        (({1: 100.0}, {1: 80.0, 2: 20.0}), False),  # alike from four fifths of the shorter on
        (({1: 100.0}, {1: 80.0, 2: 500.0}), False),
        (({1: 500.0}, {1: 80.0, 2: 20.0}), False),
        (({1: 100.0}, {3: 100.0}, {2: 100.0}), True),
        (({1: 100.0}, {2: 100.0}, {2: 100.0}), False),  # like the second
        (({2: 100.0}, {1: 100.0}, {2: 100.0}), False),  # like the first
        (({1: 100.0}, {}), False),  # no way at all
        (({1: 100.0}, {2: 0.0}), False),
        (({1: 0.5}, {1: 0.5, 2: 9.0}), True),  # half a metre makes no two ways alike
    ],
)
def test_a_way_is_new_if_it_differs_from_all_before_it(
    ways_m: tuple[dict[int, float], ...], new: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(via_nodes, "_length", via_nodes._length.py_func)  # type: ignore[attr-defined]
    is_new = via_nodes._is_new.py_func  # type: ignore[attr-defined]
    assert is_new(_rows(*ways_m), len(ways_m) - 1, 0.8) == new


def test_metres_are_added_by_way() -> None:
    add = via_nodes._add.py_func  # type: ignore[attr-defined]
    metres, listed = np.zeros(5), np.zeros(5, np.int32)
    count = 0
    for way, more_m, want in ((3, 10.0, 1), (1, 5.0, 2), (3, 2.0, 2), (4, 0.0, 2), (2, -1.0, 2)):
        count = add(metres, listed, count, way, more_m)
        assert count == want
    assert metres.tolist() == [0.0, 5.0, 0.0, 12.0, 0.0]
    assert listed[:2].tolist() == [3, 1]


def test_a_forgotten_row_is_empty_and_the_others_stay() -> None:
    rows = _rows({1: 5.0, 3: 6.0}, {2: 7.0})
    via_nodes._forget.py_func(rows, 0)  # type: ignore[attr-defined]
    assert rows.n_ways.tolist() == [0, 1]
    assert rows.metres[0].tolist() == [0.0] * 9 and rows.metres[1, 2] == 7.0


@pytest.mark.parametrize(
    ("first", "second", "chain"),
    [
        # From the first end 0, 1, 2; from there to the second 3, 4.
        ([-1, 0, 1, 9, 9], [9, 9, 3, 4, -1], [2, 1, 0, 3, 4]),
        ([-1, 0, 1, 9, 9], [9, 9, -1, 9, 9], [2, 1, 0]),
        ([-1, 0, 1, 9, 9], [9, -1, 1, 9, 9], []),  # back by 1, where it came from
    ],
)
def test_a_way_by_a_node_passes_none_twice(
    first: list[int], second: list[int], chain: list[int]
) -> None:
    before, seen, out = np.array([first, second]), np.zeros(5, np.int32), np.zeros(9, np.int32)
    n = via_nodes._chain.py_func(2, before, seen, 7, out)  # type: ignore[attr-defined]
    assert out[:n].tolist() == chain


@pytest.mark.parametrize(
    ("edges", "at_m", "against", "on"),
    [
        ((4, 4), (10.0, 30.0), (0, 0), True), ((4, 4), (10.0, 10.0), (0, 0), True),
        ((4, 4), (30.0, 10.0), (0, 0), False), ((4, 4), (30.0, 10.0), (1, 1), True),
        ((4, 4), (10.0, 10.0), (1, 1), True), ((4, 4), (10.0, 30.0), (1, 1), False),
        ((4, 4), (10.0, 30.0), (0, 1), False), ((4, 4), (30.0, 10.0), (1, 0), False),
        ((4, 5), (10.0, 30.0), (0, 0), False),
    ],
)  # fmt: skip
def test_a_step_onward_on_one_edge_stays_on_it(
    edges: tuple[int, int], at_m: tuple[float, float], against: tuple[int, int], on: bool
) -> None:
    """Spots 0 and 1; a state is twice its spot, and one more against the drawing."""
    spots = SimpleNamespace(edge=np.array(edges), at_m=np.array(at_m))
    chain = SimpleNamespace(state=np.array([99, against[0], 2 + against[1]]))
    assert pieces._rides_on.py_func(spots, chain, 1) == on  # type: ignore[attr-defined]
