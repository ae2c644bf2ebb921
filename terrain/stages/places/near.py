"""The named place nearest to a position."""

from __future__ import annotations

import numpy as np

from terrain.calc.geodesy import metres_per_degree
from terrain.values.views import PLACE_KINDS, PlaceKind, PlacesView

_NEAR_M = 5_000.0


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

    def name(self, lon: float, lat: float) -> str | None:
        """Name of the nearest settlement or spot within 5 km as the crow flies; None if none."""
        if not len(self.rows):
            return None
        east_m, north_m = metres_per_degree(lat)
        gap = np.hypot(
            (self.places.lon[self.rows] - lon) * east_m,
            (self.places.lat[self.rows] - lat) * north_m,
        )
        i = int(np.argmin(gap))
        return self.places.name.text(int(self.rows[i])) if gap[i] <= _NEAR_M else None
