"""Smoothing, climbs, grades and ramps: worked values, noise, gaps, and a known filter."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from terrain.stages.relief.gradient import (
    ascent_descent,
    climb_between,
    grade_pct,
    known_runs,
    runs_steeper,
    smooth,
    steepest_ramps,
    turning_points,
)

FEW_HEIGHTS = st.lists(st.floats(-400, 5000), min_size=1, max_size=60)


def test_a_flat_road_with_two_metres_of_noise_climbs_nothing() -> None:
    """100 m of samples each 5 m, alternately 0 and 2 m: raw 20 m, truth 0 (arithmetic)."""
    ele = np.tile([0.0, 2.0], 11)[:21]
    raw = np.diff(ele)
    assert raw[raw > 0].sum() == 20
    assert ascent_descent(ele, threshold_m=5.0) == (0, 0)
    assert ascent_descent(smooth(ele, half=20), threshold_m=5.0) == (0, 0)


def test_worked_ascent_of_a_hill_with_ripples() -> None:
    ele = np.array([100, 104, 102, 130, 127, 150, 149, 110, 113, 112, 140, 138.0])
    # Turns of 5 m or more: 100 up to 150, down to 110, up to 140.
    assert turning_points(ele, threshold_m=5.0).tolist() == [0, 5, 7, 10]
    assert ascent_descent(ele, threshold_m=5.0) == (80, 40)
    # Without a threshold every ripple counts.
    assert ascent_descent(ele, threshold_m=0.0) == pytest.approx(
        (4 + 28 + 23 + 3 + 28, 2 + 3 + 1 + 39 + 1 + 2)
    )


def test_small_rises_before_the_first_turn_and_monotone_lines() -> None:
    assert ascent_descent(np.array([10.0, 12.0, 14.0]), threshold_m=5.0) == (0, 0)
    assert ascent_descent(np.array([10.0, 12.0, 14.0, 16.0]), threshold_m=5.0) == (6, 0)
    assert ascent_descent(np.array([16.0, 12.0, 13.0, 2.0]), threshold_m=5.0) == (0, 14)
    # Drifting down by 3 m first does not hide the climb that follows.
    assert ascent_descent(np.array([10.0, 7.0, 20.0]), threshold_m=5.0) == (13, 0)


def test_empty_one_point_and_all_unknown() -> None:
    for ele in (np.zeros(0), np.array([5.0]), np.full(4, np.nan)):
        assert ascent_descent(ele, threshold_m=5.0) == (0, 0)
        assert len(smooth(ele, half=3)) == len(ele)
        assert np.isnan(grade_pct(np.arange(len(ele)) * 10.0, ele, span_m=100)).all()
        assert steepest_ramps(np.arange(len(ele)) * 10.0, ele, span_m=100, most=3) == []
    assert len(turning_points(np.zeros(0), threshold_m=1.0)) == 0


def test_what_happens_in_a_gap_is_not_counted() -> None:
    ele = np.array([0, 10, np.nan, np.nan, 500, 520.0])
    assert ascent_descent(ele, threshold_m=5.0) == (30, 0)


@given(FEW_HEIGHTS, st.floats(0.5, 50))
def test_turns_alternate_and_net_is_kept_to_two_thresholds(
    heights: list[float], threshold: float
) -> None:
    ele = np.array(heights)
    moves = np.diff(ele[turning_points(ele, threshold_m=threshold)])
    assert (np.abs(moves) >= threshold).all()
    assert (np.sign(moves[1:]) == -np.sign(moves[:-1])).all()
    up, down = ascent_descent(ele, threshold_m=threshold)
    assert abs((up - down) - (ele[-1] - ele[0])) <= 2 * threshold
    rises = np.diff(ele)
    assert up <= rises[rises > 0].sum() + 1e-6


@given(
    # Of equal tops with a shallow dip between them that function counts both.
    st.lists(st.integers(-400, 5000), min_size=1, max_size=60, unique=True),
    st.floats(1, 50),
)
def test_tops_are_the_prominent_peaks_scipy_finds(heights: list[int], threshold: float) -> None:
    """Reference: scipy.signal.find_peaks, whose prominence is the rise a turn must have on both
    sides; low walls at both ends make the line start and end at the bottom."""
    from scipy.signal import find_peaks

    ele = np.r_[-10_000.0, np.array(heights), -10_000.0]
    turns = turning_points(ele, threshold_m=threshold)
    peaks, _ = find_peaks(ele, prominence=threshold)
    tops = ele[turns[1:-1:2]]
    assert sorted(tops) == pytest.approx(sorted(ele[peaks]))


def test_smoothing_keeps_a_straight_ramp_and_the_ends() -> None:
    ramp = 100 + 0.7 * np.arange(50)
    assert smooth(ramp, half=20) == pytest.approx(ramp)
    rng = np.random.default_rng(3)
    rough = rng.normal(500, 10, 80)
    out = smooth(rough, half=15)
    assert out[[0, -1]] == pytest.approx(rough[[0, -1]])
    assert out[10:-10].std() < rough.std() / 2


def test_smoothing_weighs_by_a_hann_window() -> None:
    """A single metre in the middle comes out as the window itself: cos^2, here of 5 weights
    1/4, 3/4, 1, 3/4, 1/4 over their sum 3 (definition of the Hann window)."""
    ele = np.zeros(21)
    ele[10] = 3.0
    assert smooth(ele, half=2)[8:13] == pytest.approx([0.25, 0.75, 1.0, 0.75, 0.25])
    assert smooth(ele, half=2).sum() == pytest.approx(3)


def test_smoothing_never_reaches_over_a_gap() -> None:
    ele = np.r_[np.zeros(10), np.nan, np.full(10, 1000.0)]
    out = smooth(ele, half=5)
    assert out[:10] == pytest.approx(np.zeros(10))
    assert np.isnan(out[10])
    assert out[11:] == pytest.approx(np.full(10, 1000.0))


@given(FEW_HEIGHTS, st.integers(1, 40))
def test_smoothing_a_line_of_any_length_keeps_its_length_and_ends(
    heights: list[float], half: int
) -> None:
    out = smooth(np.array(heights), half=half)
    assert len(out) == len(heights)
    assert out[[0, -1]] == pytest.approx([heights[0], heights[-1]], abs=1e-6)


def test_grades_of_a_ramp_and_a_flat() -> None:
    at = np.arange(0, 1010, 10.0)
    ele = np.where(at < 500, 0.12 * at, 60.0)
    grade = grade_pct(at, ele, span_m=100)
    assert grade[:46] == pytest.approx(np.full(46, 12))
    assert grade[50] == pytest.approx(6)  # half of the span is flat
    assert grade[55:] == pytest.approx(np.zeros(46))


def test_steepest_ramps_do_not_overlap_and_keep_their_sign() -> None:
    at = np.arange(0, 1510, 10.0)
    slope = np.select([at < 500, at < 600, at < 1000, at < 1100], [2, 14, 1, -17], 0)
    ele = np.r_[0, np.cumsum(slope[:-1] * 0.1)]
    ramps = steepest_ramps(at, ele, span_m=100, most=3)
    assert ramps[0] == (1000, 1100, pytest.approx(-17))
    assert ramps[1] == (500, 600, pytest.approx(14))
    assert len(ramps) == 3
    spans = sorted((a, b) for a, b, _ in ramps)
    assert all(a2 >= b1 for (_, b1), (a2, _) in pairwise(spans))
    assert steepest_ramps(at[:8], ele[:8], span_m=100, most=3) == []


def test_one_long_ramp_does_not_fill_the_list() -> None:
    at = np.arange(0, 3010, 10.0)
    slope = np.select([at < 1000, at < 2500], [12, 3], 8)
    ele = np.r_[0, np.cumsum(slope[:-1] * 0.1)]
    close = steepest_ramps(at, ele, span_m=100, most=3)
    assert [grade for _, _, grade in close] == pytest.approx([12, 12, 12])
    wide = steepest_ramps(at, ele, span_m=100, most=3, apart_m=1000)
    assert [grade for _, _, grade in wide] == pytest.approx([12, 8, 3], abs=0.1)


def test_runs_steeper_than_a_limit() -> None:
    at = np.arange(8) * 10.0
    grade = np.array([0, 11, 13, 9, -12, -10, np.nan, 15.0])
    assert runs_steeper(at, grade, limit_pct=10) == [(10, 20, 12, 13), (40, 50, -11, -12)]


def test_known_runs() -> None:
    assert known_runs(np.array([True, True, False, True])) == [(0, 2), (3, 4)]
    assert known_runs(np.zeros(3, dtype=bool)) == []


def test_climb_of_parts_with_a_top_within() -> None:
    at = np.arange(0.0, 1001.0, 10.0)
    ele = np.interp(at, [0, 400, 1000], [0, 200, 50])  # up 200 m, down 150 m
    up, down = climb_between(at, ele, np.array([0.0, 200.0, 700.0, 1000.0]), threshold_m=5.0)
    np.testing.assert_allclose(up, [100, 100, 0])
    np.testing.assert_allclose(down, [0, 75, 75])


def test_climb_of_parts_of_a_line_that_only_climbs() -> None:
    """Its two ends are all its turning points."""
    at = np.arange(0.0, 1001.0, 10.0)
    up, down = climb_between(at, at / 10, np.array([0.0, 400.0, 1000.0]), threshold_m=5.0)
    np.testing.assert_allclose(up, [40, 60])
    np.testing.assert_allclose(down, [0, 0])


def test_climb_of_parts_adds_up_to_that_of_the_line() -> None:
    rng = np.random.default_rng(5)
    at = np.arange(0.0, 30_000.0, 10.0)
    ele = smooth(rng.normal(0, 8, len(at)).cumsum(), half=20)
    ele[1200:1300] = np.nan
    cuts = np.unique(np.r_[0.0, rng.uniform(0, at[-1], 12), at[-1]])
    up, down = climb_between(at, ele, cuts, threshold_m=5.0)
    assert np.isnan(up).sum() <= 2
    whole = ascent_descent(ele, threshold_m=5.0)
    gapless = climb_between(at, ele, np.array([at[0], at[-1]]), threshold_m=5.0)
    assert (gapless[0][0], gapless[1][0]) == pytest.approx(whole)
    assert np.nansum(up) <= whole[0] + 1e-6 and np.nansum(down) <= whole[1] + 1e-6
    unknown = climb_between(at, ele, np.array([12_100.0, 12_900.0]), threshold_m=5.0)
    assert np.isnan(unknown[0][0]) and np.isnan(unknown[1][0])
