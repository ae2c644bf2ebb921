"""Distances and times to help for every node of a region, and the ways out to better roads.

Made once when a region is built. What a ride later needs is then a look-up.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from terrain.calc.search import RoadNet, ShortestPaths, node_seeds, search
from terrain.stages.places.refs import is_private
from terrain.tables.help import USUAL_SHARE, priced
from terrain.tables.speed import BREAKDOWN_VAN
from terrain.values.arrays import BoolArray, Float32Array, FloatArray, Int32Array
from terrain.values.fleet import FleetRules
from terrain.values.help import (
    HELP_KINDS,
    WEAK_HELP,
    HelpFields,
    HelpKind,
    NearestHelp,
    WayOutField,
)
from terrain.values.views import (
    NEVER_PROPOSED,
    PLACE_KINDS,
    RESTRICTED,
    Category,
    PlaceKind,
    PlacesView,
    RoadsView,
    WayFlag,
)

# A paved or van-usable patch shorter than this in all is no network to come out on (common
# practice, no source: a paved yard or a concrete ramp in a track is not a way out).
NETWORK_M = 5_000.0
_VAN_WIDTH_M = 2.2  # narrower tagged roads are left out for a van (common practice, no source)
_LINKED = ("motorway", "trunk", "primary", "secondary", "tertiary")
_VAN_CLASSES = frozenset(_LINKED).union(
    (f"{word}_link" for word in _LINKED),
    ("unclassified", "residential", "living_street", "service", "track", "road", "ferry"),
)
# From very_bad on a vehicle needs high clearance: OSM wiki, Key:smoothness.
_ROUGH = frozenset(("very_bad", "horrible", "very_horrible", "impassable"))
# Mostly soft from grade4 on: OSM wiki, Key:tracktype.
_SOFT = frozenset(("grade4", "grade5"))
_NO_ROAD = NEVER_PROPOSED & ~RESTRICTED
_CLOSED_TO_VANS = _NO_ROAD | WayFlag.FOUR_WD_ONLY | WayFlag.FORD | WayFlag.BARRIER


class UsableRoads(NamedTuple):
    """Which edges serve whom, shape (e,): motorcycles, vans, and the paved network.

    restricted, van_restricted : closed by a tag of access alone, for an emergency
    """

    motorcycle: BoolArray
    restricted: BoolArray
    van: BoolArray
    van_restricted: BoolArray
    paved: BoolArray


def usable_roads(roads: RoadsView, way_p: FloatArray) -> UsableRoads:
    """Edges a motorcycle may use, those a breakdown van can use too, and the paved network.

    way_p : probabilities of paved, gravel, track per way, shape (w, 3)
    Roads closed by tag, paths and frost-only roads are left out for all; what a tag of access
    alone closes stands apart. A van also keeps off
    4WD-only roads, fords, barriers, narrow or rough ways, and whatever is likelier a track than
    not. The paved network holds edges likelier paved than not, in connected pieces of 5 km or
    more.
    """
    ways = roads.ways
    open_way = (ways.flags & int(NEVER_PROPOSED)) == 0
    ferry = (ways.flags & int(WayFlag.FERRY)) != 0
    # A ferry for people on foot takes nobody's ambulance either.
    restricted = ~open_way & ~ferry & ((ways.flags & int(_NO_ROAD)) == 0)
    van_way = (
        ((ways.flags & int(_CLOSED_TO_VANS)) == 0)
        & _one_of(ways.highway, _VAN_CLASSES)
        & ~_one_of(ways.smoothness, _ROUGH)
        & ~_one_of(ways.tracktype, _SOFT)
        & ~(ways.width_m < _VAN_WIDTH_M)
        & (ferry | (way_p[:, 2] < 0.5))
    )
    paved_way = open_way & (way_p[:, 0] >= 0.5) & ~ferry
    way = roads.edge_way
    return UsableRoads(
        motorcycle=open_way[way],
        restricted=restricted[way],
        van=(van_way & open_way)[way],
        van_restricted=(van_way & restricted)[way],
        paved=_networks(roads, paved_way[way]),
    )


def help_fields(
    roads: RoadsView,
    places: PlacesView,
    *,
    way_p: FloatArray,
    edge_time_s: FloatArray,
    edge_van_s: FloatArray | None = None,
    town_population: float | None = None,
) -> HelpFields:
    """Nearest help of each kind from and to every node, and the ways out, for a whole region.

    way_p : probabilities of paved, gravel, track per way, shape (w, 3)
    edge_time_s : riding time of each whole edge [s], shape (e,); NaN counts as closed
    edge_van_s : driving time of a van; by default the riding time over the van's share of a
        motorcycle's speed on each ground
    town_population : least size of a town that counts as likely help; by default the fleet
        rules' own default
    """
    if town_population is None:
        town_population = FleetRules().town_population
    if edge_van_s is None:
        slower = np.asarray(way_p, dtype=np.float64) @ (1.0 / np.array(BREAKDOWN_VAN.factor))
        edge_van_s = edge_time_s * slower[roads.edge_way]
    usable = usable_roads(roads, way_p)
    ride = usable.motorcycle & ~np.isnan(edge_time_s)
    restricted = usable.restricted & ~np.isnan(edge_time_s)
    van = usable.van & ~np.isnan(edge_van_s)
    van_restricted = usable.van_restricted & ~np.isnan(edge_van_s)
    van_cost = priced(edge_van_s, van_restricted)
    sources = help_sources(places, town_population)
    paved, van_network = usable.paved & ride, _networks(roads, van)
    away = RoadNet(roads, ride | restricted, priced(edge_time_s, restricted), reverse=True)
    to_van = RoadNet(roads, van | van_restricted, van_cost, reverse=False)
    to_help_m, restricted_m = _shortest(away, restricted, sources, places)
    return HelpFields(
        to_help_m=to_help_m,
        to_help_s=_reach(away, away.edge_s, sources, places),
        restricted_m=restricted_m,
        weaker_s=_reach(away, away.edge_s, weak_sources(places), places),
        usual_m=_usual_m(roads, ride, to_help_m),
        van_s=_reach(to_van, van_cost, sources, places),
        to_paved=_way_out(away, paved),
        to_van_road=_way_out(away, van_network),
        edge_time_s=edge_time_s.astype(np.float32),
        edge_van_s=edge_van_s.astype(np.float32),
        edge_open=ride,
        edge_restricted=restricted,
        edge_van_restricted=van_restricted,
        edge_emergency=ride | restricted,
        edge_emergency_s=away.edge_s.astype(np.float32),
        edge_van=van,
        edge_van_network=van_network,
        edge_paved=paved,
        town_population=town_population,
    )


def help_sources(
    places: PlacesView, town_population: float, *, among: BoolArray | None = None,
    kinds: Sequence[HelpKind] = HELP_KINDS,
) -> tuple[Int32Array, ...]:  # fmt: skip
    """Rows of the places that count as each kind of help, in the order of `kinds`.

    among : places to look at, shape (n,); all if None
    Places closed to strangers by tag, or off the road graph, are left out. A town is a
    place=city or town, or any settlement tagged with that population; a tagged smaller
    population wins over the word.
    """
    code = {kind: i for i, kind in enumerate(PLACE_KINDS)}
    looked_at = places.edge >= 0 if among is None else among & (places.edge >= 0)
    out = []
    for kind in kinds:
        if kind is HelpKind.TOWN:
            word = (places.kind == code[PlaceKind.CITY]) | (places.kind == code[PlaceKind.TOWN])
            smaller = word | (places.kind == code[PlaceKind.VILLAGE])
            unknown = np.isnan(places.population)
            rows = (word & unknown) | (smaller & (places.population >= town_population))
        else:
            rows = places.kind == code[PlaceKind(kind.value)]
        out.append(_not_private(places, rows & looked_at))
    return tuple(out)


def weak_sources(places: PlacesView, *, among: BoolArray | None = None) -> tuple[Int32Array, ...]:
    """Rows of the places that count as each kind of weaker help, in the order of WEAK_HELP."""
    looked_at = places.edge >= 0 if among is None else among & (places.edge >= 0)
    code = {kind: i for i, kind in enumerate(PLACE_KINDS)}
    return tuple(
        _not_private(places, (places.kind == code[PlaceKind(kind.value)]) & looked_at)
        for kind in WEAK_HELP
    )


def _not_private(places: PlacesView, rows: BoolArray) -> Int32Array:
    near = np.flatnonzero(rows).tolist()
    return np.array([i for i in near if not is_private(places, i)], dtype=np.int32)


def _shortest(
    away: RoadNet, restricted: BoolArray, sources: tuple[Int32Array, ...], places: PlacesView
) -> tuple[NearestHelp, Float32Array]:
    """The shortest priced way to each kind, and how much of it is restricted [m]."""
    length_m = away.roads.edge_length_m
    cost = priced(length_m, restricted)
    found = _nearest(away, cost, sources, places)
    reach, load = _reach_of(found, sources), np.where(restricted, length_m, 0.0)
    if not restricted.any():
        return reach, np.where(np.isnan(reach.cost), np.float32(np.nan), np.float32(0))
    carried = [
        away.carried(by_kind, places.edge[rows], places.edge_at_m[rows], cost, load=load)
        for by_kind, rows in zip(found, sources, strict=True)
    ]
    return reach, np.stack(carried).astype(np.float32)


def _usual_m(roads: RoadsView, ride: BoolArray, reach: NearestHelp) -> FloatArray:
    """Distance to each kind that USUAL_SHARE of the length of open roads keeps within [m]."""
    ends = np.concatenate((roads.edge_u[ride], roads.edge_v[ride]))
    weight = np.tile(roads.edge_length_m[ride], 2)
    out = np.full(len(HELP_KINDS), np.inf)
    for row, cost in enumerate(reach.cost):
        far = np.where(np.isnan(cost[ends]), np.inf, cost[ends])
        order = np.argsort(far)
        within = np.cumsum(weight[order])
        if len(order):
            i = int(np.searchsorted(within, USUAL_SHARE * within[-1]))
            out[row] = far[order[min(i, len(order) - 1)]]
    return out


def _reach(
    net: RoadNet, edge_cost: FloatArray, sources: tuple[Int32Array, ...], places: PlacesView
) -> NearestHelp:
    return _reach_of(_nearest(net, edge_cost, sources, places), sources)


def _nearest(
    net: RoadNet, edge_cost: FloatArray, sources: tuple[Int32Array, ...], places: PlacesView
) -> list[ShortestPaths]:
    return [net.nearest(places.edge[r], places.edge_at_m[r], edge_cost) for r in sources]


def _reach_of(found: list[ShortestPaths], sources: tuple[Int32Array, ...]) -> NearestHelp:
    place = [
        np.append(rows, np.int32(-1))[by_kind.source]
        for by_kind, rows in zip(found, sources, strict=True)
    ]
    cost = np.stack([by_kind.cost for by_kind in found]).astype(np.float32)
    return NearestHelp(cost=cost, place=np.stack(place))


def _way_out(net: RoadNet, target: BoolArray) -> WayOutField:
    """Quickest way from every node to a node of the target edges; the net runs backwards."""
    is_on = np.zeros(net.roads.n_nodes, dtype=bool)
    is_on[net.roads.edge_u[target]] = is_on[net.roads.edge_v[target]] = True
    on = np.flatnonzero(is_on)
    found = search(net.graph, net.edge_s, node_seeds(on))
    time_s = found.cost.astype(np.float32)
    time_s[on] = 0.0
    return WayOutField(time_s=time_s, next_node=found.before)


def _networks(roads: RoadsView, edges: BoolArray) -> BoolArray:
    """The given edges, less those in connected pieces shorter than NETWORK_M in all."""
    from scipy.sparse import coo_array  # for the build alone; a report need not load it
    from scipy.sparse.csgraph import connected_components

    k = np.flatnonzero(edges)
    n = roads.n_nodes
    links = coo_array((np.ones(len(k), np.int32), (roads.edge_u[k], roads.edge_v[k])), shape=(n, n))
    count, label = connected_components(links.tocsr(), directed=False)
    length = np.bincount(label[roads.edge_u[k]], roads.edge_length_m[k], minlength=count)
    out = np.zeros(roads.n_edges, dtype=bool)
    out[k] = length[label[roads.edge_u[k]]] >= NETWORK_M
    return out


def _one_of(column: Category, words: frozenset[str]) -> BoolArray:
    """Rows of a category column that hold one of the words; untagged rows do not."""
    hit = np.array([value in words for value in column.values] + [False])
    return hit[column.codes]
