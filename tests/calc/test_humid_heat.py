"""Heat index, WBGT and wind chill against published tables and independent libraries."""

from __future__ import annotations

import numpy as np
import pytest
import thermofeel

from terrain.calc.humid_heat import heat_index_c, wbgt_c, wind_chill_c
from tests.reference.heat_tables import LILJEGREN, NWS_CHART, NWS_FULL, WIND_CHILL


def _index_f(temp_f: float, humidity: float) -> float:
    got = heat_index_c(np.array([(temp_f - 32) / 1.8]), np.array([float(humidity)]))
    return float(got[0] * 1.8 + 32)


@pytest.mark.parametrize(("temp", "humidity", "index"), NWS_CHART)
def test_nws_chart(temp: int, humidity: int, index: int) -> None:
    """The chart rounds, and leaves out the term for very humid air below 87 F."""
    slack = 0.51 if not (humidity > 85 and temp <= 87) else 1.5
    assert _index_f(temp, humidity) == pytest.approx(index, abs=slack)


@pytest.mark.parametrize(("temp", "humidity", "index"), NWS_FULL)
def test_nws_full_procedure_for_very_humid_and_very_dry_air(
    temp: int, humidity: int, index: float
) -> None:
    assert _index_f(temp, humidity) == pytest.approx(index, abs=0.06)


def test_heat_index_of_mild_air_and_missing_air() -> None:
    """Steadman's simple form is 69.05 F for 70 F at 50 %; averaged with the temperature, 69.5."""
    assert _index_f(70, 50) == pytest.approx(69.525, abs=0.01)
    assert np.isnan(heat_index_c(np.array([np.nan]), np.array([50.0])))[0]


def test_heat_index_agrees_with_thermofeel() -> None:
    """thermofeel's adjusted index, which takes the dew point."""
    from thermofeel import calculate_dew_point_from_relative_humidity, calculate_heat_index_adjusted

    temp, humidity = (a.ravel() for a in np.meshgrid([28.0, 33.0, 38.0, 43.0], [8, 30, 60, 90]))
    dew = calculate_dew_point_from_relative_humidity(humidity, temp + 273.15)
    theirs = calculate_heat_index_adjusted(temp + 273.15, dew) - 273.15
    np.testing.assert_allclose(heat_index_c(temp, humidity), theirs, atol=0.5)


@pytest.mark.parametrize(("temp", "rh", "wind", "sun", "hpa", "feel", "original"), LILJEGREN)
def test_liljegren_against_two_codes(
    temp: float, rh: float, wind: float, sun: float, hpa: float, feel: float, original: float
) -> None:
    one = np.ones(1)
    got = wbgt_c(
        temp * one,
        rh * one,
        pressure_hpa=hpa * one,
        wind_m_s=wind * one,
        sun_w_m2=sun * one,
        direct=0.7 * one if sun else 0.0 * one,
        sun_height_deg=90.0 * one if sun else -10.0 * one,
    )[0]
    assert got == pytest.approx(feel, abs=0.15)
    assert got == pytest.approx(original, abs=1.0)


def test_still_air_is_worse_than_the_wind_of_riding() -> None:
    """35 C, 40 %, 900 W/m2: 34.7 in 0.7 m/s, 31.3 in 3, 29.3 in 15 (computed, thermofeel)."""
    wind = np.array([0.7, 3.0, 15.0])
    one = np.ones(3)
    got = wbgt_c(
        35.0 * one,
        40.0 * one,
        pressure_hpa=1013.0 * one,
        wind_m_s=wind,
        sun_w_m2=900.0 * one,
        direct=0.7 * one,
        sun_height_deg=90.0 * one,
    )
    np.testing.assert_allclose(got, [34.7, 31.3, 29.3], atol=0.3)


def test_wbgt_in_frost_is_the_air_itself() -> None:
    one = np.ones(3)
    got = wbgt_c(
        np.array([-10.0, 0.0, 20.0]),
        50.0 * one,
        pressure_hpa=1000.0 * one,
        wind_m_s=one,
        sun_w_m2=0.0 * one,
        direct=0.0 * one,
        sun_height_deg=-20.0 * one,
    )
    assert got[:2].tolist() == [-10.0, 0.0]
    assert 10 < got[2] < 20


@pytest.mark.parametrize(("temp", "wind", "chill"), WIND_CHILL)
def test_wind_chill_chart(temp: float, wind: float, chill: int) -> None:
    """Environment Canada chart of 2001."""
    got = wind_chill_c(np.array([temp]), np.array([wind]))[0]
    assert got == pytest.approx(chill, abs=0.55)


def test_wind_chill_of_mild_or_still_air_is_the_air() -> None:
    got = wind_chill_c(np.array([12.0, 5.0, np.nan]), np.array([90.0, 2.0, 50.0]))
    assert got[:2].tolist() == [12.0, 5.0]
    assert np.isnan(got[2])


def test_wind_chill_equals_a_reference_library() -> None:
    """thermofeel (European Centre for Medium-Range Weather Forecasts), temperature in K."""
    temp, wind = np.meshgrid(np.linspace(-30.0, 5.0, 15), np.linspace(10.0, 110.0, 11))
    want = thermofeel.calculate_wind_chill(temp + 273.15, wind / 3.6) - 273.15
    got = wind_chill_c(temp.ravel(), wind.ravel()).reshape(temp.shape)
    assert np.max(np.abs(got - want)) < 0.05
