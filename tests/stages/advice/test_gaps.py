"""What the ways between far points may add, and which of them tells most, by hand."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from terrain.stages.advice.case import AlternativeRoute, Alternatives
from terrain.stages.advice.setup.gaps import Moves, _by_fork, _by_gap, _within, telling_gaps
from terrain.tables.advice import SETUP
from tests.stages.advice.test_burden import _burden, _stretch

_PAVED, _TRACK = (1.0, 0.0, 0.0), (0.0, 0.0, 1.0)


def _other(from_m: float, hours: float, severity: float) -> Alternatives:
    """Instead of an hour of tarmac from there on, one time in two so many hours of track."""
    track = replace(_stretch(_TRACK, hours, severity=severity), way=9)
    return Alternatives(
        from_m=from_m, to_m=from_m + 10_000.0, weight=1.0,
        ways=(AlternativeRoute(weight=1.0, stretches=(track,)),),
    )  # fmt: skip


def test_a_way_that_may_be_hard_tells_more_than_a_longer_easy_one() -> None:
    """0.9 h off tarmac, all of it hard, against 1 h with nothing hard: 1.8 against 1."""
    hours = [_stretch(_PAVED, 20.0, severity=0) for _ in range(2)]
    burden = _burden(*hours, other_ways=(_other(0.0, 1.0, 3.0), _other(10_000.0, 0.9, 4.0)))
    assert telling_gaps(burden, SETUP, worse=True) == [10_000, 0]
    easy = _burden(*hours, other_ways=(_other(0.0, 1.0, 3.0), _other(10_000.0, 0.9, 3.0)))
    assert telling_gaps(easy, SETUP, worse=True) == [0, 10_000]


def _ride(time_s: list[float], off_s: float, hard_s: float) -> Any:
    """Two stretches, where gravel weighs 0.6 and 0.5 of its time, and track 1 and 0.8; what lies
    within a part is off tarmac and hard for so long."""
    return SimpleNamespace(
        time_s=np.array(time_s), ride_s=sum(time_s), within=lambda inside: (off_s, hard_s),
        weight=np.array([[0.0, 0.6, 1.0], [0.0, 0.5, 0.8]]),
    )  # fmt: skip


@pytest.mark.parametrize(
    ("worse", "off_s", "hard_s"),
    [(True, [0.0, 0.0, 610.0, 2_320.0], 0.0), (False, [0.0, 2_000.0, 0.0, 0.0], 300.0)],
)
def test_a_way_that_nobody_thinks_of_is_as_long_on_any_ground_and_not_hard(
    worse: bool, off_s: list[float], hard_s: float
) -> None:
    """An hour and half of another: on gravel 2,160 + 450 s, on track 3,600 + 720; now 2,000."""
    gap: Any = SimpleNamespace(
        key=7, inside=np.array([1.0, 0.5]), chance=0.2, p=np.array([0.5, 0.3, 0.2])
    )
    moves = _by_gap(_ride([3_600.0, 1_800.0], 2_000.0, 300.0), gap, worse=worse)
    assert moves.off_s.tolist() == pytest.approx(off_s)
    assert moves.hard_s.tolist() == [0.0, hard_s, hard_s, hard_s]
    assert moves.chance.tolist() == pytest.approx([0.8, 0.1, 0.06, 0.04])


@pytest.mark.parametrize(
    ("hours", "longer_s"),
    [(10.0, [1_800.0, -900.0]), (21.0, [0.0, 0.0])],  # from 20 h on the limit is four hours
)
@pytest.mark.parametrize("worse", [True, False])
def test_of_a_longer_way_a_fifth_is_taken_off_as_long_as_the_limit_grows_with_it(
    hours: float, longer_s: list[float], worse: bool
) -> None:
    """Two other ways for half the ride's second stretch of an hour: 1 h and 15 min. Off tarmac
    1,500 s at best and 2,400 at worst, and 100 and 200; hard 50 or 400, and none. Now 1,000, 60."""
    fork: Any = SimpleNamespace(
        key=3, inside=np.array([0.0, 0.5]), chance=np.array([0.5, 0.3, 0.2]),
        others=(SimpleNamespace(ride_s=3_600.0), SimpleNamespace(ride_s=900.0)),
        ends_s=np.array([[[1_500.0, 50.0], [2_400.0, 400.0]], [[100.0, 0.0], [200.0, 0.0]]]),
    )  # fmt: skip
    ride = _ride([(hours - 1.0) * 3_600.0, 3_600.0], 1_000.0, 60.0)
    moves = _by_fork(ride, fork, SETUP, worse=worse)
    there, sign = ([2_400.0, 200.0], 1) if worse else ([1_500.0, 100.0], -1)
    off_s = [
        max(0.0, sign * (s - 1_000.0 - 0.2 * more)) for s, more in zip(there, longer_s, strict=True)
    ]
    assert moves.off_s.tolist() == pytest.approx([0.0, *off_s])
    assert moves.hard_s.tolist() == ([0.0, 340.0, 0.0] if worse else [0.0, 10.0, 60.0])
    assert moves.chance.tolist() == [0.5, 0.3, 0.2]


def _moves(key: tuple[int, int], chance: float, off_s: float) -> Moves:
    return Moves(key, np.array([0.0, off_s]), np.zeros(2), np.array([1.0 - chance, chance]))


@pytest.mark.parametrize(
    ("parts", "within_s"),
    [
        ([_moves((1, 0), 0.03, 100.0)], 0.0), ([_moves((1, 0), 0.08, 100.0)], 100.0),
        ([_moves((1, 0), 0.08, 0.0)], 0.0), ([], 0.0),
        # 0 in 91 of 100 draws, 60 s or less in 97; and both in half a per cent.
        ([_moves((1, 0), 0.03, 100.0), _moves((1, 1), 0.06, 60.0)], 60.0),
        ([_moves((1, 0), 0.3, 100.0), _moves((1, 1), 0.3, 60.0)], 160.0),
        # Each gap is drawn apart from the others: one of two goes otherwise in 7 of 100.
        ([_moves((1, 0), 0.035, 50.0), _moves((1, 1), 0.035, 50.0)], 50.0),
        ([_moves((1, 0), 0.035, 50.0), _moves((2, 0), 0.035, 50.0)], 50.0),
    ],
)  # fmt: skip
def test_the_sum_of_moves_stays_within_what_95_of_100_draws_hold(
    parts: list[Moves], within_s: float
) -> None:
    assert _within(parts, [part.off_s for part in parts], SETUP) == within_s
