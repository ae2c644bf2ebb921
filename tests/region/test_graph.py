"""Ways cut into a road graph, on small maps drawn by hand."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
from pyproj import Geod

from terrain.errors import MapDataError
from terrain.region.grid import morton
from terrain.region.osm import MapData
from terrain.values.views import RoadsView, WayFlag
from tests.region.osm_xml import OsmXml, crossing

Read = Callable[..., MapData]


def edges_of(roads: RoadsView, way_id: int) -> list[tuple[int, int]]:
    """(from node id, to node id) of a way's edges in drawing order."""
    row = int(np.flatnonzero(roads.ways.way_id == way_id)[0])
    edges = np.flatnonzero(roads.edge_way == row)
    return [
        (int(roads.node_id[roads.edge_u[k]]), int(roads.node_id[roads.edge_v[k]])) for k in edges
    ]


def test_ways_are_cut_at_shared_nodes_only(read: Read) -> None:
    roads = read(crossing()).roads
    assert edges_of(roads, 10) == [(1, 3), (3, 5)]
    assert edges_of(roads, 11) == [(6, 3), (3, 7)]
    # The bridge crosses way 11 without a shared node.
    assert edges_of(roads, 12) == [(9, 10)]
    assert roads.n_edges == 5
    assert sorted(roads.node_id.tolist()) == [1, 3, 5, 6, 7, 9, 10]


def test_lengths_are_geodesic(read: Read) -> None:
    """pyproj.Geod, WGS 84, along the three points of the first edge."""
    roads = read(crossing()).roads
    row = int(np.flatnonzero(roads.ways.way_id == 10)[0])
    edge = int(np.flatnonzero(roads.edge_way == row)[0])
    first, end = roads.edge_start[edge], roads.edge_start[edge + 1]
    lon, lat = roads.pt_lon[first:end], roads.pt_lat[first:end]
    assert lon.tolist() == [10.0, 10.01, 10.02]
    steps = Geod(ellps="WGS84").line_lengths(lon, lat)
    assert roads.edge_length_m[edge] == pytest.approx(sum(steps), abs=1e-6)
    assert roads.pt_at_m[first:end].tolist() == pytest.approx([0, steps[0], sum(steps)], abs=1e-6)


def test_tags_become_columns(read: Read) -> None:
    ways = read(crossing()).roads.ways
    row = {int(w): i for i, w in enumerate(ways.way_id)}
    assert ways.highway.text(row[10]) == "tertiary"
    assert ways.surface.text(row[10]) == "asphalt"
    assert ways.surface.text(row[11]) is None
    assert ways.tracktype.text(row[11]) == "grade3"
    assert ways.name.text(row[10]) == "Low Road"
    assert ways.name.text(row[11]) is None
    assert ways.oneway[row[12]] == 1
    assert ways.flags[row[12]] == WayFlag.BRIDGE
    assert np.isnan(ways.width_m[row[10]])
    # 2023-05-02 is 19479 days after 1970-01-01.
    assert set(ways.edited_day.tolist()) == {19479}


def test_an_extract_without_dates_says_not_known(read: Read) -> None:
    osm = OsmXml(timestamp=None)
    osm.node(1, 10.0, 45.0)
    osm.node(2, 10.1, 45.0)
    osm.way(1, [1, 2], {"highway": "track"})
    data = read(osm)
    assert data.roads.ways.edited_day.tolist() == [-1]
    assert data.map_date is None


def test_a_way_that_meets_itself_is_cut_there(read: Read) -> None:
    osm = OsmXml()
    for ref, (lon, lat) in enumerate([(0, 0), (1, 0), (2, 0), (2, 1), (1, 1)], start=1):
        osm.node(ref, 10 + lon / 100, 45 + lat / 100)
    osm.way(1, [1, 2, 3, 4, 5, 2], {"highway": "track"})
    assert edges_of(read(osm).roads, 1) == [(1, 2), (2, 2)]


def test_a_closed_way_on_its_own_is_one_edge(read: Read) -> None:
    osm = OsmXml()
    for ref, (lon, lat) in enumerate([(0, 0), (1, 0), (1, 1)], start=1):
        osm.node(ref, 10 + lon / 100, 45 + lat / 100)
    osm.way(1, [1, 2, 3, 1], {"highway": "track"})
    assert edges_of(read(osm).roads, 1) == [(1, 1)]


def test_a_repeated_node_is_no_junction(read: Read) -> None:
    osm = OsmXml()
    for ref in (1, 2, 3):
        osm.node(ref, 10 + ref / 100, 45)
    osm.way(1, [1, 2, 2, 3], {"highway": "track"})
    roads = read(osm).roads
    assert edges_of(roads, 1) == [(1, 3)]
    assert len(roads.pt_lon) == 3


def test_known_runs_of_a_cut_way_are_kept(read: Read) -> None:
    """At the edge of an extract some nodes of a way are not in the file."""
    osm = OsmXml()
    for ref in (1, 2, 4, 5, 7):
        osm.node(ref, 10 + ref / 100, 45)
    osm.way(1, [1, 2, 3, 4, 5, 6, 7], {"highway": "primary"})
    osm.way(2, [8, 9], {"highway": "primary"})  # none of its nodes
    osm.way(3, [7, 9], {"highway": "primary"})  # one of its nodes
    roads = read(osm).roads
    assert edges_of(roads, 1) == [(1, 2), (4, 5)]
    assert roads.ways.way_id.tolist() == [1]


def test_of_overlapping_extracts_the_newest_version_counts(read: Read) -> None:
    old, new = OsmXml(), OsmXml()
    for osm in (old, new):
        for ref in (1, 2, 3):
            osm.node(ref, 10 + ref / 100, 45)
    old.way(1, [1, 2], {"highway": "track"}, v=1)
    old.way(2, [2, 3], {"highway": "track", "surface": "gravel"}, v=7)
    new.way(1, [1, 2], {"highway": "track", "surface": "asphalt"}, v=2)
    new.way(2, [2, 3], {"highway": "track"}, v=6)
    for maps in ((old, new), (new, old)):
        ways = read(*maps).roads.ways
        surface = {int(w): ways.surface.text(i) for i, w in enumerate(ways.way_id)}
        assert surface == {1: "asphalt", 2: "gravel"}


def test_two_cut_extracts_make_one_whole_way(read: Read) -> None:
    west, east = OsmXml(), OsmXml()
    for ref in (1, 2, 3, 4):
        (west if ref < 3 else east).node(ref, 10 + ref / 100, 45)
    east.node(2, 10.02, 45)
    west.way(1, [1, 2, 3, 4], {"highway": "track"})
    east.way(1, [1, 2, 3, 4], {"highway": "track"})
    # Nodes known in either file count for the one way kept.
    roads = read(west, east).roads
    assert edges_of(roads, 1) == [(1, 4)]
    assert roads.n_edges == 1


def test_a_barrier_on_the_way_is_flagged(read: Read) -> None:
    osm = crossing()
    osm.node(20, 10.05, 45, {"barrier": "bollard"})
    osm.way(20, [5, 20], {"highway": "service"})
    roads = read(osm).roads
    row = {int(w): i for i, w in enumerate(roads.ways.way_id)}
    assert roads.ways.flags[row[20]] & WayFlag.BARRIER
    assert not roads.ways.flags[row[10]] & WayFlag.BARRIER


def test_arcs_leave_the_node_they_are_listed_at(read: Read) -> None:
    roads = read(crossing()).roads
    seen = []
    for node in range(roads.n_nodes):
        for arc in roads.out_arc[roads.out_start[node] : roads.out_start[node + 1]].tolist():
            edge, backwards = divmod(arc, 2)
            assert (roads.edge_v if backwards else roads.edge_u)[edge] == node
            seen.append(arc)
    assert sorted(seen) == list(range(2 * roads.n_edges))


def test_rows_of_arcs_tell_where_each_leads_how_far_and_over_what(read: Read) -> None:
    osm = crossing()
    osm.way(20, [5, 6], {"highway": "service", "oneway": "yes"})
    osm.way(21, [6, 5], {"highway": "service", "oneway": "yes", "bridge": "yes"})
    osm.way(22, [6, 5], {"highway": "service", "oneway": "yes", "bridge": "yes"})
    roads = read(osm).roads
    ways = roads.ways
    for k, arc in enumerate(roads.out_arc.tolist()):
        edge, backwards = divmod(arc, 2)
        assert roads.arc_head[k] == (roads.edge_u if backwards else roads.edge_v)[edge]
        assert roads.arc_length_m[k] == roads.edge_length_m[edge]
        kind, against = divmod(int(roads.arc_kind[k]), 2)
        assert against == backwards and kind == roads.way_kind[roads.edge_way[edge]]
    for way, kind in enumerate(roads.way_kind.tolist()):
        for column in (ways.highway.codes, ways.oneway, ways.flags):
            assert column[roads.kind_way[kind]] == column[way]
    facts = zip(ways.highway.codes, ways.oneway, ways.flags, strict=True)
    assert len(set(facts)) == len(roads.kind_way) < len(ways)


def test_every_cell_lists_every_segment_whose_box_touches_it(read: Read) -> None:
    roads = read(crossing()).roads
    x = (roads.pt_lon - roads.grid_west) / roads.grid_step_lon
    y = (roads.pt_lat - roads.grid_south) / roads.grid_step_lat
    for p in np.flatnonzero(roads.pt_edge[1:] == roads.pt_edge[:-1]).tolist():
        ends = slice(p, p + 2)
        for row in range(int(y[ends].min()), int(y[ends].max()) + 1):
            for col in range(int(x[ends].min()), int(x[ends].max()) + 1):
                cell = row * roads.grid_cols + col
                listed = roads.cell_pt[roads.cell_start[cell] : roads.cell_start[cell + 1]]
                assert p in listed


def test_a_long_ferry_does_not_fill_its_box(read: Read) -> None:
    """One segment of 140 km, slantwise: listed along itself, not all over the sea."""
    osm = crossing()
    osm.node(30, 11.04, 46.0)
    osm.way(30, [5, 30], {"route": "ferry", "duration": "5:00"})
    roads = read(osm).roads
    row = int(np.flatnonzero(roads.ways.way_id == 30)[0])
    assert roads.ways.highway.text(row) == "ferry"
    assert roads.ways.ferry_s[row] == 18000
    edge = int(np.flatnonzero(roads.edge_way == row)[0])
    p = int(roads.edge_start[edge])
    assert np.count_nonzero(roads.cell_pt == p) < 16 * max(roads.grid_cols, roads.grid_rows)
    for t in np.linspace(0, 1, 999):
        lon = roads.pt_lon[p] + t * (roads.pt_lon[p + 1] - roads.pt_lon[p])
        lat = roads.pt_lat[p] + t * (roads.pt_lat[p + 1] - roads.pt_lat[p])
        col = int((lon - roads.grid_west) / roads.grid_step_lon)
        cell = int((lat - roads.grid_south) / roads.grid_step_lat) * roads.grid_cols + col
        assert p in roads.cell_pt[roads.cell_start[cell] : roads.cell_start[cell + 1]]


def test_a_region_across_the_antimeridian_does_not_jump(read: Read) -> None:
    """An island cut by 180 degrees: lengths against pyproj.Geod."""
    osm = OsmXml()
    for ref, lon in ((1, 179.98), (2, 179.99), (3, -179.99), (4, -179.98)):
        osm.node(ref, lon, -16.8)
    osm.way(1, [1, 2, 3, 4], {"highway": "tertiary"})
    osm.node(5, -179.985, -16.8005, {"amenity": "fuel"})
    data = read(osm)
    assert data.roads.pt_lon.tolist() == pytest.approx([179.98, 179.99, 180.01, 180.02])
    _, _, whole = Geod(ellps="WGS84").inv(179.98, -16.8, -179.98, -16.8)
    assert data.roads.edge_length_m[0] == pytest.approx(whole, rel=1e-6)
    assert data.roads.grid_cols * data.roads.grid_rows < 100
    assert data.places.edge.tolist() == [0]


def test_a_map_without_roads_says_so(read: Read) -> None:
    osm = OsmXml()
    osm.node(1, 10, 45, {"amenity": "fuel"})
    with pytest.raises(MapDataError, match="no road with known positions"):
        read(osm)


def test_morton_keys_keep_quadrants_together() -> None:
    lon = np.array([-90.0, 90.0, -90.0, 90.0, np.nan])
    lat = np.array([-45.0, -45.0, 45.0, 45.0, 0.0])
    assert np.argsort(morton(lon, lat)).tolist() == [0, 1, 2, 3, 4]
    near = morton(np.array([10.0, 10.0001, 100.0]), np.array([45.0, 45.0, 45.0]))
    assert abs(near[1] - near[0]) < abs(near[2] - near[0])
