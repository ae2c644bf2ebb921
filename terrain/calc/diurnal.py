"""How the air warms and cools within a day."""

from __future__ import annotations

import numpy as np

from terrain.values.arrays import FloatArray

# Parton & Logan 1981, air at 1.5 m: hours from noon to the peak, decay of the night, and hours
# from sunrise to the minimum.
PEAK_H = 1.86
DECAY = 2.20
MINIMUM_H = -0.17


def parton_logan_c(
    hour: FloatArray, tmin_c: FloatArray, tmax_c: FloatArray, daylight_h: FloatArray
) -> FloatArray:
    """Air temperature at a true solar hour [deg C].

    A sine that starts 0.17 h before sunrise and peaks at 13.7 h, until sunset; then an
    exponential fall, here scaled to end at the minimum (the original stops a little above it,
    and jumps). Source: Parton & Logan 1981, Agric. Meteorol. 23:205-216.
    daylight_h : must lie between 1 and 23; see daily_curve_c for the polar seasons
    """
    sunrise = 12.0 - daylight_h / 2.0
    sunset = 12.0 + daylight_h / 2.0
    spread = tmax_c - tmin_c
    start = sunrise + MINIMUM_H
    wave = np.pi / (daylight_h + 2.0 * PEAK_H)
    day = tmin_c + spread * np.sin(wave * (hour - start))
    at_sunset = tmin_c + spread * np.sin(wave * (sunset - start))
    night_h = 24.0 - daylight_h + MINIMUM_H
    since = np.where(hour >= sunset, hour - sunset, hour + 24.0 - sunset)
    left = (np.exp(-DECAY * since / night_h) - np.exp(-DECAY)) / (1.0 - np.exp(-DECAY))
    night = tmin_c + (at_sunset - tmin_c) * left
    return np.where((hour >= start) & (hour < sunset), day, night)


def campbell_norman_c(hour: FloatArray, tmin_c: FloatArray, tmax_c: FloatArray) -> FloatArray:
    """Air temperature at a true solar hour, whatever the daylight [deg C].

    Source: Campbell & Norman 1998, An Introduction to Environmental Biophysics, eq. 2.2, 2.3.
    """
    turn = np.pi / 12.0 * hour
    share = 0.44 - 0.46 * np.sin(turn + 0.9) + 0.11 * np.sin(2.0 * turn + 0.9)
    return np.asarray(tmax_c * share + tmin_c * (1.0 - share), dtype=np.float64)


def daily_curve_c(
    hour: FloatArray, tmin_c: FloatArray, tmax_c: FloatArray, daylight_h: FloatArray
) -> FloatArray:
    """Air temperature at a true solar hour: Parton & Logan, and Campbell & Norman where there is
    next to no night or day [deg C]."""
    usual = np.clip(daylight_h, 2.0, 22.0)
    curve = parton_logan_c(hour, tmin_c, tmax_c, usual)
    polar = (daylight_h < 2.0) | (daylight_h > 22.0)
    return np.where(polar, campbell_norman_c(hour, tmin_c, tmax_c), curve)
