"""Costs to help along a ride: from the region's fields, and to the operator's own partners."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from terrain.calc.along import AtPlaces, Lane, Samples, along_the_ride, cost_along
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


def mapped_lanes(
    samples: Samples,
    roads: RoadsView,
    fields: HelpFields,
    places: PlacesView,
    kind: HelpKind,
    sources: Int32Array,
) -> Lanes:
    """Help of one kind by the region's fields. sources : rows of the places of that kind."""
    row = HELP_KINDS.index(kind)
    spots = AtPlaces(sources, places.edge[sources], places.edge_at_m[sources])
    van_s = np.where(fields.edge_van, fields.edge_van_s, np.nan)
    return _lanes(
        samples,
        roads,
        fields.edge_time_s,
        van_s,
        spots,
        (fields.to_help.dist_m[row], fields.to_help.dist_place[row]),
        (fields.to_help.time_s[row], fields.to_help.time_place[row]),
        (fields.from_help_van.time_s[row], fields.from_help_van.time_place[row]),
    )


class HelperNets:
    """The three graphs a search for the operator's helpers needs, made when first asked for."""

    def __init__(self, roads: RoadsView, fields: HelpFields) -> None:
        self.roads = roads
        self.fields = fields
        time_s = fields.edge_time_s.astype(np.float64)
        self.away = RoadNet(roads, fields.edge_open, time_s, reverse=True)
        van_s = fields.edge_van_s.astype(np.float64)
        self.van = RoadNet(roads, fields.edge_van, van_s, reverse=False)

    def lanes(self, samples: Samples, snapped: Snapped, chosen: tuple[int, ...]) -> Lanes:
        """Help by the helpers with the chosen indices, laid on roads by `snapped`."""
        index = np.array([i for i in chosen if snapped.edge[i] >= 0], dtype=np.int64)
        edge, at_m = snapped.edge[index], snapped.at_m[index]
        code = (_FIRST_HELPER - index).astype(np.int32)
        return self._search(samples, AtPlaces(code, edge, at_m))

    def _search(self, samples: Samples, spots: AtPlaces) -> Lanes:
        def field(net: RoadNet, cost: FloatArray) -> tuple[FloatArray, Int32Array]:
            found = net.nearest(spots.edge, spots.at_m, cost)
            code = np.append(spots.row, np.int32(NOBODY))
            return found.cost, code[found.source]

        fields = self.fields
        return _lanes(
            samples,
            self.roads,
            fields.edge_time_s,
            np.where(fields.edge_van, fields.edge_van_s, np.nan),
            spots,
            field(self.away, self.roads.edge_length_m),
            field(self.away, self.away.edge_s),
            field(self.van, self.van.edge_s),
        )

    def town_lanes(self, samples: Samples, places: PlacesView, town_population: float) -> Lanes:
        """Towns of another size than the fields were made for."""
        rows = help_sources(places, town_population)[HELP_KINDS.index(HelpKind.TOWN)]
        return self._search(samples, AtPlaces(rows, places.edge[rows], places.edge_at_m[rows]))


Field = tuple[Float32Array | FloatArray, Int32Array]


def _lanes(
    samples: Samples,
    roads: RoadsView,
    time_s: Float32Array,
    van_s: Float32Array | FloatArray,
    spots: AtPlaces,
    dist: Field,
    time: Field,
    back: Field,
) -> Lanes:
    out = []
    for (cost, source), weight, outbound in (
        (dist, roads.edge_length_m, True),
        (time, time_s, True),
        (back, van_s, False),
    ):
        lane = cost_along(
            samples,
            roads,
            node_cost=cost,
            node_source=source,
            edge_cost=weight,
            outbound=outbound,
            places=spots,
        )
        if outbound:
            lane = along_the_ride(samples, lane, by_time=weight is time_s)
        out.append(_on_land(samples, lane))
    # A van does not come along a road it cannot use, however near its end.
    van_here = (samples.edge >= 0) & ~np.isnan(van_s[np.maximum(samples.edge, 0)])
    back_lane = _where(out[2], van_here)
    return Lanes(out[0], out[1], back_lane)


def _on_land(samples: Samples, lane: Lane) -> Lane:
    return _where(lane, samples.on_land)


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
