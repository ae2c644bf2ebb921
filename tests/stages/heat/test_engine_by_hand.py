"""A ride in steps and what is told of an engine on it, reckoned by hand."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from terrain.stages.heat import engine
from terrain.stages.heat.engine import judge_engine, ride_steps
from terrain.stages.heat.engine_model import EngineRun
from terrain.tables.fleet import DEFAULT_FLEET
from terrain.values.fleet import Cooling
from terrain.values.heat import Concern
from terrain.values.trip import Luggage, Trip
from tests.stages.heat.test_by_hand import _air, _steps
from tests.stages.heat.test_heat import TRACK, ride


def test_a_ride_in_steps_cut_at_its_stretches_with_a_stop_between() -> None:
    """950 m at 36 km/h, up 9.5 m, in ten stretches of 95 m: ten steps of 95 m, the last but one a
    ferry. One stands for a minute at 200 m and at the end; on the ferry the engine is off."""
    ferry = np.arange(10) == 8
    way = replace(
        ride(km=0.95, kph=36.0, ele_m=(100.0, 109.5), p=TRACK), ferry=ferry,
        p=np.where(np.arange(10)[:, None] == 4, np.nan, TRACK),
        stand_at_m=np.array([200.0, 800.0, 950.0]), stand_s=np.array([60.0, 600.0, 60.0]),
    )  # fmt: skip
    steps = ride_steps(way)
    stands = np.isin(np.arange(12), [3, 11])  # after the step in which 200 m lies, and the last
    moves = ~stands
    ends = 95.0 * np.arange(11)
    assert steps.from_m[moves] == pytest.approx(ends[:-1])
    assert steps.to_m[moves] == pytest.approx(ends[1:])
    assert steps.at_m[moves] == pytest.approx(ends[1:] - 47.5)
    assert (steps.from_m[3], steps.at_m[3], steps.to_m[3]) == (200.0, 200.0, 200.0)
    assert steps.time_s == pytest.approx(np.where(stands, 60.0, 9.5))
    assert steps.speed_m_s == pytest.approx([10, 10, 10, 0, 10, 10, 10, 10, 10, 0, 10, 0])
    assert steps.grade_pct == pytest.approx(np.where(stands, 0.0, 1.0))
    assert steps.ele_m[moves] == pytest.approx(100.0 + steps.at_m[moves] / 100.0)
    assert steps.running.tolist() == [True] * 9 + [False, True, True]
    assert steps.grade_known.all()
    # Nothing known of the fifth stretch: .2, .3, .5, as off the map.
    assert steps.p[moves][[3, 4]] == pytest.approx(np.array([TRACK, (0.2, 0.3, 0.5)]))


def test_finer_steps_and_coarser() -> None:
    """11.9 km in steps of 100 m end at each hundred and at the ends of ten stretches of 1.19 km,
    nine of which lie between; in steps of 5 km there are three as long as each other."""
    way = ride(km=11.9)
    assert len(ride_steps(way).at_m) == 119 + 9
    assert ride_steps(way, 5_000.0).to_m == pytest.approx(11_900.0 / 3 * np.arange(1, 4))


def test_what_an_engine_is_asked_for() -> None:
    """Level tarmac at 10 m/s, 0 C, sea level: air of 101,325 / (287.05 x 273.15) = 1.2923 kg/m3.
    Rider of 85 kg with boxes of 30, and 70 behind where there is a seat; boxes add .1 m2."""
    steps = _steps(speed_m_s=np.full(10, 10.0))
    bike = replace(DEFAULT_FLEET.classes[0], mass_kg=150.0, drag_area_m2=0.5, seats=2)
    for seats, pillion, kg in ((2, True, 335.0), (2, False, 265.0), (1, True, 265.0)):
        trip = Trip(pillion=pillion, luggage=Luggage.BOXES)
        run, density = engine._run(replace(bike, seats=seats), steps, np.zeros(10), trip)
        assert density == pytest.approx(np.full(10, 1.2923), abs=1e-4)
        watts = 10.0 * (0.015 * kg * 9.81 + 0.5 * 1.2923 * 0.6 * 100.0)
        assert run.power_w == pytest.approx(np.full(10, watts), rel=1e-4)


@pytest.mark.parametrize(("cooling", "limit"), [(Cooling.LIQUID, 120.0), (Cooling.AIR, 210.0)])
def test_what_is_told_of_an_engine_is_of_its_hot_steps(
    monkeypatch: pytest.MonkeyPatch, cooling: Cooling, limit: float
) -> None:
    """Ten steps of 30 s: hot on the second, and from the sixth to the eighth, which boils. On a day
    at the band's upper end, with climbs where no grade is known, it is hot on all of them."""
    n = np.arange(10)
    hot = (n == 1) | ((n >= 5) & (n <= 7))
    grade_known = n != 9
    steps = _steps(grade_known=grade_known)

    def run(_: object, given: object, air_c: object, trip: object) -> object:
        high = bool(np.max(air_c) > 20.0)
        grade = given.grade_pct  # type: ignore[attr-defined]
        assert grade.tolist() == [0.0] * 9 + [6.0 if high else 0.0]
        of_step = EngineRun(
            bare_c=90.0 + n, cooled_c=np.where(n == 7, limit + 1.0, limit), hot=hot | high,
            power_w=np.where(n == 4, 8_700.0, 870.0), ratio=0.1 * n,
        )  # fmt: skip
        # Half of the usual air on the first step, more than it on the last.
        return of_step, 1.225 * np.where(n == 0, 0.5, np.where(n == 9, 1.1, 1.0))

    monkeypatch.setattr(engine, "_run", run)
    bike = replace(DEFAULT_FLEET.classes[0], cooling=cooling, power_kw=20.0, coolant_l=None)
    air = replace(_air(temp=np.linspace(10.0, 20.0, 11)), at_m=np.linspace(0.0, 1_000.0, 11))
    heat = judge_engine(bike, steps, air, Trip())
    assert (heat.fan_s, heat.fan_high_s, heat.boil_s, heat.longest_s) == (120, 300, 30, 90)
    assert (heat.concern, heat.limit_c) == (Concern.HIGH, limit)
    assert (heat.peak_c, heat.cooled_peak_c) == (99.0, limit + 1.0)
    # 10 kW at the crank of 20; .9 kW of the 10 that are left in half of the air are less.
    assert heat.most_power_share == pytest.approx(0.5)
    assert heat.least_power_left == pytest.approx(0.5, abs=1e-3)
    first, second = heat.runs
    assert (first.from_m, first.to_m, first.time_s) == (100.0, 200.0, 30.0)
    assert first.why == ("fan" if cooling is Cooling.LIQUID else "fins")
    assert (second.from_m, second.to_m, second.why) == (500.0, 800.0, "boil")
    assert (second.air_temp_c, second.peak_c) == (pytest.approx(17.5), 97.0)
    assert second.ratio == pytest.approx(0.7)
