"""Filling holes: exact on planes, nothing invented far away, and on real terrain."""

from __future__ import annotations

import zipfile
from pathlib import Path

import numpy as np
import pytest
from rasterio.fill import fillnodata

from terrain.region.dem.voids import fill_voids


def plane(rows: int = 20, cols: int = 24) -> np.ndarray:
    row, col = np.mgrid[:rows, :cols]
    return 500.0 + 7.0 * row - 3.0 * col


def test_a_hole_in_a_plane_is_filled_with_the_plane() -> None:
    grid = plane()
    grid[6:11, 8:12] = np.nan
    grid[14, 3] = np.nan
    assert fill_voids(grid, reach=5) == pytest.approx(plane(), abs=1e-6)


def test_the_input_is_not_changed_and_known_heights_stay() -> None:
    rng = np.random.default_rng(0)
    grid = rng.uniform(0, 1000, (15, 15))
    grid[4:6, 4:6] = np.nan
    before = grid.copy()
    out = fill_voids(grid, reach=5)
    np.testing.assert_array_equal(grid, before)
    known = ~np.isnan(grid)
    np.testing.assert_array_equal(out[known], grid[known])
    assert not np.isnan(out).any()


def test_a_hole_too_wide_stays_unknown_and_a_small_one_beside_it_does_not() -> None:
    grid = plane(40, 40)
    grid[5:25, 5:25] = np.nan
    grid[30:33, 30:33] = np.nan
    out = fill_voids(grid, reach=5)
    assert np.isnan(out[5:25, 5:25]).all()
    assert out[30:33, 30:33] == pytest.approx(plane(40, 40)[30:33, 30:33], abs=1e-6)


def test_only_holes_inside_the_mask_are_filled() -> None:
    grid = plane()
    grid[:, :4] = np.nan
    grid[8:10, 4:7] = np.nan
    inside = np.zeros(grid.shape, dtype=bool)
    inside[:, 4:] = True
    out = fill_voids(grid, reach=5, inside=inside)
    assert np.isnan(out[:, :4]).all()
    assert not np.isnan(out[:, 4:]).any()


def test_all_void_stays_void() -> None:
    assert np.isnan(fill_voids(np.full((5, 5), np.nan), reach=99)).all()


def test_a_fill_never_runs_far_beyond_its_rim() -> None:
    grid = np.full((12, 12), 100.0)
    grid[:, :5] = np.linspace(900, 500, 5)
    grid[4:8, 5:9] = np.nan
    out = fill_voids(grid, reach=5)
    assert out.min() >= 100 - 400
    assert out.max() <= 900 + 400


def test_beats_inverse_distance_filling_on_real_terrain(shared_data: Path) -> None:
    """The real holes of N42E001 moved to where heights are known, then filled.

    Reference: GDAL's inverse-distance fill (rasterio.fill.fillnodata) of the same holes.
    """
    with zipfile.ZipFile(shared_data / "dem" / "N42E001.hgt.zip") as archive:
        cells = np.frombuffer(archive.read("N42E001.hgt"), ">i2").reshape(1201, 1201)
    truth = np.where(cells == -32768, np.nan, cells.astype(float))
    hole = np.isnan(truth)[::-1] & ~np.isnan(truth)
    cut = np.where(hole, np.nan, truth)
    ours = fill_voids(cut, reach=11)
    known = ~np.isnan(cut)
    theirs = fillnodata(
        np.where(known, cut, 0).astype(np.float32),
        mask=known.astype(np.uint8),
        max_search_distance=30,
    )
    assert hole.sum() > 5000
    assert not np.isnan(ours[hole]).any()
    ours_rmse = float(np.sqrt(np.mean((ours - truth)[hole] ** 2)))
    theirs_rmse = float(np.sqrt(np.mean((theirs - truth)[hole] ** 2)))
    assert ours_rmse < 0.8 * theirs_rmse
    assert ours_rmse < 20
