"""Other ways a ride may have gone between points too far apart to show it.

For each bridged gap the cheapest way through every node near it is looked at (cheapest to the
node plus cheapest from it); those that differ enough from the ones already taken, and do not ride
back the way they came, are other plausible ways. Source of the idea: via-node alternatives,
Abraham, Delling, Goldberg and Werneck 2013, Alternative routes in road networks, J. Exp.
Algorithmics 18 (from memory).
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from terrain.calc.corridor import cells_near
from terrain.calc.geodesy import between_m
from terrain.calc.kernels import plain
from terrain.stages.matching.params import StepMode, class_rates
from terrain.stages.matching.via_nodes import Gap, Scratch, Streets, make_scratch, ways_by_nodes
from terrain.values.arrays import Float32Array, FloatArray, Int32Array
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
    bridged = match.gaps
    if not bridged:
        return ()
    p = plain(way_ground.p, np.float32)
    off = 1.0 - p[match.way, 0].astype(np.float64)
    fond = _tastes(match, bridged, off, params)
    gaps = list(_gaps(match, fond, params))
    if not gaps:
        return ()
    streets = _streets(match, roads, p)
    likings = np.array([0.0, 1.0 - params.fond])
    scratch = make_scratch(roads.n_nodes, roads.n_edges, len(roads.ways), 2 * params.most - 1)
    out: list[Alternative] = []
    for first, last, from_m, to_m in gaps:
        legs = slice(first, last + 1)
        gap = _gap(match, roads, legs)
        n = ways_by_nodes(
            streets, gap, scratch, match.way[legs], match.to_m[legs] - match.from_m[legs],
            likings, 2 if fond[from_m, to_m] >= params.doubted else 1,
            params.most, params.dearer, params.alike,
        )  # fmt: skip
        found = [_way(scratch, row) for row in range(n)]
        if len(found) < 2:
            continue
        chance = _chances(found, fond[from_m, to_m], params)
        for i, one in enumerate(found):
            out.append(
                Alternative(
                    from_m=from_m, to_m=to_m, weight=float(chance[i]),
                    way=one.way, length_m=one.length_m, ridden=i == 0,
                )
            )  # fmt: skip
    return tuple(out)


def _streets(match: Match, roads: RoadsView, p: Float32Array) -> Streets:
    """The region's roads as the searches take them; what the ride uses is open to it.

    p : chances of the ground of each way
    """
    ways, rows = roads.ways, roads.kind_way
    by_class = np.asarray(class_rates(ways.highway.values)[StepMode.GUESSED])
    rate = np.repeat(by_class[ways.highway.codes[rows]], 2)
    rate[0::2][ways.oneway[rows] < 0] = np.inf
    rate[1::2][ways.oneway[rows] > 0] = np.inf
    shut = np.repeat((ways.flags[rows] & int(NEVER_PROPOSED)) != 0, 2)
    ridden = np.zeros(roads.n_edges, np.bool_)
    ridden[match.edge[match.edge >= 0]] = True
    return Streets(
        roads.node_lon, roads.node_lat,
        roads.edge_u, roads.edge_v, roads.edge_way, roads.edge_length_m, roads.way_kind,
        roads.out_start, roads.out_arc, roads.arc_head, roads.arc_length_m, roads.arc_kind,
        np.stack([np.where(shut, np.inf, rate), rate]), ridden, p,
    )  # fmt: skip


def _tastes(
    match: Match, gaps: Sequence[tuple[float, float]], off: FloatArray, params: OtherWayParams
) -> dict[tuple[float, float], float]:
    """Chance that in each gap the way off tarmac was looked for.

    off : chance of each leg to be off tarmac
    The points of the file are a sample of the ride: the more of them, and of what is drawn without
    gaps, lie off tarmac, the likelier; and more so in a gap next to such a point.
    """
    starts, stops = np.array(gaps).T
    first = np.searchsorted(match.to_m, starts, side="right")
    last = np.searchsorted(match.from_m, stops, side="left") - 1
    ends = (off[first] + off[last]) / 2
    length = match.to_m - match.from_m
    shown = (match.way >= 0) & ~match.filled
    share = float(off[shown] @ length[shown] + ends @ (stops - starts))
    share /= float(length[shown].sum() + (stops - starts).sum())
    by_time = params.by_time * np.exp(-params.by_ride * share - params.by_ends * ends)
    return dict(zip(gaps, (1.0 - by_time).tolist(), strict=True))


def _chances(found: list[_Way], fond: float, params: OtherWayParams) -> FloatArray:
    """How likely each way is: by time, and by taste for what is off tarmac, `fond` the latter."""
    dearer = np.array([one.weight for one in found])
    weight = np.exp(-(dearer / dearer.min(axis=0) - 1.0) / params.spread)
    weight /= weight.sum(axis=0)
    return np.asarray((1.0 - fond) * weight[:, 0] + fond * weight[:, 1])


def _gaps(
    match: Match, fond: dict[tuple[float, float], float], params: OtherWayParams
) -> Iterator[tuple[int, int, float, float]]:
    """(first leg, last leg, from_m, to_m) of each bridged gap worth a second look."""
    starts, stops = np.array(list(fond)).T
    lon, lat = match.lonlat(np.column_stack([starts, stops]))
    straight_m = between_m(lon[:, 0], lat[:, 0], lon[:, 1], lat[:, 1])
    first = np.searchsorted(match.to_m, starts, side="right").tolist()
    last = (np.searchsorted(match.from_m, stops, side="left") - 1).tolist()
    for k, ((a, b), liking) in enumerate(fond.items()):
        straight = b - a < params.straight * straight_m[k]
        if b - a >= params.least_m and (not straight or liking >= params.doubted):
            yield first[k], last[k], a, b


class _Way(NamedTuple):
    """One way through a gap: the rows of its ways, the metres on each, its weight to each taste."""

    way: Int32Array
    length_m: FloatArray
    weight: FloatArray


def _way(scratch: Scratch, row: int) -> _Way:
    way = np.sort(scratch.way[row, : scratch.n_ways[row]])
    return _Way(way, scratch.metres[row, way], scratch.weight[row].copy())


def _gap(match: Match, roads: RoadsView, legs: slice) -> Gap:
    first = np.searchsorted(match.at_m, match.from_m[legs.start])
    last = np.searchsorted(match.at_m, match.to_m[legs.stop - 1], side="right")
    own_m = float((match.to_m[legs] - match.from_m[legs]).sum())
    near = cells_near(roads, match.lon[first:last], match.lat[first:last], 0.35 * own_m + 500.0)
    ends = [legs.start, legs.stop - 1]
    at_m = np.array([match.edge_from_m[legs.start], match.edge_to_m[legs.stop - 1]])
    return Gap(near, match.edge[ends], at_m)
