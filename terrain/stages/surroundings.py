"""Which roads and places around a ride are worth drawing."""

from __future__ import annotations

import numpy as np
from scipy.spatial import cKDTree

from terrain.calc.geodesy import metres_per_degree
from terrain.values.arrays import BoolArray, FloatArray, Int8Array, Int32Array, IntArray
from terrain.values.match import Match
from terrain.values.surroundings import Passed, Surroundings
from terrain.values.views import PLACE_KINDS, PlaceKind, PlacesView, RoadsView

_RANKS: dict[str, int] = {
    "motorway": 0, "trunk": 0, "primary": 1, "secondary": 2, "tertiary": 3,
    "unclassified": 4, "residential": 4, "living_street": 4, "road": 4, "track": 5, "ferry": 6,
}  # fmt: skip
_UNDRAWN = 9
_MINOR = 4  # from this rank on, only close to the ride
_MOST_POINTS = 20_000
_PIXELS = 900.0  # the map's longer side; finer detail than half of one is left out
# How near a place must be to be called passed [m]: a settlement is wide, its node a point.
_NEAR_M: dict[PlaceKind, float] = {
    PlaceKind.CITY: 3000.0, PlaceKind.TOWN: 1500.0, PlaceKind.VILLAGE: 800.0,
    PlaceKind.HAMLET: 500.0, PlaceKind.LOCALITY: 250.0, PlaceKind.PASS: 150.0,
    PlaceKind.FORD: 60.0,
}  # fmt: skip
_TOWNS = (PlaceKind.CITY, PlaceKind.TOWN, PlaceKind.VILLAGE)
_AGAIN_M = 5000.0  # a place is passed again only after so much riding


def look_around(match: Match, roads: RoadsView, places: PlacesView) -> Surroundings:
    """The roads in a box around the ride, thinned for a small map, and the places passed."""
    box = _Box(match)
    rank, start, lon, lat = _context(match, roads, box)
    passed, towns = _passed(match, places, box)
    return Surroundings(rank=rank, start=start, lon=lon, lat=lat, places=passed, towns=towns)


class _Box:
    """A padded box round a ride, with a local scale in metres."""

    def __init__(self, match: Match) -> None:
        lon, lat = match.lon, match.lat
        self.lat0 = float(lat.mean())
        self.m_lon, self.m_lat = metres_per_degree(self.lat0)
        wide = max(float(np.ptp(lon)) * self.m_lon, float(np.ptp(lat)) * self.m_lat, 2000.0)
        pad = 0.08 * wide
        self.west, self.east = lon.min() - pad / self.m_lon, lon.max() + pad / self.m_lon
        self.south, self.north = lat.min() - pad / self.m_lat, lat.max() + pad / self.m_lat
        self.tolerance_m = 0.6 * wide / _PIXELS
        self.near_m = 0.06 * wide

    def xy(self, lon: FloatArray, lat: FloatArray) -> FloatArray:
        return np.column_stack([lon * self.m_lon, lat * self.m_lat])

    def holds(self, lon: FloatArray, lat: FloatArray) -> BoolArray:
        inside = (lon >= self.west) & (lon <= self.east)
        return np.asarray(inside & (lat >= self.south) & (lat <= self.north))


def _context(
    match: Match, roads: RoadsView, box: _Box
) -> tuple[Int8Array, Int32Array, FloatArray, FloatArray]:
    edges = _edges_in(roads, box)
    rank = _ranks(roads)[edges]
    edges, rank = edges[rank < _UNDRAWN], rank[rank < _UNDRAWN]
    points, owner = _points_of(roads, edges)
    lon, lat = roads.pt_lon[points], roads.pt_lat[points]
    keep_edge = _worth_drawing(match, box, (lon, lat), owner, rank)
    kept = keep_edge[owner] & _thinned(box, lon, lat, owner)
    owner, lon, lat = owner[kept], lon[kept], lat[kept]
    new_line = np.flatnonzero(np.r_[True, owner[1:] != owner[:-1]][: len(owner)])
    start = np.append(new_line, len(owner)).astype(np.int32)
    return rank[owner[new_line]].astype(np.int8), start, np.asarray(lon), np.asarray(lat)


def _ranks(roads: RoadsView) -> Int8Array:
    """The rank of every edge."""
    values = roads.ways.highway.values
    by_code = np.full(len(values) + 1, _UNDRAWN, dtype=np.int8)
    for code, value in enumerate(values):
        by_code[code] = _RANKS.get(value.removesuffix("_link"), _UNDRAWN)
    return by_code[roads.ways.highway.codes][roads.edge_way]


def _edges_in(roads: RoadsView, box: _Box) -> IntArray:
    """Edges with a segment in a grid cell that the box touches."""
    rows = _cells(box.south, box.north, roads.grid_south, roads.grid_step_lat, roads.grid_rows)
    cols = _cells(box.west, box.east, roads.grid_west, roads.grid_step_lon, roads.grid_cols)
    found = [
        roads.cell_pt[roads.cell_start[row * roads.grid_cols + cols[0]] :
                      roads.cell_start[row * roads.grid_cols + cols[1]]]
        for row in range(*rows)
    ]  # fmt: skip
    points = np.concatenate(found) if found else np.zeros(0, dtype=np.int32)
    inside = box.holds(roads.pt_lon[points], roads.pt_lat[points])
    return np.unique(roads.pt_edge[points[inside]]).astype(np.int64)


def _cells(low: float, high: float, origin: float, step: float, count: int) -> tuple[int, int]:
    first = int(np.clip(np.floor((low - origin) / step), 0, count))
    last = int(np.clip(np.floor((high - origin) / step) + 1, 0, count))
    return first, max(first, last)


def _points_of(roads: RoadsView, edges: IntArray) -> tuple[IntArray, IntArray]:
    """Point rows of the edges, and the place in `edges` that owns each."""
    begin = roads.edge_start[edges].astype(np.int64)
    count = roads.edge_start[edges + 1].astype(np.int64) - begin
    owner = np.repeat(np.arange(len(edges)), count)
    within = np.arange(int(count.sum())) - np.repeat(np.cumsum(count) - count, count)
    return begin[owner] + within, owner


def _worth_drawing(
    match: Match,
    box: _Box,
    point: tuple[FloatArray, FloatArray],
    owner: IntArray,
    rank: Int8Array,
) -> BoolArray:
    """Major roads everywhere, minor ones near the ride; fewer ranks if that is still too much."""
    near = np.zeros(len(rank), dtype=bool)
    if len(owner):
        tree = cKDTree(box.xy(match.lon, match.lat))
        away, _ = tree.query(box.xy(*point), distance_upper_bound=box.near_m)
        near[owner[np.isfinite(away)]] = True
    keep = (rank < _MINOR) | (rank == _RANKS["ferry"]) | near
    thin = _thinned(box, point[0], point[1], owner)
    for highest in (5, 4, 3, 2):
        if int((keep[owner] & thin).sum()) <= _MOST_POINTS:
            break
        keep &= (rank < highest) | (rank == _RANKS["ferry"])
    return np.asarray(keep, dtype=np.bool_)


def _thinned(box: _Box, lon: FloatArray, lat: FloatArray, owner: IntArray) -> BoolArray:
    """Points worth drawing: the ends of each line, and one per cell of half a pixel."""
    if not len(owner):
        return np.zeros(0, dtype=bool)
    cell = np.floor(box.xy(lon, lat) / box.tolerance_m).astype(np.int64)
    moved = np.any(cell[1:] != cell[:-1], axis=1)
    new_line = owner[1:] != owner[:-1]
    first = np.r_[True, new_line]
    last = np.r_[new_line, True]
    return np.asarray(first | last | np.r_[True, moved])


def _passed(
    match: Match, places: PlacesView, box: _Box
) -> tuple[tuple[Passed, ...], tuple[Passed, ...]]:
    wanted = [PLACE_KINDS.index(kind) for kind in _NEAR_M]
    named = np.isin(places.kind, wanted) & (places.name.codes >= 0)
    rows = np.flatnonzero(named & box.holds(places.lon, places.lat))
    line, at_m = _dense(match, box)
    tree = cKDTree(line)
    passed: list[Passed] = []
    towns: list[Passed] = []
    for row in rows:
        kind = PLACE_KINDS[int(places.kind[row])]
        spot = box.xy(places.lon[row : row + 1], places.lat[row : row + 1])[0]
        near = tree.query_ball_point(spot, _NEAR_M[kind])
        if near:
            passed += _passes(places, int(row), np.sort(np.asarray(near)), line, at_m, spot)
        elif kind in _TOWNS:
            towns.append(_place(places, int(row), at_m=0.0, away_m=0.0))
    return tuple(sorted(passed, key=lambda p: (p.at_m, p.name))), tuple(towns)


def _dense(match: Match, box: _Box) -> tuple[FloatArray, FloatArray]:
    """The ride as points at most 50 m apart."""
    length = float(match.at_m[-1])
    at_m = np.union1d(match.at_m, np.arange(0.0, length, 50.0))
    lon, lat = np.interp(at_m, match.at_m, match.lon), np.interp(at_m, match.at_m, match.lat)
    return box.xy(lon, lat), at_m


def _passes(
    places: PlacesView,
    row: int,
    near: IntArray,
    line: FloatArray,
    at_m: FloatArray,
    spot: FloatArray,
) -> list[Passed]:
    """One entry each time the ride comes by the place."""
    visits = np.split(near, np.flatnonzero(np.diff(at_m[near]) > _AGAIN_M) + 1)
    found = []
    for visit in visits:
        away = np.hypot(*(line[visit] - spot).T)
        best = int(np.argmin(away))
        found.append(_place(places, row, at_m=float(at_m[visit[best]]), away_m=float(away[best])))
    return found


def _place(places: PlacesView, row: int, *, at_m: float, away_m: float) -> Passed:
    population = float(places.population[row])
    return Passed(
        at_m=round(at_m, 1),
        away_m=round(away_m, 1),
        name=places.name.text(row) or "",
        kind=PLACE_KINDS[int(places.kind[row])].value,
        lon=round(float(places.lon[row]), 6),
        lat=round(float(places.lat[row]), 6),
        population=None if np.isnan(population) else population,
    )
