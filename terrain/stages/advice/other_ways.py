"""The other ways a ride may have gone, each with its ground and riding time."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from terrain.stages.advice.case import AdviceStretch, AlternativeRoute, Alternatives, three
from terrain.stages.ground.season import RidePart, unridden_risks
from terrain.stages.ground.shares import errors_by_piece, shared_errors
from terrain.stages.speed.judge import way_speeds
from terrain.stages.ways.severity import severity_of
from terrain.values.ground import BASES, LAND_GROUNDS, Alternative, Basis, WayGround
from terrain.values.match import Match
from terrain.values.relief import Relief
from terrain.values.trip import Trip
from terrain.values.views import RoadsView

_LEAST_M = 1.0  # less of a way than this is rounding


def other_ways_of(
    others: Sequence[Alternative],
    match: Match,
    roads: RoadsView,
    way_ground: WayGround,
    relief: Relief,
    trip: Trip,
) -> tuple[Alternatives, ...]:
    """The parts with several plausible ways; each other way with its ground and riding time.

    Nobody rode them, so their season is judged at the height of the ridden way between.
    """
    found = []
    for from_m, to_m in sorted({(o.from_m, o.to_m) for o in others}):
        here = [o for o in others if (o.from_m, o.to_m) == (from_m, to_m)]
        middle = np.array([(from_m + to_m) / 2])
        lon, lat = match.lonlat(middle)
        place = RidePart(lon=lon, lat=lat, ele_m=relief.ele_at(middle))
        ways = tuple(
            AlternativeRoute(
                weight=o.weight, stretches=_stretches(o, place, roads, way_ground, trip)
            )
            for o in here
            if not o.ridden
        )
        ridden = sum(o.weight for o in here if o.ridden)
        if ways and ridden > 0:
            found.append(Alternatives(from_m=from_m, to_m=to_m, weight=ridden, ways=ways))
    return tuple(found)


def _stretches(
    option: Alternative,
    place: RidePart,
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
    basis = way_ground.basis[way]
    speeds = way_speeds(
        roads, way, option.length_m[keep], p, severity.astype(float),
        basis == BASES.index(Basis.INFERRED), trip=trip,
    )  # fmt: skip
    found = shared_errors(
        roads.ways, way_ground, way=way, basis=basis,
        lon=np.repeat(place.lon, len(way)), lat=np.repeat(place.lat, len(way)),
    )  # fmt: skip
    risks = unridden_risks(
        roads.ways, way, p, place, None if trip.depart is None else trip.depart.month
    )
    return tuple(
        AdviceStretch(
            from_m=float(ends[i]),
            to_m=float(ends[i + 1]),
            ground=LAND_GROUNDS[int(np.argmax(p[i]))],
            p=three(p[i]),
            time_s=float(speeds.time_s[i]),
            usual_s=float(speeds.usual_s[i]),
            ground_s=three(speeds.ground_s[i]),
            severity=float(severity[i]),
            season_risk=risks[i],
            basis=BASES[basis[i]],
            way=int(way[i]),
            errors=errors,
        )
        for i, errors in enumerate(errors_by_piece(*found))
    )
