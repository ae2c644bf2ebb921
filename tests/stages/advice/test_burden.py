"""Weighted off-road time worked by hand.

An hour of gravel counts 0.25 at severity 1, 0.40 at 2, 0.80 at 3; an hour of track 0.60 at 1 and
1 from 2.5 on (tables/advice, common practice, no source).
"""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from terrain.stages.advice.advise import advise_case
from terrain.stages.advice.burden import OffRoadTime, _moved, burden_of
from terrain.stages.advice.case import AdviceCase, AdviceStretch, AlternativeRoute, Alternatives
from terrain.stages.advice.setup.decide import bounds_of, limit_s
from terrain.tables.advice import SETUP
from terrain.tables.fleet import DEFAULT_FLEET
from terrain.values.ground import Basis, GroundKind, SeasonRisk
from terrain.values.trip import Trip

_HOUR = 3_600.0
_PAVED, _GRAVEL, _TRACK = (1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0.0, 0.0, 1.0)


def _stretch(
    p: tuple[float, float, float] | None, hours: float = 1.0, **more: object
) -> AdviceStretch:
    return AdviceStretch(
        from_m=0.0, to_m=10_000.0, ground=GroundKind.TRACK, p=p, time_s=hours * _HOUR,
        **({"basis": Basis.TAGGED} | more),  # type: ignore[arg-type]
    )  # fmt: skip


def _case(*stretches: AdviceStretch, **more: object) -> AdviceCase:
    at, placed = 0.0, []
    for number, stretch in enumerate(stretches):
        placed.append(replace(stretch, from_m=at, to_m=at + 10_000.0, way=number))
        at += 10_000.0
    return AdviceCase(
        stretches=tuple(placed), trip=Trip(), fleet=DEFAULT_FLEET, **more,  # type: ignore[arg-type]
    )  # fmt: skip


def _burden(*stretches: AdviceStretch, **more: object) -> OffRoadTime:
    return burden_of(_case(*stretches, **more), SETUP)


@pytest.mark.parametrize(
    ("stretch", "weight"),
    [
        (_stretch(_PAVED, severity=0.0), 0.0),
        (_stretch(_GRAVEL, severity=0.5), 0.25),
        (_stretch(_GRAVEL, severity=1.6), 0.34),
        (_stretch(_GRAVEL, severity=2.5), 0.60),
        # Gravel is never harder than 3, a track never easier than 2.
        (_stretch(_GRAVEL, severity=4.5), 0.80),
        (_stretch(_TRACK, severity=1.0), 0.60 + 0.40 * 1.0 / 1.5),
        (_stretch(_TRACK, severity=2.3), 0.60 + 0.40 * 1.3 / 1.5),
        (_stretch(_TRACK, severity=4.0), 1.0),
        # Not known: 2 as gravel, 2.7 as track.
        (_stretch(_GRAVEL, severity=None), 0.40),
        (_stretch(_TRACK, severity=None), 1.0),
        # What was itself inferred says nothing of gravel, and of track only from 2.7 on.
        (_stretch(_GRAVEL, severity=2.9, basis=Basis.INFERRED), 0.40),
        (_stretch(_TRACK, severity=2.2, basis=Basis.INFERRED), 1.0),
        (_stretch(_TRACK, severity=1.9, basis=Basis.INFERRED), 1.0),
        # Soft ground counts more, but an hour never for more than an hour.
        (_stretch(_GRAVEL, severity=2.0, season_risk=SeasonRisk.DOUBTFUL), 0.50),
        (_stretch(_GRAVEL, severity=2.0, season_risk=SeasonRisk.CONFIRM_FIRST), 0.60),
        (_stretch(_GRAVEL, severity=2.0, season_risk=SeasonRisk.DAMP), 0.40),
        (_stretch(_TRACK, severity=3.0, season_risk=SeasonRisk.CONFIRM_FIRST), 1.0),
    ],
)
def test_weight_of_an_hour(stretch: AdviceStretch, weight: float) -> None:
    burden = _burden(stretch)
    assert burden.ride_s == _HOUR
    assert burden.expected_s()[0] / _HOUR == pytest.approx(weight)
    assert burden.likely_s()[0] / _HOUR == pytest.approx(weight)


@pytest.mark.parametrize(
    ("severity", "hard"), [(3.4, False), (3.5, True), (5.0, True), (None, False)]
)
def test_what_road_tyres_cannot_do(severity: float | None, hard: bool) -> None:
    burden = _burden(_stretch((0.5, 0.2, 0.3), severity=severity))
    # Hard ground is so unless it turns out to be paved: half of it.
    assert burden.expected_s()[1] == pytest.approx(0.5 * _HOUR if hard else 0.0)


def test_ferries_and_what_takes_no_time_ask_nothing() -> None:
    ferry = replace(_stretch(None, 2.0), ground=GroundKind.FERRY)
    burden = _burden(ferry, _stretch(_TRACK, severity=3), _stretch(_TRACK, 0.0, severity=3))
    assert burden.row.tolist() == [1]
    assert burden.ride_s == _HOUR


def test_off_the_map_is_what_is_mostly_missing_from_it() -> None:
    """0.2 paved, 0.3 gravel, 0.5 track, at usual severities: 0.3 x 0.40 + 0.5."""
    burden = _burden(_stretch(None, severity=None))
    assert burden.expected_s()[0] / _HOUR == pytest.approx(0.3 * 0.40 + 0.5)


@pytest.mark.parametrize(
    ("p", "better", "worse", "doubtful"),
    [
        ((0.88, 0.06, 0.06), 0, 0, False),
        ((0.88, 0.12, 0.00), 0, 1, True),
        ((0.11, 0.11, 0.78), 2, 2, False),
        ((0.12, 0.76, 0.12), 0, 2, True),
        ((0.0, 0.5, 0.5), 1, 2, True),
    ],
)
def test_a_ground_is_plausible_from_twelve_in_a_hundred_on(
    p: tuple[float, float, float], better: int, worse: int, doubtful: bool
) -> None:
    burden = _burden(_stretch(p, severity=2.0))
    assert (burden.better().tolist(), burden.worse().tolist()) == ([better], [worse])
    assert burden.doubtful.tolist() == [doubtful]


@pytest.mark.parametrize(
    ("p", "better", "worse"),
    [
        ((0.96, 0.04, 0.00), 0, 0),
        ((0.92, 0.05, 0.03), 0, 1),
        ((0.05, 0.90, 0.05), 1, 2),
        ((0.11, 0.05, 0.84), 2, 2),
    ],
)
def test_where_nobody_saw_the_ground_a_harder_one_is_plausible_from_one_in_twenty_on(
    p: tuple[float, float, float], better: int, worse: int
) -> None:
    burden = _burden(_stretch(p, basis=Basis.INFERRED))
    assert (burden.better().tolist(), burden.worse().tolist()) == ([better], [worse])


def test_the_most_probable_ground_is_plausible_however_unlikely() -> None:
    low = replace(SETUP, plausible=0.9)
    burden = burden_of(_case(_stretch((0.3, 0.5, 0.2), severity=2.0)), low)
    assert burden.plausible.tolist() == [[False, True, False]]


def test_known_parts_and_parts_left_out() -> None:
    half = (0.5, 0.0, 0.5)
    burden = _burden(_stretch(half, severity=3), _stretch(half, 3.0, severity=3))
    first = np.array([True, False])
    assert burden.expected_s()[0] == pytest.approx(2 * _HOUR)
    assert burden.fixed(first, 2).expected_s()[0] == pytest.approx(2.5 * _HOUR)
    assert burden.fixed(first, 0).expected_s()[0] == pytest.approx(1.5 * _HOUR)
    assert burden.fixed(first, 0).doubtful.tolist() == [False, True]
    left = burden.without(first)
    assert left.ride_s == 3 * _HOUR and left.expected_s()[0] == pytest.approx(1.5 * _HOUR)


def test_another_way_changes_the_expected_time_by_its_chance() -> None:
    """Half of a paved hour may have gone an hour of track instead, one time in four."""
    track = replace(_stretch(_TRACK, severity=3), way=9)
    part = Alternatives(from_m=5_000.0, to_m=10_000.0, weight=3.0,
                     ways=(AlternativeRoute(weight=1.0, stretches=(track,)),))  # fmt: skip
    burden = _burden(_stretch(_PAVED, severity=0), _stretch(_TRACK, severity=3),
                     other_ways=(part,))  # fmt: skip
    (fork,) = burden.forks
    assert fork.inside.tolist() == [0.5, 0.0] and fork.chance.tolist() == [0.75, 0.25]
    assert burden.expected_s()[0] == pytest.approx(1.25 * _HOUR)
    assert burden.as_laid().expected_s()[0] == pytest.approx(_HOUR)
    assert not burden.without(np.array([True, False])).forks


def test_another_way_changes_what_is_hard_by_its_chance() -> None:
    """Half of a hard hour may have gone two hard hours instead, one time in four: 1.5 h more."""
    hard = replace(_stretch(_TRACK, 2.0, severity=4), way=9)
    part = Alternatives(from_m=5_000.0, to_m=10_000.0, weight=3.0,
                     ways=(AlternativeRoute(weight=1.0, stretches=(hard,)),))  # fmt: skip
    burden = _burden(_stretch(_TRACK, severity=4), other_ways=(part,))
    assert burden.expected_s() == pytest.approx((1.375 * _HOUR, 1.375 * _HOUR))


def test_guessed_time_is_that_between_far_points() -> None:
    burden = _burden(_stretch(_PAVED), _stretch(_PAVED, 3.0), gaps=((5_000.0, 12_500.0),))
    assert burden.guessed_s == pytest.approx(0.5 * _HOUR + 0.25 * 3 * _HOUR)


@pytest.mark.parametrize(("hours", "limit_h"), [(5, 1.0), (10, 2.0), (20, 4.0), (30, 4.0)])
def test_the_limit_is_a_fifth_of_the_time_or_four_hours(hours: float, limit_h: float) -> None:
    assert limit_s(hours * _HOUR, SETUP) == pytest.approx(limit_h * _HOUR)


@pytest.mark.parametrize(
    ("track_h", "choice"),
    # Of ten hours two are the limit; within a twentieth of it the answer stays open.
    [(1.85, "road"), (1.95, "ask"), (2.05, "ask"), (2.15, "off-road")],
)
def test_the_answer_at_the_limit(track_h: float, choice: str) -> None:
    case = _case(
        _stretch(_PAVED, 10.0 - track_h, severity=0),
        _stretch(_TRACK, track_h, severity=3),
    )
    assert advise_case(case).setup.choice == choice


@pytest.mark.parametrize(
    ("hard_min", "choice"), [(18.5, "road"), (19.5, "ask"), (20.5, "ask"), (21.5, "off-road")]
)
def test_twenty_minutes_of_hard_ground_decide(hard_min: float, choice: str) -> None:
    case = _case(
        _stretch(_PAVED, 10.0, severity=0),
        _stretch(_TRACK, hard_min / 60, severity=4),
    )
    assert advise_case(case).setup.choice == choice


def test_bounds_of_one_doubtful_hour() -> None:
    """Paved or a track by halves: between nothing and the whole hour, wherever it is likelier."""
    for p in ((0.5, 0.0, 0.5), (0.7, 0.0, 0.3), (0.3, 0.0, 0.7)):
        bounds = bounds_of(_burden(_stretch(p, severity=3)), SETUP)
        assert (bounds.off_low_s, bounds.off_high_s) == pytest.approx((0.0, _HOUR))
        assert (bounds.hard_low_s, bounds.hard_high_s) == (0.0, 0.0)
    sure = bounds_of(_burden(_stretch(_TRACK, severity=4)), SETUP)
    assert (sure.off_low_s, sure.off_high_s) == pytest.approx((_HOUR, _HOUR))
    assert (sure.hard_low_s, sure.hard_high_s) == pytest.approx((_HOUR, _HOUR))


def test_how_far_two_guesses_may_move_the_time_by_hand() -> None:
    """Two hours, each likely paved: gravel would weigh 0.5 and track 0.8, which is plausible in
    neither. Half of each stretch's error is shared by both."""
    p = np.array([[0.5, 0.3, 0.2], [0.6, 0.3, 0.1]])
    burden: Any = SimpleNamespace(
        row=np.arange(2), time_s=np.array([3_600.0, 7_200.0]), p=p, shared=np.full((2, 1), 0.5),
        place=np.array([[0, 0], [1, 0]]), likely=lambda: np.array([0, 0]),
        worse=lambda: np.array([1, 1]), better=lambda: np.array([0, 0]),
    )  # fmt: skip
    value = np.array([[0.0, 0.5, 0.8]] * 2)
    # Of tarmac and another ground alone, the share of the other.
    gravel, track = (p[:, g] / (p[:, g] + p[:, 0]) for g in (1, 2))
    hours = burden.time_s
    mean_s = float(hours @ (gravel * 0.5 + track * 0.8))
    a, b = 1_800.0, 3_600.0  # to gravel, whole
    # Variances of their own halves, and of what they share, which moves both at once.
    spread_s = np.sqrt(0.5 * a**2 + 0.5 * b**2 + 0.5 * (a + b) ** 2)
    most_s = a + b + float(hours @ (track * 0.3))
    assert mean_s + spread_s > most_s
    assert _moved(burden, value, worse=True) == pytest.approx(most_s)
    assert _moved(burden, value, worse=False) == 0.0
    rare = np.array([[0.5, 0.02, 0.0], [0.6, 0.03, 0.0]])
    burden.p = rare
    some_s = float(hours @ (rare[:, 1] / (rare[:, 1] + rare[:, 0]) * 0.5))
    assert _moved(burden, value, worse=True) == pytest.approx(some_s + spread_s)
    back = np.array([[0.8, 0.5, 0.0]] * 2)
    assert _moved(burden, back, worse=True) == 0.0
    burden.better = lambda: np.array([1, 1])
    some_s = float(hours @ (rare[:, 1] / (rare[:, 1] + rare[:, 0]) * 0.3))
    low_s = np.sqrt(0.5 * 1_080.0**2 + 0.5 * 2_160.0**2 + 0.5 * 3_240.0**2)
    assert _moved(burden, back, worse=False) == pytest.approx(some_s + low_s)


def test_no_two_stretches_of_a_ride_and_its_other_ways_have_one_number() -> None:
    """By their numbers their errors are told apart: two parts, of two and of one other way."""
    ways = [
        AlternativeRoute(weight=0.5, stretches=tuple(_stretch(_TRACK) for _ in range(n)))
        for n in (2, 3, 1)
    ]
    parts = (
        Alternatives(from_m=0.0, to_m=10_000.0, weight=1.0, ways=(ways[0], ways[1])),
        Alternatives(from_m=10_000.0, to_m=20_000.0, weight=1.0, ways=(ways[2],)),
    )
    burden = _burden(_stretch(_PAVED), _stretch(_PAVED), other_ways=parts)
    rows = [burden.row, *(other.row for fork in burden.forks for other in fork.others)]
    assert np.concatenate(rows).tolist() == list(range(2 + 2 + 3 + 1))
