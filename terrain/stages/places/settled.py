"""Where a ride lies inside a settlement."""

from __future__ import annotations

import numpy as np

from terrain.calc.geodesy import metres_per_degree
from terrain.calc.spots import Spots
from terrain.values.arrays import BoolArray, FloatArray
from terrain.values.match import Match
from terrain.values.views import PLACE_KINDS, PlaceKind, PlacesView

# How far from its node a settlement slows traffic [m]; common practice, no source.
_SETTLED_M: dict[PlaceKind, float] = {
    PlaceKind.CITY: 2500.0, PlaceKind.TOWN: 1000.0, PlaceKind.VILLAGE: 350.0,
    PlaceKind.HAMLET: 120.0,
}  # fmt: skip


def settled_at(match: Match, places: PlacesView, at_m: FloatArray) -> BoolArray:
    """True where a position of the ride lies inside a settlement, shape as at_m."""
    lon, lat = match.lonlat(at_m)
    m_lon, m_lat = metres_per_degree(float(match.lat.mean()))
    inside = np.zeros(len(at_m), dtype=np.bool_)
    for kind, reach_m in _SETTLED_M.items():
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
