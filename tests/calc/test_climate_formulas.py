"""Sampling and monthly vapour: worked values."""

from __future__ import annotations

import numpy as np
import pytest

from terrain.calc.climate import (
    Site,
    band_predictors,
    bilinear,
    height_corrected_c,
    mean_predictors,
    monthly_vapour_g_m3,
    range_predictors,
    sea_tempered_c,
    weighted_sum,
)
from terrain.calc.humid_heat import relative_humidity_pct, saturation_g_m3, vapour_hpa
from terrain.calc.sun import MID_MONTH_DAY, extraterrestrial_mj_m2


def test_bilinear_at_between_and_beyond_nodes() -> None:
    grid = np.array([[0.0, 1.0], [2.0, 3.0]])
    got = bilinear(grid, np.array([0.0, 0.5, 1.0, -3.0, 9.0]), np.array([0.0, 0.5, 1.0, 0.0, 9.0]))
    np.testing.assert_allclose(got, [0.0, 1.5, 3.0, 0.0, 3.0])


def test_bilinear_leaves_missing_corners_out() -> None:
    grid = np.array([[np.nan, 1.0], [np.nan, 3.0]])
    assert bilinear(grid, np.array([0.5]), np.array([0.5]))[0] == pytest.approx(2.0)
    assert np.isnan(bilinear(grid, np.array([0.5]), np.array([0.0]))[0])


@pytest.mark.parametrize(
    ("rho", "temp", "rh"),
    # ITU-R P.836 with the saturation pressure of P.453.
    [(7.5, 15.0, 58.5), (20.0, 30.0, 65.9), (20.0, 35.0, 50.5), (10.0, 40.0, 19.6)],
)
def test_humidity_from_density(rho: float, temp: float, rh: float) -> None:
    got = relative_humidity_pct(np.array([rho]), np.array([temp]))
    assert got[0] == pytest.approx(rh, abs=0.1)


def test_air_never_holds_more_than_it_can() -> None:
    assert relative_humidity_pct(np.array([30.0]), np.array([10.0]))[0] == 100.0
    full = saturation_g_m3(np.array([20.0]))
    assert relative_humidity_pct(full, np.array([20.0]))[0] == pytest.approx(100.0)
    assert vapour_hpa(full, np.array([20.0]))[0] == pytest.approx(23.4, abs=0.1)


def test_warm_and_wet_months_hold_most_vapour() -> None:
    temp = np.array([[5.0] * 6 + [30.0] * 6])
    rain = np.array([[50.0] * 6 + [0.0] * 3 + [300.0] * 3])
    quantiles = np.array([[22.0], [20.0], [12.0], [8.0], [5.0], [4.0], [3.5]])
    got = monthly_vapour_g_m3(quantiles, (5, 10, 30, 50, 70, 90, 95), temp, rain)[0]
    assert got[9:].min() > got[6:9].max() > got[:6].max()
    assert np.all(got <= saturation_g_m3(temp[0]) + 1e-9)


def test_a_predictor_without_coefficient_is_refused() -> None:
    with pytest.raises(ValueError, match="not those fitted"):
        weighted_sum({"a": np.zeros((1, 12))}, {"b": 1.0}, 0.0)


def _site(**more: float) -> Site:
    """One place at 1,000 m under a dry sky, by the sea, at 30 N; some values put otherwise."""
    plain = {
        "lat": 30.0, "ele_m": 1_000.0, "temp_c": 20.0, "terrain_m": 600.0, "rain_mm": 0.0,
        "low_m": 400.0, "high_m": 1_300.0, "sea_m": 0.0, "sea_share": 0.5, "sea_temp_c": 18.0,
        "sea_anomaly_c": -3.0, "rho_g_m3": 6.0,
    } | more  # fmt: skip
    monthly = {"temp_c", "rain_mm", "sea_temp_c", "sea_anomaly_c", "rho_g_m3"}
    return Site(**{
        name: np.full((1, 12) if name in monthly else 1, value) for name, value in plain.items()
    })  # fmt: skip


def test_height_is_taken_at_the_standard_lapse() -> None:
    """400 m above the mean height round it, 6.5 K per km: 2.6 K colder."""
    np.testing.assert_allclose(height_corrected_c(_site()), 20.0 - 2.6)
    np.testing.assert_allclose(height_corrected_c(_site(ele_m=600.0)), 20.0)


@pytest.mark.parametrize(
    ("more", "drawn_k"),
    [
        # Sea of 10 C: 3 K above it is 7 K below the land; all of it at the shore and at sea level.
        ({"ele_m": 0.0, "terrain_m": 0.0}, -7.0),
        # By e each 500 m up, and each 30 km inland from 5 km on.
        ({"ele_m": 500.0, "terrain_m": 500.0}, -7.0 / np.e),
        ({"ele_m": 0.0, "terrain_m": 0.0, "sea_m": 35_000.0}, -7.0 / np.e),
        ({"ele_m": 0.0, "terrain_m": 0.0, "sea_m": 5_000.0}, -7.0),
        # Never by more than 10 K, and never warmed.
        ({"ele_m": 0.0, "terrain_m": 0.0, "temp_c": 40.0}, -10.0),
        ({"ele_m": 0.0, "terrain_m": 0.0, "temp_c": 5.0}, 0.0),
    ],
)
def test_a_cool_sea_draws_a_hot_coast(more: dict[str, float], drawn_k: float) -> None:
    site = _site(sea_temp_c=10.0, **more)
    np.testing.assert_allclose(sea_tempered_c(site) - height_corrected_c(site), drawn_k)


def test_predictors_of_the_mean_by_hand() -> None:
    """A hillside of 600 in 1,000 m, 18 C warm sea 3 K colder than its latitude, no rain."""
    site = _site()
    got = {name: values[0] for name, values in mean_predictors(site).items()}
    sun = extraterrestrial_mj_m2(np.full(12, 30.0), np.array(MID_MONTH_DAY, float)) / 10
    humid = 6.0 / saturation_g_m3(np.array([17.4]))[0]
    np.testing.assert_allclose(got["hillside"], 0.6)
    np.testing.assert_allclose(got["cold_sea"], -3.0)
    np.testing.assert_allclose(got["humid"], humid)
    np.testing.assert_allclose(got["dry_sun_inland"], 0.0)
    np.testing.assert_allclose(got["hillside_sun"], 0.6 * sun)
    np.testing.assert_allclose(got["humid_sun"], humid * sun)
    # 120 km beyond the first 5 the sea is felt by 1/e; 40 mm of rain make 1/e of a dry month.
    inland = mean_predictors(_site(sea_m=125_000.0, rain_mm=40.0))
    np.testing.assert_allclose(inland["cold_sea"], -3.0 / np.e)
    np.testing.assert_allclose(inland["dry_sun_inland"][0], sun / np.e * (1 - 1 / np.e))


@pytest.mark.parametrize(
    ("sea_c", "anomaly_c", "cold_k"),
    # The whole anomaly from 12 C on, none below 8, half way at 10; at most 8 K; no warm current.
    [(18, -3, 3), (12, -3, 3), (10, -3, 1.5), (8, -3, 0), (4, -3, 0), (18, -11, 8), (18, 2, 0)],
)
def test_cold_currents(sea_c: float, anomaly_c: float, cold_k: float) -> None:
    site = _site(sea_temp_c=sea_c, sea_anomaly_c=anomaly_c)
    np.testing.assert_allclose(mean_predictors(site)["cold_sea"], -cold_k)
    np.testing.assert_allclose(band_predictors(site)["cold_sea"], cold_k)


def test_predictors_of_the_daily_range_by_hand() -> None:
    site = _site(ele_m=2_500.0, high_m=2_400.0, rain_mm=100.0, sea_m=45_000.0)
    got = {name: values[0] for name, values in range_predictors(site).items()}
    sun = extraterrestrial_mj_m2(np.full(12, 30.0), np.array(MID_MONTH_DAY, float)) / 10
    np.testing.assert_allclose(got["dry_sun_inland"], sun / np.e * (1 - np.exp(-1)))
    np.testing.assert_allclose(got["dry_sun_coast"], sun / np.e * np.exp(-1 / 3))
    np.testing.assert_allclose(got["hillside"], 1.0)
    np.testing.assert_allclose(got["height"], 2.5)
    np.testing.assert_allclose(got["height_over_2km"], 0.5)
    np.testing.assert_allclose(got["sea_distance"], np.log(46.0))
    np.testing.assert_allclose(got["latitude"], 30.0)
    # 20 C less 1,900 m of height: 7.65 C, under a sea of 18 that is felt by 40 km in e-folds of 15.
    np.testing.assert_allclose(got["sea_cooler"], np.exp(-40 / 15) * (18.0 - 7.65))


def test_predictors_of_the_band_by_hand() -> None:
    got = {name: values[0] for name, values in band_predictors(_site(sea_m=45_000.0)).items()}
    np.testing.assert_allclose(got["inland"], 1 - np.exp(-1))
    np.testing.assert_allclose(got["relief"], 0.9)
    np.testing.assert_allclose(got["height"], 1.0)
    np.testing.assert_allclose(got["cold_sea"], 3.0 / np.e)
    np.testing.assert_allclose(got["off_mean_height"], 0.4)


def test_weighted_sum_by_hand() -> None:
    ones = np.ones((1, 12))
    got = weighted_sum({"a": 2 * ones, "b": 3 * ones}, {"a": 10.0, "b": -1.0}, 5.0)
    np.testing.assert_allclose(got, 22.0)
