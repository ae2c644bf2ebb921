"""The answer's first lines."""

from __future__ import annotations

from dataclasses import replace

import pytest

from terrain.stages.verdict import judge_verdict
from terrain.text.message import message
from terrain.values.answers import AnsweredPart, Outcome, PartAnswer, Reply
from tests.assessed import ridden, stretch_of

RIDE = ridden(stretch_of(0, 20_000))


def _answered(outcome: Outcome, from_m: float) -> AnsweredPart:
    answer = PartAnswer(from_m=from_m, to_m=from_m + 1000.0, reply=Reply.LEAVE)
    return AnsweredPart(
        answer=answer, outcome=outcome, now_from_m=0.0, now_to_m=1.0,
        words=message("Left out as asked: {gone_m} from {from_at_m} of the route as sent.",
                      gone_m=1000.0, from_at_m=from_m),
    )  # fmt: skip


@pytest.mark.parametrize(
    ("outcomes", "said"),
    [
        ((Outcome.ROUND,), "Left out as asked: 1 km from km 2"),
        ((Outcome.SKIPPED,), "Left out as asked: 1 km from km 2"),
        ((Outcome.KEPT,), ""),
        ((Outcome.ROUND, Outcome.KEPT), "Left out as asked: 1 km from km 2 of"),
        ((Outcome.ROUND, Outcome.SKIPPED), "as sent: 1 km from km 2 and 1 km from km 5; the ride"),
    ],
)
def test_what_was_left_out_is_told_and_what_was_kept_is_not(
    outcomes: tuple[Outcome, ...], said: str
) -> None:
    parts = tuple(_answered(o, 2000.0 + 3000.0 * n) for n, o in enumerate(outcomes))
    lead = str(judge_verdict(replace(RIDE, answered=parts)).lead).replace("\u00a0", " ")
    assert said in lead if said else "Left out" not in lead
