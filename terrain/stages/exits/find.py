"""For each off-road run: the way out, turning back included, and the last point of decision."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from terrain.calc.along import Samples, sample_ride
from terrain.stages.exits.leaving import ExitSearch, Ways, on_edges, ways_to
from terrain.stages.exits.runs import OffRoadRun, off_road_runs
from terrain.stages.exits.sides import side_exits
from terrain.stages.exits.van import meeting_points, van_from, van_gaps
from terrain.stages.exits.words import exit_words
from terrain.stages.matching.remarks import outside_region
from terrain.values.arrays import BoolArray, FloatArray
from terrain.values.exits import Exit, ExitPoint, WayOut
from terrain.values.help import HelpFields
from terrain.values.ride import Ride
from terrain.values.views import RoadsView

# Times no further apart are told alike; which of them is longest is rounding. Common practice, no
# source.
_ALIKE_S = 1.0


def find_exits(ride: Ride, roads: RoadsView, fields: HelpFields) -> tuple[Exit, ...]:
    """The ways out of each off-road run of the ride, in riding order.

    A run lasts from paved network to paved network. Times are at the pace the fields were made
    with, and the ride's own along it. Only mapped roads count: of a run that lies mostly beyond the
    region nothing can be said.
    """
    samples = sample_ride(ride, roads)
    beyond = outside_region(ride.match, roads)
    runs = tuple(
        run for run in off_road_runs(ride, samples, fields.edge_paved)
        if _within_m(run, beyond) <= (run.to_m - run.from_m) / 2
    )  # fmt: skip
    if not runs:
        return ()
    paved = ways_to(samples, roads, fields, fields.to_paved, _on_paved(samples, runs, fields))
    van = ways_to(
        samples, roads, fields, fields.to_van_road, on_edges(samples, fields.edge_van_network)
    )
    leaver = ExitSearch(ride, roads, fields, samples, paved)
    return tuple(_exit(leaver, van, run) for run in runs)


def _within_m(run: OffRoadRun, parts: Sequence[tuple[float, float]]) -> float:
    return sum(max(min(run.to_m, to_m) - max(run.from_m, from_m), 0.0) for from_m, to_m in parts)


def _on_paved(samples: Samples, runs: tuple[OffRoadRun, ...], fields: HelpFields) -> BoolArray:
    """Samples on the paved network, less those inside a run (a local note may call it unpaved)."""
    there = on_edges(samples, fields.edge_paved)
    for run in runs:
        there[run.first : run.last + 1] = False
    return there


def _exit(leaver: ExitSearch, van: Ways, run: OffRoadRun) -> Exit:
    ride, roads, fields, samples = leaver.ride, leaver.roads, leaver.fields, leaver.samples
    cost = leaver.ways.cost[run.first : run.last + 1]
    unknown = np.isnan(cost)
    farthest = None if unknown.all() else run.first + first_longest(cost)
    worst = None if farthest is None else leaver.leave(run, farthest)
    sides = side_exits(ride, roads, fields, samples, run)
    spot, commit_m, commit_s = _last_decision(ride, run, sides)
    before, after, passable = meeting_points(ride, samples, van, run)
    meet, meet_s = (None, None)
    if farthest is not None:
        meet, meet_s = van_from(ride, roads, fields, samples, van, farthest)
    steps = samples.step_m[run.first : run.last]
    out = Exit(
        from_m=run.from_m,
        to_m=run.to_m,
        ride_s=float(samples.ride_s[run.last] - samples.ride_s[run.first]),
        worst=worst,
        unknown_m=float(steps[unknown[1:] | unknown[:-1]].sum()),
        sides=sides,
        last_decision=spot,
        commit_m=commit_m,
        commit_s=commit_s,
        turn_back_until_m=_turn_back_until(ride, samples, run, fields),
        van_before=before,
        van_after=after,
        van_worst=meet,
        van_worst_s=meet_s,
        van_passes=passable,
        van_gaps=van_gaps(samples, van, run),
        words="",
    )
    return exit_words(out)


def first_longest(time_s: FloatArray) -> int:
    """Where the longest of some times is, the first on the ride of those that are as long; NaN is
    none."""
    return int(np.flatnonzero(time_s >= np.nanmax(time_s) - _ALIKE_S)[0])


def _last_decision(
    ride: Ride, run: OffRoadRun, sides: tuple[WayOut, ...]
) -> tuple[ExitPoint, float, float]:
    """Start, length and riding time of the longest part between points where one can choose."""
    at = np.array([run.from_m, *(way.at_m for way in sides), run.to_m])
    time_s = ride.time_s(at)
    longest = first_longest(np.diff(time_s))
    start = float(at[longest])
    lon, lat = ride.lonlat(start)
    name = ride.road_name(start if longest else max(start - 1.0, 0.0))
    return (
        ExitPoint(lon=lon, lat=lat, at_m=start, name=name),
        float(at[longest + 1] - at[longest]),
        float(time_s[longest + 1] - time_s[longest]),
    )


def _turn_back_until(
    ride: Ride, samples: Samples, run: OffRoadRun, fields: HelpFields
) -> float | None:
    """Where riding on becomes as quick as turning back; None unless both ends are paved."""
    turns = bool(samples.can_turn[run.first : run.last].all())
    if not turns or not _comes_from_paved(samples, run, fields):
        return None
    if not _goes_to_paved(samples, run, fields):
        return None
    middle = (samples.ride_s[run.first] + samples.ride_s[run.last]) / 2
    return float(ride.at_time(np.array([middle]))[0])


def _comes_from_paved(samples: Samples, run: OffRoadRun, fields: HelpFields) -> bool:
    edge = samples.edge[run.first - 1] if run.first > 0 else -1
    return bool(edge >= 0 and fields.edge_paved[edge])


def _goes_to_paved(samples: Samples, run: OffRoadRun, fields: HelpFields) -> bool:
    edge = samples.edge[run.last + 1] if run.last + 1 < len(samples.edge) else -1
    return bool(edge >= 0 and fields.edge_paved[edge])
