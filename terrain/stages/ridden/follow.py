"""A recording with far-apart fixes, filled in along its plan where it may have kept to it.

A fix each minute or two shows neither bend nor turning. Who planned a ride most likely followed
the plan between two fixes that both lie on it, unless the time between them forbids that.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from terrain.calc.geodesy import metres_per_degree, steps_m
from terrain.stages.ridden.compare import plan_places, sampled
from terrain.stages.ridden.rests import Knots
from terrain.values.arrays import FloatArray, IntArray
from terrain.values.match import Match
from terrain.values.ride import Speeds
from terrain.values.route import Route

# Common practice, no source.
_FAR_M = 120.0  # nearer fixes show the way themselves
_REACH_M = 25.0  # a fix this near the plan may be on it, and as many times the noise more
_LONGER = 4.0  # times the straight line, and the next, that the plan may take between two fixes
_MORE_M = 500.0
_FASTEST = 0.4  # of the estimated time: faster than this the plan was not ridden
_EACH_M = 40.0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Filled:
    """route : with points of the plan between; index : places of the own points in it, (k,)."""

    route: Route
    index: IntArray


def along_plan(route: Route, knots: Knots, plan: Match, speeds: Speeds) -> Filled:
    """The line of a recording with the plan's line between its far-apart fixes.

    speeds : riding times of the plan
    """
    step = steps_m(route.lon, route.lat)
    far = np.flatnonzero((step > _FAR_M) & (np.diff(route.piece) == 0))
    own = np.arange(route.n_points)
    if not len(far):
        return Filled(route=route, index=own)
    lon0, lat0 = float(plan.lon.mean()), float(plan.lat.mean())
    m_lon, m_lat = metres_per_degree(lat0)
    place = plan_places(
        (route.lon - lon0) * m_lon, (route.lat - lat0) * m_lat, sampled(plan),
        _REACH_M + 2.0 * knots.noise_m,
    )  # fmt: skip
    a, b = place[far], place[far + 1]
    gap_s = knots.leave_s[far + 1] - knots.arrive_s[far]
    planned_m = np.abs(b - a)
    may = (planned_m <= _LONGER * step[far] + _MORE_M) & (planned_m >= 0.9 * step[far] - _MORE_M)
    a_s, b_s = speeds.at_s(np.nan_to_num(a)), speeds.at_s(np.nan_to_num(b))
    may &= gap_s >= _FASTEST * np.abs(b_s - a_s)
    return _with_points(route, plan, far[may], a[may], b[may])


def _with_points(
    route: Route, plan: Match, after: IntArray, a_m: FloatArray, b_m: FloatArray
) -> Filled:
    """Points of the plan from a_m to b_m put in after the given points."""
    lon, lat, at = [route.lon], [route.lat], [np.arange(route.n_points, dtype=np.float64)]
    for i, a, b in zip(after.tolist(), a_m.tolist(), b_m.tolist(), strict=True):
        n = int(abs(b - a) / _EACH_M)
        if n < 1:
            continue
        share = np.arange(1, n + 1) / (n + 1)
        where = a + share * (b - a)
        lon.append(np.interp(where, plan.at_m, plan.lon))
        lat.append(np.interp(where, plan.at_m, plan.lat))
        at.append(i + share)
    place = np.concatenate(at)
    order = np.argsort(place, kind="stable")
    whole = place[order].astype(np.int64)
    none = np.zeros(len(order), dtype=np.bool_)
    index = np.flatnonzero(order < route.n_points)
    ele_m = np.full(len(order), np.nan)
    ele_m[index] = route.ele_m
    filled = replace(
        route, lon=np.concatenate(lon)[order], lat=np.concatenate(lat)[order],
        ele_m=ele_m, piece=route.piece[whole], shaping=none, planned=none,
    )  # fmt: skip
    return Filled(route=filled, index=index)
