"""The packed climate grids against the maps they were made from (itur, MIT)."""

from __future__ import annotations

import importlib.util
from pathlib import Path

import numpy as np
import pytest
from scipy.spatial import cKDTree

from terrain.calc.climate import bilinear
from terrain.tables.climate.grids import (
    RHO_PERCENTS,
    SOUTH_DEG,
    climate_grids,
    decode_rain,
    unpack_grid,
)
from terrain.tables.climate.sites import rain_mm_by_month, site_of, vapour_quantiles
from terrain.values.arrays import FloatArray
from tests.bench.climate_make import encode_rain, make_grids, pack_grid


@pytest.fixture(scope="module")
def itur_data() -> Path:
    spec = importlib.util.find_spec("itur")
    if spec is None or spec.origin is None:
        pytest.skip("itur is not installed")
    return Path(spec.origin).parent / "data"


def _load(folder: Path, name: str) -> FloatArray:
    with np.load(folder / f"{name}.npz") as data:
        return np.asarray(data[data.files[0]], dtype=np.float64)


def test_packing_gives_back_every_code() -> None:
    rng = np.random.default_rng(7)
    codes = rng.integers(-32768, 32768, size=(3, 17, 29))
    np.testing.assert_array_equal(unpack_grid(pack_grid(codes)), codes)
    with pytest.raises(ValueError, match="16 bits"):
        pack_grid(np.array([[40_000]]))


def test_rain_codes_keep_three_percent() -> None:
    mm = np.array([0.0, 0.5, 5.0, 60.0, 200.0, 1800.0])
    back = decode_rain(encode_rain(mm).astype(np.uint8))
    assert np.all(np.abs(back - mm) <= 0.03 * (mm + 4.0))


def test_the_script_makes_the_tables_that_ship(itur_data: Path) -> None:
    """Every packed array, byte for byte, from the itur that is installed."""
    from importlib.resources import files

    from terrain.tables.climate.grids import GRIDS_FILE

    made = make_grids()
    with files("terrain.tables.climate").joinpath(GRIDS_FILE).open("rb") as file:
        shipped = dict(np.load(file).items())
    assert made.keys() == shipped.keys()
    if made["source"] != shipped["source"]:
        pytest.skip(f"made from {shipped['source']}, not {made['source']}")
    for name, array in shipped.items():
        np.testing.assert_array_equal(made[name], array, err_msg=name)


def test_whole_package_of_tables_is_small() -> None:
    folder = Path(str(importlib.util.find_spec("terrain.tables.climate").origin)).parent  # type: ignore[union-attr]
    assert sum(p.stat().st_size for p in folder.iterdir() if p.is_file()) < 2_100_000


@pytest.mark.parametrize("month", range(1, 13))
def test_monthly_temperature_is_that_of_p1510(itur_data: Path, month: int) -> None:
    """Every node north of 60 S, to half a step of 0.02 K."""
    theirs = _load(itur_data, f"1510/v1_t_month{month:02d}")[40:] - 273.15
    ours = climate_grids().temp_c[month - 1, :, :]
    assert np.abs(ours - theirs).max() <= 0.01 + 1e-5


def test_interpolated_temperature_is_that_of_itur() -> None:
    """itur.models.itu1510 at 300 places between the nodes."""
    from itur.models.itu1510 import surface_month_mean_temperature

    rng = np.random.default_rng(1)
    lat, lon = rng.uniform(-58, 78, 300), rng.uniform(-179, 179, 300)
    ours = bilinear(climate_grids().temp_c, (lat - SOUTH_DEG) / 0.75, (lon + 180.0) / 0.75)
    for month in (1, 7):
        theirs = surface_month_mean_temperature(lat.copy(), lon.copy(), month).value - 273.15
        assert np.abs(ours[month - 1] - theirs).max() <= 0.0101


def test_vapour_density_is_that_of_p836(itur_data: Path) -> None:
    """itur.models.itu836 at the ground and 1500 m up; 0.1 g/m3 and 0.05 km steps."""
    from itur.models.itu836 import surface_water_vapour_density

    rng = np.random.default_rng(2)
    lat, lon = rng.uniform(-50, 65, 120), rng.uniform(1, 358, 120)
    grids = climate_grids()
    for alt_m in (300.0, 1500.0):
        at = ((90.0 - lat) / 1.125, lon / 1.125)
        ours = vapour_quantiles(grids, *at, np.full(120, alt_m))
        for p in (10, 50, 90):
            theirs = surface_water_vapour_density(lat, lon, p, alt_m / 1000.0).value
            error = np.abs(ours[RHO_PERCENTS.index(p)] - theirs)
            assert np.median(error) <= 0.06
            assert np.all(error <= 0.1 + 0.05 * theirs)


def test_rain_is_the_mean_of_p837_cells(itur_data: Path) -> None:
    cells = _load(itur_data, "837/v7_mt_month07")[1:-1, 1:-1]
    # The half-degree cell from 85.0 E, 27.5 N holds four quarter cells of the map.
    row, column = int((27.5 + 90) / 0.25), int((85.0 + 180) / 0.25)
    theirs = cells[row : row + 2, column : column + 2].mean()
    ours = rain_mm_by_month(np.array([85.25]), np.array([27.75]))[0, 6]
    assert ours == pytest.approx(theirs, rel=0.035)


def test_rain_far_at_sea_is_not_known() -> None:
    assert np.isnan(rain_mm_by_month(np.array([-140.0]), np.array([-40.0]))).all()


def test_rain_against_station_normals(shared_data: Path) -> None:
    """171 stations (WMO normals, CLIMAT): the map ranks months and places well."""
    import csv

    with (shared_data / "climate" / "stations.csv").open(encoding="utf-8") as file:
        rows = list(csv.DictReader(file))
    measured = np.array([[float(r[f"rain_{m:02d}"]) for m in range(1, 13)] for r in rows])
    lon, lat = (np.array([float(r[c]) for r in rows]) for c in ("lon", "lat"))
    ours = rain_mm_by_month(lon, lat)
    known = ~np.isnan(ours)
    assert known.mean() > 0.99
    correlation = np.corrcoef(np.log(ours[known] + 5.0), np.log(measured[known] + 5.0))[0, 1]
    assert correlation > 0.93


def test_the_date_line_is_no_seam() -> None:
    west, east = (
        site_of(np.array([lon]), np.array([-17.0]), np.array([0.0])) for lon in (-179.999, 179.999)
    )
    np.testing.assert_allclose(west.temp_c, east.temp_c, atol=0.02)
    np.testing.assert_allclose(west.rho_g_m3, east.rho_g_m3, atol=0.05)
    wrapped = site_of(np.array([181.0]), np.array([-17.0]), np.array([0.0]))
    plain = site_of(np.array([-179.0]), np.array([-17.0]), np.array([0.0]))
    np.testing.assert_allclose(wrapped.temp_c, plain.temp_c)


def test_sea_distance_of_known_places() -> None:
    """Great-circle distances to the coast, read off a map, +-15 km: Madrid 300, Andorra 120."""
    site = site_of(np.array([-3.70, 1.52, -70.40]), np.array([40.42, 42.5, -23.65]), np.zeros(3))
    assert site.sea_m[0] / 1000 == pytest.approx(305, abs=20)
    assert site.sea_m[1] / 1000 == pytest.approx(125, abs=25)
    assert site.sea_m[2] / 1000 < 25


def test_the_sea_is_as_near_for_one_place_as_for_many() -> None:
    """Places of one ride are looked up one by one, those all over the world in a tree."""
    rng = np.random.default_rng(5)
    lon, lat = rng.uniform(-180.0, 180.0, 40), rng.uniform(-55.0, 70.0, 40)
    many = site_of(lon, lat, np.full(40, 200.0))
    for i in range(40):
        one = site_of(lon[i : i + 1], lat[i : i + 1], np.array([200.0]))
        assert one.sea_m[0] == pytest.approx(many.sea_m[i])
        assert one.sea_temp_c[0].tolist() == pytest.approx(many.sea_temp_c[i].tolist())


@pytest.mark.parametrize(
    ("lat", "lon"),
    [(42.5, 1.6), (48.0, 87.0), (35.9, 14.4), (-59.9, 20.0), (89.0, 0.0), (-17.0, -179.9)],
)
def test_the_sea_is_as_far_as_a_search_of_all_cells_says(lat: float, lon: float) -> None:
    """By scipy's tree over all cells of sea: a lake counts as the map has it, and at sea the
    nearest coast is told. The second place lies 2,000 km inland, the last beside 180 degrees.
    """
    sea = climate_grids().sea()
    padded = np.pad(np.pad(sea, ((0, 0), (1, 1)), mode="wrap"), ((1, 1), (0, 0)), mode="edge")
    shut_in = padded[:-2, 1:-1] & padded[2:, 1:-1] & padded[1:-1, :-2] & padded[1:-1, 2:]
    rows, columns = np.nonzero(sea & ~shut_in)

    def unit(lon_deg: np.ndarray, lat_deg: np.ndarray) -> np.ndarray:
        lam, phi = np.radians(lon_deg), np.radians(lat_deg)
        return np.stack([np.cos(phi) * np.cos(lam), np.cos(phi) * np.sin(lam), np.sin(phi)], axis=1)

    cells = unit(-180.0 + (columns + 0.5) / 12.0, 90.0 - (rows + 0.5) / 12.0)
    lats = lat + np.array([0.0, 0.3, -0.1]).clip(-59.99 - lat, 89.99 - lat)
    lons = np.full(3, lon)
    expected_m = 6_371_000.0 * cKDTree(cells).query(unit(lons, lats))[0]
    found = site_of(lons, lats, np.zeros(3))
    np.testing.assert_allclose(found.sea_m, expected_m, rtol=1e-9, atol=1.0)
