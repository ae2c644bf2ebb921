"""One search for another way between two points of a ride."""

from __future__ import annotations

from collections import defaultdict
from typing import NamedTuple

import numpy as np

from terrain.calc.corridor import LocalRoads
from terrain.calc.paths import line_of_edges
from terrain.calc.shares import SharePieces, draw_shares, interval
from terrain.stages.detours.guided import NONE_SHUT, GuidedGraph, guided_graph, way_between
from terrain.stages.detours.layout import DetourInputs
from terrain.text.catalogue import N_
from terrain.text.message import Message, message, share_range, term
from terrain.values.arrays import BoolArray, FloatArray, Int32Array, IntArray
from terrain.values.detours import Detour, DetourKind
from terrain.values.ground import LAND_GROUNDS, GroundKind, Share

# Size of the work; common practice, no source.
_DRAWS = 500
# Part of an error in ground that all roads of a detour have in common (common practice, no source).
_SHARED = 0.2
_MOST_NAMES = 3
# Share of what is left out that is ridden in both directions, where it is called a way there and
# back: at its end one may turn in a loop (common practice, no source).
_SAME_ROADS = 0.9


class DetourPath(NamedTuple):
    """Another way: whole edges in order, whether ridden ahead, and where it leaves and meets the
    ride; length_m : of each edge, time_s : of all at the fields' pace."""

    edge: Int32Array
    ahead: BoolArray
    length_m: FloatArray
    time_s: float
    from_m: float
    to_m: float

    @property
    def added_m(self) -> float:
        """How much longer it is than the part of the ride that it stands for."""
        return float(self.length_m.sum()) - (self.to_m - self.from_m)


class Net(NamedTuple):
    """Roads to look for a way on: local roads, and their graph with what each arc costs."""

    local: LocalRoads
    guided: GuidedGraph


def net_of(layout: DetourInputs, local: LocalRoads, usable: BoolArray, cost: FloatArray) -> Net:
    """The usable local edges that have a cost as a graph."""
    graph = local.graph(usable=usable & ~np.isnan(cost))
    lon, lat = layout.roads.node_lon[local.node], layout.roads.node_lat[local.node]
    guided = guided_graph(graph, cost, edge_length_m=local.length_m, lon=lon, lat=lat)
    return Net(local, guided)


def other_way(
    layout: DetourInputs,
    net: Net,
    ends: tuple[int, int],
    *,
    limit: float = np.inf,
    shut: BoolArray = NONE_SHUT,
) -> DetourPath | None:
    """The cheapest way between two passed nodes, less what it shares with the ride at its ends.

    ends : rows in layout.passed; limit : most the way may cost; shut : local edges that it may not
        take, or of no length
    None if there is none, or if it is the ride itself.
    """
    first, last = (int(layout.passed.node[i]) for i in ends)
    a, b = net.local.local_node(np.array([first, last])).tolist()
    if a < 0 or b < 0 or a == b:
        return None
    arcs = way_between(net.guided, a, b, limit=limit, shut=shut)
    return _trimmed(layout, net, arcs, ends) if len(arcs) else None


def _trimmed(
    layout: DetourInputs, net: Net, arcs: Int32Array, ends: tuple[int, int]
) -> DetourPath | None:
    """The way from where it leaves the ride to where it first comes back to it for good."""
    passed, local, graph = layout.passed, net.local, net.guided.graph
    edge = local.edge[graph.edge[arcs]]
    own = np.flatnonzero(
        ~layout.ridden(edge, float(passed.at_m[ends[0]]), float(passed.at_m[ends[1]]))
    )
    if not len(own):
        return None
    span, way = slice(ends[0], ends[1] + 1), slice(int(own[0]), int(own[-1]) + 1)
    edge, ahead = edge[way], graph.forward[arcs[way]]
    roads = layout.roads
    start = (roads.edge_u if ahead[0] else roads.edge_v)[edge[0]]
    stop = (roads.edge_v if ahead[-1] else roads.edge_u)[edge[-1]]
    leave = passed.at_m[span][passed.node[span] == start]
    back = passed.at_m[span][passed.node[span] == stop]
    if not len(leave) or not len(back) or back[-1] <= leave[0]:
        return None
    time_s = float(layout.fields.edge_time_s[edge].sum(dtype=np.float64))
    length = roads.edge_length_m[edge]
    return DetourPath(edge, ahead, length, time_s, float(leave[0]), float(back[-1]))


def left_out(layout: DetourInputs, part: tuple[float, float]) -> Detour | None:
    """Leaving a there-and-back part out; None if the ride does not come back to where it left, or
    only after more than twice the part."""
    skipped = _skipped(layout, part)
    if skipped is None or skipped[1] - skipped[0] > 2.0 * (part[1] - part[0]):
        return None
    return _skipping(layout, part, *skipped)


def turned_round(layout: DetourInputs, part: tuple[float, float]) -> Detour | None:
    """Turning round before a part on a road that is ridden there and back, with all beyond it left
    out; None if the ride does not come back over the same roads."""
    skipped = _skipped(layout, part)
    if skipped is None or layout.there_and_back(*skipped) < _SAME_ROADS:
        return None
    return _skipping(layout, part, *skipped)


def _skipped(layout: DetourInputs, part: tuple[float, float]) -> tuple[float, float] | None:
    """Between which positions a part lies that end at one place, the nearest to each other."""
    passed = layout.passed
    before = passed.at_m <= part[0] + 1.0
    after = passed.at_m >= part[1] - 1.0
    node, last = np.unique(passed.node[before][::-1], return_index=True)
    again, first = np.unique(passed.node[after], return_index=True)
    _, i, k = np.intersect1d(node, again, assume_unique=True, return_indices=True)
    if not len(i):
        return None
    leave, back = passed.at_m[before][::-1][last[i]], passed.at_m[after][first[k]]
    least = int(np.lexsort((leave, back - leave))[0])
    return float(leave[least]), float(back[least])


def _skipping(
    layout: DetourInputs, part: tuple[float, float], from_m: float, to_m: float
) -> Detour:
    skipped_m = to_m - from_m
    # Nothing is ridden in its stead, so that this rider's own time is saved, not the fields'.
    added_s = -float(np.diff(layout.ride.time_s(np.array([from_m, to_m])))[0])
    return Detour(
        kind=DetourKind.ROAD,
        from_m=from_m,
        to_m=to_m,
        around_from_m=part[0],
        around_to_m=part[1],
        length_m=0.0,
        time_s=0.0,
        added_m=-skipped_m,
        added_s=added_s,
        shares=None,
        lon=np.zeros(0),
        lat=np.zeros(0),
        roads=(),
        words=message(
            "Road tyres: leave out {from_at_m} to {to_at_m}, a way there and back; {length} and "
            "{time}.",
            from_at_m=from_m,
            to_at_m=to_m,
            length=_more_m(-skipped_m),
            time=_more_s(added_s),
        ),
    )


def detour_of(
    layout: DetourInputs, found: DetourPath, kind: DetourKind, around: tuple[float, float]
) -> Detour:
    """The way as a detour with its shares and what it adds."""
    roads, edge, length, time_s = layout.roads, found.edge, found.length_m, found.time_s
    lon, lat = line_of_edges(roads, edge, found.ahead)
    added_s = time_s - layout.spent_s(found.from_m, found.to_m)
    shares = _shares(length, layout.edge_p(edge), roads.edge_way[edge].astype(np.int64))
    return Detour(
        kind=kind,
        from_m=found.from_m,
        to_m=found.to_m,
        around_from_m=around[0],
        around_to_m=around[1],
        length_m=float(length.sum()),
        time_s=time_s,
        added_m=found.added_m,
        added_s=added_s,
        shares=shares,
        lon=lon,
        lat=lat,
        roads=_names(layout, edge, length),
        words=_words(kind, found, found.added_m, added_s, shares),
    )


def _shares(length: FloatArray, p: FloatArray, way: IntArray) -> dict[GroundKind, Share]:
    _, first, place = np.unique(way, return_index=True, return_inverse=True)
    rows = p[first].astype(np.float64)
    rows = rows / rows.sum(axis=1, keepdims=True)
    pieces = SharePieces(
        length_m=np.bincount(place, weights=length).astype(np.float64),
        p=rows,
        shared=np.full((len(first), 1), _SHARED),
        group=np.zeros((len(first), 1), dtype=np.int64),
    )
    best = pieces.length_m @ rows / pieces.length_m.sum()
    best = best / best.sum()
    drawn = draw_shares(pieces, draws=_DRAWS)
    out = {}
    for g, kind in enumerate(LAND_GROUNDS):
        low, high = interval(drawn[:, g], float(best[g]))
        out[kind] = Share(best=float(best[g]), low=low, high=high)
    return out


def _names(layout: DetourInputs, edge: Int32Array, length: FloatArray) -> tuple[str, ...]:
    """The names or numbers of the longest roads."""
    ways = layout.roads.ways
    way_m: defaultdict[int, float] = defaultdict(float)
    for way, metres in zip(layout.roads.edge_way[edge].tolist(), length.tolist(), strict=True):
        way_m[way] += metres
    total: defaultdict[str, float] = defaultdict(float)
    for way, metres in way_m.items():
        name = ways.ref.text(way) or ways.name.text(way)
        if name:
            total[name] += metres
    return tuple(sorted(total, key=lambda name: -total[name])[:_MOST_NAMES])


def _words(
    kind: DetourKind,
    found: DetourPath,
    added_m: float,
    added_s: float,
    shares: dict[GroundKind, Share],
) -> str:
    paved = shares[GroundKind.PAVED]
    what = term(N_("Road tyres") if kind is DetourKind.ROAD else N_("More dirt"))
    return message(
        "{what}: leave at {from_at_m}, back at {to_at_m}; {length} and {time}, paved "
        "{range}. A suggestion: not checked for closures.",
        what=what,
        from_at_m=found.from_m,
        to_at_m=found.to_m,
        length=_more_m(added_m),
        time=_more_s(added_s),
        range=share_range(paved.low, paved.high),
    )


def _more_m(added_m: float) -> Message:
    if added_m >= 0:
        return message("{added_m} more", added_m=added_m)
    return message("{added_m} less", added_m=-added_m)


def _more_s(added_s: float) -> Message:
    if added_s >= 0:
        return message("{added_s} more", added_s=added_s)
    return message("{added_s} less", added_s=-added_s)
