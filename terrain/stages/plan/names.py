"""Names of places and of the roadside."""

from __future__ import annotations

import numpy as np

from terrain.calc.geodesy import metres_per_degree
from terrain.calc.places import helper_ref, place_ref
from terrain.stages.plan.candidates import ROADSIDE
from terrain.stages.plan.near import Near
from terrain.values.help import Helper, HelpFields, PlaceRef
from terrain.values.ride import Ride
from terrain.values.views import PLACE_KINDS, PlaceKind, PlacesView

_NAME_REACH_M = 5_000.0
_NAMED = (
    PlaceKind.CITY, PlaceKind.TOWN, PlaceKind.VILLAGE, PlaceKind.HAMLET, PlaceKind.PASS,
    PlaceKind.LOCALITY,
)  # fmt: skip


class Namer:
    """Names places of use, settlements near by, and where a van can come."""

    def __init__(
        self,
        ride: Ride,
        places: PlacesView,
        fields: HelpFields,
        *,
        near: Near,
        helpers: tuple[Helper, ...],
    ) -> None:
        self.ride, self.places, self.fields = ride, places, fields
        self.near, self.helpers = near, helpers
        codes = [PLACE_KINDS.index(kind) for kind in _NAMED]
        self.named = np.flatnonzero(np.isin(places.kind, codes) & (places.name.codes >= 0))

    def place(self, row: int) -> PlaceRef | None:
        """The place of a row in Near; None by the roadside."""
        if row < 0:
            return None
        source = int(self.near.source[row])
        if source < ROADSIDE:
            return helper_ref(self.helpers[-2 - source])
        return place_ref(self.places, source)

    def near_name(self, at_m: float) -> str | None:
        """Name of the settlement or spot nearest to a position, within 5 km."""
        if not len(self.named):
            return None
        lon, lat = self.ride.lonlat(at_m)
        east_m, north_m = metres_per_degree(lat)
        gap = np.hypot(
            (self.places.lon[self.named] - lon) * east_m,
            (self.places.lat[self.named] - lat) * north_m,
        )
        i = int(np.argmin(gap))
        return self.places.name.text(int(self.named[i])) if gap[i] <= _NAME_REACH_M else None

    def van_at(self, at_m: float) -> bool | None:
        """Whether a van can come to a position; None off the map."""
        match = self.ride.match
        here = (match.from_m <= at_m + 1.0) & (match.to_m >= at_m - 1.0) & (match.edge >= 0)
        if not here.any():
            return None
        return bool(self.fields.edge_van_network[match.edge[here]].any())
