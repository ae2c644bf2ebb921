"""Where a ride lies inside a settlement."""

from __future__ import annotations

import numpy as np

from terrain.calc.geodesy import metres_per_degree
from terrain.calc.spots import Spots
from terrain.values.arrays import BoolArray, FloatArray, spans
from terrain.values.match import Match
from terrain.values.views import PLACE_KINDS, PlaceKind, PlacesView

# How far from its node a settlement slows traffic [m]; common practice, no source.
_SETTLED_M: dict[PlaceKind, float] = {
    PlaceKind.CITY: 2500.0, PlaceKind.TOWN: 1000.0, PlaceKind.VILLAGE: 350.0,
    PlaceKind.HAMLET: 120.0,
}  # fmt: skip


_TOWNS = (PlaceKind.CITY, PlaceKind.TOWN)


def towns_along(match: Match, places: PlacesView, every_m: float = 200.0) -> FloatArray:
    """The parts of the ride inside cities and towns, from and to [m], shape (t, 2)."""
    n = max(int(np.ceil(match.length_m / every_m)), 1)
    edges = np.linspace(0.0, match.length_m, n + 1)
    inside = settled_at(match, places, (edges[1:] + edges[:-1]) / 2.0, kinds=_TOWNS)
    found = [(float(edges[a]), float(edges[b])) for a, b in spans(inside)]
    return np.array(found, dtype=np.float64).reshape(len(found), 2)


def settled_at(
    match: Match,
    places: PlacesView,
    at_m: FloatArray,
    kinds: tuple[PlaceKind, ...] = tuple(_SETTLED_M),
) -> BoolArray:
    """True where a position of the ride lies inside a settlement of a kind, shape as at_m."""
    lon, lat = match.lonlat(at_m)
    m_lon, m_lat = metres_per_degree(float(match.lat.mean()))
    inside = np.zeros(len(at_m), dtype=np.bool_)
    for kind in kinds:
        reach_m = _SETTLED_M[kind]
        here = (places.kind == PLACE_KINDS.index(kind)) & _round(places, lon, lat)
        if here.any():
            spots = Spots(np.column_stack([places.lon[here] * m_lon, places.lat[here] * m_lat]))
            away, _ = spots.nearest(np.column_stack([lon * m_lon, lat * m_lat]), reach_m)
            inside |= np.isfinite(away)
    return inside


def _round(places: PlacesView, lon: FloatArray, lat: FloatArray) -> BoolArray:
    """Places in the box round positions, a margin of some kilometres with it."""
    if not len(lon):
        return np.zeros(len(places), np.bool_)
    margin = max(_SETTLED_M.values()) / 20_000.0  # a degree is longer than 20 km up to 79 N
    inside = (places.lon >= lon.min() - margin) & (places.lon <= lon.max() + margin)
    inside &= (places.lat >= lat.min() - margin) & (places.lat <= lat.max() + margin)
    return np.asarray(inside)
