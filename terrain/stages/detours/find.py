"""Detours for road tyres round hard or remote parts, and dirt in place of tarmac."""

from __future__ import annotations

from collections.abc import Sequence
from functools import cached_property

import numpy as np

from terrain.calc.along import sample_ride
from terrain.calc.corridor import LocalRoads
from terrain.stages.detours.layout import DetourInputs, detour_inputs
from terrain.stages.detours.way import (
    DetourPath,
    Net,
    detour_of,
    left_out,
    net_of,
    other_way,
    turned_round,
)
from terrain.stages.exits.runs import OffRoadRun, off_road_runs, stretches_between
from terrain.values.arrays import BoolArray, FloatArray, joined_spans
from terrain.values.detours import Detour, DetourKind
from terrain.values.help import HELP_KINDS, HelpFields, HelpKind, Remote
from terrain.values.ride import GRAVEL, PAVED, TRACK, Ride
from terrain.values.trip import Rider, Trip, Wants
from terrain.values.views import RoadsView, WayFlag

# What counts as hard, and how far off a way round may begin and end: common practice, no source.
HARD_SEVERITY = 3
LEAST_HARD_M = 1_000.0
# A detour may leave the ride so long before a part and come back so long after it.
_WINDOWS_M = (3_000.0, 10_000.0, 30_000.0)
_TOGETHER_M = 3_000.0  # parts closer than this are gone round together
_MOST_DETOURS = 8
# What takes more than this share of the ride is another ride, no way round.
_MOST_LOST = 0.75
# How many times longer, on top of its own time, a minute on gravel counts for road tyres (common
# practice, no source).
_GRAVEL_AVERSION = 3.0
# Riders who want dirt (common practice, no source): how far tarmac counts double or triple, how
# much longer and slower a detour may be, and how much dirt it has to hold.
_TARMAC_AVERSION = 3.0
_DIRT_STEP_M, _DIRT_WINDOW_M, _DIRT_MARGIN_M = 25_000.0, 30_000.0, 5_000.0
_LONGEST, _SLOWEST, _LEAST_DIRT_M, _LEAST_DIRT = 1.8, 2.5, 3_000.0, 0.3


def find_detours(
    ride: Ride,
    roads: RoadsView,
    fields: HelpFields,
    *,
    way_p: FloatArray,
    remote: Sequence[Remote] = (),
    trip: Trip | None = None,
) -> tuple[Detour, ...]:
    """Suggestions in riding order: road-tyre ways round hard and remote parts, and dirt.

    way_p : probabilities of paved, gravel, track per way of the region, shape (w, 3)
    remote : runs far from help, found beforehand; a way round one is suggested only if it stays
        nearer to help
    trip : dirt is offered neither to who wants a road trip nor, unasked, to a novice
    A part is hard if it is track, unmapped, or of severity 3 or more for a kilometre.
    """
    layout = detour_inputs(ride, roads, fields, way_p)
    if len(layout.passed.node) < 2:
        return ()
    runs = off_road_runs(ride, sample_ride(ride, roads), fields.edge_paved)
    hard = joined_spans(
        ((run.from_m, run.to_m) for run in runs if _is_hard(ride, run)), _TOGETHER_M
    )
    # A remote part that holds a hard one is not gone round as a whole.
    far = [
        (item.from_m, item.to_m)
        for item in remote
        if not any(a < item.to_m and b > item.from_m for a, b in hard)
    ]
    parts = [*hard, *far]
    parts = sorted(sorted(parts, key=lambda part: part[0] - part[1])[:_MOST_DETOURS])
    nets = _RoadNets(layout, parts)
    detours = [
        detour
        for i in range(len(parts))
        if (detour := _round_part(layout, nets, i, hard, remote)) is not None
    ]
    detours = _once(detours)
    if trip is None or _likes_dirt(trip):
        detours += _dirt(layout, runs)
    return tuple(sorted(detours, key=lambda item: (item.from_m, item.kind.value)))


def _once(detours: list[Detour]) -> list[Detour]:
    """Without ways that leave the same out again, for the part that is ridden on the way back."""
    found: dict[tuple[float, float], Detour] = {}
    for detour in detours:
        found.setdefault((detour.from_m, detour.to_m), detour)
    return list(found.values())


def _likes_dirt(trip: Trip) -> bool:
    """Whether ways with more dirt are worth showing; common practice, no source."""
    if trip.wants is Wants.ROAD:
        return False
    return trip.wants is Wants.OFF_ROAD or trip.skill is not Rider.NOVICE


def ways_round(layout: DetourInputs, parts: list[tuple[float, float]]) -> list[Detour | None]:
    """A way for road tyres round each part, given in riding order; None where there is none."""
    nets = _RoadNets(layout, parts)
    return [_round_part(layout, nets, i, parts, ()) for i in range(len(parts))]


def _is_hard(ride: Ride, run: OffRoadRun) -> bool:
    part = stretches_between(ride, run.from_m, run.to_m)
    worse = (ride.ground[part] > GRAVEL) | (ride.severity[part] >= HARD_SEVERITY)
    length = np.minimum(ride.to_m[part], run.to_m) - np.maximum(ride.from_m[part], run.from_m)
    return float(length[worse].sum()) >= LEAST_HARD_M


def _round_part(
    layout: DetourInputs,
    nets: _RoadNets,
    i: int,
    hard: list[tuple[float, float]],
    remote: Sequence[Remote],
) -> Detour | None:
    """The best road-tyre way round one part; None if there is none.

    Of ways from nearer and farther off, the one that changes the ride least; but turning round
    before the part, on a way there and back, if that leaves out less of the ride.
    """
    part = nets.parts[i]
    low, high = nets.room(i)
    is_hard = part in hard
    core = part if is_hard else _worst_of(part, remote)
    if is_hard and (skip := left_out(layout, part)) is not None:
        return skip
    most_m = _MOST_LOST * layout.ride.length_m
    turn = turned_round(layout, part) if is_hard else None
    best: tuple[float, DetourPath] | None = None
    tried, shut = None, nets.shut(i, core)
    for window_m in _WINDOWS_M:
        near, far = max(low, part[0] - window_m), min(high, part[1] + window_m)
        ends = _window_ends(layout, core, near, far)
        if ends is None or ends == tried:
            continue
        tried = ends
        found = _by_road(nets, shut, core, ends)
        if found is None or -found.added_m > most_m:
            continue
        if not (is_hard or _nearer_to_help(layout, found, remote, part)):
            continue
        change = float(found.length_m.sum()) + (found.to_m - found.from_m) - (core[1] - core[0])
        if best is None or change < best[0]:
            best = change, found
    least_m = -most_m if best is None else max(-most_m, best[1].added_m)
    if turn is not None and turn.added_m > least_m:
        return turn
    return None if best is None else detour_of(layout, best[1], DetourKind.ROAD, part)


def _worst_of(part: tuple[float, float], remote: Sequence[Remote]) -> tuple[float, float]:
    """Where a remote part is farthest from help: that is what has to be gone round."""
    inside = [item for item in remote if item.from_m < part[1] and item.to_m > part[0]]
    worst = max(inside, key=lambda r: np.inf if r.nearest_s is None else r.nearest_s)
    return worst.worst_at_m - 1.0, worst.worst_at_m + 1.0


def _window_ends(
    layout: DetourInputs, part: tuple[float, float], low: float, high: float
) -> tuple[int, int] | None:
    """The first node passed after `low` and the last before `high`, outside the part."""
    at_m = layout.passed.at_m
    before = np.flatnonzero((at_m >= low - 1.0) & (at_m <= part[0] + 1.0))
    after = np.flatnonzero((at_m >= part[1] - 1.0) & (at_m <= high + 1.0))
    return (int(before[0]), int(after[-1])) if len(before) and len(after) else None


class _RoadNets:
    """Roads for road tyres round the parts, laid out once for all of them when first asked for.

    parts : where each begins and ends on the ride [m], in order
    """

    def __init__(self, layout: DetourInputs, parts: list[tuple[float, float]]) -> None:
        self.layout, self.parts = layout, parts
        self._nets: dict[float, Net] = {}

    def room(self, i: int) -> tuple[float, float]:
        """Between which positions a way round a part may leave the ride and come back [m]."""
        low = self.parts[i - 1][1] if i else 0.0
        high = self.parts[i + 1][0] if i + 1 < len(self.parts) else self.layout.ride.length_m
        return low, high

    @cached_property
    def near(self) -> tuple[BoolArray, ...]:
        """Which edges of the region lie round each part."""
        found, widest = [], _WINDOWS_M[-1]
        for i, (start, end) in enumerate(self.parts):
            low, high = self.room(i)
            found.append(self.layout.near(max(low, start - widest), min(high, end + widest)))
        return tuple(found)

    @cached_property
    def local(self) -> LocalRoads:
        """The roads round all parts."""
        return self.layout.local(np.logical_or.reduce(self.near))

    def shut(self, i: int, core: tuple[float, float]) -> BoolArray:
        """Local edges that no way round a part takes: what it goes round, and what is far off."""
        edge = self.local.edge
        far: BoolArray = ~self.near[i][edge]
        return far | self.layout.ridden(edge, *core)

    def net(self, least_paved: float) -> Net:
        """Roads believed paved at least so much."""
        if least_paved not in self._nets:
            usable, cost = _for_road_tyres(self.layout, self.local, least_paved)
            self._nets[least_paved] = net_of(self.layout, self.local, usable, cost)
        return self._nets[least_paved]


def _by_road(
    nets: _RoadNets, shut: BoolArray, core: tuple[float, float], ends: tuple[int, int]
) -> DetourPath | None:
    """A way for road tyres: believed paved, else on what is no track."""
    for least_paved in (0.5, 0.0):
        found = other_way(nets.layout, nets.net(least_paved), ends, shut=shut)
        if found is not None and found.from_m <= core[0] + 1.0 and found.to_m >= core[1] - 1.0:
            return found
    return None


def _for_road_tyres(
    layout: DetourInputs, local: LocalRoads, least_paved: float
) -> tuple[BoolArray, FloatArray]:
    way = layout.roads.edge_way[local.edge]
    p, flags = layout.way_p[way], layout.roads.ways.flags[way]
    paved = p[:, PAVED]
    ferry = (flags & int(WayFlag.FERRY)) != 0
    ford = (flags & int(WayFlag.FORD | WayFlag.FOUR_WD_ONLY)) != 0
    fit = (paved >= least_paved) & (p[:, TRACK] < 0.5)
    cost = local.time_s * (1.0 + _GRAVEL_AVERSION * np.where(ferry, 0.0, 1.0 - paved))
    return local.usable & (fit | ferry) & ~ford, cost


def _flagged(layout: DetourInputs, local: LocalRoads, flags: WayFlag) -> BoolArray:
    way = layout.roads.edge_way[local.edge]
    on: BoolArray = (layout.roads.ways.flags[way] & int(flags)) != 0
    return on


def _nearer_to_help(
    layout: DetourInputs, found: DetourPath, remote: Sequence[Remote], part: tuple[float, float]
) -> bool:
    """Whether the worst point of the way is nearer to a mechanic than that of the remote part."""
    worst = [
        np.inf if item.nearest_s is None else item.nearest_s
        for item in remote
        if item.from_m < part[1] and item.to_m > part[0]
    ]
    row = HELP_KINDS.index(HelpKind.MECHANIC)
    nodes = np.concatenate((layout.roads.edge_u[found.edge], layout.roads.edge_v[found.edge]))
    time_s = layout.fields.to_help_s.cost[row][nodes]
    return bool(worst) and not np.isnan(time_s).any() and float(time_s.max()) < max(worst)


def _dirt(layout: DetourInputs, runs: tuple[OffRoadRun, ...]) -> list[Detour]:
    """Ways over dirt in place of tarmac, best first, none over another."""
    length_m = layout.ride.length_m
    net = _dirt_net(layout)
    offers = []
    for start in np.arange(0.0, max(length_m - _DIRT_STEP_M / 3, 1.0), _DIRT_STEP_M).tolist():
        window = (start, min(start + _DIRT_WINDOW_M, length_m))
        off = sum(max(min(r.to_m, window[1]) - max(r.from_m, window[0]), 0.0) for r in runs)
        if off <= 0.2 * (window[1] - window[0]):
            found = _dirt_in(layout, net, window)
            dirt_m_s = 0.0 if found is None else _dirt_m_s(layout, found)
            if found is not None and dirt_m_s > 0:
                offers.append((dirt_m_s, found))
    offers.sort(key=lambda offer: -offer[0])
    chosen: list[DetourPath] = []
    for _, found in offers:
        apart = all(found.to_m <= c.from_m or found.from_m >= c.to_m for c in chosen)
        if apart and len(chosen) < _MOST_DETOURS:
            chosen.append(found)
    return [detour_of(layout, way, DetourKind.DIRT, (way.from_m, way.to_m)) for way in chosen]


def _dirt_net(layout: DetourInputs) -> Net:
    """All roads near the ride that may be ridden through, dear where they are tarmac."""
    local = layout.local(layout.near(0.0, layout.ride.length_m, _DIRT_MARGIN_M))
    shut = _flagged(
        layout, local, WayFlag.DESTINATION | WayFlag.FOUR_WD_ONLY | WayFlag.FERRY | WayFlag.BARRIER
    )
    paved = layout.edge_paved(local.edge)
    cost = local.length_m * (1.0 + (_TARMAC_AVERSION - 1.0) * paved)
    return net_of(layout, local, local.usable & ~shut & ~_flagged_rough(layout, local), cost)


def _dirt_in(layout: DetourInputs, net: Net, window: tuple[float, float]) -> DetourPath | None:
    """The best way over dirt in one window of the ride; None if there is none."""
    at_m = layout.passed.at_m
    first = int(np.searchsorted(at_m, window[0], side="left"))
    last = int(np.searchsorted(at_m, window[1], side="right")) - 1
    if last <= first:
        return None
    # A way dearer than the ride itself is no better.
    limit = layout.dirt_cost(float(at_m[first]), float(at_m[last]), _TARMAC_AVERSION)
    return other_way(layout, net, (first, last), limit=limit)


def _dirt_m_s(layout: DetourInputs, found: DetourPath) -> float:
    """Metres of dirt per second on the way; none if it is not enough for what it adds."""
    length_m, time_s = float(found.length_m.sum()), found.time_s
    dirt_m = float((found.length_m * (1.0 - layout.edge_paved(found.edge))).sum())
    worth_it = (
        length_m <= _LONGEST * (found.to_m - found.from_m)
        and time_s <= _SLOWEST * layout.spent_s(found.from_m, found.to_m)
        and dirt_m >= max(_LEAST_DIRT_M, _LEAST_DIRT * length_m)
    )
    return dirt_m / max(time_s, 1.0) if worth_it else 0.0


def _flagged_rough(layout: DetourInputs, local: LocalRoads) -> BoolArray:
    """Edges tagged horrible or worse: only for trials bikes and tractors."""
    smoothness = layout.roads.ways.smoothness
    words = ("horrible", "very_horrible", "impassable")
    bad = np.array([value in words for value in smoothness.values] + [False])
    out: BoolArray = bad[smoothness.codes[layout.roads.edge_way[local.edge]]]
    return out
