"""How well reports did, on rides made by hand."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import pytest

from terrain.report.ride.hindsight import hindsight_text
from terrain.stages.ridden.learning.hindsight import judge_hindsight
from terrain.values.ground import Basis, GroundKind, Severity
from terrain.values.learned import Statement, Witness
from terrain.values.ridden import Ridden, RiddenPart
from terrain.values.trip import Rider, Three

_DAY = date(2027, 3, 14)


def _part(ground: GroundKind, p: Three, moving_s: float, expected_s: float) -> RiddenPart:
    return RiddenPart(
        from_m=0.0, to_m=1_000.0, way_id=1, highway="track", name=None, ground=ground, p=p,
        basis=Basis.TAGGED, severity=Severity.EASY, grade_pct=0.0, moving_s=moving_s,
        expected_s=expected_s, clock_s=moving_s, off_plan=None, shown=True,
    )  # fmt: skip


def ride(
    name: str, ratio: float, *, gap_s: float = 10.0, night_s: float = 0.0,
    p: Three = (0.02, 0.9, 0.08),
) -> Ridden:  # fmt: skip
    """A ride expected to take 4,000 s, half of it on gravel, which alone took longer."""
    gravel = 2_000.0 + 4_000.0 * (ratio - 1.0)
    return Ridden(
        name=name, region="r", day=_DAY, start_time="2027-03-14T08:00:00+01:00",
        end_time="2027-03-14T10:00:00+01:00", rider=Rider.STEADY, bike_class=None, length_m=2_000.0,
        moving_s=4_000.0 * ratio, moving_low_s=4_000.0 * ratio, moving_high_s=4_000.0 * ratio,
        standing_s=0.0, expected_s=4_000.0, expected_low_s=3_200.0,
        expected_high_s=5_000.0, night_s=night_s, far_s=None, median_gap_s=gap_s, stops=(),
        parts=(
            _part(GroundKind.PAVED, (0.98, 0.01, 0.01), 2_000.0, 2_000.0),
            _part(GroundKind.GRAVEL, p, gravel, 2_000.0),
        ),
        times=(), plan=None, problems=(),
    )  # fmt: skip


def test_intervals_and_errors_are_counted() -> None:
    told = judge_hindsight([ride("a", 1.0), ride("b", 1.2), ride("c", 1.5), ride("d", 0.9)])
    assert (told.time.n, told.time.held) == (4, 3)
    assert told.time.share == 0.75
    assert told.time.low is not None
    assert told.time.high is not None
    assert told.time.low < 0.75 < told.time.high
    assert told.mean_error == pytest.approx((0.0 + 0.2 / 1.2 + 0.5 / 1.5 + 0.1 / 0.9) / 4)
    assert [miss.name for miss in told.misses] == ["c", "b", "d", "a"]
    assert told.misses[0].reason.startswith("gravel took 200")


def test_reasons() -> None:
    def reason(ridden: Ridden) -> str:
        return judge_hindsight([ridden]).misses[0].reason

    assert "apart" in reason(ride("a", 1.5, gap_s=120.0))
    assert "in the dark" in reason(ride("a", 1.5, night_s=3_000.0))
    assert "that the map does not tell" in reason(ride("a", 1.5, p=(0.2, 0.5, 0.3)))


def test_what_went_the_other_way_explains_nothing() -> None:
    """The dark makes nobody quicker, and a ground that took longer no ride shorter."""
    quick = ride("a", 0.7, night_s=3_000.0)
    paved, gravel = quick.parts
    slow = replace(paved, moving_s=4_000.0)
    told = judge_hindsight([replace(quick, parts=(slow, gravel))]).misses[0].reason
    assert told.startswith("gravel took 40")


def test_ground_by_witnesses_who_are_heard() -> None:
    map_p: dict[int, Three] = {1: (0.6, 0.3, 0.1), 2: (0.2, 0.7, 0.1)}
    statements = [
        Statement(way_id=1, who="ana", day=_DAY, ground=GroundKind.PAVED),
        Statement(way_id=2, who="ana", day=_DAY, ground=GroundKind.TRACK),
        Statement(way_id=2, who="liar", day=_DAY, ground=GroundKind.PAVED),
        Statement(way_id=2, who="ana", day=_DAY, shut=True),
    ]
    witnesses = [
        Witness(who="ana", errs=0.1, checks=5, statements=3, heard=True),
        Witness(who="liar", errs=0.8, checks=5, statements=1, heard=False),
    ]
    told = judge_hindsight([], statements=statements, witnesses=witnesses, map_p=map_p)
    assert told.ground is not None
    assert (told.ground.n, told.ground.right) == (2, 1)
    assert told.ground.expected == pytest.approx(1.3)
    assert told.time.share is None
    assert told.to_dict()["ground"]["right"] == 1


def test_text() -> None:
    text = hindsight_text(judge_hindsight([ride("a\nb", 1.5)]))
    assert "Rides within their 90" in text and "0 of 1," in text
    assert "gravel took 200 % of the expected time" in text
    assert hindsight_text(judge_hindsight([])) == "No ride with a known time."
