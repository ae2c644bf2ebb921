"""The air along a ride at the hour each position is reached."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime
from typing import NamedTuple

import numpy as np

from terrain.calc.atmosphere import pressure_hpa
from terrain.calc.climate import LAPSE_K_M
from terrain.calc.humid_heat import heat_index_c, relative_humidity_pct, wbgt_c, wind_chill_c
from terrain.calc.sun import (
    MID_MONTH_DAY,
    clear_sky_w_m2,
    daylight_h,
    direct_share,
    solar_hour,
    sun_position_deg,
)
from terrain.stages.heat.climate import climate_basis, climate_year, daily_curve_c
from terrain.stages.heat.passage import Passage, passing_unix_s
from terrain.stages.weather.along import DayAir, day_air
from terrain.tables.heat import USED_TO_HEAT_C
from terrain.values.arrays import FloatArray
from terrain.values.climate import ClimateGrid, ClimateYear
from terrain.values.forecast import Forecast
from terrain.values.heat import AirAlong

# Common practice, no source.
_MOST_SAMPLES = 600
_MOST_PLACES = 60
_STEP_M = 200.0
_STILL_M_S = 0.62  # the least wind at 10 m that the WBGT model takes
_RIDING_TO_10M = 1.4  # wind at 10 m whose share at 2 m is the wind of riding, by day


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ClimateAlong:
    """The year's climate at places along a ride, and the positions to judge.

    place_m (c,), place_ele_m (c,) NaN where not known; year of c places; at_m (n,)
    """

    place_m: FloatArray
    place_ele_m: FloatArray
    year: ClimateYear
    at_m: FloatArray

    @property
    def basis(self) -> str:
        return climate_basis(self.year)

    def used_to_heat(self, month: int) -> bool:
        """Whether people who live along the ride are used to heat when the month (1..12) begins."""
        return bool(np.median(self.year.tmax_c[:, (month - 2) % 12]) >= USED_TO_HEAT_C)

    def rain_mm(self, month: int) -> float | None:
        """Mean rain of the month over the ride; None if nowhere known."""
        rain = self.year.rain_mm[:, month - 1]
        return None if np.isnan(rain).all() else float(np.nanmean(rain))


def climate_along(inputs: Passage, own: ClimateGrid | None) -> ClimateAlong:
    """Climate at up to 60 places of the ride, for positions every 200 m or 1/600 of it."""
    length = inputs.length_m
    n = int(np.clip(np.ceil(length / _STEP_M), 2, _MOST_SAMPLES))
    places = int(np.clip(np.ceil(length / 2000.0), 2, _MOST_PLACES))
    place_m = np.linspace(0.0, length, places)
    lon, lat = inputs.lonlat(place_m)
    ele = inputs.heights(place_m)
    return ClimateAlong(
        place_m=place_m,
        place_ele_m=ele,
        year=climate_year(lon, lat, ele, own=own),
        at_m=np.linspace(0.0, length, n),
    )


class _Air(NamedTuple):
    """The air at the hour of passing, and the sun in it; shape (n,) each. half : of the band."""

    unix_s: FloatArray
    temp_c: FloatArray
    half_k: FloatArray
    humidity_pct: FloatArray
    pressure_hpa: FloatArray
    sun_w_m2: FloatArray
    direct: FloatArray
    sun_height_deg: FloatArray


def air_along(
    inputs: Passage, climate: ClimateAlong, start: datetime, forecast: Forecast | None = None
) -> AirAlong:
    """Temperature, humidity and what they make of each other, at the hour of passing.

    A mean day of the season under a clear sky: climate, not weather, but for the days and places
    that a forecast tells.
    """
    (air,), kph = _airs([(inputs, start)], climate, forecast), _kph(inputs, climate)
    riding = np.maximum(kph / 3.6 * _RIDING_TO_10M, _STILL_M_S)
    still_c, riding_c = _wet([air, air], [np.full(len(kph), _STILL_M_S), riding])
    return _along(inputs, climate, [air], [still_c], [riding_c])[0]


def still_airs_along(
    inputs: Passage, climate: ClimateAlong, starts: Sequence[datetime]
) -> list[AirAlong]:
    """The air for several times of setting off; the WBGT while riding is left out (NaN)."""
    airs = _airs([(inputs, start) for start in starts], climate)
    still = np.full(len(climate.at_m), _STILL_M_S)
    none = np.full(len(climate.at_m), np.nan)
    wet = _wet(airs, [still] * len(airs))
    return _along(inputs, climate, airs, wet, [none] * len(airs))


def riding_airs_along(
    cases: Sequence[tuple[Passage, datetime]], climate: ClimateAlong
) -> list[AirAlong]:
    """The air in the wind of riding for several clocks and times of setting off of one ride; the
    WBGT standing in the sun is left out (NaN)."""
    airs, inputs = _airs(cases, climate), cases[0][0]
    kph = _kph(inputs, climate)
    none = np.full(len(kph), np.nan)
    wet = _wet(airs, [np.maximum(kph / 3.6 * _RIDING_TO_10M, _STILL_M_S)] * len(airs))
    return _along(inputs, climate, airs, [none] * len(airs), wet)


def forecast_told(
    inputs: Passage, air: AirAlong, forecast: Forecast | None
) -> tuple[float, float | None]:
    """Share of the positions whose day a forecast tells, and the most rain of such a day [mm]."""
    if forecast is None:
        return 0.0, None
    told = _told(inputs, air.at_m, air.unix_s, forecast)
    rain = told.rain_mm[~np.isnan(told.rain_mm)]
    return float(np.mean(~np.isnan(told.tmax_c))), float(rain.max()) if len(rain) else None


def _told(inputs: Passage, at_m: FloatArray, unix_s: FloatArray, forecast: Forecast) -> DayAir:
    """The air of the days of passing; NaN where not told."""
    lon, lat = inputs.lonlat(at_m)
    days = np.array([_local(at, inputs).toordinal() for at in unix_s.tolist()])
    column = days - forecast.first.toordinal()
    return day_air(forecast, lon, lat, inputs.heights(at_m), column)


def _local(unix_s: float, inputs: Passage) -> date:
    return datetime.fromtimestamp(unix_s, inputs.zone).date()


def _airs(
    cases: Sequence[tuple[Passage, datetime]],
    climate: ClimateAlong,
    forecast: Forecast | None = None,
) -> list[_Air]:
    """The air of each clock and time of setting off of one ride: all at once, since most of what
    a formula takes is to be called."""
    at_m, inputs, n = climate.at_m, cases[0][0], len(cases)
    passing = [passing_unix_s(case, at_m, start) for case, start in cases]
    days = [float(datetime.fromtimestamp(float(at[0]), UTC).timetuple().tm_yday) for at in passing]
    lon, lat = (np.tile(values, n) for values in inputs.lonlat(at_m))
    ele, unix_s = inputs.heights(at_m), np.concatenate(passing)
    by_day = {day: _of_year(climate, day) for day in set(days)}
    tmax, tmin, half, vapour = (
        np.concatenate(column) for column in zip(*(by_day[day] for day in days), strict=True)
    )
    light = daylight_h(lat, np.repeat(days, len(at_m)))
    shift_k = np.tile(_height_shift_k(climate, at_m, ele), n)
    tmax, tmin = tmax + shift_k, tmin + shift_k
    if forecast is not None:
        told = _told(inputs, np.tile(at_m, n), unix_s, forecast)
        # Where only the maximum is told the day keeps its usual range.
        usual_min = np.fmin(told[0] - (tmax - tmin), tmin)
        told_min = np.where(np.isnan(told[1]), usual_min, told[1])
        tmin = np.where(np.isnan(told[0]), tmin, told_min)
        tmax, half, vapour = (
            np.where(np.isnan(new), old, new)
            for new, old in ((told[0], tmax), (told[2], half), (told[3], vapour))
        )
    temp = daily_curve_c(solar_hour(unix_s, lon), tmin, tmax, light)
    height, _ = sun_position_deg(unix_s, lon, lat)
    # Where no height is known, the one that the temperature was taken for.
    ground_m = np.tile(np.where(np.isnan(ele), _at(climate, climate.year.ground_m), ele), n)
    sun = clear_sky_w_m2(height, ground_m)
    columns = (
        unix_s, temp, half, relative_humidity_pct(vapour, temp), pressure_hpa(ground_m), sun,
        direct_share(sun, height), height,
    )  # fmt: skip
    return [_Air(*row) for row in zip(*(np.split(x, n) for x in columns), strict=True)]


def _of_year(climate: ClimateAlong, day: float) -> tuple[FloatArray, ...]:
    """Mean maximum and minimum, half of the band and vapour on a day of the year."""
    year = climate.year
    half_k = (year.tmax_high_c - year.tmax_low_c) / 2.0
    grids = (year.tmax_c, year.tmin_c, half_k, year.vapour_g_m3)
    return tuple(_at(climate, _of_day(values, day)) for values in grids)


def _wet(airs: Sequence[_Air], winds: Sequence[FloatArray]) -> list[FloatArray]:
    """WBGT of each air in its wind; one call for all, since the model is slow to start."""
    together = _Air(*(np.concatenate(column) for column in zip(*airs, strict=True)))
    out = wbgt_c(
        together.temp_c,
        together.humidity_pct,
        pressure_hpa=together.pressure_hpa,
        wind_m_s=np.concatenate(winds),
        sun_w_m2=together.sun_w_m2,
        direct=together.direct,
        sun_height_deg=together.sun_height_deg,
    )
    return np.split(out, len(airs))


def _along(
    inputs: Passage,
    climate: ClimateAlong,
    airs: Sequence[_Air],
    still: Sequence[FloatArray],
    riding: Sequence[FloatArray],
) -> list[AirAlong]:
    """Each air with what it makes of heat and cold; the WBGT standing and riding as given."""
    n, ele = len(airs), inputs.heights(climate.at_m)
    temp = np.concatenate([air.temp_c for air in airs])
    index = heat_index_c(temp, np.concatenate([air.humidity_pct for air in airs]))
    chill = wind_chill_c(temp, np.tile(_ridden_kph(inputs, climate), n))
    return [
        AirAlong(
            at_m=climate.at_m, unix_s=air.unix_s, temp_c=air.temp_c,
            low_c=air.temp_c - air.half_k, high_c=air.temp_c + air.half_k,
            humidity_pct=air.humidity_pct, heat_index_c=index_c, wbgt_still_c=still_c,
            wbgt_riding_c=riding_c, wind_chill_c=chill_c, ele_m=ele,
        )
        for air, index_c, chill_c, still_c, riding_c in zip(
            airs, np.split(index, n), np.split(chill, n), still, riding, strict=True
        )
    ]  # fmt: skip


def _kph(inputs: Passage, climate: ClimateAlong) -> FloatArray:
    kph: FloatArray = inputs.speed_kph[inputs.stretch_of(climate.at_m)]
    return kph


def _ridden_kph(inputs: Passage, climate: ClimateAlong) -> FloatArray:
    """What of it is the wind of riding: none on a ferry."""
    ferry = inputs.ferry[inputs.stretch_of(climate.at_m)]
    return np.where(ferry, 0.0, _kph(inputs, climate))


def coldest_along(inputs: Passage, climate: ClimateAlong, day: float) -> tuple[float, float]:
    """Lowest mean minimum along the ride on a day of the year, and the lowest wind chill that it
    would bring at riding speed [deg C]."""
    at_m = climate.at_m
    shift = _height_shift_k(climate, at_m, inputs.heights(at_m))
    temp = _at(climate, _of_day(climate.year.tmin_c, day)) + shift
    chill = wind_chill_c(temp, _ridden_kph(inputs, climate))
    return float(temp.min()), float(chill.min())


def _of_day(monthly: FloatArray, day: float) -> FloatArray:
    """Values (c, 12) of mid-months brought to a day of the year, shape (c,)."""
    days = np.array([MID_MONTH_DAY[-1] - 365, *MID_MONTH_DAY, MID_MONTH_DAY[0] + 365], dtype=float)
    wrapped = np.concatenate([monthly[:, -1:], monthly, monthly[:, :1]], axis=1)
    right = int(np.clip(np.searchsorted(days, day), 1, 13))
    share = (day - days[right - 1]) / (days[right] - days[right - 1])
    out: FloatArray = (1.0 - share) * wrapped[:, right - 1] + share * wrapped[:, right]
    return out


def _at(climate: ClimateAlong, values: FloatArray) -> FloatArray:
    return np.asarray(np.interp(climate.at_m, climate.place_m, values), dtype=np.float64)


def _height_shift_k(climate: ClimateAlong, at_m: FloatArray, ele_m: FloatArray) -> FloatArray:
    """From the heights between the climate's places to the ride's own: 6.5 K per km."""
    between = np.interp(at_m, climate.place_m, climate.place_ele_m)
    return np.asarray(np.nan_to_num(LAPSE_K_M * (between - ele_m), nan=0.0), dtype=np.float64)
