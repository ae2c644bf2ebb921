"""From places as read to the places view: once each, tied to the road."""

from __future__ import annotations

import numpy as np
from pyproj import Geod

from terrain.region.columns import first_of_runs, numbers, whole
from terrain.region.place_tags import ROAD_NODE_KINDS, SETTLEMENT_KINDS
from terrain.region.scan import RawMap
from terrain.region.tags import is_open
from terrain.values.arrays import BoolArray, FloatArray, Int32Array, IntArray
from terrain.values.views import PLACE_KINDS, SHUT, PlacesView, RoadsView, Texts, WayFlag

SNAP_M = 500.0
_SAME_PLACE_M = 300.0
_SAME_SETTLEMENT_M = 5_000.0
_GEOD = Geod(ellps="WGS84")
_M_PER_DEG = 111_195.0


def build_places(raw: RawMap, roads: RoadsView, rows: IntArray) -> PlacesView:
    """The places of the given rows, with the nearest edge a motorcycle may use within 500 m."""
    places = raw.places
    lon, lat = numbers(places.lon, "float64", rows), numbers(places.lat, "float64", rows)
    if roads.pt_lon.max() > 180.0:  # a region across the antimeridian
        lon[lon < 0] += 360.0
    edge, edge_at_m = nearest_edges(roads, lon, lat, open_edges(roads))
    return PlacesView(
        kind=numbers(places.kind, "int8", rows),
        osm_type=numbers(places.osm_type, "int8", rows),
        osm_id=numbers(places.osm_id, "int64", rows),
        lon=lon,
        lat=lat,
        population=numbers(places.population, "float64", rows),
        edge=edge,
        edge_at_m=edge_at_m,
        name=places.name.build(rows),
        tags=places.tags.build(rows),
    )


def place_rows(raw: RawMap, roads: RoadsView) -> IntArray:
    """Rows of all places read, each once, without fords and barriers that lie on no road."""
    places = raw.places
    if not len(places):
        return np.empty(0, np.int64)
    kind, osm_type = whole(places.kind), whole(places.osm_type)
    osm_id, version = whole(places.osm_id), whole(places.version)
    # Of an object in several extracts only the newest version counts, then each kind once.
    order = np.lexsort((kind, -version, osm_id, osm_type))
    key = np.stack((osm_type, osm_id, version, kind))[:, order]
    first = np.r_[True, (key[:2, 1:] != key[:2, :-1]).any(axis=0)]
    newest = version[order][np.flatnonzero(first)[np.cumsum(first) - 1]]
    new_kind = np.r_[True, (key[:, 1:] != key[:, :-1]).any(axis=0)]
    rows = order[new_kind & (version[order] == newest)]
    road_kinds = [code for code, k in enumerate(PLACE_KINDS) if k in ROAD_NODE_KINDS]
    on_road = np.isin(osm_id[rows], raw.ways.refs())
    rows = rows[~np.isin(kind[rows], road_kinds) | on_road]
    lon, lat = numbers(places.lon, "float64", rows), numbers(places.lat, "float64", rows)
    keep = ~_doubles(kind[rows], osm_type[rows], lon, lat, places.name.build(rows))
    out: IntArray = rows[keep]
    return out


def _doubles(
    kind: IntArray, osm_type: IntArray, lon: FloatArray, lat: FloatArray, name: Texts
) -> BoolArray:
    """True for a way or relation that repeats a place of the same kind and name close by."""
    double = np.zeros(len(kind), np.bool_)
    settlements = [code for code, k in enumerate(PLACE_KINDS) if k in SETTLEMENT_KINDS]
    order = np.lexsort((osm_type, name.codes, kind))
    key = kind * (int(name.codes.max(initial=0)) + 2) + name.codes
    starts = np.flatnonzero(first_of_runs(key[order]))
    for group in np.split(order, starts[1:]):
        if len(group) < 2 or name.codes[group[0]] < 0:
            continue
        reach = _SAME_SETTLEMENT_M if kind[group[0]] in settlements else _SAME_PLACE_M
        kept: list[int] = []
        for row in group.tolist():
            if osm_type[row] and kept and _near(lon, lat, row, kept, reach):
                double[row] = True
            else:
                kept.append(row)
    return double


def _near(lon: FloatArray, lat: FloatArray, row: int, others: list[int], reach: float) -> bool:
    n = len(others)
    _, _, apart = _GEOD.inv([lon[row]] * n, [lat[row]] * n, lon[others], lat[others])
    return bool(min(apart) <= reach)


def open_edges(roads: RoadsView) -> BoolArray:
    """True for edges a motorcycle may use to reach a place, customers' roads included."""
    ways = roads.ways
    access_open = np.array([*(is_open(v) for v in ways.access.values), False])[ways.access.codes]
    by_leave = np.array([*(v in ("private", "permit") for v in ways.access.values), False])
    shut = SHUT | WayFlag.FERRY
    usable = (ways.flags & int(shut)) == 0
    usable &= ((ways.flags & int(WayFlag.PATH)) == 0) | access_open
    usable &= ~by_leave[ways.access.codes]
    return np.asarray(usable[roads.edge_way], np.bool_)


def nearest_edges(
    roads: RoadsView, lon: FloatArray, lat: FloatArray, usable: BoolArray, within_m: float = SNAP_M
) -> tuple[Int32Array, FloatArray]:
    """The nearest usable edge of each position and metres along it; -1, NaN beyond `within_m`.

    lon, lat [deg], shape (n,); usable shape (e,). Local plane at each position: within 500 m the
    error stays below a decimetre.
    """
    edge = np.full(len(lon), -1, np.int32)
    at_m = np.full(len(lon), np.nan)
    for i in range(len(lon)):
        found = _nearest(roads, float(lon[i]), float(lat[i]), usable, within_m)
        if found is not None:
            edge[i], at_m[i] = found
    return edge, at_m


def _nearest(
    roads: RoadsView, lon: float, lat: float, usable: BoolArray, within_m: float
) -> tuple[int, float] | None:
    m_per_lon = _M_PER_DEG * np.cos(np.radians(lat))
    # A narrow search finds nearly all; the full one is for what lies far from any road.
    for reach in (within_m / 5, within_m):
        point = _segments_near(roads, lon, lat, reach / m_per_lon, reach / _M_PER_DEG)
        point = point[usable[roads.pt_edge[point]]]
        if not len(point):
            continue
        ax, ay = (roads.pt_lon[point] - lon) * m_per_lon, (roads.pt_lat[point] - lat) * _M_PER_DEG
        bx = (roads.pt_lon[point + 1] - lon) * m_per_lon - ax
        by = (roads.pt_lat[point + 1] - lat) * _M_PER_DEG - ay
        length2 = np.maximum(bx * bx + by * by, 1e-12)
        t = np.clip(-(ax * bx + ay * by) / length2, 0.0, 1.0)
        apart = np.hypot(ax + t * bx, ay + t * by)
        k = int(np.argmin(apart))
        if apart[k] <= reach:
            p = int(point[k])
            along = roads.pt_at_m[p] + t[k] * (roads.pt_at_m[p + 1] - roads.pt_at_m[p])
            return int(roads.pt_edge[p]), float(along)
    return None


def _segments_near(
    roads: RoadsView, lon: float, lat: float, reach_lon: float, reach_lat: float
) -> IntArray:
    """First points of the segments in the cells of a box round a position."""
    west = int(np.floor((lon - reach_lon - roads.grid_west) / roads.grid_step_lon))
    east = int(np.floor((lon + reach_lon - roads.grid_west) / roads.grid_step_lon))
    south = int(np.floor((lat - reach_lat - roads.grid_south) / roads.grid_step_lat))
    north = int(np.floor((lat + reach_lat - roads.grid_south) / roads.grid_step_lat))
    west, east = max(west, 0), min(east, roads.grid_cols - 1)
    south, north = max(south, 0), min(north, roads.grid_rows - 1)
    if west > east or south > north:
        return np.empty(0, np.int64)
    rows = np.arange(south, north + 1) * roads.grid_cols
    low, high = roads.cell_start[rows + west], roads.cell_start[rows + east + 1]
    parts = [roads.cell_pt[a:b] for a, b in zip(low, high, strict=True)]
    return np.unique(np.concatenate(parts)).astype(np.int64)
