"""Where the ride lies within areas, against shapely's own intersection of line and polygon."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import shapely

from terrain.stages.matching import match_route
from terrain.stages.places.areas import areas_along
from terrain.values.match import Match
from terrain.values.places import AreaKind, AreasView
from tests.stages.matching.drawn import route_of
from tests.stages.tinymap import EAST_M, NORTH_M, TinyMap


@pytest.fixture
def ride(tmp_path: Path) -> Match:
    """9 km due east on one road."""
    land = TinyMap(nodes={"a": (0, 0), "b": (9000, 0)})
    land.way("ab", {"highway": "tertiary"})
    return match_route(route_of([(0, 0), (9000, 0)], every_m=50.0), land.read(tmp_path).roads)


def areas_of(*rings: tuple[int, list[tuple[float, float]]]) -> AreasView:
    """Areas from rings of (area, corners in metres)."""
    lines = [np.array([*xy, xy[0]]) / [EAST_M, NORTH_M] for _, xy in rings]
    n = max(area for area, _ in rings) + 1
    points = np.concatenate(lines)
    return AreasView(
        kind=np.arange(n, dtype=np.int8) % 2, name=tuple(f"area {i}" for i in range(n)),
        ring_area=np.array([area for area, _ in rings], np.int32),
        ring_start=np.concatenate([[0], np.cumsum([len(x) for x in lines])]).astype(np.int64),
        lon=points[:, 0].copy(), lat=points[:, 1].copy(),
    )  # fmt: skip


def box(west: float, east: float, reach: float = 500.0) -> list[tuple[float, float]]:
    return [(west, -reach), (east, -reach), (east, reach), (west, reach)]


def test_runs_with_a_hole_and_an_overlap(ride: Match) -> None:
    found = areas_along(
        ride, areas_of((0, box(1000, 5000)), (0, box(2000, 3000, 100)), (1, box(4500, 9500)))
    )
    ends = [(run.kind, run.name, run.from_m, run.to_m) for run in found]
    for got, want in zip(
        ends,
        [
            (AreaKind.MILITARY, "area 0", 1000, 2000),
            (AreaKind.MILITARY, "area 0", 3000, 5000),
            (AreaKind.PROTECTED, "area 1", 4500, 9000),
        ],
        strict=True,
    ):
        assert got[:2] == want[:2]
        assert got[2:] == pytest.approx(want[2:], abs=30.0)


def test_rings_of_different_lengths_make_one_area(ride: Match) -> None:
    triangle = [(6000.0, -500.0), (8000.0, -500.0), (7000.0, 900.0)]
    found = areas_along(ride, areas_of((0, box(1000, 5000)), (0, triangle)))
    assert [run.from_m for run in found] == pytest.approx([1000, 6360], abs=30.0)
    assert [run.to_m for run in found] == pytest.approx([5000, 7640], abs=30.0)


def test_areas_aside_are_not_told(ride: Match) -> None:
    assert areas_along(ride, areas_of((0, [(0, 100), (9000, 100), (9000, 900)]))) == ()


@pytest.mark.parametrize("seed", range(5))
def test_length_within_equals_shapely(ride: Match, seed: int) -> None:
    rng = np.random.default_rng(seed)
    corners = rng.uniform([-1000, -3000], [10_000, 3000], (12, 2))
    star = shapely.concave_hull(shapely.multipoints(corners), ratio=0.4)
    ring = shapely.get_coordinates(star)[:-1].tolist()
    found = areas_along(ride, areas_of((0, [tuple(p) for p in ring])))
    line = shapely.LineString([(0, 0), (9000, 0)])
    want = shapely.get_parts(shapely.intersection(line, star))
    want = [part for part in want if part.length > 60.0]
    got = [run for run in found if run.to_m - run.from_m > 60.0]
    assert len(got) == len(want)
    assert sum(r.to_m - r.from_m for r in got) == pytest.approx(
        sum(part.length for part in want), abs=60.0 * max(len(want), 1)
    )
