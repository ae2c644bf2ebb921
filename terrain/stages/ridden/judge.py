"""What a recorded ride tells: moving and standing time, stops, night, and how it kept its plan."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime

import numpy as np

from terrain.calc.daylight import zone_at
from terrain.calc.sun import sun_position_deg
from terrain.errors import TrackError
from terrain.stages.ridden.clock import (
    Estimate,
    RideTimes,
    broken_between,
    clock_at,
    moving_at,
    moving_between,
    ride_times,
)
from terrain.stages.ridden.compare import Compared
from terrain.stages.ridden.rests import Knots
from terrain.text.message import message
from terrain.values.arrays import BoolArray, FloatArray, even_rows
from terrain.values.ground import Ground, GroundKind
from terrain.values.match import Match
from terrain.values.ridden import (
    STOP_S,
    TRIMMED_M,
    Leaving,
    PlanFollowed,
    PlanStretch,
    Ridden,
    RiddenPart,
    Stop,
    TimeOn,
)
from terrain.values.ride import Speeds
from terrain.values.route import Problem
from terrain.values.trip import Rider
from terrain.values.zones import ZoneGrid

# Common practice, no source.
_SAME_STOP_M = 60.0
_SAME_STOP_S = 120.0
_DUSK_DEG = -6.0  # civil twilight by definition
# Common practice, no source.
_SHOWN_GAP_M = 400.0
_OTHER_TRIP = 0.02  # share in common under which the plan is of another trip
_LITTLE = 0.3
_UNMAPPED = 0.2
# Error of riding time: what the draws lack of it (fitted on simulated rides of other draws than
# those scored), part of the whole that the ends of rests and of the ride leave open, and the
# factor of 90 % of a normal distribution.
_WIDER, _RESTS_END, _NINETY = 1.25, 0.007, 1.645
_ROUGH, _CLOSE_S = 0.03, 20.0
_GRADES = ((4.0, "under 4 %"), (8.0, "4 to 8 %"), (np.inf, "over 8 %"))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class RiddenInputs:
    """A recording laid on the map.

    at_m : place of each knot along the match, shape (k,); grade_pct : of each stretch
    remote : parts beyond the operator's limits of help [m], (n, 2); None if not asked
    zones : those of the region
    plan : what the plan was, if there was one; plan_length_m, plan_s : its length and time
    """

    name: str
    source: str
    region: str
    knots: Knots
    match: Match
    at_m: FloatArray
    ground: Ground
    speeds: Speeds
    grade_pct: tuple[float | None, ...]
    rider: Rider
    bike_class: str | None
    problems: tuple[Problem, ...]
    zones: ZoneGrid | None = None
    remote: FloatArray | None = None
    plan: Compared | None = None
    plan_name: str = ""
    plan_length_m: float = 0.0
    plan_s: float = 0.0
    plan_stretches: tuple[PlanStretch, ...] = ()


def judge_ridden(inputs: RiddenInputs) -> Ridden:
    """What the ride tells, without its first and last 1,500 m.

    Raises TrackError for a ride of less than twice that, and for a plan of another trip.
    """
    length = inputs.match.length_m
    if length < 2.0 * TRIMMED_M + 100.0:
        raise TrackError(
            message("the ride is no longer than the 1.5 km that are left out at both ends"),
            inputs.source,
            message("Send a longer ride."),
        )
    estimate: Estimate = inputs.speeds.at_s
    times = ride_times(inputs.knots, inputs.at_m, estimate)
    kept = (TRIMMED_M, length - TRIMMED_M)
    ends = np.array(kept)
    parts = _parts(inputs, times, estimate, kept)
    if all(part.moving_s is None for part in parts):
        raise TrackError(
            message(
                "its fixes do not tell how long the ride took: it leaps over all of {length_m}",
                length_m=length,
            ),
            inputs.source,
            message("Send the recording as the tracker kept it, a fix each five minutes or less."),
        )
    moved = moving_at(times, ends, estimate)
    moving_s = float(moved[1] - moved[0])
    low_s, high_s = _band(moving_between(times, ends, estimate), moving_s)
    gap_s = float(np.median(np.diff(inputs.knots.arrive_s)))
    stood = _stood(times, kept)
    expected = estimate(ends)
    clock = clock_at(times, ends)
    start = _local(inputs, kept[0], float(clock[0]))
    # The band of the whole ride, as shares of its time.
    whole = max(inputs.speeds.total_s, 1.0)
    low, high = inputs.speeds.total_low_s / whole, inputs.speeds.total_high_s / whole
    return Ridden(
        name=inputs.name, region=inputs.region, rider=inputs.rider,
        bike_class=inputs.bike_class, day=start.date(), start_time=_told(start),
        end_time=_told(_local(inputs, kept[1], float(clock[1]))),
        length_m=kept[1] - kept[0], moving_s=moving_s, moving_low_s=low_s,
        moving_high_s=high_s, standing_s=stood,
        expected_s=float(expected[1] - expected[0]),
        expected_low_s=float(expected[1] - expected[0]) * low,
        expected_high_s=float(expected[1] - expected[0]) * high,
        night_s=_night_s(inputs.match, times, kept),
        far_s=_far_s(inputs.remote, times, kept),
        median_gap_s=gap_s,
        stops=_stops(inputs, times, kept), parts=parts, times=_by_kind(parts),
        plan=_plan(inputs, kept),
        problems=(*_problems(inputs), *_rough(moving_s, low_s, high_s, gap_s)),
    )  # fmt: skip


def _band(drawn_s: FloatArray, moving_s: float) -> tuple[float, float]:
    """90 % of the riding time: what the gaps do not tell, and what no gap does."""
    whole = _NINETY * float(np.hypot(_WIDER * drawn_s.std(), _RESTS_END * moving_s))
    return max(moving_s - whole, 0.0), moving_s + whole


def _rough(moving_s: float, low_s: float, high_s: float, gap_s: float) -> tuple[Problem, ...]:
    if high_s - moving_s <= _ROUGH * moving_s or gap_s < _CLOSE_S:
        return ()
    return (
        Problem(
            code="rough-times", where="",
            what=message(
                "it rode between {low_s} and {high_s}: short stops do not show between fixes "
                "{gap_s} apart",
                low_s=low_s, high_s=high_s, gap_s=gap_s,
            ),
            action=message("set the tracker to a fix each 30 s or less"),
        ),
    )  # fmt: skip


def _told(moment: datetime) -> str:
    return moment.isoformat(timespec="seconds")


def _local(inputs: RiddenInputs, at_m: float, unix_s: float) -> datetime:
    (lon,), (lat,) = inputs.match.lonlat(np.array([at_m]))
    zone = zone_at(float(lon), float(lat), inputs.zones)
    return datetime.fromtimestamp(unix_s, tz=UTC).astimezone(zone)


def _parts(
    inputs: RiddenInputs, times: RideTimes, estimate: Estimate, kept: tuple[float, float]
) -> tuple[RiddenPart, ...]:
    rows = [
        (s, grade)
        for s, grade in zip(inputs.ground.stretches, inputs.grade_pct, strict=True)
        if s.to_m > kept[0] and s.from_m < kept[1]
    ]
    low = np.maximum([s.from_m for s, _ in rows], kept[0])
    high = np.minimum([s.to_m for s, _ in rows], kept[1])
    moving = moving_at(times, high, estimate) - moving_at(times, low, estimate)
    expected = estimate(high) - estimate(low)
    broken = broken_between(times, low, high)
    clock = clock_at(times, high) - clock_at(times, np.array([kept[0]]))
    shown = ~_mostly_in(low, high, _far_gaps(times))
    off = None if inputs.plan is None else _mostly_in(low, high, inputs.plan.off)
    return tuple(
        RiddenPart(
            from_m=float(low[i] - kept[0]), to_m=float(high[i] - kept[0]),
            way_id=s.way_id, highway=s.highway, name=s.name, ground=s.ground, p=s.p,
            basis=s.basis, severity=s.severity, grade_pct=grade,
            moving_s=None if broken[i] else float(moving[i]), expected_s=float(expected[i]),
            clock_s=float(clock[i]),
            off_plan=None if off is None else bool(off[i]), shown=bool(shown[i]),
        )
        for i, (s, grade) in enumerate(rows)
    )  # fmt: skip


def _far_gaps(times: RideTimes) -> FloatArray:
    """Parts of the ride between fixes too far apart to show the way."""
    far = np.flatnonzero(np.diff(times.at_m) > _SHOWN_GAP_M)
    return np.column_stack([times.at_m[far], times.at_m[far + 1]])


def _mostly_in(low: FloatArray, high: FloatArray, spans: FloatArray) -> BoolArray:
    """Whether more than half of each part lies in spans that do not overlap."""
    inside = np.zeros(len(low))
    if len(spans):
        starts, ends = spans[:, 0], spans[:, 1]
        sums = np.concatenate([[0.0], np.cumsum(ends - starts)])

        def covered(at: FloatArray) -> FloatArray:
            row = np.searchsorted(starts, at, side="right")
            last = np.maximum(row - 1, 0)
            beyond = np.where(row > 0, np.maximum(ends[last] - at, 0.0), 0.0)
            return np.asarray(sums[row] - beyond, dtype=np.float64)

        inside = covered(high) - covered(low)
    return np.asarray(inside > 0.5 * (high - low), dtype=np.bool_)


def _stood(times: RideTimes, kept: tuple[float, float]) -> float:
    inside = (times.at_m > kept[0]) & (times.at_m < kept[1])
    return float(times.stood_s[inside].sum())


def _stops(inputs: RiddenInputs, times: RideTimes, kept: tuple[float, float]) -> tuple[Stop, ...]:
    """Standing for three minutes or more; rests close in place and time are one stop."""
    rows = np.flatnonzero((times.stood_s >= 20.0) & (times.at_m > kept[0]) & (times.at_m < kept[1]))
    runs: list[list[int]] = []
    for i in rows.tolist():
        near = bool(runs) and (
            times.at_m[i] - times.at_m[runs[-1][-1]] <= _SAME_STOP_M
            and times.arrive_s[i] - times.leave_s[runs[-1][-1]] <= _SAME_STOP_S
        )
        if near:
            runs[-1].append(i)
        else:
            runs.append([i])
    found = []
    for run in runs:
        stood = float(times.stood_s[run].sum())
        if stood < STOP_S:
            continue
        at = float(times.at_m[run[0]])
        start = float(times.arrive_s[run[0]])
        end = max(float(times.leave_s[run[-1]]), start + stood)
        found.append(
            Stop(
                at_m=at - kept[0], standing_s=stood,
                from_time=_told(_local(inputs, at, start)), to_time=_told(_local(inputs, at, end)),
                lon=float(np.interp(at, inputs.match.at_m, inputs.match.lon)),
                lat=float(np.interp(at, inputs.match.at_m, inputs.match.lat)),
            )
        )  # fmt: skip
    return tuple(found)


def _night_s(match: Match, times: RideTimes, kept: tuple[float, float]) -> float:
    inside = (times.at_m[:-1] > kept[0]) & (times.at_m[:-1] < kept[1])
    lon = np.interp(times.at_m[:-1], match.at_m, match.lon)
    lat = np.interp(times.at_m[:-1], match.at_m, match.lat)
    height, _ = sun_position_deg(times.leave_s[:-1], lon, lat)
    return float(np.diff(times.moving_s)[inside & (height < _DUSK_DEG)].sum())


def _far_s(remote: FloatArray | None, times: RideTimes, kept: tuple[float, float]) -> float | None:
    """Longest time without a break on one part far from help, rests included."""
    if remote is None:
        return None
    low, high = np.maximum(remote[:, 0], kept[0]), np.minimum(remote[:, 1], kept[1])
    return float(np.max(clock_at(times, high) - clock_at(times, low), initial=0.0))


def _by_kind(parts: tuple[RiddenPart, ...]) -> tuple[TimeOn, ...]:
    """Moving time against the estimate by ground, severity and grade, of parts that are known."""
    sums: dict[tuple[str, str], list[float]] = {}
    for part in parts:
        if part.moving_s is None:
            continue
        keys = [("ground", part.ground.value)]
        if part.ground is not GroundKind.FERRY:
            if part.severity is not None:
                keys.append(("severity", str(int(part.severity))))
            if part.grade_pct is not None:
                steep = abs(part.grade_pct)
                keys.append(("grade", next(word for most, word in _GRADES if steep < most)))
        for key in keys:
            row = sums.setdefault(key, [0.0, 0.0, 0.0])
            row[0] += part.length_m
            row[1] += part.moving_s
            row[2] += part.expected_s
    order = {"ground": 0, "severity": 1, "grade": 2}
    return tuple(
        TimeOn(by=by, what=what, length_m=row[0], moving_s=row[1], expected_s=row[2])
        for (by, what), row in sorted(sums.items(), key=lambda item: (order[item[0][0]], item[0]))
    )


def _plan(inputs: RiddenInputs, kept: tuple[float, float]) -> PlanFollowed | None:
    if inputs.plan is None:
        return None
    compared = inputs.plan
    if compared.common_m < _OTHER_TRIP * min(inputs.match.length_m, inputs.plan_length_m):
        raise TrackError(
            message("the ride has next to nothing in common with the plan"),
            inputs.source,
            message("Name the plan of this trip."),
        )
    low, high = np.maximum(compared.off[:, 0], kept[0]), np.minimum(compared.off[:, 1], kept[1])
    return PlanFollowed(
        name=inputs.plan_name, length_m=inputs.plan_length_m, planned_s=inputs.plan_s,
        off_plan_m=float(np.maximum(high - low, 0.0).sum()),
        missed_m=float((compared.missed[:, 1] - compared.missed[:, 0]).sum()),
        leavings=tuple(_trimmed(item, kept) for item in compared.leavings
                       if item.to_m >= kept[0] and item.from_m <= kept[1]),
        stretches=inputs.plan_stretches, anchors=_anchors(compared, kept),
    )  # fmt: skip


def _anchors(compared: Compared, kept: tuple[float, float]) -> tuple[tuple[float, float], ...]:
    """Some places on both, enough to draw one above the other."""
    inside = np.flatnonzero((compared.ride_at_m >= kept[0]) & (compared.ride_at_m <= kept[1]))
    if not len(inside):
        return ()
    some = inside[even_rows(len(inside), 400)]
    return tuple(
        (float(a - kept[0]), float(b))
        for a, b in zip(compared.ride_at_m[some], compared.plan_at_m[some], strict=True)
    )


def _trimmed(item: Leaving, kept: tuple[float, float]) -> Leaving:
    return Leaving(
        from_m=max(item.from_m, kept[0]) - kept[0], to_m=min(item.to_m, kept[1]) - kept[0],
        plan_from_m=item.plan_from_m, plan_to_m=item.plan_to_m, ways=item.ways,
    )  # fmt: skip


def _problems(inputs: RiddenInputs) -> tuple[Problem, ...]:
    found = list(inputs.problems)
    match = inputs.match
    if match.unmapped_m > _UNMAPPED * match.length_m:
        found.append(
            Problem(
                code="off-the-map", where="",
                what=message(
                    "{unmapped_m} of {length_m} lie on no mapped way of the region",
                    unmapped_m=match.unmapped_m, length_m=match.length_m,
                ),
                action=message("nothing is learned from them"),
            )
        )  # fmt: skip
    if inputs.plan is not None and inputs.plan.common_m < _LITTLE * inputs.plan_length_m:
        found.append(
            Problem(
                code="little-of-the-plan", where="",
                what=message(
                    "only {common_m} of the {plan_m} planned were ridden",
                    common_m=inputs.plan.common_m, plan_m=inputs.plan_length_m,
                ),
                action=message("compared all the same; see that it is the plan of this trip"),
            )
        )  # fmt: skip
    return tuple(found)
