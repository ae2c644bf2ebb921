"""Parts of a ride that belong together, as advice takes them, by hand."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from terrain.stages.advice.advise import advise_case
from terrain.stages.advice.burden import burden_of
from terrain.stages.advice.runs import (
    StretchRun,
    doubt_runs,
    is_same,
    runs_where,
    where,
    where_in_doubt,
)
from terrain.tables.advice import SETUP
from tests.stages.advice.trips import EITHER, SEALED, Case, inputs_of


def test_of_parts_in_doubt_the_one_that_matters_most_comes_first() -> None:
    """By the time between the best and the worst that its ground may be: 100 s, and 3 x 100 s."""
    case = Case(name="x", legs=((10, EITHER), (9, SEALED), (30, EITHER)), choice="ask", top=())
    burden: Any = SimpleNamespace(
        row=np.arange(3), doubtful=np.array([True, False, True]),
        time_s=np.array([100.0, 900.0, 300.0]), weight=np.tile([0.0, 0.5, 1.0], (3, 1)),
        worse=lambda: np.full(3, 2), better=lambda: np.zeros(3, int),
    )  # fmt: skip
    runs = doubt_runs(inputs_of(case), burden)
    assert [(run.from_m, run.to_m) for run in runs] == [(19_000.0, 49_000.0), (0.0, 10_000.0)]


def test_what_lies_between_two_parts_in_doubt_is_not_called_doubtful() -> None:
    """By hand: 2 km and 3 km in doubt with 1 km of tarmac between are told as 6 km of which 5 are
    in doubt; what is in doubt from end to end needs no more words."""
    gapped = Case(name="x", legs=((2, EITHER), (1, SEALED), (3, EITHER)), choice="ask", top=())
    whole = Case(name="x", legs=((6, EITHER), (9, SEALED)), choice="ask", top=())
    told = []
    for case in map(inputs_of, (gapped, whole)):
        burden = burden_of(case, SETUP)
        (run,) = doubt_runs(case, burden)
        assert run.length_m == 6_000.0
        told.append(str(where_in_doubt(case, run)))
    assert "5 km in doubt)" in told[0]
    assert "in doubt" not in told[1]
    said = advise_case(inputs_of(gapped)).setup
    assert all("5 km in doubt" in str(x.text) for x in said.reasons if x.code == "doubt-run")
    assert any(x.code == "doubt-run" for x in said.reasons)


@pytest.mark.parametrize(
    ("other", "same"),
    [
        ((1_000.0, 2_000.0), True), ((1_200.0, 2_000.0), True), ((1_201.0, 2_000.0), False),
        ((1_000.0, 1_799.0), False), ((900.0, 2_100.0), True), ((800.0, 2_100.0), False),
        ((2_000.0, 3_000.0), False), ((5_000.0, 5_100.0), False),
    ],
)  # fmt: skip
def test_parts_that_share_four_fifths_of_the_longer_are_one(
    other: tuple[float, float], same: bool
) -> None:
    """From km 1 to km 2 (common practice, no source)."""
    assert is_same((1_000.0, 2_000.0), other) == same
    assert is_same(other, (1_000.0, 2_000.0)) == same


@pytest.mark.parametrize(
    ("first_km", "between_km", "one"),
    [(1.0, 1.5, True), (1.0, 1.501, False), (20.0, 3.0, True), (20.0, 3.001, False)],
)
def test_what_lies_between_two_parts_of_a_run_is_bridged(
    first_km: float, between_km: float, one: bool
) -> None:
    """Up to 1.5 km, or 0.15 of what comes before it (common practice, no source)."""
    legs = ((first_km, EITHER), (between_km, SEALED), (0.5, EITHER))
    case = inputs_of(Case(name="x", legs=legs, choice="ask", top=()))
    found = runs_where(case, np.array([True, False, True]))
    ends = (1_000.0 * np.cumsum((first_km, between_km, 0.5))).tolist()
    parts = [(0.0, ends[2])] if one else [(0.0, ends[0]), (ends[1], ends[2])]
    np.testing.assert_allclose([(run.from_m, run.to_m) for run in found], parts)
    assert [run.rows for run in found] == ([(0, 2)] if one else [(0,), (2,)])


def test_a_run_is_named_by_the_road_it_begins_on_or_mostly_is() -> None:
    """By hand: a run of 1.5 km without a name and 300 m of the N9 begins on no N9."""
    case = inputs_of(Case(name="x", legs=((1.5, EITHER), (0.3, EITHER)), choice="ask", top=()))
    first, last = case.stretches
    for names, said in ((("", "N9"), ""), (("L1", "N9"), " (L1)"), (("", ""), "")):
        named = (replace(first, name=names[0]), replace(last, name=names[1]))
        ride = replace(case, stretches=named, places=None)
        run = StretchRun(from_m=0.0, to_m=1_800.0, rows=(0, 1))
        assert str(where(ride, run)) == said
        back = StretchRun(from_m=0.0, to_m=1_800.0, rows=(1, 0))
        assert str(where(ride, back)) == (f" ({names[1]})" if names[1] else "")
