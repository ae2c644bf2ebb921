"""How each rider of a group stands: may the bike go, why not, what then."""

from __future__ import annotations

from dataclasses import replace

import pytest

from terrain.stages.group import judge_rider_in
from terrain.stages.verdict import judge_verdict
from terrain.values.advice import SetupChoice
from terrain.values.ground import Severity
from terrain.values.group import GroupRider, InGroup
from terrain.values.report import Assessed
from terrain.values.trip import Rider, Trip
from terrain.values.verdict import Finding, FindingKind, Rank, RidePart, for_all
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
    assert (may_go, answer, then) == (False, says, f"do: {says}")


def test_without_it_the_bike_may_go_or_it_is_open() -> None:
    assert _stands(RIDE) == (True, "May go.", "")
    ask = replace(ADVICE, setup=replace(ADVICE.setup, choice=SetupChoice.ASK))
    may_go, answer, _ = _stands(replace(RIDE, advice=ask))
    assert (may_go, answer) == (None, "Open.")


def _rider_of(ride: Assessed, *said: Finding) -> GroupRider:
    verdict = replace(judge_verdict(ride), findings=said)
    report = replace(report_of(ride), verdict=verdict)
    return judge_rider_in(InGroup(report=report, alone_s=3600.0), "A")


def _spans(parts: tuple[RidePart, ...]) -> list[tuple[float, float]]:
    return [(part.from_m, part.to_m) for part in parts]


def test_where_it_is_too_hard_for_a_novice_and_where_at_the_edge() -> None:
    """Severity 1.5 and 2.5 (tables/advice). Parts 200 m from each other are one."""
    novice = Trip(rider=Rider.NOVICE)
    ends = (0, 1_000, 3_000, 3_200, 3_500, 5_000, 6_000, 20_000)
    levels = (0, 2, 1, 2, 0, 3, 0)
    ride = ridden(*(
        stretch_of(a, b, severity=Severity(level))
        for a, b, level in zip(ends[:-1], ends[1:], levels, strict=True)
    ))  # fmt: skip
    rider = _rider_of(replace(ride, trip=novice))
    assert _spans(rider.too_hard) == [(5_000, 6_000)]
    assert _spans(rider.at_edge) == [(1_000, 3_500), (5_000, 6_000)]
    # Where it is not the ground that is told, the parts of what is.
    long = replace(_BEYOND, parts=(RidePart(from_m=7e3, to_m=8e3),))
    near = replace(long, rank=Rank.CARE, parts=(RidePart(from_m=1e3, to_m=2e3),))
    other = replace(_CLOSED, parts=(RidePart(from_m=4e3, to_m=5e3),))
    rider = _rider_of(replace(RIDE, trip=novice), other, long, near)
    assert _spans(rider.too_hard) == [(7_000, 8_000)]
    assert _spans(rider.at_edge) == [(1_000, 2_000)]
