"""Riding and standing of a ride that goes as it was estimated, by hand."""

from __future__ import annotations

import numpy as np
import pytest

from terrain.stages.ridden.clock import clock_at, ride_times
from terrain.stages.ridden.rests import Knots


def _knots(piece: tuple[int, ...]) -> Knots:
    """100 m each 10 s, with a rest of 60 s at 200 m."""
    zero = np.zeros(5)
    return Knots(
        lon=zero, lat=zero, ele_m=zero, piece=np.array(piece, np.int32),
        arrive_s=np.array([0.0, 10.0, 20.0, 90.0, 100.0]),
        leave_s=np.array([0.0, 10.0, 80.0, 90.0, 100.0]), noise_m=4.0,
    )  # fmt: skip


@pytest.mark.parametrize(
    ("piece", "moving_s"),
    [
        ((0, 0, 0, 0, 0), [0, 10, 20, 30, 40]),
        ((0, 0, 0, 0, 1), [0, 10, 20, 30, 30]),  # across a break nobody knows
    ],
)
def test_a_rest_is_no_riding_and_the_time_across_a_break_is_left_out(
    piece: tuple[int, ...], moving_s: list[float]
) -> None:
    times = ride_times(_knots(piece), np.arange(5) * 100.0, lambda at_m: at_m / 10.0)
    assert times.moving_s.tolist() == pytest.approx(moving_s, abs=0.01)
    assert times.stood_s.tolist() == pytest.approx([0, 0, 60, 0, 0], abs=0.01)
    assert clock_at(times, np.array([150.0, 200.0, 250.0])).tolist() == [15.0, 80.0, 85.0]
