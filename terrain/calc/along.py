"""Costs of reaching places from positions along a ride, read off a field over the nodes."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from terrain.calc.kernels import Index, kernel, plain
from terrain.values.arrays import (
    BoolArray,
    Float32Array,
    FloatArray,
    Int32Array,
    IntArray,
)
from terrain.values.match import LegKind
from terrain.values.ride import Ride
from terrain.values.views import RoadsView

STEP_M = 250.0  # common practice, no source


class Ends(NamedTuple):
    """Samples on the map and the ends of their edges, shape (m,).

    sample, edge : which; u, v : end nodes; part : share of the edge from u to the sample
    ahead_toll, back_toll : 0, or inf where the edge may not be ridden that way
    by_edge : all samples in the order of their edges, shape (s,)
    """

    sample: IntArray
    edge: Int32Array
    u: Int32Array
    v: Int32Array
    part: FloatArray
    ahead_toll: FloatArray
    back_toll: FloatArray
    by_edge: IntArray


class Samples(NamedTuple):
    """Positions along a ride close enough to judge it by, shape (s,).

    at_m : metres along the ride, never falling; leg borders stand twice, once for each leg
    leg : the leg; edge, edge_at_m : where on the road graph, -1 and NaN off the map
    ride_s : riding time from the start
    on_land : not on a ferry
    ahead_ok, back_ok : the ride may be left in the drawing order of the edge, and against it
    ends : the ends of the edges under the samples that lie on the map
    step_m, step_s, can_ride, can_turn : from each sample to the next (s - 1,): length, riding
        time, whether the ride leads on there, and whether one may ride it backwards
    """

    at_m: FloatArray
    leg: IntArray
    edge: Int32Array
    edge_at_m: FloatArray
    ride_s: FloatArray
    on_land: BoolArray
    ahead_ok: BoolArray
    back_ok: BoolArray
    ends: Ends
    step_m: FloatArray
    step_s: FloatArray
    can_ride: BoolArray
    can_turn: BoolArray


class AtPlaces(NamedTuple):
    """Where the sources of a field lie: edge and metres along it, and their row numbers."""

    row: Int32Array
    edge: Int32Array
    at_m: FloatArray


class NearestAlong(NamedTuple):
    """A cost along the samples, NaN where not known, and the source it belongs to, -1 if none."""

    cost: FloatArray
    source: Int32Array


def sample_ride(ride: Ride, roads: RoadsView, *, step_m: float = STEP_M) -> Samples:
    """Both ends of every leg and positions between them, at most `step_m` apart."""
    match = ride.match
    length = match.to_m - match.from_m
    count = np.maximum(np.ceil(length / step_m).astype(np.int64), 1) + 1
    leg = np.repeat(np.arange(len(length)), count)
    first = np.repeat(np.cumsum(count) - count, count)
    part = (np.arange(len(leg)) - first) / (count[leg] - 1)
    at_m = match.from_m[leg] + part * length[leg]
    edge = match.edge[leg]
    edge_at_m = match.edge_from_m[leg] + part * (match.edge_to_m - match.edge_from_m)[leg]
    oneway = np.where(edge >= 0, roads.ways.oneway[roads.edge_way[np.maximum(edge, 0)]], 0)
    land = match.kind[leg] != LegKind.FERRY
    # Along the ride itself: never over a break of the line or on to a ferry.
    piece = np.searchsorted(np.asarray(match.breaks_m), match.from_m + 1e-6, side="right")[leg]
    can_ride = (piece[1:] == piece[:-1]) & land[1:] & land[:-1]
    ride_s = ride.time_s(at_m)
    ahead_ok, back_ok = (edge >= 0) & (oneway != -1), (edge >= 0) & (oneway != 1)
    return Samples(
        at_m=at_m,
        leg=leg,
        edge=edge,
        edge_at_m=edge_at_m,
        ride_s=ride_s,
        on_land=land,
        ahead_ok=ahead_ok,
        back_ok=back_ok,
        ends=_ends(roads, edge, edge_at_m, ahead_ok, back_ok),
        step_m=np.diff(at_m),
        step_s=np.diff(ride_s),
        can_ride=can_ride,
        can_turn=can_ride & (oneway[1:] == 0) & (oneway[:-1] == 0),
    )


def _ends(
    roads: RoadsView,
    edge: Int32Array,
    edge_at_m: FloatArray,
    ahead_ok: BoolArray,
    back_ok: BoolArray,
) -> Ends:
    on = np.flatnonzero(edge >= 0)
    k = edge[on]
    length = np.maximum(roads.edge_length_m[k], 1e-6)
    return Ends(
        sample=on,
        edge=k,
        u=roads.edge_u[k],
        v=roads.edge_v[k],
        part=np.clip(edge_at_m[on] / length, 0.0, 1.0),
        ahead_toll=np.where(ahead_ok[on], 0.0, np.inf),
        back_toll=np.where(back_ok[on], 0.0, np.inf),
        by_edge=np.argsort(edge, kind="stable"),
    )


class Approach(NamedTuple):
    """Cost between each sample on the map and the ends of its edge, shape (m,).

    to_u, to_v : inf where a way that way is not allowed; edge_cost : of each whole edge, shape (e,)
    outbound : True for you to them (a reversed search), False for them to you
    """

    to_u: FloatArray
    to_v: FloatArray
    edge_cost: Float32Array | FloatArray
    outbound: bool


def approach(samples: Samples, edge_cost: Float32Array | FloatArray, *, outbound: bool) -> Approach:
    """What all searches by one cost share. edge_cost : of each whole edge, shape (e,)"""
    ends = samples.ends
    whole = edge_cost[ends.edge]
    # Outbound one rides ahead to v or back to u; inbound they come ahead from u or back from v.
    toll_v, toll_u = ends.ahead_toll, ends.back_toll
    if not outbound:
        toll_v, toll_u = toll_u, toll_v
    to_u, to_v = _part_of(whole, ends.part), _part_of(whole, 1.0 - ends.part)
    return Approach(toll_u + to_u, toll_v + to_v, edge_cost, outbound)


def cost_along(
    samples: Samples,
    roads: RoadsView,
    by: Approach,
    *,
    node_cost: Float32Array | FloatArray,
    node_source: Int32Array,
    places: AtPlaces | None = None,
) -> NearestAlong:
    """Cost between each sample and its nearest source, by the ends of its edge or along it.

    node_cost, node_source : the field over the nodes
    places : where the sources lie, so that one on the same edge is seen
    """
    ends = samples.ends
    best, source = _by_the_ends(
        plain(ends.sample, np.int64),
        len(samples.at_m),
        plain(node_cost[ends.u] + by.to_u),
        plain(node_cost[ends.v] + by.to_v),
        plain(node_source[ends.u], np.int32),
        plain(node_source[ends.v], np.int32),
    )
    if places is not None:
        _same_edge(samples, roads, places, by, best, source)
    best[np.isinf(best)] = np.nan
    return NearestAlong(best, source)


@kernel
def _by_the_ends(
    sample: IntArray, n_samples: Index, by_u: FloatArray, by_v: FloatArray,
    source_u: Int32Array, source_v: Int32Array,
) -> tuple[FloatArray, Int32Array]:  # fmt: skip
    """Least cost by either end of the edge, and its source; inf and -1 where there is no way.

    sample : number of each sample on the map; by_u, by_v : cost by either end, inf or NaN if none
    """
    best = np.full(n_samples, np.inf)
    source = np.full(n_samples, -1, np.int32)
    for i in range(len(sample)):
        take_v = by_v[i] <= by_u[i] or np.isnan(by_u[i])
        cost = by_v[i] if take_v else by_u[i]
        if np.isfinite(cost):
            best[sample[i]] = cost
            source[sample[i]] = source_v[i] if take_v else source_u[i]
    return best, source


def _part_of(whole: FloatArray | Float32Array, share: FloatArray) -> FloatArray:
    """A share of whole costs; standing on the very node costs nothing, even if the edge is shut."""
    return np.multiply(share, whole, out=np.zeros(len(share)), where=share > 0.0)


def _same_edge(
    samples: Samples,
    roads: RoadsView,
    places: AtPlaces,
    by: Approach,
    best: FloatArray,
    source: Int32Array,
) -> None:
    """Better the costs where a source lies on the very edge of a sample."""
    order = samples.ends.by_edge
    edges = samples.edge[order]
    first = np.searchsorted(edges, places.edge, side="left")
    last = np.searchsorted(edges, places.edge, side="right")
    hit = np.flatnonzero((last > first) & (places.edge >= 0))
    for j in hit:
        i = order[first[j] : last[j]]
        k = int(places.edge[j])
        gap = places.at_m[j] - samples.edge_at_m[i]
        ahead = gap >= 0 if by.outbound else gap <= 0
        allowed = np.where(ahead, samples.ahead_ok[i], samples.back_ok[i]) | (gap == 0)
        cost = np.abs(gap) / max(float(roads.edge_length_m[k]), 1e-6) * float(by.edge_cost[k])
        better = allowed & (cost < best[i])
        best[i] = np.where(better, cost, best[i])
        source[i] = np.where(better, places.row[j], source[i])


class OnTheRide(NamedTuple):
    """Costs with the ride itself as a way; `origin` : the sample at which one leaves it."""

    cost: FloatArray
    origin: IntArray


def by_the_ride(samples: Samples, cost: FloatArray, *, by_time: bool) -> OnTheRide:
    """Least of the cost at each sample and that of riding on or back to another one first.

    Fills what the map cannot: legs off the map, or on roads a search leaves out.
    cost : shape (s,), NaN where not known
    """
    step = samples.step_s if by_time else samples.step_m
    start = np.where(np.isnan(cost), np.inf, cost)
    back_cost, back_from = _sweep(plain(start), plain(np.where(samples.can_turn, step, np.inf)))
    on_cost, on_from = _sweep(
        plain(start[::-1]), plain(np.where(samples.can_ride, step, np.inf)[::-1])
    )
    on_cost, on_from = on_cost[::-1], len(start) - 1 - on_from[::-1]
    ahead = on_cost < back_cost
    best = np.where(ahead, on_cost, back_cost)
    return OnTheRide(np.where(np.isfinite(best), best, np.nan), np.where(ahead, on_from, back_from))


@kernel
def _sweep(cost: FloatArray, step: FloatArray) -> tuple[FloatArray, IntArray]:
    """Least of each cost and any earlier one plus the steps from there; and where it came from.

    A step of inf cannot be passed.
    """
    n = len(cost)
    # From the start, over the steps that can be passed.
    total = np.zeros(n)
    for i in range(1, n):
        total[i] = total[i - 1] + (step[i - 1] if np.isfinite(step[i - 1]) else 0.0)
    # Each run after a closed step starts far below the last, so nothing is carried over it.
    fall = 2.0 * (total[-1] if n else 0.0) + 2e9
    out, origin = np.empty(n), np.zeros(n, np.int64)
    runs, came, least = 0, np.int64(0), np.inf
    for i in range(n):
        if i > 0 and not np.isfinite(step[i - 1]):
            runs += 1
        level = (cost[i] if np.isfinite(cost[i]) else 1e9) - total[i] - runs * fall
        if level < least:
            came, least = np.int64(i), level
        origin[i] = came
        out[i] = cost[came] + (total[i] - total[came])
    return out, origin
