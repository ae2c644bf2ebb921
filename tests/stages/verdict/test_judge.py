"""The answer's first lines."""

from __future__ import annotations

from dataclasses import replace

import pytest

from terrain.stages.verdict import judge_verdict
from terrain.tables.verdict import SURENESS
from terrain.text.message import message
from terrain.values.advice import SetupChoice
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
        ((Outcome.ROUND, Outcome.ROUND), "as sent: 1 km from km 2 and 1 km from km 5; the ride"),
        # Nothing is ridden round what is skipped.
        ((Outcome.ROUND, Outcome.SKIPPED), "as sent. Left out as asked: 1 km from km 5 of the"),
    ],
)
def test_what_was_left_out_is_told_and_what_was_kept_is_not(
    outcomes: tuple[Outcome, ...], said: str
) -> None:
    parts = tuple(_answered(o, 2000.0 + 3000.0 * n) for n, o in enumerate(outcomes))
    # In riding order, whichever was answered first.
    lead = str(judge_verdict(replace(RIDE, answered=parts[::-1])).lead).replace("\u00a0", " ")
    assert said in lead if said else "Left out" not in lead


#: From this probability on: how often each word was right is measured in tests/bench/certainty.py.
_WORDS = ((0.99, "nearly certain"), (0.97, "very likely right"), (0.75, "likely right"),
          (0.0, "not certain"))  # fmt: skip


@pytest.mark.parametrize("choice", [SetupChoice.ROAD, SetupChoice.OFF_ROAD])
@pytest.mark.parametrize(
    "p", [1.0, 0.99, 0.9899, 0.97, 0.9699, 0.75, 0.7499, 0.5, 0.0], ids="{:.4f}".format
)
def test_the_word_of_certainty_follows_from_the_number_alone(choice: SetupChoice, p: float) -> None:
    """One word for a number, whichever setup it is the probability of, and the word of the
    headline is that of the value."""
    p_off = p if choice is SetupChoice.OFF_ROAD else 1 - p
    setup = replace(RIDE.advice.setup, choice=choice, p_off_road=round(p_off, 6))
    verdict = judge_verdict(replace(RIDE, advice=replace(RIDE.advice, setup=setup)))
    word = next(word for from_p, word in _WORDS if p >= from_p - 1e-9)
    assert verdict.certainty.p == pytest.approx(p)
    assert str(verdict.certainty.text) == word
    others = [other for _, other in _WORDS if other not in word and word not in other]
    assert word in str(verdict.headline)
    assert not any(other in str(verdict.headline) for other in others)


def test_an_open_answer_has_no_word_of_certainty() -> None:
    setup = replace(RIDE.advice.setup, choice=SetupChoice.ASK, p_off_road=0.99)
    verdict = judge_verdict(replace(RIDE, advice=replace(RIDE.advice, setup=setup)))
    assert (verdict.certainty.p, verdict.certainty.sureness) == (None, None)
    assert not any(word in str(verdict.headline) for _, word in _WORDS)


def test_words_claim_no_less_than_the_same_words_do_elsewhere() -> None:
    """Likely is 66 % or more, very likely 90 % or more (IPCC, guidance note on the treatment of
    uncertainties, 2010, table 1; from memory)."""
    from_p = {row.sureness: row.from_p for row in SURENESS}
    assert from_p["very-likely"] >= 0.9 and from_p["likely"] >= 0.66
    assert from_p["nearly-certain"] > from_p["very-likely"] > from_p["likely"]
