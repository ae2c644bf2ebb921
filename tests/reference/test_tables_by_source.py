"""The numbers behind advice, heat, plan and bikes against the documents they come from.

Each check names its document; what was not read for it says "from memory".
"""

from __future__ import annotations

import numpy as np
import pytest
import thermofeel
from scipy.optimize import brentq
from scipy.special import ndtri

from terrain.calc.atmosphere import standard_density_kg_m3, unblown_power_share
from terrain.calc.humid_heat import heat_index_c
from terrain.calc.normal import normal_quantile
from terrain.stages.advice.bikes.measures import carried_kg
from terrain.stages.heat.engine_model import rolling_resistance, tractive_power_w
from terrain.tables.advice import ALTITUDE, BIKES, HEAT, REMOTE, RIDERS
from terrain.tables.advice_kit import CHECKS
from terrain.tables.engine import ENGINE, TOWN_STANDING_SHARE
from terrain.tables.fleet import DEFAULT_FLEET
from terrain.tables.heat import (
    EFFORTS,
    OVER_LIMIT_H,
    QUART_L,
    USED_TO_HEAT_C,
    WATER_MOST_L_H,
    Measure,
    levels_c,
)
from terrain.values.fleet import FleetRules
from terrain.values.trip import Trip


def test_work_limits_of_iso_7243_for_the_acclimatised_and_the_others() -> None:
    """ISO 7243:1989, reference values, as quoted in an instrument manual: low 30 and 29, moderate
    28 and 26, high in still air 25 and 22 deg C."""
    assert [(e.name, e.wbgt_limit_c, e.wbgt_new_c) for e in EFFORTS] == [
        ("low", 30.0, 29.0), ("moderate", 28.0, 26.0), ("high", 25.0, 22.0),
    ]  # fmt: skip
    assert OVER_LIMIT_H == 1.0  # the standard's mean is taken over an hour


def test_people_are_used_to_heat_from_the_first_class_of_the_heat_index_on() -> None:
    """US National Weather Service: caution from 80 deg F, 27 deg C."""
    assert pytest.approx((80 - 32) / 1.8, abs=0.5) == USED_TO_HEAT_C


def test_heat_index_classes_of_the_weather_service() -> None:
    """80, 90, 103 and 125 deg F (US National Weather Service)."""
    fahrenheit = [round(c * 1.8 + 32) for c in levels_c(Measure.INDEX)]
    assert fahrenheit == pytest.approx([80, 90, 103, 125], abs=1)
    assert HEAT.extreme_index_c == levels_c(Measure.INDEX)[-1]


def test_wbgt_steps_of_the_japan_sports_guide() -> None:
    """Guide of 2013, Ministry of the Environment: 21 caution, 25 rest, 28 severe, 31 stop."""
    assert levels_c(Measure.RIDING) == levels_c(Measure.WBGT) == (21.0, 25.0, 28.0, 31.0)


def test_gear_heats_from_the_air_temperatures_of_the_trial() -> None:
    """de Rome et al. 2016, Ergonomics 59(4):504: slow at 30 C, 38.5 in the core at 35 C."""
    assert levels_c(Measure.AIR) == (30.0, 35.0)
    assert HEAT.gear_air_c == 35.0


def test_heat_index_where_each_class_begins_by_a_reference_library() -> None:
    """thermofeel's adjusted index, the temperature solved for at 60 % humidity."""
    for limit_c in levels_c(Measure.INDEX)[1:]:

        def off(temp_c: float, limit_c: float = limit_c) -> float:
            kelvin = np.array([temp_c + 273.15])
            dew = _dew_point_k(temp_c, 60.0)
            return (
                float(thermofeel.calculate_heat_index_adjusted(kelvin, dew)[0]) - 273.15 - limit_c
            )

        at_c = brentq(off, 25.0, 48.0)
        got = heat_index_c(np.array([at_c]), np.array([60.0]))[0]
        assert got == pytest.approx(limit_c, abs=0.4)


def _dew_point_k(temp_c: float, humidity_pct: float) -> np.ndarray:
    """Magnus form with the constants of WMO guide no. 8."""
    gamma = np.log(humidity_pct / 100.0) + 17.62 * temp_c / (243.12 + temp_c)
    return np.array([243.12 * gamma / (17.62 - gamma) + 273.15])


def test_most_water_an_hour_of_the_army_table() -> None:
    """US Army TB MED 507: at most 1.5 quarts an hour; a US quart is 0.946 L (NIST Handbook 44)."""
    assert pytest.approx(0.946353, abs=1e-4) == QUART_L
    assert pytest.approx(1.5 * 0.946353, abs=1e-3) == WATER_MOST_L_H
    for effort in EFFORTS:
        assert list(effort.water_qt_h) == sorted(effort.water_qt_h)
        assert max(effort.water_qt_h) * QUART_L <= WATER_MOST_L_H


def test_heights_of_the_cdc() -> None:
    """CDC travellers' health: risk above 2450 m (8000 ft), not above 2750 m (9000 ft) in a day."""
    assert pytest.approx(8000 * 0.3048, abs=15) == ALTITUDE.risk_m
    assert pytest.approx(9000 * 0.3048, abs=15) == ALTITUDE.one_day_m


def test_an_hour_to_care_is_the_yardstick() -> None:
    """Vanderschuren & McKune 2015, International Journal of Health Geographics 14:5."""
    assert REMOTE.care_s == 3600.0


def test_a_new_rider_gets_no_more_power_than_category_a2() -> None:
    """Directive 2006/126/EC, Article 4(3)(b): not exceeding 35 kW and 0.2 kW/kg."""
    assert FleetRules().new_rider_kw == 35.0
    learner = [
        bike for bike in DEFAULT_FLEET.classes
        if bike.power_kw <= FleetRules().new_rider_kw
        and bike.mass_kg <= FleetRules().new_rider_kg
        and bike.minimum_rider.value == "novice"
    ]  # fmt: skip
    assert learner and all(bike.power_kw / bike.mass_kg <= 0.2 for bike in learner)


def test_small_bikes_off_the_motorway_are_those_of_category_a1() -> None:
    """Directive 2006/126/EC, Article 4(3)(a): to 125 cc, 11 kW; several countries keep these off
    the motorway, from memory."""
    assert FleetRules().motorway_min_cc == 125.0


def test_rolling_resistance_lies_within_the_handbooks() -> None:
    """Asphalt .01-.02, rolled gravel .02, loose gravel and soil .04-.08: engineering reference
    table; sand .1-.2: Carvill 1993; packed gravel .012, wet loose gravel .06: Marks' handbook."""
    ground = np.eye(3)
    paved, gravel, easy = rolling_resistance(ground, np.zeros(3))
    assert 0.01 <= paved <= 0.02
    assert 0.012 <= gravel <= 0.06
    assert 0.04 <= easy <= 0.08
    assert 0.10 <= rolling_resistance(ground, np.ones(3))[2] <= 0.20


def test_drag_areas_lie_within_those_measured() -> None:
    """CdA .18 to .70 m2 over all motorcycles: Cossalter, quoted in a simulation manual."""
    assert all(0.18 <= bike.drag_area_m2 <= 0.70 for bike in DEFAULT_FLEET.classes)


def test_thin_air_takes_the_power_of_a_farm_engine_text() -> None:
    """3 % per 1000 ft above 500 ft: within three points to 3000 m."""
    for ele_m in (1000.0, 2000.0, 3000.0):
        rule = 1 - 0.03 * (ele_m / 304.8 - 0.5)
        share = float(unblown_power_share(standard_density_kg_m3(np.array(ele_m))))
        assert share == pytest.approx(rule, abs=0.03)


def test_top_speed_of_each_class_is_one_that_its_kind_has() -> None:
    """The speed at which drag and rolling take all its power (textbook, solved by scipy): from a
    150 cc of 10 kW to a 65 kW twin, 95 to 200 km/h (common practice, no source)."""
    top = {}
    for bike in DEFAULT_FLEET.classes:

        def spare_w(m_s: float, bike=bike) -> float:
            need = tractive_power_w(
                np.array([m_s]), np.zeros(1), mass_kg=bike.mass_kg + 100.0,
                rolling=np.array([ENGINE.rolling[0]]), drag_area_m2=bike.drag_area_m2,
                density_kg_m3=np.array([1.225]),
            )  # fmt: skip
            return 1000 * bike.power_kw * ENGINE.drive_share - float(need[0])

        top[bike.name] = 3.6 * brentq(spare_w, 5.0, 90.0)
    assert 95 <= top["light-trail"] < top["small-all-rounder"] < top["dual-sport"]
    assert top["dual-sport"] < top["road-tourer"] <= 200


def test_standing_in_towns_is_that_of_the_urban_cycle() -> None:
    """Elementary urban cycle, UN Regulation 83: 60 s of idling in 195 s (from memory)."""
    assert pytest.approx(60 / 195) == TOWN_STANDING_SHARE


def test_every_letter_of_t_clocs_is_checked() -> None:
    """Tyres, Controls, Lights, Oil, Chassis, Stands: Motorcycle Safety Foundation."""
    (row,) = [row for row in CHECKS if row.code == "t-clocs"]
    text = row.text.lower()
    order = [text.index(word) for word in
             ("tyres", "controls", "lights", "oil", "chassis", "stands")]  # fmt: skip
    assert order == sorted(order) and "Motorcycle Safety Foundation" in row.source


def test_what_people_weigh_is_within_a_law_for_vehicles() -> None:
    """Regulation (EU) 168/2013 counts a rider as 75 kg (Annex I, from memory); gear adds ten."""
    assert 75.0 <= BIKES.person_kg <= 75.0 + 12.0
    assert carried_kg(Trip(luggage="none"), BIKES) >= BIKES.person_kg


def test_riders_rest_before_the_roads_codes_would_have_them() -> None:
    """At least each 2 h (UK Highway Code rule 91), 2 h or 100 km (NZ road code), 1.5 h or 150 km
    (NSW road safety)."""
    rules = FleetRules()
    assert rules.rest_every_s <= 1.5 * 3600 and rules.rest_every_m <= 100_000


def test_a_long_day_stays_within_the_drivers_hours_of_a_lorry() -> None:
    """Regulation (EC) 561/2006, Article 6(1): nine hours of driving in a day, ten twice a week.
    Only an expert is at ease with so much, and nobody with more."""
    assert max(limits.day_s[0] for limits in RIDERS.values()) <= 9 * 3600
    assert FleetRules().ride_day_s < 9 * 3600


def test_the_normal_quantile_equals_scipy() -> None:
    """Draws of doubtful ground rest on it."""
    p = np.concatenate([np.geomspace(1e-9, 0.5, 50), 1 - np.geomspace(1e-9, 0.5, 50)])
    assert normal_quantile(p) == pytest.approx(ndtri(p), abs=1e-6)
