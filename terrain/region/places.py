"""From places as read to the places view: once each, tied to the road."""

from __future__ import annotations

import numpy as np
from pyproj import Geod

from terrain.calc.snap import snap_points
from terrain.region.columns import among, first_of_runs, numbers, whole
from terrain.region.place_tags import ROAD_NODE_KINDS, SETTLEMENT_KINDS
from terrain.region.scan import RawMap
from terrain.region.tags import is_open
from terrain.values.arrays import BoolArray, FloatArray, IntArray
from terrain.values.views import PLACE_KINDS, SHUT, PlacesView, RoadsView, Texts, WayFlag

SNAP_M = 500.0
_SAME_PLACE_M = 300.0
_SAME_SETTLEMENT_M = 5_000.0
_LEAST_M_PER_DEG = 110_000.0  # of latitude: 110,574 at the equator, WGS 84
_GEOD = Geod(ellps="WGS84")


def build_places(raw: RawMap, roads: RoadsView, rows: IntArray) -> PlacesView:
    """The places of the given rows, with the nearest edge a motorcycle may use within 500 m."""
    places = raw.places
    lon, lat = numbers(places.lon, "float64", rows), numbers(places.lat, "float64", rows)
    if roads.pt_lon.max() > 180.0:  # a region across the antimeridian
        lon[lon < 0] += 360.0
    snapped = snap_points(lon, lat, roads, open_edges(roads), within_m=SNAP_M)
    return PlacesView(
        kind=numbers(places.kind, "int8", rows),
        osm_type=numbers(places.osm_type, "int8", rows),
        osm_id=numbers(places.osm_id, "int64", rows),
        lon=lon,
        lat=lat,
        population=numbers(places.population, "float64", rows),
        edge=snapped.edge,
        edge_at_m=snapped.at_m,
        name=places.name.build(rows),
        tags=places.tags.build(rows),
    )


def place_rows(raw: RawMap) -> IntArray:
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
    on_road = np.zeros(len(rows), np.bool_)
    for node_id in raw.ways.node_id:
        on_road |= among(osm_id[rows], node_id)
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
    others = [k for k in others if abs(lat[k] - lat[row]) * _LEAST_M_PER_DEG <= reach]
    n = len(others)
    _, _, apart = _GEOD.inv([lon[row]] * n, [lat[row]] * n, lon[others], lat[others])
    return bool(min(apart, default=np.inf) <= reach)


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
