"""Ways out in words and where one decides, a case on each side of each limit, by hand."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from terrain.stages.exits.find import _last_decision, _turn_back_until, first_longest
from terrain.stages.exits.leaving import first_piece, nodes_on_run, on_edges, ride_line
from terrain.stages.exits.runs import OffRoadRun, off_road_steps, stretches_between
from terrain.stages.exits.sides import _best_side, _Clear, side_exits
from terrain.stages.exits.words import exit_words
from terrain.text.message import spaced
from terrain.values.exits import Exit, ExitMode, ExitPoint, WayOut

_RUN = OffRoadRun(first=1, last=5, from_m=2_000.0, to_m=10_000.0)


def _point(at_m: float | None, name: str | None = None) -> ExitPoint:
    return ExitPoint(lon=0.0, lat=0.0, at_m=at_m, name=name)


def _way(
    at_m: float, time_s: float = 1_200.0, out: ExitMode = ExitMode.BACK, **more: Any
) -> WayOut:
    usual: dict[str, Any] = {
        "length_m": 5_000.0, "to": _point(None, "B 7"), "leave_at_m": None, "restricted_m": 0.0,
        "lon": np.zeros(0), "lat": np.zeros(0),
    }  # fmt: skip
    return WayOut(at_m=at_m, time_s=time_s, out=out, **{**usual, **more})


def _exit(**more: Any) -> Exit:
    usual: dict[str, Any] = {
        "from_m": 2_000.0, "to_m": 10_000.0, "ride_s": 2_400.0, "worst": _way(6_000.0),
        "unknown_m": 0.0, "sides": (), "last_decision": _point(2_000.0), "commit_m": 8_000.0,
        "commit_s": 2_400.0, "turn_back_until_m": 6_000.0, "van_before": None, "van_after": None,
        "van_worst": None, "van_worst_s": None, "van_passes": False, "van_gaps": (), "words": "",
    }  # fmt: skip
    return Exit(**{**usual, **more})


def _words(**more: Any) -> str:
    return spaced(exit_words(_exit(**more)).words)


def test_what_is_told_of_a_way_out() -> None:
    text = _words()
    assert "Worst at km 6: 20 min, 5 km to B 7, " in text
    assert "No side way out to paved road is mapped: ride on or turn back." in text
    assert "Decide at km 2: the next 8 km (40 min) have no other way out." in text
    assert "Turning back is quicker until km 6." in text
    assert "Turning back" not in _words(turn_back_until_m=None)
    assert "to paved road, " in _words(worst=_way(6_000.0, to=_point(None)))
    assert "No way out to a paved road is known" in _words(worst=None)


@pytest.mark.parametrize(("time_s", "unknown_m", "short"), [(300.0, 0.0, True), (301.0, 0.0, False),
                                                            (300.0, 1.0, False)])  # fmt: skip
def test_out_within_five_minutes_there_is_nothing_to_decide(
    time_s: float, unknown_m: float, short: bool
) -> None:
    """Common practice, no source."""
    text = _words(worst=_way(6_000.0, time_s), unknown_m=unknown_m)
    assert ("Decide at" not in text) == ("side way" not in text) == short
    assert "Worst at km 6" in text and "van" in text


def test_side_ways_are_counted_and_the_last_one_told() -> None:
    assert "One side way out, at km 3." in _words(sides=(_way(3_000.0),))
    two = _words(sides=(_way(3_000.0), _way(7_000.0)))
    assert "2 side ways out, the last at km 7." in two


@pytest.mark.parametrize(
    ("van", "words"),
    [
        ({"van_passes": True}, "A van can probably follow."),
        ({}, "No point of the ride near it is known to be in reach of a van."),
        ({"van_before": _point(1_500.0)}, "A van can meet before it at km 1.5."),
        ({"van_after": _point(11_000.0)}, "A van can meet after it at km 11."),
        (
            {"van_before": _point(1_500.0), "van_after": _point(11_000.0)},
            "A van can meet before it at km 1.5 and after it at km 11.",
        ),
        # Less than a kilometre apart they are one place.
        ({"van_before": _point(5_000.0), "van_after": _point(5_999.0)}, "A van can meet at km 5."),
        (
            {"van_before": _point(5_000.0), "van_after": _point(6_000.0)},
            "A van cannot follow from km 5 to km 6; on the rest it probably can.",
        ),
        # More than a kilometre of the run lies before or after what is barred.
        (
            {"van_before": _point(3_000.0), "van_after": _point(9_000.0)},
            "A van can meet before it at km 3 and after it at km 9.",
        ),
        (
            {"van_before": _point(3_001.0), "van_after": _point(9_000.0)},
            "A van cannot follow from km 3 to km 9; on the rest it probably can.",
        ),
        (
            {"van_before": _point(3_000.0), "van_after": _point(8_999.0)},
            "A van cannot follow from km 3 to km 9; on the rest it probably can.",
        ),
        (
            {"van_before": _point(3_000.0), "van_after": _point(9_000.0),
             "van_gaps": ((3_000.0, 4_000.0), (7_000.0, 9_000.0))},
            "A van cannot follow on 3 km of it, in 2 parts between km 3 and km 9; in between it",
        ),
        (
            {"van_before": _point(3_000.0), "van_after": _point(9_000.0),
             "van_gaps": ((3_000.0, 9_000.0),)},
            "A van can meet before it at km 3 and after it at km 9.",
        ),
    ],
)  # fmt: skip
def test_where_a_van_meets(van: dict[str, Any], words: str) -> None:
    assert words in _words(**van)


def _ride(names: dict[float, str] | None = None) -> Any:
    """A ride at 10 m/s to 5 km and at 5 m/s from there on."""

    def time_s(at: Any) -> np.ndarray:
        at = np.asarray(at, float)
        return np.asarray(np.where(at <= 5_000.0, at / 10.0, 500.0 + (at - 5_000.0) / 5.0))

    def at_time(t: Any) -> np.ndarray:
        t = np.asarray(t, float)
        return np.asarray(np.where(t <= 500.0, 10.0 * t, 5.0 * t + 2_500.0))

    return SimpleNamespace(
        time_s=time_s, lonlat=lambda at: (at, -at), road_name=lambda at: (names or {}).get(at),
        at_time=at_time,
    )  # fmt: skip


def test_one_decides_before_the_part_that_takes_longest() -> None:
    """Sides at 4 and 7 km: 200, 100 + 400 and 600 s; without the last 200 and 1,100 s."""
    spot, metres, seconds = _last_decision(_ride({7_000.0: "Mid"}), _RUN, (_way(4e3), _way(7e3)))
    assert (spot.at_m, metres, seconds, spot.name) == (7_000.0, 3_000.0, 600.0, "Mid")
    spot, metres, seconds = _last_decision(_ride(), _RUN, (_way(4e3),))
    assert (spot.at_m, metres, seconds) == (4_000.0, 6_000.0, 1_100.0)
    # At its start it is called by the paved road before it.
    spot, _, _ = _last_decision(_ride({1_999.0: "Before", 2_000.0: "Track"}), _RUN, ())
    assert (spot.at_m, spot.name) == (2_000.0, "Before")


def _samples(n: int = 7, **more: Any) -> Any:
    """Samples each 2 km; the third leg's edge is 4."""
    at = np.arange(n) * 2_000.0 - 0.0
    usual = {
        "at_m": at, "edge": np.arange(n), "edge_at_m": np.zeros(n), "ride_s": at / 10.0,
        "can_turn": np.ones(n - 1, bool), "step_m": np.diff(at), "on_land": np.ones(n, bool),
    }  # fmt: skip
    return SimpleNamespace(**{**usual, **more})


def test_turning_back_is_quicker_to_the_middle_of_its_time() -> None:
    """From 200 to 1,000 s of riding: 600 s, at 5.5 km."""
    fields: Any = SimpleNamespace(edge_paved=np.array([True, *[False] * 5, True]))
    assert _turn_back_until(_ride(), _samples(), _RUN, fields) == 5_500.0
    turns = np.ones(6, bool)
    turns[3] = False
    assert _turn_back_until(_ride(), _samples(can_turn=turns), _RUN, fields) is None
    turns[3], turns[0], turns[5] = True, False, False  # outside the run
    assert _turn_back_until(_ride(), _samples(can_turn=turns), _RUN, fields) == 5_500.0
    for i in (0, 6):
        fields.edge_paved[i] = False
        assert _turn_back_until(_ride(), _samples(), _RUN, fields) is None
        fields.edge_paved[i] = True
    # Where the ride begins or ends off tarmac there is none to turn back to.
    first = OffRoadRun(first=0, last=5, from_m=0.0, to_m=10_000.0)
    last = OffRoadRun(first=1, last=6, from_m=2_000.0, to_m=12_000.0)
    assert _turn_back_until(_ride(), _samples(), first, fields) is None
    assert _turn_back_until(_ride(), _samples(), last, fields) is None


def _roads(length_m: float = 2_000.0, n: int = 7) -> Any:
    """Edges 0, 1, 2 and so on from node 0 to 1, 1 to 2 and so on."""
    return SimpleNamespace(
        edge_u=np.arange(n), edge_v=np.arange(1, n + 1), edge_length_m=np.full(n, length_m)
    )


def test_nodes_that_a_run_passes_with_where() -> None:
    at = np.array([5.0, 0.0, 1_999.9995, 700.0, 2_000.0, 1e-3, 0.0])
    edge = np.array([0, 1, 2, 3, -1, 5, 0])
    found = nodes_on_run(_roads(), _samples(edge=edge, edge_at_m=at), _RUN)
    # Samples 1 to 5: at the start of 1, at the end of 2, in the middle of 3, off the map, at 5.
    assert found == {1: [2_000.0], 3: [4_000.0], 5: [10_000.0]}
    twice = np.array([0, 1, 0, 0, 0, 0, 0])
    at = np.array([0.0, 0.0, 2_000.0, 9.0, 9.0, 9.0, 0.0])
    found = nodes_on_run(_roads(), _samples(edge=twice, edge_at_m=at), _RUN)
    assert found == {1: [2_000.0, 4_000.0]}


def test_the_first_piece_leads_to_the_node_and_round_a_loop_the_nearer_way() -> None:
    samples = _samples(edge=np.full(7, 1), edge_at_m=np.array([0.0, 300.0, 1_200.0, *[0.0] * 4]))
    roads = _roads()
    (ahead,) = first_piece(roads, samples, 1, 2)
    (back,) = first_piece(roads, samples, 1, 1)
    assert (ahead.edge, ahead.from_m, ahead.to_m) == (1, 300.0, 2_000.0)
    assert (back.from_m, back.to_m) == (300.0, 0.0)
    roads.edge_u[1] = 2
    assert first_piece(roads, samples, 1, 2)[0].to_m == 0.0
    assert first_piece(roads, samples, 2, 2)[0].to_m == 2_000.0


def test_a_line_along_the_ride_runs_as_it_is_ridden() -> None:
    line = SimpleNamespace(
        at_m=np.array([0.0, 100.0, 200.0, 300.0]), lonlat=lambda at: (at, -np.asarray(at))
    )
    ride: Any = SimpleNamespace(match=line)
    assert ride_line(ride, 50.0, 200.0)[0].tolist() == [50.0, 100.0, 200.0]
    assert ride_line(ride, 250.0, 100.0)[0].tolist() == [250.0, 200.0, 100.0]
    assert len(ride_line(ride, 70.0, 70.0)[0]) == 0


def test_samples_on_edges() -> None:
    samples = _samples(edge=np.array([0, 1, -1, 1, 0, 0, 1]))
    on = on_edges(samples, np.array([True, False]))
    assert on.tolist() == [True, False, False, False, True, True, False]


def test_steps_off_the_paved_network() -> None:
    """By the edge a step leads to: a note that says unpaved wins, a ferry is never off."""
    ride: Any = SimpleNamespace(ground_at=lambda at: np.where(np.asarray(at) > 8_999.0, 1, 0))
    samples = _samples(edge=np.array([0, 0, 1, 1, -1, 0, 0]))
    paved = np.array([True, False])
    assert off_road_steps(ride, samples, paved).tolist() == [False, True, True, True, True, True]
    land = np.array([True, True, False, True, True, True, True])
    off = off_road_steps(ride, _samples(edge=samples.edge, on_land=land), paved)
    assert off.tolist() == [False, False, False, True, True, True]
    still = np.array([0.0, 2e3, 0.0, 2e3, 2e3, 2e3])
    off = off_road_steps(ride, _samples(edge=samples.edge, step_m=still), paved)
    assert off.tolist() == [False, True, False, True, True, True]


def test_stretches_that_reach_into_a_part() -> None:
    ride: Any = SimpleNamespace(
        from_m=np.array([0.0, 100.0, 200.0]), to_m=np.array([100.0, 200.0, 300.0])
    )
    for part, want in (
        ((100.0, 200.0), [1]), ((99.0, 201.0), [0, 1, 2]), ((150.0, 160.0), [1]),
        ((0.0, 100.0), [0]), ((200.0, 300.0), [2]),
    ):  # fmt: skip
        assert list(range(3))[stretches_between(ride, *part)] == want


def test_a_way_out_is_clear_of_the_run_or_not_at_all() -> None:
    """1 leads by 2 to 3, where it ends; 4 leads by 5 back to the run's 6."""
    clear = _Clear(np.array([-1, 2, 3, -1, 5, 6, 7, -1], np.int32), {6})
    assert [clear(node) for node in (1, 2, 3, 4, 5, 6, 7)] == [
        True, True, True, False, False, False, True,
    ]  # fmt: skip
    assert clear(4) is False  # remembered


def test_the_quickest_side_way_out_of_a_junction(monkeypatch: pytest.MonkeyPatch) -> None:
    """Edges 0 to 4 lead to nodes 10 to 14: ridden, shut in, not known, slow and quick."""
    arcs = [(edge, 10 + edge) for edge in range(5)]
    monkeypatch.setattr("terrain.stages.exits.sides.arcs_out", lambda *_: arcs)
    times = np.zeros(20)
    times[10:15] = [1.0, 2.0, np.nan, 50.0, 40.0]
    fields: Any = SimpleNamespace(
        edge_emergency=None, edge_emergency_s=np.array([1.0, 1.0, 1.0, 9.0, 9.0]),
        to_paved=SimpleNamespace(time_s=times),
    )  # fmt: skip
    roads: Any = None
    clear: Any = lambda node: node != 11  # noqa: E731
    assert _best_side(roads, fields, 7, {0}, clear) == (49.0, 14)
    assert _best_side(roads, fields, 7, {0, 3, 4}, clear) is None


@pytest.mark.parametrize(("time_s", "kept"), [(1_200.0, True), (1_201.0, False)])
def test_a_side_way_that_takes_twice_the_longer_way_along_is_none(
    time_s: float, kept: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    """At 4 km, 400 s: 200 s from the start of the run and 600 s from its end."""
    module = "terrain.stages.exits.sides"
    monkeypatch.setattr(f"{module}.nodes_on_run", lambda *_: {1: [4_000.0, 8_000.0], 2: [2_000.0]})
    monkeypatch.setattr(f"{module}._best_side", lambda *_: (time_s, 9))
    monkeypatch.setattr(f"{module}._draw", lambda *args: _way(args[3], args[6]))
    ride: Any = SimpleNamespace(time_s=lambda at: np.asarray(at) / 10.0)
    fields: Any = SimpleNamespace(to_paved=SimpleNamespace(next_node=np.full(9, -1)))
    roads: Any = None
    found = side_exits(ride, roads, fields, _samples(), _RUN)
    assert [way.at_m for way in found] == [4_000.0] * kept


@pytest.mark.parametrize(
    ("time_s", "at"),
    [
        ([10.0, 300.0, 300.0 + 1e-9, 20.0], 1),  # there and back: rounding picked the way back
        ([10.0, 299.1, 300.0], 1), ([10.0, 298.9, 300.0], 2), ([np.nan, 7.0, np.nan], 1),
    ],
)  # fmt: skip
def test_of_ways_as_long_the_first_on_the_ride_is_told(time_s: list[float], at: int) -> None:
    assert first_longest(np.array(time_s)) == at
