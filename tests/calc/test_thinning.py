"""Thinning keeps a line's shape; smoothing takes out noise and leaves straight lines alone."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from terrain.calc.thinning import FARTHEST_OUT, shake_m, smooth_line, thin_line
from terrain.values.arrays import FloatArray, IntArray

_EAST_M, _NORTH_M = 111_319.49, 110_574.28  # metres in a degree at 0 N on WGS 84
_XY = st.lists(
    st.tuples(st.floats(-60, 60), st.floats(-60, 60)), min_size=2, max_size=40
)  # steps of a walk [m]


def _thinned(xy: FloatArray, tolerance_m: float, longest_m: float) -> IntArray:
    keep = thin_line(xy[:, 0] / _EAST_M, xy[:, 1] / _NORTH_M, tolerance_m, longest_m)
    assert keep[0] and keep[-1]
    return np.flatnonzero(keep)


@settings(max_examples=300, deadline=None)
@given(steps=_XY, shrink=st.sampled_from([0.02, 0.2, 1.0]), tolerance_m=st.sampled_from([0.5, 3.0]))
def test_left_out_points_lie_near_the_thinned_line(
    steps: list[tuple[float, float]], shrink: float, tolerance_m: float
) -> None:
    """Each against the very step it was left out of, by shapely."""
    xy = np.cumsum(np.array(steps) * shrink, axis=0).round(6)  # shapely fails on steps of 1e-200 m
    kept = _thinned(xy, tolerance_m, 80.0)
    for a, b in pairwise(kept.tolist()):
        step = shapely.LineString(xy[[a, b]])
        for k in range(a + 1, b):
            assert step.distance(shapely.Point(xy[k])) <= tolerance_m * FARTHEST_OUT * 1.001
        assert step.length <= 80.0 * 1.001 or b == a + 1


def test_a_straight_line_needs_its_ends_only() -> None:
    xy = np.stack([np.linspace(0, 5000, 501), np.zeros(501)], axis=1)
    assert _thinned(xy, 1.0, 1e9).tolist() == [0, 500]
    assert len(_thinned(xy, 1.0, 60.5)) == 1 + 84  # 10 m apart, so 60 m at most


@pytest.mark.parametrize("side", [1.0, -1.0])
def test_a_line_is_thinned_alike_whichever_way_it_runs(side: float) -> None:
    """A zigzag of 0.6 m about a straight line, and a corner of 4 degrees half-way; about due west
    bearings run over from half a turn to minus half a turn."""
    along = np.arange(0.0, 601.0, 10.0)
    zigzag = np.where(np.arange(61) % 2, 0.6, -0.6)
    aside = side * (zigzag + 0.07 * np.maximum(along - 300.0, 0.0))
    found = set()
    for turn_deg in range(1, 360, 2):
        turn = np.radians(turn_deg)
        x = np.cos(turn) * along - np.sin(turn) * aside
        y = np.sin(turn) * along + np.cos(turn) * aside
        kept = _thinned(np.stack([x, y], axis=1), 2.0, 1e9).tolist()
        found.add(tuple(kept))
    (kept,) = found
    assert len(kept) == 3 and abs(kept[1] - 30) <= 3


def test_corners_and_turns_back_are_kept() -> None:
    out = np.stack([np.linspace(0, 1000, 101), np.zeros(101)], axis=1)
    corner = np.stack([np.full(50, 1000.0), np.linspace(10, 500, 50)], axis=1)
    back = corner[-2::-1]
    kept = _thinned(np.concatenate([out, corner, back]), 1.0, 1e9)
    assert kept.tolist() == [0, 100, 150, 199]


def test_one_point_and_none() -> None:
    assert thin_line(np.array([7.0]), np.array([8.0]), 1.0, 60.0).tolist() == [True]
    assert thin_line(np.zeros(0), np.zeros(0), 1.0, 60.0).tolist() == []
    assert thin_line(np.zeros(9), np.zeros(9), 1.0, 60.0).tolist() == [True, *[False] * 7, True]


@pytest.mark.parametrize("noise_m", [0.0, 2.0, 7.0])
def test_shake_is_the_noise_put_in(noise_m: float) -> None:
    rng = np.random.default_rng(3)
    along = np.arange(4000) * 8.0
    x, y = along, 300 * np.sin(along / 250)  # bends of 200 m radius
    x, y = x + rng.normal(0, noise_m, 4000), y + rng.normal(0, noise_m, 4000)
    assert shake_m(x, y) == pytest.approx(noise_m, rel=0.06, abs=0.1)
    assert shake_m(x[:4], y[:4]) == 0.0


def test_uneven_points_are_no_shaking() -> None:
    """Streets as a planner draws them: few points where they are straight, many in a bend. By
    their number alone they shake by metres, and corners would be cut to smooth them."""
    step = np.tile([80.0, 6.0, 6.0, 55.0, 8.0, 30.0, 12.0], 40)
    turn = np.tile([0.0, 0.04, -0.02, 0.03, -0.05, 0.02, np.pi / 2], 40)
    x, y = np.cumsum([step * np.cos(np.cumsum(turn)), step * np.sin(np.cumsum(turn))], axis=1)
    third = np.abs(np.concatenate([np.diff(x, 3), np.diff(y, 3)]))
    assert 1.4826 * np.median(third) / np.sqrt(20.0) > 3.0
    assert shake_m(x, y) < 0.6


def test_smoothing_leaves_straight_lines_and_their_ends() -> None:
    along = np.cumsum(np.random.default_rng(1).uniform(2, 12, 200))
    x, y = smooth_line(0.8 * along, 0.6 * along, along, 15.0)
    np.testing.assert_allclose(x, 0.8 * along, atol=1e-6)
    np.testing.assert_allclose(y, 0.6 * along, atol=1e-6)


def test_smoothing_takes_out_noise_as_a_fit_would() -> None:
    """Against numpy's weighted least squares, point by point."""
    rng = np.random.default_rng(2)
    along = np.cumsum(rng.uniform(2, 12, 80))
    x, y = along + rng.normal(0, 5, 80), rng.normal(0, 5, 80)
    smooth_x, smooth_y = smooth_line(x, y, along, 20.0)
    for k in range(80):
        u = along - along[k]
        near = np.abs(u) <= 60.0
        weight = np.exp(-0.25 * (u[near] / 20.0) ** 2)  # polyfit squares it
        assert smooth_x[k] == pytest.approx(np.polyfit(u[near], x[near], 1, w=weight)[1])
        assert smooth_y[k] == pytest.approx(np.polyfit(u[near], y[near], 1, w=weight)[1])
    assert smooth_y.std() < 0.5 * y.std()


def test_smoothing_points_on_one_spot() -> None:
    x, y = smooth_line(np.full(4, 3.0), np.full(4, 5.0), np.zeros(4), 10.0)
    assert x.tolist() == [3.0] * 4 and y.tolist() == [5.0] * 4
