"""What the advice reads of a ride, gathered from the values before it."""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache

import numpy as np

from terrain.stages.advice.case import AdviceCase, AdviceStretch, three
from terrain.stages.advice.other_ways import other_ways_of
from terrain.stages.days import RideDays
from terrain.values.advice import LawKind
from terrain.values.fleet import Fleet
from terrain.values.ground import Alternative, Errors, Ground, GroundKind
from terrain.values.heat import Heat
from terrain.values.help import Help, HelpKind
from terrain.values.places import PlacesAlong
from terrain.values.relief import Relief
from terrain.values.ride import Ride
from terrain.values.trip import Trip
from terrain.values.views import RoadsView, WayFlag

_LAWS: tuple[tuple[WayFlag, LawKind], ...] = (
    (WayFlag.NO_MOTORCYCLE, LawKind.CLOSED),
    (WayFlag.PRIVATE, LawKind.PRIVATE),
    (WayFlag.DESTINATION, LawKind.DESTINATION),
    (WayFlag.PATH, LawKind.NO_MOTOR_ROAD),
    (WayFlag.TOLL, LawKind.TOLL),
    (WayFlag.CONDITIONAL, LawKind.CONDITIONAL),
    (WayFlag.UNDER_CONSTRUCTION, LawKind.CONSTRUCTION),
    (WayFlag.PROPOSED, LawKind.CONSTRUCTION),
    (WayFlag.DISUSED, LawKind.DISUSED),
    (WayFlag.FLOODS, LawKind.FLOODS),
    (WayFlag.BARRIER, LawKind.BARRIER),
)


def gather(
    ride: Ride,
    ground: Ground,
    relief: Relief,
    places: PlacesAlong,
    help_: Help,
    days: RideDays,
    heat: Heat,
    others: Sequence[Alternative],
    *,
    roads: RoadsView,
    trip: Trip,
    fleet: Fleet,
) -> AdviceCase:
    """All that advice reads, from the values of the stages before it."""
    mechanic, hospital = help_.kind(HelpKind.MECHANIC), help_.kind(HelpKind.HOSPITAL)
    clock, fuel = days.clock, days.fuel
    longest = int(np.argmax(clock.day_riding_s))
    top_m, top_at_m, rise_m = relief.highest or (None, None, None)
    return AdviceCase(
        stretches=case_stretches(ride, ground, roads),
        gaps=ride.match.gaps,
        other_ways=()
        if ground.ways is None
        else other_ways_of(others, ride.match, roads, ground.ways, relief, trip),
        trip=trip,
        fleet=fleet,
        month=None if trip.depart is None else trip.depart.month,
        n_days=clock.n_days,
        day_s=float(clock.day_riding_s[longest]),
        day_from_m=float(clock.begins_m[longest]),
        day_to_m=float(clock.ends_m[longest]),
        days=tuple(zip(clock.begins_m.tolist(), clock.ends_m.tolist(), strict=True)),
        max_ele_m=top_m, max_ele_at_m=top_at_m, rise_m=rise_m, ramps=relief.sure_ramps,
        mechanic_s=mechanic.farthest_s, mechanic_m=mechanic.farthest_m,
        mechanic_at_m=mechanic.farthest_s_at_m, mechanic_there_m=mechanic.farthest_s_m,
        remote_m=sum(run.to_m - run.from_m for run in help_.remote),
        alone=any(help_.leaves_alone(run) for run in help_.remote),
        hospital_s=hospital.farthest_s, hospital_at_m=hospital.farthest_s_at_m,
        hospital_ferry_m=hospital.ferry_m,
        reach=help_.classes,
        fuel_gap_m=fuel.gap_m, fuel_gap_from_m=fuel.from_m, fuel_gap_tarmac_m=fuel.tarmac_m,
        heat=heat,
        nodes=places.nodes,
        areas=places.areas,
        places=places,
    )  # fmt: skip


def case_stretches(ride: Ride, ground: Ground, roads: RoadsView) -> tuple[AdviceStretch, ...]:
    """The stretches of a ride with what advice reads of each."""
    speeds = ride.speeds
    made = []
    for i, stretch in enumerate(ground.stretches):
        flags = int(roads.ways.flags[stretch.way]) if stretch.way >= 0 else 0
        ferry = stretch.ground is GroundKind.FERRY
        made.append(
            AdviceStretch(
                from_m=stretch.from_m,
                to_m=stretch.to_m,
                ground=stretch.ground,
                p=stretch.p,
                time_s=0.0 if ferry else float(speeds.time_s[i]),
                usual_s=0.0 if ferry else float(speeds.usual_s[i]),
                ground_s=None if ferry else three(speeds.ground_s[i]),
                speed_kph=None if ferry else float(speeds.speed_kph[i]),
                severity=None if stretch.severity is None else float(stretch.severity),
                season_risk=stretch.season_risk,
                season_cause=stretch.season_cause,
                grade_pct=None if np.isnan(ride.grade_pct[i]) else float(ride.grade_pct[i]),
                basis=stretch.basis,
                highway=stretch.highway,
                surface=stretch.surface,
                name=stretch.name,
                way=stretch.way,
                errors=ground.errors[i] if ground.errors else Errors(),
                ford=flags & WayFlag.FORD.value != 0,
                smoothness=roads.ways.smoothness.text(stretch.way) if stretch.way >= 0 else None,
                laws=() if ferry else _laws(flags, stretch.highway),
            )
        )
    return tuple(made)


@lru_cache(maxsize=1024)  # ways are of few kinds
def _laws(flags: int, highway: str | None) -> tuple[LawKind, ...]:
    """A path is no motor road by default; a tag that names motors and opens it is stronger."""
    found = tuple(law for flag, law in _LAWS if flags & flag)
    if (highway or "").startswith("motorway"):
        found = (*found, LawKind.MOTORWAY)
    if flags & WayFlag.TUNNEL and not flags & WayFlag.LIT:
        found = (*found, LawKind.TUNNEL)
    if flags & WayFlag.MOTOR_OPEN:
        return tuple(law for law in found if law is not LawKind.NO_MOTOR_ROAD)
    return found
