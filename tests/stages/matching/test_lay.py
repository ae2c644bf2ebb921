"""Lines as riders draw and record them, laid on tiny maps drawn by hand.

Ways are numbered from 1 in the order they are drawn.
"""

from __future__ import annotations

from dataclasses import fields
from pathlib import Path

import numpy as np
import pytest

from terrain.stages.matching import match_route
from terrain.stages.matching.params import _RATES, MatchParams, StepMode, class_rates
from terrain.stages.matching.remarks import against_one_way
from terrain.values.match import LegKind, Match
from terrain.values.route import Route
from terrain.values.views import RoadsView
from tests.match_checks import check_match
from tests.stages.matching.drawn import aside, assert_same_line, assert_ways, route_of
from tests.stages.tinymap import PAVED, TRACK, TinyMap

BEND_M = float(np.hypot(450, 600))


def laid(route: Route, roads: RoadsView) -> Match:
    match = match_route(route, roads)
    check_match(match, route, roads)
    return match


def codes(match: Match) -> list[str]:
    return [problem.code for problem in match.problems]


@pytest.fixture
def town(tmp_path: Path) -> RoadsView:
    """Four ways round a square of 1 km, and a fifth that leads out of its north-east corner."""
    square = TinyMap(
        nodes={"a": (0, 0), "b": (1000, 0), "c": (1000, 1000), "d": (0, 1000), "e": (2500, 1000)}
    )
    square.way("ab", PAVED).way("bc", PAVED).way("cd", PAVED).way("da", PAVED).way("ce", TRACK)
    return square.read(tmp_path).roads


@pytest.fixture
def winding(tmp_path: Path) -> RoadsView:
    """A road that winds 9 km eastward, and a mere track straight through its bends."""
    bends = {f"w{i}": (450.0 * i, 300.0 * (-1) ** i if 0 < i < 20 else 0.0) for i in range(21)}
    country = TinyMap(nodes={**bends, "t": (4500.0, -40.0)})
    country.way(tuple(bends), {"highway": "secondary"}).way(("w0", "t", "w20"), TRACK)
    return country.read(tmp_path).roads


def test_dense_line(town: RoadsView) -> None:
    drawn = [(100, 4), (996, 4), (996, 700)]
    match = laid(route_of(drawn, every_m=10.0), town)
    assert_ways(match, [(1, 900.0), (2, 700.0)], 5.0)
    assert_same_line(match, [(100, 0), (1000, 0), (1000, 700)], 5.0)
    assert match.filled_m == match.unmapped_m == 0.0
    assert match.mean_offset_m == pytest.approx(4.0, abs=0.3)
    assert match.forward.all() and not match.problems


def test_recorded_noise_rides_on_without_turning_back(town: RoadsView) -> None:
    drawn = [(50, 0), (1000, 0), (1000, 1000), (2400, 1000)]
    match = laid(route_of(drawn, every_m=5.0, noise_m=8.0), town)
    assert_ways(match, [(1, 950.0), (2, 1000.0), (5, 1400.0)], 20.0)
    assert match.forward.all()
    assert match.length_m == pytest.approx(3350.0, abs=30.0)


@pytest.mark.parametrize("north", [1.0, -1.0])
def test_the_faster_road_is_guessed_whichever_is_looked_at_first(
    tmp_path: Path, north: float
) -> None:
    """The first stop lies nearer a side street, from which the main road is reached too.

    Roads are looked at from the south to the north.
    """
    park = TinyMap(nodes={"a": (0, 0), "b": (1000, 0), "c": (2000, 0), "p": (-100, 25 * north)})
    park.way("abc", {"highway": "motorway"}).way("pb", {"highway": "residential"})
    stops = [(400, 10 * north), (1600, 6 * north)]
    match = laid(route_of(stops), park.read(tmp_path).roads)
    assert_ways(match, [(1, 1200.0)])


def test_where_the_line_shows_the_way_no_metre_is_cheaper_than_its_length() -> None:
    every = tuple(_RATES)
    assert class_rates((*every, "anything else"))[StepMode.SHOWN].min() >= 1.0


def test_sparse_route_is_filled_by_routing(winding: RoadsView) -> None:
    stops = [(0.0, 0.0), (1800.0, 300.0), (4500.0, 300.0), (7200.0, 300.0), (9000.0, 0.0)]
    match = laid(route_of(stops, planned=True), winding)
    assert {way for way, _ in match.ways} == {1}
    assert match.length_m == pytest.approx(winding.edge_length_m[0], rel=1e-3)
    assert match.filled_m == pytest.approx(match.length_m)
    assert match.mean_offset_m is None
    assert codes(match) == ["way-guessed"]


def test_who_rides_by_no_planner_takes_the_shortest_of_any_roads(winding: RoadsView) -> None:
    route = route_of([(0, 0), (9000, 0)])
    match = match_route(route, winding, MatchParams(any_road=True))
    assert_ways(match, [(2, 9000.0)], 50.0)
    assert match.filled_m == match.length_m


def test_long_straight_steps_of_a_thinned_line_show_the_way(town: RoadsView) -> None:
    corners = [(100.0, 3.0), (1002.0, 2.0), (998.0, 998.0), (2400.0, 1003.0)]
    match = laid(route_of(corners), town)
    assert_ways(match, [(1, 900.0), (2, 1000.0), (5, 1400.0)], 5.0)
    assert match.filled_m == 0.0 and not match.problems


def test_a_step_across_the_bends_is_a_guess(town: RoadsView) -> None:
    match = laid(route_of([(0.0, 0.0), (1000.0, 1000.0)]), town)  # two ways round the square
    assert match.filled_m == pytest.approx(2000.0, abs=5.0)


def test_turning_round_in_the_middle_of_a_way(town: RoadsView) -> None:
    match = laid(route_of([(100, 0), (640, 0), (200, 0)], every_m=10.0), town)
    assert_ways(match, [(1, 540.0 + 440.0)])
    assert match.forward.tolist() == [True, False]
    assert match.edge_to_m[0] == pytest.approx(640.0, abs=1.0)


def test_out_and_back_over_a_junction(town: RoadsView) -> None:
    match = laid(route_of([(1000, 400), (1000, 1000), (1800, 1000), (1000, 1000), (1000, 500)],
                          every_m=20.0), town)  # fmt: skip
    assert_ways(match, [(2, 600.0), (5, 1600.0), (2, 500.0)])


def test_a_loop_ridden_twice_counts_twice(town: RoadsView) -> None:
    lap = [(0, 0), (1000, 0), (1000, 1000), (0, 1000)]
    match = laid(route_of([*lap, *lap, (0, 0)], every_m=15.0), town)
    assert_ways(match, [(k, 1000.0) for k in (1, 2, 3, 4, 1, 2, 3, 4)])


@pytest.fixture
def motorway(tmp_path: Path) -> RoadsView:
    """Two carriageways of a road 11 m apart, east on the southern one (way 1), linked at no end."""
    road = TinyMap(nodes={"a": (0, 0), "b": (3000, 0), "c": (3000, 11), "d": (0, 11)})
    road.way("ab", PAVED, oneway="yes").way("cd", PAVED, oneway="yes")
    return road.read(tmp_path).roads


@pytest.mark.parametrize("noise_m", [0.0, 3.0])
def test_parallel_carriageways_keep_to_the_direction(motorway: RoadsView, noise_m: float) -> None:
    east, west = [(50.0, 0.0), (2900.0, 0.0)], [(2900.0, 11.0), (50.0, 11.0)]
    # 6 m to the left of either carriageway, the other one is nearer.
    for line, way in ((east, 1), (west, 2)):
        route = route_of(aside(line, 6.0), every_m=10.0, noise_m=noise_m)
        match = laid(route, motorway)
        assert_ways(match, [(way, 2850.0)], 15.0)
        assert match.forward.all()


def test_a_bridge_is_not_a_junction(tmp_path: Path) -> None:
    cross = TinyMap(nodes={"a": (0, 0), "b": (2000, 0), "c": (1000, -800), "d": (1000, 800)})
    cross.way("ab", PAVED, bridge="yes", layer="1").way("cd", PAVED)
    roads = cross.read(tmp_path).roads
    for noise_m in (0.0, 6.0):
        match = laid(route_of([(100, 3), (1900, 3)], every_m=8.0, noise_m=noise_m), roads)
        assert_ways(match, [(1, 1800.0)], 20.0)
        match = laid(route_of([(1000, -700), (1000, 700)], every_m=8.0, noise_m=noise_m), roads)
        assert_ways(match, [(2, 1400.0)], 20.0)


def test_a_gap_of_the_file_is_bridged_by_road(winding: RoadsView) -> None:
    before, after = [(0, 0), (450, -300), (900, 300)], [(7200, 300), (7650, -300), (8100, 300)]
    match = laid(route_of(before, after, every_m=10.0), winding)
    assert_ways(match, [(1, np.hypot(450, 300) + 17 * BEND_M)])
    assert match.filled.tolist() == [False, True, False]
    assert match.filled_m == pytest.approx(14 * BEND_M, rel=1e-3)
    assert codes(match) == ["gap-bridged", "way-guessed"]
    assert match.problems[0].where == "km 1.3 to km 11.8"
    assert "6.3 km" in match.problems[0].what and "routing" in match.problems[0].action
    assert match.breaks_m == ()


def test_a_gap_in_a_shaky_recording_is_bridged_too(winding: RoadsView) -> None:
    before, after = [(225, -150), (450, -300), (900, 300)], [(7200, 300), (7650, -300), (8100, 300)]
    match = laid(route_of(before, after, every_m=5.0, noise_m=6.0), winding)
    assert {way for way, _ in match.ways} == {1}
    assert match.filled_m == pytest.approx(14 * BEND_M, rel=0.01)
    assert match.unmapped_m == 0.0


def test_an_unmapped_stretch_in_the_middle(tmp_path: Path) -> None:
    two = TinyMap(nodes={"a": (0, 0), "b": (2000, 0), "c": (4000, 0), "d": (6000, 0)})
    two.nodes |= {"e": (0, 3000), "f": (6000, 3000)}
    roads = two.way("ab", PAVED).way("cd", PAVED).way("ef", PAVED).read(tmp_path).roads
    drawn = [(500, 2), (2000, 2), (2500, 800), (3500, 800), (4000, 2), (5500, 2)]
    match = laid(route_of(drawn, every_m=20.0), roads)
    assert match.kind.tolist() == [LegKind.MATCHED, LegKind.UNMAPPED, LegKind.MATCHED]
    assert [way for way, _ in match.ways] == [1, 2]
    assert match.unmapped_m == pytest.approx(2 * np.hypot(500, 800) + 1000, abs=30.0)
    assert_same_line(match, drawn, 30.0)
    assert codes(match) == ["off-map"]
    assert "2.9 km" in match.problems[0].what


def test_a_line_far_from_any_way_is_followed_as_drawn(town: RoadsView) -> None:
    drawn = [(5000, 5000), (8000, 5000), (8000, 7000)]
    match = laid(route_of(drawn, every_m=50.0), town)
    assert match.kind.tolist() == [LegKind.UNMAPPED]
    assert_same_line(match, drawn, 0.1)
    assert match.unmapped_m == pytest.approx(5000.0, rel=1e-3)
    assert match.matched_m == match.filled_m == 0.0 and match.mean_offset_m is None
    assert codes(match) == ["outside-region"]


def test_a_ferry_is_a_leg_of_its_own(tmp_path: Path) -> None:
    strait = TinyMap(nodes={"a": (0, 0), "b": (1500, 0), "c": (6500, 200), "d": (8000, 0)})
    strait.way("ab", PAVED).way("bc", {"route": "ferry", "motor_vehicle": "yes"}).way("cd", PAVED)
    roads = strait.read(tmp_path).roads
    match = laid(route_of([(200, 0), (1500, 0), (6500, 200), (7800, 26.7)], every_m=25.0), roads)
    assert match.kind.tolist() == [LegKind.MATCHED, LegKind.FERRY, LegKind.MATCHED]
    assert match.ferry_m == pytest.approx(np.hypot(5000, 200), rel=1e-3)
    assert match.matched_m == pytest.approx(1300.0 + 1311.4, abs=1.0)


def test_leaving_the_region_and_coming_back(town: RoadsView) -> None:
    drawn = [(1200, 1000), (2500, 1000), (9000, 1000), (9000, 3000), (2500, 1000), (1000, 1000)]
    match = laid(route_of(drawn, every_m=25.0), town)
    assert match.kind.tolist() == [LegKind.MATCHED, LegKind.UNMAPPED, LegKind.MATCHED]
    assert_ways(match, [(5, 1300.0 + 1500.0)], 60.0)
    assert codes(match) == ["outside-region"]
    assert "15.3 km" in match.problems[0].what


def test_a_break_too_wide_to_bridge_stays_a_break(tmp_path: Path) -> None:
    far = TinyMap(nodes={"a": (0, 0), "b": (2000, 0), "c": (30000, 0), "d": (32000, 0)})
    roads = far.way("abcd", PAVED).read(tmp_path).roads
    match = laid(route_of([(100, 0), (1900, 0)], [(30100, 0), (31900, 0)], every_m=20.0), roads)
    assert match.length_m == pytest.approx(3600.0, abs=2.0)
    assert match.breaks_m == pytest.approx((1800.0,), abs=1.0)
    assert match.filled_m == match.unmapped_m == 0.0
    assert codes(match) == ["gap-left-open"]
    assert "28 km away" in match.problems[0].what


@pytest.mark.parametrize("every_m", [10.0, 30.0, 45.0, 58.0, 72.0, 100.0, 200.0, 300.0, 390.0])
def test_a_one_way_ridden_against_is_followed_and_told(every_m: float, tmp_path: Path) -> None:
    lane = TinyMap(nodes={"a": (0, 0), "b": (2000, 0), "c": (1000, 3000)})
    roads = lane.way("ab", PAVED, oneway="yes").way("bca", PAVED).read(tmp_path).roads
    match = laid(route_of([(1900, 1), (100, 1)], every_m=every_m), roads)
    assert_ways(match, [(1, 1800.0)])
    assert not match.forward.any()
    assert codes(match) == ["against-one-way"]
    assert against_one_way(match, roads) == ((0.0, match.length_m),)
    assert match.problems[0].where == "km 0 to km 1.8"


@pytest.mark.parametrize("every_m", [20.0, 90.0, 150.0, 250.0, 350.0])
def test_a_closed_road_is_not_taken_for_the_open_track_beside_it(
    every_m: float, tmp_path: Path
) -> None:
    """A dam closed to motors, a track at its foot 13 m away, a line on the dam: it was told as a
    ride of the open track where points of the line are 90 m apart or more."""
    dam = TinyMap(nodes={"a": (0, 0), "b": (3000, 0), "c": (0, 13), "d": (3000, 13)})
    roads = (
        dam.way("ab", TRACK, motor_vehicle="no").way("cd", TRACK).way("ac", TRACK).way("bd", TRACK)
        .read(tmp_path).roads
    )  # fmt: skip
    assert_ways(laid(route_of([(100, 0), (2900, 0)], every_m=every_m), roads), [(1, 2800.0)])
    assert_ways(laid(route_of([(100, 13), (2900, 13)], every_m=every_m), roads), [(2, 2800.0)])


def test_many_places_of_one_kind_are_told_in_few_words(tmp_path: Path) -> None:
    patches = TinyMap()
    drawn = []
    for k in range(8):
        patches.nodes |= {f"a{k}": (4000.0 * k, 0.0), f"b{k}": (4000.0 * k + 2000.0, 0.0)}
        patches.way((f"a{k}", f"b{k}"), PAVED)
        drawn += [(4000.0 * k + 100.0, 0.0), (4000.0 * k + 1900.0, 0.0)]
    roads = patches.read(tmp_path).roads
    match = laid(route_of(drawn, every_m=50.0), roads)
    assert codes(match) == ["off-map"] * 6
    assert match.problems[-1].where == "2 more places"


def test_the_same_line_gives_the_same_ride(town: RoadsView) -> None:
    route = route_of([(50, 0), (1000, 0), (1000, 1000), (2400, 1000)], every_m=5.0, noise_m=8.0)
    first, second = match_route(route, town), match_route(route, town)
    for field in fields(Match):
        np.testing.assert_array_equal(getattr(first, field.name), getattr(second, field.name))


def test_a_match_cannot_be_written_to(town: RoadsView) -> None:
    match = laid(route_of([(100, 0), (900, 0)], every_m=10.0), town)
    for field in fields(Match):
        value = getattr(match, field.name)
        if isinstance(value, np.ndarray):
            assert not value.flags.writeable, field.name


def test_half_a_step_along_a_one_way_is_not_against_it(tmp_path: Path) -> None:
    """Two points .9 m apart, 3 m from a one-way and 3.3 m from a road for both directions."""
    tiny = TinyMap(nodes={"a": (0, 0), "b": (1000, 0), "c": (0, 6.3), "d": (1000, 6.3)})
    tiny.way("ab", PAVED, oneway="yes").way("cd", PAVED)
    roads = tiny.read(tmp_path).roads
    assert_ways(laid(route_of([(500.0, 3.0), (500.9, 3.0)]), roads), [(1, 0.9)], 0.1)
    # Against it for so long the other is likelier.
    assert_ways(laid(route_of([(500.9, 3.0), (500.0, 3.0)]), roads), [(2, 0.9)], 0.1)
