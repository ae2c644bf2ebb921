"""Spots near others, against scipy's tree."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.spatial import cKDTree

from terrain.calc.spots import Spots


@pytest.mark.parametrize("n", [1, 7, 400, 4000])
def test_spots_as_another_tree_finds_them(n: int) -> None:
    rng = np.random.default_rng(n)
    spots, here = rng.uniform(0.0, 1000.0, (n, 2)), rng.uniform(-200.0, 1200.0, (300, 2))
    tree = cKDTree(spots)  # 400 stand in ours too, fewer are measured one by one
    away, number = Spots(spots).nearest(here, 80.0)
    their_away, their_number = tree.query(here, distance_upper_bound=80.0)
    np.testing.assert_allclose(away, their_away)
    np.testing.assert_array_equal(number, np.where(their_number == n, -1, their_number))
    for mine, theirs in zip(Spots(spots).within(here, 80.0), tree.query_ball_point(here, 80.0),
                            strict=True):  # fmt: skip
        assert mine.tolist() == sorted(theirs)


def test_no_spots_and_no_positions() -> None:
    nothing = np.zeros((0, 2))
    away, number = Spots(nothing).nearest(np.ones((2, 2)), 1.0)
    assert np.isinf(away).all() and number.tolist() == [-1, -1]
    assert [near.tolist() for near in Spots(nothing).within(np.ones((2, 2)), 1.0)] == [[], []]
    assert Spots(np.ones((2, 2))).nearest(nothing, 1.0)[0].tolist() == []


@pytest.mark.parametrize("n", [50, 500])
def test_of_spots_as_near_the_first_counts(n: int) -> None:
    """Each spot stands three times; 3 x 50 x 50 distances are measured, 3 x 500 x 500 are not."""
    spots = np.random.default_rng(1).permutation(n * n)[:n].reshape(-1, 1) * np.ones(2)
    _, number = Spots(np.concatenate([spots] * 3)).nearest(spots + 0.25, 80.0)
    assert number.tolist() == list(range(n))
