"""Light, shares of the riding time and ranks of the table of months and hours, by hand."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from types import SimpleNamespace
from typing import Any
from zoneinfo import ZoneInfo

import numpy as np
import pytest

from terrain.stages.when.judge import (
    _case,
    _cell,
    _light,
    _rank,
    _since_midnight_s,
    _time_shares,
    rank_months,
)
from terrain.tables.when import WHEN
from terrain.values.clock import RideClock, SunDay, SunKind
from tests.stages.when.test_words import cell, month

H = 3_600.0
_DAY = date(2025, 6, 15)


def _at(hour: float | None) -> datetime | None:
    if hour is None:
        return None
    return datetime.combine(_DAY, datetime.min.time(), UTC) + timedelta(hours=hour)


def _sun(
    dawn: float | None = 5.0, sunrise: float | None = 6.0, sunset: float | None = 18.0,
    dusk: float | None = 19.0, kind: SunKind = SunKind.USUAL,
) -> SunDay:  # fmt: skip
    return SunDay(
        day=_DAY, zone="UTC", kind=kind, dawn=_at(dawn), sunrise=_at(sunrise), sunset=_at(sunset),
        dusk=_at(dusk),
    )  # fmt: skip


def _clock(*start_h: float, hours: float = 4.0) -> RideClock:
    """Days of 100 km, ridden in some hours each."""
    n = len(start_h)
    return RideClock(
        knot_m=np.array([0.0, 1e5 * n]), knot_s=np.array([0.0, hours * H * n]),
        night_m=np.arange(1e5, 1e5 * n, 1e5), start_s=np.array(start_h) * H, back_s=np.zeros(n),
        zone=ZoneInfo("UTC"),
    )  # fmt: skip


# Four hours are passed 18 hundredths later, and lunch half of 45 minutes after half past one.
_ARRIVES_H = 8.0 + 4.0 * 1.18


@pytest.mark.parametrize(
    ("first", "hour", "before_h"),
    [
        (_sun(), 4, 1.0), (_sun(), 5, 0.0), (_sun(), 6, 0.0),
        (_sun(dawn=None), 5, 1.0),  # no dusk in the night: from sunrise
        (_sun(dawn=None, dusk=None), 1, 0.0),  # light all night
        (_sun(dawn=None, sunrise=None, kind=SunKind.POLAR_DAY), 1, 0.0),
        (_sun(dawn=None, sunrise=None, kind=SunKind.POLAR_NIGHT), 12, 24.0),
        (_sun(dawn=10.0, sunrise=None, kind=SunKind.POLAR_NIGHT), 8, 2.0),
    ],
)  # fmt: skip
def test_riding_before_dawn(first: SunDay, hour: int, before_h: float) -> None:
    assert _light(hour, [first, _sun()], _clock(8.0))[0] == pytest.approx(before_h * H)


@pytest.mark.parametrize(
    ("last", "left_h"),
    [
        (_sun(), 19.0 - _ARRIVES_H), (_sun(dusk=None), 18.0 - _ARRIVES_H),
        (_sun(dusk=25.0), 25.0 - _ARRIVES_H),  # after midnight
        (_sun(dawn=None, dusk=None), None),  # never dark
        (_sun(sunset=None, dusk=None, kind=SunKind.POLAR_DAY), None),
        (_sun(sunset=None, dusk=None, kind=SunKind.POLAR_NIGHT), -24.0),
        (_sun(sunset=None, dusk=14.0, kind=SunKind.POLAR_NIGHT), 14.0 - _ARRIVES_H),
    ],
)  # fmt: skip
def test_light_left_on_arrival(last: SunDay, left_h: float | None) -> None:
    left = _light(8, [_sun(), last], _clock(8.0))[1]
    assert left is None if left_h is None else left == pytest.approx(left_h * H)


def test_of_several_days_the_least_light_counts() -> None:
    suns = [_sun(), _sun(dusk=20.0), _sun(dusk=15.0), _sun(dusk=None, dawn=None)]
    left = _light(8, suns, _clock(8.0, 9.0, 8.0))[1]
    assert left == pytest.approx((15.0 - (9.0 + 4.0 * 1.18 + 0.375)) * H)


def test_seconds_since_midnight_of_the_sun_s_day() -> None:
    moment = datetime(2025, 6, 16, 1, 2, 3, tzinfo=UTC)
    assert _since_midnight_s(moment, _sun()) == 25 * H + 123
    assert _since_midnight_s(moment - timedelta(days=2), _sun()) == -23 * H + 123


@dataclass(frozen=True)
class _Inputs:
    """What a case needs of a passage."""

    clock: RideClock
    zone: ZoneInfo


def test_later_days_do_not_set_off_before_sunrise() -> None:
    inputs: Any = _Inputs(clock=_clock(7.0, 7.0, 7.0), zone=ZoneInfo("UTC"))
    suns = [_sun(), _sun(sunrise=8.5), _sun(sunrise=None), _sun(sunrise=9.0)]
    case, start = _case(inputs, suns, 6, 5)
    assert case.clock.start_s.tolist() == [5 * H, 8.5 * H, 5 * H]
    assert (start.month, start.day, start.hour) == (6, 15, 5)
    late, _ = _case(inputs, suns, 6, 9)
    assert late.clock.start_s.tolist() == [9 * H] * 3


def test_shares_of_the_riding_time_without_ferries() -> None:
    """At 0, 10, 20 and 40 km: 5, 10, 15 and 10 km each, at one speed; the third on a ferry."""
    at = np.array([0.0, 10e3, 20e3, 40e3])
    ferry = np.array([False, True])
    inputs: Any = SimpleNamespace(
        clock=SimpleNamespace(riding_s=lambda m: np.asarray(m) / 10.0), ferry=ferry,
        stretch_of=lambda m: np.array([0, 0, 1, 0]),
    )  # fmt: skip
    assert _time_shares(inputs, at).tolist() == pytest.approx([0.2, 0.4, 0.0, 0.4])
    inputs.stretch_of = lambda m: np.ones(4, int)
    assert _time_shares(inputs, at).tolist() == [0.25] * 4


@pytest.mark.parametrize(
    ("wbgt", "chill", "temp", "shares"),
    [
        (24.9, 20.0, 20.0, (0.0, 0.0, 0.0, 0.0)), (25.0, 20.0, 20.0, (0.3, 0.0, 0.0, 0.0)),
        (28.0, 20.0, 20.0, (0.3, 0.3, 0.0, 0.0)), (10.0, WHEN.cold_c, 20.0, (0.0, 0.0, 0.0, 0.0)),
        (10.0, WHEN.cold_c - 0.1, 20.0, (0.0, 0.0, 0.3, 0.0)),
        (10.0, 20.0, WHEN.ice_c, (0.0, 0.0, 0.0, 0.3)),
        (10.0, 20.0, WHEN.ice_c + 0.1, (0.0, 0.0, 0.0, 0.0)),
    ],
)  # fmt: skip
def test_shares_of_a_cell_by_its_levels(
    wbgt: float, chill: float, temp: float, shares: tuple[float, float, float, float]
) -> None:
    """Three tenths of the time in that air, the rest in a mild one."""
    air: Any = SimpleNamespace(
        wbgt_riding_c=np.array([wbgt, 15.0]), wind_chill_c=np.array([chill, 18.0]),
        temp_c=np.array([temp, 19.0]),
    )  # fmt: skip
    got = _cell(8, [_sun(), _sun()], _clock(8.0), air, np.array([0.3, 0.7]), WHEN)
    assert (got.rest_share, got.hard_share, got.cold_share, got.ice_share) == shares
    assert got.max_air_temp_c == max(temp, 19.0)
    assert got.max_wbgt_riding_c == max(wbgt, 15.0)
    assert got.min_wind_chill_c == min(chill, 18.0)


@pytest.mark.parametrize(
    ("hour", "dusk", "dark"),
    [
        (8, _ARRIVES_H + 1.0, False), (8, _ARRIVES_H + 0.99, True), (4, 23.0, True),
        (5, 23.0, False), (8, None, False),
    ],
)  # fmt: skip
def test_dark_is_before_dawn_or_within_an_hour_of_dusk(
    hour: int, dusk: float | None, dark: bool
) -> None:
    air: Any = SimpleNamespace(
        wbgt_riding_c=np.array([10.0]), wind_chill_c=np.array([18.0]), temp_c=np.array([19.0])
    )
    end = _sun(dusk=dusk, dawn=None if dusk is None else 5.0)
    start = 8.0 if hour == 8 else float(hour)
    assert _cell(hour, [_sun(), end], _clock(start), air, np.ones(1), WHEN).is_dark == dark


@pytest.mark.parametrize(
    ("shut_m", "soft_m", "rank"),
    [
        (999.0, 0.0, (0, 0.3)), (1_000.0, 0.0, (1, 0.3)), (2_999.0, 0.0, (1, 0.3)),
        (3_000.0, 20_000.0, (2, 0.5)),
    ],
)  # fmt: skip
def test_ranks_by_what_is_shut_in_steps_of_a_fiftieth(
    shut_m: float, soft_m: float, rank: tuple[int, float]
) -> None:
    """100 km: from half a step on it counts as one. Trouble is the sum of all shares."""
    one = cell(8, rest_share=0.1, hard_share=0.05, cold_share=0.05, ice_share=0.1)
    got = _rank(month(1, [one], shut_m=shut_m, soft_m=soft_m), one, 1e5, WHEN)
    assert got.shut == rank[0] and got.trouble == pytest.approx(rank[1])


@pytest.mark.parametrize(("trouble", "best"), [(0.15, True), (0.16, False)])
def test_cells_nearly_as_good_as_the_best_are_marked(trouble: float, best: bool) -> None:
    """15 hundredths (common practice, no source); a dark one never, however mild."""
    cells = [cell(8), cell(9, rest_share=trouble), cell(10, is_dark=True)]
    months, worst = rank_months([month(3, cells), month(4, [cell(8)], shut_m=9_000.0)], 1e5, WHEN)
    assert [c.is_best for c in months[0].cells] == [True, best, False]
    assert [c.is_best for c in months[1].cells] == [False]
    assert worst == (4, 8)


def test_the_worst_cell_is_the_first_of_the_gravest() -> None:
    months = [month(n, [cell(h, is_dark=h == 9) for h in (8, 9)]) for n in (1, 2)]
    assert rank_months(months, 1e5, WHEN)[1] == (1, 9)
