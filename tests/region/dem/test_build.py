"""Elevation files into a region: .hgt facts, GeoTIFF, voids, edges, and every kind of bad file."""

from __future__ import annotations

import gzip
import math
import zipfile
from pathlib import Path

import numpy as np
import pytest
import rasterio
from rasterio.crs import CRS
from rasterio.transform import Affine
from rasterio.warp import transform

from terrain.calc.elevation import sample_heights
from terrain.errors import MapDataError, RegionDamaged
from terrain.region.dem.build import build_heights, heights_disagree, open_heights
from terrain.region.dem.files import corner_of, hgt_bytes, open_hgt, tile_name
from terrain.values.heights import VOID, HeightFlag

BOX = (1.2, 42.2, 1.8, 42.8)


def write_hgt(folder: Path, name: str, grid: np.ndarray) -> Path:
    path = folder / f"{name}.hgt"
    path.write_bytes(grid.astype(">i2").tobytes())
    return path


def slope(lon: int, lat: int, size: int = 1201) -> np.ndarray:
    """100 m per degree east, 1000 m per degree north: planes meet at every tile edge."""
    east = lon + np.arange(size) / (size - 1)
    north = lat + np.arange(size)[::-1] / (size - 1)
    return np.rint(100 * east[None, :] + 1000 * (north[:, None] - 42))


def write_tiff(
    path: Path, grid: np.ndarray, *, crs: str | None = "EPSG:4326", step: float = 1 / 1200,
    west: float = 1.0, north: float = 43.0, nodata: float | None = None, count: int = 1,
) -> Path:  # fmt: skip
    """west, north : the first sample (a pixel's middle)."""
    with rasterio.open(
        path, "w", driver="GTiff", dtype=grid.dtype, count=count, nodata=nodata,
        width=grid.shape[1], height=grid.shape[0], crs=crs,
        transform=Affine(step, 0, west - step / 2, 0, -step, north + step / 2),
    ) as out:  # fmt: skip
        for band in range(1, count + 1):
            out.write(grid, band)
    return path


def sampled(folder: Path, *points: tuple[float, float]) -> tuple[np.ndarray, np.ndarray]:
    lon, lat = np.array(points, dtype=float).T
    return sample_heights(open_heights(folder), lon, lat)


def test_hgt_facts(shared_data: Path) -> None:
    """SRTM FAQ: 1201 x 1201 big-endian 16-bit samples are 2,884,802 bytes, 3601 x 3601 are
    25,934,402; the name is the south-west corner, edge rows are shared."""
    south = open_hgt(shared_data / "dem" / "N41E001.hgt.zip")
    north = open_hgt(shared_data / "dem" / "N42E001.hgt.zip")
    fine = open_hgt(shared_data / "dem" / "N48W125.hgt.zip")
    assert len(hgt_bytes(north.path)) == 2_884_802
    assert len(hgt_bytes(fine.path)) == 25_934_402
    assert (north.grid.west, north.grid.south, north.grid.rows) == (1, 42, 1201)
    assert (fine.grid.west, fine.grid.south, fine.grid.cols) == (-125, 48, 3601)
    assert (north.grid.east, north.grid.north) == (pytest.approx(2), pytest.approx(43))
    shared_edge = south.read((0, 1), (0, 1201)), north.read((1200, 1201), (0, 1201))
    np.testing.assert_array_equal(*shared_edge)
    # Recorded of this tile beside it: 7652 voids, 349 to 3100 m.
    heights = north.read((0, 1201), (0, 1201))
    assert int(np.isnan(heights).sum()) == 7652
    assert (np.nanmin(heights), np.nanmax(heights)) == (349, 3100)


@pytest.mark.parametrize(
    ("name", "corner"),
    [
        ("N42E001.hgt", (1, 42)),
        ("S01W072.SRTMGL1.hgt.zip", (-72, -1)),
        ("n48w125.hgt.gz", (-125, 48)),
        ("S90W180.hgt", (-180, -90)),
        ("N00E179.hgt", (179, 0)),
    ],
)
def test_name_gives_the_corner(name: str, corner: tuple[int, int]) -> None:
    assert corner_of(name) == corner
    assert tile_name(*corner) == name[:7].upper()


@pytest.mark.parametrize("name", ["tile.hgt", "N4E1.hgt", "N42E0010.hgt", "N95E001.hgt", "42N.hgt"])
def test_name_gives_no_corner(name: str) -> None:
    assert corner_of(name) is None


def test_plain_gzip_and_zip_hold_the_same(tmp_path: Path) -> None:
    plain = write_hgt(tmp_path, "N42E001", slope(1, 42))
    data = plain.read_bytes()
    packed = tmp_path / "gz" / "N42E001.hgt.gz"
    packed.parent.mkdir()
    packed.write_bytes(gzip.compress(data, 1))
    archive = tmp_path / "zip" / "N42E001.SRTMGL3.hgt.zip"
    archive.parent.mkdir()
    with zipfile.ZipFile(archive, "w", zipfile.ZIP_DEFLATED) as out:
        out.writestr("N42E001.hgt", data)
    results = []
    for i, path in enumerate((plain, packed, archive)):
        summary = build_heights([path], BOX, tmp_path / f"out{i}")
        assert summary.covered_share == 1.0
        assert summary.notes == ()
        results.append(sampled(tmp_path / f"out{i}", (1.4, 42.3), (1.75, 42.7))[0])
    np.testing.assert_array_equal(results[0], results[1])
    np.testing.assert_array_equal(results[0], results[2])
    assert results[0] == pytest.approx([440, 875], abs=1)


def test_a_folder_of_tiles_and_files_not_needed(tmp_path: Path) -> None:
    folder = tmp_path / "tiles"
    folder.mkdir()
    for lat in (41, 42, 50):
        write_hgt(folder, f"N{lat}E001", slope(1, lat))
    (folder / "readme.txt").write_text("not a tile")
    said: list[tuple[str, float]] = []
    summary = build_heights(
        [folder], (1.2, 41.8, 1.8, 42.2), tmp_path / "out", lambda *a: said.append(a)
    )
    assert summary.n_files == 2
    assert said[-1][1] == 1.0
    assert [share for _, share in said] == sorted(share for _, share in said)
    ele, flag = sampled(tmp_path / "out", *[(1.5, lat) for lat in np.linspace(41.9, 42.1, 41)])
    assert ele == pytest.approx(150 + 1000 * np.linspace(-0.1, 0.1, 41), abs=0.6)
    assert (flag == HeightFlag.MEASURED).all()


def test_a_one_second_tile_outranks_a_three_second_tile_and_falls_back_on_it(
    tmp_path: Path,
) -> None:
    fine = np.full((3601, 3601), 500, np.int16)
    fine[:, 1800:] = VOID
    paths = [write_hgt(tmp_path, "N42E001", fine)]
    (tmp_path / "coarse").mkdir()
    paths.append(write_hgt(tmp_path / "coarse", "N42E001", np.full((1201, 1201), 300)))
    build_heights(paths, (1.45, 42.45, 1.55, 42.55), tmp_path / "out")
    ele, flag = sampled(tmp_path / "out", (1.46, 42.5), (1.54, 42.5))
    assert ele.tolist() == [500, 300]
    assert (flag == HeightFlag.MEASURED).all()


def test_voids_are_filled_marked_and_agree_across_the_shared_edge(tmp_path: Path) -> None:
    north, south = slope(1, 42), slope(1, 41)
    north[1197:, 600:606] = VOID  # the void lies over the edge between the two tiles
    south[:4, 600:606] = VOID
    paths = [write_hgt(tmp_path, "N42E001", north), write_hgt(tmp_path, "N41E001", south)]
    summary = build_heights(paths, (1.2, 41.8, 1.8, 42.2), tmp_path / "out")
    assert summary.covered_share == 1.0
    middle = 1 + 602.5 / 1200
    lat = np.linspace(42 - 2 / 1200, 42 + 2 / 1200, 9)
    ele, flag = sampled(tmp_path / "out", *[(middle, y) for y in lat])
    assert ele == pytest.approx(100 * middle + 1000 * (lat - 42), abs=1.5)
    assert (flag == HeightFlag.FILLED).all()
    assert sampled(tmp_path / "out", (1.4, 42.0))[1] == HeightFlag.MEASURED


def test_a_void_wider_than_two_kilometres_stays_unknown_and_is_told(tmp_path: Path) -> None:
    grid = slope(1, 42)
    grid[400:800, 400:800] = VOID
    summary = build_heights([write_hgt(tmp_path, "N42E001", grid)], BOX, tmp_path / "out")
    ele, flag = sampled(tmp_path / "out", (1.5, 42.5), (1.21, 42.5))
    assert np.isnan(ele[0]) and flag[0] == HeightFlag.UNKNOWN
    assert flag[1] == HeightFlag.MEASURED
    assert any("stay unknown" in note and "N42E001" in note for note in summary.notes)


def test_heights_no_ground_can_have_count_as_void(tmp_path: Path) -> None:
    """From memory: Everest is 8849 m, the Dead Sea's shore about -430 m."""
    grid = slope(1, 42)
    grid[600, 600], grid[500, 500] = 12_000, -9_999
    build_heights([write_hgt(tmp_path, "N42E001", grid)], BOX, tmp_path / "out")
    ele, flag = sampled(tmp_path / "out", (1.5, 42.5), (1 + 500 / 1200, 43 - 500 / 1200))
    assert ele == pytest.approx([650, 100 * (1 + 500 / 1200) + 1000 * (1 - 500 / 1200)], abs=1.5)
    assert (flag == HeightFlag.FILLED).all()


def test_a_missing_tile_is_named(tmp_path: Path) -> None:
    path = write_hgt(tmp_path, "N42E001", slope(1, 42))
    summary = build_heights([path], (1.2, 41.5, 1.8, 42.5), tmp_path / "out")
    assert 0.4 < summary.covered_share < 0.6
    assert len(summary.notes) == 1
    assert "N41E001" in summary.notes[0]


def test_sea_stays_zero_and_is_told(tmp_path: Path) -> None:
    path = write_hgt(tmp_path, "N42E001", np.zeros((1201, 1201)))
    summary = build_heights([path], BOX, tmp_path / "out")
    assert sampled(tmp_path / "out", (1.5, 42.5))[0] == 0
    assert summary.notes == ("Every height in the region is 0: the tiles hold only sea.",)


def test_tiles_that_contradict_the_map_are_told(shared_data: Path, tmp_path: Path) -> None:
    """A tile under its neighbour's name: heights of passes and towns (OSM `ele`) give it away."""
    places = np.array(
        [
            (1.719381, 42.540176, 2408), (1.572313, 42.556098, 1980),
            (1.449994, 42.459357, 1910), (1.547910, 42.527751, 1795),
            (1.419741, 42.546360, 2306), (1.521247, 42.506939, 1011),
            (1.5, 42.5, np.nan),
        ]
    ).T  # fmt: skip
    right = shared_data / "dem" / "N42E001.hgt.zip"
    build_heights([right], BOX, tmp_path / "right")
    assert heights_disagree(open_heights(tmp_path / "right"), *places) is None
    wrong = tmp_path / "N42E001.hgt"
    wrong.write_bytes(hgt_bytes(shared_data / "dem" / "N41E001.hgt.zip"))
    known = (places[0], places[1], places[2])
    summary = build_heights([wrong], BOX, tmp_path / "wrong", known=known)
    told = heights_disagree(open_heights(tmp_path / "wrong"), *places)
    assert told is not None and "wrong name" in told and "at 6 places" in told
    assert told in summary.notes
    few = heights_disagree(open_heights(tmp_path / "wrong"), *places[:, :4])
    assert few is None


# ---- bad files ----


def refused(path: Path, tmp_path: Path, box: tuple[float, float, float, float] = BOX) -> str:
    with pytest.raises(MapDataError) as caught:
        build_heights([path], box, tmp_path / "out")
    assert path.name in caught.value.where
    assert caught.value.fix
    return str(caught.value)


def test_a_tile_of_the_wrong_size(tmp_path: Path) -> None:
    path = tmp_path / "N42E001.hgt"
    path.write_bytes(b"\0" * 2_884_800)
    assert "2884800 bytes" in refused(path, tmp_path)
    path.write_bytes(b"\0" * 30_000_000)
    assert "too large" in refused(path, tmp_path)
    path.write_bytes(b"")
    assert "cut short" in refused(path, tmp_path)


def test_a_tile_whose_name_gives_no_corner(tmp_path: Path) -> None:
    assert "N42E001.hgt" in refused(write_hgt(tmp_path, "andorra", slope(1, 42)), tmp_path)


def test_a_truncated_gzip(tmp_path: Path) -> None:
    path = tmp_path / "N42E001.hgt.gz"
    whole = gzip.compress(slope(1, 42).astype(">i2").tobytes(), 1)
    path.write_bytes(whole[:-2000])
    assert "cut short" in refused(path, tmp_path)
    # Cut, but with the size of a whole tile at its end, where gzip keeps it.
    path.write_bytes(whole[:-2000] + whole[-8:])
    assert "damaged" in refused(path, tmp_path)
    path.write_bytes(b"no gzip at all, however long it is")
    assert "damaged" in refused(path, tmp_path)


def test_a_gzip_that_unpacks_to_far_more_than_it_says(tmp_path: Path) -> None:
    path = tmp_path / "N42E001.hgt.gz"
    bomb = gzip.compress(b"\0" * 200_000_000, 1)
    path.write_bytes(bomb[:-4] + (2_884_802).to_bytes(4, "little"))
    assert "too large" in refused(path, tmp_path)


def test_archives_that_hold_no_tile_or_two_or_another(tmp_path: Path) -> None:
    path = tmp_path / "N42E001.hgt.zip"
    path.write_bytes(b"PK no archive")
    assert "cannot be opened" in refused(path, tmp_path)
    with zipfile.ZipFile(path, "w") as out:
        out.writestr("readme.txt", "nothing")
    assert "holds 0 .hgt files" in refused(path, tmp_path)
    with zipfile.ZipFile(path, "w") as out:
        out.writestr("N42E001.hgt", b"")
        out.writestr("N42E002.hgt", b"")
    assert "holds 2 .hgt files" in refused(path, tmp_path)
    with zipfile.ZipFile(path, "w") as out:
        out.writestr("N41E001.hgt", slope(1, 41).astype(">i2").tobytes())
    assert "another, N41E001.hgt" in refused(path, tmp_path)


def test_an_all_void_tile(tmp_path: Path) -> None:
    path = write_hgt(tmp_path, "N42E001", np.full((1201, 1201), VOID))
    assert "no height at all" in refused(path, tmp_path)


def test_tiles_of_another_place(tmp_path: Path) -> None:
    path = write_hgt(tmp_path, "N50E008", slope(8, 50))
    assert "Give the tiles N42E001" in refused(path, tmp_path)


def test_paths_that_are_no_elevation(tmp_path: Path) -> None:
    assert "no such" in refused(tmp_path / "N42E001.hgt", tmp_path)
    text = tmp_path / "heights.csv"
    text.write_text("1,2,3")
    assert ".hgt.gz" in refused(text, tmp_path)
    empty = tmp_path / "empty"
    empty.mkdir()
    assert "no elevation file" in refused(empty, tmp_path)


def test_a_damaged_region_says_so(tmp_path: Path) -> None:
    build_heights([write_hgt(tmp_path, "N42E001", slope(1, 42))], BOX, tmp_path / "out")
    (tmp_path / "out" / "cells.npy").write_bytes(b"short")
    with pytest.raises(RegionDamaged):
        open_heights(tmp_path / "out")


# ---- GeoTIFF ----


def test_a_geotiff_in_degrees_keeps_its_samples(tmp_path: Path) -> None:
    grid = slope(1, 42).astype(np.int16)
    path = write_tiff(tmp_path / "a.tif", grid)
    build_heights([path], BOX, tmp_path / "out")
    points = [(1 + col / 1200, 43 - row / 1200) for row, col in ((300, 400), (900, 700))]
    ele, flag = sampled(tmp_path / "out", *points)
    assert ele == pytest.approx([grid[300, 400], grid[900, 700]], abs=1e-6)
    assert (flag == HeightFlag.MEASURED).all()


def test_geotiffs_that_share_no_edge_leave_no_gap(tmp_path: Path) -> None:
    """Many open models cut tiles so that the last row of one is a step before the next's."""
    whole = slope(1, 42)
    one = write_tiff(tmp_path / "w.tif", whole[:1200, :600].astype(np.float32))
    two = write_tiff(tmp_path / "e.tif", whole[:1200, 600:1200].astype(np.float32), west=1.5)
    build_heights([one, two], BOX, tmp_path / "out")
    lon = 1.5 + np.linspace(-2, 2, 33) / 1200
    ele, flag = sampled(tmp_path / "out", *[(x, 42.5) for x in lon])
    assert ele == pytest.approx(100 * lon + 500, abs=0.6)
    assert (flag == HeightFlag.MEASURED).all()


def test_a_geotiff_of_decimals_keeps_quarter_metres_and_its_nodata(tmp_path: Path) -> None:
    grid = np.full((1200, 1200), 123.5, np.float32)
    grid[:, 300:310] = -9999.0
    path = write_tiff(tmp_path / "a.tif", grid, nodata=-9999.0)
    build_heights([path], BOX, tmp_path / "out")
    ele, flag = sampled(tmp_path / "out", (1.7, 42.5), (1 + 305 / 1200, 42.5))
    assert ele.tolist() == [123.5, 123.5]
    assert flag.tolist() == [HeightFlag.MEASURED, HeightFlag.FILLED]


def test_a_projected_geotiff_is_laid_on_degrees(tmp_path: Path) -> None:
    """UTM zone 31 N, 30 m: heights made from position come back at that position.

    Reference for the projection: PROJ through rasterio.warp.transform.
    """
    utm = CRS.from_epsg(32631)
    (west,), (south,) = transform("EPSG:4326", utm, [1.15], [42.15])
    rows = cols = 1800
    x = west + 30 * (np.arange(cols) + 0.5)
    y = south + 30 * (rows - np.arange(rows) - 0.5)
    grid = ((x[None, :] - west) * 0.02 + (y[:, None] - south) * 0.01).astype(np.float32)
    path = tmp_path / "utm.tif"
    with rasterio.open(
        path, "w", driver="GTiff", dtype="float32", count=1, width=cols, height=rows,
        crs=utm, transform=Affine(30, 0, west, 0, -30, south + 30 * rows),
    ) as out:  # fmt: skip
        out.write(grid, 1)
    box = (1.25, 42.25, 1.6, 42.55)
    summary = build_heights([path], box, tmp_path / "out")
    assert summary.covered_share == 1.0
    rng = np.random.default_rng(2)
    points = list(zip(rng.uniform(1.25, 1.6, 200), rng.uniform(42.25, 42.55, 200), strict=True))
    px, py = transform("EPSG:4326", utm, [p[0] for p in points], [p[1] for p in points])
    wanted = (np.array(px) - west) * 0.02 + (np.array(py) - south) * 0.01
    assert sampled(tmp_path / "out", *points)[0] == pytest.approx(wanted, abs=0.3)
    # Outside the file's own square nothing may be made up.
    far = build_heights([path], (0.9, 42.0, 1.6, 42.5), tmp_path / "far")
    assert far.covered_share < 0.7
    assert math.isnan(sampled(tmp_path / "far", (1.0, 42.3))[0][0])


def test_a_geotiff_in_feet(tmp_path: Path) -> None:
    path = write_tiff(tmp_path / "ft.tif", np.full((1200, 1200), 1000, np.int16))
    with rasterio.open(path, "r+") as out:
        out.units = ("foot",)
    build_heights([path], BOX, tmp_path / "out")
    assert sampled(tmp_path / "out", (1.5, 42.5))[0] == pytest.approx([304.8], abs=0.13)


def test_a_picture_is_refused(tmp_path: Path) -> None:
    path = write_tiff(tmp_path / "rgb.tif", np.zeros((50, 50), np.uint8), count=3)
    assert "3 band(s) of uint8" in refused(path, tmp_path)


def test_a_geotiff_without_a_place_is_refused(tmp_path: Path) -> None:
    path = write_tiff(tmp_path / "no.tif", np.zeros((50, 50), np.int16), crs=None)
    assert "where on Earth" in refused(path, tmp_path)


def test_a_cut_geotiff_is_refused(tmp_path: Path) -> None:
    path = write_tiff(tmp_path / "cut.tif", slope(1, 42).astype(np.int16))
    path.write_bytes(path.read_bytes()[:500_000])
    assert "cannot be read" in refused(path, tmp_path)
    path.write_bytes(b"II*\0 not a tiff")
    assert "cannot be read" in refused(path, tmp_path)
