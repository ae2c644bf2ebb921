"""Sampling and monthly vapour: worked values."""

from __future__ import annotations

import numpy as np
import pytest

from terrain.calc.climate import bilinear, monthly_vapour_g_m3, weighted_sum
from terrain.calc.humid_heat import relative_humidity_pct, saturation_g_m3, vapour_hpa


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
