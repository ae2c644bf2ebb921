"""What a recorded ride is told to have been: 3 km of tarmac and 3 of gravel, worked by hand.

Without 1.5 km at both ends 1.5 km of each are left: 90 s at 60 km/h and 150 s at 36.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime

import numpy as np
import pytest

from terrain.stages.ridden.judge import RiddenInputs, _rough, judge_ridden
from terrain.stages.ridden.rests import Knots
from terrain.values.ground import Ground, GroundKind
from terrain.values.ridden import Ridden
from terrain.values.trip import Rider
from terrain.values.zones import ZoneGrid
from tests.stages.ridden.lines import laid, ride_of, rising
from tests.stages.tinymap import EAST_M

_NAIROBI_DEG = 36.8  # on the equator north of it the clock is 3 h before UTC, all year
_EIGHT_S = datetime(2027, 3, 14, 5, tzinfo=UTC).timestamp()
_REST_S = 240.0


def _inputs(at_m: np.ndarray, lon: float = _NAIROBI_DEG) -> RiddenInputs:
    """Fixes at some places of the ride, ridden just as estimated, with a rest at 2 km."""
    match = laid([(0, 0), (6_000, 0)], [(3_000.0, 0), (6_000.0, 1)], lon=lon)
    ride = ride_of(match, GroundKind.PAVED, GroundKind.GRAVEL)
    zero, time_s = np.zeros(len(at_m)), _EIGHT_S + ride.speeds.at_s(at_m)
    knots = Knots(
        lon=lon + at_m / EAST_M, lat=zero, ele_m=zero, piece=zero.astype(np.int32),
        arrive_s=time_s + np.where(at_m > 2_000.0, _REST_S, 0.0),
        leave_s=time_s + np.where(at_m >= 2_000.0, _REST_S, 0.0), noise_m=4.0,
    )  # fmt: skip
    ground = Ground(
        p=np.zeros((2, 3)), basis=np.zeros(2, np.int8), severity=np.zeros(2, np.int8),
        stretches=ride.stretches, shares=None, basis_shares={},
    )  # fmt: skip
    return RiddenInputs(
        name="ride", source="ride.gpx", region="r", knots=knots, match=match, at_m=at_m,
        ground=ground, speeds=ride.speeds, grade_pct=(None, 5.0), rider=Rider.STEADY,
        bike_class=None, problems=(),
    )  # fmt: skip


def test_times_are_told_by_the_zones_of_the_region() -> None:
    inputs = _inputs(rising((6_000, 100)), _NAIROBI_DEG)
    zones = ZoneGrid(
        names=("Asia/Tokyo",), cell=np.zeros((1, 1), np.int32), west=-180.0, south=-90.0,
        step_deg=360.0,
    )  # fmt: skip
    assert judge_ridden(inputs).start_time.endswith("+03:00")
    assert judge_ridden(replace(inputs, zones=zones)).start_time.endswith("+09:00")


def _judged(*ends: tuple[float, float], lon: float = _NAIROBI_DEG) -> Ridden:
    return judge_ridden(_inputs(rising(*ends), lon))


@pytest.mark.parametrize("turns", [0.0, 360.0, -360.0])
def test_times_are_told_by_the_clock_of_the_place(turns: float) -> None:
    """A line over the date line runs on beyond 180 degrees."""
    told = _judged((6_000, 100), lon=_NAIROBI_DEG + turns)
    # Off at 08:00; 1.5 km take 90 s. On from 2 km: 60 s of tarmac and 150 of gravel to 4.5 km.
    assert told.start_time == "2027-03-14T08:01:30+03:00"
    assert told.end_time == "2027-03-14T08:09:30+03:00"
    (stop,) = told.stops
    assert (stop.from_time[11:19], stop.to_time[11:19]) == ("08:02:00", "08:06:00")
    assert (stop.at_m, stop.standing_s) == pytest.approx((500.0, _REST_S), abs=0.01)
    times = (told.moving_s, told.expected_s, told.standing_s)
    assert times == pytest.approx((240, 240, 240), abs=0.01)


@pytest.mark.parametrize(("far_m", "shown"), [(600.0, True), (800.0, False)])
def test_of_a_part_half_between_far_fixes_the_way_is_not_shown(far_m: float, shown: bool) -> None:
    """600 of 1,500 m between two fixes, or 800, right before others 300 and 100 m apart."""
    told = _judged((3_600, 100), (3_600 + far_m, far_m), (4_500, 900 - far_m), (6_000, 100))
    assert [part.shown for part in told.parts] == [True, shown]


def test_times_stand_by_ground_then_by_severity_then_by_grade() -> None:
    told = _judged((6_000, 100)).times
    assert [(row.by, row.what, row.length_m) for row in told] == [
        ("ground", "gravel", 1_500.0), ("ground", "paved", 1_500.0),
        ("severity", "0", 3_000.0), ("grade", "4 to 8 %", 1_500.0),
    ]  # fmt: skip
    assert [row.expected_s for row in told] == pytest.approx([150, 90, 240, 150])
    assert [row.moving_s for row in told] == pytest.approx([150, 90, 240, 150], abs=0.01)


def test_each_night_counts_from_its_own_dusk() -> None:
    """On the equator the sun is 6 degrees down half an hour after six, and long up at eight."""
    day = _inputs(rising((6_000, 100)))
    assert judge_ridden(day).night_s == 0.0
    later = replace(
        day.knots, arrive_s=day.knots.arrive_s + 12 * 3_600, leave_s=day.knots.leave_s + 12 * 3_600
    )
    assert judge_ridden(replace(day, knots=later)).night_s == pytest.approx(240, abs=10)


@pytest.mark.parametrize(
    ("high_s", "gap_s", "told"),
    [(1_031.0, 20.0, 1), (1_030.0, 20.0, 0), (1_031.0, 19.9, 0), (1_000.0, 60.0, 0)],
)
def test_times_are_rough_by_three_percent_and_fixes_far_apart(
    high_s: float, gap_s: float, told: int
) -> None:
    """Of 1000 s, with fixes 20 s apart or more; common practice, no source."""
    assert len(_rough(1_000.0, 990.0, high_s, gap_s)) == told
