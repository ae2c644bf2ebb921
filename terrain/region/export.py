"""A region for other tools: a networkx graph in osmnx's conventions, and a GeoDataFrame."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING, Any

import numpy as np

from terrain.region.places import open_edges
from terrain.values.arrays import BoolArray, IntArray
from terrain.values.ground import BASES, WayGround
from terrain.values.views import Category, RoadsView, Texts, WayFlag

if TYPE_CHECKING:
    import geopandas
    import networkx

Bbox = tuple[float, float, float, float]
CRS = "epsg:4326"

_CATEGORIES = ("highway", "surface", "tracktype", "smoothness", "access", "service", "seasonal")
_TEXTS = ("name", "ref", "conditional")
_NUMBERS = ("width_m", "lanes", "maxspeed_kph", "incline_pct")
_FLAGS = {
    "bridge": WayFlag.BRIDGE,
    "tunnel": WayFlag.TUNNEL,
    "ford": WayFlag.FORD,
    "toll": WayFlag.TOLL,
}


def to_networkx(
    roads: RoadsView, ground: WayGround, bbox: Bbox | None = None, *, only_open: bool = False
) -> networkx.MultiDiGraph[int]:
    """The road graph as osmnx makes it, simplified: nodes at junctions and ends of ways.

    bbox : west, south, east, north [deg]; edges with a segment whose box touches it. All if None
    only_open : leave out ways that a motorcycle may not use
    Nodes are keyed by OSM id, with x, y [deg]. Edges carry osmid, length [m], geometry (in the
    direction of the edge), oneway, reversed, highway, and name, ref, surface, tracktype,
    smoothness, access, conditional (the first such tag, as key=value), lanes, width_m,
    maxspeed_kph, bridge, tunnel, ford, toll where tagged; open (a motorcycle may use it),
    p_paved, p_gravel, p_track, basis. A way open both ways gives two edges. One-way is for
    motorcycles.
    """
    import networkx

    graph: networkx.MultiDiGraph[int] = networkx.MultiDiGraph(
        crs=CRS, created_with="terrain", simplified=True, attribution="© OpenStreetMap contributors"
    )
    may_ride = open_edges(roads)
    edges = edges_in(roads, bbox)
    if only_open:
        edges = edges[may_ride[edges]]
    nodes = np.unique(np.r_[roads.edge_u[edges], roads.edge_v[edges]])
    for i in nodes.tolist():
        graph.add_node(
            int(roads.node_id[i]), x=float(roads.node_lon[i]), y=float(roads.node_lat[i])
        )
    graph.add_edges_from(_directed(roads, ground, edges, may_ride))
    return graph


def _directed(
    roads: RoadsView, ground: WayGround, edges: IntArray, may_ride: BoolArray
) -> Iterator[tuple[int, int, dict[str, Any]]]:
    """Node ids and attributes of each edge, once per direction it may be ridden in."""
    lines = edge_lines(roads, edges)
    attributes = _Attributes(roads, ground)
    oneway = roads.ways.oneway[roads.edge_way[edges]]
    for k, line, direction in zip(edges.tolist(), lines, oneway.tolist(), strict=True):
        u, v = int(roads.node_id[roads.edge_u[k]]), int(roads.node_id[roads.edge_v[k]])
        facts = attributes.of(k) | {"open": bool(may_ride[k]), "oneway": direction != 0}
        if direction >= 0:
            yield u, v, {**facts, "reversed": False, "geometry": line}
        if direction <= 0:
            yield v, u, {**facts, "reversed": direction == 0, "geometry": line.reverse()}


class _Attributes:
    """The attributes of edges; those of a way are worked out once."""

    def __init__(self, roads: RoadsView, ground: WayGround) -> None:
        self._roads = roads
        self._ground = ground
        self._row = -1
        self._of_way: dict[str, Any] = {}

    def of(self, edge: int) -> dict[str, Any]:
        row = int(self._roads.edge_way[edge])
        if row != self._row:
            self._row, self._of_way = row, self._way(row)
        return {**self._of_way, "length": float(self._roads.edge_length_m[edge])}

    def _way(self, row: int) -> dict[str, Any]:
        ways, flags = self._roads.ways, int(self._roads.ways.flags[row])
        out: dict[str, Any] = {"osmid": int(ways.way_id[row])}
        for name in (*_CATEGORIES, *_TEXTS):
            text = getattr(ways, name).text(row)
            if text is not None:
                out[name] = text
        for name in _NUMBERS:
            number = float(getattr(ways, name)[row])
            if not np.isnan(number):
                out[name] = number
        for name, flag in _FLAGS.items():
            if flags & flag:
                out[name] = "yes"
        if flags & WayFlag.ROUNDABOUT:
            out["junction"] = "roundabout"
        p = self._ground.p[row]
        out |= {"p_paved": float(p[0]), "p_gravel": float(p[1]), "p_track": float(p[2])}
        out["basis"] = BASES[int(self._ground.basis[row])].value
        return out


def to_geodataframe(
    roads: RoadsView, ground: WayGround, bbox: Bbox | None = None
) -> geopandas.GeoDataFrame:
    """One row per edge, EPSG:4326, geometry in drawing order.

    bbox : as for to_networkx
    Columns: way_id, length_m, highway, surface, p_paved, p_gravel, p_track, basis, tracktype,
    smoothness, access, conditional (the first such tag, as key=value), name, ref, oneway, open,
    u, v (OSM node ids), geometry. None where not tagged.
    """
    import geopandas

    edges = edges_in(roads, bbox)
    rows, ways = roads.edge_way[edges].astype(np.int64), roads.ways
    p = ground.p[rows].astype(np.float64)
    basis = np.array([basis.value for basis in BASES], dtype=object)
    columns: dict[str, Any] = {
        "way_id": ways.way_id[rows],
        "length_m": roads.edge_length_m[edges],
        "highway": category_texts(ways.highway, rows),
        "surface": category_texts(ways.surface, rows),
        "p_paved": p[:, 0],
        "p_gravel": p[:, 1],
        "p_track": p[:, 2],
        "basis": basis[ground.basis[rows]],
        "tracktype": category_texts(ways.tracktype, rows),
        "smoothness": category_texts(ways.smoothness, rows),
        "access": category_texts(ways.access, rows),
        "conditional": texts(ways.conditional, rows),
        "name": texts(ways.name, rows),
        "ref": texts(ways.ref, rows),
        "oneway": ways.oneway[rows],
        "open": open_edges(roads)[edges],
        "u": roads.node_id[roads.edge_u[edges]],
        "v": roads.node_id[roads.edge_v[edges]],
    }
    return geopandas.GeoDataFrame(columns, geometry=edge_lines(roads, edges), crs=CRS)


def edges_in(roads: RoadsView, bbox: Bbox | None) -> IntArray:
    """Edges with a segment whose own box touches the box; all of them if None."""
    if bbox is None:
        return np.arange(roads.n_edges)
    west, south, east, north = bbox
    if not (west <= east and south <= north):
        raise ValueError(f"bbox {bbox} is not west, south, east, north")
    lon, lat = roads.pt_lon, roads.pt_lat
    inside = np.maximum(lon[:-1], lon[1:]) >= west
    inside &= np.minimum(lon[:-1], lon[1:]) <= east
    inside &= np.maximum(lat[:-1], lat[1:]) >= south
    inside &= np.minimum(lat[:-1], lat[1:]) <= north
    inside &= roads.pt_edge[:-1] == roads.pt_edge[1:]
    out: IntArray = np.unique(roads.pt_edge[:-1][inside]).astype(np.int64)
    return out


def edge_lines(roads: RoadsView, edges: IntArray) -> Any:
    """The edges as shapely lines, an object array."""
    import shapely

    from terrain.region.columns import ranges

    start = roads.edge_start[edges].astype(np.int64)
    count = roads.edge_start[edges + 1].astype(np.int64) - start
    point = ranges(start, count)
    places = np.column_stack((roads.pt_lon[point], roads.pt_lat[point]))
    return shapely.linestrings(places, indices=np.repeat(np.arange(len(edges)), count))


def category_texts(column: Category, rows: IntArray) -> Any:
    """The texts of the chosen rows as an object array, None where not tagged."""
    known = np.array([*column.values, None], dtype=object)
    return known[column.codes[rows]]


def texts(column: Texts, rows: IntArray) -> list[str | None]:
    """The texts of the chosen rows, None where there is none."""
    return [column.text(row) for row in rows.tolist()]
