"""How each rider of a group stands: may the bike go, why not, what then."""

from __future__ import annotations

from dataclasses import replace

import pytest

from terrain.stages.group import judge_rider_in
from terrain.stages.verdict import judge_verdict
from terrain.values.advice import SetupChoice
from terrain.values.group import InGroup
from terrain.values.report import Assessed
from terrain.values.verdict import Finding, FindingKind, Rank, for_all
from tests.assessed import ADVICE, report_of, ridden, stretch_of

RIDE = ridden(stretch_of(0, 20_000))


def _finding(kind: FindingKind, what: str) -> Finding:
    return Finding(kind=kind, rank=Rank.FORBIDDEN, what=what, do=for_all(f"do: {what}"), parts=(),
                   place=None, size=1.0)  # fmt: skip


def _stands(ride: Assessed, *forbidden: Finding) -> tuple[bool | None, str, str]:
    verdict = replace(judge_verdict(ride), findings=forbidden)
    rider = judge_rider_in(
        InGroup(report=replace(report_of(ride), verdict=verdict), alone_s=3600.0), "A"
    )
    return rider.may_go, str(rider.answer), str(rider.then.rider)


_CLOSED = _finding(FindingKind.CLOSED, "closed")
_BEYOND = _finding(FindingKind.BEYOND_RIDER, "beyond")
_WANTED = _finding(FindingKind.WANTED_BIKE, "wanted")


@pytest.mark.parametrize(
    ("forbidden", "says"),
    [
        ((_CLOSED,), "closed"),
        # What is this rider's own comes before what forbids the ride to all.
        ((_CLOSED, _BEYOND), "beyond"),
        ((_CLOSED, _BEYOND, _WANTED), "wanted"),
    ],
)
def test_what_forbids_is_the_answer_and_what_then(
    forbidden: tuple[Finding, ...], says: str
) -> None:
    may_go, answer, then = _stands(RIDE, *forbidden)
    assert may_go is False and answer == says
    assert (then.startswith("do: ") and then != "do: closed") or len(forbidden) == 1


def test_without_it_the_bike_may_go_or_it_is_open() -> None:
    assert _stands(RIDE) == (True, "May go.", "")
    ask = replace(ADVICE, setup=replace(ADVICE.setup, choice=SetupChoice.ASK))
    may_go, answer, _ = _stands(replace(RIDE, advice=ask))
    assert (may_go, answer) == (None, "Open.")
