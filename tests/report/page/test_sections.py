"""Sections: few, in order, gapless, and honest about what they swallow."""

from __future__ import annotations

import itertools
import random

import pytest

from terrain.report.findings import shares_in_words
from terrain.report.sections import KINDS, LAND, sections
from terrain.text.translator import translator_for
from tests.report.sample import facts


def test_sections_cover_the_ride_without_gaps() -> None:
    stretches = facts()["stretches"]
    cut = sections(stretches)
    assert cut[0].from_m == 0
    assert cut[-1].to_m == stretches[-1]["to_m"]
    assert all(a.to_m == b.from_m for a, b in itertools.pairwise(cut))
    assert [s.ground for s in cut] == [
        "paved", "gravel", "track", "unmapped", "gravel", "paved", "ferry", "paved",
    ]  # fmt: skip


def test_many_slivers_become_few_sections_and_no_metre_is_lost() -> None:
    rng = random.Random(3)
    rows, at = [], 0.0
    for _ in range(1500):
        to = at + rng.choice([30.0, 90.0, 400.0, 1500.0])
        kind = rng.choice(KINDS)
        p = None if kind in ("ferry", "unmapped") else {"paved": 0.5, "gravel": 0.3, "track": 0.2}
        rows.append(
            {"from_m": at, "to_m": to, "ground": kind, "p": p, "basis": "tagged", "name": None}
        )
        at = to
    cut = sections(rows, most=60)
    assert len(cut) <= 60
    by_kind = {k: sum(r["to_m"] - r["from_m"] for r in rows if r["ground"] == k) for k in KINDS}
    for kind in KINDS:
        assert sum(s.lengths.get(kind, 0.0) for s in cut) == pytest.approx(by_kind[kind])
    assert cut[0].first == 0
    assert all(a.last + 1 == b.first for a, b in itertools.pairwise(cut))
    for s in cut:
        if s.p is None or s.ground not in LAND:
            assert s.lengths[s.ground] == max(s.lengths.values())
        else:
            assert s.p[s.ground] == max(s.p.values())


def test_a_point_is_not_told_as_a_stretch() -> None:
    metric, imperial = translator_for(), translator_for(units="imperial")
    assert metric.km_range(11_677.4, 11_677.4) == "km\u00a011.7"
    assert metric.km_range(11_677.4, 11_690.0) == "km\u00a011.7"
    assert metric.km_range(11_677.4, 11_777.4) == "km\u00a011.7 to 11.8"
    assert metric.km_range(31_000.0, 62_000.0) == "km\u00a031 to 62"
    assert imperial.km_range(11_677.4, 11_677.4) == "mile\u00a07.3"


def test_a_guess_is_never_told_as_known() -> None:
    told = facts()
    narrow = {"best": 0.98, "low": 0.96, "high": 1.0}
    rest = {"best": 0.01, "low": 0.0, "high": 0.03}
    told["ground"]["shares"] = {"paved": narrow, "gravel": rest, "track": rest}
    told["ground"]["choices"] = []
    basis = {"tagged": 0.0, "graded": 0.0, "inferred": 1.0, "noted": 0.0, "unmapped": 0.0}
    told["ground"]["basis"] = basis
    assert "our estimate: only 0" in shares_in_words(told, translator_for())
    told["ground"]["basis"] = {**basis, "tagged": 0.9, "inferred": 0.1}
    assert "well known" in shares_in_words(told, translator_for())
