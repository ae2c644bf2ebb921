"""How wide a rest is, by fixes that leap to and fro."""

from __future__ import annotations

import numpy as np
import pytest

from terrain.stages.ridden.rests import knots_of
from terrain.values.track import Track
from tests.stages.tinymap import EAST_M


@pytest.mark.parametrize(("leap_m", "stood_s"), [(26.0, 120.0), (28.0, 0.0)])
def test_a_rest_keeps_within_15_m_and_three_times_the_noise(leap_m: float, stood_s: float) -> None:
    """Of fixes 10 s apart the noise is not seen and taken as 4 m: 27 m (common practice)."""
    rest = np.where(np.arange(13) % 2 == 0, 500.0, 500.0 + leap_m)
    x = np.concatenate([np.arange(5) * 100.0, rest, 600.0 + np.arange(5) * 100.0])
    n = len(x)
    knots = knots_of(
        Track(
            name="ride", time_s=np.arange(n) * 10.0, lon=x / EAST_M, lat=np.zeros(n),
            ele_m=np.full(n, np.nan), piece=np.zeros(n, np.int32),
        )
    )  # fmt: skip
    assert float((knots.leave_s - knots.arrive_s).sum()) == stood_s
    assert len(knots) == (11 if stood_s else n)
