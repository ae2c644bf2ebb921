"""The route laid on ways: which edge, from where to where, in riding order."""

from __future__ import annotations

import itertools
from dataclasses import dataclass
from enum import IntEnum

import numpy as np
import shapely

from terrain.values.arrays import (
    BoolArray,
    FloatArray,
    Int8Array,
    Int32Array,
    IntArray,
    freeze_fields,
    spans,
)
from terrain.values.route import Problem


class LegKind(IntEnum):
    """How a leg of the ride is known."""

    MATCHED = 0  # on a mapped way
    UNMAPPED = 1  # along the drawn line, no mapped way near
    FERRY = 2  # on a mapped ferry


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Match:
    """The ride as legs, each on one edge (or off the map), without gaps.

    Legs, shape (k,): kind (LegKind); filled (True if the leg was bridged by routing between
    points too far apart to show it); edge, way row indices in the region's roads, -1 off the
    map; way_id OSM id, -1 off the map; forward True if ridden as drawn; edge_from_m, edge_to_m
    positions on the edge in riding order (from > to if ridden backwards), NaN off the map;
    from_m, to_m metres along the ride; offset_m mean distance of the drawn line from the way,
    NaN if filled or off the map.
    Ride line, shape (p,): lon, lat [deg], at_m metres along the ride, never falling. Every leg
    starts and ends on a point of it.
    Line, shape (n,) as the route's points: point_at_m position of each drawn point on the ride;
    NaN for points left aside.
    breaks_m : positions where the file's line stopped and went on elsewhere.
    """

    kind: Int8Array
    filled: BoolArray
    edge: Int32Array
    way: Int32Array
    way_id: IntArray
    forward: BoolArray
    edge_from_m: FloatArray
    edge_to_m: FloatArray
    from_m: FloatArray
    to_m: FloatArray
    offset_m: FloatArray
    lon: FloatArray
    lat: FloatArray
    at_m: FloatArray
    point_at_m: FloatArray
    breaks_m: tuple[float, ...] = ()
    problems: tuple[Problem, ...] = ()

    def __post_init__(self) -> None:
        legs = (
            "kind", "filled", "edge", "way", "way_id", "forward",
            "edge_from_m", "edge_to_m", "from_m", "to_m", "offset_m",
        )  # fmt: skip
        freeze_fields(self, legs, len(self.kind))
        freeze_fields(self, ("lon", "lat", "at_m"), len(self.at_m))
        freeze_fields(self, ("point_at_m",))

    @property
    def length_m(self) -> float:
        return float(self.to_m[-1]) if len(self.to_m) else 0.0

    @property
    def ways(self) -> list[tuple[int, float]]:
        """[(OSM way id, length ridden on it [m]), ...] in riding order, off-map legs left out."""
        on_map = self.way_id >= 0
        ids, lengths = self.way_id[on_map], (self.to_m - self.from_m)[on_map]
        if not len(ids):
            return []
        first = np.flatnonzero(np.r_[True, ids[1:] != ids[:-1]])
        sums = np.add.reduceat(lengths, first)
        return [(int(i), float(m)) for i, m in zip(ids[first], sums, strict=True)]

    def lonlat(self, at_m: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Where positions along the ride lie [deg], each of the shape of at_m."""
        lon, lat = np.interp(at_m, self.at_m, self.lon), np.interp(at_m, self.at_m, self.lat)
        return np.asarray(lon, dtype=np.float64), np.asarray(lat, dtype=np.float64)

    @property
    def gaps(self) -> tuple[tuple[float, float], ...]:
        """Parts routed between two drawn points too far apart to show the way, (from_m, to_m).

        A bridged run of legs is cut where a drawn point lies in it.
        """
        points = np.unique(self.point_at_m[~np.isnan(self.point_at_m)])
        found: list[tuple[float, float]] = []
        for start, stop in spans(self.filled & (self.kind == LegKind.MATCHED)):
            low, high = float(self.from_m[start]), float(self.to_m[stop - 1])
            within = slice(np.searchsorted(points, low, "right"), np.searchsorted(points, high))
            cuts = [low, *points[within].tolist(), high]
            found += [(a, b) for a, b in itertools.pairwise(cuts) if a < b]
        return tuple(found)

    def _length_where(self, mask: BoolArray) -> float:
        return float((self.to_m - self.from_m)[mask].sum())

    @property
    def matched_m(self) -> float:
        """On mapped ways on land, bridged legs included."""
        return self._length_where(self.kind == LegKind.MATCHED)

    @property
    def unmapped_m(self) -> float:
        return self._length_where(self.kind == LegKind.UNMAPPED)

    @property
    def filled_m(self) -> float:
        """The part on land bridged by routing between far-apart points: a ferry has one way."""
        return self._length_where(self.filled & (self.kind == LegKind.MATCHED))

    @property
    def ferry_m(self) -> float:
        return self._length_where(self.kind == LegKind.FERRY)

    @property
    def mean_offset_m(self) -> float | None:
        """Length-weighted mean distance of the drawn line from its ways; None if nowhere known."""
        known = ~np.isnan(self.offset_m)
        length = (self.to_m - self.from_m)[known]
        if not length.sum() > 0:
            return None
        return float(np.average(self.offset_m[known], weights=length))


def ride_coords(match: Match, from_m: float, to_m: float) -> FloatArray:
    """lon, lat [deg] of the ride from one position to another, shape (n, 2), n >= 2."""
    inside = (match.at_m > from_m) & (match.at_m < to_m)
    at_m = np.concatenate([[from_m], match.at_m[inside], [to_m]])
    return np.column_stack(match.lonlat(at_m))


def ride_part(match: Match, from_m: float, to_m: float) -> shapely.LineString:
    """The ride from one position to another."""
    return shapely.LineString(ride_coords(match, from_m, to_m))
