"""Put matched sections together into one ride."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from terrain.calc.geodesy import along_m, steps_m
from terrain.calc.riding import draw_ride, join_pieces, point_places
from terrain.stages.matching.params import MatchParams
from terrain.values.arrays import BoolArray, FloatArray, Int32Array
from terrain.values.match import LegKind, Match
from terrain.values.route import Route
from terrain.values.views import RoadsView, WayFlag


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Section:
    """A matched part of the route, points first..last of it.

    Per used point, shape (n,): lon, lat; index, its place in the drawn line (fractions lie
    between drawn points); on, whether it lies on the map; edge, at_m, dist_m, its position;
    sparse, slack_m, shape (n - 1,): the step was guessed; steps back that are noise. piece_*: see ridden_pieces.
    """

    first: int
    last: int
    lon: FloatArray
    lat: FloatArray
    index: FloatArray
    on: BoolArray
    sparse: BoolArray
    edge: Int32Array
    at_m: FloatArray
    dist_m: FloatArray
    slack_m: FloatArray
    piece_edge: Int32Array
    piece_from_m: FloatArray
    piece_to_m: FloatArray
    piece_step: Int32Array


class _Ride:
    """Collects legs and their lines; the ride so far is `length_m` long."""

    def __init__(self) -> None:
        self.length_m = 0.0
        self.legs: list[dict[str, np.ndarray]] = []
        self.lines: list[tuple[FloatArray, FloatArray, FloatArray]] = []
        self.index: list[FloatArray] = []
        self.place: list[FloatArray] = []

    def add_on(self, part: Section, lo: int, hi: int, roads: RoadsView) -> None:
        """Legs on the map between used points lo..hi, all on the map."""
        mine = (part.piece_step >= lo) & (part.piece_step < hi)
        jitter = np.full(len(part.sparse) + 1, 0.0)
        jitter[:-1] = np.where(part.sparse, 1.0, part.slack_m)
        e, a, b, s0, s1 = join_pieces(
            part.piece_edge[mine], part.piece_from_m[mine], part.piece_to_m[mine],
            part.piece_step[mine], jitter,
        )  # fmt: skip
        if not len(e):
            return
        length = np.abs(b - a)
        end = self.length_m + np.cumsum(length)
        start = np.concatenate([[self.length_m], end[:-1]])
        place = point_places(e, a, b, s0, s1, start, part.edge, part.at_m)[lo : hi + 1]
        place = _filled_in(place, part.index[lo : hi + 1], self.length_m, float(end[-1]))
        way = roads.edge_way[e]
        ferry = (roads.ways.flags[way] & int(WayFlag.FERRY)) > 0
        n_sparse = np.concatenate([[0], np.cumsum(part.sparse)])
        filled = n_sparse[s1 + 1] - n_sparse[s0] == s1 + 1 - s0
        offset = _leg_offsets(start, end, place, part.dist_m[lo : hi + 1])
        self.legs.append(
            dict(
                kind=np.where(ferry, LegKind.FERRY, LegKind.MATCHED).astype(np.int8),
                filled=filled, edge=e, way=way, way_id=roads.ways.way_id[way], forward=b > a,
                edge_from_m=a, edge_to_m=b, from_m=start, to_m=end,
                offset_m=np.where(filled, np.nan, offset),
            )
        )  # fmt: skip
        lon, lat, along, first = draw_ride(
            e, a, b, roads.edge_start, roads.pt_lon, roads.pt_lat, roads.pt_at_m
        )
        self.lines.append((lon, lat, along + np.repeat(start, np.diff(first))))
        self.index.append(part.index[lo : hi + 1])
        self.place.append(place)
        self.length_m = float(end[-1])

    def add_off(self, lon: FloatArray, lat: FloatArray, index: FloatArray) -> None:
        """A leg along the drawn line itself; index is NaN for points that were not drawn."""
        at = along_m(lon, lat)
        if at[-1] <= 0.0:
            return
        one = np.array([self.length_m])
        nan = np.array([np.nan])
        none = np.array([-1])
        self.legs.append(
            dict(
                kind=np.array([LegKind.UNMAPPED], np.int8), filled=np.array([False]),
                edge=none, way=none, way_id=none, forward=np.array([True]), edge_from_m=nan,
                edge_to_m=nan, from_m=one, to_m=one + at[-1], offset_m=nan,
            )
        )  # fmt: skip
        self.lines.append((lon, lat, at + self.length_m))
        drawn = ~np.isnan(index)
        self.index.append(index[drawn])
        self.place.append((at + self.length_m)[drawn])
        self.length_m += float(at[-1])


def assemble(
    route: Route, roads: RoadsView, sections: list[Section], params: MatchParams
) -> Match:
    """One ride from the matched sections of a route."""
    ride = _Ride()
    breaks = []
    for part in sections:
        if ride.length_m:
            breaks.append(ride.length_m)
        change = np.flatnonzero(part.on[1:] != part.on[:-1])
        starts, ends = np.r_[0, change + 1], np.r_[change, len(part.on) - 1]
        for lo, hi in zip(starts, ends, strict=True):
            if part.on[lo]:
                ride.add_on(part, lo, hi, roads)
            else:
                ride.add_off(*_drawn_between(route, roads, part, lo, hi))
    return _match(route, ride, tuple(breaks))


def _match(route: Route, ride: _Ride, breaks: tuple[float, ...]) -> Match:
    def joined(key: str, dtype: type) -> np.ndarray:
        return np.concatenate([leg[key] for leg in ride.legs] or [np.zeros(0)]).astype(dtype)

    index = np.concatenate(ride.index or [np.zeros(0)])
    place = np.concatenate(ride.place or [np.zeros(0)])
    points = np.full(route.n_points, np.nan)
    if len(index):
        order = np.argsort(index, kind="stable")
        points = np.interp(np.arange(route.n_points), index[order],
                           np.maximum.accumulate(place[order]))
    step = steps_m(route.lon, route.lat)
    return Match(
        kind=joined("kind", np.int8), filled=joined("filled", np.bool_),
        edge=joined("edge", np.int32), way=joined("way", np.int32),
        way_id=joined("way_id", np.int64), forward=joined("forward", np.bool_),
        edge_from_m=joined("edge_from_m", np.float64), edge_to_m=joined("edge_to_m", np.float64),
        from_m=joined("from_m", np.float64), to_m=joined("to_m", np.float64),
        offset_m=joined("offset_m", np.float64),
        lon=np.concatenate([x for x, _, _ in ride.lines] or [np.zeros(0)]),
        lat=np.concatenate([y for _, y, _ in ride.lines] or [np.zeros(0)]),
        at_m=np.concatenate([m for _, _, m in ride.lines] or [np.zeros(0)]),
        point_at_m=points,
        line_length_m=float(step[np.diff(route.piece) == 0].sum()), breaks_m=breaks,
    )  # fmt: skip


def _drawn_between(
    route: Route, roads: RoadsView, part: Section, lo: int, hi: int
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """The drawn line over used points lo..hi, from and to the map where the ride joins it."""
    before, after = lo - 1, hi + 1
    i0 = part.index[before] if lo > 0 else part.index[lo]
    i1 = part.index[after] if after < len(part.on) else part.index[hi]
    inner = np.arange(int(np.ceil(i0)), int(np.floor(i1)) + 1)
    lon, lat, index = route.lon[inner], route.lat[inner], inner.astype(float)
    # The ends on the map replace the drawn points they were matched to.
    if lo > 0:
        keep = index > i0
        x, y = _on_edge(roads, part.edge[before], part.at_m[before])
        lon, lat, index = np.r_[x, lon[keep]], np.r_[y, lat[keep]], np.r_[i0, index[keep]]
    if after < len(part.on):
        keep = index < i1
        x, y = _on_edge(roads, part.edge[after], part.at_m[after])
        lon, lat, index = np.r_[lon[keep], x], np.r_[lat[keep], y], np.r_[index[keep], i1]
    return lon, lat, index


def _on_edge(roads: RoadsView, edge: int, at_m: float) -> tuple[float, float]:
    pts = slice(roads.edge_start[edge], roads.edge_start[edge + 1])
    at = roads.pt_at_m[pts]
    return float(np.interp(at_m, at, roads.pt_lon[pts])), float(
        np.interp(at_m, at, roads.pt_lat[pts])
    )


def _filled_in(place: FloatArray, index: FloatArray, low: float, high: float) -> FloatArray:
    """Places of all points: missing ones interpolated, never falling, within low..high."""
    known = ~np.isnan(place)
    if not known.any():
        return np.interp(index, [index[0], index[-1]], [low, high])
    place = np.interp(index, index[known], place[known])
    return np.clip(np.maximum.accumulate(place), low, high)


def _leg_offsets(
    start: FloatArray, end: FloatArray, place: FloatArray, dist_m: FloatArray
) -> FloatArray:
    """Mean distance of the line from each leg: of its own points, else between its neighbours."""
    leg = np.clip(np.searchsorted(end, place), 0, len(end) - 1)
    count = np.bincount(leg, minlength=len(end))
    total = np.bincount(leg, weights=dist_m, minlength=len(end))
    between = np.interp((start + end) / 2, place, dist_m)
    return np.where(count > 0, total / np.maximum(count, 1), between)
