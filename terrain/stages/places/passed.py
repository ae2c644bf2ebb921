"""Which roads and places around a ride are worth drawing."""

from __future__ import annotations

import numpy as np

from terrain.calc.geodesy import metres_per_degree
from terrain.calc.spots import Spots
from terrain.values.arrays import BoolArray, FloatArray, IntArray
from terrain.values.match import Match
from terrain.values.places import PassedPlace
from terrain.values.views import PLACE_KINDS, PlaceKind, PlacesView

# Common practice, no source.
_PIXELS = 900.0  # the map's longer side; finer detail than half of one is left out
# Common practice, no source.
# How near a place must be to be called passed [m]: a settlement is wide, its node a point.
_NEAR_M: dict[PlaceKind, float] = {
    PlaceKind.CITY: 3000.0, PlaceKind.TOWN: 1500.0, PlaceKind.VILLAGE: 800.0,
    PlaceKind.HAMLET: 500.0, PlaceKind.LOCALITY: 250.0, PlaceKind.PASS: 150.0,
    PlaceKind.FORD: 60.0,
}  # fmt: skip
_TOWNS = (PlaceKind.CITY, PlaceKind.TOWN, PlaceKind.VILLAGE)
# Common practice, no source.
_AGAIN_M = 5000.0  # a place is passed again only after so much riding


class RideBox:
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


def places_passed(
    match: Match, places: PlacesView, box: RideBox
) -> tuple[tuple[PassedPlace, ...], tuple[PassedPlace, ...]]:
    wanted = [PLACE_KINDS.index(kind) for kind in _NEAR_M]
    named = np.isin(places.kind, wanted) & (places.name.codes >= 0)
    rows = np.flatnonzero(named & box.holds(places.lon, places.lat))
    line, at_m = _dense(match, box)
    ride = Spots(line)
    passed: list[PassedPlace] = []
    towns: list[PassedPlace] = []
    for row in rows:
        kind = PLACE_KINDS[int(places.kind[row])]
        spot = box.xy(places.lon[row : row + 1], places.lat[row : row + 1])
        (near,) = ride.within(spot, _NEAR_M[kind])
        if len(near):
            passed += _passes(places, int(row), near, line, at_m, spot[0])
        elif kind in _TOWNS:
            towns.append(_place(places, int(row), at_m=0.0, away_m=0.0))
    return tuple(sorted(passed, key=lambda p: (p.at_m, p.name))), tuple(towns)


def _dense(match: Match, box: RideBox) -> tuple[FloatArray, FloatArray]:
    """The ride as points at most 50 m apart."""
    length = float(match.at_m[-1])
    at_m = np.union1d(match.at_m, np.arange(0.0, length, 50.0))
    lon, lat = match.lonlat(at_m)
    return box.xy(lon, lat), at_m


def _passes(
    places: PlacesView,
    row: int,
    near: IntArray,
    line: FloatArray,
    at_m: FloatArray,
    spot: FloatArray,
) -> list[PassedPlace]:
    """One entry each time the ride comes by the place."""
    visits = np.split(near, np.flatnonzero(np.diff(at_m[near]) > _AGAIN_M) + 1)
    found = []
    for visit in visits:
        away = np.hypot(*(line[visit] - spot).T)
        best = int(np.argmin(away))
        found.append(_place(places, row, at_m=float(at_m[visit[best]]), away_m=float(away[best])))
    return found


def _place(places: PlacesView, row: int, *, at_m: float, away_m: float) -> PassedPlace:
    population = float(places.population[row])
    return PassedPlace(
        at_m=round(at_m, 1),
        away_m=round(away_m, 1),
        name=places.name.text(row) or "",
        kind=PLACE_KINDS[int(places.kind[row])].value,
        lon=round(float(places.lon[row]), 6),
        lat=round(float(places.lat[row]), 6),
        population=None if np.isnan(population) else population,
    )
