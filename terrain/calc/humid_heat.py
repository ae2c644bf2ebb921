"""Moist air: vapour pressure, humidity, heat index, wind chill."""

from __future__ import annotations

import numpy as np

from terrain.values.arrays import FloatArray


def saturation_hpa(temp_c: FloatArray) -> FloatArray:
    """Saturation vapour pressure over water [hPa]. Source: ITU-R P.453, sea-level pressure."""
    out: FloatArray = 6.1121 * np.exp((18.678 - temp_c / 234.5) * temp_c / (257.14 + temp_c))
    return out


def vapour_hpa(vapour_g_m3: FloatArray, temp_c: FloatArray) -> FloatArray:
    """Vapour pressure of a vapour density [hPa]. Source: ITU-R P.836, e = rho T / 216.7."""
    return vapour_g_m3 * (temp_c + 273.15) / 216.7


def saturation_g_m3(temp_c: FloatArray) -> FloatArray:
    """Most vapour that air can hold [g/m3]. Source: ITU-R P.836 and P.453."""
    return 216.7 * saturation_hpa(temp_c) / (temp_c + 273.15)


def relative_humidity_pct(vapour_g_m3: FloatArray, temp_c: FloatArray) -> FloatArray:
    """Relative humidity [%], at most 100. Source: ITU-R P.836 and P.453."""
    return np.minimum(100.0 * vapour_hpa(vapour_g_m3, temp_c) / saturation_hpa(temp_c), 100.0)


def heat_index_c(temp_c: FloatArray, humidity_pct: FloatArray) -> FloatArray:
    """Heat index [deg C], in shade and light wind; NaN stays NaN.

    The full procedure of the US National Weather Service (SR 90-23, Rothfusz 1990): Steadman's
    simple form averaged with the temperature below 80 F; above, the regression with its terms
    for very dry and very humid air.
    """
    t = np.asarray(temp_c, dtype=np.float64) * 1.8 + 32.0
    r = np.asarray(humidity_pct, dtype=np.float64)
    simple = 0.5 * (t + 0.5 * (t + 61.0 + (t - 68.0) * 1.2 + r * 0.094))
    full = (
        -42.379 + 2.04901523 * t + 10.14333127 * r - 0.22475541 * t * r - 0.00683783 * t**2
        - 0.05481717 * r**2 + 0.00122874 * t**2 * r + 0.00085282 * t * r**2
        - 0.00000199 * t**2 * r**2
    )  # fmt: skip
    dry = (13.0 - r) / 4.0 * np.sqrt(np.maximum(17.0 - np.abs(t - 95.0), 0.0) / 17.0)
    full = full - np.where((r < 13.0) & (t >= 80.0) & (t <= 112.0), dry, 0.0)
    humid = (r - 85.0) / 10.0 * (87.0 - t) / 5.0
    full = full + np.where((r > 85.0) & (t >= 80.0) & (t <= 87.0), humid, 0.0)
    out: FloatArray = (np.where(simple >= 80.0, full, simple) - 32.0) / 1.8
    return out


def wind_chill_c(temp_c: FloatArray, wind_kph: FloatArray) -> FloatArray:
    """Wind chill [deg C]; the air temperature itself above 10 deg C or below 4.8 km/h.

    Source: Environment Canada and US National Weather Service 2001, wind at 10 m.
    """
    power = np.maximum(wind_kph, 4.8) ** 0.16
    chill = 13.12 + 0.6215 * temp_c - 11.37 * power + 0.3965 * temp_c * power
    return np.where((temp_c <= 10.0) & (wind_kph >= 4.8), np.minimum(chill, temp_c), temp_c)


def wbgt_c(
    temp_c: FloatArray,
    humidity_pct: FloatArray,
    *,
    pressure_hpa: FloatArray,
    wind_m_s: FloatArray,
    sun_w_m2: FloatArray,
    direct: FloatArray,
    sun_height_deg: FloatArray,
) -> FloatArray:
    """Wet bulb globe temperature [deg C], all shape (n,); NaN where the model finds no balance.

    wind_m_s : at 10 m; 0.62 m/s is the least the model takes and stands for still air
    direct : share of the sun's radiation that is direct beam
    Source: Liljegren et al. 2008, as in thermofeel. The model is for warm air: up to 0 deg C
    the air temperature itself is returned, since no caution hangs on it.
    """
    from thermofeel import calculate_wbgt_liljegren

    temp = np.asarray(temp_c, dtype=np.float64)
    warm = temp > 0.0
    out = temp.copy()
    if warm.any():
        out[warm] = (
            calculate_wbgt_liljegren(
                temp[warm] + 273.15,
                np.clip(np.broadcast_to(humidity_pct, temp.shape)[warm], 1.0, 100.0),
                np.broadcast_to(pressure_hpa, temp.shape)[warm],
                np.broadcast_to(wind_m_s, temp.shape)[warm],
                np.broadcast_to(sun_w_m2, temp.shape)[warm],
                np.broadcast_to(direct, temp.shape)[warm],
                np.sin(np.radians(np.broadcast_to(sun_height_deg, temp.shape)[warm])),
            )
            - 273.15
        )
    return out
