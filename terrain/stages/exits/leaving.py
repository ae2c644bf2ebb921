"""One way out, drawn: from a point of the ride to the paved network."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from terrain.calc.along import Samples, approach, by_the_ride, cost_along
from terrain.calc.paths import Piece, length_of, line_of, pieces_of_nodes, way_out_nodes
from terrain.stages.exits.runs import OffRoadRun
from terrain.values.arrays import BoolArray, FloatArray, Int32Array, IntArray
from terrain.values.exits import ExitMode, ExitPoint, WayOut
from terrain.values.help import HelpFields, WayOutField
from terrain.values.ride import Ride
from terrain.values.views import RoadsView


class ExitSearch:
    """Draws ways out from samples of a ride."""

    def __init__(
        self, ride: Ride, roads: RoadsView, fields: HelpFields, samples: Samples, ways: Ways
    ) -> None:
        self.ride = ride
        self.roads = roads
        self.fields = fields
        self.samples = samples
        self.ways = ways

    def leave(self, run: OffRoadRun, i: int) -> WayOut:
        """The quickest way out from sample i of a run; its cost must be known."""
        samples, origin = self.samples, int(self.ways.origin[i])
        stood, left = float(samples.at_m[i]), float(samples.at_m[origin])
        ridden_lon, ridden_lat = ride_line(self.ride, stood, left)
        if self.ways.there[origin]:
            lon, lat = self.ride.lonlat(left)
            to = ExitPoint(lon=lon, lat=lat, at_m=left, name=self.ride.road_name(left))
            out = ExitMode.ON if left > stood else ExitMode.BACK
            return self._leaving(i, out, None, abs(left - stood), to, (ridden_lon, ridden_lat))
        node = int(self.ways.node[origin])
        nodes = way_out_nodes(self.fields.to_paved.next_node, node)
        first = first_piece(self.roads, samples, origin, node)
        rest = emergency_pieces(self.roads, self.fields, nodes)
        out, leave_at_m = self._how(run, i, origin, nodes)
        line = line_of(self.roads, (*first, *rest))
        return self._leaving(
            i,
            out,
            leave_at_m,
            length_of((*first, *rest)) + abs(left - stood),
            node_spot(self.roads, nodes[-1], self.fields),
            (np.concatenate((ridden_lon, line[0])), np.concatenate((ridden_lat, line[1]))),
            restricted_m_of(self.fields, rest),
        )

    def _leaving(
        self,
        i: int,
        out: ExitMode,
        leave_at_m: float | None,
        length_m: float,
        to: ExitPoint,
        line: tuple[FloatArray, FloatArray],
        restricted_m: float = 0.0,
    ) -> WayOut:
        return WayOut(
            at_m=float(self.samples.at_m[i]),
            out=out,
            time_s=float(self.ways.cost[i]),
            length_m=length_m,
            to=to,
            leave_at_m=leave_at_m,
            restricted_m=restricted_m,
            lon=line[0],
            lat=line[1],
        )

    def _how(
        self, run: OffRoadRun, i: int, origin: int, nodes: list[int]
    ) -> tuple[ExitMode, float | None]:
        """Back, on or aside, and where one leaves the ride."""
        stood = float(self.samples.at_m[i])
        on_run = nodes_on_run(self.roads, self.samples, run)
        left = float(self.samples.at_m[origin])
        for node in nodes:
            if node in on_run:
                left = min(on_run[node], key=lambda at: abs(at - left))
        if left <= run.from_m:
            return ExitMode.BACK, None
        if left >= run.to_m:
            return ExitMode.ON, None
        if nodes[-1] in on_run and left != stood:  # the ride itself meets a paved road here
            return (ExitMode.BACK if left < stood else ExitMode.ON), None
        return ExitMode.SIDE, left


def nodes_on_run(roads: RoadsView, samples: Samples, run: OffRoadRun) -> dict[int, list[float]]:
    """Nodes the ride passes in a run, with their positions along the ride."""
    out: dict[int, list[float]] = {}
    for i in range(run.first, run.last + 1):
        edge = int(samples.edge[i])
        if edge < 0:
            continue
        at = float(samples.edge_at_m[i])
        if at <= 1e-3:
            out.setdefault(int(roads.edge_u[edge]), []).append(float(samples.at_m[i]))
        elif at >= float(roads.edge_length_m[edge]) - 1e-3:
            out.setdefault(int(roads.edge_v[edge]), []).append(float(samples.at_m[i]))
    return out


def emergency_pieces(
    roads: RoadsView, fields: HelpFields, nodes: Sequence[int]
) -> tuple[Piece, ...]:
    """The cheapest edges that join consecutive nodes, restricted roads at their price."""
    return pieces_of_nodes(roads, nodes, fields.edge_emergency, fields.edge_emergency_s)


def restricted_m_of(fields: HelpFields, pieces: Sequence[Piece]) -> float:
    """Length of the pieces that a tag of access closes [m]."""
    return length_of(piece for piece in pieces if fields.edge_restricted[piece.edge])


def first_piece(roads: RoadsView, samples: Samples, i: int, node: int) -> tuple[Piece, ...]:
    """From sample i along its edge to the end that is `node`."""
    edge, at = int(samples.edge[i]), float(samples.edge_at_m[i])
    ahead = int(roads.edge_v[edge]) == node
    if ahead and int(roads.edge_u[edge]) == node:  # a loop: the nearer way round
        ahead = at > float(roads.edge_length_m[edge]) / 2
    return (Piece(edge, at, float(roads.edge_length_m[edge]) if ahead else 0.0),)


def ride_line(ride: Ride, start_m: float, end_m: float) -> tuple[FloatArray, FloatArray]:
    """The ride's line between two positions, in the order given; empty if they are the same."""
    if start_m == end_m:
        return np.zeros(0), np.zeros(0)
    line = ride.match
    low, high = sorted((start_m, end_m))
    first, last = np.searchsorted(line.at_m, low, "right"), np.searchsorted(line.at_m, high, "left")
    inside = line.at_m[first:last]
    want = np.concatenate(([low], inside, [high]))
    if start_m > end_m:
        want = want[::-1]
    return line.lonlat(want)


def node_spot(roads: RoadsView, node: int, fields: HelpFields) -> ExitPoint:
    """A node as a spot, named after a paved road that meets there."""
    name = None
    for arc in roads.out_arc[roads.out_start[node] : roads.out_start[node + 1]].tolist():
        edge = arc >> 1
        if fields.edge_paved[edge]:
            way = int(roads.edge_way[edge])
            name = roads.ways.ref.text(way) or roads.ways.name.text(way) or name
    return ExitPoint(lon=float(roads.node_lon[node]), lat=float(roads.node_lat[node]), name=name)


class Ways(NamedTuple):
    """Way to a network from each sample, shape (s,).

    cost : [s], NaN where none is known; origin : the sample one rides to along the ride first;
    there : that sample stands on the network; node : the node one rides to from a sample if
    one leaves the ride there
    """

    cost: FloatArray
    origin: IntArray
    there: BoolArray
    node: Int32Array


def ways_to(
    samples: Samples, roads: RoadsView, fields: HelpFields, field: WayOutField, there: BoolArray
) -> Ways:
    """Ways to the network of a field. there : samples that stand on it already"""
    lane = cost_along(
        samples,
        roads,
        approach(samples, fields.edge_time_s, outbound=True),
        node_cost=field.time_s,
        node_source=np.arange(roads.n_nodes, dtype=np.int32),
    )
    cost = np.where(there, 0.0, np.where(samples.on_land, lane.cost, np.nan))
    on_ride = by_the_ride(samples, cost, by_time=True)
    return Ways(on_ride.cost, on_ride.origin, there, lane.source)


def on_edges(samples: Samples, edges: BoolArray) -> BoolArray:
    """Samples that lie on the given edges."""
    on: BoolArray = (samples.edge >= 0) & edges[np.maximum(samples.edge, 0)]
    return on
