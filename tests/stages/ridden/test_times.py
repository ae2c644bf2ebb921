"""Times learned from rides drawn from known factors."""

from __future__ import annotations

from datetime import date, timedelta

import numpy as np
import pytest

from terrain.stages.ridden.learning.times import learn_times
from terrain.values.learned import RideLesson
from terrain.values.trip import Rider

_DAY = date(2027, 3, 14)


def _lessons(
    n: int, factor: tuple[float, float, float], *, seed: int = 1, ride_sd: float = 0.08,
    rider: Rider = Rider.STEADY, bike: str | None = None, hours: float = 1.0,
) -> list[RideLesson]:  # fmt: skip
    rng = np.random.default_rng(seed)
    found = []
    for i in range(n):
        own = rng.normal(0.0, ride_sd)
        expected = rng.uniform(0.5, 1.5, 3) * 3_600.0 * hours
        noise = rng.normal(0.0, 0.12 * np.sqrt(600.0 / expected))
        moving = expected * np.array(factor) * np.exp(own + noise)
        a, b, c = (float(v) for v in moving)
        d, e, f = (float(v) for v in expected)
        found.append(
            RideLesson(
                name=f"ride {i}", day=_DAY + timedelta(days=i), rider=rider, bike_class=bike,
                length_m=(1e4, 1e4, 1e4), moving_s=(a, b, c), expected_s=(d, e, f),
            )
        )  # fmt: skip
    return found


def test_many_rides_find_the_factors() -> None:
    learned = learn_times(_lessons(60, (1.0, 1.25, 1.5)))
    assert learned is not None
    pace = learned.pace_for(Rider.STEADY, None)
    assert pace is not None
    np.testing.assert_allclose(pace.factor, (1.0, 1.25, 1.5), rtol=0.06)
    for g, true in enumerate((1.0, 1.25, 1.5)):
        assert 0.97 * pace.low[g] < true < 1.03 * pace.high[g]
    assert learned.ride_sd == pytest.approx(0.08, abs=0.04)
    assert (learned.n_rides, pace.n_alike) == (60, 60)
    assert (learned.first_day, learned.last_day) == (_DAY, _DAY + timedelta(days=59))


def test_few_rides_are_drawn_towards_the_tables() -> None:
    factors = []
    for n in (1, 5, 40):
        learned = learn_times(_lessons(n, (1.4, 1.4, 1.4), ride_sd=0.02))
        assert learned is not None
        pace = learned.pace_for(Rider.STEADY, None)
        assert pace is not None
        factors.append(pace.factor[1])
    assert 1.0 < factors[0] < factors[1] < factors[2] < 1.45
    one = learn_times(_lessons(1, (1.4, 1.4, 1.4)))
    many = learn_times(_lessons(40, (1.4, 1.4, 1.4)))
    assert one is not None
    assert many is not None
    wide, narrow = (t.pace_for(Rider.STEADY, None) for t in (one, many))
    assert wide is not None
    assert narrow is not None
    assert wide.high[1] / wide.low[1] > 1.3 * narrow.high[1] / narrow.low[1]


def test_a_ground_nobody_rode_keeps_the_tables() -> None:
    lessons = [
        RideLesson(
            name="r", day=_DAY, rider=Rider.STEADY, bike_class=None, length_m=(1e4, 0.0, 0.0),
            moving_s=(1_300.0, 0.0, 0.0), expected_s=(1_000.0, 0.0, 0.0),
        )
        for _ in range(20)
    ]  # fmt: skip
    learned = learn_times(lessons)
    assert learned is not None
    pace = learned.pace_for(Rider.STEADY, None)
    assert pace is not None
    assert pace.factor[0] > 1.15
    assert pace.factor[2] == pytest.approx(1.0, abs=0.01)
    assert pace.spread[2] > pace.spread[0]


def test_riders_and_classes_have_their_own() -> None:
    quick = _lessons(40, (0.8, 0.8, 0.8), rider=Rider.EXPERT, bike="enduro")
    slow = _lessons(40, (1.2, 1.2, 1.2), seed=2, rider=Rider.NOVICE, bike="tourer")
    learned = learn_times([*quick, *slow])
    assert learned is not None
    expert = learned.pace_for(Rider.EXPERT, "enduro")
    novice = learned.pace_for(Rider.NOVICE, "tourer")
    unknown = learned.pace_for(Rider.STEADY, "no such class")
    assert expert is not None
    assert novice is not None
    assert unknown is not None
    assert expert.factor[0] < 0.93
    assert novice.factor[0] > 1.07
    assert expert.factor[0] < unknown.factor[0] < novice.factor[0]
    assert unknown.spread[0] > expert.spread[0]
    assert expert.n_alike == 40


def test_doubtful_rides_teach_nothing() -> None:
    mad = _lessons(1, (4.0, 4.0, 4.0), ride_sd=0.0)
    learned = learn_times([*_lessons(5, (1.0, 1.0, 1.0)), *mad])
    assert learned is not None
    assert learned.n_rides == 5
    assert "times the tables'" in learned.left_out[0][1]
    assert learn_times(mad) is None
    assert learn_times([]) is None


def test_intervals_of_the_mean_hold() -> None:
    """Of 60 samples of 12 rides, nine in ten hold the true factor (binomial: 48 to 59 of 60)."""
    held = 0
    for seed in range(60):
        true = float(np.exp(np.random.default_rng(seed + 500).normal(0.0, 0.2)))
        learned = learn_times(_lessons(12, (true, true, true), seed=seed))
        assert learned is not None
        pace = learned.pace_for(Rider.STEADY, None)
        assert pace is not None
        held += pace.low[1] <= true <= pace.high[1]
    assert held >= 48


def test_rides_all_alike_are_learned_from() -> None:
    one = _lessons(1, (1.2, 1.2, 1.2))[0]
    learned = learn_times([one] * 500)
    assert learned is not None
    pace = learned.pace_for(Rider.STEADY, None)
    assert pace is not None
    ratio = one.moving_s[0] / one.expected_s[0]
    assert pace.factor[0] == pytest.approx(ratio, rel=0.02)
    assert min(pace.spread) > 0.0
