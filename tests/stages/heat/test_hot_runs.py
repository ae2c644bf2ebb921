"""Hot parts that are close in time are told as one: by hand."""

from __future__ import annotations

import numpy as np
import pytest

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
