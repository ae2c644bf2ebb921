"""The climate of a place, from the maps that come with the package or the operator's own."""

from __future__ import annotations

import numpy as np

from terrain.calc.climate import (
    LAPSE_K_M,
    RANGE_LIMITS_K,
    band_predictors,
    bilinear,
    mean_predictors,
    range_predictors,
    sea_tempered_c,
    weighted_sum,
)
from terrain.tables.climate.model import LinearFit, climate_model
from terrain.tables.climate.sites import rain_mm_by_month, site_of
from terrain.values.arrays import FloatArray
from terrain.values.climate import Climate, ClimateGrid, ClimateYear

__all__ = ["climate_at", "climate_basis", "climate_year", "rain_mm_by_month"]

# 90 % band of an operator's own grid; common practice, no source.
_OWN_GRID_BAND_K = 2.0


def climate_at(
    lon: float, lat: float, ele_m: float | None, month: int, *, own: ClimateGrid | None = None
) -> Climate:
    """The climate of a place in a month (1..12).

    ele_m : height above the sea; None if not known, then the mean height of the country within
        0.4 degrees stands in for it and the band widens
    own : the operator's monthly grids, used where they have values
    Raises ValueError for a month outside 1..12, a position that is no position, or a place
    south of 60 S, which the maps leave out.
    """
    if not 1 <= month <= 12:
        raise ValueError(f"month {month} is outside 1..12")
    if not (np.isfinite(lon) and -60.0 <= lat <= 90.0):
        raise ValueError(f"no climate for longitude {lon}, latitude {lat}")
    height = np.nan if ele_m is None else float(ele_m)
    year = climate_year(np.array([lon]), np.array([lat]), np.array([height]), own=own)
    column = month - 1

    def known(values: FloatArray) -> float | None:
        value = float(values[0, column])
        return None if np.isnan(value) else value

    return Climate(
        tmean_c=float(year.tmean_c[0, column]),
        tmax_c=float(year.tmax_c[0, column]),
        tmin_c=float(year.tmin_c[0, column]),
        tmax_low_c=float(year.tmax_low_c[0, column]),
        tmax_high_c=float(year.tmax_high_c[0, column]),
        rain_mm=known(year.rain_mm),
        vapour_g_m3=known(year.vapour_g_m3),
        basis=climate_basis(year),
    )


def climate_basis(year: ClimateYear) -> str:
    """What the figures rest on, in words."""
    if year.gridded.all():
        words = "the operator's own monthly grids"
    else:
        words = "monthly means of ITU-R maps, corrected for height"
        if year.gridded.any():
            words += ", with the operator's own grids where they reach"
    if not year.height_known.all():
        words += "; the height is not known everywhere, so the mean height of the country stands in"
    return words


def climate_year(
    lon: FloatArray, lat: FloatArray, ele_m: FloatArray, *, own: ClimateGrid | None = None
) -> ClimateYear:
    """The climate of n places in every month.

    ele_m : NaN where not known
    """
    lon, lat = np.asarray(lon, dtype=np.float64), np.asarray(lat, dtype=np.float64)
    known = ~np.isnan(ele_m)
    site = site_of(lon, lat, np.asarray(ele_m, dtype=np.float64))
    model = climate_model()
    mean = sea_tempered_c(site) + _sum(model.mean, mean_predictors(site))
    spread = np.clip(_sum(model.range, range_predictors(site)), *RANGE_LIMITS_K)
    band = _sum(model.band, band_predictors(site))
    # Without a height the place may lie anywhere between the low and the high ground round it.
    off_m = np.maximum(site.high_m - site.terrain_m, site.terrain_m - site.low_m)
    band = band + np.where(known, 0.0, LAPSE_K_M * off_m)[:, None]
    tmax, tmin = mean + spread / 2.0, mean - spread / 2.0
    gridded = np.zeros(len(lon), dtype=np.bool_)
    if own is not None:
        own_max, own_min = _own_c(own, lon, lat, ele_m)
        gridded = np.asarray(~np.isnan(own_max + own_min).any(axis=1))
        here = gridded[:, None]
        tmax, tmin = np.where(here, own_max, tmax), np.where(here, own_min, tmin)
        band = np.where(here, _OWN_GRID_BAND_K, band)
    return ClimateYear(
        tmean_c=(tmax + tmin) / 2.0,
        tmax_c=tmax,
        tmin_c=tmin,
        tmax_low_c=tmax - band,
        tmax_high_c=tmax + band,
        rain_mm=site.rain_mm,
        vapour_g_m3=site.rho_g_m3,
        height_known=known,
        ground_m=np.where(known, ele_m, site.terrain_m),
        gridded=gridded,
    )


def _sum(fit: LinearFit, predictors: dict[str, FloatArray]) -> FloatArray:
    return weighted_sum(predictors, fit.coefficients, fit.constant)


def _own_c(
    own: ClimateGrid, lon: FloatArray, lat: FloatArray, ele_m: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Maxima and minima of the operator's grids at the places, NaN where they have none."""
    row = (own.north - lat) / own.step_lat
    column = ((lon - own.west + 180.0) % 360.0 - 180.0) / own.step_lon
    rows, columns = own.ele_m.shape
    inside = (row >= -0.5) & (row <= rows - 0.5) & (column >= -0.5) & (column <= columns - 0.5)
    height = bilinear(own.ele_m, row, column)
    # With the grid's own heights the place is brought from the cell's height to its own.
    shift = LAPSE_K_M * np.nan_to_num(height - ele_m, nan=0.0)
    shift[~inside] = np.nan
    return (
        bilinear(own.tmax_c, row, column).T + shift[:, None],
        bilinear(own.tmin_c, row, column).T + shift[:, None],
    )


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
