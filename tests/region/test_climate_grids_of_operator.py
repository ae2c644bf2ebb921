"""An operator's own climate grids: read, laid on one grid, and refused where they are wrong."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import rasterio
from rasterio.transform import from_origin

from terrain.errors import MapDataError
from terrain.region.climate import read_climate
from terrain.region.store import load_value, save_value
from terrain.stages.heat.climate import climate_at
from terrain.values.climate import ClimateGrid

# rasterio 1.4 with affine 3: its own use of an operator that is to go.
pytestmark = pytest.mark.filterwarnings("ignore::PendingDeprecationWarning")

BOX = (10.05, 45.05, 10.55, 45.35)


def write(
    path: Path,
    values: np.ndarray,
    *,
    crs: str | None = "EPSG:4326",
    west: float = 10.0,
    north: float = 45.5,
    step: float = 0.05,
    **tags: object,
) -> None:
    bands = values if values.ndim == 3 else values[None]
    profile = {
        "driver": "GTiff", "count": len(bands), "height": bands.shape[1],
        "width": bands.shape[2], "dtype": str(bands.dtype), "crs": crs,
        "transform": from_origin(west, north, step, step), "nodata": tags.get("nodata"),
    }  # fmt: skip
    with rasterio.open(path, "w", **profile) as target:
        target.write(bands)
        if "scale" in tags:
            target.scales = (float(str(tags["scale"])),) * len(bands)


def field(top: float, rows: int = 10, columns: int = 14) -> np.ndarray:
    """Falls by 1 K for each row southwards."""
    return np.repeat(top - np.arange(rows, dtype=np.float32)[:, None], columns, axis=1)


def folder_of(tmp_path: Path, **extra: np.ndarray) -> Path:
    folder = tmp_path / "grids"
    folder.mkdir()
    for month in range(1, 13):
        write(folder / f"tmax_{month:02d}.tif", field(20 + month))
        write(folder / f"tmin_{month:02d}.tif", field(8 + month))
    for name, values in extra.items():
        write(folder / f"{name}.tif", values)
    return folder


def test_twenty_four_files(tmp_path: Path) -> None:
    grid = read_climate(folder_of(tmp_path), BOX)
    assert grid.tmax_c.shape == grid.tmin_c.shape
    assert grid.step_lon == pytest.approx(0.05)
    # Row 5 of the files, centre at 45.225 N: 20 + 7 - 5.
    row = round((grid.north - 45.225) / grid.step_lat)
    assert grid.tmax_c[6, row].tolist() == [22.0] * grid.tmax_c.shape[2]
    assert np.isnan(grid.ele_m).all()
    got = climate_at(10.3, 45.225, 300.0, 7, own=grid)
    assert got.tmax_c == pytest.approx(22.0, abs=0.01)
    assert got.tmin_c == pytest.approx(10.0, abs=0.01)


def test_values_are_those_rasterio_gives(tmp_path: Path) -> None:
    """rasterio's own sample() of the file at cell centres."""
    folder = folder_of(tmp_path)
    grid = read_climate(folder, BOX)
    places = [(10.125 + 0.05 * i, 45.175) for i in range(8)]
    with rasterio.open(folder / "tmax_03.tif") as source:
        theirs = [float(v[0]) for v in source.sample(places)]
    ours = [climate_at(lon, lat, 0.0, 3, own=grid).tmax_c for lon, lat in places]
    np.testing.assert_allclose(ours, theirs, atol=1e-4)


def test_two_files_of_twelve_bands_and_other_names(tmp_path: Path) -> None:
    folder = tmp_path / "bands"
    folder.mkdir()
    write(folder / "world_tasmax.tif", np.stack([field(20 + m) for m in range(1, 13)]))
    write(folder / "world_tasmin.tif", np.stack([field(8 + m) for m in range(1, 13)]))
    write(folder / "notes_about.tif", field(0))
    grid = read_climate(folder, BOX)
    assert grid.tmax_c[11].max() - grid.tmax_c[0].max() == pytest.approx(11.0)


def test_heights_bring_the_place_to_its_own(tmp_path: Path) -> None:
    grid = read_climate(folder_of(tmp_path, elevation=np.full((10, 14), 500, np.float32)), BOX)
    valley = climate_at(10.3, 45.225, 500.0, 7, own=grid)
    top = climate_at(10.3, 45.225, 1500.0, 7, own=grid)
    assert valley.tmax_c - top.tmax_c == pytest.approx(6.5, abs=0.01)


def test_scaled_whole_numbers_and_holes(tmp_path: Path) -> None:
    folder = folder_of(tmp_path)
    tenths = (field(27) * 10).astype(np.int16)
    tenths[:2] = -9999
    write(folder / "tmax_07.tif", tenths, nodata=-9999, scale=0.1)
    grid = read_climate(folder, (10.05, 45.05, 10.55, 45.5))
    assert np.nanmax(grid.tmax_c[6]) == pytest.approx(25.0)
    assert np.isnan(grid.tmax_c[6]).any()


def test_another_projection_is_warped(tmp_path: Path) -> None:
    """UTM 32 N, 5 km cells, one value everywhere: the value survives."""
    folder = tmp_path / "utm"
    folder.mkdir()
    flat = np.full((40, 40), 25, np.float32)
    for month in range(1, 13):
        for kind, shift in (("tmax", 0), ("tmin", -10)):
            write(
                folder / f"{kind}{month}.tif", flat + np.float32(shift),
                crs="EPSG:32632", west=480_000, north=5_100_000, step=5_000,
            )  # fmt: skip
    grid = read_climate(folder, BOX)
    assert climate_at(10.3, 45.2, 0.0, 5, own=grid).tmax_c == pytest.approx(25.0, abs=1e-3)


def test_saved_with_a_region_and_opened_again(tmp_path: Path) -> None:
    grid = read_climate(folder_of(tmp_path), BOX)
    save_value(tmp_path / "climate", grid)
    again = load_value(tmp_path / "climate", ClimateGrid)
    np.testing.assert_array_equal(again.tmax_c, grid.tmax_c)
    assert (again.west, again.north, again.source) == (grid.west, grid.north, "grids")


def _missing(folder: Path) -> None:
    (folder / "tmin_05.tif").unlink()


def _twice(folder: Path) -> None:
    write(folder / "other_tmax_05.tif", field(20))


def _damaged(folder: Path) -> None:
    whole = (folder / "tmax_05.tif").read_bytes()
    (folder / "tmax_05.tif").write_bytes(whole[: len(whole) // 3])


def _text(folder: Path) -> None:
    (folder / "tmax_01.tif").write_text("no picture", encoding="utf-8")


def _kelvin(folder: Path) -> None:
    write(folder / "tmax_05.tif", field(298))


def _exchanged(folder: Path) -> None:
    write(folder / "tmin_05.tif", field(40))


def _nowhere(folder: Path) -> None:
    write(folder / "tmax_01.tif", field(20), crs=None)


def _far(folder: Path) -> None:
    write(folder / "tmax_01.tif", field(20), west=60.0)


def _three_bands(folder: Path) -> None:
    for month in range(1, 13):
        (folder / f"tmax_{month:02d}.tif").unlink()
    write(folder / "tmax.tif", np.stack([field(20)] * 3))


@pytest.mark.filterwarnings("ignore::rasterio.errors.NotGeoreferencedWarning")
@pytest.mark.parametrize(
    ("spoil", "said"),
    [
        (_missing, "missing: tmin_05"),
        (_twice, "two files hold tmax of month 5"),
        (_damaged, "cannot be read"),
        (_text, "cannot be read"),
        (_kelvin, "no degrees Celsius"),
        (_exchanged, "below the minima"),
        (_nowhere, "where on Earth"),
        (_far, "does not reach the region"),
        (_three_bands, "3 bands, not 12"),
    ],
)
def test_bad_grids_are_refused_with_file_and_fix(tmp_path: Path, spoil: object, said: str) -> None:
    folder = folder_of(tmp_path)
    spoil(folder)  # type: ignore[operator]
    with pytest.raises(MapDataError) as caught:
        read_climate(folder, BOX)
    assert said in str(caught.value)
    assert caught.value.fix
    assert caught.value.where


def test_no_folder(tmp_path: Path) -> None:
    with pytest.raises(MapDataError, match="no such folder"):
        read_climate(tmp_path / "nothing", BOX)


def test_a_region_built_with_climate_keeps_it(tmp_path: Path, shared_data: Path) -> None:
    """A few streets of Istanbul (OpenStreetMap, ODbL) with made-up grids round them."""
    from terrain.region.build import build_region
    from terrain.region.region import open_folder

    folder = tmp_path / "own-climate"
    folder.mkdir()
    for month in range(1, 13):
        write(folder / f"tmax_{month:02d}.tif", field(20 + month), west=28.8, north=41.3)
        write(folder / f"tmin_{month:02d}.tif", field(8 + month), west=28.8, north=41.3)
    osm = shared_data / "osm" / "mapmatch-case-a.osm.gz"
    built = build_region("streets", (osm,), home=tmp_path / "home", climate=folder)
    region = open_folder(built)
    assert region.climate is not None
    assert region.climate.source == "own-climate"
    assert any("own-climate" in line for line in region.info.attribution)
    got = climate_at(29.09, 41.01, 50.0, 7, own=region.climate)
    assert got.basis == "the operator's own monthly grids"
    with pytest.raises(MapDataError):
        build_region(
            "streets", (osm,), home=tmp_path / "home", climate=tmp_path / "none", replace=True
        )
    assert open_folder(built).climate is not None  # the old region stays
