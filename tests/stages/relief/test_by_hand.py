"""Limits of climbs, ramps, spans and hairpins, a case on each side: by hand."""

from __future__ import annotations

import numpy as np
import pytest

from terrain.stages.relief.gradient import (
    ascent_descent,
    climb_between,
    hairpins_m,
    known_runs,
    parts_on,
    runs_steeper,
    steepest_ramps,
)

M_DEG = 111_195.0  # a degree of a sphere of 6,371 km


@pytest.mark.parametrize(
    ("spans", "parts"),
    [
        ([(0, 150)], [(100, 150, 9.0)]),
        ([(0, 149)], []),
        ([(250, 400)], [(250, 300, 9.0)]),
        ([(251, 400)], []),
        # Spans that touch are one; those a metre apart are two too short ones.
        ([(110, 135), (135, 160)], [(110, 160, 9.0)]),
        ([(110, 135), (136, 160)], []),
        ([(0, 20), (100, 150), (180, 230), (400, 500)], [(100, 150, 9.0), (180, 230, 9.0)]),
        ([], []),
    ],
)
def test_parts_of_a_ramp_on_spans_of_50_m_or_more(spans, parts) -> None:
    assert parts_on([(100, 300, -9.0)], spans, 50) == parts
    assert parts_on([(100, 149, 9.0)], [(0, 900)], 50) == []


def test_runs_are_cut_only_inside() -> None:
    known = np.array([True, True, True, True, False, True])
    assert known_runs(known, cuts=[0, 2, 2, 4, 5]) == [(0, 2), (2, 4), (5, 6)]
    assert known_runs(known, cuts=[3, 1]) == [(0, 1), (1, 3), (3, 4), (5, 6)]


def test_moves_of_less_than_a_metre_are_ups_or_downs_too() -> None:
    ele = np.array([10.0, 10.7, 10.0, 10.9])
    assert ascent_descent(ele, threshold_m=0.5) == pytest.approx((1.6, 0.7))
    # The threshold itself is a turn.
    assert ascent_descent(np.array([0.0, 5.0, 0.0]), threshold_m=5.0) == (5, 5)
    assert ascent_descent(np.array([0.0, 5.0, 0.1]), threshold_m=5.0) == (5, 0)


def test_a_climb_is_told_where_half_of_the_part_has_heights() -> None:
    at = np.arange(11) * 10.0
    for first_unknown, told in ((6, True), (5, False)):
        ele = np.where(np.arange(11) < first_unknown, at, np.nan)
        up, _ = climb_between(at, ele, np.array([0.0, 100.0]), threshold_m=5.0)
        assert np.isnan(up[0]) != told


def test_a_ramp_may_fill_the_line_and_the_first_of_equals_is_taken() -> None:
    at = np.arange(0.0, 101.0, 10.0)
    assert steepest_ramps(at, at / 10, span_m=100, most=3) == [(0, 100, pytest.approx(10.0))]
    assert steepest_ramps(at, at / 10, span_m=101, most=3) == []
    # Ramps may touch: from 0 and from 50.
    two = steepest_ramps(at, at / 10, span_m=50, most=3)
    assert [ramp[:2] for ramp in two] == [(0, 50), (50, 100)]


def test_a_single_steep_point_is_no_part_and_the_limit_is() -> None:
    at = np.arange(6) * 10.0
    grade = np.array([10.0, 10.0, 0.0, 11.0, 0.0, 0.0])
    assert runs_steeper(at, grade, limit_pct=10.0) == [(0, 10, 10, 10)]
    assert runs_steeper(at, -grade, limit_pct=10.0) == [(0, 10, -10, -10)]
    assert runs_steeper(at, grade, limit_pct=10.1) == []


def _bend(*turns_deg: float, step_m: float = 10.0) -> int:
    """How many hairpins are in a line on the equator that turns so after each step."""
    turns = [0.0] * 12 + list(turns_deg) + [0.0] * 12
    heading = np.radians(np.cumsum(turns))
    lon, lat = (
        np.concatenate([[0.0], np.cumsum(step_m * part)]) / M_DEG
        for part in (np.cos(heading), np.sin(heading))
    )
    return len(hairpins_m(np.arange(len(lon)) * step_m, lon, lat))


@pytest.mark.parametrize(
    ("turns", "n"),
    [
        ((45.5, 45.5, 45.5), 1),  # 136.5 degrees
        ((44.5, 44.5, 44.5), 0),  # 133.5 degrees
        ((-45.5, -45.5, -45.5), 1),
        ((68.0, 0, 0, 0, 0, 0, 0, 68.0), 1),  # within 80 m
        ((68.0, 0, 0, 0, 0, 0, 0, 0, 68.0), 0),  # within 90 m
        ((119.0, 17.0), 1),  # a corner of less than 120 degrees
        ((121.0, 15.0, 15.0), 0),  # a corner sharper than that
        ((70.0, 70.0, -70.0, -70.0), 2),  # an S
        ((45.0, -45.0, 45.0, -45.0), 0),  # a wriggle
    ],
)
def test_a_hairpin_is_135_degrees_within_80_m(turns: tuple[float, ...], n: int) -> None:
    """The limits are common practice, no source; the sums of the turns are in the table."""
    assert _bend(*turns) == n


@pytest.mark.parametrize("to_deg", [20.0, -20.0])
def test_hairpins_of_a_line_that_is_shorter_than_two_steps_are_none(to_deg: float) -> None:
    lon = np.array([0.0, 9.0, 18.0]) / M_DEG
    assert len(hairpins_m(np.array([0.0, 9.0, 18.0]), lon, lon * to_deg)) == 0
