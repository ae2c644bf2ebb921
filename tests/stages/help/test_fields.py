"""Fields of help over real extracts against networkx."""

from __future__ import annotations

from itertools import pairwise
from pathlib import Path
from typing import NamedTuple

import networkx as nx
import numpy as np
import pytest

from terrain.region.osm import read_osm
from terrain.stages.help import help_fields, usable_roads
from terrain.stages.help.fields import help_sources, weak_sources
from terrain.tables.help import RESTRICTED_PRICE, USUAL_SHARE
from terrain.values.help import HELP_KINDS, WEAK_HELP, HelpFields, HelpKind
from terrain.values.views import PlacesView, RoadsView

EXTRACTS = (
    "andorra-2023-05-02.osm.pbf",
    pytest.param("malta-2018-08-27.osm.pbf", marks=pytest.mark.bench),
    pytest.param("faroe-islands-2017-02-18.osm.pbf", marks=pytest.mark.bench),
)
NODES = 500


class Case(NamedTuple):
    roads: RoadsView
    places: PlacesView
    fields: HelpFields
    time_s: np.ndarray
    graphs: dict[tuple[bool, str], nx.MultiDiGraph]


@pytest.fixture(scope="module", params=EXTRACTS)
def case(request, shared_data: Path) -> Case:
    data = read_osm((shared_data / "osm" / request.param,), lambda step, share: None)
    roads, rng = data.roads, np.random.default_rng(1)
    # Any ground and any speed will do: both sides get the same.
    way_p = np.tile([0.7, 0.2, 0.1], (len(roads.ways), 1))
    is_track = np.array([roads.ways.highway.text(i) == "track" for i in range(len(roads.ways))])
    way_p[is_track] = (0.1, 0.3, 0.6)
    time_s = roads.edge_length_m / rng.uniform(5.0, 25.0, roads.n_edges)
    fields = help_fields(roads, data.places, way_p=way_p, edge_time_s=time_s)
    return Case(roads, data.places, fields, time_s, {})


def _graph(case: Case, usable: np.ndarray, weight: np.ndarray, rows: np.ndarray) -> nx.DiGraph:
    """All usable edges and, cutting theirs, the places as nodes ("place", row)."""
    out = _roads_graph(case, usable, weight, turned=False)
    _add_places(out, case, weight, rows, turned=False)
    return out


def _add(out: nx.MultiDiGraph, oneway: int, ends: tuple, cost: float, *, turned: bool) -> None:
    if turned:
        ends = ends[::-1]
    if oneway != -1:
        out.add_edge(*ends, w=cost)
    if oneway != 1:
        out.add_edge(*ends[::-1], w=cost)


def _roads_graph(
    case: Case, usable: np.ndarray, weight: np.ndarray, *, turned: bool
) -> nx.MultiDiGraph:
    roads, out = case.roads, nx.MultiDiGraph()
    out.add_nodes_from(range(roads.n_nodes))
    oneway = roads.ways.oneway[roads.edge_way]
    for k in np.flatnonzero(usable).tolist():
        ends = int(roads.edge_u[k]), int(roads.edge_v[k])
        _add(out, oneway[k], ends, float(weight[k]), turned=turned)
    return out


def _add_places(
    out: nx.MultiDiGraph, case: Case, weight: np.ndarray, rows: np.ndarray, *, turned: bool
) -> None:
    roads = case.roads
    for row in rows.tolist():
        k = int(case.places.edge[row])
        one = roads.ways.oneway[roads.edge_way[k]]
        part = float(case.places.edge_at_m[row] / roads.edge_length_m[k])
        before = int(roads.edge_u[k]), ("place", row)
        after = ("place", row), int(roads.edge_v[k])
        _add(out, one, before, part * float(weight[k]), turned=turned)
        _add(out, one, after, (1 - part) * float(weight[k]), turned=turned)


@pytest.mark.parametrize("kind", HELP_KINDS, ids=[kind.value for kind in HELP_KINDS])
@pytest.mark.parametrize("van", [False, True], ids=["you-to-them", "van-to-you"])
def test_distance_time_and_nearest_place_equal_networkx(case, kind, van) -> None:
    fields, row = case.fields, HELP_KINDS.index(kind)
    rows = help_sources(case.places, fields.town_population)[row]
    restricted = fields.edge_van_restricted if van else fields.edge_restricted
    usable = restricted | (fields.edge_van if van else fields.edge_open)
    price = np.where(restricted, RESTRICTED_PRICE, 1.0)
    time_s = price * (fields.edge_van_s.astype(float) if van else case.time_s)
    nodes = np.random.default_rng(7).choice(case.roads.n_nodes, NODES, replace=False)
    by_length = ("m", price * case.roads.edge_length_m, fields.to_help_m)
    by_time = ("s", time_s, fields.van_s if van else fields.to_help_s)
    for name, weight, reach in (by_time,) if van else (by_length, by_time):
        cost, place = reach.cost[row], reach.place[row]
        key = van, name
        if key not in case.graphs:
            case.graphs[key] = _roads_graph(case, usable, weight, turned=not van)
        graph = case.graphs[key]
        graph.remove_nodes_from([node for node in graph if isinstance(node, tuple)])
        _add_places(graph, case, weight, rows, turned=not van)
        sources = {("place", int(r)) for r in rows}
        want = nx.multi_source_dijkstra_path_length(graph, sources, weight="w") if sources else {}
        assert sources or kind is not HelpKind.FUEL  # every extract has some fuel
        for node in nodes.tolist():
            if node not in want:
                assert np.isnan(cost[node])
                assert place[node] == -1
                continue
            assert cost[node] == pytest.approx(want[node], rel=1e-5, abs=0.05)
        for source in np.unique(place[nodes[place[nodes] >= 0]])[:4].tolist():
            alone = nx.single_source_dijkstra_path_length(graph, ("place", source), weight="w")
            for node in nodes[place[nodes] == source].tolist():
                assert cost[node] == pytest.approx(alone[node], rel=1e-5, abs=0.05)


def test_way_out_to_the_paved_network_equals_networkx(case) -> None:
    fields = case.fields
    time_s = fields.edge_emergency_s.astype(float)
    graph = _graph(case, fields.edge_emergency, time_s, np.zeros(0, int)).reverse(copy=False)
    on = np.unique(np.concatenate([
        case.roads.edge_u[fields.edge_paved], case.roads.edge_v[fields.edge_paved]
    ]))  # fmt: skip
    want = nx.multi_source_dijkstra_path_length(graph, set(on.tolist()), weight="w")
    out_s = fields.to_paved.time_s
    assert 0 < len(on) < case.roads.n_nodes
    for node in range(0, case.roads.n_nodes, 5):
        if node not in want:
            assert np.isnan(out_s[node])
        else:
            assert out_s[node] == pytest.approx(want[node], rel=1e-5, abs=0.05)
            if want[node] > 0:
                step = int(fields.to_paved.next_node[node])
                leg = min(data["w"] for data in graph[step][node].values())
                assert out_s[node] == pytest.approx(want[step] + leg, rel=1e-5, abs=0.05)


def test_van_keeps_off_what_a_van_cannot_use(case) -> None:
    usable = usable_roads(case.roads, np.tile([0.7, 0.2, 0.1], (len(case.roads.ways), 1)))
    ways = case.roads.ways
    assert not (usable.van & ~usable.motorcycle).any()
    rough = {"very_bad", "horrible", "very_horrible", "impassable"}
    for k in np.flatnonzero(usable.van).tolist():
        way = int(case.roads.edge_way[k])
        assert ways.highway.text(way) not in {"path", "footway", "bridleway", "cycleway"}
        assert ways.smoothness.text(way) not in rough
        assert ways.tracktype.text(way) not in {"grade4", "grade5"}
        assert not ways.width_m[way] < 2.2


@pytest.mark.parametrize("kind", WEAK_HELP, ids=[kind.value for kind in WEAK_HELP])
def test_time_to_weaker_help_equals_networkx(case, kind) -> None:
    row = WEAK_HELP.index(kind)
    rows = weak_sources(case.places)[row]
    cost = case.fields.weaker_s.cost[row]
    graph = _roads_graph(
        case, case.fields.edge_emergency, case.fields.edge_emergency_s.astype(float), turned=True
    )
    _add_places(graph, case, case.fields.edge_emergency_s.astype(float), rows, turned=True)
    sources = {("place", int(r)) for r in rows}
    want = nx.multi_source_dijkstra_path_length(graph, sources, weight="w") if sources else {}
    for node in range(0, case.roads.n_nodes, max(case.roads.n_nodes // NODES, 1)):
        if node not in want:
            assert np.isnan(cost[node])
        else:
            assert cost[node] == pytest.approx(want[node], rel=1e-5, abs=0.05)


def test_usual_distance_equals_a_weighted_quantile_of_numpy(case) -> None:
    """numpy.quantile with weights, method inverted_cdf, over both ends of each open road."""
    roads, fields = case.roads, case.fields
    ride = fields.edge_open
    ends = np.concatenate((roads.edge_u[ride], roads.edge_v[ride]))
    weight = np.tile(roads.edge_length_m[ride], 2)
    for row, cost in enumerate(fields.to_help_m.cost):
        far = np.nan_to_num(cost[ends].astype(float), nan=1e12)
        want = np.quantile(far, USUAL_SHARE, weights=weight, method="inverted_cdf")
        got = fields.usual_m[row]
        assert got == pytest.approx(want, rel=1e-6) or (np.isinf(got) and want == 1e12)


def test_restricted_length_is_that_of_the_path_of_networkx(case) -> None:
    """The way to the nearest fuel by priced metres, its closed part added up edge by edge."""
    roads, fields = case.roads, case.fields
    row = HELP_KINDS.index(HelpKind.FUEL)
    price = np.where(fields.edge_restricted, RESTRICTED_PRICE, 1.0)
    usable = fields.edge_open | fields.edge_restricted
    graph = _roads_graph(case, usable, price * roads.edge_length_m, turned=True)
    closed = _roads_graph(
        case, usable, np.where(fields.edge_restricted, roads.edge_length_m, 0.0), turned=True
    )
    rows = help_sources(case.places, fields.town_population)[row]
    _add_places(graph, case, price * roads.edge_length_m, rows, turned=True)
    sources = {("place", int(r)) for r in rows}
    _, paths = nx.multi_source_dijkstra(graph, sources, weight="w")
    told = fields.restricted_m[row]
    shut = np.flatnonzero(told > 100.0)
    for node in np.random.default_rng(3).choice(shut, min(len(shut), 60), replace=False).tolist():
        inside = [n for n in paths[node] if not isinstance(n, tuple)]
        want = 0.0
        for a, b in pairwise(inside):
            by = min(graph[a][b], key=lambda key, a=a, b=b: graph[a][b][key]["w"])
            want += closed[a][b][by]["w"]
        assert told[node] == pytest.approx(want, rel=1e-3, abs=2.0)
