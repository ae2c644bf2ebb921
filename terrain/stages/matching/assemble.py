"""Put matched sections together into one ride."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import Any

import numpy as np
from numpy.typing import NDArray

from terrain.calc.geodesy import along_m, between_m
from terrain.stages.matching.lattice.drawn import draw_ride, join_pieces, point_places
from terrain.stages.matching.lattice.pieces import RiddenPieces, pieces_at
from terrain.values.arrays import BoolArray, FloatArray, Int32Array, IntArray
from terrain.values.match import LegKind, Match
from terrain.values.route import Route
from terrain.values.views import RoadsView, WayFlag

_LEG_COLUMNS = {
    "kind": np.int8, "filled": np.bool_, "edge": np.int32, "way": np.int32, "way_id": np.int64,
    "forward": np.bool_, "edge_from_m": np.float64, "edge_to_m": np.float64,
    "from_m": np.float64, "to_m": np.float64, "offset_m": np.float64,
}  # fmt: skip
_LINE_COLUMNS = ("lon", "lat", "at_m")
# Bends this small are left out by a planner that thins its line (Douglas and Peucker's tolerance).
_STRAIGHT_SIGMAS, _STRAIGHT_SHARE = 3.0, 0.01
_GUESSED_JITTER_M = 1.0  # a turn back between far points is none of the line's noise


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class MatchedPart:
    """A matched part of the route.

    Per used point, shape (n,): lon; index, its place in the drawn line; on, whether it lies on
    the map; edge, at_m, dist_m, its position.
    sparse : the step was guessed, shape (n - 1,); slack_m : steps back that are noise
    sigma_m : spread of the line about its ways
    pieces : the edge pieces ridden
    """

    lon: FloatArray
    index: IntArray
    on: BoolArray
    sparse: BoolArray
    edge: Int32Array
    at_m: FloatArray
    dist_m: FloatArray
    slack_m: float
    sigma_m: float
    pieces: RiddenPieces

    def spot(self, k: int, roads: RoadsView) -> tuple[float, float]:
        """Where used point k lies on the map, in the longitudes of the line."""
        pts = slice(roads.edge_start[self.edge[k]], roads.edge_start[self.edge[k] + 1])
        at = roads.pt_at_m[pts]
        lon = float(np.interp(self.at_m[k], at, roads.pt_lon[pts]))
        lat = float(np.interp(self.at_m[k], at, roads.pt_lat[pts]))
        return lon + _turns_deg(self.lon[k], lon), lat


def _turns_deg(near: float, lon: float) -> float:
    """Whole turns that bring a longitude near another."""
    return 360.0 * float(np.round((near - lon) / 360.0))


class _Ride:
    """Collects legs and their lines; the ride so far is `length_m` long."""

    def __init__(self) -> None:
        self.length_m = 0.0
        self.legs: list[dict[str, NDArray[Any]]] = []
        self.lines: list[tuple[FloatArray, FloatArray, FloatArray]] = []
        self.index: list[NDArray[Any]] = []
        self.place: list[FloatArray] = []

    def add_on(self, part: MatchedPart, lo: int, hi: int, roads: RoadsView) -> None:
        """Legs on the map between used points lo..hi, all on the map."""
        pieces = part.pieces
        mine = (pieces.step >= lo) & (pieces.step < hi)
        jitter = np.where(part.sparse, _GUESSED_JITTER_M, part.slack_m)
        ride = join_pieces(pieces_at(pieces, mine), part.sparse, jitter)
        if not len(ride.edge):
            return
        end = self.length_m + np.cumsum(np.abs(ride.to_m - ride.from_m))
        start = np.concatenate([[self.length_m], end[:-1]])
        points = slice(lo, hi + 1)
        place = point_places(ride, start, part.edge, part.at_m)[points]
        place = _filled_in(place, part.index[points], self.length_m, float(end[-1]))
        line = draw_ride(ride.edge, ride.from_m, ride.to_m, roads)
        n_drawn = np.diff(line.first)
        along = np.minimum(line.along_m + np.repeat(start, n_drawn), np.repeat(end, n_drawn))
        along[line.first[:-1]], along[line.first[1:] - 1] = start, end
        guessed = part.sparse.copy()
        guessed[lo:hi] &= ~_straight(line.lon, line.lat, along, place, part.sigma_m)
        n_guessed = np.concatenate([[0], np.cumsum(guessed)])
        n_steps = ride.last_step + 1 - ride.first_step
        filled = n_guessed[ride.last_step + 1] - n_guessed[ride.first_step] == n_steps
        offset = _leg_offsets(start, end, place, part.dist_m[points])
        way = roads.edge_way[ride.edge]
        ferry = (roads.ways.flags[way] & int(WayFlag.FERRY)) > 0
        self.legs.append({
            "kind": np.where(ferry, LegKind.FERRY, LegKind.MATCHED), "filled": filled,
            "edge": ride.edge, "way": way, "way_id": roads.ways.way_id[way],
            "forward": ride.to_m > ride.from_m, "edge_from_m": ride.from_m,
            "edge_to_m": ride.to_m, "from_m": start, "to_m": end,
            "offset_m": np.where(filled, np.nan, offset),
        })  # fmt: skip
        lon = line.lon + _turns_deg(part.lon[lo], float(line.lon[0]))
        self._extend((lon, line.lat, along), part.index[points], place, float(end[-1]))

    def add_off(self, lon: FloatArray, lat: FloatArray, index: FloatArray) -> None:
        """A leg along the drawn line itself; index holds each point's place in the drawn line."""
        at = self.length_m + along_m(lon, lat)
        if at[-1] <= self.length_m:
            return
        self.legs.append({
            "kind": np.array([LegKind.UNMAPPED]), "filled": np.array([False]),
            "edge": np.array([-1]), "way": np.array([-1]), "way_id": np.array([-1]),
            "forward": np.array([True]), "edge_from_m": np.array([np.nan]),
            "edge_to_m": np.array([np.nan]), "from_m": at[:1], "to_m": at[-1:],
            "offset_m": np.array([np.nan]),
        })  # fmt: skip
        self._extend((lon, lat, at), index, at, float(at[-1]))

    def _extend(
        self, line: tuple[FloatArray, FloatArray, FloatArray], index: NDArray[Any],
        place: FloatArray, length_m: float,
    ) -> None:  # fmt: skip
        self.lines.append(line)
        self.index.append(index)
        self.place.append(place)
        self.length_m = length_m

    def columns(self) -> dict[str, Any]:
        """The legs and the ride line as columns of a Match."""
        legs: dict[str, Any] = {
            name: np.concatenate([leg[name] for leg in self.legs] or [np.zeros(0)]).astype(dtype)
            for name, dtype in _LEG_COLUMNS.items()
        }
        line = {
            name: np.concatenate([part[k] for part in self.lines] or [np.zeros(0)])
            for k, name in enumerate(_LINE_COLUMNS)
        }
        return legs | line

    def places(self, n_points: int) -> FloatArray:
        """Place along the ride of each drawn point, shape (n_points,); NaN without a ride."""
        if not self.index:
            return np.full(n_points, np.nan)
        index, place = np.concatenate(self.index), np.concatenate(self.place)
        order = np.argsort(index, kind="stable")
        place = np.maximum.accumulate(place[order])
        return np.interp(np.arange(n_points), index[order], place)


def assemble(route: Route, roads: RoadsView, sections: list[MatchedPart]) -> Match:
    """One ride from the matched sections of a route."""
    ride = _Ride()
    breaks: list[float] = []
    for part in sections:
        if ride.length_m:
            breaks.append(ride.length_m)
        change = np.flatnonzero(part.on[1:] != part.on[:-1]) + 1
        for lo, end in pairwise([0, *change.tolist(), len(part.on)]):
            if part.on[lo]:
                ride.add_on(part, lo, end - 1, roads)
            else:
                ride.add_off(*_drawn_between(route, roads, part, lo, end - 1))
    return Match(
        **ride.columns(), point_at_m=ride.places(route.n_points),
        breaks_m=tuple(m for m in breaks if m < ride.length_m),
    )  # fmt: skip


def _drawn_between(
    route: Route, roads: RoadsView, part: MatchedPart, lo: int, hi: int
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """The drawn line over used points lo..hi, from and to the map where the ride joins it."""
    before, after = lo - 1, hi + 1
    first, last = int(part.index[lo]), int(part.index[hi])
    # The ends on the map stand for the drawn points they were matched to.
    head, tail = np.zeros((3, 0)), np.zeros((3, 0))
    if lo > 0:
        head = np.array([[*part.spot(before, roads), float(part.index[before])]]).T
        first = int(part.index[before]) + 1
    if after < len(part.on):
        tail = np.array([[*part.spot(after, roads), float(part.index[after])]]).T
        last = int(part.index[after]) - 1
    inner = np.arange(first, last + 1)
    drawn = np.array([route.lon[inner], route.lat[inner], inner])
    lon, lat, index = np.concatenate([head, drawn, tail], axis=1)
    return lon, lat, index


def _filled_in(place: FloatArray, index: IntArray, low: float, high: float) -> FloatArray:
    """Places of all points: missing ones interpolated, never falling, within low..high."""
    known = ~np.isnan(place)
    if not known.any():
        return np.interp(index, [index[0], index[-1]], [low, high])
    place = np.interp(index, index[known], place[known])
    return np.clip(np.maximum.accumulate(place), low, high)


def _straight(
    lon: FloatArray, lat: FloatArray, along: FloatArray, place: FloatArray, sigma_m: float
) -> BoolArray:
    """Steps whose ride keeps to the straight line between their points, shape (n - 1,).

    A planner that leaves out the points of a straight stretch has shown the way all the same.
    """
    gap = np.diff(place)
    x, y = np.interp(place, along, lon), np.interp(place, along, lat)
    step = np.clip(np.searchsorted(place, along, side="right") - 1, 0, len(gap) - 1)
    share = (along - place[step]) / np.maximum(gap[step], 1e-9)
    # The place at the same share of the straight line: going back and forth counts as off it.
    off = between_m(
        lon, lat, x[step] + share * np.diff(x)[step], y[step] + share * np.diff(y)[step]
    )
    most = np.zeros(len(gap))
    np.maximum.at(most, step, off)
    straight: BoolArray = most <= np.maximum(_STRAIGHT_SIGMAS * sigma_m, _STRAIGHT_SHARE * gap)
    return straight & (gap > 0)


def _leg_offsets(
    start: FloatArray, end: FloatArray, place: FloatArray, dist_m: FloatArray
) -> FloatArray:
    """Mean distance of the line from each leg: of its own points, else between its neighbours."""
    leg = np.clip(np.searchsorted(end, place), 0, len(end) - 1)
    count = np.bincount(leg, minlength=len(end))
    total = np.bincount(leg, weights=dist_m, minlength=len(end))
    between = np.interp((start + end) / 2, place, dist_m)
    return np.where(count > 0, total / np.maximum(count, 1), between)
