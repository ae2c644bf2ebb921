"""What is asked, and that what was answered is not asked again."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace
from typing import Any

import pytest

from terrain.stages.advice.advise import advise_case
from terrain.stages.advice.case import AdviceCase, AdviceStretch
from terrain.stages.advice.rider.questions import _month
from terrain.tables.fleet import DEFAULT_FLEET
from terrain.values.answers import PartAnswer, Reply
from terrain.values.ground import Basis, GroundKind, SeasonRisk
from terrain.values.trip import Trip
from tests.stages.advice.trips import HARD, SEALED, Case, inputs_of

_RIDE = Case(name="x", legs=((150, SEALED), (6, HARD)), choice="off-road", top=())


@pytest.mark.parametrize(
    ("reply", "from_m", "asked"),
    [
        (Reply.KEEP, 149_000.0, False),
        (Reply.LEAVE, 149_000.0, False),
        (Reply.UNSURE, 149_000.0, True),
        (Reply.KEEP, 1_000.0, True),  # another part
    ],
)
def test_a_part_that_is_meant_or_left_out_is_not_asked_about(
    reply: Reply, from_m: float, asked: bool
) -> None:
    ride = inputs_of(_RIDE)
    answer = PartAnswer(from_m=from_m, to_m=from_m + 7_000.0, reply=reply)
    said = advise_case(replace(ride, trip=replace(ride.trip, answers=(answer,)))).questions
    assert ("skip-this-run" in {item.code for item in said}) is asked
    assert "skip-this-run" in {item.code for item in advise_case(ride).questions}


def _ride(*legs: tuple[float, tuple[float, float, float]]) -> AdviceCase:
    """Hours and chances of each leg, 10 km each; how hard it is is not known."""
    stretches = tuple(
        AdviceStretch(
            from_m=10_000.0 * i, to_m=10_000.0 * (i + 1), p=p, time_s=3_600.0 * hours, way=i,
            ground=GroundKind.PAVED if p == _PAVED else GroundKind.TRACK, basis=Basis.TAGGED,
        )
        for i, (hours, p) in enumerate(legs)
    )  # fmt: skip
    return AdviceCase(stretches=stretches, trip=Trip(), fleet=DEFAULT_FLEET, month=9)


_PAVED, _TRACK, _EITHER = (1.0, 0.0, 0.0), (0.0, 0.0, 1.0), (0.5, 0.0, 0.5)


def test_parts_of_which_any_decides_are_asked_about_from_the_first_to_the_last() -> None:
    """A fifth of ten hours is the limit, and two hours are track: more, and it is off-road.

    Two more hours may be track, each alone enough; if both are tarmac it stays open.
    """
    ride = _ride(
        (2.0, _PAVED), (1.0, _EITHER), (2.0, _PAVED), (2.0, _TRACK), (2.0, _PAVED), (1.0, _EITHER),
    )  # fmt: skip
    (asked,) = [item for item in advise_case(ride).questions if item.code == "which-any"]
    assert (asked.from_m, asked.to_m) == (10_000.0, 60_000.0)


def test_no_more_than_three_questions_are_asked() -> None:
    """Four parts of .55 h are 2.2 of ten hours; without any one of them the ride is for the road:
    1.65 h where 1.89 are the limit."""
    tarmac, track = (1.56, _PAVED), (0.55, _TRACK)
    advice = advise_case(_ride(tarmac, track, tarmac, track, tarmac, track, tarmac, track, tarmac))
    assert advice.setup.choice == "off-road"
    assert [item.code for item in advice.questions] == ["skip-this-run"] * 3


@pytest.mark.parametrize(
    ("ground", "risk", "length_m", "month", "asked"),
    [
        (GroundKind.TRACK, None, 1_000.0, None, 1), (GroundKind.TRACK, None, 999.0, None, 0),
        (GroundKind.TRACK, None, 9_000.0, 7, 0), (GroundKind.GRAVEL, None, 9_000.0, None, 0),
        (GroundKind.GRAVEL, SeasonRisk.NONE, 9_000.0, None, 0),
        (GroundKind.GRAVEL, SeasonRisk.DAMP, 1_000.0, None, 1),
    ],
)  # fmt: skip
def test_the_month_is_asked_for_a_kilometre_of_soft_ground(
    ground: GroundKind, risk: SeasonRisk | None, length_m: float, month: int | None, asked: int
) -> None:
    """Common practice, no source."""
    paved = SimpleNamespace(
        ground=GroundKind.PAVED, season_risk=None, from_m=0.0, to_m=500.0, length_m=500.0
    )
    soft = SimpleNamespace(
        ground=ground, season_risk=risk, from_m=500.0, to_m=500.0 + length_m, length_m=length_m
    )
    case: Any = SimpleNamespace(month=month, stretches=(paved, soft))
    assert [item.from_m for item in _month(case)] == [500.0] * asked
