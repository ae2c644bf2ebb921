"""Power and engine heat: worked examples, and what must hold of the model."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from terrain.stages.heat.engine_model import (
    coolant_heat_w,
    fins_w_k,
    radiator_w_k,
    rolling_resistance,
    run_engine,
    tractive_power_w,
    usual_coolant_l,
)
from terrain.tables.engine import ENGINE
from terrain.tables.fleet import DEFAULT_FLEET
from terrain.values.fleet import BikeClass, Cooling


def _bike(cooling: Cooling) -> BikeClass:
    return next(b for b in DEFAULT_FLEET.classes if b.cooling is cooling)


@pytest.mark.parametrize(
    ("rolling", "grade", "kph", "density", "kw"),
    [
        # Worked by the textbook formula: 330 kg, CdA 0.6.
        (0.015, 0.0, 90.0, 1.225, 6.96),
        (0.02, 8.0, 50.0, 1.0, 5.28),
        (0.15, 0.0, 25.0, 1.1, 3.48),
        (0.05, 12.0, 20.0, 1.0, 3.09),
    ],
)
def test_power_examples(
    rolling: float, grade: float, kph: float, density: float, kw: float
) -> None:
    got = tractive_power_w(
        np.array([kph / 3.6]),
        np.array([grade]),
        mass_kg=330,
        rolling=np.array([rolling]),
        drag_area_m2=0.6,
        density_kg_m3=np.array([density]),
    )
    assert got[0] / 1000 == pytest.approx(kw, abs=0.01)


def test_drag_of_a_handbook_example() -> None:
    """Half rho CdA v^3 at 100 km/h, CdA 0.5, sea level: 6.56 kW."""
    got = tractive_power_w(
        np.array([100 / 3.6]),
        np.zeros(1),
        mass_kg=0,
        rolling=np.zeros(1),
        drag_area_m2=0.5,
        density_kg_m3=np.array([1.225]),
    )
    assert got[0] / 1000 == pytest.approx(6.56, abs=0.01)


def test_rolling_steep_downhill_takes_no_power() -> None:
    got = tractive_power_w(
        np.array([8.0]),
        np.array([-10.0]),
        mass_kg=300,
        rolling=np.array([0.02]),
        drag_area_m2=0.5,
        density_kg_m3=np.array([1.2]),
    )
    one = np.array([8.0])
    assert got[0] < 0
    assert coolant_heat_w(got, one, 300)[0] == coolant_heat_w(np.zeros(1), one, 300)[0] > 0


def test_rolling_resistance_follows_ground_and_severity() -> None:
    """Reference tables: asphalt .01-.02, loose gravel and soil .04-.08, sand .1-.2."""
    p = np.array([[1.0, 0, 0], [0, 1.0, 0], [0, 0, 1.0], [0, 0, 1.0], [0, 0, 1.0]])
    got = rolling_resistance(p, np.array([0.0, 0.0, 0.0, 1.0, np.nan]))
    assert 0.01 <= got[0] <= 0.02 < got[1] <= 0.04 < got[2] <= 0.08
    assert 0.1 <= got[3] <= 0.2
    assert got[2] < got[4] < got[3]


def test_fuel_of_a_cruise_is_plausible() -> None:
    """Heat to coolant is a third of the fuel: 300 cc at 90 km/h burns 2.3-4 l/100 km (common
    practice, no source); petrol 32 MJ/l."""
    heat = coolant_heat_w(np.array([5_700.0]), np.array([25.0]), 300)[0]
    litres_100km = heat / ENGINE.coolant_share / 32e6 * 3600 / 0.9
    assert 2.3 <= litres_100km <= 4.0


def test_radiator_gives_more_with_speed_density_and_fan() -> None:
    def give(v: float, rho: float = 1.2, fan: bool = False) -> float:
        return float(
            radiator_w_k(np.array([v]), np.array([rho]), power_kw=22, fan=fan, air_c=30.0)[0]
        )

    assert give(2) < give(6) < give(20) < 4 * give(6)
    assert 0.75 * give(6) < give(6, 0.9) < give(6)
    assert give(2, fan=True) > 1.5 * give(2)
    assert give(25, fan=True) < 1.05 * give(25)
    # Air stream times effectiveness: never more than all the air's heat.
    area = ENGINE.core_m2_at_1kw * 22**ENGINE.core_exponent
    assert give(6) < 1.2 * 1005 * area * ENGINE.core_air_share * 6


def test_fins_give_little_in_still_air() -> None:
    def give(v: float, *, oil: bool = False) -> float:
        return float(
            fins_w_k(np.array([v]), np.array([1.2]), displacement_cc=200, oil_cooler=oil)[0]
        )

    assert 0 < give(0) < 0.2 * give(22)
    assert give(10, oil=True) == pytest.approx(ENGINE.oil_gain * give(10))


def _ride(bike: BikeClass, kph: float, grade: float, air: float, rolling: float, minutes: int = 40):
    n = minutes
    one = np.ones(n)
    power = tractive_power_w(
        one * kph / 3.6,
        one * grade,
        mass_kg=bike.mass_kg + 105,
        rolling=one * rolling,
        drag_area_m2=bike.drag_area_m2,
        density_kg_m3=one * 1.1,
    )
    return run_engine(
        bike,
        time_s=60 * one,
        power_w=power,
        speed_m_s=one * kph / 3.6,
        air_c=one * air,
        density_kg_m3=one * 1.1,
    )


def test_road_cruise_needs_no_fan_and_hot_slow_climb_does() -> None:
    """Common practice, no source: what riders of small liquid-cooled singles know."""
    bike = _bike(Cooling.LIQUID)
    single = next(b for b in DEFAULT_FLEET.classes if b.name == "dual-sport")
    for one in (bike, single):
        assert not _ride(one, 90, 0, 40, 0.015).hot.any()
        assert _ride(one, 12, 12, 38, 0.08).hot.mean() > 0.5
    assert not _ride(single, 30, 0, 15, 0.03).hot.any()


def test_half_the_power_at_a_quarter_of_the_airflow_is_hotter() -> None:
    """Track .05, 12 %, 20 km/h asks 3.1 kW, asphalt at 90 km/h 7.0 kW: the slow one runs hotter."""
    single = next(b for b in DEFAULT_FLEET.classes if b.name == "dual-sport")
    slow, fast = _ride(single, 20, 12, 35, 0.05), _ride(single, 90, 0, 35, 0.015)
    assert slow.power_w[0] < 0.6 * fast.power_w[0]
    assert slow.ratio[0] > 1.5 * fast.ratio[0]
    assert slow.bare_c[-1] > fast.bare_c[-1]


def test_fan_cools_and_thermostat_holds() -> None:
    single = next(b for b in DEFAULT_FLEET.classes if b.name == "dual-sport")
    run = _ride(single, 12, 12, 38, 0.08)
    assert run.cooled_c[-1] < run.bare_c[-1] - 10
    cold = _ride(single, 60, 0, -5, 0.015)
    assert np.all(cold.bare_c == ENGINE.thermostat_c)


def test_balance_is_reached_and_is_heat_over_give() -> None:
    single = next(b for b in DEFAULT_FLEET.classes if b.name == "dual-sport")
    run = _ride(single, 12, 12, 38, 0.08, minutes=300)
    give = radiator_w_k(
        np.array([12 / 3.6]), np.array([1.1]), power_kw=single.power_kw, fan=False, air_c=38.0,
        coolant_l=single.coolant_l,
    )[0]  # fmt: skip
    heat = coolant_heat_w(run.power_w[-1:], np.array([12 / 3.6]), single.displacement_cc)
    assert run.bare_c[-1] == pytest.approx(38 + heat[0] / give, abs=0.1)
    # As many times what is carried away at the fan's switch point as it is so many times warmer.
    warmer_k, fan_k = run.bare_c[-1] - 38, ENGINE.fan_on_c - 38
    assert run.ratio[-1] == pytest.approx(warmer_k / fan_k, rel=0.01)


def test_a_litre_of_coolant_more_stores_its_heat() -> None:
    """200 cc and a litre more than is usual store 6 + 7 + 3.7 kJ/K: after that over what is given
    off a kelvin 1/e is left between the thermostat's 85 C and the balance."""
    bike = replace(_bike(Cooling.LIQUID), displacement_cc=200.0, power_kw=16.0, fan=False)
    bike = replace(bike, coolant_l=usual_coolant_l(16.0) + 1.0)
    slow, rho, air = np.array([2.0]), np.array([1.1]), np.array([35.0])
    give = radiator_w_k(
        slow, rho, power_kw=16.0, fan=False, air_c=air, coolant_l=bike.coolant_l
    )  # fmt: skip
    power = np.array([4_000.0])
    balance = 35 + coolant_heat_w(power, slow, 200.0) / give
    run = run_engine(
        bike, time_s=16_700 / give, power_w=power, speed_m_s=slow, air_c=air, density_kg_m3=rho
    )
    assert balance > 150
    assert run.bare_c == pytest.approx(balance - (balance - 85) / np.e)


def test_steps_of_any_length_give_the_same_end() -> None:
    single = next(b for b in DEFAULT_FLEET.classes if b.name == "dual-sport")
    fine = _ride(single, 12, 12, 38, 0.08, minutes=10)
    one = np.ones(1)
    coarse = run_engine(
        single,
        time_s=600 * one,
        power_w=fine.power_w[:1],
        speed_m_s=one * 12 / 3.6,
        air_c=38 * one,
        density_kg_m3=1.1 * one,
    )
    assert coarse.bare_c[-1] == pytest.approx(fine.bare_c[-1], abs=0.01)


def test_a_ferry_cools_the_engine() -> None:
    air_cooled = _bike(Cooling.AIR)
    n = np.ones(60)
    running = np.arange(60) < 30
    run = run_engine(
        air_cooled,
        time_s=60 * n,
        power_w=2500 * running,
        speed_m_s=4 * running,
        air_c=30 * n,
        density_kg_m3=1.1 * n,
        running=running,
    )
    assert run.bare_c[-1] < run.bare_c[29] - 40
    # Newton's law: without heat of its own the engine nears the air by the same share each minute.
    above = run.bare_c[29:] - 30
    assert above[1:] / above[:-1] == pytest.approx(np.full(30, above[1] / above[0]))


@pytest.mark.parametrize(
    ("cooling", "left"), [(Cooling.AIR, np.exp(-1)), (Cooling.OIL, np.exp(-1.25))]
)
def test_an_engine_that_is_off_cools_by_newtons_law(cooling: Cooling, left: float) -> None:
    """200 cc store 6 + 7 kJ/K and give off 5.6 W/K in still air, a quarter more with an oil cooler:
    of 100 K above the air 1/e is left after 13,000 / 5.6 s."""
    bike = replace(_bike(Cooling.AIR), cooling=cooling, displacement_cc=200.0)
    one = np.ones(4)
    run = run_engine(
        bike, time_s=one * 13_000 / 5.6 / 4, power_w=5_000 * one, speed_m_s=0 * one,
        air_c=20 * one, density_kg_m3=1.2 * one, running=one < 0,
    )  # fmt: skip
    assert run.bare_c[-1] == run.cooled_c[-1] == pytest.approx(20 + 100 * left)


def test_a_high_strung_single_runs_hotter_than_a_heavy_twin_at_walking_pace() -> None:
    """8 km/h on a soft 6 % at 35 C: little coolant and a small core against size and power
    (common practice, no source)."""
    peak = {}
    for name in ("enduro", "dual-sport", "road-tourer"):
        bike = DEFAULT_FLEET.named(name)
        assert bike is not None
        peak[name] = _ride(bike, 8, 6, 35, 0.06, minutes=30).bare_c[-1]
    assert peak["enduro"] > peak["dual-sport"] > peak["road-tourer"]


def test_coolant_of_the_fleet_file_counts_both_as_store_and_as_core() -> None:
    enduro = DEFAULT_FLEET.named("enduro")
    assert enduro is not None
    usual_l = 0.22 * enduro.power_kw**0.55
    rides = {
        litres: _ride(replace(enduro, coolant_l=litres), 8, 6, 35, 0.06, minutes=10).bare_c
        for litres in (None, usual_l, 0.7 * usual_l)
    }
    assert rides[usual_l] == pytest.approx(rides[None])
    assert rides[0.7 * usual_l][-1] > rides[usual_l][-1] + 3
    # A core of 0.7 of the area gives off 0.7 of the heat.
    full, less = (
        radiator_w_k(
            np.array([2.0]), np.array([1.1]), power_kw=35, fan=True, air_c=35.0, coolant_l=litres
        )
        for litres in (usual_l, 0.7 * usual_l)
    )
    assert less / full == pytest.approx(0.7)
