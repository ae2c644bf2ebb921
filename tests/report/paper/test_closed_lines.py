"""The card of each day lists the closed parts of that day."""

from __future__ import annotations

from dataclasses import replace

import pytest

from terrain.report.paper.card import _others, closed_lines
from terrain.text.message import message
from terrain.text.translator import Translator
from terrain.values.closed import ClosedPart, Closure
from terrain.values.verdict import Finding, FindingKind, Rank, RidePart, for_all
from tests.assessed import assessed, report_of

_PARTS = [
    ClosedPart(from_m=a, to_m=b, closure=Closure.NO_MOTORCYCLE, tag=tag, way_ids=())
    for a, b, tag in (
        (1_000.0, 3_000.0, "access=forestry"), (9_000.0, 12_000.0, "highway=footway"),
    )
]  # fmt: skip


@pytest.mark.parametrize(
    ("day", "told"),
    [
        ((0.0, 10_000.0), "3 km in all: km 1 to 3 (access=forestry) and km 9 to 10 (highway=foot"),
        ((10_000.0, 20_000.0), "2 km in all: km 10 to 12 (highway=footway). Signs"),
        ((3_000.0, 9_000.0), None),
    ],
)
def test_a_day_lists_its_own_closed_parts(day: tuple[float, float], told: str | None) -> None:
    lines = closed_lines(_PARTS, *day, Translator())
    text = " ".join(lines).replace("\u00a0", " ").replace("\u202f", " ")
    assert (told in text) if told else not lines


@pytest.mark.parametrize(
    ("day", "part", "told"),
    [
        ((0.0, 6_700.0), (5_400.0, 6_700.0), True),
        ((6_700.0, 30_000.0), (5_400.0, 6_700.0), False),
        ((6_700.0, 30_000.0), (6_700.0, 6_700.0), True),  # a gate where the night is
        ((6_700.0, 30_000.0), (6_600.0, 6_800.0), True),
    ],
)  # fmt: skip
def test_what_ends_where_the_day_begins_is_of_the_day_before(
    day: tuple[float, float], part: tuple[float, float], told: bool
) -> None:
    """The dark end of day 1 stood on the card of day 2."""
    item = Finding(
        kind=FindingKind.DARK, rank=Rank.DANGER, what=message("Dark."), do=for_all(""),
        parts=(RidePart(from_m=part[0], to_m=part[1]),),
    )  # fmt: skip
    report = report_of(assessed())
    report = replace(report, verdict=replace(report.verdict, findings=(item,)))
    assert bool(_others(*day, report)) == told
