"""Monthly climate from coarse maps: sampling, correction for height, daily range, bands."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Protocol

import numpy as np
from numpy.typing import NDArray

from terrain.calc.humid_heat import saturation_g_m3
from terrain.calc.sun import MID_MONTH_DAY, extraterrestrial_mj_m2
from terrain.values.arrays import FloatArray

LAPSE_K_M = 0.0065  # ISO 2533:1975
RANGE_LIMITS_K = (3.0, 20.0)


class Grid(Protocol):
    """What is read like an array (..., rows, columns)."""

    @property
    def shape(self) -> tuple[int, ...]: ...

    def __getitem__(self, places: Any, /) -> NDArray[Any]: ...


def bilinear(grid: Grid, row: FloatArray, column: FloatArray, *, wraps: bool = False) -> FloatArray:
    """Bilinear values of (..., rows, columns) at fractional rows and columns, shape (..., n).

    Positions beyond the edge take the edge; with `wraps` the last column has the first beside it.
    Corners that are NaN are left out and the others
    share their weight; NaN if all four are.
    """
    rows, columns = grid.shape[-2:]
    row = np.clip(row, 0, rows - 1)
    r = np.minimum(row.astype(np.intp), rows - 2)
    if wraps:
        c = np.floor(column).astype(np.intp)
    else:
        column = np.clip(column, 0, columns - 1)
        c = np.minimum(column.astype(np.intp), columns - 2)
    fr, fc = row - r, column - c
    total = np.zeros((*grid.shape[:-2], len(row)))
    weight = np.zeros_like(total)
    for dr, dc, w in (
        (0, 0, (1 - fr) * (1 - fc)),
        (0, 1, (1 - fr) * fc),
        (1, 0, fr * (1 - fc)),
        (1, 1, fr * fc),
    ):
        corner = grid[..., r + dr, (c + dc) % columns].astype(np.float64)
        known = ~np.isnan(corner)
        total += np.where(known, corner, 0.0) * w
        weight += known * w
    out: FloatArray = np.divide(total, weight, out=np.full_like(total, np.nan), where=weight > 0)
    return out


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Site:
    """What the maps say of n places; (n,), and (n, 12) for temp_c, rain_mm, sea_temp_c,
    sea_anomaly_c, rho_g_m3.

    temp_c, terrain_m : map temperature, and the mean height it holds for
    low_m, high_m : lowest and highest ground within 0.25 degrees
    sea_m : distance to the sea; sea_share : share of sea within 0.4 degrees
    sea_temp_c : map temperature over the nearest sea; sea_anomaly_c : how much warmer that is
        than all seas of the latitude
    rho_g_m3 : vapour density at the place's height, month by month
    """

    lat: FloatArray
    ele_m: FloatArray
    temp_c: FloatArray
    terrain_m: FloatArray
    rain_mm: FloatArray
    low_m: FloatArray
    high_m: FloatArray
    sea_m: FloatArray
    sea_share: FloatArray
    sea_temp_c: FloatArray
    sea_anomaly_c: FloatArray
    rho_g_m3: FloatArray


def height_corrected_c(site: Site) -> FloatArray:
    """Monthly mean at the place's height: 6.5 K per km from the mean height round it, (n, 12)."""
    return site.temp_c + LAPSE_K_M * (site.terrain_m - site.ele_m)[:, None]


def sea_tempered_c(site: Site) -> FloatArray:
    """Height-corrected mean, drawn to 3 K above the sea where a cool sea lies near, (n, 12).

    A map cell that is mostly hot land misses the cool strip of coast beside a cold current. The
    pull fades by e each 30 km inland and each 500 m of height (common practice, no source).
    """
    temp = height_corrected_c(site)
    low = np.exp(-np.maximum(site.ele_m, 0.0) / 500.0)[:, None]
    excess = np.clip(site.sea_temp_c + 3.0 - temp, -10.0, 0.0)
    return temp + low * _near_sea(site, 30.0) * excess


def monthly_vapour_g_m3(
    quantiles: FloatArray, percents: tuple[int, ...], temp_c: FloatArray, rain_mm: FloatArray
) -> FloatArray:
    """Vapour density month by month from the densities exceeded for shares of the year, (n, 12).

    quantiles : (p, n), densities exceeded for `percents` of the year, percents rising
    P.836 gives no months. The months are put in order of the vapour they are likely to hold
    (warm and wet most) and take the densities of their twelfths of the year, drawn in by 15 %
    since the year's extremes are days, not months (common practice, no source).
    """
    likely = saturation_g_m3(temp_c) * (0.35 + 0.65 * (1.0 - np.exp(-rain_mm / 60.0)))
    place = np.argsort(np.argsort(-likely, axis=1, kind="stable"), axis=1)
    exceeded = 50.0 + 0.85 * (100.0 * (place + 0.5) / 12.0 - 50.0)
    out = np.empty_like(temp_c)
    for i in range(len(temp_c)):
        out[i] = np.interp(exceeded[i], percents, quantiles[:, i])
    return np.minimum(out, saturation_g_m3(temp_c))


def mean_predictors(site: Site) -> dict[str, FloatArray]:
    """What the error of the height-corrected monthly mean depends on, each (n, 12)."""
    sun, humid, hillside = _sun(site), _humidity(site), _hillside(site)
    return {
        "cold_sea": -_near_sea(site, 120.0) * _cold_current_k(site),
        "humid": humid,
        "hillside": hillside,
        "dry_sun_inland": sun * _dry(site, 40.0) * (1.0 - _near_sea(site, 120.0)),
        "hillside_sun": hillside * sun,
        "humid_sun": humid * sun,
    }


def range_predictors(site: Site) -> dict[str, FloatArray]:
    """What the daily range depends on, each (n, 12)."""
    temp, sun, clear = height_corrected_c(site), _sun(site), _dry(site, 100.0)
    km = site.ele_m / 1000.0
    return {
        "dry_sun_inland": sun * clear * (1.0 - _near_sea(site, 40.0)),
        "dry_sun_coast": sun * clear * _near_sea(site, 120.0),
        "hillside": _hillside(site),
        "height": _year(np.clip(km, 0.0, 5.0)),
        "height_over_2km": _year(np.clip(km - 2.0, 0.0, 3.0)),
        "humid": _humidity(site),
        "sea_distance": _year(np.log1p(site.sea_m / 1000.0)),
        "sea_cooler": _near_sea(site, 15.0) * np.clip(site.sea_temp_c - temp, -12.0, 12.0),
        "latitude": _year(np.abs(site.lat)),
    }


def band_predictors(site: Site) -> dict[str, FloatArray]:
    """What the width of the band depends on, each (n, 12) and not below 0."""
    return {
        "inland": 1.0 - _near_sea(site, 40.0),
        "relief": _year(np.clip((site.high_m - site.low_m) / 1000.0, 0.0, 3.0)),
        "height": _year(np.clip(site.ele_m / 1000.0, 0.0, 5.0)),
        "cold_sea": _near_sea(site, 40.0) * _cold_current_k(site),
        "off_mean_height": _year(np.clip(np.abs(site.ele_m - site.terrain_m) / 1000.0, 0.0, 2.0)),
    }


def weighted_sum(
    predictors: dict[str, FloatArray], coefficients: dict[str, float], constant: float
) -> FloatArray:
    """constant + sum of coefficient x predictor, (n, 12); the names must be the same set."""
    if predictors.keys() != coefficients.keys():
        raise ValueError(f"predictors {set(predictors)} are not those fitted {set(coefficients)}")
    terms = [coefficients[name] * values for name, values in predictors.items()]
    out: FloatArray = constant + np.sum(terms, axis=0)
    return out


def _year(values: FloatArray) -> FloatArray:
    return np.repeat(values[:, None], 12, axis=1)


def _sun(site: Site) -> FloatArray:
    """Radiation above the atmosphere in tens of MJ/m2 a day."""
    days = np.array(MID_MONTH_DAY, dtype=np.float64)
    return extraterrestrial_mj_m2(site.lat[:, None], days[None, :]) / 10.0


def _rain(site: Site) -> FloatArray:
    return np.nan_to_num(site.rain_mm, nan=60.0)


def _dry(site: Site, scale_mm: float) -> FloatArray:
    """Near 1 in a rainless month, near 0 in a wet one."""
    out: FloatArray = np.exp(-_rain(site) / scale_mm)
    return out


def _humidity(site: Site) -> FloatArray:
    return np.clip(site.rho_g_m3 / saturation_g_m3(height_corrected_c(site)), 0.1, 1.0)


def _hillside(site: Site) -> FloatArray:
    """0 in the lowest ground of the country round, 1 on its highest."""
    above = (site.ele_m - site.low_m) / (site.high_m - site.low_m + 100.0)
    return _year(np.clip(above, 0.0, 1.5))


def _cold_current_k(site: Site) -> FloatArray:
    """How much colder the sea is than seas of its latitude, 0..8 K.

    Fades out where the sea is below 12 C and is none below 8: there winter, not a current, is
    what makes it cold.
    """
    mild = np.clip((site.sea_temp_c - 8.0) / 4.0, 0.0, 1.0)
    return mild * np.clip(-site.sea_anomaly_c, 0.0, 8.0)


def _near_sea(site: Site, fade_km: float) -> FloatArray:
    """1 by the sea, falling by e each fade_km inland; 5 km is within the map's cells."""
    out: FloatArray = np.exp(-np.maximum(site.sea_m / 1000.0 - 5.0, 0.0) / fade_km)
    return _year(out)
