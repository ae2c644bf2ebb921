"""The ride laid out for detours: nodes it passes, and what it costs between them."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from terrain.calc.corridor import LocalRoads, edges_near, roads_of
from terrain.values.arrays import BoolArray, FloatArray, Int32Array
from terrain.values.help import HelpFields
from terrain.values.ride import PAVED, Ride
from terrain.values.views import RoadsView

# Common practice, no source.
_LINE_M = 250.0
LEAST_MARGIN_M, MOST_MARGIN_M = 5_000.0, 30_000.0


class RiddenEdges(NamedTuple):
    """Nodes the ride passes in order: node and position, shape (n,)."""

    node: Int32Array
    at_m: FloatArray


class DetourInputs(NamedTuple):
    """What every search for a detour needs.

    way_p : probabilities of paved, gravel, track per way; field_s : time from the start of the
    ride at the pace of the region's fields, at leg borders `border_m`; paved_m : metres believed
    paved up to each of paved_at_m, all of what is not known
    """

    ride: Ride
    roads: RoadsView
    fields: HelpFields
    way_p: FloatArray
    passed: RiddenEdges
    border_m: FloatArray
    field_s: FloatArray
    paved_at_m: FloatArray
    paved_m: FloatArray

    def spent_s(self, from_m: float, to_m: float) -> float:
        """Time of a part of the ride at the pace of the fields [s]."""
        ends = np.interp([from_m, to_m], self.border_m, self.field_s)
        return float(ends[1] - ends[0])

    def dirt_cost(self, from_m: float, to_m: float, tarmac: float) -> float:
        """Length of a part of the ride with tarmac counted `tarmac` times [m]; at least so much
        where the ground is not known."""
        ends = np.interp([from_m, to_m], self.paved_at_m, self.paved_m)
        return to_m - from_m + (tarmac - 1.0) * float(ends[1] - ends[0]) + 1.0

    def edge_p(self, edge: Int32Array) -> FloatArray:
        """Ground probabilities of edges, shape (n, 3)."""
        return self.way_p[self.roads.edge_way[edge]]

    def edge_paved(self, edge: Int32Array) -> FloatArray:
        """How likely edges are paved, shape (n,)."""
        return self.way_p[:, PAVED][self.roads.edge_way[edge]]

    def near(self, from_m: float, to_m: float, margin_m: float | None = None) -> BoolArray:
        """Which edges of the region lie round a part of the ride, by default wider for longer
        parts, shape (e,)."""
        match = self.ride.match
        at = np.append(np.arange(from_m, to_m, _LINE_M), to_m)
        margin = margin_m or min(max((to_m - from_m) / 2, LEAST_MARGIN_M), MOST_MARGIN_M)
        lon, lat = match.lonlat(at)
        return edges_near(self.roads, lon, lat, margin)

    def local(self, near: BoolArray) -> LocalRoads:
        """The edges of the region marked in `near` as roads to search."""
        fields = self.fields
        return roads_of(self.roads, near, usable=fields.edge_open, time_s=fields.edge_time_s)

    def there_and_back(self, from_m: float, to_m: float) -> float:
        """Share of what is ridden between two positions that is ridden in both directions there."""
        match = self.ride.match
        inside = np.minimum(match.to_m, to_m) - np.maximum(match.from_m, from_m)
        legs = np.flatnonzero((inside > 0.0) & (match.edge >= 0))
        edge, ahead = match.edge[legs], match.forward[legs]
        both = np.isin(edge, edge[ahead]) & np.isin(edge, edge[~ahead])
        return float(inside[legs[both]].sum()) / max(to_m - from_m, 1e-6)

    def ridden(self, edges: Int32Array, from_m: float, to_m: float) -> BoolArray:
        """Which of some edges are ridden between two positions."""
        match = self.ride.match
        first = int(np.searchsorted(match.to_m, from_m + 0.5, side="right"))
        last = int(np.searchsorted(match.from_m, to_m - 0.5, side="left"))
        hit = np.zeros(self.roads.n_edges + 1, dtype=bool)
        hit[match.edge[first:last]] = True
        hit[-1] = False  # legs off the map
        out: BoolArray = hit[edges]
        return out


def detour_inputs(
    ride: Ride, roads: RoadsView, fields: HelpFields, way_p: FloatArray
) -> DetourInputs:
    """The ride ready for detours."""
    match = ride.match
    on = match.edge >= 0
    edge = np.maximum(match.edge, 0)
    whole = np.maximum(roads.edge_length_m[edge], 1e-6)
    part = np.abs(match.edge_to_m - match.edge_from_m) / whole
    own = ride.time_s(match.to_m) - ride.time_s(match.from_m)
    spent = np.where(on, part * fields.edge_time_s[edge], own)
    spent = np.where(np.isnan(spent), own, spent)
    paved_m = (ride.to_m - ride.from_m) * np.nan_to_num(ride.p[:, PAVED], nan=1.0)
    return DetourInputs(
        ride=ride,
        roads=roads,
        fields=fields,
        way_p=way_p,
        passed=_passed(ride, roads),
        border_m=np.concatenate((match.from_m[:1], match.to_m)),
        field_s=np.concatenate(([0.0], np.cumsum(spent))),
        paved_at_m=np.concatenate((ride.from_m[:1], ride.to_m)),
        paved_m=np.concatenate(([0.0], np.cumsum(paved_m))),
    )


def _passed(ride: Ride, roads: RoadsView) -> RiddenEdges:
    match = ride.match
    nodes, places = [], []
    for at, ride_m in ((match.edge_from_m, match.from_m), (match.edge_to_m, match.to_m)):
        on = np.flatnonzero(match.edge >= 0)
        edge = match.edge[on]
        for end, node in ((0.0, roads.edge_u), (roads.edge_length_m[edge], roads.edge_v)):
            hit = np.abs(at[on] - end) < 1e-3
            nodes.append(node[edge[hit]])
            places.append(ride_m[on[hit]])
    node, at_m = np.concatenate(nodes), np.concatenate(places)
    order = np.lexsort((node, at_m))
    return RiddenEdges(node[order], at_m[order])
