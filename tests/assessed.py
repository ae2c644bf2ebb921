"""A ride about which nothing was found, for tests that add the one thing they are about."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime
from typing import Any

import numpy as np

from terrain.tables.fleet import DEFAULT_FLEET
from terrain.values.advice import Advice, RiderFit, RiderVerdict, Setup, SetupChoice
from terrain.values.ground import Basis, Evidence, Ground, GroundKind, Severity, Stretch
from terrain.values.heat import Heat
from terrain.values.help import HELP_KINDS, Farthest, Help, HelpAlong
from terrain.values.match import Match
from terrain.values.places import PlacesAlong, Surroundings
from terrain.values.plan import Plan
from terrain.values.relief import Relief
from terrain.values.report import Assessed, RegionNote, Report
from terrain.values.ride import Ride, Speeds
from terrain.values.ride import ride_of as ride_of_ground
from terrain.values.route import Route, RouteKind
from terrain.values.trip import Trip

_NONE = np.zeros(0)

RELIEF = Relief(
    at_m=_NONE, ele_m=_NONE, grade_pct=_NONE, basis=np.zeros(0, np.int8),
    turns=np.zeros(0, np.int64), ascent_m=None, descent_m=None, climbed_known_m=None,
    steepest=(), ramps=(), hairpins_m=_NONE, source=None, method="",
)  # fmt: skip
SPEEDS = Speeds(
    from_m=_NONE, to_m=_NONE, speed_kph=_NONE, low_kph=_NONE, high_kph=_NONE, time_s=_NONE,
    usual_s=_NONE, ground_s=_NONE.reshape(-1, 3), start_s=_NONE, total_low_s=0.0,
    total_high_s=0.0,
)  # fmt: skip
HEAT = Heat(
    basis={}, air=None, rider=None, stretches=None, engines=(), clutch=(), months=(), sun=None,
    cautions=(), asks=(), words=(),
)  # fmt: skip
FAR = Farthest(
    farthest_m=None, farthest_at_m=None, farthest_s=None, farthest_s_at_m=None, place=None,
    unknown_m=0.0, outside_m=None, back_s=None,
)  # fmt: skip
HELP = Help(
    kinds=tuple((kind, FAR) for kind in HELP_KINDS), weaker=(), remote=(), exits=(), classes=(),
    along=HelpAlong(**dict.fromkeys(HelpAlong.__dataclass_fields__, _NONE)),
    helpers=(), remote_limit_m=60_000.0, remote_limit_s=5_400.0, words=(),
)  # fmt: skip
SETUP = Setup(
    choice=SetupChoice.ROAD, p_off_road=0.01, ride_s=3600.0, off_road_s=(0.0, 0.0, 0.0),
    hard_s=(0.0, 0.0, 0.0), plausible_low_s=0.0, plausible_high_s=0.0, tyres=None, pressures=(),
    reasons=(), flips=(),
)  # fmt: skip
ADVICE = Advice(
    setup=SETUP, excluded=(), bikes=(), wanted=None,
    rider=RiderFit(rider="steady", verdict=RiderVerdict.WITHIN, text="", reasons=()),
    spares=(), checks=(), questions=(), cautions=(), law=(), weights={}, rests_on=(),
)  # fmt: skip
PLAN = Plan(days=(), stops=(), problems=(), fuel=None, words=())
AROUND = PlacesAlong(
    surroundings=Surroundings(
        rank=np.zeros(0, np.int8), start=np.zeros(1, np.int32), lon=_NONE, lat=_NONE, places=()
    ),
    nodes=(), areas=None, near_from_m=np.zeros(1), near_names=("",),
)  # fmt: skip


def match_of(length_m: float) -> Match:
    """A ride off the map along a straight line."""
    one = np.array([-1], np.int32)
    lon, at_m = np.array([0.0, length_m / 111_320]), np.array([0.0, length_m])
    return Match(
        kind=np.array([1], np.int8), filled=np.zeros(1, bool), edge=one, way=one,
        way_id=np.array([-1]), forward=np.ones(1, bool), edge_from_m=np.array([np.nan]),
        edge_to_m=np.array([np.nan]), from_m=at_m[:1], to_m=at_m[-1:],
        offset_m=np.array([np.nan]), lon=lon, lat=np.zeros(2), at_m=at_m, point_at_m=at_m,
    )  # fmt: skip


def route_of(match: Match, name: str = "A made-up ride") -> Route:
    n = len(match.lon)
    return Route(
        name=name, kind=RouteKind.TRACK, lon=match.lon, lat=match.lat, ele_m=np.full(n, np.nan),
        piece=np.zeros(n, np.int32), shaping=np.zeros(n, bool), planned=np.zeros(n, bool),
    )  # fmt: skip


def ride_of(match: Match) -> Ride:
    """A ride of which only its line is known."""
    return Ride(
        match=match, stretches=(), from_m=_NONE, to_m=_NONE, ground=np.zeros(0, np.int8),
        p=np.zeros((0, 3)), severity=np.zeros(0, np.int8), grade_pct=_NONE, speeds=SPEEDS,
        knot_m=_NONE, knot_s=_NONE,
    )  # fmt: skip


def stretch_of(from_m: float, to_m: float, **known: Any) -> Stretch:
    """A stretch of tagged tarmac, but for what is given."""
    usual: dict[str, Any] = {
        "way": 0,
        "way_id": 1,
        "highway": "unclassified",
        "surface": "asphalt",
        "name": None,
        "ground": GroundKind.PAVED,
        "p": (1.0, 0.0, 0.0),
        "basis": Basis.TAGGED,
        "season_risk": None,
        "severity": Severity.SMOOTH,
        "evidence": Evidence(text=""),
    }
    return Stretch(from_m=from_m, to_m=to_m, **(usual | known))


def ridden(*stretches: Stretch, kph: float = 36.0) -> Assessed:
    """A ride over these stretches at one speed."""
    match = replace(match_of(stretches[-1].to_m), kind=np.zeros(1, np.int8))
    from_m = np.array([s.from_m for s in stretches])
    to_m = np.array([s.to_m for s in stretches])
    time_s = (to_m - from_m) / kph * 3.6
    n = len(stretches)
    speeds = Speeds(
        from_m=from_m, to_m=to_m, speed_kph=np.full(n, kph), low_kph=np.full(n, kph),
        high_kph=np.full(n, kph), time_s=time_s, usual_s=time_s,
        ground_s=np.repeat(time_s[:, None], 3, axis=1), start_s=from_m / kph * 3.6,
        total_low_s=float(time_s.sum()), total_high_s=float(time_s.sum()),
    )  # fmt: skip
    ground = Ground(
        p=np.zeros((0, 3)), basis=np.zeros(0, np.int8), severity=np.zeros(0, np.int8),
        stretches=stretches, shares=None, basis_shares={Basis.TAGGED: 1.0},
    )  # fmt: skip
    ride = ride_of_ground(match, ground, speeds, np.full(n, np.nan))
    return assessed(match, ride=ride, ground=ground)


def assessed(match: Match | None = None, name: str = "A made-up ride", **known: Any) -> Assessed:
    """A ride of which only what is given is known."""
    match = match_of(10_000.0) if match is None else match
    ground = Ground(
        p=np.zeros((0, 3)), basis=np.zeros(0, np.int8), severity=np.zeros(0, np.int8),
        stretches=(), shares=None, basis_shares={},
    )  # fmt: skip
    region = RegionNote(
        name="tiny", map_date="2026-11-02", bbox=(0, 0, 1, 1),
        attribution=("Map data © OpenStreetMap contributors, ODbL",),
    )  # fmt: skip
    nothing = Assessed(
        region=region, route=route_of(match, name), trip=Trip(), fleet=DEFAULT_FLEET,
        ride=ride_of(match),
        ground=ground, places=AROUND, relief=RELIEF, heat=HEAT, help=HELP,
        advice=ADVICE, plan=PLAN,
    )  # fmt: skip
    return replace(nothing, **known)


def report_of(ride: Assessed) -> Report:
    """The report on it, as `terrain.assess` makes it."""
    # Servers of tests start with this file, and shall not wait for what kernels need.
    from terrain.stages.verdict import judge_verdict

    return Report(
        made_at=datetime(2027, 2, 1, 9, tzinfo=UTC), terrain_version="0.1.0", assessed=ride,
        verdict=judge_verdict(ride),
    )  # fmt: skip
