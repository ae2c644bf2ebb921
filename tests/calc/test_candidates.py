"""Positions near a point, against shapely over every edge."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import shapely

from terrain.calc.candidates import SAME_PASS_M, near_positions, segment_grid
from terrain.calc.geodesy import metres_per_degree
from terrain.values.arrays import FloatArray
from terrain.values.views import RoadsView
from tests.stages.tinymap import EAST_M, NORTH_M, PAVED, TinyMap


@pytest.fixture(scope="module")
def tangle(tmp_path_factory: pytest.TempPathFactory) -> RoadsView:
    """Sixty crooked roads over 4 km by 4 km that share no node but where three meet."""
    rng = np.random.default_rng(5)
    tangle = TinyMap(nodes={"hub": (2000.0, 2000.0)})
    for k in range(60):
        start, steps = rng.uniform(0, 4000, 2), rng.normal(0, 120, (12, 2))
        for i, (x, y) in enumerate(start + np.cumsum(steps, axis=0)):
            tangle.nodes[f"{k}-{i}"] = (float(x), float(y))
        names = [f"{k}-{i}" for i in range(12)]
        tangle.way(["hub", *names] if k < 3 else names, PAVED)
    return tangle.read(tmp_path_factory.mktemp("tangle")).roads


def _edges(roads: RoadsView, lon: float, lat: float) -> list[shapely.LineString]:
    """All edges in metres from a point."""
    kx, ky = metres_per_degree(lat)
    pts = [slice(a, b) for a, b in zip(roads.edge_start[:-1], roads.edge_start[1:], strict=True)]
    return [
        shapely.LineString(
            np.stack([(roads.pt_lon[p] - lon) * kx, (roads.pt_lat[p] - lat) * ky], axis=1)
        )
        for p in pts
    ]


def _points(seed: int, n: int) -> tuple[FloatArray, FloatArray]:
    xy = np.random.default_rng(seed).uniform(-100, 4100, (n, 2))
    return xy[:, 0] / EAST_M, xy[:, 1] / NORTH_M


@pytest.mark.parametrize("radius_m", [20.0, 90.0, 400.0])
def test_the_same_edges_at_the_same_distances(tangle: RoadsView, radius_m: float) -> None:
    lon, lat = _points(11, 150)
    near = near_positions(lon, lat, np.full(150, radius_m), 64, segment_grid(tangle))
    origin = shapely.Point(0, 0)
    for k in range(150):
        mine = slice(near.start[k], near.start[k + 1])
        lines = _edges(tangle, lon[k], lat[k])
        want = {e: d for e, line in enumerate(lines) if (d := origin.distance(line)) <= radius_m}
        got: dict[int, float] = {}
        for e, d in zip(near.edge[mine].tolist(), near.dist_m[mine].tolist(), strict=True):
            got[e] = min(d, got.get(e, np.inf))
        missing = want.keys() - got.keys()
        for e in missing:  # they meet, at the place nearest to the point, an edge that was found
            ends = [shapely.Point(lines[e].coords[i]) for i in (0, -1)]
            assert any(end.distance(lines[f]) < 1e-3 for f in got for end in ends)
        for e, d in got.items():
            assert d == pytest.approx(want[e], abs=1e-6)


def test_where_along_the_edge(tangle: RoadsView) -> None:
    lon, lat = _points(12, 100)
    near = near_positions(lon, lat, np.full(100, 80.0), 64, segment_grid(tangle))
    assert len(near.edge) > 50
    for k in range(100):
        for j in range(near.start[k], near.start[k + 1]):
            span = slice(tangle.edge_start[near.edge[j]], tangle.edge_start[near.edge[j] + 1])
            at = tangle.pt_at_m[span]
            x = np.interp(near.at_m[j], at, tangle.pt_lon[span])
            y = np.interp(near.at_m[j], at, tangle.pt_lat[span])
            apart = np.hypot((x - lon[k]) * EAST_M, (y - lat[k]) * NORTH_M)
            assert apart == pytest.approx(near.dist_m[j], abs=0.01)


def test_the_nearest_stay_when_there_are_too_many(tangle: RoadsView) -> None:
    lon, lat = _points(13, 200)
    grid = segment_grid(tangle)
    everything = near_positions(lon, lat, np.full(200, 400.0), 64, grid)
    few = near_positions(lon, lat, np.full(200, 400.0), 3, grid)
    crowded = 0
    for k in range(200):
        whole = np.sort(everything.dist_m[everything.start[k] : everything.start[k + 1]])
        some = np.sort(few.dist_m[few.start[k] : few.start[k + 1]])
        crowded += len(whole) > 3
        assert len(some) == min(3, len(whole))
        if len(some):
            assert some[0] == whole[0]
    assert crowded > 50


@pytest.fixture(scope="module")
def hairpin(tmp_path_factory: pytest.TempPathFactory) -> RoadsView:
    """One road, 500 m east and 20 m farther north 500 m back; another joins at its start."""
    bend = TinyMap(nodes={"a": (0, 0), "b": (500, 0), "c": (500, 20), "d": (0, 20), "e": (-500, 0)})
    return bend.way("abcd", PAVED).way("ae", PAVED).read(tmp_path_factory.mktemp("pin")).roads


def _near(roads: RoadsView, x: float, y: float, radius_m: float) -> list[tuple[int, float, float]]:
    """(way id, metres along, distance) near a point, nearest first."""
    found = near_positions(
        np.array([x / EAST_M]), np.array([y / NORTH_M]), np.array([radius_m]), 8,
        segment_grid(roads),
    )  # fmt: skip
    ids = roads.ways.way_id[roads.edge_way[found.edge]].tolist()
    rows = zip(ids, found.at_m.tolist(), found.dist_m.tolist(), strict=True)
    return sorted(rows, key=lambda row: row[2])


def test_an_edge_that_passes_twice_gives_two_positions(hairpin: RoadsView) -> None:
    (_, at, off), (_, back, far) = _near(hairpin, 200, 8, 40)
    assert [at, back] == pytest.approx([200, 820], abs=0.1)
    assert [off, far] == pytest.approx([8, 12], abs=0.01)
    assert len(_near(hairpin, 495, 10, 40)) == 1 + (SAME_PASS_M < 20.0)  # round the bend: one pass


def test_a_junction_gives_one_position(hairpin: RoadsView) -> None:
    assert len(_near(hairpin, 0, -5, 15)) == 1  # both ways end in the foot
    assert {way for way, _, _ in _near(hairpin, -3, 5, 16)} == {1, 2}


def test_points_far_off_and_points_without_a_place(hairpin: RoadsView) -> None:
    grid = segment_grid(hairpin)
    lon, lat = np.array([np.nan, 0.0, 170.0, 0.001]), np.array([0.0, np.inf, -89.0, 0.0])
    assert near_positions(lon, lat, np.full(4, 50.0), 8, grid).start.tolist() == [0, 0, 0, 0, 2]
    empty = near_positions(np.zeros(0), np.zeros(0), np.zeros(0), 8, grid)
    assert empty.start.tolist() == [0] and len(empty.edge) == 0


def test_nothing_is_found_between_far_roads(tmp_path: Path) -> None:
    """A map of two roads far apart: the grid between them is empty, and nothing is found there."""
    two = TinyMap(nodes={"a": (0, 0), "b": (100, 0), "c": (50_000, 0), "d": (50_100, 0)})
    roads = two.way("ab", PAVED).way("cd", PAVED).read(tmp_path).roads
    assert _near(roads, 25_000, 0, 90) == []
    assert [way for way, _, _ in _near(roads, 50_050, 5, 90)] == [2]


@pytest.mark.parametrize(("east_m", "at_m"), [(-0.5, 0.0), (0.2, 0.2), (0.6, 0.6), (1.5, 0.8)])
def test_the_nearest_place_of_a_road_shorter_than_a_metre(
    tmp_path: Path, east_m: float, at_m: float
) -> None:
    roads = TinyMap(nodes={"a": (0, 0), "b": (0.8, 0)}).way("ab", PAVED).read(tmp_path).roads
    point = np.array([east_m / EAST_M]), np.array([3.0 / NORTH_M])
    near = near_positions(*point, np.array([10.0]), 4, segment_grid(roads))
    assert near.at_m.tolist() == pytest.approx([at_m], abs=0.03)  # a map keeps centimetres
    assert near.dist_m.tolist() == pytest.approx([np.hypot(3.0, east_m - at_m)], abs=0.02)
