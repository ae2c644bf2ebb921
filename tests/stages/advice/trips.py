"""Trips as an operator would describe them at the desk, and the advice they would give.

The advice was written down from trade practice (common practice, no source) before the code:

- A road bike or a small all-rounder on a road trip: comfortable, reliable, easy to mend.
- A do-everything dual-sport for an able rider who truly cannot know the ground.
- A light trail bike on real dirt; an enduro for an expert on hard ground.
- A novice on neither dual-sport nor enduro; a light trail bike is the one to learn on.
- Road tyres up to a tenth of the way off-road; good gravel is ridden on them with care.
- Far from help, what is easy to mend and has common parts comes first.
- Where the map cannot tell, ask; and name the part of the way to ask about.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from datetime import datetime

from terrain.stages.advice.case import AdviceCase, AdviceStretch
from terrain.tables.fleet import DEFAULT_FLEET
from terrain.values.advice import LawKind
from terrain.values.ground import Basis, GroundKind, SeasonRisk
from terrain.values.heat import Concern, EngineHeat, Heat, HeatCause, HotRun, HotSpell, RiderHeat
from terrain.values.help import ClassHelp
from terrain.values.places import RideNode
from terrain.values.trip import Luggage, Rider, Trip
from tests.stages.advice.reach import reach_of


@dataclass(frozen=True, kw_only=True)
class Leg:
    """A kind of way: probabilities, severity, speed."""

    p: tuple[float, float, float] | None
    severity: float | None
    kph: float
    highway: str
    surface: str | None
    basis: Basis
    ground: GroundKind


SEALED = Leg(
    p=(0.985, 0.01, 0.005),
    severity=0.0,
    kph=60,
    highway="secondary",
    surface="asphalt",
    basis=Basis.TAGGED,
    ground=GroundKind.PAVED,
)
LANE = Leg(
    p=(0.985, 0.01, 0.005),
    severity=0.5,
    kph=45,
    highway="tertiary",
    surface="asphalt",
    basis=Basis.TAGGED,
    ground=GroundKind.PAVED,
)
MOTORWAY = Leg(
    p=(0.998, 0.001, 0.001),
    severity=0.0,
    kph=105,
    highway="motorway",
    surface="asphalt",
    basis=Basis.TAGGED,
    ground=GroundKind.PAVED,
)
GRAVEL = Leg(
    p=(0.02, 0.93, 0.05),
    severity=1.6,
    kph=42,
    highway="unclassified",
    surface="gravel",
    basis=Basis.TAGGED,
    ground=GroundKind.GRAVEL,
)
ROUGH_GRAVEL = Leg(
    p=(0.02, 0.90, 0.08),
    severity=2.8,
    kph=30,
    highway="unclassified",
    surface="gravel",
    basis=Basis.TAGGED,
    ground=GroundKind.GRAVEL,
)
TRACK = Leg(
    p=(0.01, 0.06, 0.93),
    severity=2.7,
    kph=22,
    highway="track",
    surface="ground",
    basis=Basis.TAGGED,
    ground=GroundKind.TRACK,
)
HARD = Leg(
    p=(0.005, 0.02, 0.975),
    severity=4.0,
    kph=12,
    highway="track",
    surface="rock",
    basis=Basis.TAGGED,
    ground=GroundKind.TRACK,
)
SAND = Leg(
    p=(0.005, 0.02, 0.975),
    severity=3.8,
    kph=15,
    highway="track",
    surface="sand",
    basis=Basis.TAGGED,
    ground=GroundKind.TRACK,
)
MINOR = Leg(
    p=(0.70, 0.20, 0.10),
    severity=None,
    kph=45,
    highway="unclassified",
    surface=None,
    basis=Basis.INFERRED,
    ground=GroundKind.PAVED,
)
LIKELY_SEALED = Leg(
    p=(0.93, 0.05, 0.02),
    severity=None,
    kph=50,
    highway="tertiary",
    surface=None,
    basis=Basis.INFERRED,
    ground=GroundKind.PAVED,
)
UNTAGGED_TRACK = Leg(
    p=(0.10, 0.35, 0.55),
    severity=2.4,
    kph=24,
    highway="track",
    surface=None,
    basis=Basis.INFERRED,
    ground=GroundKind.TRACK,
)
EITHER = Leg(
    p=(0.45, 0.10, 0.45),
    severity=None,
    kph=35,
    highway="unclassified",
    surface=None,
    basis=Basis.INFERRED,
    ground=GroundKind.PAVED,
)
OFF_MAP = Leg(p=None, severity=None, kph=25, highway="", surface=None, basis=Basis.UNMAPPED,
              ground=GroundKind.UNMAPPED)  # fmt: skip


@dataclass(frozen=True, kw_only=True)
class Case:
    """A trip and the advice expected.

    legs : (km, kind of way) in riding order
    remote_h : hours by road to the nearest mechanic at the worst point
    choice : the setup; top : classes of which one must come first ("" if none may go)
    out : classes that must be refused; stays : classes that must not be refused
    says, silent : codes that must, must not be among all that is said
    """

    name: str
    legs: tuple[tuple[float, Leg], ...]
    choice: str
    top: tuple[str, ...]
    rider: str = "steady"
    pillion: bool = False
    luggage: str = "soft"
    remote_h: float = 0.4
    fuel_gap_km: float = 60
    hot_c: float | None = None
    month: int | None = 9
    max_ele_m: float = 400
    season: SeasonRisk | None = None
    fords: int = 0
    laws: tuple[LawKind, ...] = ()
    grade_pct: float = 0.0
    wanted: str | None = None
    guide: bool = False
    n_days: int | None = None
    out: tuple[str, ...] = ()
    stays: tuple[str, ...] = ()
    rider_fit: str | None = None
    says: tuple[str, ...] = ()
    silent: tuple[str, ...] = ()
    tyres: str | None = field(default=None)


def inputs_of(case: Case) -> AdviceCase:
    """The case as the other stages would hand it over."""
    stretches: list[AdviceStretch] = []
    at = 0.0
    for number, (km, leg) in enumerate(case.legs):
        soft = leg.ground is GroundKind.TRACK or leg.surface == "ground"
        stretches.append(
            AdviceStretch(
                from_m=at,
                to_m=at + 1000 * km,
                ground=leg.ground,
                p=leg.p,
                time_s=3600 * km / leg.kph,
                speed_kph=leg.kph,
                severity=leg.severity,
                season_risk=(case.season or SeasonRisk.NONE) if soft else SeasonRisk.NONE,
                grade_pct=0.0 if leg.ground is GroundKind.PAVED else case.grade_pct,
                basis=leg.basis,
                highway=leg.highway or None,
                surface=leg.surface,
                name=None,
                way=number if leg.highway else -1,
                laws=case.laws if number == len(case.legs) - 1 else (),
            )
        )
        at += 1000 * km
    ride_s = sum(s.time_s for s in stretches)
    n_days = case.n_days or max(1, round(ride_s / 3600 / 6))
    slow_s = sum(s.time_s for s in stretches if (s.speed_kph or 99) < 25)
    hot = case.hot_c is not None and case.hot_c >= 33
    return AdviceCase(
        stretches=tuple(stretches),
        trip=Trip(rider=Rider(case.rider), pillion=case.pillion, luggage=Luggage(case.luggage),
                  guided=case.guide, wanted_class=case.wanted),
        fleet=DEFAULT_FLEET,
        month=case.month,
        n_days=n_days,
        day_s=ride_s / n_days,
        day_from_m=0.0,
        day_to_m=at / n_days,
        max_ele_m=case.max_ele_m,
        max_ele_at_m=at / 2,
        rise_m=max(0.0, case.max_ele_m - 300),
        mechanic_s=3600 * case.remote_h,
        mechanic_m=40_000 * case.remote_h,
        mechanic_at_m=at / 2,
        remote_m=at / 2 if case.remote_h > 1 else 0.0,
        hospital_s=3600 * case.remote_h,
        hospital_at_m=at / 2,
        reach=tuple(_reach(bike.name, bike.parts.value, case.remote_h, at) for bike in
                    DEFAULT_FLEET.classes),
        fuel_gap_m=1000 * case.fuel_gap_km,
        fuel_gap_from_m=0.0,
        heat=_heat(case.hot_c, at, ride_s, slow_s=slow_s, hot=hot),
        nodes=tuple(RideNode(at_m=at * (i + 1) / (case.fords + 1), kind="ford")
                    for i in range(case.fords)),
    )  # fmt: skip


def _heat(hot_c: float | None, length_m: float, ride_s: float, *, slow_s: float, hot: bool) -> Heat:
    if hot_c is None:
        return Heat()
    engine = replace(COOL, fan_s=slow_s, causes=(HeatCause.AIR,), runs=(hot_run(0.0, length_m),),
                     concern=Concern.HIGH if slow_s >= 900 else Concern.MEDIUM)  # fmt: skip
    rider = replace(
        rider_heat(hot_c, index_c=hot_c + 2, wbgt_c=hot_c - 6, riding_wbgt_c=hot_c - 11),
        max_air_temp_at_m=length_m / 2,
        over_riding_h=ride_s / 7200 if hot_c >= 39 else 0.0,
    )
    return Heat(rider=rider, engines=(engine if hot else COOL,))


def rider_heat(air_c: float, *, index_c: float, wbgt_c: float, riding_wbgt_c: float) -> RiderHeat:
    """A rider's heat by what advice reads, the rest mild."""
    spell = HotSpell(from_m=0.0, to_m=0.0, start=datetime(2025, 3, 20, 12), temp_c=air_c,
                     heat_index_c=index_c, wbgt_c=wbgt_c)  # fmt: skip
    return RiderHeat(
        max_air_temp_c=air_c, max_air_temp_low_c=air_c - 5, max_air_temp_high_c=air_c + 5,
        max_air_temp_at_m=1_000.0, min_air_temp_c=air_c - 8, min_air_temp_at_m=0.0,
        max_heat_index_c=index_c, max_wbgt_c=wbgt_c, max_wbgt_gear_c=wbgt_c + 3,
        max_wbgt_riding_c=riding_wbgt_c, min_wind_chill_c=air_c - 8, min_wind_chill_at_m=0.0,
        hours_above=(), over_limit_h=0.0, over_riding_h=0.0, over_riding=(), used_to_heat=False,
        worst=spell, water_l_h=0.5, water_most_l_h=0.8, water_l=2.0, water_source="",
    )  # fmt: skip


COOL = EngineHeat(
    bike="", title="", cooling="liquid", concern=Concern.LOW, causes=(), fan_s=0.0, fan_high_s=0.0,
    longest_s=0.0, boil_s=0.0, peak_c=90.0, cooled_peak_c=90.0, limit_c=120.0,
    most_power_share=0.5, least_power_left=0.9, runs=(),
)  # fmt: skip


def hot_run(from_m: float, to_m: float) -> HotRun:
    return HotRun(from_m=from_m, to_m=to_m, why="fan", bike="", time_s=900.0, air_temp_c=35.0,
                  peak_c=110.0, ratio=1.2, grade_pct=5.0, speed_kph=15.0)  # fmt: skip


def _reach(name: str, parts: str, remote_h: float, length_m: float) -> ClassHelp:
    """Rare parts: only the operator's base helps, twice as far; common: towns on the way too."""
    factor = {"common": 0.6, "fair": 1.0, "rare": 2.0}[parts]
    hours = remote_h * factor
    return reach_of(
        name,
        known=True,
        farthest_s=3600 * hours,
        farthest_m=40_000 * hours,
        at_m=length_m / 2,
        remote_m=length_m / 2 if hours > 1 else 0.0,
    )


def with_rider(case: Case, rider: str) -> Case:
    return replace(case, rider=rider)
