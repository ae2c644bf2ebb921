"""All that a plan is told from, before it is told."""

from __future__ import annotations

from typing import NamedTuple

from terrain.stages.days.groups import ROADSIDE
from terrain.stages.days.near import NearbyPlaces
from terrain.stages.days.nights import DayStarts
from terrain.stages.places.near import Nearby
from terrain.stages.places.refs import helper_ref, place_ref
from terrain.stages.plan.candidates import RequiredStop, StopCandidates
from terrain.stages.plan.course import RideSums
from terrain.stages.plan.stop_path import Chosen, StopProblem
from terrain.values.help import Helper, HelpFields, PlaceRef
from terrain.values.plan import FuelRange, StopKind
from terrain.values.ride import Ride
from terrain.values.views import PlacesView


class PlanInputs(NamedTuple):
    """The ride with its possible stops, and those chosen.

    ranges : the shortest first; water_l_h : to drink in the heat [L/h]
    """

    ride: Ride
    course: RideSums
    ranges: tuple[FuelRange, ...]
    clock: DayStarts
    candidates: StopCandidates
    asked: tuple[RequiredStop, ...]
    problem: StopProblem
    chosen: Chosen
    namer: Namer
    water_l_h: float

    def asked_at(self, row: int) -> RequiredStop | None:
        """What was asked for at a candidate, None if nothing was."""
        i = int(self.candidates.asked[row])
        return self.asked[i] if i >= 0 else None

    def is_night(self, row: int) -> bool:
        item = self.asked_at(row)
        return item is not None and StopKind.NIGHT in item.kinds


class Namer:
    """Names places of use, settlements near by, and where a van can come."""

    def __init__(
        self,
        ride: Ride,
        places: PlacesView,
        fields: HelpFields,
        *,
        near: NearbyPlaces,
        helpers: tuple[Helper, ...],
    ) -> None:
        self.ride, self.places, self.fields = ride, places, fields
        self.near, self.helpers = near, helpers
        self.nearby = Nearby(places)

    def place(self, row: int) -> PlaceRef | None:
        """The place of a row in NearbyPlaces; None by the roadside."""
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
