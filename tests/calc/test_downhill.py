"""The way to a source by the cost of each node, on nets small enough to see."""

from __future__ import annotations

import numpy as np
import pytest

from terrain.calc.cheapest import downhill


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
