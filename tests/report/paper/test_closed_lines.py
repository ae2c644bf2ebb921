"""The card of each day lists the closed parts of that day."""

from __future__ import annotations

import pytest

from terrain.report.paper.card import closed_lines
from terrain.text.translator import Translator
from terrain.values.closed import ClosedPart, Closure

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
