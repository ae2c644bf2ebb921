"""What the other stages found, put in the shape that advice asks for."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.spatial import cKDTree

from terrain.calc.geodesy import metres_per_degree
from terrain.values.advice import (
    AdviceInputs,
    AdviceStretch,
    ClassReach,
    HeatFacts,
    LawKind,
    Spot,
)
from terrain.values.arrays import FloatArray
from terrain.values.fleet import Fleet
from terrain.values.ground import Ground, GroundKind, Stretch
from terrain.values.heat import Heat
from terrain.values.help import Help, HelpKind
from terrain.values.match import Match
from terrain.values.plan import Plan
from terrain.values.relief import Relief
from terrain.values.speed import Speeds
from terrain.values.trip import Trip
from terrain.values.views import PLACE_KINDS, PlaceKind, PlacesView, RoadsView, WayFlag, WayTable

_FLAGS: tuple[tuple[WayFlag, LawKind], ...] = (
    (WayFlag.NO_MOTORCYCLE, LawKind.CLOSED),
    (WayFlag.PRIVATE, LawKind.PRIVATE),
    (WayFlag.DESTINATION, LawKind.DESTINATION),
    (WayFlag.PATH, LawKind.NO_MOTOR_ROAD),
    (WayFlag.TOLL, LawKind.TOLL),
    (WayFlag.CONDITIONAL, LawKind.CONDITIONAL),
    (WayFlag.UNDER_CONSTRUCTION, LawKind.CONSTRUCTION),
)
_SPOTS: tuple[tuple[PlaceKind, str], ...] = (
    (PlaceKind.FORD, "ford"),
    (PlaceKind.BORDER, LawKind.BORDER.value),
    (PlaceKind.BARRIER, LawKind.BARRIER.value),
)
_ON_WAY_M = 15.0  # a point this close to the ride lies on it
_PUMP_M = 3_000.0  # a pump this far off the ride is still a place to fill up
_STEP_M = 10.0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Findings:
    """What the other stages found about one ride; None where there was nothing to find."""

    match: Match
    ground: Ground
    speeds: Speeds
    relief: Relief | None
    heat: Heat | None
    help: Help | None
    plan: Plan | None
    roads: RoadsView
    places: PlacesView


def gather(found: Findings, trip: Trip, fleet: Fleet, *, guide: bool = False) -> AdviceInputs:
    """The numbers that advice needs, from what the other stages found."""
    gap = _fuel_gap(found)
    relief, help_ = found.relief, found.help
    top = _top(relief)
    day = max(found.plan.days, key=lambda d: d.riding_s, default=None) if found.plan else None
    mechanic = help_.kind(HelpKind.MECHANIC) if help_ else None
    hospital = help_.kind(HelpKind.HOSPITAL) if help_ else None
    return AdviceInputs(
        stretches=_stretches(found),
        trip=trip,
        fleet=fleet,
        month=None if trip.depart is None else trip.depart.month,
        n_days=len(found.plan.days) if found.plan and found.plan.days else None,
        day_s=None if day is None else day.riding_s,
        day_from_m=None if day is None else day.from_m,
        day_to_m=None if day is None else day.to_m,
        max_ele_m=top[0],
        max_ele_at_m=top[1],
        rise_m=top[2],
        ramps=None
        if relief is None or relief.source is None
        else tuple((r.from_m, r.to_m, r.grade_pct) for r in relief.ramps if not r.doubtful),
        mechanic_s=None if mechanic is None else mechanic.farthest_s,
        mechanic_m=None if mechanic is None else mechanic.farthest_m,
        mechanic_at_m=None if mechanic is None else mechanic.farthest_s_at_m,
        remote_m=sum(r.to_m - r.from_m for r in help_.remote) if help_ else 0.0,
        hospital_s=None if hospital is None else hospital.farthest_s,
        hospital_at_m=None if hospital is None else hospital.farthest_s_at_m,
        reach=_reach(help_),
        fuel_gap_m=None if gap is None else gap[1] - gap[0],
        fuel_gap_from_m=None if gap is None else gap[0],
        heat=_heat(found.heat),
        spots=_spots(found),
        guide=guide,
    )


def _stretches(found: Findings) -> tuple[AdviceStretch, ...]:
    stretches = found.ground.stretches
    from_m = np.array([s.from_m for s in stretches], dtype=np.float64)
    to_m = np.array([s.to_m for s in stretches], dtype=np.float64)
    ends_s = found.speeds.at_s(np.concatenate([from_m, to_m]))
    time_s = np.maximum(ends_s[len(from_m) :] - ends_s[: len(from_m)], 0.0)
    grade = (
        np.full(len(stretches), np.nan)
        if found.relief is None
        else found.relief.grade_between(from_m, to_m)
    )
    roads = _road_numbers(stretches, found.roads.ways)
    return tuple(
        _stretch(s, found.roads.ways, float(time_s[i]), float(grade[i]), roads[i])
        for i, s in enumerate(stretches)
    )


def _stretch(
    stretch: Stretch, ways: WayTable, time_s: float, grade_pct: float, road: int
) -> AdviceStretch:
    flags = WayFlag(int(ways.flags[stretch.way])) if stretch.way >= 0 else WayFlag(0)
    ferry = stretch.ground is GroundKind.FERRY
    known_speed = time_s > 0 and not ferry
    return AdviceStretch(
        from_m=stretch.from_m,
        to_m=stretch.to_m,
        ground=stretch.ground,
        p=stretch.p,
        time_s=0.0 if ferry else time_s,
        speed_kph=3.6 * stretch.length_m / time_s if known_speed else None,
        severity=None if stretch.severity is None else float(stretch.severity),
        season_risk=stretch.season_risk,
        grade_pct=None if np.isnan(grade_pct) or ferry else grade_pct,
        basis=stretch.basis,
        highway=stretch.highway,
        surface=stretch.surface,
        name=stretch.name,
        road=road,
        ford=bool(flags & WayFlag.FORD),
        laws=() if ferry else tuple(law for flag, law in _FLAGS if flags & flag),
    )


def _road_numbers(stretches: tuple[Stretch, ...], ways: WayTable) -> list[int]:
    """One number for all stretches of a named or numbered road, else of a way."""
    numbers: dict[tuple[str, int], int] = {}
    out = []
    for s in stretches:
        if s.way < 0:
            out.append(-1)
            continue
        name, ref = int(ways.name.codes[s.way]), int(ways.ref.codes[s.way])
        key = ("name", name) if name >= 0 else ("ref", ref) if ref >= 0 else ("way", s.way)
        out.append(numbers.setdefault(key, len(numbers)))
    return out


def _top(relief: Relief | None) -> tuple[float | None, float | None, float | None]:
    """The highest point, where it is, and how far it lies above the start."""
    if relief is None or relief.source is None or np.isnan(relief.ele_m).all():
        return None, None, None
    i = int(np.nanargmax(relief.ele_m))
    top = float(relief.ele_m[i])
    known = relief.ele_m[~np.isnan(relief.ele_m)]
    return top, float(relief.at_m[i]), max(0.0, top - float(known[0]))


def _reach(help_: Help | None) -> tuple[ClassReach, ...]:
    if help_ is None:
        return ()
    return tuple(
        ClassReach(
            name=item.name,
            known=item.known,
            farthest_s=item.farthest_s,
            farthest_m=item.farthest_m,
            at_m=item.farthest_at_m,
            remote_m=item.remote_m,
        )
        for item in help_.classes
    )


def _fuel_gap(found: Findings) -> tuple[float, float] | None:
    """The longest ride without a pump near, and on from the end to the next one.

    A full tank at the start is taken for granted. None if no pump is known at all.
    """
    if found.help is None:
        return None
    at_m, fuel_m = found.help.along.at_m, found.help.along.fuel_m
    if not len(at_m) or np.isnan(fuel_m).all():
        return None
    near = at_m[np.nan_to_num(fuel_m, nan=np.inf) <= _PUMP_M]
    end = float(at_m[-1])
    beyond = 0.0 if np.isnan(fuel_m[-1]) else float(fuel_m[-1])
    knots = np.concatenate([[0.0], near, [end]])
    gaps = np.diff(knots)
    gaps[-1] += beyond
    i = int(np.argmax(gaps))
    return float(knots[i]), float(knots[i] + gaps[i])


def _heat(heat: Heat | None) -> HeatFacts:
    if heat is None or heat.rider is None:
        return HeatFacts()
    rider, hardest = heat.rider, heat.hardest
    index = [level for level in rider.hours_above if level.measure == "heat_index_c"]
    runs = hardest.runs if hardest is not None else ()
    worst = max(runs, key=lambda run: run.time_s, default=None)
    return HeatFacts(
        max_air_temp_c=rider.max_air_temp_c,
        max_heat_index_c=rider.max_heat_index_c,
        max_wbgt_c=rider.max_wbgt_c,
        caution_s=3600 * max((level.hours for level in index), default=0.0) if index else None,
        fan_s=None if hardest is None else hardest.fan_s,
        fan_from_m=None if worst is None else worst.from_m,
        fan_to_m=None if worst is None else worst.to_m,
        class_fan_s=tuple((engine.bike, engine.fan_s) for engine in heat.engines),
    )


def _spots(found: Findings) -> tuple[Spot, ...]:
    """Fords, borders and barriers on the ride, in riding order."""
    places = found.places
    wanted = {PLACE_KINDS.index(kind): word for kind, word in _SPOTS}
    rows = np.flatnonzero(np.isin(places.kind, list(wanted)))
    if not len(rows) or not len(found.match.at_m):
        return ()
    line, at_m, scale = _dense(found.match)
    found_at = cKDTree(line).query(np.column_stack([places.lon[rows], places.lat[rows]]) * scale)
    away, nearest = np.asarray(found_at[0]), np.asarray(found_at[1])
    spots = [
        Spot(at_m=float(at_m[i]), kind=wanted[int(places.kind[row])], name=places.name.text(row))
        for row, i, d in zip(rows.tolist(), nearest.tolist(), away.tolist(), strict=True)
        if d <= _ON_WAY_M
    ]
    return tuple(sorted(spots, key=lambda spot: spot.at_m))


def _dense(match: Match) -> tuple[FloatArray, FloatArray, FloatArray]:
    """The ride as points a few metres apart [m], where they lie on it, and metres per degree."""
    scale = np.array(metres_per_degree(float(np.mean(match.lat))))
    at_m = np.union1d(match.at_m, np.arange(0.0, match.length_m, _STEP_M))
    lon = np.interp(at_m, match.at_m, match.lon)
    lat = np.interp(at_m, match.at_m, match.lat)
    return np.column_stack([lon, lat]) * scale, at_m, scale
