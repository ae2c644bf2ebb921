"""Putting a ride together and what is told of it, a case on each side of each limit, by hand."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from terrain.stages.matching.assemble import _filled_in, _leg_offsets, _straight, _turns_deg
from terrain.stages.matching.lay import _steps
from terrain.stages.matching.line import _spaced
from terrain.stages.matching.params import DEFAULT_PARAMS, MatchParams, StepMode
from terrain.stages.matching.remarks import (
    _gaps,
    _guessed,
    _outside,
    _Place,
    _places,
    _runs,
    _where,
)
from terrain.values.match import LegKind
from tests.stages.tinymap import EAST_M, NORTH_M

NAN = np.nan


@pytest.mark.parametrize(
    ("place", "index", "filled"),
    [
        ([NAN, 10.0, NAN, 30.0, NAN], [0, 1, 3, 5, 6], [10, 10, 20, 30, 30]),
        ([20.0, 10.0, 30.0], [0, 1, 2], [20, 20, 30]),  # never falling
        ([0.0, 50.0], [0, 1], [5, 40]),  # within the legs
        ([NAN, NAN, NAN], [2, 3, 6], [5, 13.75, 40]),
    ],
)
def test_points_without_a_place_lie_between_their_neighbours(
    place: list[float], index: list[int], filled: list[float]
) -> None:
    assert _filled_in(np.array(place), np.array(index), 5.0, 40.0).tolist() == filled


@pytest.mark.parametrize(
    ("place", "dist", "offsets"),
    [
        ([10.0, 50.0, 150.0, 250.0], [2.0, 4.0, 10.0, 1.0], [3.0, 10.0, 1.0]),
        ([50.0, 250.0], [2.0, 6.0], [2.0, 4.0, 6.0]),  # none on the second leg: between
        ([100.0, 100.5, 350.0], [2.0, 6.0, 9.0], [2.0, 6.0, 9.0]),  # past the end: the last leg
    ],
)
def test_a_leg_is_as_far_off_as_its_points(
    place: list[float], dist: list[float], offsets: list[float]
) -> None:
    """Three legs of 100 m."""
    end = 100.0 * np.arange(1, 4)
    got = _leg_offsets(end - 100.0, end, np.array(place), np.array(dist))
    assert got.tolist() == pytest.approx(offsets)


@pytest.mark.parametrize(
    ("gap_m", "off_m", "straight"),
    [
        # Three times the spread of 5 m, or a hundredth of the gap.
        (200.0, 14.8, True), (200.0, 15.2, False), (1_600.0, 15.8, True), (1_600.0, 16.2, False),
        (10_000.0, 99.0, True), (10_000.0, 101.0, False),
    ],
)  # fmt: skip
def test_a_ride_near_the_straight_line_was_shown(
    gap_m: float, off_m: float, straight: bool
) -> None:
    """A bend half-way, a straight step after it, and a point drawn twice."""
    lon = np.array([0.0, gap_m / 2, gap_m, 2 * gap_m]) / EAST_M
    lat = np.array([0.0, off_m, 0.0, 0.0]) / NORTH_M
    along = np.array([0.0, gap_m / 2, gap_m, 2 * gap_m])
    place = np.array([0.0, gap_m, 2 * gap_m, 2 * gap_m])
    assert _straight(lon, lat, along, place, 5.0).tolist() == [straight, True, False]


@pytest.mark.parametrize(
    ("near", "lon", "turns"), [(-179.0, 179.0, -360.0), (181.0, -179.0, 360.0), (5.0, 100.0, 0.0)]
)
def test_whole_turns_bring_a_longitude_near(near: float, lon: float, turns: float) -> None:
    assert _turns_deg(near, lon) == turns


@pytest.mark.parametrize(
    ("least_m", "kept"),
    [(3.9, [0, 1, 2, 4]), (4.1, [0, 2, 4]), (8.9, [0, 2, 4]), (9.1, [0, 3, 4]), (99.0, [0, 4])],
)
def test_points_too_close_to_the_last_kept_are_left_out(least_m: float, kept: list[int]) -> None:
    """Points 0, 4, 9, 10 and 12 m along; the last stays."""
    metres = np.array([0.0, 4.0, 9.0, 10.0, 12.0])
    for lon, lat in ((metres / EAST_M, 0 * metres), (0 * metres, metres / NORTH_M)):
        assert _spaced(lon, lat, np.arange(5), least_m).tolist() == kept
        assert _spaced(lon, lat, np.array([2]), least_m).tolist() == [2]


@pytest.mark.parametrize(
    ("step_m", "a", "off", "code", "words"),
    [
        (400.0, 0.0, False, None, ""), (401.0, 0.0, False, "gap-bridged", "filled by routing"),
        (401.0, 0.0, True, "gap-bridged", "a straight line"), (401.0, NAN, False, None, ""),
        (20_000.0, 0.0, False, "gap-bridged", "filled by routing"),
        (20_001.0, 0.0, False, "gap-left-open", "part by part"),
    ],
)  # fmt: skip
def test_gaps_of_the_file_are_told(
    step_m: float, a: float, off: bool, code: str | None, words: str
) -> None:
    """The file breaks after its first point; only its second step begins a new part."""
    kind = LegKind.UNMAPPED if off else LegKind.MATCHED
    match: Any = SimpleNamespace(
        point_at_m=np.array([a, 500.0, 900.0]), from_m=np.array([0.0, 500.0]),
        to_m=np.array([500.0, 900.0]), kind=np.array([kind, LegKind.UNMAPPED]),
    )  # fmt: skip
    route: Any = SimpleNamespace(piece=np.array([0, 1, 1]))
    found = _gaps(route, match, np.array([step_m, 9_000.0]), DEFAULT_PARAMS)
    assert [item.code for item in found] == ([] if code is None else [code])
    assert all(words in str(item.action) for item in found)


@pytest.mark.parametrize(("filled_m", "told"), [(1_999.0, 0), (2_000.0, 1)])
def test_two_kilometres_of_guessing_are_told(filled_m: float, told: int) -> None:
    match: Any = SimpleNamespace(filled_m=filled_m)
    assert len(_guessed(match)) == told


@pytest.mark.parametrize(("least_m", "spans"), [(249.0, 1), (250.0, 1), (251.0, 0)])
def test_legs_in_a_row_are_one_run(least_m: float, spans: int) -> None:
    match: Any = SimpleNamespace(
        from_m=np.array([0.0, 50.0, 100.0, 300.0]), to_m=np.array([50.0, 100.0, 300.0, 400.0])
    )
    found = _runs(match, np.array([False, True, True, False]), least_m, "")
    assert [(run.from_m, run.to_m, run.size_m) for run in found] == [(50.0, 300.0, 250.0)] * spans


def _place(at_m: float, size_m: float) -> _Place:
    return _Place(from_m=at_m, to_m=at_m + size_m, size_m=size_m, action="x")


@pytest.mark.parametrize(("size_m", "spot"), [(49.0, True), (50.0, False)])
def test_a_short_part_is_a_spot(size_m: float, spot: bool) -> None:
    assert (" to " in str(_where(_place(1_000.0, size_m)))) != spot


@pytest.mark.parametrize(
    ("n", "told", "rest"),
    [
        (0, 0, None), (5, 5, None), (6, 6, ("one more place", "1 km in all")),
        (8, 6, ("3 more places", "3.3 km in all")),
    ],
)  # fmt: skip
def test_the_five_largest_places_are_told(n: int, told: int, rest: tuple[str, str] | None) -> None:
    """Places of 1, 1.1, 1.2 km and so on: the smallest are summed up, the others in order."""
    found = _places("code", "{gap_m}", [_place(10_000.0 * i, 1_000.0 + 100 * i) for i in range(n)])
    assert len(found) == told
    if rest is not None:
        last = (str(found[-1].where), str(found[-1].what).replace("\xa0", " "))
        assert last == rest
    said = [str(item.where) for item in found[:5]]
    starts = [10_000.0 * i for i in range(n)][-5:]
    assert said == [str(_where(_place(at, 1_000.0 + at / 100))) for at in starts]


@pytest.mark.parametrize(
    ("from_deg", "to_deg", "outside"),
    [
        (0.1, 0.9, False), (0.6, 1.6, True), (0.4, 1.4, False), (-0.6, 0.4, True),
        (-0.4, 0.6, False),
    ],
)  # fmt: skip
def test_a_leg_is_outside_where_most_of_it_is_beyond_the_region(
    from_deg: float, to_deg: float, outside: bool
) -> None:
    """A region of 0 to 1 degree either way, crossed eastwards and northwards."""
    roads: Any = SimpleNamespace(
        grid_west=0.0, grid_south=0.0, grid_cols=4, grid_rows=2, grid_step_lon=0.25,
        grid_step_lat=0.5,
    )  # fmt: skip
    for east in (True, False):

        def lonlat(at: np.ndarray, east: bool = east) -> tuple[np.ndarray, np.ndarray]:
            along, still = at / 1e5, np.full(len(at), 0.3)
            return (along, still) if east else (still, along)

        match: Any = SimpleNamespace(
            from_m=np.array([0.0, 1e5 * from_deg]), to_m=np.array([1.0, 1e5 * to_deg]),
            lonlat=lonlat,
        )  # fmt: skip
        assert _outside(match, np.array([False, True]), roads).tolist() == [False, outside]


def test_what_a_step_says_by_its_length() -> None:
    """Points spread by root 2 m: two of them by 2 m. Steps of 20 and 60 m are shown and reach 6
    times as far, to ride against a one-way, if not farther; those of 100 and 500 m with nothing
    drawn between say less and less. Where both ends lie on tracks, the way between is one."""
    line: Any = SimpleNamespace(
        gap_m=np.array([20.0, 60.0, 100.0, 500.0]), sigma_m=2.0**0.5,
        bare=np.array([True, True, True, True]),
    )  # fmt: skip
    params = MatchParams(
        beta_m=1.0, beta_per_gap=0.1, beta_middle=0.2, beta_sparse=0.5, middle_m=80.0,
        sparse_m=400.0, reach_against=6.0, off_sigmas=4.5,
    )  # fmt: skip
    steps = _steps(line, np.zeros(5, bool), params)
    assert steps.beta_m == pytest.approx([1 + 1 + 2, 1 + 1 + 6, 1 + 1 + 20, 250])
    assert steps.reach_m == pytest.approx([26 + 100, 360, 1_200, 8_000])
    assert steps.off_gap_cost == pytest.approx([5, 7.5, 1_600 / 22, 4_000 / 250])
    assert steps.off_cost == pytest.approx(0.5 * 25**2 / 2)  # 25 m at least
    shown, rough = StepMode.SHOWN, StepMode.ROUGH
    assert steps.mode.tolist() == [shown, shown, rough, StepMode.GUESSED]
    assert _steps(line, np.ones(5, bool), params).mode.tolist()[-1] == StepMode.OFF_ROAD
    line.bare = np.zeros(4, bool)  # drawn along: a long step shows the way too
    assert _steps(line, np.zeros(5, bool), params).mode.tolist() == [shown] * 4
