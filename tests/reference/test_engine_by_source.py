"""Cooling, power and water against handbook formulas and reference libraries.

Values "computed" were made once with the library named; nothing of it is needed to run these.
"""

from __future__ import annotations

import numpy as np
import pytest

from terrain.calc.atmosphere import (
    air_density_kg_m3,
    pressure_hpa,
    standard_density_kg_m3,
    standard_temp_c,
    unblown_power_share,
)
from terrain.stages.heat.engine_model import _AIR_HEAT, draught_m_s, fins_w_k, radiator_w_k
from terrain.tables.advice import RIDERS
from terrain.tables.engine import ENGINE
from terrain.tables.heat import EFFORTS, QUART_L, WATER_COOL_L_H, WATER_HOT_L_H
from terrain.values.trip import Rider

_SEA = 1.2


def _effectiveness(core_m_s: float, density: float = _SEA) -> float:
    """Of the radiator of a 1 kW engine at an air speed in its core, no fan and no draught."""
    give = radiator_w_k(
        np.array([core_m_s / ENGINE.core_air_share]), np.array([density]),
        power_kw=1.0, fan=False, air_c=ENGINE.fan_on_c,
    )  # fmt: skip
    stream = density * _AIR_HEAT * ENGINE.core_m2_at_1kw * core_m_s
    return float(give[0] / stream)


def _units(core_m_s: float, density: float = _SEA) -> float:
    return float(-np.log(1.0 - _effectiveness(core_m_s, density)))


@pytest.mark.parametrize(
    ("capacity_ratio", "effectiveness", "within"), [(0.05, 0.6230, 0.01), (0.2, 0.5965, 0.04)]
)
def test_a_core_is_as_good_as_a_crossflow_exchanger_of_the_handbooks(
    capacity_ratio: float, effectiveness: float, within: float
) -> None:
    """Crossflow, both unmixed, one heat transfer unit: computed with ht 1.2.0
    (effectiveness_from_NTU). A pump moves five times what the air can take, and more."""
    assert ENGINE.core_ntu == 1.0
    got = _effectiveness(ENGINE.core_ntu_at_m_s, ENGINE.core_ntu_at_kg_m3)
    assert got == pytest.approx(effectiveness, abs=within)
    assert got > effectiveness  # the model leaves the coolant's own cooling out


def test_heat_transfer_units_fall_with_speed_as_over_a_bank_of_tubes() -> None:
    """Zukauskas, ten rows in line: Nu 27.86 at Re 2000, 66.72 at Re 8000 (computed, ht 1.2.0);
    units go with Nu / Re."""
    handbook = (66.72 / 27.86) / 4.0
    assert _units(16.0) / _units(4.0) == pytest.approx(handbook, rel=0.06)


@pytest.mark.parametrize("ele_m", [2_000.0, 4_000.0])
def test_thin_air_in_a_core_counts_by_its_mass(ele_m: float) -> None:
    """Nu of air depends on the Reynolds number, and that on the stream of mass (Incropera,
    Fundamentals of Heat and Mass Transfer, chapter 7): at 4000 m as at two thirds of the speed."""
    density = float(standard_density_kg_m3(np.array([ele_m]))[0])
    assert _units(4.0, density) == pytest.approx(_units(4.0 * density / _SEA), rel=1e-6)
    # So a fan at rest loses less than the air gets thinner, but it loses.
    fan = [
        float(radiator_w_k(np.zeros(1), np.array([d]), power_kw=22.0, fan=True, air_c=30.0)[0])
        for d in (density, _SEA)
    ]
    assert density / _SEA < fan[0] / fan[1] < 1.0


# Film on a finned head of 80 mm across [W/(m2 K)]: Churchill and Bernstein, cylinder across the
# stream, by road speed [km/h] (computed, ht 1.2.0, air at 60 deg C); in still air 7.6 by Churchill
# and Chu, and 10.2 of radiation at 180 deg C against 30, emissivity 0.8 (Stefan and Boltzmann).
_FILM = {10: 24.6, 20: 38.2, 40: 59.4, 80: 93.5, 120: 122.5}
_STILL_FILM, _RADIATED = 7.6, 10.2


def _fins(kph: float) -> float:
    speed, density = np.array([kph / 3.6]), np.array([_SEA])
    return float(fins_w_k(speed, density, displacement_cc=200, oil_cooler=False)[0])


@pytest.mark.parametrize("kph", [10, 20, 40, 120])
def test_fins_lose_with_speed_what_a_cylinder_across_the_stream_does(kph: int) -> None:
    handbook = (_FILM[kph] + _RADIATED) / (_FILM[80] + _RADIATED)
    assert _fins(kph) / _fins(80) == pytest.approx(handbook, rel=0.08)


def test_fins_in_still_air_have_no_more_than_free_convection_and_radiation() -> None:
    """Fins see each other: less than a bare head radiates and more than free convection alone."""
    share = _fins(0) / _fins(80)
    whole = _FILM[80] + _RADIATED
    assert _STILL_FILM / whole < share < (_STILL_FILM + _RADIATED) / whole


def test_the_draught_of_a_hot_core_is_less_than_a_chimney_without_losses() -> None:
    """v = sqrt(2 g H dT / T): 1.19 m/s for a core 0.3 m high, 90 K warmer than the air, at 100
    deg C (textbook); fins and hoses take most of it. A quarter of the warmth makes half of it."""
    warm, less = draught_m_s(10.0), draught_m_s(77.5)
    assert 0.1 < warm < 1.19
    assert less / warm == pytest.approx(0.5)


def test_a_litre_of_coolant_stores_what_a_reference_library_says() -> None:
    """50 % ethylene glycol by mass, CoolProp 8.0.0 (INCOMP::MEG-50%): 3.676 kJ/(L K) at 80 deg C,
    3.687 at 95."""
    assert pytest.approx(3_680.0, rel=0.01) == ENGINE.coolant_j_k_l


def test_coolant_boils_between_plain_water_and_the_mixture_under_a_cap() -> None:
    """Raoult on IAPWS steam (computed, CoolProp 8.0.0): under a cap of 0.9 bar plain water boils
    at 118.8 deg C, half glycol at 127.0; at 4000 m under one of 1.1 bar the mixture at 123.5."""
    assert 118.8 < ENGINE.boil_c < 123.5 < 127.0
    assert ENGINE.thermostat_c < ENGINE.fan_on_c < ENGINE.boil_c


@pytest.mark.parametrize(("temp_c", "density"), [(0, 1.2931), (20, 1.2046), (40, 1.1274)])
def test_dry_air_equals_a_reference_library(temp_c: float, density: float) -> None:
    """CoolProp 8.0.0, air at 101,325 Pa."""
    got = air_density_kg_m3(np.array([1013.25]), np.array([float(temp_c)]))[0]
    assert got == pytest.approx(density, rel=1e-3)


@pytest.mark.parametrize(
    ("temp_c", "density"), [(35, 1.12665), (40, 1.12127), (30, 1.15556)]
)  # fmt: skip
def test_that_air_is_moist_may_be_left_out_of_cooling(temp_c: float, density: float) -> None:
    """35 deg C at 80 %, 40 at 20 and 30 at 50 % humidity, CoolProp 8.0.0 (HAPropsSI): within 2 %,
    and lighter always."""
    got = air_density_kg_m3(np.array([1013.25]), np.array([float(temp_c)]))[0]
    assert 1.0 < got / density < 1.02


@pytest.mark.parametrize("ele_m", [1_000.0, 2_000.0, 3_000.0, 4_000.0])
def test_power_at_height_by_the_correction_of_a_test_bench(ele_m: float) -> None:
    """DIN 70020 (from memory): power goes with pressure and with the root of 1 / temperature."""
    at = np.array([ele_m])
    warm = (273.15 + 15.0) / (273.15 + standard_temp_c(at)[0])
    bench = pressure_hpa(at)[0] / 1013.25 * warm**0.5
    left = unblown_power_share(standard_density_kg_m3(at))[0]
    assert left == pytest.approx(bench, abs=0.035)


@pytest.mark.parametrize(
    ("effort", "step", "sweat_l_h"),
    [("moderate", 2, 0.58), ("moderate", 4, 1.03), ("high", 2, 0.88)],
)
def test_water_to_drink_is_what_the_predicted_heat_strain_sweats(
    effort: str, step: int, sweat_l_h: float
) -> None:
    """ISO 7933 (pythermalcomfort 4.8.1, phs), two hours standing in 0.3 to 0.5 m/s, 1 clo, 40 to
    50 %, acclimatised: 30 deg C under a globe of 50 at 2.3 and at 3.5 MET (WBGT 28 to 29, 82 to 85
    F), and 35 under 55 at 2.3 MET (WBGT 33, above 90 F)."""
    row = next(e for e in EFFORTS if e.name == effort)
    assert row.water_qt_h[step] * QUART_L == pytest.approx(sweat_l_h, rel=0.25)


def test_water_in_mild_air_is_what_the_predicted_heat_strain_sweats() -> None:
    """The same at 25 deg C under a globe of 45 (WBGT 25): 0.37 L/h; and most of all is told where
    it is hottest."""
    assert pytest.approx(0.37, rel=0.25) == WATER_COOL_L_H
    assert max(max(e.water_qt_h) for e in EFFORTS) * QUART_L == WATER_HOT_L_H


@pytest.mark.parametrize(("friction", "tyres"), [(0.45, "road"), (0.60, "block")])
def test_no_rider_is_at_ease_on_climbs_that_tyres_cannot_hold(friction: float, tyres: str) -> None:
    """Rear-wheel drive, half the weight on it, its centre at 0.45 of the wheelbase: the steepest
    climb is mu / 2 / (1 - 0.45 mu) (textbook; mu of loose gravel from memory). A novice stops far
    short of it, an expert on block tyres does not pass it."""
    steepest_pct = 100.0 * friction / 2 / (1.0 - 0.45 * friction)
    assert RIDERS[Rider.NOVICE].loose_grade_pct[1] < steepest_pct / 2
    assert RIDERS[Rider.EXPERT].loose_grade_pct[0] < steepest_pct
    if tyres == "block":
        assert RIDERS[Rider.EXPERT].loose_grade_pct[1] < steepest_pct
