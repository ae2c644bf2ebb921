"""The climate of places against weather stations and published climates."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

import terrain
from terrain.calc.climate import LAPSE_K_M, height_corrected_c
from terrain.stages.heat.climate import _own_c, climate_at, climate_year
from terrain.tables.climate.model import climate_model
from terrain.tables.climate.sites import site_of
from terrain.values.climate import ClimateGrid
from tests.bench.climate_fit import (
    Stations,
    fit_band,
    fit_model,
    left_out_errors,
    parse_stations,
    spatial_groups,
)

HEIGHT_CLASSES = ((-500, 500), (500, 1500), (1500, 9000))


@pytest.fixture(scope="module")
def stations(shared_data: Path) -> Stations:
    path = shared_data / "climate" / "stations.csv"
    return parse_stations(path.read_text(encoding="utf-8"))


def _rmse(error: np.ndarray) -> float:
    return float(np.sqrt(np.mean(error**2)))


def test_mean_maximum_of_stations_left_out(stations: Stations) -> None:
    """171 normals (WMO 1991-2020, CLIMAT): each station, and each block of 15 degrees, is
    predicted by coefficients fitted without it."""
    site = site_of(stations.lon, stations.lat, stations.ele_m)
    for groups in (np.arange(len(stations.lat)), spatial_groups(stations)):
        tmax_error, tmin_error = left_out_errors(site, stations, groups)
        assert _rmse(tmax_error) <= 1.9
        assert np.quantile(np.abs(tmax_error), 0.9) <= 2.9
        assert abs(tmax_error.mean()) <= 0.2
        assert _rmse(tmin_error) <= 1.9


def test_band_holds_what_it_says_in_each_height_class(stations: Stations) -> None:
    """The errors are those of stations left out; the band that ships is tried, and one fitted to
    the other half of the blocks."""
    site = site_of(stations.lon, stations.lat, stations.ele_m)
    errors, _ = left_out_errors(site, stations, np.arange(len(stations.lat)))
    year = climate_year(stations.lon, stations.lat, stations.ele_m)
    half = (year.tmax_high_c - year.tmax_low_c) / 2
    for low, high in HEIGHT_CLASSES:
        here = (stations.ele_m >= low) & (stations.ele_m < high)
        assert 0.85 <= np.mean(np.abs(errors[here]) <= half[here]) <= 0.95


def test_shipped_coefficients_are_those_of_the_script(stations: Stations) -> None:
    site = site_of(stations.lon, stations.lat, stations.ele_m)
    fitted, shipped = fit_model(site, stations), climate_model()
    for part in ("mean", "range"):
        ours = getattr(shipped, part)
        assert ours.constant == pytest.approx(fitted[part]["constant"], abs=1e-3)
        assert ours.coefficients == pytest.approx(fitted[part]["coefficients"], abs=1e-3)
    assert "171 stations" in shipped.source


def test_band_fit_finds_the_share_it_is_asked_for(stations: Stations) -> None:
    site = site_of(stations.lon, stations.lat, stations.ele_m)
    noise = np.random.default_rng(3).normal(0.0, 2.0, (len(stations.lat), 12))
    band = fit_band(site, noise, 0.9)
    assert band["constant"] == pytest.approx(1.645 * 2.0, rel=0.12)
    assert all(w >= 0 for w in band["coefficients"].values())


def test_height_correction_beats_the_raw_map_and_a_single_height(stations: Stations) -> None:
    """Terrain averaged over the cell halves the error of the monthly mean."""
    mean = (stations.tmax_c + stations.tmin_c) / 2
    site = site_of(stations.lon, stations.lat, stations.ele_m)
    assert _rmse(height_corrected_c(site) - mean) <= 1.5
    assert _rmse(site.temp_c - mean) >= 2.5


@pytest.mark.parametrize(
    ("lon", "lat", "ele", "month", "tmax", "tmin"),
    [
        # Published climates: Escaldes (encyclopaedia), Kathmandu (climate chart).
        (1.534, 42.507, 1100, 7, 28, 15),
        (1.534, 42.507, 1100, 1, 11, -2),
        (85.324, 27.717, 1337, 5, 29, 16),
        (85.324, 27.717, 1337, 7, 28, 20),
    ],
)
def test_published_climates_lie_in_reach(
    lon: float, lat: float, ele: float, month: int, tmax: float, tmin: float
) -> None:
    got = climate_at(lon, lat, ele, month)
    assert abs(got.tmax_c - tmax) <= 4.0
    assert abs(got.tmin_c - tmin) <= 4.0
    assert got.tmin_c < got.tmean_c < got.tmax_c
    assert got.tmax_low_c < got.tmax_c < got.tmax_high_c


def test_wet_season_of_kathmandu() -> None:
    """Climate chart: wet from April to September; June to September bring 78 % of the year."""
    rain = np.array([climate_at(85.324, 27.717, 1337, m).rain_mm for m in range(1, 13)], float)
    assert rain[5:9].sum() / rain.sum() == pytest.approx(0.78, abs=0.08)
    assert rain[[0, 1, 10, 11]].max() < 60


def test_a_pass_is_colder_than_its_valley_by_the_lapse_rate() -> None:
    """The mean alone follows ISO 2533; hillsides and the range shift it a little."""
    valley, col = (climate_at(1.6, 42.54, ele, 7) for ele in (1000.0, 2400.0))
    assert valley.tmean_c - col.tmean_c == pytest.approx(1400 * LAPSE_K_M, abs=3.0)
    assert valley.vapour_g_m3 is not None and col.vapour_g_m3 is not None
    assert col.vapour_g_m3 < valley.vapour_g_m3


def test_unknown_height_widens_the_band_and_says_so() -> None:
    known, unknown = climate_at(1.52, 42.5, 1023.0, 7), climate_at(1.52, 42.5, None, 7)
    assert unknown.tmax_high_c - unknown.tmax_low_c > known.tmax_high_c - known.tmax_low_c + 4
    assert "height is not known" in unknown.basis
    assert "height is not known" not in known.basis


def test_without_a_height_the_place_may_lie_at_the_highest_or_the_lowest_ground_round_it() -> None:
    """The band is wider by the lapse rate (ISO 2533) over the larger of both spans: in the Himalaya
    above a plain down to it, in the Pyrenees up to the tops."""
    lon, lat = np.array([93.5, 1.52]), np.array([28.0, 42.5])
    site = site_of(lon, lat, np.full(2, np.nan))
    up_m, down_m = site.high_m - site.terrain_m, site.terrain_m - site.low_m
    assert (up_m > down_m).any() and (up_m < down_m).any()
    told = climate_year(lon, lat, site.terrain_m)
    untold = climate_year(lon, lat, np.full(2, np.nan))
    np.testing.assert_allclose(untold.tmax_c, told.tmax_c)
    wider = untold.tmax_high_c - told.tmax_high_c
    np.testing.assert_allclose(wider, np.tile(0.0065 * np.maximum(up_m, down_m), (12, 1)).T)
    np.testing.assert_allclose(told.tmax_low_c - untold.tmax_low_c, wider)
    assert untold.ground_m.tolist() == site.terrain_m.tolist()


def test_odd_places_are_refused_in_words() -> None:
    for lon, lat, month in ((0, 0, 0), (0, 0, 13), (float("nan"), 0, 1), (0, -75, 1), (0, 91, 1)):
        with pytest.raises(ValueError, match=r"month|no climate"):
            climate_at(lon, lat, 0.0, month)


def test_public_name() -> None:
    assert terrain.climate_at(2.0, 42.0, 100.0, 8).tmax_c > 25


def test_cold_current_coast_is_cooler_and_less_sure_than_inland() -> None:
    """Coast of the Atacama against 60 km inland at one height: stratus and a cold sea."""
    coast, inland = climate_at(-70.45, -23.4, 100, 1), climate_at(-69.8, -23.4, 100, 1)
    assert coast.tmax_c < inland.tmax_c - 2
    band = coast.tmax_high_c - coast.tmax_low_c
    assert band > inland.tmax_high_c - inland.tmax_low_c


def _grid(ele_m: float) -> ClimateGrid:
    shape = (12, 3, 3)
    tmax = np.full(shape, 30.0, np.float32)
    tmax[:, 0, 0] = np.nan
    return ClimateGrid(
        tmax_c=tmax,
        tmin_c=np.full(shape, 16.0, np.float32),
        ele_m=np.full((3, 3), ele_m, np.float32),
        west=10.0,
        north=46.0,
        step_lon=0.1,
        step_lat=0.1,
        source="test grids",
    )


def test_own_grids_serve_where_they_reach() -> None:
    own = _grid(np.nan)
    inside = climate_at(10.15, 45.85, 500.0, 7, own=own)
    assert (inside.tmax_c, inside.tmin_c) == (30.0, 16.0)
    assert inside.basis == "the operator's own monthly grids"
    outside = climate_at(11.0, 45.85, 500.0, 7, own=own)
    assert outside.tmax_c != 30.0
    hole = climate_at(10.0, 46.0, 500.0, 7, own=own)
    assert hole.basis.startswith("monthly means of ITU-R maps")


@pytest.mark.parametrize("west", [10.0, 179.9, -180.0])
@pytest.mark.parametrize(
    ("columns", "rows", "there"),
    [
        (1.0, 1.0, True), (-0.49, 1.0, True), (-0.51, 1.0, False), (2.49, 1.0, True),
        (2.51, 1.0, False), (1.0, -0.49, True), (1.0, -0.51, False), (1.0, 2.49, True),
        (1.0, 2.51, False), (182.0, 1.0, False),
    ],
)  # fmt: skip
def test_own_grids_reach_half_a_cell_beyond_their_outer_centres(
    west: float, columns: float, rows: float, there: bool
) -> None:
    """Cells of a tenth of a degree, by their centres; over the date line as anywhere."""
    own = replace(_grid(np.nan), west=west)
    for lon in (west + 0.1 * columns, west + 0.1 * columns - 360.0):
        high, low = _own_c(own, np.array([lon]), np.array([46.0 - 0.1 * rows]), np.array([9.0]))
        assert high.shape == (1, 12)
        assert high[0].tolist() == pytest.approx([30.0 if there else np.nan] * 12, nan_ok=True)
        assert low[0].tolist() == pytest.approx([16.0 if there else np.nan] * 12, nan_ok=True)


def test_own_grids_with_heights_are_brought_to_the_place() -> None:
    got = climate_at(10.15, 45.85, 1500.0, 7, own=_grid(500.0))
    assert got.tmax_c == pytest.approx(30.0 - 6.5)


def test_thousand_places_take_no_time() -> None:
    """A count, not a stopwatch: one call serves arrays of any length."""
    n = 1000
    year = climate_year(np.linspace(-10, 30, n), np.linspace(36, 60, n), np.full(n, 200.0))
    assert year.tmax_c.shape == (n, 12)
    assert np.isfinite(year.tmax_c).all()
