"""The sun: radiation above the atmosphere, clear-sky radiation, declination on arrays."""

from __future__ import annotations

import numpy as np

from terrain.values.arrays import FloatArray

# The 15th of each month as a day of the year, by definition.
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


def sun_position_deg(
    unix_s: FloatArray, lon: FloatArray, lat: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Height above the horizon without refraction, and azimuth from north by east [deg].

    unix_s : seconds since 1970-01-01 UTC
    Source: low-accuracy solar coordinates of Meeus, Astronomical Algorithms, chapter 25 (0.01
    degree of longitude), and sidereal time of chapter 12.
    """
    days = unix_s / 86400.0 + 2440587.5 - 2451545.0
    century = days / 36525.0
    mean_lon = 280.46646 + 36000.76983 * century + 0.0003032 * century**2
    anomaly = np.radians(357.52911 + 35999.05029 * century - 0.0001537 * century**2)
    centre = (
        (1.914602 - 0.004817 * century) * np.sin(anomaly)
        + (0.019993 - 0.000101 * century) * np.sin(2.0 * anomaly)
        + 0.000289 * np.sin(3.0 * anomaly)
    )
    node = np.radians(125.04 - 1934.136 * century)
    apparent = np.radians(mean_lon + centre - 0.00569 - 0.00478 * np.sin(node))
    tilt = np.radians(23.439291 - 0.0130042 * century + 0.00256 * np.cos(node))
    ascension = np.arctan2(np.cos(tilt) * np.sin(apparent), np.cos(apparent))
    declination = np.arcsin(np.sin(tilt) * np.sin(apparent))
    sidereal = 280.46061837 + 360.98564736629 * days
    hour = np.radians(sidereal + lon) - ascension
    phi = np.radians(lat)
    sine = np.sin(phi) * np.sin(declination) + np.cos(phi) * np.cos(declination) * np.cos(hour)
    south = np.arctan2(np.sin(hour), np.cos(hour) * np.sin(phi) - np.tan(declination) * np.cos(phi))
    return np.degrees(np.arcsin(sine)), (np.degrees(south) + 180.0) % 360.0


def solar_hour(unix_s: FloatArray, lon: FloatArray) -> FloatArray:
    """True solar time [h, 0..24). Equation of time: Spencer 1971, as in FAO-56 and others."""
    day = (unix_s / 86400.0) % 365.2425
    angle = 2.0 * np.pi * (day % 365.2425) / 365.2425
    equation_min = 229.18 * (
        0.000075
        + 0.001868 * np.cos(angle)
        - 0.032077 * np.sin(angle)
        - 0.014615 * np.cos(2.0 * angle)
        - 0.040849 * np.sin(2.0 * angle)
    )
    out: FloatArray = (unix_s / 3600.0 + lon / 15.0 + equation_min / 60.0) % 24.0
    return out


def direct_share(global_w_m2: FloatArray, sun_height_deg: FloatArray) -> FloatArray:
    """Share of the radiation that is direct beam, 0..0.9.

    Source: Liljegren et al. 2008, eq. 13, with the limits of their program (0.85, 0.9, 0.00873),
    at the mean distance of the sun.
    """
    sine = np.sin(np.radians(np.maximum(sun_height_deg, 0.0)))
    normal = np.clip(global_w_m2 / np.maximum(1367.0 * sine, 1.0), 1e-3, 0.85)
    share = np.exp(3.0 - 1.34 * normal - 1.65 / normal)
    out: FloatArray = np.where(sine > 0.00873, np.clip(share, 0.0, 0.9), 0.0)
    return out
