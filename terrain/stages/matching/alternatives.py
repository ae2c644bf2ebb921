"""Other ways a ride may have gone between points too far apart to show it.

For each bridged gap the cheapest way through every node near it is looked at (cheapest to the
node plus cheapest from it); those that differ enough from the ones already taken, and do not ride
back the way they came, are other plausible ways. Source of the idea: via-node alternatives,
Abraham, Delling, Goldberg and Werneck 2013, Alternative routes in road networks, J. Exp.
Algorithmics 18 (from memory).
"""

from __future__ import annotations

import itertools
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from terrain.calc.corridor import LocalRoads, roads_near
from terrain.calc.geodesy import steps_m
from terrain.calc.search import ArcGraph, Found, best_edge, edge_seeds, search, walk
from terrain.stages.matching.params import StepMode, class_rates
from terrain.values.arrays import BoolArray, FloatArray
from terrain.values.ground import OtherWay
from terrain.values.match import LegKind, Match
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
) -> tuple[OtherWay, ...]:
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
    out: list[OtherWay] = []
    for first, last, from_m, to_m in gaps:
        found = _ways_through(match, roads, cost, usable, slice(first, last + 1), params)
        if len(found) < 2:
            continue
        least = min(c for c, _ in found)
        for i, (c, by_way) in enumerate(found):
            out.append(
                OtherWay(
                    from_m=from_m, to_m=to_m,
                    weight=float(np.exp(-(c / least - 1.0) / params.spread)),
                    way=np.array(list(by_way), dtype=np.int32),
                    length_m=np.array(list(by_way.values())), ridden=i == 0,
                )
            )  # fmt: skip
    return tuple(out)


def _gaps(match: Match, params: OtherWayParams) -> Iterator[tuple[int, int, float, float]]:
    """(first leg, last leg, from_m, to_m) of each bridged gap worth a second look.

    A bridged run of legs is cut where a drawn point lies at a leg's end or inside a leg.
    """
    points = np.unique(match.point_at_m[~np.isnan(match.point_at_m)])
    filled = match.filled & (match.kind == LegKind.MATCHED)
    change = np.flatnonzero(np.diff(np.r_[False, filled, False].astype(np.int8)))
    for start, stop in zip(change[::2], change[1::2], strict=True):
        low, high = match.from_m[start], match.to_m[stop - 1]
        cuts = np.unique(np.r_[low, points[(points > low) & (points < high)], high])
        for a, b in itertools.pairwise(cuts):
            straight = _straight_m(match, a, b)
            if b - a < params.least_m or b - a < params.straight * straight:
                continue
            first = int(np.searchsorted(match.to_m, a, side="right"))
            last = int(np.searchsorted(match.from_m, b, side="left")) - 1
            yield first, last, float(a), float(b)


def _straight_m(match: Match, a: float, b: float) -> float:
    lon = np.interp([a, b], match.at_m, match.lon)
    lat = np.interp([a, b], match.at_m, match.lat)
    return float(steps_m(lon, lat)[0])


def _ways_through(
    match: Match, roads: RoadsView, cost: FloatArray, usable: BoolArray, legs: slice,
    params: OtherWayParams,
) -> list[tuple[float, dict[int, float]]]:  # fmt: skip
    """(cost, metres by way row) of the ridden way and of the others through the same gap."""
    own = _ridden(match, roads, cost, legs)
    a = (int(match.edge[legs.start]), float(match.edge_from_m[legs.start]))
    b = (int(match.edge[legs.stop - 1]), float(match.edge_to_m[legs.stop - 1]))
    inside = (match.at_m >= match.from_m[legs.start]) & (match.at_m <= match.to_m[legs.stop - 1])
    lon, lat = match.lon[inside], match.lat[inside]
    margin = 0.35 * sum(own[1].values()) + 500.0
    near = roads_near(roads, lon, lat, margin_m=margin, usable=usable, time_s=cost)
    there = _spread(near, a, reverse=False, limit=params.dearer * own[0])
    back = _spread(near, b, reverse=True, limit=params.dearer * own[0])
    if there is None or back is None:
        return [own]
    total = there.found.cost + back.found.cost
    order = np.argsort(total, kind="stable")
    order = order[total[order] <= params.dearer * own[0]]
    taken = [own]
    tried: set[int] = set()
    for node in order.tolist():
        if len(taken) == params.most:
            break
        if node in tried:
            continue
        nodes = walk(there.found.before, node)[::-1] + walk(back.found.before, node)[1:]
        tried.update(nodes if len(set(nodes)) == len(nodes) else [node])
        if len(set(nodes)) < len(nodes):  # rides back the way it came
            continue
        by_way = _metres(near, roads, there, back, nodes, node, a, b)
        if sum(by_way.values()) > 0 and all(
            _alike(by_way, other) < params.alike for _, other in taken
        ):
            taken.append((float(total[node]), by_way))
    return taken


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Spread:
    graph: ArcGraph
    found: Found


def _spread(
    near: LocalRoads, spot: tuple[int, float], *, reverse: bool, limit: float
) -> _Spread | None:
    """Costs between a spot on an edge and every node near it."""
    edge = near.local_edge(np.array([spot[0]], dtype=np.int32))
    if edge[0] < 0:
        return None
    graph = near.graph(reverse=reverse)
    seeds = edge_seeds(
        edge, np.array([spot[1]]), edge_u=near.u, edge_v=near.v, edge_length_m=near.length_m,
        edge_cost=near.time_s, oneway=near.oneway, reverse=reverse,
    )  # fmt: skip
    return _Spread(graph=graph, found=search(graph, near.time_s, seeds, limit=limit))


def _ridden(
    match: Match, roads: RoadsView, cost: FloatArray, legs: slice
) -> tuple[float, dict[int, float]]:
    edge = match.edge[legs]
    length = match.to_m[legs] - match.from_m[legs]
    whole = np.maximum(roads.edge_length_m[edge], 1e-6)
    by_way: dict[int, float] = {}
    for way, m in zip(match.way[legs].tolist(), length.tolist(), strict=True):
        by_way[way] = by_way.get(way, 0.0) + m
    return float((cost[edge] * np.minimum(length / whole, 1.0)).sum()), by_way


def _metres(
    near: LocalRoads, roads: RoadsView, there: _Spread, back: _Spread, nodes: list[int], via: int,
    a: tuple[int, float], b: tuple[int, float],
) -> dict[int, float]:  # fmt: skip
    """Metres by way row along a chain of local nodes, with the parts of the end edges."""
    by_way: dict[int, float] = {}

    def add(edge: int, metres: float) -> None:
        way = int(roads.edge_way[edge])
        by_way[way] = by_way.get(way, 0.0) + metres

    split = nodes.index(via)
    for i, (here, ahead) in enumerate(itertools.pairwise(nodes)):
        if i < split:
            arc = best_edge(there.graph, near.time_s, here, ahead)
        else:  # the graph of the way home is reversed
            arc = best_edge(back.graph, near.time_s, ahead, here)
        if arc is not None:
            edge = int(near.edge[arc[0]])
            add(edge, float(roads.edge_length_m[edge]))
    for (edge, at_m), node in ((a, nodes[0]), (b, nodes[-1])):
        at_u = int(near.node[node]) == int(roads.edge_u[edge])
        add(edge, at_m if at_u else float(roads.edge_length_m[edge]) - at_m)
    return by_way


def _alike(one: dict[int, float], other: dict[int, float]) -> float:
    """Share of the shorter way's length that both have."""
    common = sum(min(m, other.get(way, 0.0)) for way, m in one.items())
    return common / max(min(sum(one.values()), sum(other.values())), 1.0)
