"""A forecast brought to positions and days of a ride; nothing where it does not reach."""

from __future__ import annotations

from datetime import date
from typing import NamedTuple

import numpy as np

from terrain.calc.climate import LAPSE_K_M
from terrain.calc.geodesy import between_m
from terrain.tables.forecast import FORECAST, ForecastRules
from terrain.values.arrays import BoolArray, FloatArray, IntArray
from terrain.values.forecast import Forecast


class DayAir(NamedTuple):
    """The air of the day each position is passed on, shape (n,); NaN where not told."""

    tmax_c: FloatArray
    tmin_c: FloatArray
    half_k: FloatArray
    vapour_g_m3: FloatArray
    rain_mm: FloatArray


def day_air(
    forecast: Forecast, lon: FloatArray, lat: FloatArray, ele_m: FloatArray, day: IntArray
) -> DayAir:
    """Of the nearest place told of, brought to the position's height by 6.5 K per km.

    ele_m : NaN not known, then the place's own height is taken
    day : columns of the forecast
    """
    cells = _cells(forecast, lon, lat, day)
    off_m = np.where(cells.told, forecast.ele_m[cells.place] if len(forecast) else np.nan, np.nan)
    shift = LAPSE_K_M * np.nan_to_num(off_m - ele_m, nan=0.0)
    return DayAir(
        cells.of(forecast.tmax_c) + shift,
        cells.of(forecast.tmin_c) + shift,
        cells.of(forecast.half_k),
        cells.of(forecast.vapour_g_m3),
        cells.of(forecast.rain_mm),
    )


class Soaked(NamedTuple):
    """Rain before each position as that of a month, shape (n,), and whether a forecast tells it."""

    month_mm: FloatArray
    told: BoolArray


def soaked(
    forecast: Forecast,
    lon: FloatArray,
    lat: FloatArray,
    at_m: FloatArray,
    depart: date,
    month_mm: FloatArray,
    rules: ForecastRules = FORECAST,
) -> Soaked:
    """How wet the ground is, in mm a month, from the days before each position is passed.

    month_mm : mean rain of the month at each position, NaN not known; it stands in for days that
        are not told. Only days that are all told may make the ground drier than the month's mean.
    """
    last = forecast.column(depart) + (at_m // rules.day_m).astype(np.int64)
    daily = np.nan_to_num(month_mm, nan=0.0) / rules.month_days
    wettest = np.full(len(at_m), -np.inf)
    any_told, all_told = np.zeros(len(at_m), bool), np.ones(len(at_m), bool)
    for days in rules.soak_days:
        rain = np.stack(
            [_cells(forecast, lon, lat, last - back).of(forecast.rain_mm) for back in range(days)]
        )
        known = ~np.isnan(rain)
        mm = np.where(known, rain, daily).sum(axis=0) * (rules.month_days / days)
        wettest = np.maximum(wettest, mm)
        any_told, all_told = any_told | known.any(axis=0), all_told & known.all(axis=0)
    wet = np.where(all_told, wettest, np.fmax(wettest, month_mm))
    # Without a mean of the month, days that are told in part say too little of how dry it is.
    told = any_told & (all_told | ~np.isnan(month_mm))
    return Soaked(np.where(told, wet, month_mm), told & (wet != month_mm))


def rain_between(
    forecast: Forecast, lon: FloatArray, lat: FloatArray, first: int, days: int
) -> tuple[float, float] | None:
    """Least and most rain of columns [first, first + days) along a line; None if not told."""
    rain = np.stack(
        [
            _cells(forecast, lon, lat, np.full(len(lon), first + n)).of(forecast.rain_mm)
            for n in range(days)
        ]
    ).sum(axis=0)
    known = rain[~np.isnan(rain)]
    return (float(known.min()), float(known.max())) if len(known) else None


class _Cells(NamedTuple):
    place: IntArray
    day: IntArray
    told: BoolArray

    def of(self, values: FloatArray) -> FloatArray:
        if not values.size:
            return np.full(len(self.place), np.nan)
        return np.where(self.told, values[self.place, self.day], np.nan)


def _cells(
    forecast: Forecast,
    lon: FloatArray,
    lat: FloatArray,
    day: IntArray,
    rules: ForecastRules = FORECAST,
) -> _Cells:
    """The nearest place and the day of each position; told : both within reach."""
    n = len(lon)
    if not len(forecast):
        return _Cells(np.zeros(n, np.int64), np.zeros(n, np.int64), np.zeros(n, bool))
    apart = np.stack(
        [
            between_m(lon, lat, np.full(n, x), np.full(n, y))
            for x, y in zip(forecast.lon, forecast.lat, strict=True)
        ]
    )
    place = apart.argmin(axis=0)
    columns = forecast.tmax_c.shape[1]
    told = (apart.min(axis=0) <= rules.near_m) & (day >= 0) & (day < columns)
    return _Cells(place, np.clip(day, 0, columns - 1), told)
