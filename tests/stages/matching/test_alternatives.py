"""Other ways through gaps of a line, on streets drawn by hand, against networkx."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from itertools import pairwise
from pathlib import Path

import networkx as nx
import numpy as np
import pytest

from terrain.stages.matching import match_route, other_ways
from terrain.stages.matching.alternatives import DEFAULT_OTHER_WAYS
from terrain.stages.matching.params import StepMode, class_rates
from terrain.stages.ways.fit import fit_way_ground
from terrain.values.ground import Alternative, WayGround
from terrain.values.views import RoadsView
from tests.stages.matching.drawn import route_of
from tests.stages.tinymap import PAVED, TRACK, TinyMap, TinyRegion

_SIDE = 5


@pytest.fixture(scope="module")
def streets(tmp_path_factory: pytest.TempPathFactory) -> TinyRegion:
    """Streets about 500 m apart whose corners are shifted, so that no two ways are as long; a way
    for each block, some of them tracks, and one that may be ridden eastward only."""
    shift = np.random.default_rng(3).uniform(-90.0, 90.0, (_SIDE, _SIDE, 2))
    spot = {f"{i}{j}": (500.0 * i + shift[i, j, 0], 500.0 * j + shift[i, j, 1])
            for i in range(_SIDE) for j in range(_SIDE)}  # fmt: skip
    town = TinyMap(nodes=spot)
    for i in range(_SIDE):
        for a, b in pairwise(range(_SIDE)):
            town.way((f"{a}{i}", f"{b}{i}"), PAVED if i != 2 else TRACK)
            town.way((f"{i}{a}", f"{i}{b}"), PAVED, oneway="yes" if i == 3 else "no")
    return town.read(tmp_path_factory.mktemp("streets"))


def _ground(region: TinyRegion) -> WayGround:
    """Of each way what its tag says, and nothing else."""
    fitted = fit_way_ground(region.roads, region.places)
    return replace(fitted, p=region.way_p.astype(np.float32))


def _all_paved(region: TinyRegion) -> WayGround:
    """Where nothing is off tarmac there is one taste."""
    ground = _ground(region)
    return replace(ground, p=np.tile(np.float32([1, 0, 0]), (len(ground), 1)))


Way = dict[int, float]


def _by_networkx(roads: RoadsView, a: int, b: int) -> list[tuple[float, Way]]:
    """The same rule worked out node by node with shortest paths of networkx."""
    rate = class_rates(roads.ways.highway.values)[StepMode.GUESSED]
    cost = rate[roads.ways.highway.codes[roads.edge_way]] * roads.edge_length_m
    graph: nx.DiGraph[int] = nx.DiGraph()
    for e in range(roads.n_edges):
        u, v, way = int(roads.edge_u[e]), int(roads.edge_v[e]), int(roads.edge_way[e])
        metres = float(roads.edge_length_m[e])
        graph.add_edge(u, v, cost=float(cost[e]), way=way, m=metres)
        if roads.ways.oneway[way] == 0:
            graph.add_edge(v, u, cost=float(cost[e]), way=way, m=metres)
    chains = []
    for node in graph:
        try:
            there = nx.shortest_path(graph, a, node, "cost")
            back = nx.shortest_path(graph, node, b, "cost")
        except nx.NetworkXNoPath:
            continue
        chain = [*there, *back[1:]]
        total = sum(graph.edges[step]["cost"] for step in pairwise(chain))
        chains.append((total, node, chain))
    taken: list[tuple[float, Way]] = []
    tried: set[int] = set()
    for total, node, chain in sorted(chains):
        if total > DEFAULT_OTHER_WAYS.dearer * min(chains)[0] or node in tried:
            continue
        tried.add(node)
        if len(set(chain)) < len(chain) or len(taken) == DEFAULT_OTHER_WAYS.most:
            continue
        tried.update(chain)
        ways: Way = {}
        for step in pairwise(chain):
            arc = graph.edges[step]
            ways[arc["way"]] = ways.get(arc["way"], 0.0) + arc["m"]
        if all(_alike(ways, other) < DEFAULT_OTHER_WAYS.alike for _, other in taken):
            taken.append((total, ways))
    return taken


def _alike(one: Way, other: Way) -> float:
    common = sum(min(m, other.get(way, 0.0)) for way, m in one.items())
    return common / min(sum(one.values()), sum(other.values()))


@pytest.mark.parametrize("ends", [("00", "44"), ("04", "40"), ("10", "23")])
def test_ways_through_a_gap_as_networkx_finds_them(
    streets: TinyRegion, ends: tuple[str, str]
) -> None:
    roads = streets.roads
    node = {
        f"{i}{j}": int(np.argmin(np.hypot(
            roads.node_lon * 111_319.49 - 500.0 * i, roads.node_lat * 110_574.28 - 500.0 * j
        )))
        for i in range(_SIDE) for j in range(_SIDE)
    }  # fmt: skip
    a, b = (node[name] for name in ends)
    spots = [(roads.node_lon[n] * 111_319.49, roads.node_lat[n] * 110_574.28) for n in (a, b)]
    match = match_route(route_of(spots, planned=True), roads)
    found = other_ways(match, roads, _all_paved(streets))
    want = _by_networkx(roads, a, b)
    assert len(found) == len(want) >= 3
    assert [one.ridden for one in found] == [True] + [False] * (len(found) - 1)
    least = want[0][0]
    likely = [np.exp(-(cost / least - 1.0) / DEFAULT_OTHER_WAYS.spread) for cost, _ in want]
    for ours, (_, ways), share in zip(found, want, likely, strict=True):
        got = dict(zip(ours.way.tolist(), ours.length_m.tolist(), strict=True))
        assert got == pytest.approx(ways, abs=0.01)
        assert ours.weight == pytest.approx(share / sum(likely), rel=1e-3)
        assert (ours.from_m, ours.to_m) == pytest.approx((0.0, match.length_m))


def test_no_other_way_where_there_is_one_road(tmp_path: Path) -> None:
    bend = TinyMap(nodes={"a": (0, 0), "b": (1500, 1500), "c": (3000, 0)}).way("abc", PAVED)
    region = bend.read(tmp_path)
    match = match_route(route_of([(0, 0), (3000, 0)], planned=True), region.roads)
    assert match.filled_m > 4000.0
    assert other_ways(match, region.roads, _ground(region)) == ()


def _between(folder: Path, start: Mapping[str, str], end: Mapping[str, str]) -> list[Alternative]:
    """Ways from a point on one stub to a point on another, with a road and a track between."""
    loop = TinyMap(nodes={"s": (0, 0), "a": (600, 0), "n": (2800, 1200), "b": (5000, 0),
                          "e": (5600, 0), "k": (2800, -900)})  # fmt: skip
    loop.way("sa", start).way("anb", PAVED).way("akb", TRACK).way("be", end)
    region = loop.read(folder)
    match = match_route(route_of([(100, 0), (5500, 0)], planned=True), region.roads)
    return list(other_ways(match, region.roads, _ground(region)))


def test_points_on_tracks_make_the_way_off_tarmac_likelier(tmp_path: Path) -> None:
    """A track as short as it is slow: nobody who goes by time takes it."""
    track = 3  # id of the way between
    assert _between(tmp_path, PAVED, PAVED) == []
    chances = []
    for ends in ((TRACK, PAVED), (TRACK, TRACK)):
        found = _between(tmp_path, *ends)
        assert sum(one.weight for one in found) == pytest.approx(1.0)
        (off,) = (one for one in found if track - 1 in one.way)
        chances.append(off.weight)
        assert off.ridden == (ends == (TRACK, TRACK))  # between two tracks it is taken for the way
    assert 0.3 < chances[0] < chances[1]


def test_from_that_chance_on_ways_off_tarmac_are_looked_for(tmp_path: Path) -> None:
    """Where all that is ridden is paved one in ten looks for tracks: nine go by time."""
    loop = TinyMap(nodes={"s": (0, 0), "n": (2800, 1200), "e": (5600, 0), "k": (2800, -900)})
    region = loop.way("sne", PAVED).way("ske", TRACK).read(tmp_path)
    match = match_route(route_of([(0, 0), (5600, 0)], planned=True), region.roads)
    sure = replace(_ground(region), p=np.float32([[1, 0, 0], [0, 0, 1]]))
    tenth = 1.0 - DEFAULT_OTHER_WAYS.by_time
    for doubted, n in ((tenth, 2), (tenth + 1e-9, 0)):
        params = replace(DEFAULT_OTHER_WAYS, doubted=doubted)
        assert len(other_ways(match, region.roads, sure, params)) == n
