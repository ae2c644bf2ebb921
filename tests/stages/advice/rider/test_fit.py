"""What stretches a rider and what is beyond one, on each side of each limit of tables/advice."""

from __future__ import annotations

from dataclasses import replace

import pytest

from terrain.stages.advice.advise import advise_case
from terrain.stages.advice.case import AdviceCase, AdviceStretch
from terrain.stages.advice.rider.fit import (
    _share_within,
    ford_places,
    limits_of,
    loose_parts,
)
from terrain.stages.advice.runs import StretchRun
from terrain.tables.fleet import DEFAULT_FLEET
from terrain.text.message import spaced
from terrain.values.advice import AdviceItem, RiderVerdict
from terrain.values.ground import Basis, GroundKind, SeasonRisk
from terrain.values.places import RideNode
from terrain.values.trip import Rider, Trip

_HOUR, _MIN = 3_600.0, 60.0
_PAVED, _TRACK = (1.0, 0.0, 0.0), (0.0, 0.0, 1.0)
_WITHIN, _STRETCHING, _BEYOND = RiderVerdict.WITHIN, RiderVerdict.STRETCHING, RiderVerdict.BEYOND


def _road(hours: float) -> AdviceStretch:
    return AdviceStretch(from_m=0, to_m=1, ground=GroundKind.PAVED, p=_PAVED, time_s=hours * _HOUR,
                         severity=0.0, basis=Basis.TAGGED, speed_kph=60.0)  # fmt: skip


def _track(time_s: float, severity: float = 1.0, **more: object) -> AdviceStretch:
    given: dict[str, object] = {
        "from_m": 0, "to_m": 1, "ground": GroundKind.TRACK, "p": _TRACK, "time_s": time_s,
        "severity": severity, "basis": Basis.TAGGED, "speed_kph": 20.0,
    }  # fmt: skip
    return AdviceStretch(**(given | more))  # type: ignore[arg-type]


def _case(*stretches: AdviceStretch, rider: Rider = Rider.STEADY, **more: object) -> AdviceCase:
    at, placed = 0.0, []
    for number, stretch in enumerate(stretches):
        placed.append(replace(stretch, from_m=at, to_m=at + 10_000.0, way=number))
        at += 10_000.0
    trip = more.pop("trip", Trip(rider=rider))
    return AdviceCase(stretches=tuple(placed), trip=trip, fleet=DEFAULT_FLEET, **more)  # type: ignore[arg-type]


def _verdict(case: AdviceCase) -> RiderVerdict:
    return advise_case(case).rider.verdict


def _said(case: AdviceCase, code: str) -> AdviceItem:
    (said,) = [item for item in advise_case(case).rider.reasons if item.code == code]
    return said


@pytest.mark.parametrize(
    ("rider", "severity", "verdict"),
    [
        (Rider.NOVICE, 1.4, _WITHIN), (Rider.NOVICE, 1.5, _STRETCHING),
        (Rider.NOVICE, 2.4, _STRETCHING), (Rider.NOVICE, 2.5, _BEYOND),
        (Rider.STEADY, 3.3, _WITHIN), (Rider.STEADY, 3.4, _STRETCHING),
        (Rider.STEADY, 3.8, _STRETCHING), (Rider.STEADY, 3.9, _BEYOND),
        (Rider.EXPERT, 4.3, _WITHIN), (Rider.EXPERT, 4.4, _STRETCHING),
        (Rider.EXPERT, 4.9, _STRETCHING), (Rider.EXPERT, 5.0, _BEYOND),
    ],
)  # fmt: skip
def test_how_hard_for_ten_minutes(rider: Rider, severity: float, verdict: RiderVerdict) -> None:
    assert _verdict(_case(_road(3), _track(10 * _MIN, severity), rider=rider)) is verdict


@pytest.mark.parametrize(
    ("time_s", "severity", "verdict"),
    [
        (599, 3.9, _WITHIN), (600, 3.9, _BEYOND),
        # A level harder counts after two minutes.
        (119, 4.9, _WITHIN), (120, 4.9, _BEYOND), (120, 4.8, _STRETCHING), (120, 4.3, _WITHIN),
    ],
)  # fmt: skip
def test_how_long_hard_ground_must_be(
    time_s: float, severity: float, verdict: RiderVerdict
) -> None:
    assert _verdict(_case(_road(3), _track(time_s, severity))) is verdict


def test_hard_ground_adds_up_and_is_told_where_it_is_longest() -> None:
    case = _case(_track(4 * _MIN, 4), _road(3), _track(7 * _MIN, 4), _road(1))
    said = _said(case, "beyond-ground")
    numbers = dict(said.numbers)
    assert numbers["run_s"] == 11 * _MIN and numbers["severity"] == 4
    assert (said.from_m, said.to_m) == (20_000, 30_000)
    assert numbers["part_share"] == pytest.approx(7 / 11)


@pytest.mark.parametrize(
    ("rider", "hours", "verdict"),
    # A track of severity 1 counts for 0.6 + 0.4 x (2 - 1) / 1.5 = 0.867 of its time.
    [
        (Rider.STEADY, 5.7, _WITHIN), (Rider.STEADY, 5.8, _STRETCHING),
        (Rider.STEADY, 9.2, _STRETCHING), (Rider.STEADY, 9.3, _BEYOND),
        (Rider.NOVICE, 0.86, _WITHIN), (Rider.NOVICE, 0.87, _STRETCHING),
        (Rider.NOVICE, 2.3, _STRETCHING), (Rider.NOVICE, 2.31, _BEYOND),
        (Rider.EXPERT, 8.0, _WITHIN), (Rider.EXPERT, 8.1, _STRETCHING),
    ],
)  # fmt: skip
def test_off_road_hours_of_a_day(rider: Rider, hours: float, verdict: RiderVerdict) -> None:
    case = _case(_track(hours * _HOUR), _road(1), rider=rider, n_days=1)
    assert _verdict(case) is verdict


def test_the_worst_day_counts_not_the_mean() -> None:
    case = _case(_track(7 * _HOUR), _road(1), _road(5), n_days=2)
    assert _verdict(case) is _WITHIN  # as days are not known, half each
    split = replace(case, days=((0.0, 15_000.0), (15_000.0, 30_000.0)))
    said = _said(split, "beyond-off-road")
    assert (said.from_m, said.to_m) == (0.0, 15_000.0)
    assert dict(said.numbers)["off_s"] == pytest.approx(7 * _HOUR * (0.6 + 0.4 / 1.5))
    half = replace(case, days=((0.0, 5_000.0), (5_000.0, 30_000.0)))
    assert _verdict(half) is _WITHIN


@pytest.mark.parametrize(
    ("grade", "length_m", "verdict"),
    [
        (9.9, 500, _WITHIN), (10, 500, _STRETCHING), (19.9, 500, _STRETCHING), (20, 500, _BEYOND),
        (-20, 500, _BEYOND),
        # Steeper than a rider can, but short: walked.
        (25, 299, _STRETCHING), (25, 300, _BEYOND), (25, 99, _WITHIN), (25, 100, _STRETCHING),
    ],
)  # fmt: skip
def test_loose_climbs(grade: float, length_m: float, verdict: RiderVerdict) -> None:
    case = _case(_road(1), _track(30 * _MIN), ramps=((12_000.0, 12_000.0 + length_m, grade),))
    assert _verdict(case) is verdict
    on_tarmac = _case(_track(30 * _MIN), _road(1), ramps=case.ramps)
    assert _verdict(on_tarmac) is _WITHIN


def test_what_is_too_much_for_a_rider_is_marked_in_all_its_places() -> None:
    """Roads and tracks of 10 km each in turn."""
    ramps = ((12_000.0, 12_400.0, 15.0), (32_000.0, 32_300.0, 25.0), (34_000.0, 34_300.0, -21.0))
    hard, sandy = _track(30 * _MIN, severity=5), _track(2 * _HOUR, surface="sand")
    case = _case(_road(1), hard, _road(1), hard, sandy, sandy, _road(1), ramps=ramps, n_days=1)
    said = _said(case, "beyond-ground")
    assert said.places == ((10_000.0, 20_000.0), (30_000.0, 40_000.0))
    assert said.from_m == 10_000.0
    # Only those ramps that put it beyond the rider; the gentler one stretches them.
    assert _said(case, "loose-climb").places == ((32_000.0, 32_300.0), (34_000.0, 34_300.0))
    assert _said(case, "sand").places == ((40_000.0, 50_000.0), (50_000.0, 60_000.0))
    nodes = tuple(RideNode(at_m=at, kind="ford") for at in (500.0, 700.0))
    assert _said(_case(_road(1), nodes=nodes), "fords").places == ((500.0, 500.0), (700.0, 700.0))


def test_without_ramps_the_grades_of_stretches_count() -> None:
    case = _case(_road(1), _track(_HOUR, grade_pct=-12.0), _track(_HOUR, grade_pct=None))
    assert loose_parts(case) == [(10_000.0, 20_000.0, 12.0)]
    said = _said(case, "loose-climb-one")
    assert dict(said.numbers)["grade_pct"] == 12.0 and dict(said.numbers)["run_m"] == 10_000.0


@pytest.mark.parametrize(
    ("minutes", "verdict"),
    [(14.9, _WITHIN), (15, _STRETCHING), (179, _STRETCHING), (180, _BEYOND)],
)
@pytest.mark.parametrize("surface", ["sand", "dirt/sand", "ground"])
def test_sand(minutes: float, surface: str, verdict: RiderVerdict) -> None:
    case = _case(_road(1), _track(minutes * _MIN, surface=surface), n_days=1)
    assert _verdict(case) is (_WITHIN if surface == "ground" else verdict)


@pytest.mark.parametrize(
    ("n_fords", "verdict"), [(3, _WITHIN), (4, _STRETCHING), (14, _STRETCHING), (15, _BEYOND)]
)
def test_fords(n_fords: int, verdict: RiderVerdict) -> None:
    nodes = tuple(RideNode(at_m=100.0 * i, kind="ford") for i in range(n_fords))
    case = _case(_road(1), nodes=nodes)
    assert _verdict(case) is verdict
    assert dict(_said(case, "fords").numbers)["n_fords"] == n_fords
    one = _case(_road(1), nodes=nodes[:1])
    assert _said(one, "ford-one").from_m == 0.0


def test_a_ford_on_a_stretch_and_its_node_are_one() -> None:
    wet = replace(_road(1), ford=True)
    nodes = tuple(RideNode(at_m=at, kind="ford") for at in (9_949.0, 9_951.0, 20_049.0, 20_051.0))
    nodes += (RideNode(at_m=500.0, kind="border"),)
    assert ford_places(_case(_road(1), wet, _road(1), nodes=nodes)) == [9_949.0, 10_000.0, 20_051.0]


@pytest.mark.parametrize(
    ("hours", "verdict"), [(7.9, _WITHIN), (8.0, _STRETCHING), (15.0, _STRETCHING)]
)
def test_a_long_day_stretches_and_is_never_beyond(hours: float, verdict: RiderVerdict) -> None:
    assert _verdict(_case(_road(2), day_s=hours * _HOUR)) is verdict


@pytest.mark.parametrize(
    ("top_m", "told", "verdict"),
    [(2_449, False, _WITHIN), (2_450, True, _WITHIN), (2_749, True, _WITHIN),
     (2_750, True, _STRETCHING), (5_000, True, _STRETCHING)],
)  # fmt: skip
def test_altitude(top_m: float, told: bool, verdict: RiderVerdict) -> None:
    """CDC travellers' health: risk above 2450 m; not above 2750 m in a day from low."""
    fit = advise_case(_case(_road(2), max_ele_m=top_m, max_ele_at_m=4_000.0)).rider
    assert fit.verdict is verdict
    assert ("altitude" in {item.code for item in fit.reasons}) is told


@pytest.mark.parametrize(
    ("risk", "verdict"),
    [(SeasonRisk.DOUBTFUL, _WITHIN), (SeasonRisk.CONFIRM_FIRST, _STRETCHING),
     (SeasonRisk.DAMP, _WITHIN)],
)  # fmt: skip
def test_soft_ground(risk: SeasonRisk, verdict: RiderVerdict) -> None:
    case = _case(_road(2), _track(10 * _MIN, season_risk=risk), month=7)
    fit = advise_case(case).rider
    assert fit.verdict is verdict
    assert ("soft-season" in {item.code for item in fit.reasons}) is (risk is not SeasonRisk.DAMP)


@pytest.mark.parametrize(
    ("hours", "verdict"),
    # Two up half the eight hours are beyond; under half an hour nothing is told.
    [(0.57, _WITHIN), (0.58, _STRETCHING), (4.6, _STRETCHING), (4.62, _BEYOND)],
)
def test_two_up_off_road(hours: float, verdict: RiderVerdict) -> None:
    case = _case(_track(hours * _HOUR), _road(1), trip=Trip(pillion=True), n_days=1)
    assert _verdict(case) is verdict


def test_of_several_the_worst_is_the_verdict_and_comes_first() -> None:
    case = _case(_road(1), _track(12 * _MIN, 4), max_ele_m=3_000.0, max_ele_at_m=0.0)
    fit = advise_case(case).rider
    assert fit.verdict is _BEYOND and fit.n_beyond == 1
    assert fit.reasons[0].code == "beyond-ground"
    assert {item.code for item in fit.reasons} == {"beyond-ground", "altitude"}


@pytest.mark.parametrize(("n_roads", "told"), [(20, False), (19, True)])
def test_what_a_rider_can_do_is_said_of_what_is_on_the_map(n_roads: int, told: bool) -> None:
    """Beside 10 km on no road of the map, a twentieth of the ride or less (common practice, no
    source). Half a ride off the map was told as within what a novice is at ease with."""
    off = replace(_road(0.2), ground=GroundKind.UNMAPPED, p=None, basis=Basis.UNMAPPED)
    fit = advise_case(_case(*[_road(0.1)] * n_roads, off)).rider
    assert fit.verdict is _WITHIN
    words = "So it is as far as it is on the map: of 10 km nothing is known."
    assert spaced(fit.text).endswith(words) is told


def test_a_guide_widens_what_a_novice_is_at_ease_with_off_tarmac_by_hand() -> None:
    """Ground by 0.4, loose climbs by 2 %, times by a quarter, fords by half and up (the table of
    what a guide adds); hours in the saddle by nothing. Common practice, no source."""
    led = limits_of(Trip(rider=Rider.NOVICE, guided=True))
    alone = limits_of(Trip(rider=Rider.NOVICE))
    assert led.severity == pytest.approx((1.9, 2.9))
    assert led.loose_grade_pct == (8, 12)
    assert led.off_road_s == (0.75 * 1.25 * _HOUR, 2.5 * _HOUR)
    assert led.sand_s == (75.0, 0.3125 * _HOUR)
    assert led.fords == (2, 8)
    assert led.day_s == alone.day_s
    assert limits_of(Trip(rider=Rider.EXPERT, guided=True)).fords == (12, 45)


@pytest.mark.parametrize(
    ("spans", "share"),
    [
        ([(1_000.0, 2_000.0)], 1.0), ([(500.0, 1_500.0)], 0.5), ([(1_500.0, 3_500.0)], 0.25),
        ([(0.0, 900.0)], 0.0), ([(0.0, 1_000.0), (1_000.0, 4_000.0)], 0.25),
        ([(1_000.0, 1_000.0), (2_000.0, 2_000.0)], 1.0),
        ([(999.0, 999.0), (1_500.0, 1_500.0)], 0.5),
        ([(2_001.0, 2_001.0)], 0.0), ([], 0.0),
    ],
)  # fmt: skip
def test_how_much_of_a_reason_lies_in_a_run(spans: list[tuple[float, float]], share: float) -> None:
    """From km 1 to km 2; of spots by their number."""
    assert _share_within(
        spans, StretchRun(from_m=1_000.0, to_m=2_000.0, rows=(0,))
    ) == pytest.approx(share)
