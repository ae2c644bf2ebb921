"""Parts of a ride that belong together, as advice takes them, by hand."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

import numpy as np

from terrain.stages.advice.runs import doubt_runs
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
