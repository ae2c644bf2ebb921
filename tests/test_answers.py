"""Questions asked, answered and settled: the whole job before and after."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

import jsonschema
import pytest

import terrain
from terrain.report.data.jsonfile import report_schema
from terrain.text.translator import translator_for
from terrain.values.advice import SetupChoice
from terrain.values.answers import Outcome, PartAnswer, Reply
from terrain.values.ground import GroundKind
from terrain.values.report import Report


@pytest.fixture(scope="module")
def judged(island_home: Path):
    region = terrain.open_region("island", island_home)
    route = terrain.read_route(island_home / "demo" / "routes" / "high-tracks.gpx")

    def judge(*answers: PartAnswer) -> Report:
        trip = terrain.Trip(depart=datetime(2027, 3, 14, 8, 30), rider="novice", answers=answers)
        return terrain.assess(route, region, trip, made_at=datetime(2027, 3, 1, tzinfo=UTC))

    return judge


def test_leaving_out_what_is_asked_settles_the_ride(judged) -> None:
    """52 km of track there and back are asked about; without them it is a road trip."""
    before = judged()
    asked = before.verdict.asked
    assert asked and asked[0].if_left
    assert "Do you mean to ride the 52" in translator_for("en").translate(asked[0].text)
    no = [
        PartAnswer(from_m=part.sent_from_m, to_m=part.sent_to_m, reply=Reply.LEAVE)
        for part in asked[:2]
    ]
    after = judged(*no)
    assert before.verdict.answer is SetupChoice.OFF_ROAD
    assert after.verdict.answer is SetupChoice.ROAD
    gone_m = before.assessed.match.length_m - after.assessed.match.length_m
    assert gone_m == pytest.approx(-sum(part.added_m for part in after.assessed.answered), abs=100)
    assert "Left out as asked" in translator_for("en").translate(after.verdict.lead)
    # What was answered is not asked again, and what is asked now lies where the file has it.
    for part in after.verdict.asked:
        assert not any(item.covers(part.sent_from_m, part.sent_to_m, 0.5) for item in no)
        assert part.sent_from_m >= part.from_m - 1.0
    told = after.to_dict()
    jsonschema.validate(told, report_schema())
    assert [row["outcome"] for row in told["answers"]] == ["skipped", "skipped"]


def test_a_part_that_is_kept_changes_nothing_but_is_not_asked_again(judged) -> None:
    before = judged()
    first = before.verdict.asked[0]
    kept, unsure = (
        judged(PartAnswer(from_m=first.sent_from_m, to_m=first.sent_to_m, reply=reply))
        for reply in (Reply.KEEP, Reply.UNSURE)
    )
    assert kept.verdict.answer is before.verdict.answer
    assert kept.assessed.match.length_m == before.assessed.match.length_m
    assert first.text not in [part.text for part in kept.verdict.asked]
    assert first.text in [part.text for part in unsure.verdict.asked]
    assert [part.outcome for part in unsure.assessed.answered] == [Outcome.OPEN]


def test_ground_that_the_customer_tells_counts(judged) -> None:
    first = judged().verdict.asked[0]
    told = judged(PartAnswer(from_m=first.sent_from_m, to_m=first.sent_to_m, reply=Reply.PAVED))
    # What is told of today is no two years old: paved by nine in ten.
    noted = [s for s in told.assessed.ground.stretches if s.evidence.note is not None]
    assert noted and all(s.p is not None and s.p[0] > 0.85 for s in noted)
    before, after = judged().assessed.ground.shares, told.assessed.ground.shares
    assert before is not None and after is not None
    paved = GroundKind.PAVED
    assert after[paved].best > before[paved].best + 0.2
