"""Where on the ride a drawn note lies, reckoned by hand."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from terrain.stages.ground import notes


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
