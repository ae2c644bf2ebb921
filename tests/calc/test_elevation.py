"""Bilinear heights: hand-worked values, tile edges, voids, and against GDAL's own resampling."""

from __future__ import annotations

import time
import zipfile
from pathlib import Path

import numpy as np
import pytest
import rasterio
from hypothesis import given
from hypothesis import strategies as st
from rasterio.enums import Resampling
from rasterio.transform import Affine
from rasterio.vrt import WarpedVRT

from terrain.calc.elevation import sample_heights
from terrain.values.heights import VOID, HeightFlag, HeightsView
from tests.heights import heights_of


def view_of(grid: list[list[int]], west: float = 10.0, south: float = 50.0) -> HeightsView:
    return heights_of([np.array(grid, dtype=np.int16)], south_west=[(west, south)], step_deg=0.5)


def heights_at(view: HeightsView, *points: tuple[float, float]) -> list[float]:
    lon, lat = np.array(points, dtype=float).reshape(-1, 2).T
    return [float(h) for h in sample_heights(view, lon, lat)[0]]


def test_worked_values_between_four_samples() -> None:
    view = view_of([[10, 20], [30, 60]])  # north row first
    assert heights_at(view, (10, 50), (10.5, 50), (10, 50.5), (10.5, 50.5)) == [30, 60, 10, 20]
    assert heights_at(view, (10.25, 50.25), (10.25, 50), (10.5, 50.375)) == [30, 45, 30]


def test_outside_the_tiles_is_unknown() -> None:
    view = view_of([[1, 2], [3, 4]])
    ele, flag = sample_heights(
        view, np.array([9.9, 10.6, 10.2, 10.2, np.nan]), np.array([50.2, 50.2, 49.9, 50.6, 50.2])
    )
    assert np.isnan(ele).all()
    assert (flag == HeightFlag.UNKNOWN).all()


def test_no_points_and_no_tiles() -> None:
    none = np.zeros(0)
    assert len(sample_heights(view_of([[1, 2], [3, 4]]), none, none)[0]) == 0
    empty = heights_of([], south_west=[], step_deg=1.0)
    assert np.isnan(sample_heights(empty, np.array([1.0]), np.array([2.0]))[0]).all()


def test_a_void_corner_counts_only_where_it_has_weight() -> None:
    view = view_of([[10, VOID], [30, 60]])
    ele = heights_at(view, (10, 50.25), (10.25, 50), (10.25, 50.25), (10.5, 50.5))
    assert ele[:2] == [20, 45]
    assert np.isnan(ele[2:]).all()


def test_a_coarser_tile_answers_where_the_finer_is_void() -> None:
    fine = np.full((3, 3), VOID, np.int16)
    fine[2, :2] = fine[1, :2] = 7
    view = heights_of(
        [fine, np.full((3, 3), 9, np.int16)], south_west=[(0, 0), (0, 0)], step_deg=0.5
    )
    assert heights_at(view, (0.25, 0.25), (0.75, 0.75)) == [7, 9]


def test_two_tiles_meet_without_a_gap_or_a_step() -> None:
    """Tiles share their edge rows (SRTM topography document): the heights run on across."""
    row = np.arange(9, dtype=np.int16) * 10
    left, right = np.tile(row[:5], (5, 1)), np.tile(row[4:], (5, 1))
    view = heights_of([left, right], south_west=[(1, 0), (2, 0)], step_deg=0.25)
    lon = np.linspace(1, 3, 201)
    ele, flag = sample_heights(view, lon, np.full(201, 0.4))
    assert ele == pytest.approx((lon - 1) * 40)
    assert (flag == HeightFlag.MEASURED).all()


@pytest.mark.parametrize("turn", [-360.0, 0.0, 360.0])
def test_longitudes_may_run_past_the_180th_meridian(turn: float) -> None:
    row = np.array([[0, 10, 20], [0, 10, 20]], dtype=np.int16)
    view = heights_of([row, row + 20], south_west=[(179.0, 0), (-180.0, 0)], step_deg=0.5)
    ele = heights_at(view, (179.25 + turn, 0.2), (180.25 + turn, 0.2), (180.0 + turn, 0.2))
    assert ele == pytest.approx([5, 25, 20])


@given(
    corners=st.lists(st.integers(-400, 9000), min_size=4, max_size=4),
    x=st.floats(0, 0.5),
    y=st.floats(0, 0.5),
)
def test_a_height_lies_between_its_four_corners(corners: list[int], x: float, y: float) -> None:
    view = view_of([corners[:2], corners[2:]])
    (ele,) = heights_at(view, (10 + x, 50 + y))
    assert min(corners) - 1e-6 <= ele <= max(corners) + 1e-6


def gdal_bilinear(path: str, dx: float, dy: float) -> np.ndarray:
    """GDAL's bilinear heights at all samples moved by dx, dy of a step (east and north)."""
    with rasterio.open(path) as source:
        t = source.transform
        moved = Affine(t.a, 0, t.c + dx * t.a, 0, t.e, t.f - dy * t.e)
        with WarpedVRT(
            source,
            crs="EPSG:4326",
            transform=moved,
            width=source.width,
            height=source.height,
            resampling=Resampling.bilinear,
            dtype="float32",
        ) as warped:
            return np.asarray(warped.read(1))


@pytest.mark.parametrize(("dx", "dy"), [(0.25, 0.25), (0.5, 0.5), (0.9, 0.1), (0.0, 0.7)])
def test_agrees_with_gdal_on_a_geotiff(tmp_path: Path, dx: float, dy: float) -> None:
    rng = np.random.default_rng(4)
    grid = rng.integers(0, 3000, (40, 50)).astype(np.int16)
    path = tmp_path / "grid.tif"
    step = 1 / 1200
    # GDAL keeps a pixel's corner, terrain the sample in its middle.
    origin = Affine(step, 0, 8 - step / 2, 0, -step, 47 + step / 2)
    with rasterio.open(
        path, "w", driver="GTiff", dtype="int16", count=1, width=50, height=40,
        crs="EPSG:4326", transform=origin,
    ) as out:  # fmt: skip
        out.write(grid, 1)
    theirs = gdal_bilinear(str(path), dx, dy)[2:-2, 2:-2]
    view = heights_of([grid], south_west=[(8, 47 - 39 * step)], step_deg=step)
    row, col = np.mgrid[2:38, 2:48]
    ours, _ = sample_heights(
        view, (8 + (col + dx) * step).ravel(), (47 - (row - dy) * step).ravel()
    )
    assert np.abs(ours.reshape(theirs.shape) - theirs).max() < 1e-3


@pytest.mark.parametrize(("dx", "dy"), [(0.3, 0.6), (0.5, 0.5)])
def test_agrees_with_gdal_on_a_real_tile(shared_data: Path, dx: float, dy: float) -> None:
    """N42E001, SRTM 3 arc seconds, read by GDAL's own SRTMHGT driver, in the Pyrenees."""
    path = shared_data / "dem" / "N42E001.hgt.zip"
    theirs = gdal_bilinear(f"zip://{path}!N42E001.hgt", dx, dy)
    with zipfile.ZipFile(path) as archive:
        cells = np.frombuffer(archive.read("N42E001.hgt"), ">i2").reshape(1201, 1201)
    view = heights_of([cells.astype(np.int16)], south_west=[(1, 42)], step_deg=1 / 1200)
    row, col = np.mgrid[400:700, 500:900]
    ours, _ = sample_heights(
        view, (1 + (col + dx) / 1200).ravel(), (43 - (row - dy) / 1200).ravel()
    )
    wanted = theirs[400:700, 500:900].ravel()
    known = ~np.isnan(ours)
    assert known.mean() > 0.95
    assert np.abs(ours - wanted)[known].max() < 1e-3


@pytest.mark.bench
def test_many_points_cost_little(shared_data: Path) -> None:
    """100,000 points cost less than a tenth of what GDAL's sample takes for the same points.

    Measured as a ratio, so that a slow machine does not matter: 15 ms against 2.7 s.
    """
    path = shared_data / "dem" / "N42E001.hgt.zip"
    rng = np.random.default_rng(1)
    lon, lat = rng.uniform(1.1, 1.9, 100_000), rng.uniform(42.1, 42.9, 100_000)
    with rasterio.open(f"zip://{path}!N42E001.hgt") as source:
        view = heights_of(
            [np.asarray(source.read(1), np.int16)], south_west=[(1, 42)], step_deg=1 / 1200
        )
        began = time.process_time()
        few = list(zip(lon[:10_000], lat[:10_000], strict=True))
        assert len(list(source.sample(few))) == 10_000
        theirs = 10 * (time.process_time() - began)
    ours = []
    for _ in range(3):
        began = time.process_time()
        sample_heights(view, lon, lat)
        ours.append(time.process_time() - began)
    assert min(ours) < theirs / 10
