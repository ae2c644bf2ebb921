"""Ways round are drawn on the map, and told in the mail where they decide."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from terrain.report.detours import deciding_detours
from terrain.report.drawing.map import render_map
from terrain.report.mail import make_draft
from terrain.text.message import message
from terrain.text.translator import Translator
from terrain.values.detours import Detour, DetourKind
from terrain.values.report import Report
from terrain.values.verdict import Finding, FindingKind, Rank, RidePart, for_all


def _way(report: Report, kind: DetourKind = DetourKind.ROAD) -> Detour:
    match = report.assessed.match
    return Detour(
        kind=kind, from_m=1_000.0, to_m=9_000.0, around_from_m=2_000.0, around_to_m=8_000.0,
        length_m=9_500.0, time_s=600.0, added_m=1_500.0, added_s=60.0, shares=None,
        lon=match.lon[:5] + 0.01, lat=match.lat[:5] + 0.01, roads=("Ring",),
        words="Round by the Ring: 1.5 km more.",
    )  # fmt: skip


def _with(report: Report, way: Detour, part: RidePart, rank: Rank) -> Report:
    found = Finding(
        kind=FindingKind.CLOSED, rank=rank, what=message("Closed."), do=for_all(""), parts=(part,)
    )
    plan = replace(report.assessed.plan, detours=(way,))
    return replace(
        report,
        assessed=replace(report.assessed, plan=plan),
        verdict=replace(report.verdict, findings=(found,)),
    )


@pytest.mark.parametrize(
    ("kind", "part", "rank", "told"),
    [
        (DetourKind.ROAD, (2_000.0, 8_000.0), Rank.FORBIDDEN, True),
        (DetourKind.ROAD, (2_000.0, 8_000.0), Rank.NOTE, False),
        (DetourKind.ROAD, (20_000.0, 28_000.0), Rank.FORBIDDEN, False),
        (DetourKind.DIRT, (2_000.0, 8_000.0), Rank.FORBIDDEN, False),
    ],
)
def test_the_mail_tells_a_way_round_that_decides(
    sample_reports: list[Report],
    kind: DetourKind,
    part: tuple[float, float],
    rank: Rank,
    told: bool,
) -> None:
    whole = sample_reports[0].assessed
    advice = replace(whole.advice, setup=replace(whole.advice.setup, flips=()))
    base = replace(sample_reports[0], assessed=replace(whole, advice=advice))
    report = _with(base, _way(base, kind), RidePart(from_m=part[0], to_m=part[1]), rank)
    assert bool(deciding_detours(report)) is told
    draft = make_draft(report, Translator())
    for body in (draft.plain, draft.html):
        assert ("Round by the Ring: 1.5 km more." in body) is told


def test_the_map_draws_each_way_round(sample_reports: list[Report]) -> None:
    report = sample_reports[0]
    way = _way(report)
    plan = replace(
        report.assessed.plan, detours=(way, replace(way, lon=np.zeros(0), lat=np.zeros(0)))
    )
    drawn = render_map(
        replace(report, assessed=replace(report.assessed, plan=plan)), Translator(), ""
    )
    assert drawn.count('class="detour"') == 1
