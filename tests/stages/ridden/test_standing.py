"""Riding and standing shared out of gaps whose truth is known."""

from __future__ import annotations

import numpy as np
import pytest

from terrain.stages.ridden.standing import Between, share_out
from terrain.values.arrays import FloatArray


def _gaps(gap_s: FloatArray, expected_s: FloatArray) -> Between:
    n = len(gap_s)
    none = np.zeros(n, dtype=np.bool_)
    return Between(
        gap_s=gap_s, expected_s=expected_s, middle_s=np.cumsum(expected_s) - expected_s / 2,
        beside_rest=none, broken=none,
    )  # fmt: skip


@pytest.mark.parametrize("pace", [0.85, 1.25])
def test_short_stops_that_no_gap_shows_are_left_out_on_average(pace: float) -> None:
    """30 rides of an hour, a fix a minute, a stop of 20 to 150 s in one gap of twelve."""
    rng = np.random.default_rng(7)
    errors, stood, in_band = [], [], 0
    for _ in range(30):
        riding = np.full(60, 60.0)
        expected = riding / pace * np.exp(rng.normal(0.0, 0.2, 60))
        stop = np.where(rng.random(60) < 1 / 12, rng.uniform(20.0, 150.0, 60), 0.0)
        found, spread = share_out(_gaps(riding + stop, expected))
        errors.append(found.sum() / riding.sum() - 1.0)
        whole = np.sqrt((spread**2).sum() + (0.35 * spread.sum()) ** 2)
        in_band += bool(abs(found.sum() - riding.sum()) <= 1.645 * whole)
        # Never more than the clock allows.
        assert (found <= riding + stop + 1e-9).all() and (found >= 0.0).all()
        stood.append(stop.sum() / riding.sum())
    assert np.mean(stood) > 0.1
    assert np.abs(errors).mean() < 0.33 * np.mean(stood)
    assert in_band >= 20


@pytest.mark.parametrize(("gap_s", "pace"), [(60.0, 1.5), (300.0, 2.9), (300.0, 0.5)])
def test_a_slow_rider_without_stops_is_no_stop(gap_s: float, pace: float) -> None:
    expected = np.full(40, gap_s)
    riding = expected * pace
    found, _ = share_out(_gaps(riding, expected))
    assert found.sum() == pytest.approx(riding.sum(), rel=0.02)


def test_of_a_gap_beside_a_rest_and_of_one_that_leads_nowhere_the_rest_is_standing() -> None:
    gap_s, expected = np.full(20, 10.0), np.full(20, 10.0)
    gap_s[10], gap_s[15], expected[15] = 16.0, 40.0, 0.0
    beside = np.zeros(20, dtype=np.bool_)
    beside[10] = True
    found, _ = share_out(
        Between(
            gap_s=gap_s, expected_s=expected, middle_s=np.cumsum(expected),
            beside_rest=beside, broken=np.arange(20) == 3,
        )
    )  # fmt: skip
    assert found[10] == pytest.approx(10.0, abs=0.1)
    assert found[15] == 0.0 and found[3] == 0.0
    assert found[0] == 10.0  # ten seconds on the way hold no stop worth splitting
