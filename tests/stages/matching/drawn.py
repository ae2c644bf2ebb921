"""Lines drawn by hand over tiny maps, in metres east and north of 0 N 0 E."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import shapely

from terrain.values.arrays import FloatArray
from terrain.values.match import Match
from terrain.values.route import Route, RouteKind
from tests.stages.tinymap import EAST_M, NORTH_M

Line = Sequence[tuple[float, float]]


def route_of(
    *parts: Line, every_m: float | None = None, noise_m: float = 0.0, planned: bool = False
) -> Route:
    """A route of one or more parts of a file.

    every_m : spacing of points put along each part, its corners kept; None leaves the corners only
    noise_m : standard deviation of a recording's error, by axis
    """
    lines = [np.array(p, dtype=float) for p in parts]
    if every_m is not None:
        lines = [_dense(line, every_m) for line in lines]
    xy = np.concatenate(lines)
    xy += np.random.default_rng(1).normal(0.0, noise_m, xy.shape)
    n = len(xy)
    return Route(
        name="drawn", kind=RouteKind.ROUTE if planned else RouteKind.TRACK,
        lon=xy[:, 0] / EAST_M, lat=xy[:, 1] / NORTH_M, ele_m=np.full(n, np.nan),
        piece=np.repeat(np.arange(len(lines), dtype=np.int32), [len(line) for line in lines]),
        shaping=np.zeros(n, bool), planned=np.full(n, planned), source="drawn.gpx",
    )  # fmt: skip


def _dense(line: FloatArray, every_m: float) -> FloatArray:
    step = np.hypot(*np.diff(line, axis=0).T)
    along = np.r_[0.0, np.cumsum(step)]
    at = np.union1d(along, np.arange(0.0, along[-1], every_m))
    return np.stack([np.interp(at, along, line[:, 0]), np.interp(at, along, line[:, 1])], axis=1)


def aside(line: Line, offset_m: float) -> list[tuple[float, float]]:
    """A straight line moved to its left."""
    (x0, y0), (x1, y1) = line[0], line[-1]
    length = float(np.hypot(x1 - x0, y1 - y0))
    dx, dy = -(y1 - y0) / length * offset_m, (x1 - x0) / length * offset_m
    return [(x + dx, y + dy) for x, y in line]


def ridden_m(match: Match) -> FloatArray:
    """The ride line in metres, shape (p, 2)."""
    return np.stack([match.lon * EAST_M, match.lat * NORTH_M], axis=1)


def assert_same_line(match: Match, line: Line, tolerance_m: float = 1.0) -> None:
    """The ride goes along a line, all of it, and no farther."""
    ride, want = shapely.LineString(ridden_m(match)), shapely.LineString(line)
    apart = max(
        shapely.hausdorff_distance(ride, want, 0.02), shapely.hausdorff_distance(want, ride, 0.02)
    )
    assert apart <= tolerance_m, f"ride and line lie {apart:.1f} m apart"
    assert abs(match.length_m - want.length) <= tolerance_m + 1e-3 * want.length


def assert_ways(match: Match, ways: Sequence[tuple[int, float]], tolerance_m: float = 1.0) -> None:
    """The ways ridden, in order, and how far on each."""
    assert [way for way, _ in match.ways] == [way for way, _ in ways]
    np.testing.assert_allclose(
        [m for _, m in match.ways], [m for _, m in ways], atol=tolerance_m, rtol=1e-3
    )
