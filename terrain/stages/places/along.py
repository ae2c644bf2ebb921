"""All that lies along a ride, in one value."""

from __future__ import annotations

from terrain.stages.matching.remarks import against_one_way, outside_region
from terrain.stages.places.areas import (
    areas_along,
    closed_parts,
    ferries_without_cars,
    parts_at_times,
)
from terrain.stages.places.around import look_around
from terrain.stages.places.near import names_along
from terrain.stages.places.nodes import nodes_along
from terrain.values.match import Match
from terrain.values.places import AreasView, PlacesAlong
from terrain.values.views import PlacesView, RoadsView


def places_along(
    match: Match, roads: RoadsView, places: PlacesView, areas: AreasView | None
) -> PlacesAlong:
    """Roads and places around a ride, nodes and areas on it, and what each position is near."""
    near_from_m, near_names = names_along(match, places)
    return PlacesAlong(
        surroundings=look_around(match, roads, places),
        nodes=nodes_along(match, places),
        areas=None if areas is None else areas_along(match, areas),
        near_from_m=near_from_m,
        near_names=near_names,
        closed=closed_parts(match, roads),
        at_times=parts_at_times(match, roads),
        against=against_one_way(match, roads),
        no_cars=ferries_without_cars(match, roads),
        outside=outside_region(match, roads),
    )
