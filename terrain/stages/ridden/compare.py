"""Where a ride left its plan, and what it rode instead: two matches laid side by side."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import chain

import numpy as np
from scipy.spatial import cKDTree

from terrain.calc.geodesy import metres_per_degree
from terrain.calc.rises import longest_rise
from terrain.values.arrays import BoolArray, FloatArray, Int32Array, IntArray
from terrain.values.match import Match
from terrain.values.ridden import Leaving

# Common practice, no source.
_STEP_M = 10.0
_EDGE_M = 25.0  # a position this far beyond the planned part of an edge is still on it
_LINE_M = 30.0  # off the map a ride this near the planned line is on plan
_SPAN = 1e7  # longer than any edge [m]
_LEAST_M = 60.0  # a shorter run off the plan is the line's own spread
_JOIN_M = 40.0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Samples:
    """Places along a match, each `step_m` apart, shape (n,)."""

    at_m: FloatArray
    x_m: FloatArray
    y_m: FloatArray
    leg: IntArray
    edge: Int32Array
    edge_at_m: FloatArray
    step_m: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Compared:
    """off : runs of the ride off its plan; missed : runs of the plan not ridden; (n, 2) [m]

    common_m : of the ride on its plan
    ride_at_m, plan_at_m : places on both, in riding order, shape (k,)
    """

    off: FloatArray
    missed: FloatArray
    common_m: float
    leavings: tuple[Leaving, ...]
    ride_at_m: FloatArray
    plan_at_m: FloatArray


def compare(ride: Match, plan: Match) -> Compared:
    """The ride against its plan, on the map's edges and, where there are none, by the line."""
    origin = (float(plan.lon.mean()), float(plan.lat.mean()))
    here, there = _samples(ride, origin), _samples(plan, origin)
    on_plan = _covered(here, plan, there)
    ridden = _covered(there, ride, here)
    off, missed = _runs(~on_plan, here), _runs(~ridden, there)
    on_plan = ~_inside(here.at_m, off)
    ride_at, plan_at = _anchors(here, there, on_plan)
    return Compared(
        off=off, missed=missed, common_m=float(on_plan.sum()) * here.step_m,
        leavings=_leavings(ride, there, ride_at, plan_at, off, missed),
        ride_at_m=ride_at, plan_at_m=plan_at,
    )  # fmt: skip


def _anchors(here: Samples, there: Samples, on_plan: BoolArray) -> tuple[FloatArray, FloatArray]:
    """Places on both the ride and its plan, in the order of both [m].

    A part of the plan ridden at another time than planned is on the plan, but no anchor.
    """
    on = np.flatnonzero(on_plan)
    if not len(on):
        return np.zeros(0), np.zeros(0)
    place = plan_places(here.x_m[on], here.y_m[on], there, _LINE_M)
    known = ~np.isnan(place)
    ride_at, plan_at = here.at_m[on][known], place[known]
    rise = longest_rise(plan_at)
    return ride_at[rise], plan_at[rise]


def _samples(match: Match, origin: tuple[float, float]) -> Samples:
    n = max(int(match.length_m / _STEP_M), 1)
    step = float(match.length_m / n)
    at = (np.arange(n, dtype=np.float64) + 0.5) * step
    leg = np.minimum(np.searchsorted(match.to_m, at, side="right"), len(match.to_m) - 1)
    length = np.maximum(match.to_m[leg] - match.from_m[leg], 1e-9)
    share = (at - match.from_m[leg]) / length
    start, end = match.edge_from_m[leg], match.edge_to_m[leg]
    m_lon, m_lat = metres_per_degree(origin[1])
    return Samples(
        at_m=at, x_m=(np.interp(at, match.at_m, match.lon) - origin[0]) * m_lon,
        y_m=(np.interp(at, match.at_m, match.lat) - origin[1]) * m_lat,
        leg=leg, edge=match.edge[leg], edge_at_m=start + share * (end - start), step_m=step,
    )  # fmt: skip


def _covered(samples: Samples, other: Match, other_samples: Samples) -> BoolArray:
    """Whether each place lies on an edge part of the other match, either way ridden."""
    on = other.edge >= 0
    low = np.minimum(other.edge_from_m[on], other.edge_to_m[on])
    high = np.maximum(other.edge_from_m[on], other.edge_to_m[on])
    starts = other.edge[on].astype(np.float64) * _SPAN + low - _EDGE_M
    ends = other.edge[on].astype(np.float64) * _SPAN + high + _EDGE_M
    order = np.argsort(starts)
    # The farthest end of all parts that start before: parts of one edge may overlap.
    far = np.maximum.accumulate(ends[order]) if len(order) else np.zeros(0)
    place = samples.edge.astype(np.float64) * _SPAN + samples.edge_at_m
    row = np.searchsorted(starts[order], place, side="right") - 1
    mapped = samples.edge >= 0
    covered = np.zeros(len(place), dtype=np.bool_)
    if len(far):
        covered = mapped & (row >= 0) & (place <= far[np.maximum(row, 0)])
    off_map = other_samples.edge < 0
    for mine, theirs in ((~mapped, np.ones(len(off_map), dtype=np.bool_)), (mapped, off_map)):
        if mine.any() and theirs.any():
            tree = cKDTree(np.column_stack([other_samples.x_m, other_samples.y_m])[theirs])
            away, _ = tree.query(np.column_stack([samples.x_m, samples.y_m])[mine])
            covered[mine] |= away <= _LINE_M
    return covered


def _runs(mask: BoolArray, samples: Samples) -> FloatArray:
    """Runs of marked places as (from, to) [m]; near ones joined, short ones dropped."""
    edge = np.flatnonzero(np.diff(np.r_[False, mask, False].astype(np.int8))).reshape(-1, 2)
    half = samples.step_m / 2
    runs: list[list[float]] = []
    for first, end in edge.tolist():
        a, b = float(samples.at_m[first] - half), float(samples.at_m[end - 1] + half)
        if runs and a - runs[-1][1] < _JOIN_M:
            runs[-1][1] = b
        else:
            runs.append([a, b])
    return np.array([run for run in runs if run[1] - run[0] >= _LEAST_M]).reshape(-1, 2)


def _inside(at_m: FloatArray, runs: FloatArray) -> BoolArray:
    out = np.zeros(len(at_m), dtype=np.bool_)
    for a, b in runs:
        out |= (at_m > a) & (at_m < b)
    return out


def plan_places(x_m: FloatArray, y_m: FloatArray, plan: Samples, reach_m: float) -> FloatArray:
    """Where on the plan each place of a ride lies, in riding order [m]; NaN if not near it.

    Where the plan passes a place more than once, the passage next to the place before counts.
    """
    tree = cKDTree(np.column_stack([plan.x_m, plan.y_m]))
    near = tree.query_ball_point(np.column_stack([x_m, y_m]), reach_m)
    many = np.array([len(rows) for rows in near], dtype=np.int64)
    rows = np.fromiter(chain.from_iterable(near), dtype=np.int64, count=int(many.sum()))
    # A metre aside weighs as much as ten along: the nearest of one passage, and the passage
    # next to the last.
    x, y = np.repeat(x_m, many), np.repeat(y_m, many)
    aside = (np.hypot(plan.x_m[rows] - x, plan.y_m[rows] - y) * 10.0).tolist()
    at = plan.at_m[rows].tolist()
    out = np.full(len(x_m), np.nan)
    last, start = 0.0, 0
    for i, n in enumerate(many.tolist()):
        if n:
            # Few places each: as arrays the whole would take more than twice as long.
            cost = [
                away + (here - last if here >= last else 3.0 * (last - here))
                for away, here in zip(aside[start : start + n], at[start : start + n], strict=True)
            ]
            last = out[i] = at[start + cost.index(min(cost))]
            start += n
    return out


def _leavings(
    ride: Match, there: Samples, ride_at: FloatArray, plan_at: FloatArray, off: FloatArray,
    missed: FloatArray,
) -> tuple[Leaving, ...]:  # fmt: skip
    if not len(ride_at):
        return ()
    found: list[Leaving] = []
    told = np.zeros(len(missed), dtype=np.bool_)
    for a, b in off.tolist():
        before = int(np.searchsorted(ride_at, a)) - 1
        after = int(np.searchsorted(ride_at, b))
        start = float(plan_at[before]) if before >= 0 else 0.0
        end = float(plan_at[after]) if after < len(plan_at) else float(there.at_m[-1])
        start, end = min(start, end), max(start, end)
        told |= (missed[:, 0] >= start - _LINE_M) & (missed[:, 1] <= end + _LINE_M)
        found.append(
            Leaving(from_m=a, to_m=b, plan_from_m=start, plan_to_m=end, ways=_ways(ride, a, b))
        )
    for a, b in missed[~told].tolist():
        at = float(np.interp(a, np.maximum.accumulate(plan_at), ride_at))
        found.append(Leaving(from_m=at, to_m=at, plan_from_m=a, plan_to_m=b, ways=()))
    return _merged(sorted(found, key=lambda item: (item.from_m, item.to_m)))


def _merged(found: list[Leaving]) -> tuple[Leaving, ...]:
    """Leavings of one part of the plan as one."""
    out: list[Leaving] = []
    for item in found:
        last = out[-1] if out else None
        if last is not None and item.plan_from_m < last.plan_to_m - 1.0:
            item = Leaving(
                from_m=last.from_m, to_m=max(last.to_m, item.to_m),
                plan_from_m=min(last.plan_from_m, item.plan_from_m),
                plan_to_m=max(last.plan_to_m, item.plan_to_m), ways=(*last.ways, *item.ways),
            )  # fmt: skip
            out.pop()
        out.append(item)
    return tuple(out)


def _ways(match: Match, from_m: float, to_m: float) -> tuple[tuple[int, float], ...]:
    """Ways of a part of the ride with the metres on each, in riding order."""
    length = np.minimum(match.to_m, to_m) - np.maximum(match.from_m, from_m)
    ways: list[tuple[int, float]] = []
    for leg in np.flatnonzero((length > 0.0) & (match.way_id >= 0)).tolist():
        way, m = int(match.way_id[leg]), float(length[leg])
        if ways and ways[-1][0] == way:
            ways[-1] = (way, ways[-1][1] + m)
        else:
            ways.append((way, m))
    return tuple(ways)


def sampled(match: Match) -> Samples:
    """Places along a match, in metres about its own middle."""
    return _samples(match, (float(match.lon.mean()), float(match.lat.mean())))
