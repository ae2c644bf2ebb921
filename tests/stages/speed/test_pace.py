"""Speed formulas: worked values, and motorcycle rides really ridden."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from terrain.stages.speed.pace import (
    USUAL_RIDER,
    grade_share,
    mean_pace_s_m,
    mix_pace_s_m,
    pace_with_bends_s_m,
    shared_of,
    sum_between,
    total_band_s,
    turn_deg,
)
from terrain.tables.speed import MODEL
from tests.stages.speed.test_speed import GRAVEL, inputs

MIXED = (0.3, 0.3, 0.4)


def test_turn_of_a_square_corner_and_a_straight_line() -> None:
    lon = np.array([0.0, 0.001, 0.002, 0.002])
    lat = np.array([0.0, 0.0, 0.0, 0.001])
    np.testing.assert_allclose(turn_deg(lon, lat), [0.0, 0.0, 90.0, 0.0], atol=1e-6)


def test_a_full_circle_turns_360_degrees_at_high_latitude() -> None:
    angle = np.linspace(0.0, 2.0 * np.pi, 73)
    lat = 65.0 + 0.001 * np.sin(angle)
    lon = 20.0 + 0.001 * np.cos(angle) / np.cos(np.radians(65.0))
    assert turn_deg(lon, lat).sum() == pytest.approx(355.0, abs=0.5)


def test_repeated_points_and_short_lines_do_not_turn() -> None:
    assert turn_deg(np.array([1.0, 1.0, 1.0]), np.array([2.0, 2.0, 2.0])).tolist() == [0, 0, 0]
    for n in range(3):
        assert turn_deg(np.arange(n), np.arange(n)).tolist() == [0] * n
    # East, a point twice, north: neither side of it is known to turn.
    east, north = np.array([0.0, 1e-3, 1e-3, 1e-3]), np.array([0.0, 0.0, 0.0, 1e-3])
    assert turn_deg(east, north).tolist() == [0] * 4


def test_the_plane_is_that_of_the_place_where_the_line_turns() -> None:
    """North from the equator to 60 degrees, where a degree of longitude is half as long: two as
    much east as north are a turn of 45 degrees."""
    turn = turn_deg(np.array([0.0, 0.0, 0.002]), np.array([0.0, 60.0, 60.001]))
    assert turn == pytest.approx([0.0, 45.0, 0.0], abs=0.01)


def test_bends_cost_time_per_degree_whatever_the_length() -> None:
    """Operating-speed model on curvature change rate (Lamm et al. 1999, from memory)."""
    pace = pace_with_bends_s_m(np.array([120.92]), np.array([450.0]), 0.03204)
    # 500 gon/km: V85 = 1e6 / (8270 + 8.01 * 500) = 81.47 km/h
    assert 3.6 / pace[0] == pytest.approx(81.47, abs=0.05)


def test_grades_up_and_down_slow_alike_and_unknown_ones_do_not() -> None:
    share = grade_share(np.array([0.0, 5.0, 15.0, -15.0, 90.0, np.nan]), 5.0, 3.0, 0.5)
    np.testing.assert_allclose(share, [1.0, 1.0, 0.7, 0.7, 0.5, 1.0])


def test_certain_ground_has_only_its_own_spread() -> None:
    mean, log_sd = mix_pace_s_m(
        np.array([[0.0, 1.0, 0.0]]), np.array([[1.0, 2.0, 3.0]]), (0, 0.2, 0)
    )
    assert mean[0] == 2.0
    assert log_sd[0] == pytest.approx(0.198, abs=1e-3)


def test_uncertain_ground_widens_the_band() -> None:
    p = np.array([[0.5, 0.0, 0.5], [1.0, 0.0, 0.0]])
    mean, log_sd = mix_pace_s_m(p, np.array([[1.0, 2.0, 3.0]] * 2), (0.1, 0.1, 0.1))
    assert mean.tolist() == [2.0, 1.0]
    assert log_sd[0] > 4 * log_sd[1]


def test_a_rider_whose_rides_differ_as_the_model_has_it_changes_nothing() -> None:
    """The model's correlation is the share of a stretch's variance that a ride has in common: who
    was learned to have just that part keeps its spread and its share; who has more has more."""
    common = tuple(sd * MODEL.correlation**0.5 for sd in MODEL.spread)
    for factor, way, p in ((1.0, 0, GRAVEL), (1.0, 0, MIXED), (0.5, -1, GRAVEL), (2.0, 1, GRAVEL),
                           (20.0, 1, GRAVEL)):  # fmt: skip
        given = inputs("track", p)
        learned = replace(USUAL_RIDER, spread=tuple(factor * sd for sd in common))
        _, log_sd = mean_pace_s_m(given, learned)
        _, model_sd = mean_pace_s_m(given, USUAL_RIDER)
        share = shared_of(given, learned, log_sd)
        assert np.all(share <= 1.0)
        if way == 0:
            assert log_sd == pytest.approx(model_sd)
            assert share == pytest.approx(MODEL.correlation, rel=0.03)  # of logarithms
        else:
            assert np.sign(log_sd - model_sd) == way == np.sign(share - MODEL.correlation)


def test_total_band_narrows_with_independent_stretches_only() -> None:
    times, sd = np.full(100, 36.0), np.full(100, 0.3)
    alone = total_band_s(np.array([3600.0]), np.array([0.3]), 0.5)
    together = total_band_s(times, sd, 1.0)
    apart = total_band_s(times, sd, 0.0)
    assert together == pytest.approx(alone)
    assert apart[1] - apart[0] == pytest.approx((alone[1] - alone[0]) / 10, rel=0.06)
    assert total_band_s(np.zeros(0), np.zeros(0), 0.5) == (0.0, 0.0)
    # As wide for half a second.
    assert np.divide(total_band_s(np.array([0.5]), np.array([0.3]), 1.0), 0.5) == pytest.approx(
        np.divide(alone, 3600.0)
    )


def test_ten_minutes_vary_on_their_own() -> None:
    """Of six whose standard deviation is .3 of each the sum's is .3 / root 6 of it (Bienayme): its
    logarithm's is the root of ln(1 + .09 / 6), .12202, and 90 % of a normal lie within 1.645."""
    low, high = total_band_s(np.array([3600.0]), np.zeros(1), 0.0, ten_min_sd=0.3)
    assert np.log([3600.0 / low, high / 3600.0]) == pytest.approx(1.645 * 0.12202, rel=1e-3)


def test_sums_between_positions() -> None:
    got = sum_between(
        np.array([1.0, 2.0, 4.0]),
        np.array([0.0, 10.0, 20.0]),
        np.array([0.0, 10.0, 15.0]),
        np.array([10.0, 20.0, 15.0]),
    )
    assert got.tolist() == [1.0, 2.0, 0.0]
