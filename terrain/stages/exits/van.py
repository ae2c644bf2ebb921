"""Where a van can meet a ride round an off-road run."""

from __future__ import annotations

import numpy as np

from terrain.calc.along import Samples
from terrain.calc.paths import way_out_nodes
from terrain.stages.exits.leaving import Ways
from terrain.stages.exits.runs import OffRoadRun
from terrain.values.arrays import BoolArray, FloatArray, spans
from terrain.values.exits import ExitPoint
from terrain.values.help import HelpFields
from terrain.values.ride import Ride
from terrain.values.views import RoadsView

_SAME_GAP_M = 1_000.0  # gaps closer than this are one to a van (common practice, no source)


def meeting_points(
    ride: Ride, samples: Samples, ways: Ways, run: OffRoadRun
) -> tuple[ExitPoint | None, ExitPoint | None, bool]:
    """The last point a van reaches before the run's first part it cannot use, and the first after.

    Returns: before, after, and whether a van can use the whole run, in which case the points
    are its ends. None where no such point lies on the ride.
    """
    here = ways.there
    inside = here[run.first : run.last + 1]
    if inside.all():
        return _spot(ride, run.from_m), _spot(ride, run.to_m), True
    gap = np.flatnonzero(~inside) + run.first
    before = _first(here[: gap[0]][::-1], samples.at_m[: gap[0]][::-1])
    after = _first(here[gap[-1] + 1 :], samples.at_m[gap[-1] + 1 :])
    return (
        None if before is None else _spot(ride, before),
        None if after is None else _spot(ride, after),
        False,
    )


def van_gaps(samples: Samples, ways: Ways, run: OffRoadRun) -> tuple[tuple[float, float], ...]:
    """The parts of a run that a van cannot use, from and to [m], from the last place it reaches."""
    here = ways.there[run.first : run.last + 1]
    at_m = samples.at_m[run.first : run.last + 1]
    gaps: list[tuple[float, float]] = []
    for first, last in spans(~here):
        start, end = float(at_m[max(first - 1, 0)]), float(at_m[min(last, len(at_m) - 1)])
        if gaps and start - gaps[-1][1] <= _SAME_GAP_M:
            gaps[-1] = gaps[-1][0], end
        else:
            gaps.append((start, end))
    return tuple(gaps)


def _first(there: BoolArray, at_m: FloatArray) -> float | None:
    """The first position that is there; looked for no farther than it lies."""
    if not there.any():
        return None
    return float(at_m[there.argmax()])


def van_from(
    ride: Ride, roads: RoadsView, fields: HelpFields, samples: Samples, ways: Ways, i: int
) -> tuple[ExitPoint | None, float | None]:
    """The quickest place a van can come to from sample i of a ride, and the rider's time to it."""
    if np.isnan(ways.cost[i]):
        return None, None
    origin = int(ways.origin[i])
    if ways.there[origin]:
        return _spot(ride, float(samples.at_m[origin])), float(ways.cost[i])
    node = way_out_nodes(fields.to_van_road.next_node, int(ways.node[origin]))[-1]
    spot = ExitPoint(lon=float(roads.node_lon[node]), lat=float(roads.node_lat[node]))
    return spot, float(ways.cost[i])


def _spot(ride: Ride, at_m: float) -> ExitPoint:
    lon, lat = ride.lonlat(at_m)
    return ExitPoint(lon=lon, lat=lat, at_m=at_m, name=ride.road_name(at_m))
