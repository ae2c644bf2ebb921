"""What the advice must know of doubt: errors that hang together, gaps, and other ways meant."""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from terrain.stages.ground.season import season_risks, snow_may_close
from terrain.stages.ground.shares import shared_errors
from terrain.stages.speed.judge import judge_speed
from terrain.stages.speed.pace import SpeedInputs
from terrain.stages.ways.severity import severity_of
from terrain.tables.climate.sites import (
    height_or_countrys_m,
    rain_mm_by_month,
    temp_c_by_month,
)
from terrain.values.advice import AdviceStretch, OneWay, OtherWays
from terrain.values.arrays import FloatArray, IntArray
from terrain.values.ground import (
    BASES,
    LAND,
    Ground,
    OtherWay,
    SeasonRisk,
    Severity,
    WayGround,
)
from terrain.values.match import LegKind, Match
from terrain.values.relief import Relief
from terrain.values.trip import Trip
from terrain.values.views import RoadsView

Errors = tuple[tuple[int, float], ...]
_LEAST_M = 1.0  # less of a way than this is rounding


def errors_of(
    ground: Ground, match: Match, roads: RoadsView, way_ground: WayGround
) -> list[Errors]:
    """For each stretch of the ride what its error is shared with; empty off the map."""
    out: list[Errors] = [()] * len(ground.stretches)
    on = [i for i, s in enumerate(ground.stretches) if s.way >= 0 and s.basis is not None]
    if not on:
        return out
    picked = [ground.stretches[i] for i in on]
    middle = np.array([(s.from_m + s.to_m) / 2 for s in picked])
    group, shared = shared_errors(
        roads.ways,
        way_ground,
        way=np.array([s.way for s in picked], dtype=np.int64),
        basis=np.array([BASES.index(s.basis) for s in picked if s.basis], dtype=np.int8),
        lon=np.interp(middle, match.at_m, match.lon),
        lat=np.interp(middle, match.at_m, match.lat),
    )
    for i, errors in zip(on, _pairs(group, shared), strict=True):
        out[i] = errors
    return out


def _pairs(group: IntArray, shared: FloatArray) -> list[Errors]:
    return [
        tuple(zip(names, parts, strict=True))
        for names, parts in zip(group.tolist(), shared.tolist(), strict=True)
    ]


def gaps_of(match: Match) -> tuple[tuple[float, float], ...]:
    """Parts of the ride routed between two drawn points too far apart to show the way."""
    points = np.unique(match.point_at_m[~np.isnan(match.point_at_m)])
    filled = match.filled & (match.kind == LegKind.MATCHED)
    change = np.flatnonzero(np.diff(np.r_[False, filled, False].astype(np.int8)))
    found: list[tuple[float, float]] = []
    for start, stop in zip(change[::2], change[1::2], strict=True):
        low, high = float(match.from_m[start]), float(match.to_m[stop - 1])
        cuts = np.unique(np.r_[low, points[(points > low) & (points < high)], high])
        found += [(float(a), float(b)) for a, b in itertools.pairwise(cuts)]
    return tuple(found)


class _Place(NamedTuple):
    """Where a part of the ride lies, shape (1,) each; ele_m NaN where not known."""

    lon: FloatArray
    lat: FloatArray
    ele_m: FloatArray


def other_ways_of(
    others: Sequence[OtherWay],
    match: Match,
    roads: RoadsView,
    way_ground: WayGround,
    relief: Relief,
    trip: Trip,
) -> tuple[OtherWays, ...]:
    """The parts with several plausible ways; each other way with its ground and riding time.

    Nobody rode them, so their season is judged at the height of the ridden way between.
    """
    found = []
    for from_m, to_m in sorted({(o.from_m, o.to_m) for o in others}):
        here = [o for o in others if (o.from_m, o.to_m) == (from_m, to_m)]
        middle = np.array([(from_m + to_m) / 2])
        place = _Place(
            lon=np.interp(middle, match.at_m, match.lon),
            lat=np.interp(middle, match.at_m, match.lat),
            ele_m=relief.ele_at(middle),
        )
        ways = tuple(
            OneWay(weight=o.weight, stretches=_stretches(o, place, roads, way_ground, trip))
            for o in here
            if not o.ridden
        )
        ridden = sum(o.weight for o in here if o.ridden)
        if ways and ridden > 0:
            found.append(OtherWays(from_m=from_m, to_m=to_m, weight=ridden, ways=ways))
    return tuple(found)


def _stretches(
    option: OtherWay,
    place: _Place,
    roads: RoadsView,
    way_ground: WayGround,
    trip: Trip,
) -> tuple[AdviceStretch, ...]:
    keep = (option.way >= 0) & (option.length_m > _LEAST_M)
    way = option.way[keep].astype(np.int64)
    if not len(way):
        return ()
    ends = np.r_[0.0, np.cumsum(option.length_m[keep])]
    p = np.asarray(way_ground.p[way], dtype=np.float64)
    severity = severity_of(roads.ways, way, p)
    inputs = _speed_inputs(roads, way, p, np.asarray(severity / float(max(Severity))))
    speeds = judge_speed(ends[:-1], ends[1:], inputs=inputs, trip=trip)
    group, shared = shared_errors(
        roads.ways, way_ground, way=way, basis=way_ground.basis[way],
        lon=np.repeat(place.lon, len(way)), lat=np.repeat(place.lat, len(way)),
    )  # fmt: skip
    risks = _season(roads, way, p, place, None if trip.depart is None else trip.depart.month)
    return tuple(
        AdviceStretch(
            from_m=float(ends[i]),
            to_m=float(ends[i + 1]),
            ground=LAND[int(np.argmax(p[i]))],
            p=(float(p[i, 0]), float(p[i, 1]), float(p[i, 2])),
            time_s=float(speeds.time_s[i]),
            severity=float(severity[i]),
            season_risk=risks[i],
            basis=BASES[way_ground.basis[way[i]]],
            way=int(way[i]),
            errors=errors,
        )
        for i, errors in enumerate(_pairs(group, shared))
    )


def _season(
    roads: RoadsView, way: IntArray, p: FloatArray, place: _Place, month: int | None
) -> tuple[SeasonRisk | None, ...]:
    if month is None:
        return season_risks(roads.ways, way, p, None)
    rain = rain_mm_by_month(place.lon, place.lat)[:, month - 1]
    ele_m = height_or_countrys_m(place.lon, place.lat, place.ele_m)
    temp_c = temp_c_by_month(place.lon, place.lat, ele_m)
    n = len(way)
    snow = snow_may_close(roads.ways, way, np.repeat(temp_c, n, axis=0), np.repeat(ele_m, n), month)
    return season_risks(roads.ways, way, p, np.repeat(rain, n), snow=snow)


def _speed_inputs(
    roads: RoadsView, way: IntArray, p: FloatArray, severity: FloatArray
) -> SpeedInputs:
    """Speed by class, ground and severity alone: nobody rode there, so there is no line."""
    n = len(way)
    return SpeedInputs(
        highway=roads.ways.highway.codes[way].astype(np.int16),
        highway_values=roads.ways.highway.values,
        maxspeed_kph=roads.ways.maxspeed_kph[way].astype(np.float64),
        p=p,
        severity=severity,
        grade_pct=np.full(n, np.nan),
        bend_deg_km=np.zeros(n),
        settled=np.zeros(n, dtype=np.bool_),
        ferry=np.zeros(n, dtype=np.bool_),
        ferry_kph=np.full(n, np.nan),
    )
