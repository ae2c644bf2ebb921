"""Riding and standing shared out of gaps whose truth is known."""

from __future__ import annotations

import numpy as np
import pytest

from terrain.stages.ridden.standing import Between, share_out
from terrain.values.arrays import FloatArray


def _gaps(gap_s: FloatArray, expected_s: FloatArray, rest_s: FloatArray | None = None) -> Between:
    n = len(gap_s)
    return Between(
        gap_s=gap_s, expected_s=expected_s, broken=np.zeros(n, dtype=np.bool_),
        rest_s=np.zeros(n + 1) if rest_s is None else rest_s,
    )  # fmt: skip


def _shares(clock_s: FloatArray, moving: FloatArray, each_s: float) -> FloatArray:
    """Riding in each gap of a record with a fix each so many seconds, known second by second."""
    at = np.arange(0.0, clock_s[-1], each_s)
    return np.diff(np.interp(at, clock_s, moving))


@pytest.mark.parametrize(("each_s", "most"), [(60.0, 0.025), (120.0, 0.045)])
@pytest.mark.parametrize("pace", [0.85, 1.25])
def test_short_stops_that_no_gap_shows_are_left_out_on_average(
    pace: float, each_s: float, most: float
) -> None:
    """24 rides of an hour, a stop of 20 to 150 s each ten minutes, some cut in two by a fix."""
    rng = np.random.default_rng(7)
    errors, held = [], 0
    for _ in range(24):
        at_s = np.sort(rng.uniform(0.0, 3_600.0, 6))
        stop_s = rng.uniform(20.0, 150.0, 6)
        moving = np.concatenate([[0.0], np.repeat(at_s, 2), [3_600.0]])
        clock = moving + np.concatenate([[0.0], np.cumsum(np.column_stack([0 * stop_s, stop_s])),
                                         [stop_s.sum()]])  # fmt: skip
        riding = _shares(clock, moving, each_s)
        # A gap within a stop leads nowhere; the pace is known to a fifth.
        expected = riding / pace * np.exp(rng.normal(0.0, 0.2, len(riding)))
        drawn = share_out(_gaps(np.full(len(riding), each_s), expected))
        assert (drawn <= each_s + 1e-9).all() and (drawn >= 0.0).all()
        whole = drawn.sum(axis=1)
        errors.append(whole.mean() / riding.sum() - 1.0)
        # As the band of a ride is made (judge.py).
        sd = np.hypot(1.25 * whole.std(), 0.007 * whole.mean())
        held += bool(abs(whole.mean() - riding.sum()) <= 1.645 * sd)
    # 510 s of stops on 3,600 of riding, more than is believed beforehand: to tell none errs by .14.
    assert np.abs(errors).mean() < most
    assert held >= 16


def test_a_stop_that_a_fix_cuts_in_two_is_found_whole() -> None:
    """Two gaps of 30 and 50 s riding in 120 beside others that are ridden through."""
    riding = np.full(30, 120.0)
    riding[14:16] = 50.0, 30.0
    drawn = share_out(_gaps(np.full(30, 120.0), riding))
    assert drawn[:, 14:16].mean(axis=0) == pytest.approx([50.0, 30.0], abs=12.0)
    assert drawn[:, :14].mean() == pytest.approx(120.0, abs=2.0)


@pytest.mark.parametrize(("gap_s", "pace"), [(60.0, 1.5), (120.0, 0.7), (300.0, 1.6)])
def test_a_slow_rider_without_stops_is_no_stop(gap_s: float, pace: float) -> None:
    expected = np.full(40, gap_s)
    drawn = share_out(_gaps(expected * pace, expected))
    assert drawn.sum(axis=1).mean() == pytest.approx(40 * gap_s * pace, rel=0.04)


def test_of_a_gap_beside_a_rest_and_of_one_that_leads_nowhere_the_rest_is_standing() -> None:
    gap_s, expected, rest_s = np.full(20, 10.0), np.full(20, 10.0), np.zeros(21)
    gap_s[10], gap_s[15], expected[15], rest_s[10] = 16.0, 400.0, 0.0, 600.0
    broken = np.arange(20) == 3
    found = share_out(Between(gap_s=gap_s, expected_s=expected, broken=broken, rest_s=rest_s))
    assert found[:, 10].mean() == pytest.approx(10.0, abs=2.0)
    assert found[:, 15].mean() == pytest.approx(0.0, abs=4.0)
    assert (found[:, 3] == 0.0).all()
    assert (found[:, 0] == 10.0).all()  # ten seconds on the way hold no stop worth splitting


def test_a_night_between_two_fixes_is_no_riding_and_short_gaps_are_taken_whole() -> None:
    gap_s, expected = np.full(20, 60.0), np.full(20, 60.0)
    gap_s[10], expected[10] = 40_000.0, 20.0
    found = share_out(_gaps(gap_s, expected))
    assert found[:, 10].mean() < 80.0
    assert share_out(_gaps(np.full(9, 5.0), np.full(9, 1.0))).tolist() == [[5.0] * 9] * 200
    assert share_out(_gaps(np.zeros(0), np.zeros(0))).shape == (200, 0)


def test_a_rest_next_to_a_leap_is_ridden_whole() -> None:
    """No pace of a rider leaves time to stand, so all of the gap is riding."""
    rest_s = np.array([0.0, 90.0, 100_000.0, 0.0])
    found = share_out(_gaps(np.full(3, 10.0), np.array([10.0, 200.0, 10.0]), rest_s))
    assert (found[:, 1] == 10.0).all()
