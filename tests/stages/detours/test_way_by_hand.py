"""The ride laid out for ways round, and which way is taken, by hand."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from terrain.stages.detours import find as module
from terrain.stages.detours.find import (
    _dirt,
    _flagged_rough,
    _for_road_tyres,
    _RoadNets,
    _round_part,
)
from terrain.stages.detours.layout import DetourInputs, RiddenEdges, detour_inputs
from terrain.stages.detours.way import DetourPath, _trimmed, left_out
from terrain.text.message import spaced
from terrain.values.detours import DetourKind
from terrain.values.views import WayFlag
from tests.stages.ground.handmade import category

NAN = np.nan


def _inputs(**more: Any) -> DetourInputs:
    """Three legs of 1, 2 and 3 km over edges 4, -1 (off the map) and 5, at 10 m/s."""
    to_m = np.array([1_000.0, 3_000.0, 6_000.0])
    match = SimpleNamespace(
        edge=np.array([4, -1, 5]), from_m=np.r_[0.0, to_m[:-1]], to_m=to_m,
        edge_from_m=np.array([500.0, NAN, 3_000.0]), edge_to_m=np.array([1_500.0, NAN, 0.0]),
    )  # fmt: skip
    ride: Any = SimpleNamespace(
        match=match, from_m=match.from_m, to_m=to_m, length_m=6_000.0,
        time_s=lambda at: np.asarray(at) / 10.0,
        p=np.array([[0.5, 0.5, 0.0], [NAN] * 3, [1.0, 0.0, 0.0]]),
    )  # fmt: skip
    roads: Any = SimpleNamespace(
        edge_length_m=np.array([1.0, 1.0, 1.0, 1.0, 2_000.0, 3_000.0]), n_edges=6,
        edge_u=np.array([9, 9, 9, 9, 20, 22]), edge_v=np.array([9, 9, 9, 9, 21, 23]),
        edge_way=np.arange(6),
    )  # fmt: skip
    fields: Any = SimpleNamespace(
        edge_time_s=np.array([0.0] * 4 + [more.pop("pace_s", 400.0), NAN])
    )
    return detour_inputs(ride, roads, fields, np.zeros((6, 3)))


def test_time_of_a_part_at_the_pace_of_the_fields() -> None:
    """Half of an edge of 400 s; off the map, and where the fields know none, the ride's own."""
    inputs = _inputs()
    assert inputs.field_s.tolist() == pytest.approx([0.0, 200.0, 400.0, 700.0])
    assert inputs.spent_s(500.0, 4_000.0) == pytest.approx(100 + 200 + 100)


def test_length_with_tarmac_counted_more_than_once() -> None:
    """500 m of the first kilometre, all of what is not known, and all of the last three."""
    inputs = _inputs()
    assert inputs.dirt_cost(0.0, 1_000.0, 3.0) == pytest.approx(1_000 + 2 * 500 + 1)
    assert inputs.dirt_cost(0.0, 6_000.0, 3.0) == pytest.approx(6_000 + 2 * 5_500 + 1)
    assert inputs.dirt_cost(500.0, 1_000.0, 1.0) == pytest.approx(501)


def test_nodes_are_passed_where_a_leg_begins_or_ends_at_them() -> None:
    """The first leg lies within its edge; the third runs against its edge from 23 to 22."""
    passed = _inputs().passed
    assert (passed.node.tolist(), passed.at_m.tolist()) == ([23, 22], [3_000.0, 6_000.0])


@pytest.mark.parametrize(
    ("from_m", "to_m", "ridden"),
    [
        (0.0, 6_000.0, [True, True, False]), (0.0, 1_000.0, [True, False, False]),
        (0.0, 3_000.4, [True, False, False]), (0.0, 3_000.6, [True, True, False]),
        (999.4, 6_000.0, [True, True, False]), (999.6, 6_000.0, [False, True, False]),
    ],
)  # fmt: skip
def test_which_edges_are_ridden_between_two_positions(
    from_m: float, to_m: float, ridden: list[bool]
) -> None:
    edges = np.array([4, 5, 3], np.int32)
    assert _inputs().ridden(edges, from_m, to_m).tolist() == ridden


# -- there and back -------------------------------------------------------------------------------


def _passing(*nodes: int) -> Any:
    """A ride that passes nodes a kilometre apart, in a hundred seconds each by its rider."""
    at_m = np.arange(0.0, 1_000.0 * len(nodes), 1_000.0)
    passed = RiddenEdges(np.array(nodes, np.int32), at_m)
    # At the fields' pace it is half: "45 min less" stood beside 1 h 25 min of riding.
    ride = SimpleNamespace(time_s=lambda at_m: at_m / 10.0)
    return SimpleNamespace(passed=passed, ride=ride, spent_s=lambda a, b: (b - a) / 20.0)


@pytest.mark.parametrize(
    ("nodes", "part", "left"),
    [
        ((1, 2, 3, 4, 3, 2, 5), (3_000.0, 3_500.0), None),  # 2 km skipped for half a kilometre
        ((1, 2, 3, 4, 3, 2, 5), (2_500.0, 3_500.0), (2_000.0, 4_000.0)),
        ((1, 2, 3, 4, 3, 2, 5), (2_001.0, 3_999.0), (2_000.0, 4_000.0)),
        ((1, 2, 3, 4, 3, 2, 5), (1_500.0, 4_000.0), (1_000.0, 5_000.0)),  # all of the part
        ((1, 2, 3, 4, 5, 6, 7), (2_500.0, 3_500.0), None),  # never back
        ((1, 2, 3, 2, 4, 2, 5), (2_500.0, 2_900.0), None),
        ((1, 2, 3, 2, 4, 2, 5), (1_500.0, 2_500.0), (1_000.0, 3_000.0)),  # the nearest return
        ((2, 1, 2, 4, 2, 1, 5), (2_500.0, 3_500.0), (2_000.0, 4_000.0)),  # left at the last pass
    ],
)
def test_a_way_there_and_back_is_left_out_up_to_twice_the_part(
    nodes: tuple[int, ...], part: tuple[float, float], left: tuple[float, float] | None
) -> None:
    found = left_out(_passing(*nodes), part)
    assert (None if found is None else (found.from_m, found.to_m)) == left
    if found is not None and left is not None:
        skipped = left[1] - left[0]
        assert (found.added_m, found.added_s) == (-skipped, -skipped / 10.0)
        assert (found.around_from_m, found.around_to_m, found.length_m) == (*part, 0.0)
        assert "a way there and back" in spaced(found.words)


# -- the way less what it shares with the ride ----------------------------------------------------


def _trim(
    ridden: list[bool], nodes: list[int], at_m: list[float], ends: tuple[int, int],
    ahead: list[bool] | None = None,
) -> DetourPath | None:  # fmt: skip
    """A way over edges 0, 1, 2 .. from node 0 to 1, 1 to 2 and so on, 100 m and 10 s each."""
    n = len(ridden)
    roads = SimpleNamespace(
        edge_u=np.arange(n), edge_v=np.arange(1, n + 1), edge_length_m=np.full(n, 100.0)
    )
    if ahead is not None:
        u = np.where(ahead, roads.edge_u, roads.edge_v)
        roads.edge_u, roads.edge_v = u, np.where(ahead, np.arange(1, n + 1), np.arange(n))
    layout: Any = SimpleNamespace(
        passed=RiddenEdges(np.array(nodes, np.int32), np.array(at_m)), roads=roads,
        ridden=lambda edge, a, b: np.array(ridden)[edge],
        fields=SimpleNamespace(edge_time_s=np.full(n, 10.0, np.float32)),
    )  # fmt: skip
    graph = SimpleNamespace(edge=np.arange(n), forward=np.array(ahead or [True] * n))
    net: Any = SimpleNamespace(
        local=SimpleNamespace(edge=np.arange(n)), guided=SimpleNamespace(graph=graph)
    )
    return _trimmed(layout, net, np.arange(n, dtype=np.int32), ends)


@pytest.mark.parametrize("ahead", [None, [True, False, True, False, True]])
def test_a_way_begins_where_it_leaves_the_ride_and_ends_where_it_is_back(
    ahead: list[bool] | None,
) -> None:
    """The first edge and the last are the ride's own, and one in between."""
    found = _trim(
        [True, False, True, False, True],
        [0, 1, 4, 5],
        [0.0, 500.0, 2_500.0, 3_000.0],
        (0, 3),
        ahead,
    )
    assert found is not None
    assert found.edge.tolist() == [1, 2, 3]
    assert (found.from_m, found.to_m, found.time_s) == (500.0, 2_500.0, 30.0)
    assert found.added_m == 300.0 - 2_000.0


def test_no_way_is_the_ride_itself_nor_one_that_comes_back_before_it_left() -> None:
    nodes, at_m = [0, 1, 4, 5], [0.0, 500.0, 2_500.0, 3_000.0]
    assert _trim([True] * 5, nodes, at_m, (0, 3)) is None
    assert _trim([True, False, False, False, True], [0, 4, 1, 5], at_m, (0, 3)) is None
    # Left and met within what was asked for only.
    assert _trim([True, False, False, False, True], nodes, at_m, (0, 1)) is None
    # It is left where it is first passed, and met where it is last.
    found = _trim([False] * 5, [0, 0, 5, 5], at_m, (0, 3))
    assert found is not None and (found.from_m, found.to_m) == (0.0, 3_000.0)


# -- roads for road tyres -------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("p", "flags", "half", "any_"),
    [
        ((0.5, 0.1, 0.4), 0, True, True), ((0.49, 0.11, 0.4), 0, False, True),
        ((0.4, 0.1, 0.5), 0, False, False), ((0.0, 1.0, 0.0), 0, False, True),
        ((0.0, 0.0, 1.0), int(WayFlag.FERRY), True, True),
        ((1.0, 0.0, 0.0), int(WayFlag.FORD), False, False),
        ((1.0, 0.0, 0.0), int(WayFlag.FOUR_WD_ONLY), False, False),
    ],
)  # fmt: skip
def test_what_road_tyres_take(
    p: tuple[float, float, float], flags: int, half: bool, any_: bool
) -> None:
    """Believed paved by half, else what is no track; a minute on gravel counts four times."""
    ways = SimpleNamespace(flags=np.array([flags]))
    layout: Any = SimpleNamespace(
        roads=SimpleNamespace(edge_way=np.zeros(1, int), ways=ways), way_p=np.array([p])
    )
    local: Any = SimpleNamespace(
        edge=np.zeros(1, int), time_s=np.array([60.0]), usable=np.array([True])
    )
    for least, want in ((0.5, half), (0.0, any_)):
        usable, cost = _for_road_tyres(layout, local, least)
        assert usable.tolist() == [want]
        aversion = 1.0 if flags & WayFlag.FERRY else 1.0 + 3.0 * (1.0 - p[0])
        assert cost.tolist() == pytest.approx([60.0 * aversion])
    local.usable[:] = False
    assert not _for_road_tyres(layout, local, 0.0)[0].any()


def test_ways_tagged_horrible_or_worse_are_rough() -> None:
    values = ["horrible", "very_horrible", "impassable", "very_bad", "good", None]
    ways = SimpleNamespace(smoothness=category(values))
    layout: Any = SimpleNamespace(roads=SimpleNamespace(edge_way=np.arange(6), ways=ways))
    local: Any = SimpleNamespace(edge=np.arange(6))
    assert _flagged_rough(layout, local).tolist() == [True, True, True, False, False, False]


def test_between_which_positions_a_way_round_may_leave_and_come_back() -> None:
    layout: Any = SimpleNamespace(ride=SimpleNamespace(length_m=90.0))
    nets = _RoadNets(layout, [(10.0, 20.0), (30.0, 40.0), (60.0, 70.0)])
    assert [nets.room(i) for i in range(3)] == [(0.0, 30.0), (20.0, 60.0), (40.0, 90.0)]


# -- which way is taken ---------------------------------------------------------------------------


def _way(from_m: float, to_m: float, length_m: float) -> DetourPath:
    one = np.zeros(1, np.int32)
    return DetourPath(one, np.ones(1, bool), np.array([length_m]), 100.0, from_m, to_m)


def test_of_ways_from_nearer_and_farther_off_the_one_that_changes_least_is_taken(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """Round 50 to 51 km: from 3 km off 20 km long in place of 4, 23 changed; from 10 km off 9 km
    in place of 10, 18 changed; from 30 km off 30 in place of 50. None may pass 20 or 90 km."""
    asked = []
    found = {47: _way(48e3, 52e3, 20e3), 40: _way(45e3, 55e3, 9e3), 20: _way(25e3, 75e3, 30e3)}

    def ends(layout: Any, core: Any, low: float, high: float) -> tuple[int, int]:
        asked.append((low, high))
        return round(low / 1e3), round(high / 1e3)

    monkeypatch.setattr(module, "_window_ends", ends)
    monkeypatch.setattr(module, "_by_road", lambda nets, shut, core, ends: found.get(ends[0]))
    monkeypatch.setattr(module, "left_out", lambda *_: None)
    monkeypatch.setattr(module, "detour_of", lambda layout, way, kind, part: (way, kind, part))
    part = (50e3, 51e3)
    nets: Any = SimpleNamespace(parts=[part], room=lambda i: (20e3, 90e3), shut=lambda *_: None)
    layout: Any = SimpleNamespace(ride=SimpleNamespace(length_m=90e3))
    monkeypatch.setattr(module, "turned_round", lambda *_: None)
    way, kind, around = _round_part(layout, nets, 0, [part], ())  # type: ignore[misc]
    assert asked == [(47e3, 54e3), (40e3, 61e3), (20e3, 81e3)]
    assert (way, kind, around) == (found[40], DetourKind.ROAD, part)
    # It leaves out 1 km of the ride: to turn round before the part is better only if that leaves
    # out less, or if there is no way round.
    for skipped_m, turns in ((900.0, True), (1_100.0, False)):
        turn: Any = SimpleNamespace(added_m=-skipped_m)
        monkeypatch.setattr(module, "turned_round", lambda *_, turn=turn: turn)
        assert (_round_part(layout, nets, 0, [part], ()) is turn) is turns
    monkeypatch.setattr(module, "_by_road", lambda *_: None)
    for skipped_m, turns in ((67e3, True), (68e3, False)):
        turn = SimpleNamespace(added_m=-skipped_m)
        monkeypatch.setattr(module, "turned_round", lambda *_, turn=turn: turn)
        assert (_round_part(layout, nets, 0, [part], ()) is turn) is turns
    monkeypatch.setattr(module, "turned_round", lambda *_: None)
    # What takes more than three quarters of the ride is no way round (common practice, no source).
    for far_m, there in ((14e3, True), (13e3, False)):
        monkeypatch.setattr(module, "_by_road", lambda *_, far_m=far_m: _way(4e3, 85e3, far_m))
        assert (_round_part(layout, nets, 0, [part], ()) is not None) is there
    monkeypatch.setattr(module, "_by_road", lambda nets, shut, core, ends: found.get(ends[0]))
    # A remote part has to come nearer to help.
    monkeypatch.setattr(module, "_worst_of", lambda *_: (50.4e3, 50.6e3))
    monkeypatch.setattr(module, "_nearer_to_help", lambda layout, way, *_: way is found[20])
    assert _round_part(layout, nets, 0, [], ())[0] is found[20]  # type: ignore[index]
    monkeypatch.setattr(module, "_by_road", lambda *_: None)
    assert _round_part(layout, nets, 0, [part], ()) is None
    # What may be left out altogether is.
    monkeypatch.setattr(module, "left_out", lambda *_: "left out")
    skipped: Any = _round_part(layout, nets, 0, [part], ())
    assert skipped == "left out"


def test_dirt_is_looked_for_each_25_km_where_little_of_the_ride_is_dirt(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """110 km: windows of 30 km from 0, 25, 50, 75 and 100 km. In that from 25 km 6 are dirt, a
    fifth, and in that from 50 km 6.5; the best of what overlaps is taken."""
    asked = []
    found = {
        0.0: (2.0, _way(0.0, 20e3, 9e3)), 25e3: (3.0, _way(15e3, 40e3, 9e3)),
        75e3: (0.0, _way(75e3, 80e3, 9e3)), 100e3: (1.0, _way(100e3, 110e3, 9e3)),
    }  # fmt: skip

    def dirt_in(layout: Any, net: Any, window: tuple[float, float]) -> DetourPath | None:
        asked.append(window)
        return found[window[0]][1] if window[0] in found else None

    worth = {id(way): value for value, way in found.values()}
    monkeypatch.setattr(module, "_dirt_net", lambda layout: None)
    monkeypatch.setattr(module, "_dirt_in", dirt_in)
    monkeypatch.setattr(module, "_dirt_m_s", lambda layout, way: worth[id(way)])
    monkeypatch.setattr(module, "detour_of", lambda layout, way, kind, part: (way, kind, part))
    layout: Any = SimpleNamespace(ride=SimpleNamespace(length_m=110e3))
    runs: Any = (
        SimpleNamespace(from_m=51e3, to_m=57.5e3), SimpleNamespace(from_m=26e3, to_m=28e3),
    )  # fmt: skip
    chosen: Any = _dirt(layout, runs)
    assert asked == [(0.0, 30e3), (25e3, 55e3), (75e3, 105e3), (100e3, 110e3)]
    assert [(way.from_m, kind) for way, kind, _ in chosen] == [
        (15e3, DetourKind.DIRT), (100e3, DetourKind.DIRT),
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("part", "margin_m", "taken_m"),
    [
        ((0.0, 9_000.0), None, 5_000.0), ((0.0, 30_000.0), None, 15_000.0),
        ((0.0, 90_000.0), None, 30_000.0), ((0.0, 9_000.0), 7_000.0, 7_000.0),
    ],
)  # fmt: skip
def test_roads_are_looked_for_half_as_far_off_as_the_part_is_long(
    part: tuple[float, float], margin_m: float | None, taken_m: float,
    monkeypatch: pytest.MonkeyPatch,
) -> None:  # fmt: skip
    """5 km at least and 30 at most (common practice, no source); the line each 250 m."""
    asked = []
    monkeypatch.setattr(
        "terrain.stages.detours.layout.edges_near", lambda roads, *line: asked.append(line)
    )
    inputs = _inputs()
    inputs.ride.match.lonlat = lambda at: (at, at)  # type: ignore[method-assign,assignment]
    inputs.near(*part, margin_m)
    ((lon, _, taken),) = asked
    assert taken == taken_m
    assert lon.tolist() == [*np.arange(part[0], part[1], 250.0), part[1]]
