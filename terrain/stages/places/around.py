"""Which roads around a ride are worth drawing."""

from __future__ import annotations

import numpy as np

from terrain.calc.spots import Spots
from terrain.stages.places.passed import RideBox, places_passed
from terrain.values.arrays import BoolArray, FloatArray, Int8Array, Int32Array, IntArray
from terrain.values.match import Match
from terrain.values.places import Surroundings
from terrain.values.views import PlacesView, RoadsView

# Common practice, no source.
_RANKS: dict[str, int] = {
    "motorway": 0, "trunk": 0, "primary": 1, "secondary": 2, "tertiary": 3,
    "unclassified": 4, "residential": 4, "living_street": 4, "road": 4, "track": 5, "ferry": 6,
}  # fmt: skip


# Common practice, no source.
_UNDRAWN = 9


# Common practice, no source.
_MINOR = 4  # from this rank on, only close to the ride


# Size of the work; common practice, no source.
_MOST_POINTS = 20_000


# Size of the work; common practice, no source.
_CELLS = 8  # cells in the breadth of what is near


def look_around(match: Match, roads: RoadsView, places: PlacesView) -> Surroundings:
    """The roads in a box around the ride, thinned for a small map, and the places passed."""
    box = RideBox(match)
    rank, start, lon, lat = _context(match, roads, box)
    passed, towns = places_passed(match, places, box)
    return Surroundings(rank=rank, start=start, lon=lon, lat=lat, places=passed, towns=towns)


def _context(
    match: Match, roads: RoadsView, box: RideBox
) -> tuple[Int8Array, Int32Array, FloatArray, FloatArray]:
    edges = _edges_in(roads, box)
    rank = _ranks(roads, edges)
    edges, rank = edges[rank < _UNDRAWN], rank[rank < _UNDRAWN]
    points, owner = _points_of(roads, edges)
    lon, lat = roads.pt_lon[points], roads.pt_lat[points]
    keep_edge = _worth_drawing(match, box, (lon, lat), owner, rank)
    kept = keep_edge[owner] & _thinned(box, lon, lat, owner)
    owner, lon, lat = owner[kept], lon[kept], lat[kept]
    begins = np.r_[True, owner[1:] != owner[:-1]][: len(owner)]
    same = (lon[1:] == lon[:-1]) & (lat[1:] == lat[:-1])
    same &= rank[owner[1:]] == rank[owner[:-1]]
    goes_on = begins & np.r_[False, same][: len(owner)]  # where the edge before ends: one line
    owner, lon, lat, begins = (value[~goes_on] for value in (owner, lon, lat, begins))
    new_line = np.flatnonzero(begins)
    start = np.append(new_line, len(owner)).astype(np.int32)
    return rank[owner[new_line]].astype(np.int8), start, np.asarray(lon), np.asarray(lat)


def _ranks(roads: RoadsView, edges: IntArray) -> Int8Array:
    """The rank of each of the edges."""
    values = roads.ways.highway.values
    by_code = np.full(len(values) + 1, _UNDRAWN, dtype=np.int8)
    for code, value in enumerate(values):
        by_code[code] = _RANKS.get(value.removesuffix("_link"), _UNDRAWN)
    return by_code[roads.ways.highway.codes[roads.edge_way[edges]]]


def _edges_in(roads: RoadsView, box: RideBox) -> IntArray:
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
    box: RideBox,
    point: tuple[FloatArray, FloatArray],
    owner: IntArray,
    rank: Int8Array,
) -> BoolArray:
    """Major roads everywhere, minor ones near the ride; fewer ranks if that is still too much."""
    keep = (rank < _MINOR) | (rank == _RANKS["ferry"])
    minor = np.flatnonzero(~keep[owner])
    if len(minor):
        ride = box.xy(match.lon, match.lat)
        keep |= _near(ride, box.xy(*point)[minor], owner[minor], box.near_m, len(rank))
    thin = _thinned(box, point[0], point[1], owner)
    for highest in (5, 4, 3, 2):
        if int((keep[owner] & thin).sum()) <= _MOST_POINTS:
            break
        keep &= (rank < highest) | (rank == _RANKS["ferry"])
    return np.asarray(keep, dtype=np.bool_)


def _near(
    ride: FloatArray, xy: FloatArray, owner: IntArray, near_m: float, n_edges: int
) -> BoolArray:
    """Which edges have a point as near as that to a point of the ride; ride, xy : [m], (., 2).

    Cells tell it of most points: a distance is taken only where they leave it open, and only of
    edges that no other point has told of.
    """
    cell_m = near_m / _CELLS
    low = ride.min(axis=0) - near_m - 3 * cell_m
    size = np.floor((ride.max(axis=0) + near_m - low) / cell_m).astype(np.int64) + 4
    surely, perhaps = _cells_near(np.floor((ride - low) / cell_m).astype(np.int64), size)
    cell = np.floor((xy - low) / cell_m).astype(np.int64)
    inside = np.flatnonzero(np.all((cell >= 0) & (cell < size), axis=1))
    at, owner, xy = tuple(cell[inside].T), owner[inside], xy[inside]
    near = np.zeros(n_edges, dtype=bool)
    near[owner[surely[at]]] = True
    asked = np.flatnonzero(perhaps[at] & ~near[owner])
    if len(asked):
        away, _ = Spots(ride).nearest(xy[asked], near_m)
        near[owner[asked[np.isfinite(away)]]] = True
    return near


def _cells_near(ride: IntArray, size: IntArray) -> tuple[BoolArray, BoolArray]:
    """Cells all of which, and cells some of which, are near a cell of the ride."""
    surely, perhaps = np.zeros(size, dtype=bool), np.zeros(size, dtype=bool)
    passed = np.zeros(size, dtype=bool)
    passed[tuple(ride.T)] = True
    x, y = np.nonzero(passed)
    for dx, dy in np.ndindex(2 * _CELLS + 3, 2 * _CELLS + 3):
        right, up = dx - _CELLS - 1, dy - _CELLS - 1
        if np.hypot(abs(right) + 1, abs(up) + 1) < _CELLS:
            surely[x + right, y + up] = True
        if np.hypot(max(abs(right) - 1, 0), max(abs(up) - 1, 0)) <= _CELLS:
            perhaps[x + right, y + up] = True
    return surely, perhaps


def _thinned(box: RideBox, lon: FloatArray, lat: FloatArray, owner: IntArray) -> BoolArray:
    """Points worth drawing: the ends of each line, and one per cell of half a pixel."""
    if not len(owner):
        return np.zeros(0, dtype=bool)
    cell = np.floor(box.xy(lon, lat) / box.tolerance_m).astype(np.int64)
    moved = np.any(cell[1:] != cell[:-1], axis=1)
    new_line = owner[1:] != owner[:-1]
    first = np.r_[True, new_line]
    last = np.r_[new_line, True]
    return np.asarray(first | last | np.r_[True, moved])
