"""What a booking's page says of one route."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import terrain
from terrain.report.desk.brief import brief_of
from terrain.text.translator import Translator
from terrain.values.report import Report


def test_what_forbids_is_told_in_whole_sentences(
    sample_report: Callable[[str], Report], island_home: Path
) -> None:
    """The reason alone speaks of something that was not said before."""
    base = sample_report("high-tracks")
    trip = replace(base.assessed.trip, rider=terrain.Rider.NOVICE)
    report = terrain.assess(base.assessed.route, terrain.open_region("island", island_home), trip)
    (first, *_) = brief_of(report, Translator()).why
    assert first.startswith("Too hard for this rider (novice). ")
    assert report.verdict.bike_text == ""
