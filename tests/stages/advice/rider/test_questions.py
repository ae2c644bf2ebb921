"""What was answered is not asked again."""

from __future__ import annotations

from dataclasses import replace

import pytest

from terrain.stages.advice.advise import advise_case
from terrain.values.answers import PartAnswer, Reply
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
