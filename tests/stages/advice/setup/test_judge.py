"""What an open answer leans to, and how surely, worked by hand."""

from __future__ import annotations

import pytest

from terrain.stages.advice.burden import burden_of
from terrain.stages.advice.setup.decide import bounds_of, decide
from terrain.stages.advice.setup.judge import _first
from terrain.tables.advice import SETUP
from terrain.values.advice import SetupChoice
from tests.stages.advice.rider.test_questions import _EITHER, _to_ten_hours


@pytest.mark.parametrize(
    ("p_off_road", "code", "share"),
    [
        (0.8, "setup-ask-off-road", 0.8), (0.79, "setup-ask", None), (0.21, "setup-ask", None),
        (0.2, "setup-ask-road", 0.8), (0.05, "setup-ask-road", 0.95),
    ],
)  # fmt: skip
def test_an_open_answer_says_which_way_it_leans_from_four_fifths_on(
    p_off_road: float, code: str, share: float | None
) -> None:
    """Common practice, no source. Three hours of ten may be track or tarmac."""
    case = _to_ten_hours((3.0, _EITHER))
    burden = burden_of(case, SETUP)
    assert decide(burden, SETUP) is SetupChoice.ASK
    bounds = bounds_of(burden, SETUP)
    item = _first(case, burden, SetupChoice.ASK, bounds, p_off_road, 5_400.0, 0.0, SETUP)
    assert item.code == code
    told = dict(item.numbers).get("p_share")
    assert told is None if share is None else told == pytest.approx(share)
