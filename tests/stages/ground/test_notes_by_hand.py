"""Where on the ride a drawn note lies, reckoned by hand."""

from __future__ import annotations

from datetime import date
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from terrain.stages.ground import notes
from terrain.values.ground import GroundKind, GroundNote
from tests.stages.ground.handmade import DEG_M


def test_how_far_from_a_slanting_line_and_how_far_along_it() -> None:
    """A slope of 20 m, 16 m east and 12 m north, that does not begin at the origin; then north.

    The first place lies 5 m left of the middle of the slope, the second 3 m right of the upright
    4 m above its foot, the third 2 m short of the beginning.
    """
    along_slope, aside = np.array([0.8, 0.6]), np.array([-0.6, 0.8])
    start = np.array([5.0, 10.0])
    x, y = np.transpose([
        start + 10.0 * along_slope + 5.0 * aside,
        start + 20.0 * along_slope + [3.0, 4.0],
        start - 2.0 * along_slope,
    ])  # fmt: skip
    away, along = notes._beside(x, y, np.array([5.0, 21.0, 21.0]), np.array([10.0, 22.0, 40.0]))
    np.testing.assert_allclose(away, [5.0, 3.0, 2.0])
    np.testing.assert_allclose(along, [10.0, 24.0, 0.0], atol=1e-9)
    # From a spot, by the triangle of 3, 4 and 5.
    away, along = notes._beside(np.array([8.0, 5.0]), np.array([14.0, -2.0]), *start[:, None])
    assert (away.tolist(), along.tolist()) == ([5.0, 12.0], [0.0, 0.0])


def test_a_degree_of_longitude_is_half_as_long_at_60_degrees() -> None:
    """cos 60 degrees is a half; a degree of latitude is 111.2 km on a sphere of 6,371 km."""
    match: Any = SimpleNamespace(lon=np.array([9.0, 11.0]), lat=np.array([59.0, 61.0]))
    x, y = notes._metres(match, np.array([11.0, 10.0]), np.array([60.0, 61.0]))
    np.testing.assert_allclose(x, [55_600.0, 0.0], rtol=2e-3)
    np.testing.assert_allclose(y, [0.0, 111_200.0], rtol=2e-3)


@pytest.mark.parametrize(
    ("near", "runs"),
    [("", []), ("-", []), ("x", [(0, 0)]), ("-xx-x", [(1, 2), (4, 4)]), ("xxx", [(0, 2)])],
)
def test_a_run_is_told_by_its_first_place_and_its_last(
    near: str, runs: list[tuple[int, int]]
) -> None:
    assert notes._runs(np.array([c == "x" for c in near], dtype=np.bool_)) == runs


def _at_60_north(*spots: tuple[float, float]) -> tuple[np.ndarray, np.ndarray]:
    """Metres east and north as degrees where one of longitude is half as long."""
    x, y = np.array(spots).T
    return x / (DEG_M / 2), 60.0 + y / DEG_M


def test_a_drawn_note_is_about_the_ways_most_of_which_lie_within_30_m() -> None:
    """A line of 100 m; ways of five points each, of which three or two are near: the share that
    decides is .6, the reach 30 m (common practice, no source)."""
    ways = [
        (0, [(0, 25), (50, 25), (125, 0), (135, 0), (200, 0)]),
        (1, [(50, -25), (-25, 0), (50, 35), (-35, 0), (50, -35)]),
        (2, [(10, 0), (20, 0), (30, 0)]), (2, [(300, 0), (310, 0)]),
        (3, [(0, 0), (5, 0)]), (3, [(90, 99), (95, 99), (99, 99)]),
        (4, [(0, -25), (-25, 0)]),
        (5, [(999, 0), (999, 9)]),
    ]  # fmt: skip
    spots = [spot for _, part in ways for spot in part]
    lon, lat = _at_60_north(*spots)
    size = [len(part) for _, part in ways]
    view: Any = SimpleNamespace(
        pt_lon=lon, pt_lat=lat, pt_edge=np.repeat(np.arange(len(ways)), size),
        edge_way=np.array([way for way, _ in ways]), edge_start=np.append(0, np.cumsum(size)),
    )  # fmt: skip
    line = tuple(zip(*_at_60_north((0, 0), (100, 0)), strict=True))
    note = GroundNote(line=line, ground=GroundKind.TRACK)
    assert notes._ways_of(view, note).tolist() == [0, 2, 4]


@pytest.mark.parametrize(
    ("noted", "today", "trust", "belief"),
    [
        # .97 at first, half of it after five years; two years without a date: .97 / 2^.4.
        (date(2020, 1, 1), date(2020, 1, 1), None, 0.97),
        (date(2020, 1, 1), date(2025, 1, 1), None, 0.485),
        (date(2020, 1, 1), date(2019, 1, 1), None, 0.97),
        (date(2020, 1, 1), None, None, 0.97),
        (None, date(2025, 1, 1), None, 0.7351),
        (date(2020, 1, 1), date(2025, 1, 1), 0.6, 0.3),
    ],
)
def test_belief_in_a_note_halves_in_five_years(
    noted: date | None, today: date | None, trust: float | None, belief: float
) -> None:
    note = GroundNote(way_id=1, ground=GroundKind.TRACK, noted=noted, trust=trust)
    assert notes.belief_in(note, today) == pytest.approx(belief, abs=3e-4)


def test_a_note_is_mixed_in_by_its_belief() -> None:
    """.8 of .98 gravel and .01 of each other, and .2 of what was thought before."""
    before = np.array([[0.2, 0.3, 0.5]])
    note = GroundNote(way_id=1, ground=GroundKind.GRAVEL)
    held = notes.AppliedNote(note=note, from_m=0.0, to_m=1.0, belief=0.8)
    assert notes.with_note(before, held)[0] == pytest.approx([0.048, 0.844, 0.108])
