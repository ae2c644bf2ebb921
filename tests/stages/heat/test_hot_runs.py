"""Hot parts of a ride: which are told as one, and how steep one is told: by hand."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from terrain.stages.heat import engine
from terrain.stages.heat.engine import _joined_spans


@pytest.mark.parametrize(
    ("gap_s", "runs"),
    [
        ((59.9,), [(0, 4)]),
        ((60.0,), [(0, 1), (3, 4)]),
        ((30.0, 29.9), [(0, 5)]),
        ((30.0, 30.0), [(0, 1), (4, 5)]),
    ],
)
def test_parts_less_than_a_minute_apart_are_one(gap_s, runs) -> None:
    """Two hot steps, a cooler gap, two hot steps; a minute is common practice, no source."""
    mask = np.array([True, True, *(False for _ in gap_s), True, True])
    time_s = np.array([500.0, 7.0, *gap_s, 400.0, 3.0])
    assert _joined_spans(mask, time_s) == runs


def test_no_hot_part_and_one() -> None:
    assert _joined_spans(np.zeros(3, dtype=bool), np.ones(3)) == []
    assert _joined_spans(np.array([False, True, False]), np.full(3, 99.0)) == [(1, 1)]


@pytest.mark.parametrize(("unknown_m", "grade_pct"), [(200.0, 6.0), (201.0, None)])
def test_a_grade_is_told_of_a_run_that_is_known_on_half_of_its_length(
    unknown_m: float, grade_pct: float | None
) -> None:
    """150 m of 4 % and 50 m of 12 % are 6 % on the whole; what is not known counts for nothing."""
    to_m = np.array([150.0, 200.0, 200.0 + unknown_m])
    steps: Any = SimpleNamespace(
        from_m=np.append(0.0, to_m[:-1]), to_m=to_m, time_s=np.full(3, to_m[-1] / 30.0),
        grade_pct=np.array([4.0, 12.0, 30.0]), grade_known=np.array([True, True, False]),
    )  # fmt: skip
    told = engine._way(steps, slice(0, 3))
    assert told["grade_pct"] == (None if grade_pct is None else pytest.approx(grade_pct))
    assert told["speed_kph"] == pytest.approx(36.0)  # 10 m a second


def test_a_run_of_standing_alone_has_no_grade() -> None:
    steps: Any = SimpleNamespace(
        from_m=np.full(2, 9.0), to_m=np.full(2, 9.0), time_s=np.full(2, 60.0),
        grade_pct=np.zeros(2), grade_known=np.ones(2, bool),
    )  # fmt: skip
    assert engine._way(steps, slice(0, 2)) == {"grade_pct": None, "speed_kph": 0.0}
