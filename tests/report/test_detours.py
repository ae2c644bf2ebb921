"""Ways round are drawn on the map, and told in the mail where they decide."""

from __future__ import annotations

from dataclasses import replace

import pytest

from terrain.report.detours import sparing_detours, told_detours
from terrain.report.drawing.map import map_edges, render_map
from terrain.report.mail import make_draft
from terrain.report.page.first import first_screen
from terrain.report.terminal import Style, render_summary
from terrain.text.message import message
from terrain.text.translator import Translator
from terrain.values.detours import Detour, DetourKind
from terrain.values.report import Report
from terrain.values.verdict import Audience, Finding, FindingKind, Rank, RidePart, for_all


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
def test_page_terminal_and_mail_tell_a_way_round_that_decides(
    sample_reports: list[Report],
    kind: DetourKind,
    part: tuple[float, float],
    rank: Rank,
    told: bool,
) -> None:
    whole = sample_reports[0].assessed
    advice = replace(whole.advice, setup=replace(whole.advice.setup, flips=()))
    base = replace(sample_reports[0], assessed=replace(whole, advice=advice))
    way = _way(base, kind)
    report = _with(base, way, RidePart(from_m=part[0], to_m=part[1]), rank)
    assert bool(sparing_detours(report)) is told
    for audience in Audience:
        rows = first_screen(report, Translator(), audience).rows
        assert ([row.do for row in rows if row.key == "w1"] == [str(way.words)]) is told
    assert (str(way.words) in render_summary(report, Translator(), Style(width=200))) is told
    draft = make_draft(report, Translator())
    for body in (draft.plain, draft.html):
        assert ("Round by the Ring: 1.5 km more." in body) is told


@pytest.mark.parametrize(("rank", "drawn"), [(Rank.FORBIDDEN, 1), (Rank.NOTE, 0)])
def test_the_map_draws_the_way_round_that_is_advised(
    sample_reports: list[Report], rank: Rank, drawn: int
) -> None:
    whole = sample_reports[0].assessed
    advice = replace(whole.advice, setup=replace(whole.advice.setup, flips=()))
    base = replace(sample_reports[0], assessed=replace(whole, advice=advice))
    report = _with(base, _way(base), RidePart(from_m=2_000.0, to_m=8_000.0), rank)
    assert render_map(report, Translator(), "", ()).count('class="detour"') == drawn


def test_what_is_closed_has_a_black_edge(sample_reports: list[Report]) -> None:
    """And what is in doubt an outline; neither is drawn, nor keyed, where nothing is."""
    base = sample_reports[0]
    sure = tuple(replace(s, p=(1.0, 0.0, 0.0)) for s in base.verdict.sections)
    plain = replace(base, verdict=replace(base.verdict, findings=(), sections=sure))
    assert map_edges(plain) == ()
    assert "edge-" not in render_map(plain, Translator(), "", ())
    doubtful = (replace(sure[0], p=(0.5, 0.3, 0.2)), *sure[1:])
    doubt = replace(plain, verdict=replace(plain.verdict, sections=doubtful))
    closed = _with(doubt, _way(base), RidePart(from_m=2_000.0, to_m=8_000.0), Rank.FORBIDDEN)
    assert map_edges(closed) == ("doubt", "closed")
    drawn = render_map(closed, Translator(), "", ())
    assert drawn.index("edge-closed") < drawn.index("inner-closed") < drawn.index("m-paved")


_CLOSED, _HARD = FindingKind.CLOSED, FindingKind.HARD
_FORBIDS, _ENDANGERS = Rank.FORBIDDEN, Rank.DANGER
_ALONE = "A way round that decides it:"
_TOGETHER = "Ways round that decide it together:"


@pytest.mark.parametrize(
    ("found", "ways", "title", "told"),
    [
        # One road ridden twice: to leave out one ride of it leaves the other.
        ([(_CLOSED, _FORBIDS, ((2, 8), (22, 28)))], (0,), "A way round part of it:", (0,)),
        ([(_CLOSED, _FORBIDS, ((2, 8), (22, 28)))], (0, 20), _TOGETHER, (0, 20)),
        ([(_CLOSED, _FORBIDS, ((2, 8),))], (0,), _ALONE, (0,)),
        # 250 m that stay closed forbid nothing, 300 m do; of what is hard nothing may be left.
        ([(_CLOSED, _FORBIDS, ((2, 8), (30, 30.25)))], (0,), _ALONE, (0,)),
        ([(_CLOSED, _FORBIDS, ((2, 8), (30, 30.3)))], (0,), "A way round part of it:", (0,)),
        ([(_HARD, _ENDANGERS, ((2, 8), (30, 30.25)))], (0,), "A way round part of it:", (0,)),
        # What no way round changes stands against the ride all the same.
        (
            [(_CLOSED, _FORBIDS, ((2, 8),)), (FindingKind.NO_BIKE, _FORBIDS, ())],
            (0,), "A way round part of it:", (0,),
        ),
        (
            [(_CLOSED, _FORBIDS, ((2, 8),)), (_HARD, _FORBIDS, ((22, 28), (42, 48)))],
            (0, 20), "Ways round parts of it:", (0, 20),
        ),
        # A danger elsewhere is no part of whether it is forbidden.
        ([(_CLOSED, _FORBIDS, ((2, 8),)), (_HARD, _ENDANGERS, ((22, 28),))], (0, 20), _ALONE, (0,)),
    ],
)  # fmt: skip
def test_a_way_round_is_called_deciding_only_if_nothing_is_left_against_the_ride(
    sample_reports: list[Report],
    found: list[tuple[FindingKind, Rank, tuple[tuple[float, float], ...]]],
    ways: tuple[float, ...],
    title: str,
    told: tuple[float, ...],
) -> None:
    """Parts and where each way leaves the ride in km; a way spares the 10 km from there."""
    whole = sample_reports[0].assessed
    advice = replace(whole.advice, setup=replace(whole.advice.setup, flips=()))
    one = _way(sample_reports[0])
    round_ = tuple(
        replace(one, from_m=1e3 * km + 1e3, to_m=1e3 * km + 9e3, words=f"Round {km}.")
        for km in ways
    )
    findings = tuple(
        Finding(
            kind=kind, rank=rank, what=message("Told."), do=for_all(""),
            parts=tuple(RidePart(from_m=1e3 * a, to_m=1e3 * b) for a, b in parts),
        )
        for kind, rank, parts in found
    )  # fmt: skip
    report = replace(
        sample_reports[0],
        assessed=replace(whole, advice=advice, plan=replace(whole.plan, detours=round_)),
        verdict=replace(sample_reports[0].verdict, findings=findings),
    )
    assert told_detours(report, Translator()) == (
        title, tuple(way for way, km in zip(round_, ways, strict=True) if km in told)
    )  # fmt: skip
    # The first alone decides only if it does so by itself.
    first = told_detours(report, Translator(), most=1)
    assert (first.title == _ALONE) is (title == _ALONE)
    draft = make_draft(report, Translator())
    assert title in draft.plain and title in draft.html
    assert first.title in render_summary(report, Translator(), Style(width=200))
