"""Places near a ride, with the way from the ride to them by road."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from terrain.calc.corridor import LocalRoads, roads_near
from terrain.calc.search import ArcGraph, ShortestPaths, arc_weight, node_seeds, search_weighed
from terrain.calc.snap import snap_points
from terrain.stages.places.refs import is_private
from terrain.values.arrays import BoolArray, FloatArray, Int32Array, IntArray
from terrain.values.help import HELPER_REACH_M, Helper, HelperKind, HelpFields
from terrain.values.match import Match
from terrain.values.ride import Ride
from terrain.values.views import PLACE_KINDS, PlaceKind, PlacesView, RoadsView

# Common practice, no source.
FUEL, FOOD, WATER, TOWN, LODGING, PASS, HAMLET = (1 << i for i in range(7))
REACH_M = 10_000.0  # a fuel station or bed farther off the ride is not looked at
_CHUNK_M = 50_000.0
_ON_LINE_M = 250.0  # spacing of the line the roads are looked for around
_BITS = {
    PlaceKind.FUEL: FUEL,
    PlaceKind.FOOD: FOOD | WATER,
    PlaceKind.SHOP: WATER,
    PlaceKind.WATER: WATER,
    PlaceKind.LODGING: LODGING,
    PlaceKind.CITY: TOWN,
    PlaceKind.TOWN: TOWN,
    PlaceKind.VILLAGE: TOWN,
    PlaceKind.HAMLET: HAMLET,
    PlaceKind.PASS: PASS,
}
_HELPER_BITS = {
    HelperKind.FUEL: FUEL,
    HelperKind.FOOD: FOOD | WATER,
    HelperKind.WATER: WATER,
    HelperKind.LODGING: LODGING,
}


class NearbyPlaces(NamedTuple):
    """Places near the ride, shape (n,), by position along it.

    source : row of places, or -2 - h for the operator's helper h; bits : what it offers
    at_m : where one leaves the ride; off_m, off_s : way by road from there, one way
    van : a van can come there
    """

    source: Int32Array
    bits: IntArray
    at_m: FloatArray
    off_m: FloatArray
    off_s: FloatArray
    lon: FloatArray
    lat: FloatArray
    van: BoolArray


class _Spots(NamedTuple):
    """Places and helpers as spots on edges.

    u, v : local numbers of the ends of their edges; from_u, from_v : metres from there, NaN
    against a one-way; pace : seconds per metre of the edge
    """

    source: Int32Array
    bits: IntArray
    edge: Int32Array
    edge_at_m: FloatArray
    lon: FloatArray
    lat: FloatArray
    u: Int32Array
    v: Int32Array
    from_u: FloatArray
    from_v: FloatArray
    pace: FloatArray


class _Around(NamedTuple):
    """The roads round a ride as a graph by length, and the spots on them."""

    local: LocalRoads
    graph: ArcGraph
    arc_m: FloatArray
    spots: _Spots


def places_near(
    ride: Ride,
    roads: RoadsView,
    places: PlacesView,
    fields: HelpFields,
    helpers: Sequence[Helper],
) -> NearbyPlaces:
    """Every place of use that a ride can get to within 10 km of road, by position.

    A place is listed once for each 50 km of the ride, at the point it is nearest to by road: a
    ride that comes by again finds it again.
    """
    match = ride.match
    line_m = np.append(np.arange(0.0, ride.length_m, _ON_LINE_M), ride.length_m)
    local = roads_near(
        roads,
        *match.lonlat(line_m),
        margin_m=REACH_M / 2,
        usable=fields.edge_open,
        time_s=fields.edge_time_s,
    )
    spots = _spots(roads, places, fields, helpers, local)
    graph = local.graph()
    around = _Around(local, graph, arc_weight(graph, local.length_m), spots)
    ridden = np.flatnonzero(match.edge >= 0)
    chunk = np.floor(match.from_m[ridden] / _CHUNK_M).astype(np.int64)
    passes = [
        _passes(match, roads, around, ridden[chunk == number])
        for number in np.unique(chunk).tolist()
    ]
    spot, at_m, off_m, off_s = (
        np.concatenate(column) for column in zip(_NO_PASS, *passes, strict=True)
    )
    order = np.argsort(at_m, kind="stable")
    spot = spot[order]
    return NearbyPlaces(
        source=spots.source[spot],
        bits=spots.bits[spot],
        at_m=at_m[order],
        off_m=off_m[order],
        off_s=off_s[order],
        lon=spots.lon[spot],
        lat=spots.lat[spot],
        van=fields.edge_van_network[spots.edge[spot]],
    )


_Pass = tuple[IntArray, FloatArray, FloatArray, FloatArray]
_NO_PASS: _Pass = (np.zeros(0, np.int64), np.zeros(0), np.zeros(0), np.zeros(0))


def _passes(match: Match, roads: RoadsView, around: _Around, legs: IntArray) -> _Pass:
    """Spots in reach of some legs: which, position, way to them in metres and seconds."""
    node, node_at_m = _ride_nodes(match, roads, legs)
    seeds = node_seeds(around.local.local_node(node))
    found = search_weighed(around.graph, around.arc_m, seeds, limit=REACH_M)
    at_m, off_m, off_s = _ways(around.spots, found, node_at_m)
    _on_ride(match, legs, around.spots, at_m, off_m, off_s)
    spot = np.flatnonzero(off_m <= REACH_M)
    return spot, at_m[spot], off_m[spot], off_s[spot]


def _spots(
    roads: RoadsView,
    places: PlacesView,
    fields: HelpFields,
    helpers: Sequence[Helper],
    local: LocalRoads,
) -> _Spots:
    bits_of = np.array([_BITS.get(kind, 0) for kind in PLACE_KINDS], dtype=np.int64)
    bits = bits_of[places.kind]
    here = local.local_edge(places.edge) >= 0
    rows = np.flatnonzero((bits > 0) & here & (places.edge >= 0))
    rows = np.array([r for r in rows.tolist() if not is_private(places, r)], dtype=np.int64)
    useful = [(i, h) for i, h in enumerate(helpers) if h.kind in _HELPER_BITS]
    lon = np.array([h.lon for _, h in useful], dtype=np.float64)
    lat = np.array([h.lat for _, h in useful], dtype=np.float64)
    laid = snap_points(lon, lat, roads, fields.edge_open, within_m=HELPER_REACH_M)
    ok = local.local_edge(laid.edge) >= 0
    own_bits = np.array([_HELPER_BITS[h.kind] for _, h in useful], dtype=np.int64)
    own_code = np.array([-2 - i for i, _ in useful], dtype=np.int32)
    edge = np.concatenate((places.edge[rows], laid.edge[ok]))
    edge_at_m = np.concatenate((places.edge_at_m[rows], laid.at_m[ok]))
    k = local.local_edge(edge)
    length, oneway = np.maximum(local.length_m[k], 1e-6), local.oneway[k]
    part = np.clip(edge_at_m / length, 0.0, 1.0)
    return _Spots(
        source=np.concatenate((rows.astype(np.int32), own_code[ok])),
        bits=np.concatenate((bits[rows], own_bits[ok])),
        edge=edge,
        edge_at_m=edge_at_m,
        lon=np.concatenate((places.lon[rows], lon[ok])),
        lat=np.concatenate((places.lat[rows], lat[ok])),
        u=local.u[k],
        v=local.v[k],
        from_u=np.where(oneway != -1, part * length, np.nan),
        from_v=np.where(oneway != 1, (1.0 - part) * length, np.nan),
        # The pace of the last edge stands for the whole short way.
        pace=np.where(np.isnan(local.time_s[k]), 0.12, local.time_s[k] / length),
    )


def _ride_nodes(match: Match, roads: RoadsView, leg: IntArray) -> tuple[Int32Array, FloatArray]:
    """Nodes some legs pass, each once, with the first position along the ride."""
    edge = match.edge[leg]
    length = roads.edge_length_m[edge]
    nodes, places = [], []
    for at, ride_m in ((match.edge_from_m, match.from_m), (match.edge_to_m, match.to_m)):
        for end, node in ((0.0, roads.edge_u), (length, roads.edge_v)):
            hit = np.abs(at[leg] - end) < 1e-3
            nodes.append(node[edge[hit]])
            places.append(ride_m[leg[hit]])
    node, at_m = np.concatenate(nodes), np.concatenate(places)
    order = np.lexsort((at_m, node))
    first = np.unique(node[order], return_index=True)[1]
    return node[order][first], at_m[order][first]


def _ways(
    spots: _Spots, found: ShortestPaths, node_at_m: FloatArray
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Position, length and time of the way from the ride to each spot by the ends of its edge."""
    by_u = np.nan_to_num(found.cost[spots.u] + spots.from_u, nan=np.inf)
    by_v = np.nan_to_num(found.cost[spots.v] + spots.from_v, nan=np.inf)
    source = found.source[np.where(by_u <= by_v, spots.u, spots.v)]
    at_m = np.append(node_at_m, np.nan)[source]
    off_m = np.minimum(by_u, by_v)
    return at_m, off_m, off_m * spots.pace


def _on_ride(
    match: Match,
    legs: IntArray,
    spots: _Spots,
    at_m: FloatArray,
    off_m: FloatArray,
    off_s: FloatArray,
) -> None:
    """Spots on a ridden part of an edge lie on the ride itself."""
    order = legs[np.argsort(match.edge[legs], kind="stable")]
    edges = match.edge[order]
    first = np.searchsorted(edges, spots.edge, side="left")
    last = np.searchsorted(edges, spots.edge, side="right")
    for i in np.flatnonzero(last > first).tolist():
        for leg in order[first[i] : last[i]].tolist():
            a, b = float(match.edge_from_m[leg]), float(match.edge_to_m[leg])
            if min(a, b) - 1.0 <= spots.edge_at_m[i] <= max(a, b) + 1.0:
                along = abs(float(spots.edge_at_m[i]) - a)
                at_m[i] = min(float(match.from_m[leg]) + along, float(match.to_m[leg]))
                off_m[i] = off_s[i] = 0.0
                break
