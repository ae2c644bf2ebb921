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
from terrain.calc.search import ArcGraph, edge_seeds, search
from terrain.stages.matching.params import StepMode, class_rates
from terrain.stages.matching.via_nodes import Edges, Ends, Tree, edges_before, ways_by_nodes
from terrain.values.arrays import BoolArray, FloatArray, Int32Array, IntArray
from terrain.values.ground import Alternative, WayGround
from terrain.values.match import Match
from terrain.values.views import NEVER_PROPOSED, RoadsView


@dataclass(frozen=True, slots=True, kw_only=True)
class OtherWayParams:
    """Limits of the search for other ways.

    least_m : gaps shorter than this leave no doubt; straight : nor do those whose ride is at most
        this much longer than the gap
    dearer : ways up to this many times the cheapest are kept
    alike : share of its length above which a way counts as one already taken
    most : ways kept for a gap by each taste, the ridden one included
    spread : extra cost, as a share, that makes a way e times less likely; chosen by measurement on
        lines of known ways (tests/stages/matching/test_alternatives.py)
    fond : what a metre off tarmac weighs for who looks for it, of what it weighs by time
    by_time, by_ride, by_ends : where nothing else tells, so many go by time; fewer the more of the
        ride, and of the gap's two ends, lies off tarmac; doubted : from that chance on ways
        off tarmac are looked for, also where the way is straight (like `fond` chosen by
        measurement, tests/bench/sparse.py)
    """

    least_m: float = 800.0
    straight: float = 1.05
    dearer: float = 1.6
    alike: float = 0.7
    most: int = 5
    spread: float = 0.11
    fond: float = 0.25
    doubted: float = 0.3
    by_time: float = 0.9
    by_ride: float = 4.0
    by_ends: float = 1.4


DEFAULT_OTHER_WAYS = OtherWayParams()


def other_ways(
    match: Match,
    roads: RoadsView,
    way_ground: WayGround,
    params: OtherWayParams = DEFAULT_OTHER_WAYS,
) -> tuple[Alternative, ...]:
    """The plausible ways through each bridged gap, the ridden one first; empty if no doubt.

    Two tastes are thought of: the way by time, and the way of who looks for tracks. What ground
    the points of the file lie on tells how likely each is. Gaps with a single plausible way are
    left out.
    """
    if not match.gaps:
        return ()
    off = 1.0 - np.asarray(way_ground.p[:, 0], dtype=np.float64)
    fond = _tastes(match, off, params)
    gaps = list(_gaps(match, fond, params))
    if not gaps:
        return ()
    flags = roads.ways.flags[roads.edge_way]
    by_time = np.asarray(class_rates(roads.ways.highway.values)[StepMode.GUESSED])
    rate = by_time[roads.ways.highway.codes]
    rates = np.stack([rate, rate * (1.0 - (1.0 - params.fond) * off)])
    cost = rate[roads.edge_way] * roads.edge_length_m
    usable = (flags & int(NEVER_PROPOSED)) == 0
    ridden = np.unique(match.edge[match.edge >= 0])
    usable[ridden] = True  # what the ride uses is open to it
    out: list[Alternative] = []
    for first, last, from_m, to_m in gaps:
        legs = slice(first, last + 1)
        around = _around(match, roads, cost, usable, legs)
        found: list[_Way] = []
        for rate in rates if fond[from_m] >= params.doubted else rates[:1]:
            found += [
                one
                for one in _ways_through(match, around, rate, legs, params)
                if all(_alike(one, other) < params.alike for other in found)
            ]
        if len(found) < 2:
            continue
        chance = _chances(found, rates, fond[from_m], params)
        for i, one in enumerate(found):
            out.append(
                Alternative(
                    from_m=from_m, to_m=to_m, weight=float(chance[i]),
                    way=one.way, length_m=one.length_m, ridden=i == 0,
                )
            )  # fmt: skip
    return tuple(out)


def _tastes(match: Match, off: FloatArray, params: OtherWayParams) -> dict[float, float]:
    """Chance that in each gap, by where it begins, the way off tarmac was looked for.

    off : chance of each way to be off tarmac
    The points of the file are a sample of the ride: the more of them, and of what is drawn without
    gaps, lie off tarmac, the likelier; and more so in a gap next to such a point.
    """
    starts, stops = np.array(match.gaps).T
    first = np.searchsorted(match.to_m, starts, side="right")
    last = np.searchsorted(match.from_m, stops, side="left") - 1
    ends = (off[match.way[first]] + off[match.way[last]]) / 2
    length = match.to_m - match.from_m
    shown = (match.way >= 0) & ~match.filled
    share = float(off[match.way[shown]] @ length[shown] + ends @ (stops - starts))
    share /= float(length[shown].sum() + (stops - starts).sum())
    by_time = params.by_time * np.exp(-params.by_ride * share - params.by_ends * ends)
    return dict(zip(starts.tolist(), (1.0 - by_time).tolist(), strict=True))


def _chances(
    found: list[_Way], rates: FloatArray, fond: float, params: OtherWayParams
) -> FloatArray:
    """How likely each way is: by time, and by taste for what is off tarmac, `fond` the latter."""
    cost = np.array([[rate[one.way] @ one.length_m for one in found] for rate in rates])
    weight = np.exp(-(cost / cost.min(axis=1, keepdims=True) - 1.0) / params.spread)
    weight /= weight.sum(axis=1, keepdims=True)
    return np.asarray((1.0 - fond) * weight[0] + fond * weight[1])


def _alike(one: _Way, other: _Way) -> float:
    """Share of the shorter way that both go."""
    _, i, j = np.intersect1d(one.way, other.way, return_indices=True)
    common = float(np.minimum(one.length_m[i], other.length_m[j]).sum())
    return common / max(min(float(one.length_m.sum()), float(other.length_m.sum())), 1e-9)


def _gaps(
    match: Match, fond: dict[float, float], params: OtherWayParams
) -> Iterator[tuple[int, int, float, float]]:
    """(first leg, last leg, from_m, to_m) of each bridged gap worth a second look."""
    for a, b in match.gaps:
        straight = b - a < params.straight * _straight_m(match, a, b)
        if b - a < params.least_m or (straight and fond[a] < params.doubted):
            continue
        first = int(np.searchsorted(match.to_m, a, side="right"))
        last = int(np.searchsorted(match.from_m, b, side="left")) - 1
        yield first, last, a, b


def _straight_m(match: Match, a: float, b: float) -> float:
    lon, lat = match.lonlat(np.array([a, b]))
    return float(steps_m(lon, lat)[0])


class _Way(NamedTuple):
    """One way through a gap: the rows of its ways and the metres on each."""

    way: Int32Array
    length_m: FloatArray


class _Around(NamedTuple):
    """What lies near a gap: its roads, their graphs there and back, its ends on them, the ways
    there, shape (w,), and the column among these of each ridden leg, then of each road."""

    near: LocalRoads
    graphs: tuple[ArcGraph, ArcGraph]
    ends: Ends
    way: IntArray
    column: IntArray


def _around(
    match: Match, roads: RoadsView, cost: FloatArray, usable: BoolArray, legs: slice
) -> _Around:
    inside = (match.at_m >= match.from_m[legs.start]) & (match.at_m <= match.to_m[legs.stop - 1])
    own_m = float((match.to_m[legs] - match.from_m[legs]).sum())
    near = roads_near(
        roads, match.lon[inside], match.lat[inside], margin_m=0.35 * own_m + 500.0,
        usable=usable, time_s=cost,
    )  # fmt: skip
    ends = Ends(
        near.local_edge(match.edge[[legs.start, legs.stop - 1]]),
        np.array([match.edge_from_m[legs.start], match.edge_to_m[legs.stop - 1]]),
    )
    way, column = np.unique(
        np.concatenate([match.way[legs], roads.edge_way[near.edge]]), return_inverse=True
    )
    graphs = near.graph(), near.graph(reverse=True)
    return _Around(near, graphs, ends, way.astype(np.int64), column.astype(np.int64))


def _ways_through(
    match: Match, around: _Around, rate: FloatArray, legs: slice, params: OtherWayParams
) -> list[_Way]:
    """The ridden way and the others through the same gap, the cheapest first.

    rate : weight of a metre of each way of the region
    """
    near, graphs, ends, way, column = around
    length = match.to_m[legs] - match.from_m[legs]
    metres = np.zeros((params.most, len(way)))
    np.add.at(metres[0], column[: len(length)], length)
    taken: Index = 1
    if ends.edge.min() >= 0:
        road = column[len(length) :]
        cost = rate[way[road]] * near.length_m
        limit = params.dearer * float(rate[way] @ metres[0])
        cost_there, there = _spread(near, graphs[0], cost, ends, 0, limit)
        cost_back, back = _spread(near, graphs[1], cost, ends, 1, limit)
        total = cost_there + cost_back
        order = np.flatnonzero(total <= limit)
        order = order[np.argsort(total[order], kind="stable")]
        edges = Edges(near.u, near.length_m, plain(road, np.int32))
        via = np.zeros(params.most, np.int32)
        taken = ways_by_nodes(
            plain(order, np.int32), there, back, edges, ends, params.alike, via, metres
        )
    return [_Way(way[row > 0.0].astype(np.int32), row[row > 0.0]) for row in metres[:taken]]


def _spread(
    near: LocalRoads, graph: ArcGraph, cost: FloatArray, ends: Ends, end: int, limit: float
) -> tuple[FloatArray, Tree]:
    """Costs and ways from the first end to every node near it, or from there to the second."""
    reverse = end == 1
    seeds = edge_seeds(
        ends.edge[[end]], ends.at_m[[end]], edge_u=near.u, edge_v=near.v,
        edge_length_m=near.length_m, edge_cost=cost, oneway=near.oneway, reverse=reverse,
    )  # fmt: skip
    found = search(graph, cost, seeds, limit=limit)
    edge = edges_before(graph.start, graph.head, graph.edge, cost, found.before)
    return found.cost, Tree(found.before, edge)
