"""When a ride sets off, what it lacks for engines, and the air of its stretches, by hand."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta, timezone
from types import SimpleNamespace
from typing import Any
from zoneinfo import ZoneInfo

import numpy as np
import pytest

from terrain.stages.heat import air as air_module
from terrain.stages.heat import judge as module
from terrain.stages.heat.air import coldest_along
from terrain.stages.heat.judge import _first_start, _hottest_start_h, _stretches, _unknown
from terrain.stages.heat.words import Unknown

H = 3_600.0
_ZONE = ZoneInfo("Europe/Madrid")


@pytest.mark.parametrize(
    ("grades", "heights", "lacks"),
    [
        (True, 0.0, None), (False, 0.5, Unknown.GRADES), (False, 0.49, Unknown.HEIGHTS),
    ],
)  # fmt: skip
def test_what_a_ride_lacks_to_judge_engines(
    grades: bool, heights: float, lacks: Unknown | None, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Half of the heights (common practice, no source)."""
    monkeypatch.setattr(module, "grades_known", lambda inputs: grades)
    inputs: Any = SimpleNamespace(height_known_share=heights)
    assert _unknown(inputs) is lacks


def _inputs(start_h: float = 9.0, day_h: float = 4.0) -> Any:
    clock = SimpleNamespace(
        start_s=np.array([start_h * H, 7 * H]), day_riding_s=np.array([day_h * H])
    )
    return SimpleNamespace(zone=_ZONE, clock=clock)


def test_setting_off_is_by_the_clock_of_the_days_unless_a_zone_is_named() -> None:
    """The guide begins at nine, whatever the hour of the file; who names a zone means it."""
    plain = _first_start(_inputs(), datetime(2027, 7, 1, 6, 30))
    assert plain == datetime(2027, 7, 1, 9, 0, tzinfo=_ZONE)
    named = _first_start(_inputs(), datetime(2027, 7, 1, 6, 30, tzinfo=UTC))
    assert named == datetime(2027, 7, 1, 6, 30, tzinfo=UTC)
    east = timezone(timedelta(hours=5))
    assert _first_start(_inputs(), datetime(2027, 7, 1, 1, 0, tzinfo=east)).utcoffset() is not None


@pytest.mark.parametrize(("day_h", "start_h"), [(2.0, 1.18), (4.0, 2.36)])
def test_without_an_hour_the_middle_of_the_first_day_is_in_the_heat(
    day_h: float, start_h: float
) -> None:
    """Half of the riding and its stops, 18 hundredths more, before the hottest hour."""
    hottest = module._HOTTEST_H
    assert _hottest_start_h(_inputs(day_h=day_h)) == pytest.approx(hottest - start_h)
    # But nobody sets off before the morning.
    assert _hottest_start_h(_inputs(day_h=24.0)) == module._MORNING_H


def test_the_air_of_a_stretch_is_that_of_its_middle() -> None:
    """Samples at 0 and 10 km, of 20 and 30 C; stretches to 4 and to 10 km: at 2 and at 7 km."""
    at_m = np.array([0.0, 10_000.0])
    rising = {
        name: np.array([low, low + 10.0])
        for name, low in (
            ("unix_s", 0.0), ("temp_c", 20.0), ("heat_index_c", 40.0), ("wbgt_still_c", 60.0)
        )
    }  # fmt: skip
    inputs: Any = SimpleNamespace(from_m=np.array([0.0, 4e3]), to_m=np.array([4e3, 10e3]))
    air: Any = SimpleNamespace(at_m=at_m, **rising)
    got = _stretches(inputs, air)
    assert got.temp_c.tolist() == pytest.approx([22.0, 27.0])
    assert got.unix_s.tolist() == pytest.approx([2.0, 7.0])
    assert got.heat_index_c.tolist() == pytest.approx([42.0, 47.0])
    assert got.wbgt_c.tolist() == pytest.approx([62.0, 67.0])


def test_the_coldest_air_and_the_coldest_wind_of_a_ride(monkeypatch: pytest.MonkeyPatch) -> None:
    """5 C slowly and 7 C at 80 km/h: by Environment Canada's formula 13.12 + 0.6215 t - 11.37
    v^0.16 + 0.3965 t v^0.16 the second chills more: 2.67 C at 80 km/h against 4.08 at 6."""
    temp, kph = np.array([5.0, 7.0]), np.array([6.0, 80.0])
    monkeypatch.setattr(air_module, "_height_shift_k", lambda *_: np.zeros(2))
    monkeypatch.setattr(air_module, "_of_day", lambda *_: temp)
    monkeypatch.setattr(air_module, "_at", lambda climate, values: values)
    inputs: Any = SimpleNamespace(
        speed_kph=kph, stretch_of=lambda at: np.array([0, 1]), heights=lambda at: at,
        ferry=np.zeros(2, np.bool_),
    )  # fmt: skip
    climate: Any = SimpleNamespace(at_m=np.array([0.0, 1.0]), year=SimpleNamespace(tmin_c=None))
    power = kph**0.16
    chill = 13.12 + 0.6215 * temp - 11.37 * power + 0.3965 * temp * power
    assert chill[1] < chill[0]
    lowest, wind = coldest_along(inputs, climate, 10.0)
    assert lowest == 5.0 and wind == pytest.approx(chill[1], abs=0.05)
    inputs.ferry = np.array([False, True])  # nobody rides on board
    assert coldest_along(inputs, climate, 10.0)[1] == pytest.approx(chill[0], abs=0.05)
