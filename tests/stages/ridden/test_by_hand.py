"""A ride against its plan and what is told of it, a case on each side of each limit, by hand."""

from __future__ import annotations

from datetime import UTC, datetime
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from terrain.errors import TrackError
from terrain.stages.ridden import judge as module
from terrain.stages.ridden.clock import broken_between, clock_at
from terrain.stages.ridden.compare import (
    Samples,
    _inside,
    _leavings,
    _merged,
    _runs,
    _samples,
    _ways,
    plan_places,
)
from terrain.stages.ridden.judge import (
    _anchors,
    _band,
    _by_kind,
    _far_gaps,
    _far_s,
    _mostly_in,
    _plan,
    _problems,
    _stood,
    _stops,
    _trimmed,
)
from terrain.values.ground import GroundKind
from terrain.values.ridden import Leaving
from tests.stages.tinymap import EAST_M, NORTH_M

KEPT = (1_500.0, 8_500.0)


def _line(*, at_m: list[float], step_m: float = 10.0, y_m: float = 0.0) -> Samples:
    at = np.array(at_m)
    n = len(at)
    return Samples(
        at_m=at, x_m=at.copy(), y_m=np.full(n, y_m), leg=np.zeros(n, np.int64),
        edge=np.zeros(n, np.int32), edge_at_m=at.copy(), step_m=step_m,
    )  # fmt: skip


# -- compare --------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("marked", "runs"),
    [
        (range(3, 9), [[30.0, 90.0]]), (range(3, 8), []),  # 60 m at least
        ([*range(6), *range(9, 12)], [[0.0, 120.0]]),  # 30 m apart
        ([*range(6), *range(10, 16)], [[0.0, 60.0], [100.0, 160.0]]),  # 40 m
        (range(14, 20), [[140.0, 200.0]]), ([], []),
    ],
)  # fmt: skip
def test_runs_off_the_plan_are_60_m_and_40_m_apart(marked: Any, runs: list[list[float]]) -> None:
    """Common practice, no source; places in the middle of 10 m each."""
    mask = np.isin(np.arange(20), list(marked))
    line = _line(at_m=(np.arange(20) * 10.0 + 5.0).tolist())
    assert _runs(mask, line).tolist() == runs
    assert _inside(line.at_m, np.array(runs).reshape(-1, 2)).sum() == (
        0 if not runs else sum(b - a for a, b in runs) / 10
    )


def test_places_lie_in_the_middle_of_equal_steps_with_their_place_on_the_edge() -> None:
    """95 m in nine steps: the first leg with its edge, the second against it from 400 m down."""
    match: Any = SimpleNamespace(
        length_m=95.0, from_m=np.array([0.0, 38.0]), to_m=np.array([38.0, 95.0]),
        edge=np.array([4, 7], np.int32), edge_from_m=np.array([100.0, 400.0]),
        edge_to_m=np.array([138.0, 343.0]), at_m=np.array([0.0, 95.0]),
        lon=np.array([0.0, 95.0]) / EAST_M, lat=np.array([0.0, 190.0]) / NORTH_M,
    )  # fmt: skip
    got = _samples(match, (0.0, 0.0))
    step = 95.0 / 9
    at = (np.arange(9) + 0.5) * step
    assert got.step_m == pytest.approx(step) and got.at_m == pytest.approx(at)
    assert got.x_m == pytest.approx(at, rel=1e-3) and got.y_m == pytest.approx(2 * at, rel=1e-3)
    first = at < 38.0
    assert got.edge.tolist() == np.where(first, 4, 7).tolist()
    assert got.edge_at_m == pytest.approx(np.where(first, 100.0 + at, 400.0 - (at - 38.0)))
    match.length_m = 4.0
    assert len(_samples(match, (0.0, 0.0)).at_m) == 1


def test_of_two_passages_the_one_next_to_the_last_place_counts() -> None:
    """The plan goes out 100 m and comes back: places 0 to 100 and 100 to 200 m along."""
    out = np.arange(5.0, 100.0, 10.0)
    plan = _line(at_m=np.arange(5.0, 200.0, 10.0).tolist())
    plan.x_m[10:] = out[::-1]
    x = np.r_[out, out[::-1]]
    got = plan_places(x, np.zeros(20), plan, 30.0)
    want = plan.at_m.tolist()
    want[10] = 95.0  # where it turns, the place before stands
    assert got.tolist() == want
    # Far off there is none, and the place before stands.
    away = plan_places(np.array([5.0, 500.0, 15.0]), np.zeros(3), plan, 30.0)
    assert away.tolist()[::2] == [5.0, 15.0] and np.isnan(away[1])


def _left(from_m: float, to_m: float, plan_from_m: float, plan_to_m: float) -> Leaving:
    return Leaving(
        from_m=from_m, to_m=to_m, plan_from_m=plan_from_m, plan_to_m=plan_to_m,
        ways=((round(from_m), 1.0),),
    )  # fmt: skip


@pytest.mark.parametrize(("start_m", "n"), [(498.0, 1), (499.0, 2), (600.0, 2)])
def test_leavings_of_one_part_of_the_plan_are_one(start_m: float, n: int) -> None:
    """They overlap by more than a metre."""
    found = _merged([_left(0.0, 300.0, 100.0, 500.0), _left(350.0, 400.0, start_m, 700.0)])
    assert len(found) == n
    if n == 1:
        assert found[0] == Leaving(
            from_m=0.0, to_m=400.0, plan_from_m=100.0, plan_to_m=700.0, ways=((0, 1.0), (350, 1.0))
        )
    inside = _merged([_left(0.0, 300.0, 100.0, 500.0), _left(200.0, 250.0, 90.0, 400.0)])
    assert (inside[0].to_m, inside[0].plan_from_m, inside[0].plan_to_m) == (300.0, 90.0, 500.0)


def test_ways_of_a_part_with_the_metres_on_each() -> None:
    match: Any = SimpleNamespace(
        from_m=np.array([0.0, 100.0, 250.0, 300.0]), to_m=np.array([100.0, 250.0, 300.0, 900.0]),
        way_id=np.array([5, 5, -1, 5]),
    )  # fmt: skip
    assert _ways(match, 40.0, 310.0) == ((5, 220.0),)
    match.way_id = np.array([5, 6, -1, 5])
    assert _ways(match, 40.0, 310.0) == ((5, 60.0), (6, 150.0), (5, 10.0))
    assert _ways(match, 250.0, 300.0) == ()


def test_where_a_ride_left_its_plan_and_what_it_missed() -> None:
    """On plan to 400 m and from 600 m on, which is 900 m of the plan; 1,000 to 1,100 m of the plan
    are missed elsewhere, at 700 m of the ride."""
    match: Any = SimpleNamespace(
        from_m=np.array([0.0]), to_m=np.array([2_000.0]), way_id=np.array([5])
    )
    there = _line(at_m=[5.0, 1_995.0])
    ride_at = np.array([0.0, 400.0, 600.0, 700.0, 800.0])
    plan_at = np.array([0.0, 400.0, 900.0, 1_000.0, 1_100.0])
    off, missed = np.array([[405.0, 595.0]]), np.array([[410.0, 890.0], [1_000.0, 1_095.0]])
    first, second = _leavings(match, there, ride_at, plan_at, off, missed)
    assert (first.from_m, first.to_m, first.plan_from_m, first.plan_to_m) == (405, 595, 400, 900)
    assert first.ways == ((5, 190.0),)
    assert (second.from_m, second.to_m) == (700.0, 700.0)
    assert (second.plan_from_m, second.plan_to_m, second.ways) == (1_000.0, 1_095.0, ())
    # Off from the start, and to the end of the plan.
    ends = np.array([[0.0, 100.0], [900.0, 990.0]])
    a, b = _leavings(match, there, ride_at[1:], plan_at[1:], ends, np.zeros((0, 2)))
    assert (a.plan_from_m, a.plan_to_m) == (0.0, 400.0)
    assert (b.plan_from_m, b.plan_to_m) == (1_100.0, 1_995.0)
    nothing = np.zeros(0)
    assert _leavings(match, there, nothing, nothing, off, missed) == ()


# -- what is told ---------------------------------------------------------------------------------


def _times(at_m: list[float], **more: Any) -> Any:
    n = len(at_m)
    zero = np.zeros(n)
    usual = {
        "arrive_s": np.arange(n) * 100.0,
        "stood_s": zero,
        "broken": zero > 0,
    }
    told = {**usual, **{k: np.array(v) for k, v in more.items()}}
    told.setdefault("leave_s", told["arrive_s"] + told["stood_s"])
    return SimpleNamespace(at_m=np.array(at_m), **told)


def test_the_band_of_riding_time_by_hand() -> None:
    """Draws 50 s about their mean, a quarter wider: 62.5; 0.007 of 1,000 s = 7; of a normal
    distribution 1.645 of the root of 3,906.25 + 49."""
    wide = 1.645 * np.sqrt(3_906.25 + 49)
    drawn_s = np.array([950.0, 1_050.0])
    assert _band(drawn_s, 1_000.0) == pytest.approx((1_000 - wide, 1_000 + wide))
    assert _band(drawn_s, 10.0)[0] == 0.0


def test_standing_at_the_trimmed_ends_does_not_count() -> None:
    stood = _times([1_500.0, 2_000.0, 3_000.0, 8_500.0], stood_s=[9.0, 3.0, 4.0, 9.0])
    assert _stood(stood, KEPT) == 7.0


@pytest.mark.parametrize(
    ("low", "high", "mostly"),
    [
        (0.0, 100.0, False), (50.0, 150.0, False), (49.0, 149.0, False), (51.0, 151.0, True),
        (100.0, 200.0, True), (150.0, 351.0, True), (150.0, 350.0, False), (250.0, 450.0, False),
        (400.0, 600.0, False), (90.0, 410.0, True),
    ],
)  # fmt: skip
def test_more_than_half_of_a_part_lies_in_spans(low: float, high: float, mostly: bool) -> None:
    """Spans of 100 to 200 and 300 to 400 m; of 150 to 351 m 50 + 51 of 201 lie in them."""
    spans = np.array([[100.0, 200.0], [300.0, 400.0]])
    inside = sum(max(min(high, b) - max(low, a), 0.0) for a, b in spans.tolist())
    assert (inside > 0.5 * (high - low)) == mostly  # the table itself
    assert _mostly_in(np.array([low]), np.array([high]), spans).tolist() == [mostly]
    assert _mostly_in(np.array([low]), np.array([high]), np.zeros((0, 2))).tolist() == [False]


def test_fixes_more_than_400_m_apart_do_not_show_the_way() -> None:
    """Common practice, no source."""
    gaps = _far_gaps(_times([0.0, 400.0, 801.0, 900.0]))
    assert gaps.tolist() == [[400.0, 801.0]]


@pytest.mark.parametrize(
    ("at_m", "arrive_s", "stood_s", "stops"),
    [
        ([2_000.0], [0.0], [180.0], [180.0]), ([2_000.0], [0.0], [179.0], []),
        ([2_000.0, 2_060.0], [0.0, 220.0], [100.0, 80.0], [180.0]),  # 60 m and 120 s apart
        ([2_000.0, 2_061.0], [0.0, 220.0], [100.0, 80.0], []),
        ([2_000.0, 2_060.0], [0.0, 221.0], [100.0, 80.0], []),
        ([2_000.0, 2_010.0], [0.0, 200.0], [180.0, 19.0], [180.0]),  # a pause, no rest
        ([2_000.0, 2_010.0], [0.0, 200.0], [180.0, 20.0], [200.0]),
        ([1_500.0], [0.0], [900.0], []), ([8_500.0], [0.0], [900.0], []),  # what is trimmed
    ],
)  # fmt: skip
def test_stops_are_three_minutes_in_one_place(
    at_m: list[float], arrive_s: list[float], stood_s: list[float], stops: list[float],
    monkeypatch: pytest.MonkeyPatch,
) -> None:  # fmt: skip
    """Common practice, no source."""
    monkeypatch.setattr(module, "_local", lambda inputs, at, s: datetime.fromtimestamp(s, tz=UTC))
    match = SimpleNamespace(at_m=np.array([0.0, 1e4]), lon=np.array([0.0, 1.0]), lat=np.zeros(2))
    inputs: Any = SimpleNamespace(match=match)
    found = _stops(inputs, _times(at_m, arrive_s=arrive_s, stood_s=stood_s), KEPT)
    assert [stop.standing_s for stop in found] == stops
    for stop in found:
        assert stop.at_m == 500.0 and stop.lon == pytest.approx(0.2)
        assert stop.from_time.endswith("00:00:00+00:00")
        stayed = datetime.fromisoformat(stop.to_time) - datetime.fromisoformat(stop.from_time)
        assert stayed.total_seconds() >= stop.standing_s


def test_time_far_from_help_is_the_longest_on_one_part() -> None:
    """A second for ten metres; what is trimmed at either end does not count."""
    times = _times([0.0, 10_000.0], arrive_s=[0.0, 1_000.0])
    spans = np.array([[0.0, 2_500.0], [3_000.0, 5_000.0], [8_000.0, 9_900.0]])
    assert _far_s(spans, times, KEPT) == pytest.approx(200.0)
    assert _far_s(spans[:1], times, KEPT) == pytest.approx(100.0)
    assert _far_s(np.array([[0.0, 1_500.0]]), times, KEPT) == 0.0
    assert _far_s(None, times, KEPT) is None


def _part(moving_s: float | None, **more: Any) -> Any:
    usual = {"ground": GroundKind.TRACK, "severity": 3, "grade_pct": 2.0, "length_m": 10.0,
             "expected_s": 1.0}  # fmt: skip
    return SimpleNamespace(moving_s=moving_s, **{**usual, **more})


def test_times_by_ground_severity_and_grade() -> None:
    """Under 4 %, to 8 % and over, up or down; nothing where it is not known, nor of ferries."""
    parts = [
        _part(1.0),
        _part(2.0, grade_pct=-3.9),
        _part(4.0, grade_pct=4.0),
        _part(8.0, grade_pct=-8.0),
        _part(16.0, grade_pct=None, severity=None),
        _part(None),
        _part(32.0, ground=GroundKind.FERRY),
    ]
    told = {(row.by, row.what): (row.moving_s, row.length_m) for row in _by_kind(tuple(parts))}
    assert told == {
        ("ground", "ferry"): (32.0, 10.0), ("ground", "track"): (31.0, 50.0),
        ("severity", "3"): (15.0, 40.0), ("grade", "under 4 %"): (3.0, 20.0),
        ("grade", "4 to 8 %"): (4.0, 10.0), ("grade", "over 8 %"): (8.0, 10.0),
    }  # fmt: skip


def _inputs(**more: Any) -> Any:
    nothing = np.zeros((0, 2))
    plan = SimpleNamespace(
        common_m=5_000.0, off=nothing, missed=nothing, leavings=(), ride_at_m=np.zeros(0),
        plan_at_m=np.zeros(0),
    )  # fmt: skip
    for key in ("common_m", "off", "missed", "leavings"):
        if key in more:
            setattr(plan, key, more.pop(key))
    usual = {
        "match": SimpleNamespace(length_m=10_000.0, unmapped_m=0.0), "plan": plan,
        "plan_length_m": 20_000.0, "plan_s": 1.0, "plan_name": "p", "problems": (),
        "plan_stretches": (), "source": "s",
    }  # fmt: skip
    return SimpleNamespace(**{**usual, **more})


@pytest.mark.parametrize(
    ("unmapped_m", "common_m", "codes"),
    [
        (2_000.0, 6_000.0, []), (2_001.0, 6_000.0, ["off-the-map"]),
        (0.0, 5_999.0, ["little-of-the-plan"]),
        (2_001.0, 5_999.0, ["off-the-map", "little-of-the-plan"]),
    ],
)  # fmt: skip
def test_a_fifth_off_the_map_and_three_tenths_of_the_plan(
    unmapped_m: float, common_m: float, codes: list[str]
) -> None:
    """Common practice, no source."""
    match = SimpleNamespace(length_m=10_000.0, unmapped_m=unmapped_m)
    inputs = _inputs(match=match, common_m=common_m)
    assert [problem.code for problem in _problems(inputs)] == codes
    inputs.plan = None
    assert "little-of-the-plan" not in [problem.code for problem in _problems(inputs)]


def test_a_plan_with_a_fiftieth_in_common_is_another_trip() -> None:
    """Of the shorter of both, 10 km."""
    followed = _plan(_inputs(common_m=200.0), KEPT)
    assert followed is not None and followed.off_plan_m == 0.0
    with pytest.raises(TrackError, match="next to nothing"):
        _plan(_inputs(common_m=199.0), KEPT)
    with pytest.raises(TrackError):
        _plan(_inputs(common_m=199.0, plan_length_m=10_000.0), KEPT)
    assert _plan(_inputs(plan=None), KEPT) is None


def test_what_was_off_plan_and_missed_is_summed() -> None:
    """Off from 1,000 to 2,000 (half of it trimmed), 3,000 to 3,300 and past the end; the plan
    misses 400 and 100 m."""
    followed = _plan(
        _inputs(
            off=np.array([[1_000.0, 2_000.0], [3_000.0, 3_300.0], [9_000.0, 9_900.0]]),
            missed=np.array([[0.0, 400.0], [500.0, 600.0]]),
            leavings=(
                _left(0.0, 1_400.0, 0.0, 9.0), _left(1_000.0, 2_000.0, 0.0, 9.0),
                _left(8_400.0, 9_000.0, 0.0, 9.0), _left(8_600.0, 9_000.0, 0.0, 9.0),
            ),
        ),
        KEPT,
    )  # fmt: skip
    assert followed is not None
    assert (followed.off_plan_m, followed.missed_m) == (800.0, 500.0)
    assert [(item.from_m, item.to_m) for item in followed.leavings] == [
        (0.0, 500.0), (6_900.0, 7_000.0),
    ]  # fmt: skip
    assert _trimmed(_left(2_000.0, 3_000.0, 1.0, 9.0), KEPT).from_m == 500.0


def test_some_places_on_both_with_the_first_and_the_last() -> None:
    at = np.arange(0.0, 10_000.0, 10.0)
    compared: Any = SimpleNamespace(ride_at_m=at, plan_at_m=2 * at)
    found = _anchors(compared, KEPT)
    assert len(found) == 400
    assert found[0] == (0.0, 3_000.0) and found[-1] == (7_000.0, 17_000.0)
    nothing: Any = SimpleNamespace(ride_at_m=at[:50], plan_at_m=at[:50])
    assert _anchors(nothing, KEPT) == ()


# -- the clock ------------------------------------------------------------------------------------


def test_a_rest_is_passed_when_it_is_left_and_what_lies_before_it_earlier() -> None:
    """At 0 s, a rest from 100 to 400 s at 1 km, at 2 km at 500 s."""
    times = _times([0.0, 1_000.0, 2_000.0], arrive_s=[0.0, 100.0, 500.0], stood_s=[0.0, 300.0, 0.0])
    got = clock_at(times, np.array([500.0, 999.0, 1_000.0, 1_500.0]))
    assert got.tolist() == pytest.approx([50.0, 99.9, 400.0, 450.0])


@pytest.mark.parametrize(("to_m", "broken"), [(1_500.0, True), (2_500.0, False), (2_490.0, True)])
def test_a_part_of_which_more_than_a_fifth_is_broken_is_not_known(
    to_m: float, broken: bool
) -> None:
    """The record breaks between 1,000 and 1,500 m; the parts begin at 0."""
    times = _times([0.0, 1_000.0, 1_500.0, 9_000.0], broken=[False, True, False, False])
    got = broken_between(times, np.array([0.0, 3_000.0]), np.array([to_m, 4_000.0]))
    assert got.tolist() == [broken, False]
