"""The sun: radiation above the atmosphere, clear-sky radiation, declination on arrays."""

from __future__ import annotations

import numpy as np

from terrain.values.arrays import FloatArray

MID_MONTH_DAY = (15, 46, 74, 105, 135, 166, 196, 227, 258, 288, 319, 349)


def declination_rad(day_of_year: FloatArray) -> FloatArray:
    """Declination of the sun [rad]. Source: FAO Irrigation and Drainage Paper 56, eq. 24."""
    out: FloatArray = 0.409 * np.sin(2.0 * np.pi * day_of_year / 365.0 - 1.39)
    return out


def sunset_angle_rad(lat: FloatArray, day_of_year: FloatArray) -> FloatArray:
    """Hour angle of sunset [rad]: 0 in polar night, pi in polar day. Source: FAO-56, eq. 25."""
    cosine = -np.tan(np.radians(lat)) * np.tan(declination_rad(day_of_year))
    out: FloatArray = np.arccos(np.clip(cosine, -1.0, 1.0))
    return out


def daylight_h(lat: FloatArray, day_of_year: FloatArray) -> FloatArray:
    """Hours of daylight, without refraction. Source: FAO-56, eq. 34."""
    return 24.0 / np.pi * sunset_angle_rad(lat, day_of_year)


def extraterrestrial_mj_m2(lat: FloatArray, day_of_year: FloatArray) -> FloatArray:
    """Daily radiation on a level plane above the atmosphere [MJ/m2]. Source: FAO-56, eq. 21."""
    phi, delta = np.radians(lat), declination_rad(day_of_year)
    near = 1.0 + 0.033 * np.cos(2.0 * np.pi * day_of_year / 365.0)
    angle = sunset_angle_rad(lat, day_of_year)
    daily = angle * np.sin(phi) * np.sin(delta) + np.cos(phi) * np.cos(delta) * np.sin(angle)
    out: FloatArray = 24.0 * 60.0 / np.pi * 0.0820 * near * daily
    return out


def clear_sky_w_m2(sun_height_deg: FloatArray, ele_m: FloatArray) -> FloatArray:
    """Global radiation on a level plane under a clear sky [W/m2]; 0 below the horizon.

    Haurwitz 1945: 1098 sin(h) exp(-0.057 / sin(h)), raised by the share that FAO-56 eq. 37
    gives for height (0.75 + 2e-5 z, against 0.75 at sea level).
    """
    sine = np.sin(np.radians(np.maximum(sun_height_deg, 0.0)))
    level = 1098.0 * sine * np.exp(-0.057 / np.maximum(sine, 1e-3))
    out: FloatArray = level * (1.0 + 2e-5 / 0.75 * np.maximum(ele_m, 0.0))
    return out
