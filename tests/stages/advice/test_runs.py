"""Parts of a ride that belong together, as advice takes them, by hand."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

import numpy as np

from terrain.stages.advice.advise import advise_case
from terrain.stages.advice.burden import burden_of
from terrain.stages.advice.runs import doubt_runs, where_in_doubt
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
