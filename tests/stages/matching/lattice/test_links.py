"""Costs of links between candidates."""

from __future__ import annotations

import numpy as np
import pytest

from terrain.stages.matching.lattice import links
from terrain.stages.matching.lattice.links import Costs, Step
from terrain.stages.matching.params import StepMode


@pytest.mark.parametrize("rate", [0.2, 0.35, 1.0, 1.4])
@pytest.mark.parametrize(
    "step",
    [
        Step(StepMode.SHOWN, 40.0, 9.0, 5.0, 265.0, 12.0, 30.0),
        Step(StepMode.ROUGH, 200.0, 50.0, 19.0, 1600.0, 12.0, 30.0),
        Step(StepMode.GUESSED, 2000.0, 900.0, 900.0, 20_000.0, 12.0, 12.0),
    ],
    ids=["shown", "rough", "guessed"],
)
def test_no_way_costs_less_than_the_least(
    step: Step, rate: float, monkeypatch: pytest.MonkeyPatch
) -> None:
    onward = links.onward_cost.py_func  # type: ignore[attr-defined]
    monkeypatch.setattr(links, "onward_cost", onward)
    costs = Costs(8.0, 12.0)
    least = links.least_cost.py_func(step, costs, rate)  # type: ignore[attr-defined]
    lengths = np.unique(np.append(np.linspace(0.0, step.reach_m, 501), step.gap_m))
    tried = [
        onward(step, costs, rate * heavier * length, length)
        for length in lengths.tolist()
        for heavier in (1.0, 1.3, 4.0)
    ]
    assert min(tried) >= least - 1e-9
    assert min(tried) == pytest.approx(least)  # and no lower than it has to be
