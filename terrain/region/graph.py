"""From ways as read to the road graph: cut at junctions, measured, indexed."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from pyproj import Geod

from terrain.calc.geodesy import steps_m
from terrain.errors import MapDataError
from terrain.region.columns import among, first_of_runs, numbered, ranges, whole
from terrain.region.grid import build_grid, morton
from terrain.region.pbf import UNITS, UNKNOWN
from terrain.region.scan import RawMap, RawWays
from terrain.region.way_table import build_way_table
from terrain.text.message import message
from terrain.values.arrays import BoolArray, FloatArray, Int32Array, IntArray
from terrain.values.views import RoadsView, WayTable

_GEOD = Geod(ellps="WGS84")
_CHUNK = 200_000
_FLAT_M = 500.0  # up to here a flat step is right to a hundredth of a millimetre, to 84 N


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Runs:
    """Unbroken runs of known nodes, one after the other; a way may give several.

    node, way : node and way row of each point, shape (p,)
    first : True where a run starts
    """

    node: Int32Array
    way: Int32Array
    first: BoolArray


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Edges:
    """Where each edge lies in the runs: from point `start`, `count` points, both ends included."""

    start: IntArray
    count: IntArray


def build_roads(raw: RawMap) -> RoadsView:
    """The graph of all ways read, whose nodes it takes; neighbours are kept together.

    Longitudes of a region across the antimeridian run on past 180.
    Raises MapDataError if no way has two known nodes.
    """
    node_id, node_lon, node_lat, rows, runs = _collect(raw.ways)
    if not len(runs.node):
        raise MapDataError(
            message("the map data holds no road with known positions"),
            "",
            message(
                "Give an extract that holds ways with highway tags and the nodes they are made of."
            ),
        )
    ways = build_way_table(raw.ways, rows, barrier=_with_barrier(raw, len(rows), node_id, runs))
    edges = _cut(runs, len(node_id))
    edge_way = runs.way[edges.start]
    pt_node = runs.node[ranges(edges.start, edges.count)]
    edge_start = np.r_[0, np.cumsum(edges.count)].astype(np.int32)
    ends = np.r_[pt_node[edge_start[:-1]], pt_node[edge_start[1:] - 1]]
    junction, ends = np.unique(ends, return_inverse=True)
    pt_lon, pt_lat = node_lon[pt_node], node_lat[pt_node]
    node_lon, node_lat, node_id = node_lon[junction], node_lat[junction], node_id[junction]
    del runs, pt_node  # what follows needs the room
    columns = _edge_columns(edge_start, pt_lon, pt_lat)
    columns |= arc_columns(ends.astype(np.int32), len(junction), columns["edge_length_m"])
    columns |= kind_columns(ways, columns["out_arc"], edge_way)
    columns |= build_grid(pt_lon, pt_lat, columns["pt_edge"]).columns()
    return RoadsView(
        ways=ways,
        node_lon=node_lon,
        node_lat=node_lat,
        node_id=node_id,
        edge_way=edge_way,
        pt_lon=pt_lon,
        pt_lat=pt_lat,
        **columns,
    )


def _collect(ways: RawWays) -> tuple[IntArray, FloatArray, FloatArray, IntArray, _Runs]:
    """Node ids and positions, the raw rows kept, and the runs of points in the kept rows."""
    count = whole(ways.n_refs)
    start = np.cumsum(count) - count
    node, node_id, spots = ways.take_nodes()
    # A node that one extract lacks another may hold, so positions are looked up over all.
    node_id, place = numbered(node_id)
    lon, lat = _node_positions(place, spots, len(node_id))
    node = place[node]
    del place, spots  # what follows needs the room
    lon = _unwrapped(lon)
    order = np.argsort(_near_keys(lon, lat), kind="stable")
    rank = np.empty(len(order), np.int32)
    rank[order] = np.arange(len(order), dtype=np.int32)
    node, node_id, lon, lat = rank[node], node_id[order], lon[order], lat[order]
    known = ~np.isnan(lon)
    rows = _kept_rows(ways, known[node], start, count)
    held = np.flatnonzero(known[node])
    # Nodes are in an order that keeps neighbours together; so are ways by their first node.
    first = node[held[np.searchsorted(held, start[rows])]]
    rows = rows[np.argsort(first, kind="stable")]
    node = node[ranges(start[rows], count[rows])]
    way = np.repeat(np.arange(len(rows), dtype=np.int32), count[rows])
    runs = _runs(node, way, known)
    used = np.flatnonzero(np.bincount(runs.way, minlength=len(rows)))
    dense = np.zeros(len(rows), np.int32)
    dense[used] = np.arange(len(used), dtype=np.int32)
    return node_id, lon, lat, rows[used], replace(runs, way=dense[runs.way])


def _node_positions(
    node: Int32Array, spots: Int32Array, n_nodes: int
) -> tuple[FloatArray, FloatArray]:
    """One position per node, the last one read; NaN for nodes no extract holds."""
    lon, lat = np.full(n_nodes, np.nan), np.full(n_nodes, np.nan)
    for low in range(0, len(node), _CHUNK):
        at, spot = node[low : low + _CHUNK], spots[low : low + _CHUNK]
        held = spot[:, 0] != UNKNOWN
        lon[at[held]], lat[at[held]] = spot[held, 0] / UNITS, spot[held, 1] / UNITS
    return lon, lat


def _near_keys(lon: FloatArray, lat: FloatArray) -> IntArray:
    """Sort keys of the nodes, some at a time: what lies in between is then soon used again."""
    parts = (slice(low, low + _CHUNK) for low in range(0, max(len(lon), 1), _CHUNK))
    return np.concatenate([morton(lon[part], lat[part]) for part in parts])


def _unwrapped(lon: FloatArray) -> FloatArray:
    """Longitudes without the jump at the antimeridian: a region across it runs on past 180."""
    known = lon[~np.isnan(lon)]
    if not len(known) or np.ptp(known) <= 180.0:
        return lon
    east = np.where(lon < 0, lon + 360.0, lon)
    return east if np.nanmax(east) - np.nanmin(east) < 180.0 else lon


def _kept_rows(ways: RawWays, known: BoolArray, start: IntArray, count: IntArray) -> IntArray:
    """Of each way id the newest version; among equals the one with most nodes known.

    known : for each ref, whether the position of its node is known
    """
    way_id = whole(ways.way_id)
    total = np.r_[0, np.cumsum(known)]
    n_known = total[start + count] - total[start]
    order = np.lexsort((n_known, whole(ways.version), way_id))
    last = np.r_[first_of_runs(way_id[order])[1:], True] if len(order) else np.empty(0, np.bool_)
    rows = order[last]
    out: IntArray = rows[n_known[rows] > 1]
    return out


def _runs(node: Int32Array, way: Int32Array, known: BoolArray) -> _Runs:
    """Drop unknown nodes and repeats, break where a node was unknown, drop runs of one node."""
    held = known[node]
    broken = np.r_[True, (way[1:] != way[:-1]) | ~held[:-1]] if len(way) else held
    # A break just before a dropped node must pass on to the next node that stays.
    run = np.cumsum(broken, dtype=np.int32)[held]
    node, way = node[held], way[held]
    repeat = np.r_[False, (node[1:] == node[:-1]) & (run[1:] == run[:-1])] if len(node) else held
    node, way, run = node[~repeat], way[~repeat], run[~repeat]
    if not len(run):
        return _Runs(node=node, way=way, first=np.empty(0, np.bool_))
    first = first_of_runs(run)
    size = np.diff(np.r_[np.flatnonzero(first), len(run)])
    long = np.repeat(size > 1, size)
    return _Runs(node=node[long], way=way[long], first=first[long])


def _cut(runs: _Runs, n_nodes: int) -> _Edges:
    """Edges between run ends, nodes shared by ways, and nodes a way passes twice."""
    last = np.r_[runs.first[1:], True]
    uses = np.bincount(runs.node, minlength=n_nodes)
    is_cut = runs.first | last | (uses[runs.node] > 1)
    at = np.flatnonzero(is_cut)
    start, end = at[:-1], at[1:]
    inside = ~runs.first[end]
    start, end = start[inside], end[inside]
    return _Edges(start=start, count=end - start + 1)


def _with_barrier(raw: RawMap, n_rows: int, node_id: IntArray, runs: _Runs) -> BoolArray:
    """True for way rows with a node whose barrier may stop a motorcycle."""
    out = np.zeros(n_rows, np.bool_)
    stopping = among(node_id, np.unique(whole(raw.stopping_nodes)))
    out[runs.way[stopping[runs.node]]] = True
    return out


def _edge_columns(edge_start: Int32Array, lon: FloatArray, lat: FloatArray) -> dict[str, Any]:
    """What the points tell: their edge, their place on it, and the length of each edge."""
    at_m = _along(lon, lat, edge_start)
    return {
        "edge_start": edge_start,
        "edge_length_m": at_m[edge_start[1:] - 1],
        "pt_edge": np.repeat(np.arange(len(edge_start) - 1, dtype=np.int32), np.diff(edge_start)),
        "pt_at_m": at_m,
    }


def _along(lon: FloatArray, lat: FloatArray, edge_start: Int32Array) -> FloatArray:
    """Geodesic metres of each point from the start of its edge, on the WGS 84 ellipsoid."""
    step = np.zeros(len(lon))
    for low in range(1, len(lon), _CHUNK):
        high = min(low + _CHUNK, len(lon))
        step[low:high] = steps_m(lon[low - 1 : high], lat[low - 1 : high])
    far = np.flatnonzero(step > _FLAT_M)
    _, _, step[far] = _GEOD.inv(lon[far - 1], lat[far - 1], lon[far], lat[far])
    first = edge_start[:-1]
    step[first] = 0.0
    total = np.cumsum(step, out=step)
    # Subtracting a long running sum costs about 1e-7 m; restart it so that ends agree exactly.
    total -= np.repeat(total[first], np.diff(edge_start))
    return total


def arc_columns(ends: Int32Array, n_nodes: int, edge_length_m: FloatArray) -> dict[str, Any]:
    """For each node the arcs that leave it: 2k for edge k from u, 2k + 1 from v.

    ends : u of every edge, then v of every edge
    """
    u, v = np.split(ends, 2)
    leaves = np.empty(len(ends), np.int32)
    leaves[0::2], leaves[1::2] = u, v
    out_arc = np.argsort(leaves, kind="stable").astype(np.int32)
    edge = out_arc >> 1
    return {
        "edge_u": u,
        "edge_v": v,
        "out_start": np.r_[0, np.cumsum(np.bincount(leaves, minlength=n_nodes))].astype(np.int32),
        "out_arc": out_arc,
        "arc_head": np.where(out_arc & 1, u[edge], v[edge]),
        "arc_length_m": edge_length_m[edge],
    }


def kind_columns(ways: WayTable, out_arc: Int32Array, edge_way: Int32Array) -> dict[str, Any]:
    """Kinds of ways and of the arcs in out_arc, as RoadsView has them."""
    alike = ways.flags.astype(np.int64) * 3 + ways.oneway + 1
    alike = alike * (len(ways.highway.values) + 1) + ways.highway.codes + 1
    _, first, kind = np.unique(alike, return_index=True, return_inverse=True)
    way_kind = kind.astype(np.int32)
    return {
        "arc_kind": 2 * way_kind[edge_way[out_arc >> 1]] + (out_arc & 1),
        "way_kind": way_kind,
        "kind_way": first.astype(np.int32),
    }
