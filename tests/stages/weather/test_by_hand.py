"""A forecast brought to a ride, a case on each side of each limit, by hand."""

from __future__ import annotations

from datetime import UTC, date, datetime
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from terrain.stages.weather.along import day_air, rain_between, soaked
from terrain.stages.weather.judge import _rain, _words
from terrain.values.arrays import FloatArray
from terrain.values.forecast import Forecast

NAN = np.nan
KM_NORTH = 1.0 / 110.574  # degrees at the equator: geodetic reference system, from memory


def _forecast(rain: FloatArray, *, why: str = "", made: bool = True) -> Forecast:
    """Two places on the equator, 1 degree apart and 500 m high; warmer by the day and the place."""
    n, days = rain.shape
    shape = np.arange(days) + 10.0 * np.arange(n)[:, None]
    at = datetime(2027, 7, 15, 6, 0, tzinfo=UTC)
    return Forecast(
        source="Some Service", asked_at=at, made_at=at if made else None, first=date(2027, 7, 1),
        lon=np.arange(n) * 1.0, lat=np.zeros(n), ele_m=np.full(n, 500.0), tmax_c=20.0 + shape,
        tmin_c=10.0 + shape, half_k=3.0 + 0 * shape, vapour_g_m3=9.0 + 0 * shape, rain_mm=rain,
        n_asked=n, why=why,
    )  # fmt: skip


DRY = np.zeros((2, 5))


@pytest.mark.parametrize(
    ("lon", "km_north", "ele_m", "day", "tmax_c"),
    [
        (0.0, 0.0, 500.0, 0, 20.0), (0.0, 0.0, 500.0, 4, 24.0), (0.0, 0.0, 500.0, 5, NAN),
        (0.0, 0.0, 500.0, -1, NAN), (0.4, 0.0, 500.0, 0, NAN), (0.7, 0.0, 500.0, 0, 30.0),
        (0.0, 39.9, 500.0, 0, 20.0), (0.0, 40.1, 500.0, 0, NAN),  # 40 km off at most
        (0.0, 0.0, 1_500.0, 0, 13.5), (0.0, 0.0, 300.0, 0, 21.3),  # 6.5 K a kilometre
        (0.0, 0.0, NAN, 0, 20.0),
    ],
)  # fmt: skip
def test_air_of_the_nearest_place_and_day(
    lon: float, km_north: float, ele_m: float, day: int, tmax_c: float
) -> None:
    got = day_air(
        _forecast(DRY), np.array([lon]), np.array([km_north * KM_NORTH]), np.array([ele_m]),
        np.array([day]),
    )  # fmt: skip
    told = not np.isnan(tmax_c)
    assert got.tmax_c == pytest.approx([tmax_c], nan_ok=True)
    assert got.tmin_c == pytest.approx([tmax_c - 10.0], nan_ok=True)
    assert [got.half_k[0], got.vapour_g_m3[0]] == pytest.approx(
        [3.0, 9.0] if told else [NAN, NAN], nan_ok=True
    )


def test_nothing_is_told_without_places() -> None:
    none = _forecast(np.zeros((0, 0)))
    one = np.zeros(1)
    assert np.isnan(day_air(none, one, one, one, np.zeros(1, int)).tmax_c).all()
    assert rain_between(none, one, one, 0, 3) is None


@pytest.mark.parametrize(
    ("first", "days", "span"),
    [
        (0, 2, (3.0, 30.0)),
        (1, 2, (5.0, 50.0)),
        (3, 2, (9.0, 90.0)),
        (4, 2, None),
        (0, 1, (1.0, 10.0)),
    ],
)  # fmt: skip
def test_rain_is_summed_over_days_all_told(
    first: int, days: int, span: tuple[float, float] | None
) -> None:
    """1, 2, 3, 4, 5 mm at one place, ten times as much at the other."""
    rain = np.outer([1.0, 10.0], np.arange(1.0, 6.0))
    assert rain_between(_forecast(rain), np.array([0.0, 1.0]), np.zeros(2), first, days) == span


def _soaked(
    rain: list[float], month_mm: float, at_m: float = 0.0, day: int = 14
) -> tuple[float, bool]:
    """Setting off on the day of the last column."""
    got = soaked(
        _forecast(np.array([rain])), np.zeros(1), np.zeros(1), np.array([at_m]),
        date(2027, 7, day), np.array([month_mm]),
    )  # fmt: skip
    return float(got.month_mm[0]), bool(got.told[0])


@pytest.mark.parametrize(
    ("rain", "month_mm", "wet_mm", "told"),
    [
        # A millimetre a day is 30.4 in a month; the wetter of one week and two.
        ([1.0] * 14, 90.0, 30.4, True),
        ([0.0] * 7 + [2.0] * 7, 90.0, 60.8, True),
        ([2.0] * 7 + [0.0] * 7, 90.0, 30.4, True),
        # Days not told go by the month's mean, and make nothing drier than it is.
        ([NAN] * 7 + [0.0] * 7, 30.4, 30.4, False),
        ([NAN] * 7 + [3.0] * 7, 30.4, 91.2, True),
        ([NAN] * 13 + [14.0], 30.4, 86.857, True),  # (14 + 6) / 7 x 30.4
        ([NAN] * 14, 30.4, 30.4, False),
        ([1.0] * 14, NAN, 30.4, True),
        ([NAN] * 7 + [3.0] * 7, NAN, NAN, False),
    ],
)
def test_ground_is_as_wet_as_the_days_before(
    rain: list[float], month_mm: float, wet_mm: float, told: bool
) -> None:
    got = _soaked(rain, month_mm)
    assert got[0] == pytest.approx(wet_mm, rel=1e-4, nan_ok=True)
    assert got[1] == told


@pytest.mark.parametrize(("at_m", "wet_mm"), [(249_999.0, 0.0), (250_000.0, 608.0)])
def test_a_place_250_km_on_is_passed_a_day_later(at_m: float, wet_mm: float) -> None:
    """140 mm fall on the second day: 20 a day over the week."""
    assert _soaked([0.0] * 14 + [140.0], 0.0, at_m)[0] == pytest.approx(wet_mm)


@pytest.mark.parametrize(
    ("share", "why", "wanted"),
    [
        (1.0, "", [None]), (0.995, "", [None]), (0.994, "", ["It reaches"]),
        (0.01, "", ["It reaches"]), (0.0, "", ["It does not reach"]),
        (1.0, "no answer", ["no answer"]), (0.5, "no answer", ["It reaches", "no answer"]),
    ],
)  # fmt: skip
def test_how_far_a_forecast_reaches(share: float, why: str, wanted: list[str | None]) -> None:
    heat: Any = SimpleNamespace(forecast_share=share, zone=UTC)
    words = [str(word) for word in _words(_forecast(DRY, why=why), heat, None, None)]
    inner = [want for want in wanted if want]
    assert words[0].replace("\xa0", " ") == (
        "Weather forecast of 15 July 2027, 06:00: Some Service."
    )
    assert len(words) == 2 + len(inner)
    assert all(want in word for want, word in zip(inner, words[1:], strict=False))
    assert _words(_forecast(DRY, made=False), heat, None, None) == ()


@pytest.mark.parametrize(
    ("past", "ahead", "begins"),
    [
        (
            (1.0, 20.0),
            (2.0, 30.0),
            "Rain along the ride: 20 mm at most in the 14 days before, 30",
        ),
        (None, (2.0, 30.0), "Rain along the ride: 30 mm at most in the 7 days"),
        ((1.0, 20.0), None, "Rain along the ride: 20 mm at most in the 14 days before."),
        (None, None, "No rain is told"),
    ],
)
def test_rain_is_told_as_far_as_it_is_known(past: Any, ahead: Any, begins: str) -> None:
    assert str(_rain(past, ahead)).replace("\xa0", " ").startswith(begins)
