"""Setting off and light by day, by hand."""

from __future__ import annotations

from datetime import date, datetime

import numpy as np
import pytest

from terrain.stages.days.daylight import _since_midnight_s
from terrain.stages.days.nights import DayStarts
from terrain.values.plan import Daylight

H = 3_600.0


def _sun(sunrise_h: float, dusk_h: float) -> Daylight:
    return Daylight(sunrise_s=sunrise_h * H, sunset_s=(dusk_h - 0.5) * H, dusk_s=dusk_h * H)


@pytest.mark.parametrize(
    ("day", "sets_off_h", "latest_h"),
    [(0, 5.0, 19.0), (1, 9.0, 18.0), (2, 8.5, 17.0), (7, 8.5, 17.0)],
)
def test_days_begin_after_sunrise_and_end_an_hour_before_dusk(
    day: int, sets_off_h: float, latest_h: float
) -> None:
    """The first day as asked, the others at half past eight or at sunrise; after the last day
    whose light is known, as that one."""
    starts = DayStarts(8.5 * H, 5.0 * H, (_sun(6.0, 20.0), _sun(9.0, 19.0), _sun(7.0, 18.0)))
    assert (starts.sets_off_s(day), starts.latest_s(day)) == (sets_off_h * H, latest_h * H)


def test_without_light_days_begin_as_asked_and_have_no_end() -> None:
    starts = DayStarts(8.5 * H, 5.0 * H, ())
    assert [starts.sets_off_s(day) for day in (0, 1, 5)] == [5.0 * H, 8.5 * H, 8.5 * H]
    assert starts.sun(3) is None and starts.latest_s(3) == np.inf


@pytest.mark.parametrize(
    ("moment", "seconds"),
    [
        (datetime(2027, 6, 1, 4, 5, 6), 4 * 3600 + 5 * 60 + 6),
        (datetime(2027, 6, 2, 0, 30), 86_400 + 1_800),
        (datetime(2027, 5, 31, 23, 0), -3_600),
    ],
)
def test_dusk_after_midnight_is_late_in_the_day(moment: datetime, seconds: int) -> None:
    assert _since_midnight_s(moment, date(2027, 6, 1)) == seconds
