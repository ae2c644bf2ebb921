"""Costs of links between candidates."""

from __future__ import annotations

import numpy as np
import pytest

from terrain.stages.matching.lattice import links
from terrain.stages.matching.lattice.links import Costs, Step, Steps
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


SHOWN = Step(StepMode.SHOWN, 40.0, 10.0, 5.0, 265.0, 12.0, 30.0)
ROUGH = Step(StepMode.ROUGH, 200.0, 50.0, 19.0, 1600.0, 12.0, 30.0)
COSTS = Costs(switch=8.0, turn=12.0)


@pytest.fixture
def plain_links(monkeypatch: pytest.MonkeyPatch) -> None:
    """The formulas as Python calls them."""
    for name in ("onward_cost", "back_cost"):
        monkeypatch.setattr(links, name, getattr(links, name).py_func)


def _steps() -> Steps:
    two = np.array([1.0, 2.0])
    return Steps(
        sigma_m=5.0, off_cost=10.0, slack_m=12.0, gap_m=40 * two, mode=np.array([0, 1], np.int8),
        beta_m=10 * two, weight_beta_m=5 * two, reach_m=265 * two,
        off_gap_cost=np.array([3.0, 4.0]),
    )  # fmt: skip


@pytest.mark.parametrize(("t", "off_share"), [(0, 5.0 + 3.0), (1, 5.0 + 4.0)])
def test_a_step_past_a_point_off_the_map_costs_half_of_the_point_and_its_gap(
    t: int, off_share: float
) -> None:
    step = links.step_at.py_func(_steps(), t)  # type: ignore[attr-defined]
    m = t + 1.0
    assert step == Step(t, 40 * m, 10 * m, 5 * m, 265 * m, 12.0, off_share)


@pytest.mark.parametrize(
    ("step", "weight", "length", "cost"),
    [
        (SHOWN, 40.0, 40.0, 0.0),
        (SHOWN, 60.0, 60.0, 2.0),  # 20 m longer, 10 m a unit
        (SHOWN, 20.0, 20.0, 2.0),  # and as much shorter
        (SHOWN, 80.0, 60.0, 2.0 + 4.0),  # 20 m of weight, 5 m a unit
        (SHOWN, 40.0, 60.0, 2.0 - 4.0),
        # Bad to ride costs at most 2 less than leaving the map: 8 + 30 - 2 = 36, from 180 m on.
        (SHOWN, 60.0 + 179.0, 60.0, 2.0 + 35.8),
        (SHOWN, 60.0 + 181.0, 60.0, 2.0 + 36.0),
        (SHOWN, 60.0 + 900.0, 60.0, 2.0 + 36.0),
        # Not shown: 60 tolerances longer count as 60 ln 2, and 1 as 60 ln(61 / 60).
        (ROUGH, 3_200.0, 3_200.0, 60.0 * 0.693147180560),
        (ROUGH, 250.0, 250.0, 60.0 * 0.016529301951),
        (ROUGH, 200.0 + 19.0 * 50, 200.0, 50.0),  # and what is bad to ride has no bound
    ],
)
def test_cost_of_riding_on(step: Step, weight: float, length: float, cost: float) -> None:
    onward = links.onward_cost.py_func  # type: ignore[attr-defined]
    assert onward(step, COSTS, weight, length) == pytest.approx(cost, abs=1e-9)


@pytest.mark.parametrize(
    ("length", "cost"), [(0.0, 4.0), (10.0, 4.2), (12.0, 4.24), (12.1, np.inf)]
)
def test_a_step_back_makes_no_way_in_the_gap_and_is_as_short_as_the_noise(
    length: float, cost: float
) -> None:
    """40 m of gap and a fifth of the length, 10 m a unit."""
    assert links.back_cost.py_func(SHOWN, length) == pytest.approx(cost)  # type: ignore[attr-defined]


@pytest.mark.usefixtures("plain_links")
@pytest.mark.parametrize(
    ("ahead_m", "here", "there", "cost"),
    [
        (60.0, 0, 0, 8.0),  # 20 m too long are 2, 30 m of weight 6
        (-60.0, 1, 1, 8.0),
        (60.0, 1, 0, 12.0 + 8.0),  # turned first
        (-60.0, 0, 1, 12.0 + 8.0),
        (60.0, 0, 1, np.inf),  # one cannot ride as drawn and arrive against it
        (-60.0, 1, 0, np.inf),
        (10.0, 1, 1, 4.2),  # a step back
        (-10.0, 0, 0, 4.2),
        (13.0, 1, 1, np.inf),
        (-13.0, 0, 0, np.inf),
        (0.0, 0, 0, 4.0),  # on one spot, or turned there
        (0.0, 1, 1, 4.0),
        (0.0, 0, 1, 12.0 + 4.0),
        (0.0, 1, 0, 12.0 + 4.0),
        (0.9e-6, 0, 1, 12.0 + 4.0),  # a millionth of a metre is one spot
        (1.1e-6, 0, 1, np.inf),
    ],
)
def test_riding_along_one_edge(ahead_m: float, here: int, there: int, cost: float) -> None:
    """A metre of it weighs 1.5."""
    along = links.along_cost.py_func  # type: ignore[attr-defined]
    assert along(SHOWN, COSTS, ahead_m, here, there, 1.5) == pytest.approx(cost, abs=1e-5)
