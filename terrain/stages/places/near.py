"""The named place nearest to a position: one rule for rides, stops, advice and help."""

from __future__ import annotations

import numpy as np

from terrain.calc.geodesy import metres_per_degree
from terrain.calc.spots import Spots
from terrain.values.arrays import BoolArray, FloatArray, IntArray
from terrain.values.match import Match
from terrain.values.views import PLACE_KINDS, PlaceKind, PlacesView

# Common practice, no source.
NEAR_M = 5_000.0
_STEP_M = 100.0  # along a ride the nearest place is looked up so often
_NAMED = (
    PlaceKind.CITY, PlaceKind.TOWN, PlaceKind.VILLAGE, PlaceKind.HAMLET, PlaceKind.PASS,
    PlaceKind.LOCALITY,
)  # fmt: skip


class Nearby:
    """Names of settlements and spots, to say where a thing without a name lies."""

    def __init__(self, places: PlacesView) -> None:
        codes = [PLACE_KINDS.index(kind) for kind in _NAMED]
        self.places = places
        self.rows = np.flatnonzero(np.isin(places.kind, codes) & (places.name.codes >= 0))
        self.lon, self.lat = places.lon[self.rows], places.lat[self.rows]

    def name(self, lon: float, lat: float) -> str | None:
        """Name of the nearest settlement or spot within 5 km as the crow flies; None if none."""
        east_m, north_m = metres_per_degree(lat)
        near = np.flatnonzero(np.abs(self.lat - lat) * north_m <= NEAR_M)
        if not len(near):
            return None
        gap = np.hypot((self.lon[near] - lon) * east_m, (self.lat[near] - lat) * north_m)
        i = int(np.argmin(gap))
        return self.places.name.text(int(self.rows[near[i]])) if gap[i] <= NEAR_M else None


def names_along(match: Match, places: PlacesView) -> tuple[FloatArray, tuple[str, ...]]:
    """Positions of a ride from which on another place is the nearest, and its name; "" for none."""
    east_m, north_m = metres_per_degree(float(match.lat.mean()))
    rows = Nearby(places).rows
    rows = rows[_round(match, places, rows, NEAR_M / east_m, NEAR_M / north_m)]
    at_m = np.arange(0.0, match.length_m + _STEP_M, _STEP_M)
    if not len(rows):
        return np.zeros(1), ("",)
    scale = np.array([east_m, north_m])
    spots = Spots(np.column_stack([places.lon[rows], places.lat[rows]]) * scale)
    _, nearest = spots.nearest(np.column_stack(match.lonlat(at_m)) * scale, NEAR_M)
    first = np.flatnonzero(np.r_[True, nearest[1:] != nearest[:-1]])
    names = [places.name.text(int(rows[i])) or "" if i >= 0 else "" for i in nearest[first]]
    return at_m[first], tuple(names)


def _round(match: Match, places: PlacesView, rows: IntArray, wide: float, high: float) -> BoolArray:
    """Which places lie in the box round a ride, with a margin [deg]."""
    lon, lat = places.lon[rows], places.lat[rows]
    inside = (lon >= match.lon.min() - wide) & (lon <= match.lon.max() + wide)
    inside &= (lat >= match.lat.min() - high) & (lat <= match.lat.max() + high)
    return np.asarray(inside)
