"""A region in the hands of networkx, osmnx and geopandas."""

from __future__ import annotations

from itertools import pairwise
from pathlib import Path

import networkx as nx
import numpy as np
import pytest
from pyproj import Geod

from terrain.region.build import build_region
from terrain.region.region import Region, open_region
from tests.region.osm_xml import crossing


@pytest.fixture()
def region(tmp_path: Path) -> Region:
    osm = crossing()
    osm.node(40, 10.05, 45.0)
    osm.node(41, 10.06, 45.0)
    osm.way(40, [5, 40], {"highway": "residential", "oneway": "-1",
                      "access:conditional": "no @ (Nov-Apr)"})  # fmt: skip
    osm.way(41, [5, 40], {"highway": "service", "access": "private"})  # a second edge between
    osm.way(42, [40, 41], {"highway": "path"})
    build_region("here", (osm.write(tmp_path / "map.osm"),), home=tmp_path)
    return open_region("here", tmp_path)


def test_graph_follows_osmnx_conventions(region: Region) -> None:
    graph = region.to_networkx()
    assert isinstance(graph, nx.MultiDiGraph)
    assert graph.graph["crs"] == "epsg:4326"
    assert graph.nodes[3] == {"x": 10.02, "y": 45.0}
    edge = graph.edges[1, 3, 0]
    assert edge["osmid"] == 10
    assert edge["highway"] == "tertiary"
    assert edge["name"] == "Low Road"
    assert edge["oneway"] is False
    assert edge["reversed"] is False
    assert "tracktype" not in edge
    assert list(edge["geometry"].coords) == [(10.0, 45.0), (10.01, 45.0), (10.02, 45.0)]
    back = graph.edges[3, 1, 0]
    assert back["reversed"] is True
    assert list(back["geometry"].coords) == [(10.02, 45.0), (10.01, 45.0), (10.0, 45.0)]
    assert back["length"] == edge["length"]
    assert edge["p_paved"] + edge["p_gravel"] + edge["p_track"] == pytest.approx(1, abs=1e-5)
    assert edge["basis"] == "tagged"


def test_oneway_edges_run_one_way_only(region: Region) -> None:
    graph = region.to_networkx()
    assert graph.has_edge(9, 10)
    assert not graph.has_edge(10, 9)
    assert graph.edges[9, 10, 0]["bridge"] == "yes"
    # oneway=-1: against the drawing; the private road runs both ways beside it.
    assert [d["osmid"] for d in graph[5][40].values()] == [41]
    assert sorted(d["osmid"] for d in graph[40][5].values()) == [40, 41]
    reverse = next(d for d in graph[40][5].values() if d["osmid"] == 40)
    assert reverse["geometry"].coords[0] == (10.05, 45.0)
    assert reverse["oneway"] is True
    assert reverse["conditional"] == "access:conditional=no @ (Nov-Apr)"


def test_every_edge_carries_a_length(region: Region) -> None:
    """networkx takes a missing weight as 1."""
    for _, _, data in region.to_networkx().edges(data=True):
        assert data["length"] == pytest.approx(
            Geod(ellps="WGS84").geometry_length(data["geometry"]), abs=1e-6
        )


def test_only_open_leaves_closed_roads_out(region: Region) -> None:
    graph = region.to_networkx(only_open=True)
    assert {d["osmid"] for *_, d in graph.edges(data=True)} == {10, 11, 12, 40}
    assert 41 not in graph


def test_a_box_takes_the_edges_that_touch_it(region: Region) -> None:
    graph = region.to_networkx((10.0, 44.999, 10.005, 45.001))
    assert {d["osmid"] for *_, d in graph.edges(data=True)} == {10}
    assert set(graph.nodes) == {1, 3}
    frame = region.to_geodataframe((10.019, 45.002, 10.021, 45.003))
    assert frame["way_id"].tolist() == [11]
    assert len(region.to_networkx((20, 20, 21, 21))) == 0
    assert len(region.to_geodataframe((20, 20, 21, 21))) == 0


@pytest.mark.parametrize("bbox", [(10.1, 45, 10.0, 46), (10, 46, 11, 45), (np.nan, 45, 11, 46)])
def test_a_box_the_wrong_way_round_is_refused(
    region: Region, bbox: tuple[float, float, float, float]
) -> None:
    with pytest.raises(ValueError, match="west, south, east, north"):
        region.to_networkx(bbox)


def test_frame_has_the_agreed_columns(region: Region) -> None:
    frame = region.to_geodataframe()
    agreed = ["way_id", "length_m", "highway", "surface", "p_paved", "p_gravel", "p_track", "basis",
              "geometry"]  # fmt: skip
    assert set(agreed) <= set(frame.columns)
    assert frame.crs.to_epsg() == 4326
    assert len(frame) == region.roads.n_edges
    row = frame[frame["way_id"] == 10].iloc[0]
    assert (row["highway"], row["surface"], row["name"]) == ("tertiary", "asphalt", "Low Road")
    assert frame[frame["way_id"] == 11]["surface"].isna().all()
    conditional = frame.set_index("way_id")["conditional"].dropna()
    assert conditional.to_dict() == {40: "access:conditional=no @ (Nov-Apr)"}
    p = frame[["p_paved", "p_gravel", "p_track"]].sum(axis=1)
    np.testing.assert_allclose(p, 1, atol=1e-5)


def test_shortest_paths_by_scipy_and_by_networkx(helsinki: Region) -> None:
    """The arrays that searches run on, and the exported graph, give the same lengths."""
    from scipy.sparse import csr_array
    from scipy.sparse.csgraph import dijkstra

    roads = helsinki.roads
    oneway = roads.ways.oneway[roads.edge_way]
    tail = np.r_[roads.edge_u[oneway >= 0], roads.edge_v[oneway <= 0]]
    head = np.r_[roads.edge_v[oneway >= 0], roads.edge_u[oneway <= 0]]
    length = np.r_[roads.edge_length_m[oneway >= 0], roads.edge_length_m[oneway <= 0]]
    order = np.lexsort((length, head, tail))
    tail, head, length = tail[order], head[order], length[order]
    first = np.r_[True, (tail[1:] != tail[:-1]) | (head[1:] != head[:-1])]
    shape = (roads.n_nodes, roads.n_nodes)
    matrix = csr_array((length[first], (tail[first], head[first])), shape=shape)
    graph = helsinki.to_networkx()
    for source in (0, roads.n_nodes // 3, roads.n_nodes // 2):
        ours = dijkstra(matrix, indices=source)
        theirs = nx.single_source_dijkstra_path_length(
            graph, int(roads.node_id[source]), weight="length"
        )
        reached = np.flatnonzero(np.isfinite(ours))
        assert {int(roads.node_id[i]) for i in reached} == set(theirs)
        for i in reached.tolist():
            assert ours[i] == pytest.approx(theirs[int(roads.node_id[i])], abs=1e-6)


def test_osmnx_works_on_the_graph(helsinki: Region) -> None:
    ox = pytest.importorskip("osmnx")
    graph = helsinki.to_networkx()
    nodes, edges = ox.graph_to_gdfs(graph)
    assert len(nodes) == helsinki.roads.n_nodes
    assert len(edges) == graph.number_of_edges()
    back = ox.graph_from_gdfs(nodes, edges)
    assert back.number_of_edges() == graph.number_of_edges()
    projected = ox.project_graph(graph)
    start = ox.distance.nearest_nodes(projected, *_place(projected, nodes.index[10]))
    assert start == nodes.index[10]
    largest = ox.truncate.largest_component(graph, strongly=True)
    ends = sorted(largest)[0], sorted(largest)[-1]
    path = ox.shortest_path(largest, *ends, weight="length")
    length = sum(min(d["length"] for d in largest[u][v].values()) for u, v in pairwise(path))
    assert length == pytest.approx(nx.shortest_path_length(largest, *ends, weight="length"))


def _place(graph: nx.MultiDiGraph, node: int) -> tuple[float, float]:
    return graph.nodes[node]["x"], graph.nodes[node]["y"]
