"""The numbers of the engine heat model, each with its source."""

from __future__ import annotations

from dataclasses import dataclass

from terrain.text.catalogue import N_

_CP = N_("common practice, no source")


@dataclass(frozen=True, slots=True, kw_only=True)
class EngineModel:
    """Power, heat and cooling of a motorcycle engine.

    rolling : Crr of paved, gravel, and track at severity 0 and 1
        (asphalt .01-.02, rolled gravel .02, loose gravel and soil .04-.08: engineering reference
        table; sand .1-.2: Carvill 1993)
    drive_share : power at the wheel over power at the crank (common practice, no source)
    friction_pa : mean effective pressure of friction, 1.5 bar (Heywood, from memory)
    turning_min, turning_min_kph, turning_cc, turning_exponent : turns a minute = (2500 + 25 per
        km/h) x (300 / cc)^0.25, since small engines turn faster (common practice, no source)
    indicated_share : work on the piston over fuel energy, part load (Heywood, from memory)
    coolant_share : heat to coolant or fins over fuel energy: about one third (rule, common
        practice; Heywood gives 17-26 % at full load, more at part load, from memory)
    core_m2_at_1kw, core_exponent : radiator core area = a x kW^b; common practice, no source
    coolant_l_at_1kw : usual coolant = a x kW^core_exponent [L]; less of it goes with a smaller
        core, down to coolant_least of the usual core area; common practice, no source
    coolant_j_k_l : heat a litre of it stores: 50 % ethylene glycol at 80 C has 3.6 kJ/(kg K) and
        1.03 kg/L (handbook of heating engineers, from memory)
    core_air_share : air speed in the core over road speed; common practice, no source
    core_ntu, core_ntu_at_m_s, core_ntu_at_kg_m3 : heat transfer units of the core at an air speed
        and density; they fall with the stream of mass^0.4 (compact exchangers, Kays & London, from
        memory)
    fan_m_s : air speed in the core that the fan alone makes; common practice, no source
    draught_m_s, draught_at_k : air speed in the core that its own heat draws in no wind, where it
        is so much warmer than the air; what the block gives off to still air is in it. Such that an
        engine left on passes its fan's switch point within a quarter of an hour in the heat and
        never in frost: common practice, no source
    fin_w_k_cc : heat given off by fins per kelvin and cc at 80 km/h, growing with speed^0.6;
        fin_still_w_k_cc in still air; oil_gain more with an oil cooler; common
        practice, no source
    mass_j_k_cc, mass_j_k : heat stored per kelvin: per cc and fixed, by what warms within minutes
        (head, cylinder, coolant and half of the oil); common practice, no source
    thermostat_c, fan_on_c, boil_c : liquid cooled; boil_c is the low side of 50 % glycol under a
        pressure cap; common practice, no source
    fin_hot_c, fin_limit_c : head of an air or oil cooled engine: oil thins, and limit; common
        practice, no source
    """

    rolling: tuple[float, float, float, float] = (0.015, 0.03, 0.05, 0.15)
    drive_share: float = 0.87
    friction_pa: float = 150_000.0
    turning_min: float = 2500.0
    turning_min_kph: float = 25.0
    turning_cc: float = 300.0
    turning_exponent: float = 0.25
    indicated_share: float = 0.30
    coolant_share: float = 0.33
    core_m2_at_1kw: float = 0.0065
    core_exponent: float = 0.55
    coolant_l_at_1kw: float = 0.22
    coolant_least: float = 0.5
    coolant_j_k_l: float = 3_700.0
    core_air_share: float = 0.40
    core_ntu: float = 1.0
    core_ntu_at_m_s: float = 4.0
    core_ntu_at_kg_m3: float = 1.2
    fan_m_s: float = 2.2
    draught_m_s: float = 0.30
    draught_at_k: float = 90.0
    fin_w_k_cc: float = 0.28
    fin_still_w_k_cc: float = 0.028
    oil_gain: float = 1.25
    mass_j_k_cc: float = 35.0
    mass_j_k: float = 6_000.0
    thermostat_c: float = 85.0
    fan_on_c: float = 100.0
    boil_c: float = 120.0
    fin_start_c: float = 120.0
    fin_hot_c: float = 180.0
    fin_limit_c: float = 210.0


ENGINE = EngineModel()

# Drag area that luggage adds; common practice, no source.
LUGGAGE_CDA_M2: dict[str, float] = {"none": 0.0, "soft": 0.02, "boxes": 0.10}

# Clutch-hot: slow, steep and loose together; common practice, no source.
CLUTCH_KPH = 15.0
CLUTCH_GRADE_PCT = 8.0
CLUTCH_LOOSE_P = 0.4

# Slope added at the upper end of the band where grades are not known; common practice, no source.
UNKNOWN_GRADE_PCT = 6.0

# Standing with the engine running. In towns 60 s of each 195 s: the elementary urban cycle of UN
# Regulation 83 (from memory); that the standing of half an hour comes in one queue, how long a
# border keeps one, and that a picture is taken once an hour with the engine left on: common
# practice, no source.
TOWN_STANDING_SHARE = 60.0 / 195.0
TOWN_QUEUE_EVERY_S = 1_800.0
BORDER_QUEUE_S = 900.0
PICTURE_EVERY_S, PICTURE_S = 3_600.0, 120.0

# Engine heat is told as low, middling from FAN_SOME_S and high from FAN_LONG_S on the fan; common
# practice, no source.
FAN_SOME_S = 60.0
FAN_LONG_S = 15 * 60.0

# What makes an engine hot: walking pace, a climb, loose ground, hot air, less coolant than is usual
# for the power; and the share of the hot time over which one must hold to be named. Common
# practice, no source.
WALKING_KPH = 12.0
CLIMB_PCT = 5.0
SOFT_P = 0.5
HOT_AIR_C = 30.0
LITTLE_COOLANT = 0.85
CAUSE_SHARE = 0.4
SOURCE = _CP
