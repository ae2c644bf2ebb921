"""The limits of ways round and of parts left out, a case on each side of each, by hand."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from terrain.stages.detours.answered import _at_end, _Cut, _known, _now, _unrolled, _within
from terrain.stages.detours.find import (
    _dirt_m_s,
    _is_hard,
    _likes_dirt,
    _nearer_to_help,
    _RoadNets,
    _window_ends,
    _worst_of,
)
from terrain.stages.detours.layout import DetourInputs, _passed
from terrain.stages.detours.way import DetourPath, _more_m, _more_s, _names
from terrain.values.answers import PartAnswer, Reply
from terrain.values.help import HELP_KINDS, HelpKind
from terrain.values.trip import Rider, Trip, Wants
from tests.stages.ground.handmade import DrawnWay, way_table


def _path(length_m: float = 10_000.0, time_s: float = 100.0, to_m: float = 10_000.0) -> DetourPath:
    edge = np.array([0, 1], np.int32)
    half = np.full(2, length_m / 2)
    return DetourPath(edge, np.ones(2, bool), half, time_s, 0.0, to_m)


@pytest.mark.parametrize(
    ("length_m", "time_s", "dirt_m", "worth"),
    [
        (10_000.0, 100.0, 3_000.0, True), (10_000.0, 100.0, 2_990.0, False),  # 3 km of dirt
        (18_000.0, 100.0, 5_400.0, True), (18_000.0, 100.0, 5_390.0, False),  # three tenths
        (18_100.0, 100.0, 9_000.0, False),  # 1.8 times as long
        (10_000.0, 250.0, 3_000.0, True), (10_000.0, 251.0, 3_000.0, False),  # 2.5 times as slow
    ],
)  # fmt: skip
def test_dirt_is_worth_what_it_adds(
    length_m: float, time_s: float, dirt_m: float, worth: bool
) -> None:
    layout: Any = SimpleNamespace(
        edge_paved=lambda edge: np.full(len(edge), 1.0 - dirt_m / length_m),
        spent_s=lambda from_m, to_m: (to_m - from_m) / 100.0,
    )
    got = _dirt_m_s(layout, _path(length_m, time_s))
    assert got == pytest.approx(dirt_m / time_s if worth else 0.0)


def test_what_a_way_adds() -> None:
    assert _path(12_000.0, to_m=10_000.0).added_m == 2_000.0


@pytest.mark.parametrize(
    ("wants", "skill", "likes"),
    [
        (Wants.ROAD, Rider.EXPERT, False), (Wants.OFF_ROAD, Rider.NOVICE, True),
        (None, Rider.NOVICE, False), (None, Rider.EXPERT, True), (Wants.ROAD, Rider.NOVICE, False),
    ],
)  # fmt: skip
def test_who_likes_dirt(wants: Wants | None, skill: Rider, likes: bool) -> None:
    trip: Any = SimpleNamespace(wants=wants or Trip().wants, skill=skill)
    assert _likes_dirt(trip) == likes


@pytest.mark.parametrize(
    ("ground", "severity", "run_m", "hard"),
    [
        (2, 0, 1_000.0, True), (2, 0, 999.0, False), (1, 3, 1_000.0, True), (1, 3, 999.0, False),
        (1, 2, 9_000.0, False), (0, 3, 1_000.0, True),
    ],
)  # fmt: skip
def test_a_kilometre_of_track_or_of_rough_is_hard(
    ground: int, severity: int, run_m: float, hard: bool
) -> None:
    ride: Any = SimpleNamespace(
        from_m=np.array([0.0, 1_000.0]), to_m=np.array([1_000.0, 50_000.0]),
        ground=np.array([0, ground]), severity=np.array([0, severity]),
    )  # fmt: skip
    run: Any = SimpleNamespace(from_m=500.0, to_m=1_000.0 + run_m)
    assert _is_hard(ride, run) == hard


@pytest.mark.parametrize(
    ("part", "low", "high", "ends"),
    [
        ((150.0, 250.0), 0.0, 400.0, (0, 4)),
        ((150.0, 250.0), 100.0, 300.0, (1, 3)),
        ((150.0, 250.0), 101.0, 299.0, (1, 3)),  # to a metre
        ((150.0, 250.0), 101.5, 400.0, None),
        ((150.0, 250.0), 0.0, 298.5, None),
        ((199.0, 301.0), 150.0, 400.0, (2, 4)),
        ((199.0, 301.0), 199.0, 301.0, (2, 3)),
        ((198.5, 301.0), 150.0, 400.0, None),
        ((199.0, 301.0), 150.0, 350.0, (2, 3)),
        ((199.0, 301.5), 150.0, 350.0, None),
    ],
)
def test_a_way_round_leaves_and_meets_the_ride_at_its_junctions(
    part: tuple[float, float], low: float, high: float, ends: tuple[int, int] | None
) -> None:
    layout: Any = SimpleNamespace(passed=SimpleNamespace(at_m=100.0 * np.arange(5)))
    assert _window_ends(layout, part, low, high) == ends


def _far(from_m: float, to_m: float, nearest_s: float | None) -> Any:
    return SimpleNamespace(
        from_m=from_m, to_m=to_m, nearest_s=nearest_s, worst_at_m=(from_m + to_m) / 2
    )


def test_the_worst_of_a_remote_part() -> None:
    """Nobody within reach is worse than any time; what only touches the part is not in it."""
    part = (100.0, 200.0)
    near, far, nobody = _far(90, 130, 50.0), _far(150, 170, 60.0), _far(180, 220, None)
    beside = [_far(0, 100, 99.0), _far(200, 300, 99.0)]
    assert _worst_of(part, [near, far, *beside]) == (159.0, 161.0)
    assert _worst_of(part, [near, nobody, far]) == (199.0, 201.0)


@pytest.mark.parametrize(
    ("worst_s", "nearest_s", "nearer"),
    [(59.0, 60.0, True), (60.0, 60.0, False), (np.nan, 60.0, False), (59.0, None, True)],
)
def test_a_way_round_a_remote_part_stays_nearer_to_help(
    worst_s: float, nearest_s: float | None, nearer: bool
) -> None:
    cost = np.full((len(HELP_KINDS), 3), 1e9)
    cost[HELP_KINDS.index(HelpKind.MECHANIC)] = 10.0, worst_s, 20.0
    layout: Any = SimpleNamespace(
        roads=SimpleNamespace(edge_u=np.array([0, 1]), edge_v=np.array([1, 2])),
        fields=SimpleNamespace(to_help_s=SimpleNamespace(cost=cost)),
    )
    part = (100.0, 200.0)
    assert _nearer_to_help(layout, _path(), [_far(150, 170, nearest_s)], part) == nearer
    assert not _nearer_to_help(layout, _path(), [_far(200, 300, 99.0), _far(0, 100, 99.0)], part)


def test_more_or_less_of_a_way() -> None:
    assert ["more" in str(text) for text in (_more_m(0.0), _more_m(-1.0))] == [True, False]
    assert ["more" in str(text) for text in (_more_s(0.0), _more_s(-1.0))] == [True, False]
    assert str(_more_m(-2_000.0)) == str(_more_m(2_000.0)).replace("more", "less")
    assert str(_more_s(-600.0)) == str(_more_s(600.0)).replace("more", "less")


def test_the_three_longest_roads_are_named() -> None:
    """A number goes before a name, and one road may be of several ways."""
    tags = [
        {"name": "Long Lane", "ref": "R 9"}, {"name": "Mill Road"}, {}, {"name": "Hill Road"},
        {"name": "Short Street"}, {"name": "Hill Road"},
    ]  # fmt: skip
    ways = way_table(
        [DrawnWay(way_id=i, start=(0, i), end=(9, i), tags=t) for i, t in enumerate(tags)]
    )
    layout: Any = SimpleNamespace(roads=SimpleNamespace(ways=ways, edge_way=np.arange(6)))
    length = np.array([500.0, 300.0, 900.0, 250.0, 200.0, 200.0])
    assert _names(layout, np.arange(6, dtype=np.int32), length) == ("R 9", "Hill Road", "Mill Road")
    twice = np.array([4, 1, 4], np.int32)
    assert _names(layout, twice, np.array([200.0, 300.0, 200.0])) == ("Short Street", "Mill Road")


def _cut(from_m: float, to_m: float, length_m: float) -> _Cut:
    none = np.zeros(0)
    return _Cut(from_m=from_m, to_m=to_m, lon=none, lat=none, length_m=length_m)


@pytest.mark.parametrize(
    ("sent", "now"),
    [(5.0, 5.0), (10.0, 10.0), (15.0, 10.0), (20.0, 35.0), (30.0, 45.0), (40.0, 55.0), (45.0, 55.0),
     (50.0, 55.0), (60.0, 65.0)],
)  # fmt: skip
def test_where_a_place_of_the_route_as_sent_lies_now(sent: float, now: float) -> None:
    """25 m go round 10 m of the route, and 10 m are skipped."""
    assert _now(sent, [_cut(10.0, 20.0, 25.0), _cut(40.0, 50.0, 0.0)]) == now


def test_points_left_aside_stand_with_the_one_before() -> None:
    nan = np.nan
    assert _known(np.array([nan, 5.0, nan, 9.0, 8.0, nan])).tolist() == [0, 5, 5, 9, 9, 9]


def test_longitudes_do_not_jump() -> None:
    assert _unrolled(np.array([-181.0, 179.5, -179.5]), 179.0) == pytest.approx([179, 179.5, 180.5])
    assert _unrolled(np.array([1.0, 2.0]), -179.0) == pytest.approx([1.0, 2.0])


@pytest.mark.parametrize(
    ("from_m", "to_m", "held"),
    [(0.0, 50.0, 50.0), (99.0, 150.0, 100.0), (100.0, 150.0, None), (120.0, 150.0, None)],
)
def test_an_answer_ends_with_the_ride(from_m: float, to_m: float, held: float | None) -> None:
    got = _within(PartAnswer(from_m=from_m, to_m=to_m, reply=Reply.KEEP), 100.0)
    assert (None if got is None else got.to_m) == held


@pytest.mark.parametrize(
    ("part", "cut"),
    [
        ((500.0, 3_000.0), (0.0, 3_000.0, 3_000.0)), ((501.0, 3_000.0), None),
        ((7_000.0, 9_500.0), (7_000.0, 10_000.0, 7_000.0)), ((7_000.0, 9_499.0), None),
        ((0.0, 9_000.0), (0.0, 9_000.0, 9_000.0)), ((0.0, 9_001.0), None),
    ],
)  # fmt: skip
def test_the_first_and_the_last_part_are_left_out_as_they_are(
    part: tuple[float, float], cut: tuple[float, float, float] | None
) -> None:
    """Of 10 km, to half a kilometre from an end; a kilometre has to be left."""
    match = SimpleNamespace(lonlat=lambda at: (at, at))
    ride: Any = SimpleNamespace(match=match, length_m=10_000.0)
    got = _at_end(ride, part)
    assert (None if got is None else (got.from_m, got.to_m, float(got.lon[0]))) == cut
    assert got is None or got.length_m == 0.0


def test_roads_are_looked_at_to_30_km_round_a_part_and_not_beyond_its_neighbours() -> None:
    """Of a ride of 120 km parts from 10 to 20 km and from 80 to 81 (common practice, no source)."""
    layout: Any = SimpleNamespace(
        near=lambda from_m, to_m: (from_m, to_m), ride=SimpleNamespace(length_m=120_000.0)
    )
    nets = _RoadNets(layout, [(10_000.0, 20_000.0), (80_000.0, 81_000.0)])
    assert [nets.room(i) for i in range(2)] == [(0.0, 80_000.0), (20_000.0, 120_000.0)]
    assert nets.near == ((0.0, 50_000.0), (50_000.0, 111_000.0))
    close = _RoadNets(layout, [(10_000.0, 20_000.0), (40_000.0, 41_000.0)])
    assert close.near == ((0.0, 40_000.0), (20_000.0, 71_000.0))


def test_tarmac_of_a_part_counts_several_times_and_its_time_is_its_own() -> None:
    """From km 1 to km 3: 1 km believed paved, counted three times, and a metre at least."""
    layout: Any = SimpleNamespace(
        paved_at_m=np.array([0.0, 2_000.0, 4_000.0]), paved_m=np.array([0.0, 1_500.0, 2_000.0]),
        border_m=np.array([0.0, 2_000.0, 4_000.0]), field_s=np.array([0.0, 100.0, 400.0]),
    )  # fmt: skip
    assert DetourInputs.dirt_cost(layout, 1_000.0, 3_000.0, 3.0) == 2_000.0 + 2 * 1_000.0 + 1.0
    assert DetourInputs.spent_s(layout, 1_000.0, 3_000.0) == 50.0 + 150.0


def test_a_ride_passes_the_ends_of_its_edges_and_none_in_their_middle() -> None:
    """Edge 0 whole, half of edge 1, and off the map."""
    nan = np.nan
    match = SimpleNamespace(
        edge=np.array([0, 1, -1]), edge_from_m=np.array([0.0, 0.0, nan]),
        edge_to_m=np.array([100.0, 50.0, nan]), from_m=np.array([0.0, 100.0, 150.0]),
        to_m=np.array([100.0, 150.0, 200.0]),
    )  # fmt: skip
    roads: Any = SimpleNamespace(
        edge_u=np.array([5, 6]), edge_v=np.array([6, 7]), edge_length_m=np.array([100.0, 200.0])
    )
    ride: Any = SimpleNamespace(match=match)
    passed = _passed(ride, roads)
    assert passed.node.tolist() == [5, 6, 6]
    assert passed.at_m.tolist() == [0.0, 100.0, 100.0]
