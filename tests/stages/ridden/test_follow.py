"""Far-apart fixes filled in along a plan with one bend."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest

from terrain.stages.ridden.follow import _with_points, along_plan
from terrain.stages.ridden.rests import Knots, route_of
from terrain.values.ground import GroundKind
from terrain.values.match import Match
from tests.stages.ridden.lines import laid, ride_of
from tests.stages.tinymap import EAST_M, NORTH_M


def _north_of(
    piece: tuple[int, ...], south_m: float = 0.0
) -> tuple[list[int], list[float]]:  # fmt: skip
    """Places of three fixes, 400 m and 50 s apart, in the line filled in, and how far north of
    them each step between goes [m]; the fixes lie so far south of the plan."""
    # 2 x 250 m over a bend 150 m north, then straight on.
    plan = laid([(0, 0), (200, 150), (400, 0), (800, 0)], [(900.0, 1)])
    at_s = np.array([0.0, 50.0, 100.0])
    knots = Knots(
        lon=np.array([0.0, 400.0, 800.0]) / EAST_M, lat=np.full(3, -south_m) / NORTH_M,
        ele_m=np.zeros(3),
        piece=np.array(piece, np.int32), arrive_s=at_s, leave_s=at_s, noise_m=4.0,
    )  # fmt: skip
    speeds = ride_of(plan, GroundKind.GRAVEL).speeds
    filled = along_plan(route_of(knots, "ride", "ride.gpx"), knots, plan, speeds)
    north = filled.route.lat * NORTH_M
    index = filled.index.tolist()
    return index, [float(north[a : b + 1].max()) for a, b in pairwise(index)]


def test_between_two_fixes_of_one_piece_the_plan_is_followed() -> None:
    index, north = _north_of((0, 0, 0))
    assert index[1] > 10 and index[2] - index[1] > 8  # a point each 40 m or nearer
    assert north[0] == pytest.approx(150.0, abs=20.0)
    assert north[1] == pytest.approx(0.0, abs=20.0)


@pytest.mark.parametrize(("south_m", "followed"), [(32.0, True), (34.0, False)])
def test_a_fix_is_on_the_plan_up_to_25_m_and_twice_the_noise(
    south_m: float, followed: bool
) -> None:
    """33 m with a noise of 4 m. Common practice, no source."""
    index, _ = _north_of((0, 0, 0), south_m)
    assert (index == [0, 1, 2]) != followed


def _follows(plan: Match, x_m: tuple[float, float], gap_s: float) -> bool:
    """Whether points of the plan are put in between two fixes on the equator."""
    at_s = np.array([0.0, gap_s])
    knots = Knots(
        lon=np.array(x_m) / EAST_M, lat=np.zeros(2), ele_m=np.zeros(2),
        piece=np.zeros(2, np.int32), arrive_s=at_s, leave_s=at_s, noise_m=4.0,
    )  # fmt: skip
    speeds = ride_of(plan, GroundKind.GRAVEL).speeds
    return along_plan(route_of(knots, "ride", "x"), knots, plan, speeds).route.n_points > 2


@pytest.mark.parametrize(
    ("apart_m", "gap_s", "followed"),
    [
        (119.0, 12.0, False), (121.0, 12.0, True),  # nearer fixes show the way themselves
        (500.0, 20.5, True), (500.0, 19.5, False),  # 50 s by the plan: 0.4 of it at least
        (500.0, 9_000.0, True),
    ],
)  # fmt: skip
def test_far_fixes_follow_the_plan_unless_it_was_not_ridden_so_fast(
    apart_m: float, gap_s: float, followed: bool
) -> None:
    """Gravel at 36 km/h. Common practice, no source."""
    plan = laid([(0, 0), (1_000, 0)], [(1_000.0, 1)])
    assert _follows(plan, (100.0, 100.0 + apart_m), gap_s) == followed


@pytest.mark.parametrize(("north_m", "followed"), [(540.0, True), (560.0, False)])
def test_a_plan_may_take_four_times_the_straight_line_and_half_a_kilometre(
    north_m: float, followed: bool
) -> None:
    """Between fixes 200 m apart it goes north, across and back: up to 1,300 m. Common practice,
    no source."""
    plan = laid(
        [(0, 0), (0, north_m), (200, north_m), (200, 0)], [(2 * north_m + 200.0, 1)]
    )  # fmt: skip
    assert _follows(plan, (0.0, 200.0), 200.0) == followed


def test_points_are_put_in_at_equal_steps_of_at_most_forty_metres() -> None:
    plan = laid([(0, 0), (1_000, 0)], [(1_000.0, 1)])
    route = route_of(
        Knots(
            lon=np.array([0.0, 300.0, 339.0, 900.0]) / EAST_M, lat=np.zeros(4),
            ele_m=np.arange(4.0), piece=np.zeros(4, np.int32), arrive_s=np.arange(4.0),
            leave_s=np.arange(4.0), noise_m=4.0,
        ), "ride", "ride.gpx",
    )  # fmt: skip
    filled = _with_points(
        route, plan, np.array([0, 1]), np.array([0.0, 300.0]), np.array([300.0, 339.0])
    )
    east = filled.route.lon * EAST_M
    index = filled.index.tolist()
    assert index == [0, 8, 9, 10]
    np.testing.assert_allclose(np.diff(east)[:8], 37.5, rtol=1e-6)
    np.testing.assert_allclose(east[index], [0.0, 300.0, 339.0, 900.0])
    assert filled.route.ele_m[index].tolist() == [0.0, 1.0, 2.0, 3.0]
    assert np.isnan(filled.route.ele_m[1:8]).all()


def test_across_a_break_of_the_recording_nothing_is_filled_in() -> None:
    index, north = _north_of((0, 0, 1))
    assert index[2] == index[1] + 1
    assert north[0] == pytest.approx(150.0, abs=20.0)
    assert _north_of((0, 1, 1))[0][:2] == [0, 1]
