"""Junctions of an off-road run where one can leave the ride for a paved road."""

from __future__ import annotations

import numpy as np

from terrain.calc.along import Samples
from terrain.calc.paths import arcs_out, length_of, line_of, way_out_nodes
from terrain.stages.exits.leaving import (
    emergency_pieces,
    node_spot,
    nodes_on_run,
    restricted_m_of,
)
from terrain.stages.exits.runs import OffRoadRun
from terrain.values.arrays import Int32Array
from terrain.values.exits import ExitMode, WayOut
from terrain.values.help import HelpFields
from terrain.values.ride import Ride
from terrain.values.views import RoadsView

# A side way is no real choice if it takes so much longer than the longer way along the ride
# (common practice, no source).
_WORTH = 2.0


def side_exits(
    ride: Ride, roads: RoadsView, fields: HelpFields, samples: Samples, run: OffRoadRun
) -> tuple[WayOut, ...]:
    """The quickest side way out at each junction of the run, in riding order.

    A side way leaves the ride at the junction and reaches the paved network without touching
    the run again. Junctions whose way out takes more than twice the longer of riding on and
    turning back are left out.
    """
    on_run = nodes_on_run(roads, samples, run)
    clear = _Clear(fields.to_paved.next_node, set(on_run))
    ridden = set(samples.edge[run.first : run.last + 1].tolist())
    start_s, end_s = float(samples.ride_s[run.first]), float(samples.ride_s[run.last])
    out = []
    for node, places in on_run.items():
        at_m = min(places)
        if not run.from_m < at_m < run.to_m:
            continue
        best = _best_side(roads, fields, node, ridden, clear)
        if best is None:
            continue
        time_s, head = best
        here_s = float(ride.time_s(np.array([at_m]))[0])
        if time_s <= _WORTH * max(here_s - start_s, end_s - here_s):
            out.append(_draw(ride, roads, fields, at_m, node, head, time_s))
    return tuple(sorted(out, key=lambda way: way.at_m))


class _Clear:
    """Whether the way out from a node keeps off the run; remembers what it has walked."""

    def __init__(self, next_node: Int32Array, on_run: set[int]) -> None:
        self.next_node = next_node
        self.known = dict.fromkeys(on_run, False)

    def __call__(self, node: int) -> bool:
        path = []
        while node not in self.known:
            path.append(node)
            following = int(self.next_node[node])
            if following < 0:
                self.known[node] = True
                break
            node = following
        answer = self.known[node]
        self.known.update(dict.fromkeys(path, answer))
        return answer


def _best_side(
    roads: RoadsView, fields: HelpFields, node: int, ridden: set[int], clear: _Clear
) -> tuple[float, int] | None:
    """Time of the quickest side way out of a node, and the node it goes to first."""
    best: tuple[float, int] | None = None
    for edge, head in arcs_out(roads, node, fields.edge_emergency):
        rest = float(fields.to_paved.time_s[head])
        if edge in ridden or np.isnan(rest) or not clear(head):
            continue
        time_s = float(fields.edge_emergency_s[edge]) + rest
        if best is None or time_s < best[0]:
            best = time_s, head
    return best


def _draw(
    ride: Ride,
    roads: RoadsView,
    fields: HelpFields,
    at_m: float,
    node: int,
    head: int,
    time_s: float,
) -> WayOut:
    nodes = [node, *way_out_nodes(fields.to_paved.next_node, head)]
    pieces = emergency_pieces(roads, fields, nodes)
    lon, lat = line_of(roads, pieces)
    return WayOut(
        at_m=at_m,
        out=ExitMode.SIDE,
        time_s=time_s,
        length_m=length_of(pieces),
        to=node_spot(roads, nodes[-1], fields),
        leave_at_m=at_m,
        restricted_m=restricted_m_of(fields, pieces),
        lon=lon,
        lat=lat,
    )
