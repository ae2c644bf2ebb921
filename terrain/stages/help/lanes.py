"""Costs to help along a ride: from the region's fields, and to the operator's own partners."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from terrain.calc.along import (
    Approach,
    AtPlaces,
    NearestAlong,
    Samples,
    approach,
    by_the_ride,
    cost_along,
)
from terrain.calc.search import RoadNet, ShortestPaths
from terrain.calc.snap import Snapped
from terrain.stages.help.fields import help_sources
from terrain.tables.help import RESTRICTED_PRICE, priced
from terrain.values.arrays import BoolArray, Float32Array, FloatArray, Int32Array
from terrain.values.help import HELP_KINDS, HelpFields, HelpKind
from terrain.values.views import PlacesView, RoadsView

NOBODY = -1
_FIRST_HELPER = -2  # source codes below -1 are the operator's helpers
_ALIKE = 10.0  # metres or seconds that make no difference between two helpers


class NearestByKind(NamedTuple):
    """Help of one sort along the ride: shortest, quickest, and the time for them to come.

    dist holds true metres; times count restricted roads at their price.
    Sources are rows of places; helper h of the operator is coded -2 - h; -1 is nobody.
    """

    dist: NearestAlong
    time: NearestAlong
    back: NearestAlong


def helper_code(index: int) -> int:
    """The source code of one of the operator's helpers, and back: it is its own inverse."""
    return _FIRST_HELPER - index


class RideOnRoads(NamedTuple):
    """The ride's samples on the region's roads, and what leads from them to the ends of edges.

    dist, time : for you to go; back : for a van to come; van_here : a van can stand there
    """

    samples: Samples
    roads: RoadsView
    dist: Approach
    time: Approach
    back: Approach
    van_here: BoolArray


def here_of(samples: Samples, roads: RoadsView, fields: HelpFields) -> RideOnRoads:
    """The samples ready for lanes of all sorts."""
    van_s = np.where(fields.edge_van | fields.edge_van_restricted, fields.edge_van_s, np.nan)
    return RideOnRoads(
        samples,
        roads,
        approach(samples, roads.edge_length_m, outbound=True),
        approach(samples, fields.edge_time_s, outbound=True),
        approach(samples, van_s, outbound=False),
        (samples.edge >= 0) & ~np.isnan(van_s[np.maximum(samples.edge, 0)]),
    )


def mapped_lanes(
    here: RideOnRoads, fields: HelpFields, places: PlacesView, kind: HelpKind, sources: Int32Array
) -> NearestByKind:
    """Help of one kind by the region's fields. sources : rows of the places of that kind."""
    row = HELP_KINDS.index(kind)
    return _lanes(
        here,
        AtPlaces(sources, places.edge[sources], places.edge_at_m[sources]),
        (fields.to_help_m.cost[row], fields.to_help_m.place[row]),
        fields.restricted_m[row],
        (fields.to_help_s.cost[row], fields.to_help_s.place[row]),
        (fields.van_s.cost[row], fields.van_s.place[row]),
    )


class HelperNets:
    """The graphs a search for the operator's helpers needs, and what was found for which."""

    def __init__(self, here: RideOnRoads, snapped: Snapped, fields: HelpFields) -> None:
        roads = here.roads
        self.here = here
        self.snapped = snapped
        self.restricted = fields.edge_restricted
        time_s = fields.edge_emergency_s.astype(np.float64)
        self.away = RoadNet(roads, fields.edge_emergency, time_s, reverse=True)
        self.length = priced(roads.edge_length_m, fields.edge_restricted)
        van_s = priced(fields.edge_van_s, fields.edge_van_restricted)
        by_van = fields.edge_van | fields.edge_van_restricted
        self.van = RoadNet(roads, by_van, van_s, reverse=False)
        self._found: dict[tuple[int, ...], NearestByKind] = {}

    def lanes(self, chosen: tuple[int, ...]) -> NearestByKind:
        """Help by the helpers with the chosen indices.

        The same helpers mostly mend all bikes: what was found for them once is kept.
        """
        if chosen not in self._found:
            on = self.snapped.edge
            index = np.array([i for i in chosen if on[i] >= 0], dtype=np.int64)
            code = (_FIRST_HELPER - index).astype(np.int32)
            self._found[chosen] = self._search(AtPlaces(code, on[index], self.snapped.at_m[index]))
        return self._found[chosen]

    def _search(self, spots: AtPlaces) -> NearestByKind:
        def field(found: ShortestPaths) -> Field:
            code = np.append(spots.row, np.int32(NOBODY))
            return found.cost, code[found.source]

        shortest = self.away.nearest(spots.edge, spots.at_m, self.length)
        return _lanes(
            self.here,
            spots,
            field(shortest),
            self._restricted_m(shortest, spots),
            field(self.away.nearest(spots.edge, spots.at_m, self.away.edge_s)),
            field(self.van.nearest(spots.edge, spots.at_m, self.van.edge_s)),
        )

    def _restricted_m(self, shortest: ShortestPaths, spots: AtPlaces) -> FloatArray:
        if not self.restricted.any() or not len(spots.row):
            return np.zeros(self.away.graph.n_nodes)
        load = np.where(self.restricted, self.here.roads.edge_length_m, 0.0)
        return self.away.carried(shortest, spots.edge, spots.at_m, self.length, load=load)

    def town_lanes(self, places: PlacesView, town_population: float) -> NearestByKind:
        """Towns of another size than the fields were made for."""
        (rows,) = help_sources(places, town_population, kinds=[HelpKind.TOWN])
        return self._search(AtPlaces(rows, places.edge[rows], places.edge_at_m[rows]))


Field = tuple[Float32Array | FloatArray, Int32Array]


def _lanes(
    here: RideOnRoads,
    spots: AtPlaces,
    dist: Field,
    restricted_m: Float32Array | FloatArray,
    time: Field,
    back: Field,
) -> NearestByKind:
    land = here.samples.on_land
    by_time, by_van = (
        ride_lane(here, here.time, spots, time),
        _reached(here, here.back, spots, back),
    )
    shortest = _without_price(here, spots, dist, restricted_m)
    # A van does not come along a road it cannot use, however near its end.
    return NearestByKind(shortest, by_time, _where(by_van, land & here.van_here))


def _reached(here: RideOnRoads, by: Approach, spots: AtPlaces, field: Field) -> NearestAlong:
    """A field read off at the samples, without the ride itself as a way."""
    cost, source = field
    return cost_along(
        here.samples, here.roads, by, node_cost=cost, node_source=source, places=spots
    )


def ride_lane(here: RideOnRoads, by: Approach, spots: AtPlaces, field: Field) -> NearestAlong:
    """Cost of going to the nearest source of a field from each sample, on land."""
    lane = _reached(here, by, spots, field)
    ridden = by_the_ride(here.samples, lane.cost, by_time=by is here.time)
    return _where(NearestAlong(ridden.cost, lane.source[ridden.origin]), here.samples.on_land)


def _without_price(
    here: RideOnRoads, spots: AtPlaces, dist: Field, restricted_m: Float32Array | FloatArray
) -> NearestAlong:
    """The shortest way in true metres: chosen with the price of restricted roads, told without."""
    samples, cost = here.samples, dist[0]
    lane = _reached(here, here.dist, spots, dist)
    ridden = by_the_ride(samples, lane.cost, by_time=False)
    direct = AtPlaces(np.full_like(spots.row, NOBODY), spots.edge, spots.at_m)
    nodes = np.arange(len(cost), dtype=np.int32)
    left_by = _reached(here, here.dist, direct, (cost, nodes)).source[ridden.origin]
    part = np.where(left_by == NOBODY, 0.0, restricted_m[left_by])
    true_m = ridden.cost - (RESTRICTED_PRICE - 1.0) * part
    return _where(NearestAlong(true_m, lane.source[ridden.origin]), samples.on_land)


def _where(lane: NearestAlong, mask: BoolArray) -> NearestAlong:
    known = mask & ~np.isnan(lane.cost)
    return NearestAlong(
        np.where(known, lane.cost, np.nan), np.where(known, lane.source, NOBODY).astype(np.int32)
    )


def nearer(first: NearestByKind, second: NearestByKind) -> NearestByKind:
    """The better of two sorts of help at each sample; of like ones the first."""
    return NearestByKind(*(_nearer(a, b) for a, b in zip(first, second, strict=True)))


def _nearer(a: NearestAlong, b: NearestAlong) -> NearestAlong:
    take_b = np.isnan(a.cost) | (b.cost < a.cost - _ALIKE)
    return NearestAlong(np.where(take_b, b.cost, a.cost), np.where(take_b, b.source, a.source))


def no_lanes(samples: Samples) -> NearestByKind:
    """No help of this sort is known."""
    nothing = NearestAlong(
        np.full(len(samples.at_m), np.nan), np.full(len(samples.at_m), NOBODY, dtype=np.int32)
    )
    return NearestByKind(nothing, nothing, nothing)
