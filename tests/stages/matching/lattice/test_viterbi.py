"""The likeliest ride: a lattice of three steps by hand, and small ones against all their rides."""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import pairwise, product
from typing import NamedTuple

import networkx as nx
import numpy as np
import pytest

from terrain.calc.candidates import RoadCandidates
from terrain.region.graph import arc_columns
from terrain.stages.matching.lattice.links import Costs, Steps
from terrain.stages.matching.lattice.pieces import RiddenPieces, ridden_pieces
from terrain.stages.matching.lattice.search import EdgeGraph, make_work
from terrain.stages.matching.lattice.viterbi import OFF_MAP, Chain, Spots, likeliest, spots_of
from terrain.values.arrays import FloatArray, frozen
from tests.stages.tinymap import EAST_M, NORTH_M

COSTS = Costs(switch=8.0, turn=12.0)
SIGMA_M, SLACK_M, OFF_COST = 5.0, 12.0, 10.0
Edge = tuple[int, int, float]  # from node, to node, metres
Place = tuple[int, float, float]  # edge, metres along it, metres off it
ONE_WAY, BOTH = 1, 0


def _graph(
    edges: Sequence[Edge], kinds: Sequence[int], rate: FloatArray, xy: FloatArray
) -> EdgeGraph:
    """Edges, each a way of its own of some kind; rate as in EdgeGraph, nodes in metres."""
    u, v, metres = (np.array(column) for column in zip(*edges, strict=True))
    arcs = arc_columns(np.r_[u, v].astype(np.int32), len(xy), metres.astype(float))
    kind = np.array(kinds, np.int32)
    return EdgeGraph(
        node_lon=frozen(xy[:, 0] / EAST_M), node_lat=frozen(xy[:, 1] / NORTH_M),
        edge_u=frozen(arcs["edge_u"]), edge_v=frozen(arcs["edge_v"]),
        edge_way=frozen(np.arange(len(edges), dtype=np.int32)),
        edge_length_m=frozen(metres.astype(float)), way_kind=frozen(kind),
        out_start=frozen(arcs["out_start"]), out_arc=frozen(arcs["out_arc"]),
        arc_head=frozen(arcs["arc_head"]), arc_length_m=frozen(arcs["arc_length_m"]),
        arc_kind=frozen(2 * kind[arcs["out_arc"] >> 1] + (arcs["out_arc"] & 1)),
        rate=rate, least=0.98 * rate.min(axis=1),
    )  # fmt: skip


def _steps(
    gap_m: Sequence[float], mode: int = 0, reach_m: float = 2_000.0, off_gap: float = 2.0
) -> Steps:
    gap = np.array(gap_m)
    return Steps(
        sigma_m=SIGMA_M, off_cost=OFF_COST, slack_m=SLACK_M, gap_m=gap,
        mode=np.full(len(gap), mode, np.int8), beta_m=np.full(len(gap), 10.0),
        weight_beta_m=np.full(len(gap), 5.0), reach_m=np.full(len(gap), reach_m),
        off_gap_cost=np.full(len(gap), off_gap),
    )  # fmt: skip


def _spots(graph: EdgeGraph, xy: FloatArray, places: Sequence[Sequence[Place]]) -> Spots:
    rows = [row for point in places for row in point]
    edge, at_m, dist_m = (np.array([row[k] for row in rows], float) for k in range(3))
    start = np.cumsum([0, *(len(point) for point in places)])
    cands = RoadCandidates(start.astype(np.int32), edge.astype(np.int32), at_m, dist_m)
    return spots_of(graph, xy[:, 0] / EAST_M, xy[:, 1] / NORTH_M, cands)


class Ridden(NamedTuple):
    """States as (number of the place at its point, direction), None off the map; and pieces."""

    states: list[tuple[int, int] | None]
    chain: Chain
    pieces: RiddenPieces

    def rows(self, step: int) -> list[tuple[int, float, float]]:
        at = self.pieces.step == step
        rows = np.stack([self.pieces.edge, self.pieces.from_m, self.pieces.to_m], axis=1)[at]
        return [(int(e), a, b) for e, a, b in rows.tolist()]


def _ride(graph: EdgeGraph, spots: Spots, steps: Steps) -> Ridden:
    work = make_work(len(graph.node_lon), len(graph.edge_u))
    chain = likeliest(graph, work, spots, steps, COSTS)
    states = [
        None if x == OFF_MAP else (int(x >> 1) - int(spots.start[t]), int(x & 1))
        for t, x in enumerate(chain.state)
    ]
    return Ridden(states, chain, ridden_pieces(graph, work, spots, steps, chain))


# A road of two edges from node 0 by 1 (100 m) to 2 (200 m), and a one-way of 180 m from 0 to 2.
ROAD = _graph(
    [(0, 1, 100.0), (1, 2, 100.0), (0, 2, 180.0)], [0, 0, 1],
    np.array([[1.0, 1.0, 1.0, 4.0], [0.5, 0.5, 0.5, 4.0]]),
    np.array([[0.0, 0.0], [100.0, 0.0], [170.0, 0.0]]),
)  # fmt: skip
ALONG_ROAD = np.array([[60.0, 3.0], [110.0, 4.0], [160.0, 5.0]])


def test_a_lattice_of_three_points_by_hand() -> None:
    """50 m between points; 10 m of length more or less cost 1, and so do 5 m of weight.

    Emission 0.5 (d / 5)^2: 0.18; 0.32 on the road and 0.08 on the one-way beside it; 0.5.
    On the road 40 + 10 m are 50: nothing; then 50 m along one edge: nothing. Together 1.0.
    Over the one-way 60 + 120 m are 180, 13 for 130 m too much; and 60 m to node 2 and 40 m of
    road make 100 m, 5 more.
    """
    places = [[(0, 60.0, 3.0)], [(2, 120.0, 2.0), (1, 10.0, 4.0)], [(1, 60.0, 5.0)]]
    ride = _ride(ROAD, _spots(ROAD, ALONG_ROAD, places), _steps([50.0, 50.0]))
    assert ride.states == [(0, 0), (1, 0), (0, 0)]
    assert ride.rows(0) == [(0, 60.0, 100.0), (1, 0.0, 10.0)]
    assert ride.rows(1) == [(1, 10.0, 60.0)]
    # Drawn the other way the ride turns: 10 + 40 m, against the drawing.
    back = _ride(ROAD, _spots(ROAD, ALONG_ROAD[::-1], places[::-1]), _steps([50.0, 50.0]))
    assert back.states == [(0, 1), (1, 1), (0, 1)]
    assert back.rows(1) == [(1, 10.0, 0.0), (0, 100.0, 60.0)]


@pytest.mark.parametrize(("off_m", "lost"), [(38.7, False), (38.8, True)])
def test_a_far_point_is_off_the_map_where_that_is_cheaper(off_m: float, lost: bool) -> None:
    """Off the map: 8 to leave and 8 to join, 10 for the point and 2 for each gap make 30, and
    0.5 (d / 5)^2 = 30 where d = 38.73."""
    places = [[(0, 60.0, 0.0)], [(1, 10.0, off_m)], [(1, 60.0, 0.0)]]
    ride = _ride(ROAD, _spots(ROAD, ALONG_ROAD, places), _steps([50.0, 50.0]))
    assert ride.states == [(0, 0), None if lost else (0, 0), (0, 0)]
    assert (ride.rows(0) == []) == lost


@pytest.mark.parametrize(
    ("which", "off_m", "lost"),
    [(0, 31.6, False), (0, 31.7, True), (2, 31.6, False), (2, 31.7, True)],
)
def test_the_first_and_last_point_leave_the_map_once(which: int, off_m: float, lost: bool) -> None:
    """8 to change, 10 for the point and 2 for the gap make 20: 0.5 (d / 5)^2 where d = 31.62."""
    places = [[(0, 60.0, 0.0)], [(1, 10.0, 0.0)], [(1, 60.0, 0.0)]]
    places[which] = [(*places[which][0][:2], off_m)]
    ride = _ride(ROAD, _spots(ROAD, ALONG_ROAD, places), _steps([50.0, 50.0]))
    want = [(0, 0)] * 3
    assert ride.states == [None if t == which and lost else s for t, s in enumerate(want)]


def test_points_with_no_road_lie_off_the_map() -> None:
    """Of two points in a row only the ends are near a road; nothing at all is near: all off."""
    xy = np.vstack([ALONG_ROAD, [[180.0, 5.0]]])
    places: list[list[Place]] = [[(0, 60.0, 3.0)], [], [], [(1, 60.0, 5.0)]]
    ride = _ride(ROAD, _spots(ROAD, xy, places), _steps([50.0, 50.0, 20.0]))
    assert [s is None for s in ride.states] == [False, True, True, False]
    assert len(ride.pieces.edge) == 0
    none = _ride(ROAD, _spots(ROAD, xy, [[], [], [], []]), _steps([50.0, 50.0, 20.0]))
    assert none.states == [None] * 4


@pytest.mark.parametrize(
    ("reach_m", "found"), [(59.9, False), (60.1, True)], ids=["too far", "within"]
)
def test_no_way_is_tried_beyond_the_reach(reach_m: float, found: bool) -> None:
    """40 + 20 m by node 1, all of the weight: else the ride leaves the map between."""
    places = [[(0, 60.0, 0.0)], [(1, 20.0, 0.0)]]
    xy = np.array([[60.0, 0.0], [120.0, 0.0]])
    ride = _ride(ROAD, _spots(ROAD, xy, places), _steps([60.0], reach_m=reach_m))
    assert (None in ride.states) == (not found)
    assert (ride.rows(0) == [(0, 60.0, 100.0), (1, 0.0, 20.0)]) == found


def test_a_step_back_over_a_node_keeps_the_direction() -> None:
    """From 4 m behind node 1 to 5 m before it, both within the noise of 12 m; and then on.

    The step back costs (5 + 0.2 x 9) / 10 = 0.68 and no turn; two turns would cost 24.
    """
    places = [[(0, 60.0, 0.0)], [(1, 4.0, 0.0)], [(0, 95.0, 0.0)], [(1, 60.0, 0.0)]]
    xy = np.array([[60.0, 0.0], [104.0, 0.0], [95.0, 0.0], [160.0, 0.0]])
    ride = _ride(ROAD, _spots(ROAD, xy, places), _steps([44.0, 5.0, 65.0]))
    assert ride.states == [(0, 0)] * 4
    assert ride.rows(1) == [(1, 4.0, 0.0), (0, 100.0, 95.0)]
    # 4 + 9 m are more than the noise: a ride back, turned round at its start.
    places[2] = [(0, 91.0, 0.0)]
    xy[2, 0] = 91.0
    ride = _ride(ROAD, _spots(ROAD, xy, places), _steps([44.0, 13.0, 69.0]))
    assert ride.states == [(0, 0), (0, 0), (0, 1), (0, 0)]


def test_a_turn_in_the_middle_of_a_long_road_and_none_by_its_end() -> None:
    """Turning costs 12 in the middle of a road, and nothing at its end.

    From 500 by 530 to 470 m of 1 km of road: turned at the far point. From 960 by 990 to 930 m
    the ride goes by the end, 10 m beyond the far point: 20 m too long, 2.
    """
    graph = _graph([(0, 1, 1e3)], [0], np.ones((1, 2)), np.array([[0.0, 0.0], [1e3, 0.0]]))
    far, near = (_out_and_back(graph, from_m) for from_m in (500.0, 960.0))
    assert far.states == [(0, 0), (0, 0), (0, 1)]
    assert far.rows(0) + far.rows(1) == [(0, 500.0, 530.0), (0, 530.0, 470.0)]
    ends = {m for row in near.rows(0) + near.rows(1) for m in row[1:]}
    assert ends == {960.0, 990.0, 1e3, 930.0}


def _out_and_back(graph: EdgeGraph, from_m: float) -> Ridden:
    at = from_m + np.array([0.0, 30.0, -30.0])
    places = [[(0, m, 0.0)] for m in at.tolist()]
    xy = np.stack([at, 0.0 * at], axis=1)
    return _ride(graph, _spots(graph, xy, places), _steps([30.0, 60.0]))


@pytest.mark.parametrize(
    ("apart", "alone", "by_ring"),
    [(60.0, True, False), (60.0, False, True), (71.0, True, True)],
)
def test_along_the_only_edge_no_way_round_is_looked_for(
    apart: float, alone: bool, by_ring: bool
) -> None:
    """A road of 100 m whose ends a motorway joins in 14 m, where a metre weighs a tenth.

    From 20 m to 80 m and farther: along is as far as the line goes, 60 m to 50 and a tolerance of
    10, and so no way round is tried, which by its weight would be the cheaper one.
    """
    graph = _graph(
        [(0, 1, 100.0), (0, 1, 14.0)], [0, 1], np.array([[1.0, 1.0, 0.1, 0.1]] * 2),
        np.array([[0.0, 0.0], [10.0, 0.0]]),
    )  # fmt: skip
    first: list[Place] = [(0, 20.0, 0.0)] if alone else [(0, 20.0, 0.0), (0, 21.0, 60.0)]
    places = [first, [(0, 20.0 + apart, 0.0)]]
    steps = _steps([50.0], mode=1)
    ride = _ride(graph, _spots(graph, np.array([[0.0, 0.0], [10.0, 0.0]]), places), steps)
    assert ride.states == ([(0, 1), (0, 1)] if by_ring else [(0, 0), (0, 0)])


# Small maps drawn at random against all rides over them.


def _hops(graph: EdgeGraph, mode: int) -> tuple[nx.MultiDiGraph[int], nx.MultiDiGraph[int]]:
    """The weights onward, and of steps back: there an arc weighs what its opposite does."""
    onward: nx.MultiDiGraph[int] = nx.MultiDiGraph()
    onward.add_nodes_from(range(len(graph.node_lon)))
    for e, (u, v) in enumerate(zip(graph.edge_u.tolist(), graph.edge_v.tolist(), strict=True)):
        kind, m = int(graph.way_kind[e]), float(graph.edge_length_m[e])
        onward.add_edge(u, v, weight=m * graph.rate[mode, 2 * kind], m=m)
        onward.add_edge(v, u, weight=m * graph.rate[mode, 2 * kind + 1], m=m)
    return onward, onward.reverse()


class _AllRides:
    """What each step between two states costs, from the rules alone."""

    def __init__(self, graph: EdgeGraph, spots: Spots, steps: Steps, mode: int) -> None:
        self.graph, self.spots, self.steps, self.mode = graph, spots, steps, mode
        self.ways = [
            {
                a: (weight, {b: self._metres(hops, path) for b, path in paths.items()})
                for a, (weight, paths) in nx.all_pairs_dijkstra(hops)
            }
            for hops in _hops(graph, mode)
        ]

    @staticmethod
    def _metres(hops: nx.MultiDiGraph[int], path: list[int]) -> float:
        pairs = pairwise(path)
        best = (min(hops[a][b].values(), key=lambda arc: arc["weight"]) for a, b in pairs)
        return float(sum(arc["m"] for arc in best))

    def states(self, t: int) -> list[int]:
        return [OFF_MAP, *range(2 * self.spots.start[t], 2 * self.spots.start[t + 1])]

    def point(self, x: int) -> float:
        if x == OFF_MAP:
            return OFF_COST
        return float(0.5 * (self.spots.dist_m[x >> 1] / SIGMA_M) ** 2)

    def _rate(self, place: int, backwards: int) -> float:
        kind = 2 * int(self.spots.kind[place]) + backwards
        return float(self.graph.rate[self.mode, kind])

    def step(self, t: int, x: int, y: int) -> dict[float, float]:
        """Metres of every way from state x of point t to y, by its cost."""
        lost = float(self.steps.off_gap_cost[t])
        if x == OFF_MAP or y == OFF_MAP:
            return {lost + (0.0 if x == y else COSTS.switch): 0.0}
        spots, (i, here), (j, there) = self.spots, divmod(x, 2), divmod(y, 2)
        found: dict[float, float] = {}
        if spots.edge[i] == spots.edge[j]:
            ahead = float(spots.at_m[j] - spots.at_m[i])
            toward = 0 if ahead > 0.0 else 1
            along = self._onward(t, abs(ahead) * self._rate(i, toward), abs(ahead))
            if here == there == toward:
                found[along] = abs(ahead)
            elif here == there:
                found[self._back(t, abs(ahead))] = abs(ahead)
            elif there == toward:  # turned round first
                found[COSTS.turn + along] = abs(ahead)
        # Onward: out by either end, turned round first or not, and in by the end behind y.
        for end in (0, 1):
            leave, enter = 2 * i + end, 2 * j + there
            out_m, in_m = float(spots.gate_m[leave]), float(spots.gate_m[enter])
            weights, metres = self.ways[0][int(spots.gate_node[leave])]
            node = int(spots.gate_node[enter])
            weight = out_m * self._rate(i, 1 - end) + weights[node] + in_m * self._rate(j, there)
            length = out_m + metres[node] + in_m
            turn = COSTS.turn if end == here else 0.0
            found[turn + self._onward(t, weight, length)] = length
        # Back: out by the end behind x and in by the end ahead of y, within the noise.
        leave, enter = 2 * i + here, 2 * j + 1 - there
        weights, metres = self.ways[1][int(spots.gate_node[leave])]
        node = int(spots.gate_node[enter])
        length = float(spots.gate_m[leave] + metres[node] + spots.gate_m[enter])
        if weights[node] <= SLACK_M:
            found[self._back(t, length)] = length
        return found

    def _onward(self, t: int, weight: float, length: float) -> float:
        """As tests of the costs of links have it, 10 and 5 m a unit."""
        excess, extra = abs(length - float(self.steps.gap_m[t])) / 10.0, (weight - length) / 5.0
        if self.mode == 0:
            lost = 0.5 * OFF_COST + float(self.steps.off_gap_cost[t])
            return excess + min(extra, COSTS.switch + lost - 2.0)
        return 60.0 * math.log1p(excess / 60.0) + extra

    def _back(self, t: int, length: float) -> float:
        return (float(self.steps.gap_m[t]) + 0.2 * length) / 10.0 if length <= SLACK_M else math.inf

    def cost(self, states: Sequence[int]) -> float:
        cost = sum(self.point(x) for x in states)
        for t, (x, y) in enumerate(pairwise(states)):
            cost += min(self.step(t, x, y))
        return cost


def _small_map(seed: int) -> tuple[EdgeGraph, Spots, Steps, int]:
    """Six nodes, a ring and three roads across it; four points, each near two or three roads."""
    rng = np.random.default_rng(seed)
    mode = seed % 2
    turn = 2.0 * np.pi * (np.arange(6) + rng.uniform(-0.3, 0.3, 6)) / 6.0
    xy = 45.0 * np.stack([np.cos(turn), np.sin(turn)], axis=1) + rng.normal(0.0, 4.0, (6, 2))
    pairs = [*((k, (k + 1) % 6) for k in range(6)), (0, 3), (1, 4), (2, 0)]
    edges = [(a, b, float(np.hypot(*(xy[b] - xy[a])))) for a, b in pairs]
    rate = np.array([[1.0, 1.0, 1.1, 4.4, 1.4, 1.4], [0.4, 0.4, 0.9, 18.0, 3.0, 3.0]])
    graph = _graph(edges, rng.integers(0, 3, len(edges)).tolist(), rate, xy)
    points = rng.uniform(-45.0, 45.0, (4, 2))
    points[2] = points[1] + rng.normal(0.0, 4.0, 2)  # near enough for a step back
    places = []
    for point in points:
        near = []
        for e, (a, b, m) in enumerate(edges):
            share = float(np.clip((point - xy[a]) @ (xy[b] - xy[a]) / m**2, 0.0, 1.0))
            off = float(np.hypot(*(xy[a] + share * (xy[b] - xy[a]) - point)))
            near.append((off, e, share * m))
        near.sort()
        places.append([(e, at, off) for off, e, at in near[: rng.integers(2, 4)]])
    gaps = np.hypot(*np.diff(points, axis=0).T).tolist()
    return graph, _spots(graph, points, places), _steps(gaps, mode), mode


@pytest.mark.parametrize("seed", range(16))
def test_no_ride_of_a_small_map_is_likelier(seed: int) -> None:
    """Every state at every point is tried, ways between them by networkx 3; the ride found costs
    no more than the best, and what it rides is the way that costs so."""
    graph, spots, steps, mode = _small_map(seed)
    every = _AllRides(graph, spots, steps, mode)
    step = [
        {(x, y): min(every.step(t, x, y)) for x, y in product(every.states(t), every.states(t + 1))}
        for t in range(3)
    ]
    best = min(
        sum(every.point(x) for x in ride) + sum(step[t][ride[t], ride[t + 1]] for t in range(3))
        for ride in product(*(every.states(t) for t in range(4)))
    )
    ride = _ride(graph, spots, steps)
    states: list[int] = ride.chain.state.tolist()
    assert every.cost(states) == pytest.approx(best)
    for t, (x, y) in enumerate(pairwise(states)):
        rows = ride.rows(t)
        if OFF_MAP in (x, y):
            assert rows == []
            continue
        ways = every.step(t, x, y)
        ridden_m = sum(abs(b - a) for _, a, b in rows)
        # Onward on one edge is ridden along it, even if a way round is likelier by its length.
        on = (
            len(rows) == 1
            and (rows[0][2] - rows[0][1]) * (0.5 - (x & 1)) >= 0.0
            and not (x ^ y) & 1
        )
        assert on or ridden_m == pytest.approx(ways[min(ways)], abs=1e-6)
        assert (rows[0][0], rows[0][1]) == (spots.edge[x >> 1], spots.at_m[x >> 1])
        assert (rows[-1][0], rows[-1][2]) == (spots.edge[y >> 1], spots.at_m[y >> 1])
        ends = [(_node(graph, e, a), _node(graph, e, b)) for e, a, b in rows]
        assert all(a[1] == b[0] for a, b in pairwise(ends))


def _node(graph: EdgeGraph, edge: int, at_m: float) -> int | None:
    """The node at a place of an edge, None in its middle."""
    if at_m == 0.0:
        return int(graph.edge_u[edge])
    return int(graph.edge_v[edge]) if at_m == graph.edge_length_m[edge] else None
