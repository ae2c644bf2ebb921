"""Other ways a ride may have gone between points too far apart to show it.

For each bridged gap the cheapest way through every node near it is looked at (cheapest to the
node plus cheapest from it); those that differ enough from the ones already taken, and do not ride
back the way they came, are other plausible ways. Source of the idea: via-node alternatives,
Abraham, Delling, Goldberg and Werneck 2013, Alternative routes in road networks, J. Exp.
Algorithmics 18 (from memory).
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from terrain.calc.corridor import LocalRoads, roads_near
from terrain.calc.geodesy import steps_m
from terrain.calc.kernels import Index, plain
from terrain.calc.search import edge_seeds, search
from terrain.stages.matching.params import StepMode, class_rates
from terrain.stages.matching.via_nodes import Edges, Ends, Tree, edges_before, ways_by_nodes
from terrain.values.arrays import BoolArray, FloatArray, Int32Array
from terrain.values.ground import Alternative
from terrain.values.match import Match
from terrain.values.views import NEVER_PROPOSED, RoadsView


@dataclass(frozen=True, slots=True, kw_only=True)
class OtherWayParams:
    """Limits of the search for other ways.

    least_m : gaps shorter than this leave no doubt; straight : nor do those whose ride is at most
        this much longer than the gap
    dearer : ways up to this many times the cheapest are kept
    alike : share of its length above which a way counts as one already taken
    most : ways kept for a gap, the ridden one included
    spread : extra cost, as a share, that makes a way e times less likely; chosen by measurement on
        lines of known ways (tests/stages/matching/test_alternatives.py)
    """

    least_m: float = 800.0
    straight: float = 1.05
    dearer: float = 1.6
    alike: float = 0.7
    most: int = 5
    spread: float = 0.11


DEFAULT_OTHER_WAYS = OtherWayParams()


def other_ways(
    match: Match, roads: RoadsView, params: OtherWayParams = DEFAULT_OTHER_WAYS
) -> tuple[Alternative, ...]:
    """The plausible ways through each bridged gap, the ridden one first; empty if no doubt.

    Gaps with a single plausible way are left out.
    """
    gaps = list(_gaps(match, params))
    if not gaps:
        return ()
    codes = roads.ways.highway.codes[roads.edge_way]
    flags = roads.ways.flags[roads.edge_way]
    rate = np.asarray(class_rates(roads.ways.highway.values)[StepMode.GUESSED])
    cost = rate[codes] * roads.edge_length_m
    usable = (flags & int(NEVER_PROPOSED)) == 0
    ridden = np.unique(match.edge[match.edge >= 0])
    usable[ridden] = True  # what the ride uses is open to it
    out: list[Alternative] = []
    for first, last, from_m, to_m in gaps:
        found = _ways_through(match, roads, cost, usable, slice(first, last + 1), params)
        if len(found) < 2:
            continue
        least = min(one.cost for one in found)
        for i, one in enumerate(found):
            out.append(
                Alternative(
                    from_m=from_m, to_m=to_m,
                    weight=float(np.exp(-(one.cost / least - 1.0) / params.spread)),
                    way=one.way, length_m=one.length_m, ridden=i == 0,
                )
            )  # fmt: skip
    return tuple(out)


def _gaps(match: Match, params: OtherWayParams) -> Iterator[tuple[int, int, float, float]]:
    """(first leg, last leg, from_m, to_m) of each bridged gap worth a second look."""
    for a, b in match.gaps:
        if b - a < max(params.least_m, params.straight * _straight_m(match, a, b)):
            continue
        first = int(np.searchsorted(match.to_m, a, side="right"))
        last = int(np.searchsorted(match.from_m, b, side="left")) - 1
        yield first, last, a, b


def _straight_m(match: Match, a: float, b: float) -> float:
    lon, lat = match.lonlat(np.array([a, b]))
    return float(steps_m(lon, lat)[0])


class _Way(NamedTuple):
    """One way through a gap: its cost, the rows of its ways and the metres on each."""

    cost: float
    way: Int32Array
    length_m: FloatArray


def _ways_through(
    match: Match, roads: RoadsView, cost: FloatArray, usable: BoolArray, legs: slice,
    params: OtherWayParams,
) -> list[_Way]:  # fmt: skip
    """The ridden way and the others through the same gap."""
    own_cost, own_m = _ridden(match, roads, cost, legs)
    inside = (match.at_m >= match.from_m[legs.start]) & (match.at_m <= match.to_m[legs.stop - 1])
    near = roads_near(
        roads, match.lon[inside], match.lat[inside], margin_m=0.35 * float(own_m.sum()) + 500.0,
        usable=usable, time_s=cost,
    )  # fmt: skip
    ends = Ends(
        near.local_edge(match.edge[[legs.start, legs.stop - 1]]),
        np.array([match.edge_from_m[legs.start], match.edge_to_m[legs.stop - 1]]),
    )
    way, column = np.unique(
        np.concatenate([match.way[legs], roads.edge_way[near.edge]]), return_inverse=True
    )
    metres = np.zeros((params.most, len(way)))
    np.add.at(metres[0], column[: len(own_m)], own_m)
    costs, via = np.array([own_cost]), np.zeros(params.most, np.int32)
    taken: Index = 1
    if ends.edge.min() >= 0:
        limit = params.dearer * own_cost
        cost_there, there = _spread(near, ends, 0, limit)
        cost_back, back = _spread(near, ends, 1, limit)
        total = cost_there + cost_back
        order = np.flatnonzero(total <= limit)
        order = order[np.argsort(total[order], kind="stable")]
        edges = Edges(near.u, near.length_m, plain(column[len(own_m) :], np.int32))
        taken = ways_by_nodes(
            plain(order, np.int32), there, back, edges, ends, params.alike, via, metres
        )
        costs = np.concatenate([costs, total[via[1:taken]]])
    return [
        _Way(cost=float(c), way=way[row > 0.0], length_m=row[row > 0.0])
        for c, row in zip(costs, metres[:taken], strict=True)
    ]


def _spread(near: LocalRoads, ends: Ends, end: int, limit: float) -> tuple[FloatArray, Tree]:
    """Costs and ways from the first end to every node near it, or from there to the second."""
    reverse = end == 1
    graph = near.graph(reverse=reverse)
    seeds = edge_seeds(
        ends.edge[[end]], ends.at_m[[end]], edge_u=near.u, edge_v=near.v,
        edge_length_m=near.length_m, edge_cost=near.time_s, oneway=near.oneway, reverse=reverse,
    )  # fmt: skip
    found = search(graph, near.time_s, seeds, limit=limit)
    edge = edges_before(graph.start, graph.head, graph.edge, near.time_s, found.before)
    return found.cost, Tree(found.before, edge)


def _ridden(
    match: Match, roads: RoadsView, cost: FloatArray, legs: slice
) -> tuple[float, FloatArray]:
    """Cost of the ridden way and the metres of its legs."""
    edge = match.edge[legs]
    length = match.to_m[legs] - match.from_m[legs]
    whole = np.maximum(roads.edge_length_m[edge], 1e-6)
    return float((cost[edge] * np.minimum(length / whole, 1.0)).sum()), length
