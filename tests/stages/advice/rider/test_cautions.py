"""When a caution is said, a case on each side of each limit, by hand."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace
from typing import Any

import pytest

from terrain.stages.advice.advise import advise_case
from terrain.stages.advice.rider.cautions import (
    _clutch,
    _heat,
    _help,
    _impassable,
    _no_riding,
    _season,
    _unmapped,
    has_poor_ground,
)
from terrain.values.ground import GroundKind, SeasonCause, SeasonRisk
from tests.stages.advice.trips import SEALED, TRACK, Case, hot_run, inputs_of, rider_heat


def _case(*stretches: Any, **more: Any) -> Any:
    """Stretches in a row from the start; no places."""
    at = 0.0
    for one in stretches:
        one.from_m, one.to_m = at, at + one.length_m
        at = one.to_m
    return SimpleNamespace(stretches=stretches, places=None, **more)


def _stretch(length_m: float, **more: Any) -> Any:
    usual = {"ground": GroundKind.PAVED, "season_risk": SeasonRisk.NONE, "season_cause": None,
             "impassable": False}  # fmt: skip
    return SimpleNamespace(length_m=length_m, **{**usual, **more})


SHUT, DOUBTFUL, DAMP = SeasonRisk.CONFIRM_FIRST, SeasonRisk.DOUBTFUL, SeasonRisk.DAMP


@pytest.mark.parametrize(
    ("risk", "cause", "code"),
    [
        (SHUT, SeasonCause.SNOW, "season-snow"), (SHUT, SeasonCause.FROST, "season-frost"),
        (SHUT, SeasonCause.TAGGED, "season-tagged"),
        (DOUBTFUL, SeasonCause.TAGGED, "season-tagged"),
        (SHUT, SeasonCause.RAIN, "season-confirm"), (SHUT, None, "season-confirm"),
        (DOUBTFUL, SeasonCause.RAIN, "season-doubtful"), (DOUBTFUL, None, "season-doubtful"),
        (DAMP, SeasonCause.RAIN, None), (DAMP, SeasonCause.THAW, None),
    ],
)  # fmt: skip
def test_200_m_of_a_season_and_a_kilometre_softened_by_rain_are_told(
    risk: SeasonRisk, cause: SeasonCause | None, code: str | None
) -> None:
    half = 500.0 if cause in (SeasonCause.RAIN, None) else 100.0
    for length, told in ((half - 1, False), (half, True)):
        soft = {"season_risk": risk, "season_cause": cause}
        case = _case(
            _stretch(500.0), _stretch(length, **soft), _stretch(9.0), _stretch(half, **soft)
        )
        found = _season(case)
        assert [item.code for item in found] == ([code] if told and code else [])
        assert all(item.from_m == 500.0 and item.to_m == 509.0 + 2 * half for item in found)


@pytest.mark.parametrize(("length_m", "told"), [(199.0, 0), (200.0, 1)])
def test_200_m_off_the_map_are_told_with_the_longest_part(length_m: float, told: int) -> None:
    off = {"ground": GroundKind.UNMAPPED}
    half = length_m / 2
    case = _case(_stretch(half - 10, **off), _stretch(9_000.0), _stretch(half + 10, **off))
    found = _unmapped(case)
    assert [item.from_m for item in found] == [half - 10 + 9_000.0] * told


def test_all_impassable_parts_are_told_the_longest_first() -> None:
    parts = [
        part
        for length in (30.0, 10.0, 40.0, 20.0)
        for part in (_stretch(length, impassable=True), _stretch(9_000.0))
    ]
    found = _impassable(_case(*parts))
    assert [item.to_m - item.from_m for item in found] == [40.0, 30.0, 20.0, 10.0]  # type: ignore[operator]


@pytest.mark.parametrize(
    ("wbgt_c", "index_c", "told"),
    [(30.9, 51.9, False), (31.0, 30.0, True), (20.0, 52.0, True)],
)
def test_heat_in_which_nobody_should_ride(wbgt_c: float, index_c: float, told: bool) -> None:
    """Stop from 31 C of WBGT (Japan sports guide 2013), extreme danger from 52 C (US NWS)."""
    rider = rider_heat(34.0, index_c=index_c, wbgt_c=33.0, riding_wbgt_c=wbgt_c)
    assert bool(_no_riding(_case(heat=SimpleNamespace(rider=rider)))) == told
    assert _no_riding(_case(heat=SimpleNamespace(rider=None))) == []


@pytest.mark.parametrize(
    ("air_c", "index_c", "wbgt_c", "used", "codes"),
    [
        (34.9, 31.9, 27.9, True, []),
        (34.9, 32.0, 27.9, True, ["heat-how", "heat-used"]),
        (34.9, 31.9, 28.0, False, ["heat-how"]),
        (35.0, 31.9, 24.9, False, ["heat-how", "gear-heat"]),
    ],
)
def test_heat_to_take_care_of(
    air_c: float, index_c: float, wbgt_c: float, used: bool, codes: list[str]
) -> None:
    """Extreme caution from 32 C (US NWS), no hard exercise from 28 C of WBGT (Japan sports guide
    2013), gear from 35 C (de Rome et al. 2016)."""
    rider = replace(
        rider_heat(air_c, index_c=index_c, wbgt_c=wbgt_c, riding_wbgt_c=20.0), used_to_heat=used
    )
    case = _case(heat=SimpleNamespace(rider=rider), fleet=SimpleNamespace(classes=()))
    assert [item.code for item in _heat(case)] == codes


@pytest.mark.parametrize(
    ("far_s", "far_m", "hospital_s", "codes"),
    [
        (None, None, None, ["help-unknown"]),
        (3_600.0, 50_000.0, 3_600.0, []),
        (3_601.0, 10.0, None, ["remote"]),
        (10.0, 50_001.0, None, ["remote"]),
        (None, 50_001.0, None, ["remote"]),
        (3_601.0, None, 3_601.0, ["remote", "care-far"]),
        (10.0, 10.0, 3_601.0, ["care-far"]),
    ],
)
def test_far_from_help(
    far_s: float | None, far_m: float | None, hospital_s: float | None, codes: list[str]
) -> None:
    """A mechanic 50 km or an hour off (common practice, no source), care an hour off (Vanderschuren
    and McKune 2015)."""
    case = _case(
        mechanic_s=far_s, mechanic_m=far_m, mechanic_at_m=5.0, mechanic_there_m=4.0,
        hospital_s=hospital_s, hospital_at_m=6.0, hospital_ferry_m=0.0, remote_m=7.0,
    )  # fmt: skip
    assert [item.code for item in _help(case)] == codes


@pytest.mark.parametrize(("score", "poor"), [(0.34, True), (0.35, False), (None, False)])
def test_a_bike_with_a_third_of_the_ground_is_no_answer(score: float | None, poor: bool) -> None:
    rows = (SimpleNamespace(what="rider", score=0.0), SimpleNamespace(what="ground", score=score))
    fit: Any = SimpleNamespace(table=rows)
    assert has_poor_ground(fit) == poor


@pytest.mark.parametrize(("length_m", "told"), [(499.0, False), (500.0, True)])
def test_nobody_is_warned_of_the_night_for_a_few_metres_of_track(
    length_m: float, told: bool
) -> None:
    """Common practice, no source."""
    legs = ((20.0, SEALED), (length_m / 1_000.0, TRACK), (20.0, SEALED))
    said = advise_case(inputs_of(Case(name="x", legs=legs, choice="road", top=()))).cautions
    assert ("dark" in {item.code for item in said}) is told


def test_the_three_hottest_clutch_parts_are_told() -> None:
    runs = [replace(hot_run(1e3 * i, 1e3 * i + 500), time_s=100.0 * i) for i in (2, 4, 1, 3)]
    found = _clutch(_case(heat=SimpleNamespace(clutch=runs)))
    assert [item.from_m for item in found] == [4e3, 3e3, 2e3, None, None]
