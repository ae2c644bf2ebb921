"""Tastes, chances and gaps of other ways, and a line made ready, worked by hand."""

from __future__ import annotations

import math
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from terrain.calc.candidates import RoadCandidates
from terrain.stages.matching import line as module
from terrain.stages.matching.alternatives import (
    DEFAULT_OTHER_WAYS,
    _chances,
    _gap,
    _gaps,
    _tastes,
    _Way,
)
from terrain.stages.matching.assemble import _drawn_between
from terrain.stages.matching.lay import _on_nodes, _on_track, _parts, _plausible
from terrain.stages.matching.line import _spread_m, _steadied, wrapped
from terrain.stages.matching.params import DEFAULT_PARAMS
from tests.stages.ground.handmade import category
from tests.stages.tinymap import EAST_M, NORTH_M


def _match(**more: Any) -> Any:
    """Legs of 1, 2, 1 and 4 km, the second guessed, along a straight line but for a bend."""
    to_m = np.array([1_000.0, 3_000.0, 4_000.0, 8_000.0])
    usual = {
        "from_m": np.r_[0.0, to_m[:-1]], "to_m": to_m, "way": np.array([0, 1, 2, 3]),
        "filled": np.array([False, True, False, False]), "edge": np.array([10, 11, 12, 13]),
        "edge_from_m": np.array([5.0, 6.0, 7.0, 8.0]),
        "edge_to_m": np.array([55.0, 66.0, 77.0, 88.0]),
        "at_m": np.array([0.0, 1_000.0, 3_000.0, 4_000.0, 8_000.0]),
        "lon": np.zeros(5), "lat": np.zeros(5),
    }  # fmt: skip
    return SimpleNamespace(**{**usual, **more})


# -- other ways -----------------------------------------------------------------------------------


def test_who_looks_for_tracks_by_the_ground_of_the_points() -> None:
    """One gap over the second leg: its ends, the legs it lies on, are 0.5 off tarmac. Shown 1 km
    at 0.2, 1 km at 0.4 and 4 km at none, and 2 km of gap at 0.5: 1.6 of 8 km. By time
    0.9 e^(-4 x 0.2 - 1.4 x 0.5)."""
    off = np.array([0.2, 0.5, 0.4, 0.0])
    (chance,) = _tastes(_match(), [(1_000.0, 3_000.0)], off, DEFAULT_OTHER_WAYS).values()
    assert chance == pytest.approx(1.0 - 0.9 * math.exp(-4.0 * 0.2 - 1.4 * 0.5))
    # From the first leg to the third: ends (0.2 + 0.4) / 2; and nothing off the map is shown.
    match = _match(way=np.array([0, 1, 2, -1]), filled=np.array([True] * 3 + [False]))
    (chance,) = _tastes(match, [(0.0, 4_000.0)], off, DEFAULT_OTHER_WAYS).values()
    assert chance == pytest.approx(1.0 - 0.9 * math.exp(-4.0 * 0.3 - 1.4 * 0.3))


def _way(time: float, taste: float) -> _Way:
    return _Way(np.zeros(1, np.int32), np.ones(1), np.array([time, taste]))


def test_a_way_11_hundredths_dearer_is_e_times_less_likely() -> None:
    """By time the second is; by taste the first, twice as much."""
    found = [_way(100.0, 122.0), _way(111.0, 100.0)]
    e = math.e
    by_time, by_taste = e / (e + 1.0), 1.0 / (1.0 + e**2)
    for fond in (0.0, 0.25, 1.0):
        first, second = _chances(found, fond, DEFAULT_OTHER_WAYS).tolist()
        assert first == pytest.approx((1 - fond) * by_time + fond * by_taste)
        assert first + second == pytest.approx(1.0)


@pytest.mark.parametrize(
    ("gap_m", "straight_m", "fond", "looked"),
    [
        (800.0, 700.0, 0.0, True), (799.0, 700.0, 0.0, False),
        (1_050.0, 1_000.0, 0.0, True), (1_049.0, 1_000.0, 0.0, False),  # as good as straight
        (1_049.0, 1_000.0, 0.3, True), (1_049.0, 1_000.0, 0.29, False),
        (799.0, 700.0, 1.0, False),
    ],
)  # fmt: skip
def test_which_gaps_are_worth_a_second_look(
    gap_m: float, straight_m: float, fond: float, looked: bool
) -> None:
    def lonlat(at: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        return np.zeros(at.shape), np.where(at > 1_000.0, straight_m / NORTH_M, 0.0)

    match = _match(lonlat=lonlat, to_m=np.array([1e3, 1e3 + gap_m, 9e3, 1e4]),
                   from_m=np.array([0.0, 1e3, 1e3 + gap_m, 9e3]))  # fmt: skip
    found = list(_gaps(match, {(1_000.0, 1_000.0 + gap_m): fond}, DEFAULT_OTHER_WAYS))
    assert found == [(1, 1, 1_000.0, 1_000.0 + gap_m)] * looked


def test_roads_of_a_gap_are_looked_for_by_its_length(monkeypatch: pytest.MonkeyPatch) -> None:
    """500 m and 0.35 of 3 km, about the line from the second leg to the end of the third."""
    asked = []
    monkeypatch.setattr(
        "terrain.stages.matching.alternatives.cells_near", lambda *args: asked.append(args)
    )
    match = _match(lon=np.arange(5.0))
    gap = _gap(match, SimpleNamespace(), slice(1, 3))  # type: ignore[arg-type]
    ((_, lon, _, margin_m),) = asked
    assert (lon.tolist(), margin_m) == ([1.0, 2.0, 3.0], pytest.approx(500.0 + 0.35 * 3_000.0))
    assert (gap.edge.tolist(), gap.at_m.tolist()) == ([11, 12], [6.0, 77.0])


# -- parts and positions --------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("step_m", "piece", "parts"),
    [
        ([9.0, 20_001.0, 9.0], [0, 0, 1, 1], [(0, 1), (2, 3)]),
        ([9.0, 20_000.0, 9.0], [0, 0, 1, 1], [(0, 3)]),  # bridged up to 20 km
        ([9.0, 30_000.0, 9.0], [0, 0, 0, 0], [(0, 3)]),  # drawn, however far
        ([30_000.0, 9.0, 30_000.0], [0, 1, 1, 2], [(0, 0), (1, 2), (3, 3)]),
    ],
)  # fmt: skip
def test_parts_of_a_file_too_far_apart_are_matched_one_by_one(
    step_m: list[float], piece: list[int], parts: list[tuple[int, int]]
) -> None:
    route: Any = SimpleNamespace(piece=np.array(piece), n_points=4)
    assert _parts(route, np.array(step_m), DEFAULT_PARAMS) == parts


def _cands(start: list[int], dist_m: list[float], at_m: list[float] | None = None) -> Any:
    n = len(dist_m)
    return RoadCandidates(
        np.array(start, np.int32), np.arange(n, dtype=np.int32),
        np.array(at_m if at_m is not None else [0.0] * n), np.array(dist_m),
    )  # fmt: skip


def test_positions_much_farther_than_the_nearest_are_not_tried() -> None:
    """A spread of 5 m, and 14 units: from 3 m on to the root of 9 + 28 x 25 = 26.63 m; from 20 m
    to 33.17. A point with none has none."""
    cands = _cands([0, 3, 3, 5], [3.0, 26.6, 26.7, 33.1, 20.0])
    kept = _plausible(cands, 5.0, DEFAULT_PARAMS)
    assert (kept.start.tolist(), kept.dist_m.tolist()) == ([0, 2, 2, 4], [3.0, 26.6, 33.1, 20.0])
    none = _cands([0, 0], [])
    assert _plausible(none, 5.0, DEFAULT_PARAMS) is none


def test_positions_within_half_a_metre_of_an_end_lie_on_it() -> None:
    """Of 100 m; of an edge of 0.8 m, nearer than that to both ends, to the nearer one."""
    roads: Any = SimpleNamespace(edge_length_m=np.array([100.0, 100.0, 100.0, 100.0, 0.8, 0.8]))
    at = _on_nodes(
        _cands([0, 6], [0.0] * 6, [0.49, 0.5, 99.5, 99.51, 0.6, 0.3]), roads, DEFAULT_PARAMS
    ).at_m
    assert at.tolist() == [0.0, 0.5, 99.5, 100.0, 0.8, 0.0]


@pytest.mark.parametrize(
    ("dist_m", "on"),
    [
        # The first position of each point is on a track, the second on a road.
        ([3.0, 9.0], True), ([3.0, 4.0], False), ([3.0, 4.1], True), ([9.0, 3.0], False),
    ],
)  # fmt: skip
def test_a_point_lies_on_a_track_where_no_road_is_as_near(dist_m: list[float], on: bool) -> None:
    """To a metre; a point with no road at all lies on none."""
    ways = SimpleNamespace(highway=category(["track", "primary"]))
    roads: Any = SimpleNamespace(ways=ways, edge_way=np.array([0, 1]))
    cands = _cands([0, 2, 2], dist_m)
    assert _on_track(cands, roads).tolist() == [on, False]
    ways.highway = category(["secondary", "primary"])
    assert _on_track(cands, roads).tolist() == [False, False]


# -- the line -------------------------------------------------------------------------------------


def _grid(west: float, cols: int, step: float = 1.0) -> Any:
    return SimpleNamespace(west=west, cols=cols, step_lon=step)


@pytest.mark.parametrize(
    ("west", "cols", "lon", "told"),
    [
        (170.0, 20, -175.0, 185.0), (170.0, 20, 175.0, 175.0), (170.0, 20, 169.0, 169.0),
        (-10.0, 20, 359.0, -1.0), (-10.0, 20, 179.0, 179.0), (-10.0, 20, 181.0, -179.0),
        (-180.0, 360, 181.0, -179.0), (-180.0, 360, 179.0, 179.0),
    ],
)  # fmt: skip
def test_longitudes_are_told_as_the_region_has_them(
    west: float, cols: int, lon: float, told: float
) -> None:
    assert wrapped(np.array([lon]), _grid(west, cols)).tolist() == [told]


@pytest.mark.parametrize(
    ("dist_m", "spread_m"),
    [
        ([2.0, 4.0, 6.0], 1.9 * 4.0), ([0.1, 0.2, 0.3], 3.0), ([20.0, 30.0, 40.0], 25.0),
        ([], 25.0),
    ],
)  # fmt: skip
def test_the_spread_of_a_line_is_19_tenths_of_its_median_distance(
    dist_m: list[float], spread_m: float, monkeypatch: pytest.MonkeyPatch
) -> None:
    """From 3 to 25 m; points with no way near do not count."""
    near = _cands([0, 0, *range(1, len(dist_m) + 1)], dist_m)
    monkeypatch.setattr(module, "near_positions", lambda *_: near)
    n = len(near.start) - 1
    got = _spread_m(np.zeros(n), np.zeros(n), _grid(0.0, 9), DEFAULT_PARAMS)
    assert got == pytest.approx(spread_m)


def _shaken(noise_m: float, step_m: float, n: int = 200) -> tuple[np.ndarray, np.ndarray]:
    rng = np.random.default_rng(5)
    x = step_m * np.arange(n) + rng.normal(0.0, noise_m, n)
    y = rng.normal(0.0, noise_m, n)
    return x / EAST_M, y / NORTH_M


@pytest.mark.parametrize(
    ("noise_m", "step_m", "smoothed"),
    [(8.0, 10.0, True), (0.5, 10.0, False), (8.0, 60.0, False), (8.0, 0.0, False)],
)
def test_a_recording_that_shakes_is_steadied_where_its_fixes_are_close(
    noise_m: float, step_m: float, smoothed: bool
) -> None:
    """Less is left of the noise across the line, and its ends stay along it."""
    lon, lat = _shaken(noise_m, step_m) if step_m else (np.zeros(9), np.zeros(9))
    x, y = _steadied(lon, lat, DEFAULT_PARAMS)
    if not smoothed:
        assert x is lon and y is lat
        return
    assert np.std(y) < 0.6 * np.std(lat)
    assert np.abs((x - lon) * EAST_M).max() < 4 * noise_m


# -- the drawn line where the ride is off the map -------------------------------------------------


@pytest.mark.parametrize(
    ("lo", "hi", "index", "lon"),
    [
        (0, 1, [0, 1, 2, 3, 4, 5], [0, 1, 2, 3, 4, 102]),
        (1, 1, [0, 1, 2, 3, 4, 5], [100, 1, 2, 3, 4, 102]),
        (2, 3, [3, 4, 5, 6, 7, 8], [101, 4, 5, 6, 7, 8]),
    ],
)  # fmt: skip
def test_the_drawn_line_joins_the_map_where_the_ride_does(
    lo: int, hi: int, index: list[int], lon: list[float]
) -> None:
    """Points 0, 3, 5 and 8 of nine are used; their spots on the map lie at 100, 101 and so on, and
    stand for the points beside the part."""
    part: Any = SimpleNamespace(
        index=np.array([0, 3, 5, 8]), on=np.ones(4, bool), spot=lambda i, roads: (100.0 + i, 50.0)
    )
    route: Any = SimpleNamespace(lon=np.arange(9.0), lat=np.zeros(9))
    nothing: Any = None
    x, y, at = _drawn_between(route, nothing, part, lo, hi)
    assert (x.tolist(), at.tolist()) == (lon, index)
    assert y.tolist() == [50.0 if value >= 100 else 0.0 for value in lon]
