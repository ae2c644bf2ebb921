"""The shape of the road network around each way: what an untagged way is like and meets."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from terrain.tables.common import EARTH_M
from terrain.values.arrays import BoolArray, FloatArray, Int32Array, IntArray
from terrain.values.views import (
    PLACE_KINDS,
    Category,
    PlaceKind,
    PlacesView,
    RoadsView,
    WayFlag,
)

#: Order of importance; links rank with their road, paths after all roads.
RANKS = (
    "motorway", "trunk", "primary", "secondary", "tertiary", "unclassified", "residential",
    "living_street", "service", "road", "track", "path", "footway", "cycleway", "bridleway",
    "pedestrian", "steps",
)  # fmt: skip
TERTIARY, UNCLASSIFIED, SERVICE, ROAD, TRACK = 4, 5, 8, 9, 10
STREETS = (6, 7)  # that people live on: residential and living_street
NOTHING = 20  # rank of "no road there"
_STRAIGHT = 0.7  # cosine of the largest bend over which a road runs on through a junction
_MOST_ENDS = 8  # junctions of more ends are squares, not road meetings


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Shape:
    """Facts of each way that need the network, none of which is a ground tag. Shape (w,).

    rank : index in RANKS; link : a *_link; road : a motor road on land (no path, no ferry)
    length_m; x_m, y_m : middle of the way in local metres; unit : the same on the unit sphere
    urban, urban_wide, dense, tracks : log of 1 + km of street per square km within about 0.6 km
        (urban_wide: 2.5 km) of residential streets, all roads, tracks
    place : log distance to the nearest village, town or city over 2 km; 0 if the map has none
    dead : 1 if an end meets nothing; winding : log of length over straight distance
    touched : best rank of road at any of its nodes, itself included; through : the worse of
        the best ranks met at its two ends, NOTHING if an end meets no other road
    chain : number of the run of ways that go straight on as one road
    pair_way, pair_node : the junctions of each way
    """

    rank: IntArray
    link: BoolArray
    road: BoolArray
    length_m: FloatArray
    x_m: FloatArray
    y_m: FloatArray
    unit: FloatArray
    urban: FloatArray
    urban_wide: FloatArray
    dense: FloatArray
    tracks: FloatArray
    place: FloatArray
    dead: FloatArray
    winding: FloatArray
    touched: IntArray
    through: IntArray
    chain: IntArray
    pair_way: IntArray
    pair_node: IntArray


def rank_of(highway: Category, rows: IntArray | slice = slice(None)) -> IntArray:
    """Index in RANKS of the class of each way, or of some, shape (w,); an unknown class ranks as
    road.
    """
    plain = [value.removesuffix("_link") for value in highway.values]
    table = [RANKS.index(value) if value in RANKS else ROAD for value in plain]
    return np.asarray([*table, ROAD], dtype=np.int64)[highway.codes[rows]]


def way_shape(roads: RoadsView, places: PlacesView) -> Shape:
    """Work out the shape of the network once for a region. About 10 s for a million ways."""
    ways, n = roads.ways, len(roads.ways)
    rank = rank_of(ways.highway)
    is_link = np.asarray([v.endswith("_link") for v in ways.highway.values] + [False])
    road = (ways.flags & (WayFlag.PATH | WayFlag.FERRY)) == 0
    way, length = roads.edge_way, np.maximum(roads.edge_length_m, 0.1)
    weight = np.maximum(np.bincount(way, weights=length, minlength=n), 0.1)
    total = np.maximum(weight, 1.0)

    def per_way(values: FloatArray) -> FloatArray:
        return np.asarray(np.bincount(way, weights=values * length, minlength=n) / weight)

    lon, lat = _edge_middles(roads)
    scale = np.cos(np.deg2rad(lat.mean() if len(lat) else 0.0)) * np.deg2rad(1) * EARTH_M
    x, y = lon * scale, lat * np.deg2rad(1) * EARTH_M
    street = np.isin(rank, STREETS)
    degree = _degree(roads, road)
    dead = np.zeros(n)
    at_end = (degree[roads.edge_u] <= 1) | (degree[roads.edge_v] <= 1)
    np.maximum.at(dead, way, at_end.astype(np.float64))
    direct = np.hypot(
        *(
            np.stack([roads.node_lon * scale, roads.node_lat * np.deg2rad(1) * EARTH_M])[
                :, roads.edge_u
            ]
            - np.stack([roads.node_lon * scale, roads.node_lat * np.deg2rad(1) * EARTH_M])[
                :, roads.edge_v
            ]
        )
    )
    straight = np.bincount(way, weights=direct, minlength=n)
    pair_way, pair_node, once = _junctions(roads)
    touched, through = _meetings(roads.n_nodes, rank, road, pair_way, pair_node, once)
    way_lon, way_lat = per_way(lon), per_way(lat)
    return Shape(
        rank=rank,
        link=is_link[ways.highway.codes],
        road=road,
        length_m=total,
        x_m=way_lon * scale,
        y_m=way_lat * np.deg2rad(1) * EARTH_M,
        unit=on_sphere(way_lon, way_lat),
        urban=per_way(_density(x, y, length * street[way], 250.0)),
        urban_wide=per_way(_density(x, y, length * street[way], 1000.0)),
        dense=per_way(_density(x, y, length * road[way], 250.0)),
        tracks=per_way(_density(x, y, length * (rank == TRACK)[way], 250.0)),
        place=_place_distance(on_sphere(way_lon, way_lat), places),
        dead=dead,
        winding=np.clip(np.log(total / np.maximum(straight, 1.0)), 0.0, 1.5),
        touched=touched,
        through=through,
        chain=_chains(roads, rank, scale),
        pair_way=pair_way,
        pair_node=pair_node,
    )


def on_sphere(lon: FloatArray, lat: FloatArray) -> FloatArray:
    """Points on the unit sphere, shape (n, 3): their chords order as distances do."""
    a, b = np.deg2rad(lon), np.deg2rad(lat)
    return np.stack([np.cos(b) * np.cos(a), np.cos(b) * np.sin(a), np.sin(b)], axis=1)


def chord_m(chord: FloatArray) -> FloatArray:
    """Great-circle distance [m] of a chord of the unit sphere."""
    return np.asarray(2 * EARTH_M * np.arcsin(np.minimum(chord / 2, 1.0)))


def _edge_middles(roads: RoadsView) -> tuple[FloatArray, FloatArray]:
    edge, count = roads.pt_edge.astype(np.int64), np.maximum(np.diff(roads.edge_start), 1)
    lon = np.bincount(edge, weights=roads.pt_lon, minlength=roads.n_edges) / count
    lat = np.bincount(edge, weights=roads.pt_lat, minlength=roads.n_edges) / count
    return lon, lat


def _degree(roads: RoadsView, road: BoolArray) -> IntArray:
    keep = road[roads.edge_way]
    ends = np.concatenate([roads.edge_u[keep], roads.edge_v[keep]])
    return np.asarray(np.bincount(ends, minlength=roads.n_nodes), dtype=np.int64)


def _density(x: FloatArray, y: FloatArray, length_m: FloatArray, cell_m: float) -> FloatArray:
    """log(1 + km per square km) in the five by five cells around each point."""
    if not len(x):
        return np.zeros(0)
    col = np.floor((x - x.min()) / cell_m).astype(np.int64) + 2
    row = np.floor((y - y.min()) / cell_m).astype(np.int64) + 2
    width = int(col.max()) + 5  # two empty columns each side: rows never run into each other
    keys, inverse = np.unique(row * width + col, return_inverse=True)
    running = np.r_[0.0, np.cumsum(np.bincount(inverse, weights=length_m))]
    total = np.zeros(len(keys))
    for step in range(-2, 3):
        first = np.searchsorted(keys, keys + step * width - 2, side="left")
        last = np.searchsorted(keys, keys + step * width + 2, side="right")
        total += running[last] - running[first]
    per_km2 = total / 1000 / (5 * cell_m / 1000) ** 2
    return np.asarray(np.log1p(np.maximum(per_km2, 0.0)))[inverse]


def _place_distance(unit: FloatArray, places: PlacesView) -> FloatArray:
    kinds = [PLACE_KINDS.index(k) for k in (PlaceKind.CITY, PlaceKind.TOWN, PlaceKind.VILLAGE)]
    near = np.isin(places.kind, kinds)
    if not near.any() or not len(unit):
        return np.zeros(len(unit))
    from scipy.spatial import cKDTree  # a report needs this module, but none of its libraries

    tree = cKDTree(on_sphere(places.lon[near], places.lat[near]))
    chord, _ = tree.query(unit)
    away = chord_m(np.asarray(chord, dtype=np.float64))
    return np.log(np.clip(away, 200.0, 20_000.0) / 2000.0)


def _junctions(roads: RoadsView) -> tuple[IntArray, IntArray, BoolArray]:
    """Each way's nodes, once each, and whether the way ends there."""
    way = np.concatenate([roads.edge_way, roads.edge_way]).astype(np.int64)
    node = np.concatenate([roads.edge_u, roads.edge_v]).astype(np.int64)
    keys, count = np.unique(way * max(roads.n_nodes, 1) + node, return_counts=True)
    return keys // max(roads.n_nodes, 1), keys % max(roads.n_nodes, 1), count == 1


def _meetings(
    n_nodes: int,
    rank: IntArray,
    road: BoolArray,
    way: IntArray,
    node: IntArray,
    end: BoolArray,
) -> tuple[IntArray, IntArray]:
    """`touched` and `through` of Shape."""
    told = np.where(road[way], rank[way], NOTHING)
    order = np.lexsort((told, node))
    first = np.r_[True, node[order][1:] != node[order][:-1]][: len(order)]
    best = np.full(n_nodes, NOTHING)
    owner = np.full(n_nodes, -1)
    best[node[order][first]] = told[order][first]
    owner[node[order][first]] = way[order][first]
    second = np.full(n_nodes, NOTHING)
    after = np.flatnonzero(first) + 1
    after = after[after < len(order)]
    after = after[~first[after]]
    second[node[order][after]] = told[order][after]
    touched = np.full(len(rank), NOTHING)
    np.minimum.at(touched, way, best[node])
    met = np.where(owner[node] == way, second[node], best[node])
    through = np.full(len(rank), -1)
    np.maximum.at(through, way[end], met[end])
    through[through < 0] = NOTHING
    return touched, through


def _chains(roads: RoadsView, rank: IntArray, scale: float) -> IntArray:
    """Number each way's run of road: at a junction, ends that face each other are one road."""
    from scipy import sparse

    n = len(roads.ways)
    a, b = _facing_ends(roads, rank, scale)
    links = sparse.coo_matrix((np.ones(len(a)), (a, b)), shape=(n, n))
    _, number = sparse.csgraph.connected_components(links, directed=False)
    return np.asarray(number, dtype=np.int64)


def _facing_ends(roads: RoadsView, rank: IntArray, scale: float) -> tuple[Int32Array, Int32Array]:
    """Pairs of ways of one rank that run on into each other."""
    first, last = roads.edge_start[:-1], roads.edge_start[1:] - 1
    at, onward = np.concatenate([first, last]), np.concatenate([first + 1, last - 1])
    east = roads.pt_lon[onward] * scale - roads.pt_lon[at] * scale
    deg_m = np.deg2rad(1) * EARTH_M
    north = roads.pt_lat[onward] * deg_m - roads.pt_lat[at] * deg_m
    length = np.maximum(np.hypot(east, north), 1e-9)
    east, north = east / length, north / length
    node = np.concatenate([roads.edge_u, roads.edge_v])
    way = np.concatenate([roads.edge_way, roads.edge_way])
    order = np.argsort(node, kind="stable")
    start = np.flatnonzero(np.r_[True, node[order][1:] != node[order][:-1]][: len(order)])
    ends = np.diff(np.r_[start, len(order)])
    i, j = _pairs_within(start[ends <= _MOST_ENDS], ends[ends <= _MOST_ENDS])
    i, j = order[i], order[j]
    cosine = -(east[i] * east[j] + north[i] * north[j])
    name = roads.ways.name.codes
    same_way = way[i] == way[j]
    same_name = (name[way[i]] >= 0) & (name[way[i]] == name[way[j]])
    alone = np.bincount(node, minlength=roads.n_nodes)[node[i]] == 2
    fits = same_way | ((rank[way[i]] == rank[way[j]]) & ((cosine > _STRAIGHT) | alone))
    score = cosine + same_way + 0.5 * same_name
    keep = _mutual_best(i[fits], j[fits], score[fits], len(node))
    return way[i[fits][keep]], way[j[fits][keep]]


def _pairs_within(start: IntArray, size: IntArray) -> tuple[IntArray, IntArray]:
    """All pairs of positions inside runs that begin at `start` with `size` members."""
    one, two = [np.zeros(0, dtype=np.int64)], [np.zeros(0, dtype=np.int64)]
    for k in range(2, _MOST_ENDS + 1):
        at = start[size == k]
        for a in range(k):
            for b in range(a + 1, k):
                one.append(at + a)
                two.append(at + b)
    return np.concatenate(one), np.concatenate(two)


def _mutual_best(i: IntArray, j: IntArray, score: FloatArray, n: int) -> BoolArray:
    """Pairs whose members are each other's best."""
    best = np.full(n, -np.inf)
    np.maximum.at(best, i, score)
    np.maximum.at(best, j, score)
    return np.asarray((best[i] <= score) & (best[j] <= score))
