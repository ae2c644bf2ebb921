"""Odd lines on odd maps: nothing breaks, and every match holds what a match must hold."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from terrain.calc import candidates, thinning
from terrain.errors import RouteError
from terrain.region.store import load_value, save_value
from terrain.stages.matching import match_route
from terrain.stages.matching.lattice import drawn, links, pieces, search, viterbi
from terrain.values.match import LegKind, Match
from terrain.values.route import Route
from terrain.values.views import RoadsView
from tests.match_checks import check_match
from tests.stages.matching.drawn import assert_same_line, assert_ways, ridden_m, route_of
from tests.stages.tinymap import EAST_M, NORTH_M, PAVED, TRACK, TinyMap


def laid(route: Route, roads: RoadsView) -> Match:
    match = match_route(route, roads)
    check_match(match, route, roads)
    return match


@pytest.fixture(scope="module")
def one_edge(tmp_path_factory: pytest.TempPathFactory) -> RoadsView:
    road = TinyMap(nodes={"a": (0, 0), "b": (2000, 0)}).way("ab", PAVED)
    return road.read(tmp_path_factory.mktemp("one")).roads


@pytest.fixture(scope="module")
def ring(tmp_path_factory: pytest.TempPathFactory) -> RoadsView:
    """A ring road that is one edge from a node to itself, and a spur to it; 500 m radius."""
    turn = np.linspace(-np.pi / 2, 1.5 * np.pi, 49)[:-1]
    around = {f"r{i}": (500 * np.cos(a), 500 * np.sin(a)) for i, a in enumerate(turn)}
    park = TinyMap(nodes={**around, "s": (0, -1500)})
    park.way([*around, "r0"], PAVED).way(("s", "r0"), TRACK)
    roads = park.read(tmp_path_factory.mktemp("ring")).roads
    assert (roads.edge_u == roads.edge_v).sum() == 1
    return roads


@pytest.fixture(scope="module")
def star(tmp_path_factory: pytest.TempPathFactory) -> RoadsView:
    """Sixty roads that meet at one node, 1 km long each."""
    arms = {f"p{i}": (1000 * np.cos(a), 1000 * np.sin(a))
            for i, a in enumerate(np.linspace(0, 2 * np.pi, 61)[:-1])}  # fmt: skip
    hub = TinyMap(nodes={"m": (0, 0), **arms})
    for arm in arms:
        hub.way(("m", arm), PAVED)
    return hub.read(tmp_path_factory.mktemp("star")).roads


@pytest.fixture(scope="module")
def grid(tmp_path_factory: pytest.TempPathFactory) -> RoadsView:
    """Streets 300 m apart, 6 x 6, one of them one-way, with a ferry and a loop at one side."""
    nodes = {f"{i}{j}": (300.0 * i, 300.0 * j) for i in range(6) for j in range(6)}
    city = TinyMap(nodes={**nodes, "x": (2500, 0), "y": (2700, 200), "z": (2700, -200)})
    for i in range(6):
        city.way([f"{i}{j}" for j in range(6)], PAVED, oneway="yes" if i == 3 else "no")
        city.way([f"{j}{i}" for j in range(6)], TRACK if i == 2 else PAVED)
    city.way(("50", "x"), {"route": "ferry"}).way("xyzx", PAVED)
    return city.read(tmp_path_factory.mktemp("grid")).roads


def test_two_points_on_the_only_edge(one_edge: RoadsView) -> None:
    match = laid(route_of([(1700, 3), (200, -3)]), one_edge)
    assert_ways(match, [(1, 1500.0)])
    assert match.point_at_m.tolist() == [0.0, match.length_m]


def test_all_points_on_one_spot(one_edge: RoadsView) -> None:
    for spot in ((500, 2), (500, 9000)):  # on the map, off it
        match = laid(route_of([spot] * 7), one_edge)
        assert match.length_m == 0.0 and not match.ways
        assert match.mean_offset_m is None


def test_points_standing_still_on_the_way(one_edge: RoadsView) -> None:
    line = [(100, 0)] * 5 + [(900, 0)] * 40 + [(1500, 0)] * 3
    match = laid(route_of(line), one_edge)
    assert_ways(match, [(1, 1400.0)])


@pytest.mark.parametrize("bad", [np.nan, np.inf, -np.inf])
def test_points_without_a_position_are_left_out_and_told(one_edge: RoadsView, bad: float) -> None:
    route = route_of([(100, 2), (1900, 2)], every_m=50.0)
    lon, lat = route.lon.copy(), route.lat.copy()
    lon[[0, 7]], lat[[8, 20]] = bad, bad
    match = laid(replace(route, lon=lon, lat=lat), one_edge)
    assert_ways(match, [(1, 1750.0)])
    assert np.flatnonzero(np.isnan(match.point_at_m)).tolist() == [0, 7, 8, 20]
    assert match.problems[0].code == "points-without-position"
    assert match.problems[0].what.startswith("4 of 37 points")
    with pytest.raises(RouteError, match="fewer than two points have a position"):
        match_route(replace(route, lon=np.full_like(lon, bad)), one_edge)


def test_a_route_wholly_elsewhere(one_edge: RoadsView) -> None:
    there = route_of([(0, 0), (3000, 0), (3000, 900)], every_m=100.0)
    for lon, lat in ((120.0, -35.0), (-179.0, 71.0), (0.0, 89.5)):
        match = laid(replace(there, lon=there.lon + lon, lat=there.lat + lat), one_edge)
        assert match.kind.tolist() == [LegKind.UNMAPPED]
        assert match.unmapped_m == match.length_m > 0
        assert match.problems[0].code == "outside-region"


def test_a_ring_of_one_edge(ring: RoadsView) -> None:
    """Its ends are one node: round it, across its node, and back the way one came."""
    lap_m = float(ring.edge_length_m.max())
    turn = np.linspace(-np.pi / 2, 1.5 * np.pi, 200)
    lap = [(500 * np.cos(a), 500 * np.sin(a)) for a in turn]
    match = laid(route_of([(0, -1400), *lap, *lap[1:], (0, -1400)], every_m=20.0), ring)
    assert_ways(match, [(2, 900.0), (1, 2 * lap_m), (2, 900.0)], 3.0)
    across = lap[150:] + lap[1:50]
    match = laid(route_of(across, every_m=20.0), ring)
    assert_ways(match, [(1, 98 / 199 * lap_m)], 5.0)
    assert match.forward.all()
    match = laid(route_of([*lap[:60], *lap[58::-1]], every_m=20.0), ring)
    assert_ways(match, [(1, 2 * 59 / 199 * lap_m)], 5.0)
    assert match.forward.tolist() == [True, False]


def test_a_node_with_many_arms(star: RoadsView) -> None:
    """More ways end there than positions are kept for a point."""
    for arm in (0, 7, 31, 59):
        end = (900 * np.cos(arm * np.pi / 30), 900 * np.sin(arm * np.pi / 30))
        for noise_m in (0.0, 4.0):
            back = (-0.866 * end[0] - 0.5 * end[1], -0.866 * end[1] + 0.5 * end[0])
            match = laid(route_of([end, (0, 0), back], every_m=15.0, noise_m=noise_m), star)
            long = [way for way, length in match.ways if length > 100.0]
            assert long == [arm + 1, (arm + 25) % 60 + 1]


def test_edges_without_length(tmp_path: Path) -> None:
    """Two nodes on one spot, a way between them, and the same node twice in a way."""
    road = TinyMap(nodes={"a": (0, 0), "b": (1000, 0), "c": (1000, 0), "d": (2000, 0)})
    roads = road.way("ab", PAVED).way("bc", PAVED).way("ccd", PAVED).read(tmp_path).roads
    match = laid(route_of([(100, 1), (1900, 1)], every_m=10.0), roads)
    assert_ways(match, [(1, 900.0), (3, 900.0)])
    match = laid(route_of([(1000, 0), (1000, 1)]), roads)
    assert match.length_m < 1.1


@pytest.mark.parametrize("noise_m", [0.0, 5.0])
@pytest.mark.parametrize("turns", [-1, 0, 1])
def test_a_line_across_the_antimeridian(tmp_path: Path, noise_m: float, turns: int) -> None:
    """OSM holds -180..180; routes and regions run on past 180 so as not to jump."""
    west = 360.0 * EAST_M
    date_line = 180.0 * EAST_M
    road = TinyMap(nodes={"a": (date_line - 3000, 0), "b": (date_line + 3000 - west, 500)})
    roads = road.way("ab", PAVED).read(tmp_path).roads
    route = route_of([(-2900, 10), (2900, 490)], every_m=20.0, noise_m=noise_m)
    match = laid(replace(route, lon=route.lon + 180.0 + 360.0 * turns), roads)
    assert [way for way, _ in match.ways] == [1]
    assert match.unmapped_m == 0.0
    assert match.length_m == pytest.approx(np.hypot(5800, 480), rel=0.01)
    assert np.abs(np.diff(match.lon)).max() < 0.1


def test_a_map_cut_at_the_antimeridian(one_edge: RoadsView, tmp_path: Path) -> None:
    """A map of the whole world has its date line at both ends: the ride goes on across it."""
    date_line, km = 180.0 * EAST_M, 1000.0
    world = TinyMap(nodes={"a": (date_line - 2 * km, 0), "b": (date_line, 0), "c": (-date_line, 0),
                           "d": (2 * km - date_line, 0), "e": (0, 0), "f": (km, 0)})  # fmt: skip
    roads = world.way("ab", PAVED).way("cd", PAVED).way("ef", PAVED).read(tmp_path).roads
    assert roads.grid_west < -179.9 and roads.pt_lon.max() > 179.9
    route = route_of([(-1900, 1), (1900, 1)], every_m=20.0)
    match = laid(replace(route, lon=route.lon + 180.0), roads)
    assert [way for way, _ in match.ways] == [1, 2]
    assert match.length_m == pytest.approx(3800.0, abs=1.0)
    assert match.unmapped_m < 100.0  # a step off the map and back
    assert 180.01 < match.lon[-1] < 180.02


def test_ends_of_the_line_beyond_the_ends_of_the_road(one_edge: RoadsView) -> None:
    match = laid(route_of([(-20, 3), (2020, 3)], every_m=20.0), one_edge)
    assert_ways(match, [(1, 2000.0)])


def test_a_region_on_disk_answers_as_one_in_memory(grid: RoadsView, tmp_path: Path) -> None:
    save_value(tmp_path / "roads", grid)
    mapped = load_value(tmp_path / "roads", RoadsView)
    route = route_of([(20, 5), (900, 5), (900, 1200), (300, 1210)], every_m=25.0, noise_m=4.0)
    kept, again = laid(route, mapped), laid(route, grid)
    for name in ("edge", "from_m", "to_m", "lon", "lat", "at_m", "point_at_m"):
        np.testing.assert_array_equal(getattr(kept, name), getattr(again, name))


def test_kernels_are_compiled_for_one_kind_of_array(grid: RoadsView, tmp_path: Path) -> None:
    """Maps in memory and on disk, smooth and shaky lines, slices: nothing new each time."""
    save_value(tmp_path / "roads", grid)
    line = [(20, 5), (900, 5), (900, 1200), (600, 1200), (9000, 9000)]
    match_route(route_of(line, every_m=10.0), grid)
    match_route(route_of(line, every_m=10.0, noise_m=6.0), grid)  # the first to be steadied
    first = _compiled()
    assert len(first) >= 10
    for roads in (grid, load_value(tmp_path / "roads", RoadsView)):
        for noise_m in (0.0, 6.0):
            for step in (1, 2):
                match_route(_every(route_of(line, every_m=10.0, noise_m=noise_m), step), roads)
    assert _compiled() == first


def _compiled() -> dict[str, int]:
    """How often each kernel of the matcher has been compiled."""
    return {
        name: len(function.signatures)
        for module in (candidates, drawn, links, pieces, search, thinning, viterbi)
        for name, function in vars(module).items()
        if hasattr(function, "signatures") and function.signatures
    }


def _every(route: Route, step: int) -> Route:
    return replace(
        route, lon=route.lon[::step], lat=route.lat[::step], ele_m=route.ele_m[::step],
        piece=route.piece[::step], shaping=route.shaping[::step], planned=route.planned[::step],
    )  # fmt: skip


_SPOT = st.tuples(st.floats(-400, 3200), st.floats(-400, 1900))
_PART = st.lists(_SPOT, min_size=1, max_size=6)


@settings(max_examples=150, deadline=None)
@given(
    parts=st.lists(_PART, min_size=1, max_size=3),
    every_m=st.sampled_from([None, 15.0, 120.0]),
    noise_m=st.sampled_from([0.0, 5.0, 25.0]),
)
def test_whatever_is_drawn_gives_a_whole_match(
    grid: RoadsView,
    parts: list[list[tuple[float, float]]],
    every_m: float | None,
    noise_m: float,
) -> None:
    route = route_of([(0.0, 0.0)], *parts, every_m=every_m, noise_m=noise_m)
    laid(route, grid)
    laid(replace(route, lon=route.lon - 360.0), grid)


@settings(max_examples=60, deadline=None)
@given(turns=st.lists(st.integers(0, 3), min_size=2, max_size=12))
def test_a_dense_line_along_streets_is_followed(grid: RoadsView, turns: list[int]) -> None:
    """A walk over the streets, drawn every 20 m: the ride is the walk, whatever its turns."""
    place, walk = (2, 2), [(600.0, 600.0)]
    for turn in turns:
        i, j = place[0] + (1, 0, -1, 0)[turn], place[1] + (0, 1, 0, -1)[turn]
        if not (0 <= i <= 5 and 0 <= j <= 5) or 3 == i == place[0]:  # nor along the one-way
            continue
        place = (i, j)
        walk.append((300.0 * i, 300.0 * j))
    if len(walk) < 2:
        return
    match = laid(route_of(walk, every_m=20.0), grid)
    assert match.length_m == pytest.approx(300.0 * (len(walk) - 1), abs=1.0)
    assert_same_line(match, walk)
    assert match.filled_m == match.unmapped_m == 0.0


def test_the_ride_line_is_the_map_not_the_drawing(grid: RoadsView) -> None:
    match = laid(route_of([(20, 9), (900, 9)], every_m=10.0), grid)
    assert np.abs(ridden_m(match)[:, 1]).max() < 0.05


def test_points_lie_where_they_were_drawn(grid: RoadsView) -> None:
    route = route_of([(20, 6), (1500, 6), (1494, 1400)], every_m=10.0)
    match = laid(route, grid)
    lon = np.interp(match.point_at_m, match.at_m, match.lon)
    lat = np.interp(match.point_at_m, match.at_m, match.lat)
    apart = np.hypot((lon - route.lon) * EAST_M, (lat - route.lat) * NORTH_M)
    assert apart.max() < 13.0  # 6 m aside, and the corner
