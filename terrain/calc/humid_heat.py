"""Moist air: vapour pressure, humidity."""

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
