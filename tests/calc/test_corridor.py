"""Roads near a line, and points laid on roads, against plain distances."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import shapely

from terrain.calc.corridor import cells_near, edges_near, roads_near, roads_of
from terrain.calc.snap import snap_points
from tests.stages.tinymap import EAST_M, NORTH_M, PAVED, TinyMap, TinyRegion

_STEP_M = 700.0
_SIDE = 16


@pytest.fixture(scope="module")
def grid(tmp_path_factory: pytest.TempPathFactory) -> TinyRegion:
    """Streets in squares of 700 m over 11 km."""
    drawn = TinyMap(nodes={
        f"{x} {y}": (_STEP_M * x, _STEP_M * y) for x in range(_SIDE) for y in range(_SIDE)
    })  # fmt: skip
    for k in range(_SIDE):
        drawn.way([f"{x} {k}" for x in range(_SIDE)], PAVED)
        drawn.way([f"{k} {y}" for y in range(_SIDE)], PAVED, oneway="yes" if k % 2 else "no")
    return drawn.read(Path(tmp_path_factory.mktemp("grid")))


def _lines(grid: TinyRegion) -> list[shapely.LineString]:
    """The edges in metres."""
    roads = grid.roads
    xy = np.column_stack((roads.pt_lon * EAST_M, roads.pt_lat * NORTH_M))
    spans = zip(roads.edge_start[:-1], roads.edge_start[1:], strict=True)
    return [shapely.LineString(xy[a:b]) for a, b in spans]


def _line(seed: int) -> tuple[np.ndarray, np.ndarray]:
    """A bent line across part of the grid, its points 50 m apart."""
    rng = np.random.default_rng(seed)
    corners = rng.uniform(-500, _STEP_M * _SIDE, (4, 2))
    bent = shapely.segmentize(shapely.LineString(corners), 50.0)
    return np.array(bent.coords).T


@pytest.mark.parametrize("seed", range(6))
@pytest.mark.parametrize("margin_m", [0.0, 300.0, 2_000.0])
def test_no_edge_within_the_margin_is_left_out(
    grid: TinyRegion, seed: int, margin_m: float
) -> None:
    x, y = _line(seed)
    near = edges_near(grid.roads, x / EAST_M, y / NORTH_M, margin_m)
    away = shapely.distance(_lines(grid), shapely.LineString(np.column_stack((x, y))))
    assert near[away <= margin_m - 1].all()
    # More at the corners, and by whole cells of the grid: a square, not the whole map.
    cell_m = grid.roads.grid_step_lat * NORTH_M
    assert not near[away > np.sqrt(2) * (margin_m + 2 * cell_m)].any()


@pytest.mark.parametrize("seed", range(6))
@pytest.mark.parametrize("margin_m", [0.0, 300.0, 2_000.0])
def test_no_node_within_the_margin_lies_in_another_cell(
    grid: TinyRegion, seed: int, margin_m: float
) -> None:
    roads = grid.roads
    x, y = _line(seed)
    cells = cells_near(roads, x / EAST_M, y / NORTH_M, margin_m)
    row = np.floor((roads.node_lat - roads.grid_south) / roads.grid_step_lat).astype(int)
    col = np.floor((roads.node_lon - roads.grid_west) / roads.grid_step_lon).astype(int)
    within = (cells.first[row] <= col) & (col <= cells.last[row])
    nodes = shapely.points(roads.node_lon * EAST_M, roads.node_lat * NORTH_M)
    line = shapely.LineString(np.column_stack((x, y)))
    away = shapely.distance(nodes, line)
    assert within[away <= margin_m - 1].all()
    # More at the corners, by whole cells, and what lies between two parts of a row.
    cell_m = roads.grid_step_lat * NORTH_M
    beyond = shapely.distance(nodes, shapely.convex_hull(line))
    assert not within[beyond > np.sqrt(2) * (margin_m + 2 * cell_m)].any()


def test_a_line_off_the_map_has_no_roads(grid: TinyRegion) -> None:
    far = np.array([5.0, 5.01])
    assert not edges_near(grid.roads, far, far, 1_000.0).any()
    cells = cells_near(grid.roads, far, far, 1_000.0)
    assert (cells.first > cells.last).all()


def test_local_roads_are_the_regions_own_numbered_anew(grid: TinyRegion) -> None:
    roads = grid.roads
    usable = np.arange(roads.n_edges) % 3 != 0
    time_s = np.where(np.arange(roads.n_edges) % 5 == 0, np.nan, roads.edge_length_m / 10)
    x, y = _line(1)
    near = edges_near(roads, x / EAST_M, y / NORTH_M, 500.0)
    local = roads_near(roads, x / EAST_M, y / NORTH_M, margin_m=500.0, usable=usable, time_s=time_s)
    np.testing.assert_array_equal(local.edge, np.flatnonzero(near))
    np.testing.assert_array_equal(local.node[local.u], roads.edge_u[near])
    np.testing.assert_array_equal(local.node[local.v], roads.edge_v[near])
    ends = np.unique(np.r_[roads.edge_u[near], roads.edge_v[near]])
    np.testing.assert_array_equal(local.node, ends)
    np.testing.assert_array_equal(local.usable, (usable & ~np.isnan(time_s))[near])
    np.testing.assert_array_equal(local.length_m, roads.edge_length_m[near])
    np.testing.assert_array_equal(local.oneway, roads.ways.oneway[roads.edge_way[near]])
    every = np.arange(roads.n_nodes)
    found = local.local_node(every)
    np.testing.assert_array_equal(found >= 0, np.isin(every, ends))
    np.testing.assert_array_equal(local.node[found[found >= 0]], ends)
    edges = local.local_edge(np.arange(roads.n_edges))
    np.testing.assert_array_equal(edges >= 0, near)
    assert local.local_edge(np.array([-1])).tolist() == [-1]


def test_arcs_of_local_roads_run_where_they_may(grid: TinyRegion) -> None:
    roads = grid.roads
    usable = np.arange(roads.n_edges) % 4 != 0
    local = roads_of(roads, np.ones(roads.n_edges, bool), usable=usable,
                     time_s=roads.edge_length_m)  # fmt: skip
    for graph, open_ in (
        (local.graph(), usable), (local.graph(usable=~usable), ~usable),
    ):  # fmt: skip
        oneway = roads.ways.oneway[roads.edge_way]
        arcs = np.bincount(graph.edge, minlength=roads.n_edges)
        np.testing.assert_array_equal(arcs, np.where(open_, np.where(oneway == 0, 2, 1), 0))
    ahead, back = local.graph(), local.graph(reverse=True)
    tail = np.repeat(np.arange(ahead.n_nodes), np.diff(ahead.start))
    back_tail = np.repeat(np.arange(back.n_nodes), np.diff(back.start))
    assert set(zip(tail, ahead.head, ahead.edge, strict=True)) == set(
        zip(back.head, back_tail, back.edge, strict=True)
    )


def test_nothing_near_is_an_empty_map(grid: TinyRegion) -> None:
    none = np.zeros(grid.roads.n_edges, bool)
    local = roads_of(grid.roads, none, usable=~none, time_s=grid.roads.edge_length_m)
    assert len(local.edge) == len(local.node) == 0
    assert local.local_node(np.array([0, 3])).tolist() == [-1, -1]


def test_points_are_laid_on_the_nearest_usable_edge(grid: TinyRegion) -> None:
    roads, lines = grid.roads, _lines(grid)
    rng = np.random.default_rng(4)
    xy = rng.uniform(0, _STEP_M * (_SIDE - 1), (200, 2))
    usable = rng.random(roads.n_edges) < 0.6
    within_m = 250.0
    got = snap_points(xy[:, 0] / EAST_M, xy[:, 1] / NORTH_M, roads, usable, within_m=within_m)
    apart = shapely.distance(shapely.points(xy)[:, None], np.array(lines)[None])
    nearest = np.where(usable, apart, np.inf).min(axis=1)
    found = got.edge >= 0
    assert found[nearest < within_m - 1].all() and not found[nearest > within_m + 1].any()
    assert 20 < found.sum() < 200
    assert usable[got.edge[found]].all()
    np.testing.assert_allclose(got.dist_m[found], nearest[found], atol=0.5)
    for i in np.flatnonzero(found).tolist():
        at = lines[got.edge[i]].interpolate(float(got.at_m[i]))
        assert at.distance(shapely.Point(xy[i])) == pytest.approx(nearest[i], abs=0.5)
    assert np.isnan(got.at_m[~found]).all() and np.isnan(got.dist_m[~found]).all()


def test_a_junction_where_a_closed_road_begins_is_on_the_open_one(tmp_path: Path) -> None:
    """One position stands for all edges of a junction: the open ones count, whichever it names."""
    drawn = TinyMap(nodes={"a": (0, 0), "b": (900, 0), "c": (900, 900), "d": (1800, 0)})
    drawn.way("ab", PAVED).way("bc", PAVED).way("bd", PAVED)
    region = drawn.read(tmp_path)
    for ends in ("ab", "bc", "bd"):
        edge, ahead = region.edge(*ends)
        usable = np.zeros(region.roads.n_edges, bool)
        usable[edge] = True
        # South of the junction, beyond the ends of all three.
        got = snap_points(
            np.array([900 / EAST_M]), np.array([-80 / NORTH_M]), region.roads, usable,
            within_m=100.0,
        )  # fmt: skip
        assert got.edge.tolist() == [edge] and got.dist_m[0] == pytest.approx(80, abs=0.5)
        at_b = (ends[1] == "b") == ahead
        length = float(region.roads.edge_length_m[edge])
        assert got.at_m[0] == pytest.approx(length if at_b else 0.0, abs=0.5)
