"""How wide a rest is, by fixes that leap to and fro."""

from __future__ import annotations

import numpy as np
import pytest

from terrain.stages.ridden.rests import Knots, knots_of
from terrain.values.arrays import FloatArray
from terrain.values.track import Track
from tests.stages.tinymap import EAST_M


def _knots(rest_m: FloatArray) -> Knots:
    """A fix each 10 s: 10 m/s to 400 m, then these, and on from 600 m."""
    x = np.concatenate([np.arange(5) * 100.0, rest_m, 600.0 + np.arange(5) * 100.0])
    n = len(x)
    return knots_of(
        Track(
            name="ride", time_s=np.arange(n) * 10.0, lon=x / EAST_M, lat=np.zeros(n),
            ele_m=np.full(n, np.nan), piece=np.zeros(n, np.int32),
        )
    )  # fmt: skip


@pytest.mark.parametrize(("leap_m", "stood_s"), [(26.0, 120.0), (28.0, 0.0)])
def test_a_rest_keeps_within_15_m_and_three_times_the_noise(leap_m: float, stood_s: float) -> None:
    """Of fixes 10 s apart the noise is not seen and taken as 4 m: 27 m (common practice)."""
    rest = np.where(np.arange(13) % 2 == 0, 500.0, 500.0 + leap_m)
    knots = _knots(rest)
    assert float((knots.leave_s - knots.arrive_s).sum()) == stood_s
    assert len(knots) == (11 if stood_s else 23)


@pytest.mark.parametrize(("n", "stood_s"), [(4, 0.0), (5, 40.0)])
def test_a_rest_is_slower_than_a_walk(n: int, stood_s: float) -> None:
    """27 m at 0.7 m/s are 38.6 s (common practice, no source): 30 s in one place are riding."""
    knots = _knots(np.full(n, 500.0))
    assert float((knots.leave_s - knots.arrive_s).sum()) == stood_s
