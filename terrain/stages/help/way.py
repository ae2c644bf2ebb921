"""The quickest way from a point of the ride to a place, drawn from the region's fields."""

from __future__ import annotations

from collections import defaultdict
from typing import NamedTuple

import numpy as np

from terrain.calc.along import AtPlaces, NearestAlong, by_the_ride, cost_along
from terrain.calc.cheapest import downhill
from terrain.calc.kernels import plain
from terrain.stages.help.lanes import NOBODY, RideOnRoads
from terrain.values.arrays import BoolArray, Float32Array, Int32Array
from terrain.values.help import HelpFields, RestrictedWay
from terrain.values.views import PlacesView, RoadsView, WayFlag


class WayThere(NamedTuple):
    """The way to a place: its length, how much of it is a ferry, and what of it is closed by a tag
    of access."""

    row: int
    time_s: float
    length_m: float
    ferry_m: float
    restricted: tuple[RestrictedWay, ...]


class ToPlaces:
    """Ways to the nearest of some places of a region, by time, from any sample of a ride.

    cost, place : the region's field, [s] and row of the place by node, shape (nodes,)
    ridden : rows of those of the places that lie on edges of the ride
    """

    def __init__(
        self,
        here: RideOnRoads,
        fields: HelpFields,
        places: PlacesView,
        *,
        cost: Float32Array,
        place: Int32Array,
        ridden: Int32Array,
    ) -> None:
        self.here, self.fields, self.places = here, fields, places
        self.cost, self.place = plain(cost, np.float32), place
        spots = AtPlaces(ridden, places.edge[ridden], places.edge_at_m[ridden])
        lane = self._lane(spots, place)
        on_ride = by_the_ride(here.samples, lane.cost, by_time=True)
        self.time_s = np.where(here.samples.on_land, on_ride.cost, np.nan)
        self.origin, self.source = on_ride.origin, lane.source
        nobody = AtPlaces(np.full_like(ridden, NOBODY), spots.edge, spots.at_m)
        self.node = self._lane(nobody, np.arange(len(cost), dtype=np.int32)).source

    def _lane(self, spots: AtPlaces, source: Int32Array) -> NearestAlong:
        here = self.here
        return cost_along(
            here.samples, here.roads, here.time, node_cost=self.cost, node_source=source,
            places=spots,
        )  # fmt: skip

    def way(self, i: int) -> WayThere | None:
        """The way from sample i; None if no place can be reached."""
        if np.isnan(self.time_s[i]):
            return None
        samples, origin = self.here.samples, int(self.origin[i])
        row, node = int(self.source[origin]), int(self.node[origin])
        along_m = abs(float(samples.at_m[origin] - samples.at_m[i]))
        place_at = float(self.places.edge_at_m[row])
        if node == NOBODY:  # the place lies on the very edge
            length = along_m + abs(place_at - float(samples.edge_at_m[origin]))
            return WayThere(row, float(self.time_s[i]), length, 0.0, ())
        roads, fields = self.here.roads, self.fields
        edges, last = downhill(
            plain(roads.out_start, np.int32), plain(roads.out_arc, np.int32),
            plain(roads.edge_u, np.int32), plain(roads.edge_v, np.int32),
            plain(roads.edge_way, np.int32), plain(roads.ways.oneway, np.int8),
            plain(fields.edge_emergency, np.bool_),
            plain(fields.edge_emergency_s, np.float32), self.cost, node,
        )  # fmt: skip
        first_m = _to_node(roads, int(samples.edge[origin]), float(samples.edge_at_m[origin]), node)
        last_m = _to_node(roads, int(self.places.edge[row]), place_at, int(last))
        length = along_m + first_m + float(roads.edge_length_m[edges].sum()) + last_m
        closed = edges[fields.edge_restricted[edges]]
        afloat = edges[is_ferry(roads, edges)]
        ferry_m = float(roads.edge_length_m[afloat].sum())
        return WayThere(row, float(self.time_s[i]), length, ferry_m, restricted_ways(roads, closed))


def is_ferry(roads: RoadsView, edges: Int32Array | slice) -> BoolArray:
    """Whether edges are ferries."""
    flags = roads.ways.flags[roads.edge_way[edges]]
    return np.asarray((flags & int(WayFlag.FERRY)) != 0)


def _to_node(roads: RoadsView, edge: int, at_m: float, node: int) -> float:
    """From a point of an edge to one of its ends [m]."""
    ahead = float(roads.edge_length_m[edge]) - at_m
    if int(roads.edge_u[edge]) == int(roads.edge_v[edge]):
        return min(at_m, ahead)
    return ahead if int(roads.edge_v[edge]) == node else at_m


def restricted_ways(roads: RoadsView, edges: Int32Array) -> tuple[RestrictedWay, ...]:
    """What the edges are tagged, way by way in riding order, with the length on each."""
    found: defaultdict[int, float] = defaultdict(float)
    for edge in edges.tolist():
        found[int(roads.edge_way[edge])] += float(roads.edge_length_m[edge])
    ways = roads.ways
    return tuple(
        RestrictedWay(
            way_id=int(ways.way_id[way]),
            access=ways.access.text(way) or "",
            name=ways.ref.text(way) or ways.name.text(way),
            length_m=length_m,
        )
        for way, length_m in found.items()
    )
