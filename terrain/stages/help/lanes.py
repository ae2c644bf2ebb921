"""Costs to help along a ride: from the region's fields, and to the operator's own partners."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from terrain.calc.along import (
    Approach,
    AtPlaces,
    Lane,
    Samples,
    along_the_ride,
    approach,
    cost_along,
)
from terrain.calc.search import RoadNet
from terrain.calc.snap import Snapped
from terrain.stages.help.fields import help_sources
from terrain.values.arrays import BoolArray, Float32Array, FloatArray, Int32Array
from terrain.values.help import HELP_KINDS, HelpFields, HelpKind
from terrain.values.views import PlacesView, RoadsView

NOBODY = -1
_FIRST_HELPER = -2  # source codes below -1 are the operator's helpers
_ALIKE = 10.0  # metres or seconds that make no difference between two helpers


class Lanes(NamedTuple):
    """Help of one sort along the ride: shortest, quickest, and the time for them to come.

    Sources are rows of places; helper h of the operator is coded -2 - h; -1 is nobody.
    """

    dist: Lane
    time: Lane
    back: Lane


def helper_code(index: int) -> int:
    """The source code of one of the operator's helpers, and back: it is its own inverse."""
    return _FIRST_HELPER - index


class Here(NamedTuple):
    """The ride's samples on the region's roads, and what leads from them to the ends of edges.

    dist, time : for you to go; back : for a van to come; van_here : a van can stand there
    """

    samples: Samples
    roads: RoadsView
    dist: Approach
    time: Approach
    back: Approach
    van_here: BoolArray


def here_of(samples: Samples, roads: RoadsView, fields: HelpFields) -> Here:
    """The samples ready for lanes of all sorts."""
    van_s = np.where(fields.edge_van, fields.edge_van_s, np.nan)
    return Here(
        samples,
        roads,
        approach(samples, roads.edge_length_m, outbound=True),
        approach(samples, fields.edge_time_s, outbound=True),
        approach(samples, van_s, outbound=False),
        (samples.edge >= 0) & ~np.isnan(van_s[np.maximum(samples.edge, 0)]),
    )


def mapped_lanes(
    here: Here, fields: HelpFields, places: PlacesView, kind: HelpKind, sources: Int32Array
) -> Lanes:
    """Help of one kind by the region's fields. sources : rows of the places of that kind."""
    row = HELP_KINDS.index(kind)
    return _lanes(
        here,
        AtPlaces(sources, places.edge[sources], places.edge_at_m[sources]),
        (fields.to_help_m.cost[row], fields.to_help_m.place[row]),
        (fields.to_help_s.cost[row], fields.to_help_s.place[row]),
        (fields.van_s.cost[row], fields.van_s.place[row]),
    )


class HelperNets:
    """The graphs a search for the operator's helpers needs, and what was found for which."""

    def __init__(self, here: Here, snapped: Snapped, fields: HelpFields) -> None:
        roads = here.roads
        self.here = here
        self.snapped = snapped
        time_s = fields.edge_time_s.astype(np.float64)
        self.away = RoadNet(roads, fields.edge_open, time_s, reverse=True)
        van_s = fields.edge_van_s.astype(np.float64)
        self.van = RoadNet(roads, fields.edge_van, van_s, reverse=False)
        self._found: dict[tuple[int, ...], Lanes] = {}

    def lanes(self, chosen: tuple[int, ...]) -> Lanes:
        """Help by the helpers with the chosen indices.

        The same helpers mostly mend all bikes: what was found for them once is kept.
        """
        if chosen not in self._found:
            on = self.snapped.edge
            index = np.array([i for i in chosen if on[i] >= 0], dtype=np.int64)
            code = (_FIRST_HELPER - index).astype(np.int32)
            self._found[chosen] = self._search(AtPlaces(code, on[index], self.snapped.at_m[index]))
        return self._found[chosen]

    def _search(self, spots: AtPlaces) -> Lanes:
        def field(net: RoadNet, cost: FloatArray) -> Field:
            found = net.nearest(spots.edge, spots.at_m, cost)
            code = np.append(spots.row, np.int32(NOBODY))
            return found.cost, code[found.source]

        return _lanes(
            self.here,
            spots,
            field(self.away, self.here.roads.edge_length_m),
            field(self.away, self.away.edge_s),
            field(self.van, self.van.edge_s),
        )

    def town_lanes(self, places: PlacesView, town_population: float) -> Lanes:
        """Towns of another size than the fields were made for."""
        rows = help_sources(places, town_population)[HELP_KINDS.index(HelpKind.TOWN)]
        return self._search(AtPlaces(rows, places.edge[rows], places.edge_at_m[rows]))


Field = tuple[Float32Array | FloatArray, Int32Array]


def _lanes(here: Here, spots: AtPlaces, dist: Field, time: Field, back: Field) -> Lanes:
    samples = here.samples
    out = []
    for (cost, source), by in ((dist, here.dist), (time, here.time), (back, here.back)):
        lane = cost_along(samples, here.roads, by, node_cost=cost, node_source=source, places=spots)
        if by.outbound:
            lane = along_the_ride(samples, lane, by_time=by is here.time)
        out.append(_where(lane, samples.on_land))
    # A van does not come along a road it cannot use, however near its end.
    return Lanes(out[0], out[1], _where(out[2], here.van_here))


def _where(lane: Lane, mask: BoolArray) -> Lane:
    return Lane(
        np.where(mask, lane.cost, np.nan), np.where(mask, lane.source, NOBODY).astype(np.int32)
    )


def nearer(first: Lanes, second: Lanes) -> Lanes:
    """The better of two sorts of help at each sample; of like ones the first."""
    return Lanes(*(_nearer(a, b) for a, b in zip(first, second, strict=True)))


def _nearer(a: Lane, b: Lane) -> Lane:
    take_b = np.isnan(a.cost) | (b.cost < a.cost - _ALIKE)
    return Lane(np.where(take_b, b.cost, a.cost), np.where(take_b, b.source, a.source))


def no_lanes(samples: Samples) -> Lanes:
    """No help of this sort is known."""
    nothing = Lane(
        np.full(len(samples.at_m), np.nan), np.full(len(samples.at_m), NOBODY, dtype=np.int32)
    )
    return Lanes(nothing, nothing, nothing)
