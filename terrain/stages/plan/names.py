"""Names of places and of the roadside."""

from __future__ import annotations

from terrain.calc.places import Nearby, helper_ref, place_ref
from terrain.stages.plan.candidates import ROADSIDE
from terrain.stages.plan.near import Near
from terrain.values.help import Helper, HelpFields, PlaceRef
from terrain.values.ride import Ride
from terrain.values.views import PlacesView


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
        self.nearby = Nearby(places)

    def place(self, row: int) -> PlaceRef | None:
        """The place of a row in Near; None by the roadside."""
        if row < 0:
            return None
        source = int(self.near.source[row])
        if source < ROADSIDE:
            return helper_ref(self.helpers[-2 - source])
        return place_ref(self.places, source, nearby=self.nearby)

    def near_name(self, at_m: float) -> str | None:
        """Name of the settlement or spot nearest to a position, within 5 km."""
        return self.nearby.name(*self.ride.lonlat(at_m))

    def van_at(self, at_m: float) -> bool | None:
        """Whether a van can come to a position; None off the map."""
        match = self.ride.match
        here = (match.from_m <= at_m + 1.0) & (match.to_m >= at_m - 1.0) & (match.edge >= 0)
        if not here.any():
            return None
        return bool(self.fields.edge_van_network[match.edge[here]].any())
