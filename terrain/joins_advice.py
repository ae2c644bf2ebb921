"""What the advice is made from, gathered from the other stages."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from scipy.spatial import cKDTree

from terrain.calc.geodesy import metres_per_degree
from terrain.joins_doubt import Errors, errors_of, gaps_of, other_ways_of
from terrain.stages.days.fuel import FuelGap
from terrain.values.advice import (
    AdviceInputs,
    AdviceStretch,
    ClassReach,
    HeatFacts,
    LawKind,
    Spot,
)
from terrain.values.clock import RideClock
from terrain.values.fleet import Fleet
from terrain.values.ground import Ground, GroundKind, OtherWay, WayGround
from terrain.values.heat import Heat
from terrain.values.help import Help, HelpKind
from terrain.values.match import Match
from terrain.values.places import AreaRun
from terrain.values.relief import Relief
from terrain.values.ride import Speeds
from terrain.values.trip import Trip
from terrain.values.views import PLACE_KINDS, PlaceKind, PlacesView, RoadsView, WayFlag

_LAWS: tuple[tuple[WayFlag, LawKind], ...] = (
    (WayFlag.NO_MOTORCYCLE, LawKind.CLOSED),
    (WayFlag.PRIVATE, LawKind.PRIVATE),
    (WayFlag.DESTINATION, LawKind.DESTINATION),
    (WayFlag.PATH, LawKind.NO_MOTOR_ROAD),
    (WayFlag.TOLL, LawKind.TOLL),
    (WayFlag.CONDITIONAL, LawKind.CONDITIONAL),
    (WayFlag.UNDER_CONSTRUCTION, LawKind.CONSTRUCTION),
    (WayFlag.DISUSED, LawKind.DISUSED),
    (WayFlag.BARRIER, LawKind.BARRIER),
)
# Nodes on the way that matter, and what the advice calls them.
_SPOTS: dict[PlaceKind, str] = {
    PlaceKind.FORD: "ford",
    PlaceKind.BORDER: LawKind.BORDER.value,
    PlaceKind.BARRIER: LawKind.BARRIER.value,
}
_ON_RIDE_M = 8.0  # a node of the ridden way lies on the ride, but for rounding
_NEAR_PLACE_M = 1_000.0  # a place this close is one the ride passes
_CAUTION_MEASURE = "heat_index_c"  # its first level is the lowest published for a rider


def advice_inputs(
    *,
    match: Match,
    roads: RoadsView,
    places: PlacesView,
    ground: Ground,
    relief: Relief,
    speeds: Speeds,
    heat: Heat,
    help_: Help,
    clock: RideClock,
    fuel: FuelGap,
    trip: Trip,
    fleet: Fleet,
    way_ground: WayGround,
    others: Sequence[OtherWay] = (),
    areas: tuple[AreaRun, ...] | None = None,
) -> AdviceInputs:
    """The ride in the numbers that the advice needs."""
    mechanic, hospital = help_.kind(HelpKind.MECHANIC), help_.kind(HelpKind.HOSPITAL)
    longest = int(np.argmax(clock.day_riding_s))
    top_m, top_at_m, rise_m = _heights(relief)
    return AdviceInputs(
        stretches=_stretches(
            ground, roads, relief, speeds, errors_of(ground, match, roads, way_ground)
        ),
        gaps=gaps_of(match),
        other_ways=other_ways_of(others, match, roads, way_ground, relief, trip),
        trip=trip,
        fleet=fleet,
        month=None if trip.depart is None else trip.depart.month,
        n_days=clock.n_days,
        day_s=float(clock.day_riding_s[longest]),
        day_from_m=float(clock.begins_m[longest]),
        day_to_m=float(clock.ends_m[longest]),
        days=tuple(zip(clock.begins_m.tolist(), clock.ends_m.tolist(), strict=True)),
        max_ele_m=top_m, max_ele_at_m=top_at_m, rise_m=rise_m, ramps=_ramps(relief),
        mechanic_s=mechanic.farthest_s, mechanic_m=mechanic.farthest_m,
        mechanic_at_m=mechanic.farthest_s_at_m,
        remote_m=sum(run.to_m - run.from_m for run in help_.remote),
        hospital_s=hospital.farthest_s, hospital_at_m=hospital.farthest_s_at_m,
        reach=_class_reach(help_),
        fuel_gap_m=fuel.gap_m, fuel_gap_from_m=fuel.from_m, fuel_gap_tarmac_m=fuel.tarmac_m,
        heat=_heat(heat),
        spots=spots_on(match, places),
        areas=areas,
        places=_named(match, places),
    )  # fmt: skip


def _class_reach(help_: Help) -> tuple[ClassReach, ...]:
    return tuple(
        ClassReach(
            name=reach.name, known=reach.known, farthest_s=reach.farthest_s,
            farthest_m=reach.farthest_m, at_m=reach.farthest_at_m, remote_m=reach.remote_m,
        )
        for reach in help_.classes
    )  # fmt: skip


def _stretches(
    ground: Ground, roads: RoadsView, relief: Relief, speeds: Speeds, errors: list[Errors]
) -> tuple[AdviceStretch, ...]:
    from_m = np.array([s.from_m for s in ground.stretches])
    to_m = np.array([s.to_m for s in ground.stretches])
    grade = relief.grade_between(from_m, to_m)
    made = []
    for i, stretch in enumerate(ground.stretches):
        flags = WayFlag(int(roads.ways.flags[stretch.way])) if stretch.way >= 0 else WayFlag(0)
        ferry = stretch.ground is GroundKind.FERRY
        made.append(
            AdviceStretch(
                from_m=stretch.from_m,
                to_m=stretch.to_m,
                ground=stretch.ground,
                p=stretch.p,
                time_s=0.0 if ferry else float(speeds.time_s[i]),
                speed_kph=None if ferry else float(speeds.speed_kph[i]),
                severity=None if stretch.severity is None else float(stretch.severity),
                season_risk=stretch.season_risk,
                grade_pct=None if np.isnan(grade[i]) or ferry else float(grade[i]),
                basis=stretch.basis,
                highway=stretch.highway,
                surface=stretch.surface,
                name=stretch.name,
                way=stretch.way,
                errors=errors[i],
                ford=WayFlag.FORD in flags,
                smoothness=roads.ways.smoothness.text(stretch.way) if stretch.way >= 0 else None,
                laws=() if ferry else _laws(flags),
            )
        )
    return tuple(made)


def _laws(flags: WayFlag) -> tuple[LawKind, ...]:
    """A path is no motor road by default; a tag that names motors and opens it is stronger."""
    found = tuple(law for flag, law in _LAWS if flag in flags)
    if WayFlag.MOTOR_OPEN in flags:
        return tuple(law for law in found if law is not LawKind.NO_MOTOR_ROAD)
    return found


def _heights(relief: Relief) -> tuple[float | None, float | None, float | None]:
    """Highest point, where it lies, and how far above the start."""
    known = np.flatnonzero(~np.isnan(relief.ele_m))
    if not len(known):
        return None, None, None
    top = known[int(np.argmax(relief.ele_m[known]))]
    start = relief.ele_m[0]
    rise = None if np.isnan(start) else float(relief.ele_m[top] - start)
    return float(relief.ele_m[top]), float(relief.at_m[top]), rise


def _ramps(relief: Relief) -> tuple[tuple[float, float, float], ...] | None:
    """Ramps that the elevation model can be trusted with; None if heights are not known."""
    if relief.source is None:
        return None
    return tuple((r.from_m, r.to_m, r.grade_pct) for r in relief.ramps if not r.doubtful)


def _heat(heat: Heat) -> HeatFacts:
    rider, hardest = heat.rider, heat.hardest
    if rider is None:
        return HeatFacts()
    cautious = [level.hours for level in rider.hours_above if level.measure == _CAUTION_MEASURE]
    worst = max(hardest.runs, key=lambda run: run.time_s, default=None) if hardest else None
    return HeatFacts(
        max_air_temp_c=rider.max_air_temp_c,
        hot_at_m=rider.max_air_temp_at_m,
        max_heat_index_c=rider.max_heat_index_c,
        max_wbgt_c=rider.max_wbgt_c,
        max_wbgt_riding_c=rider.max_wbgt_riding_c,
        caution_s=3600.0 * max(cautious, default=0.0),
        fan_s=None if hardest is None else hardest.fan_s,
        fan_from_m=None if worst is None else worst.from_m,
        fan_to_m=None if worst is None else worst.to_m,
        class_fan_s=tuple((engine.bike, engine.fan_s) for engine in heat.engines),
    )


def _named(match: Match, places: PlacesView) -> tuple[Spot, ...]:
    """Settlements and passes with a name that the ride comes near, in riding order."""
    kinds = (PlaceKind.CITY, PlaceKind.TOWN, PlaceKind.VILLAGE, PlaceKind.HAMLET, PlaceKind.PASS)
    wanted = np.isin(places.kind, [PLACE_KINDS.index(kind) for kind in kinds])
    rows = np.flatnonzero(wanted & (places.name.codes >= 0))
    if not len(rows) or match.length_m <= 0:
        return ()
    m_lon, m_lat = metres_per_degree(float(match.lat.mean()))
    at_m = np.union1d(match.at_m, np.arange(0.0, match.length_m, 50.0))
    lon, lat = match.lonlat(at_m)
    tree = cKDTree(np.column_stack([lon * m_lon, lat * m_lat]))
    here = np.column_stack([places.lon[rows] * m_lon, places.lat[rows] * m_lat])
    found = tree.query(here, distance_upper_bound=_NEAR_PLACE_M)
    away, nearest = np.asarray(found[0]), np.asarray(found[1])
    spots = [
        Spot(at_m=float(at_m[nearest[i]]), kind="place", name=places.name.text(int(rows[i])))
        for i in np.flatnonzero(np.isfinite(away))
    ]
    return tuple(sorted(spots, key=lambda spot: spot.at_m))


def spots_on(match: Match, places: PlacesView) -> tuple[Spot, ...]:
    """Fords, border posts and barriers that are nodes of the ridden ways, in riding order."""
    wanted = np.isin(places.kind, [PLACE_KINDS.index(kind) for kind in _SPOTS])
    box = (places.lon >= match.lon.min() - 0.001) & (places.lon <= match.lon.max() + 0.001)
    box &= (places.lat >= match.lat.min() - 0.001) & (places.lat <= match.lat.max() + 0.001)
    rows = np.flatnonzero(wanted & box)
    if not len(rows):
        return ()
    m_lon, m_lat = metres_per_degree(float(match.lat.mean()))
    at_m = np.union1d(match.at_m, np.arange(0.0, match.length_m, 5.0))
    lon, lat = match.lonlat(at_m)
    tree = cKDTree(np.column_stack([lon * m_lon, lat * m_lat]))
    here = np.column_stack([places.lon[rows] * m_lon, places.lat[rows] * m_lat])
    found: list[Spot] = []
    for row, near in zip(rows, tree.query_ball_point(here, _ON_RIDE_M), strict=True):
        if near:
            kind = PLACE_KINDS[int(places.kind[row])]
            passes = np.sort(at_m[np.asarray(near)])
            visits = np.split(passes, np.flatnonzero(np.diff(passes) > 200.0) + 1)
            found += [
                Spot(at_m=float(v.mean()), kind=_SPOTS[kind], name=places.name.text(int(row)))
                for v in visits
            ]
    return tuple(sorted(found, key=lambda spot: spot.at_m))
