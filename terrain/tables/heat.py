"""Published caution levels for heat, cold and height, and water to drink."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from terrain.text.catalogue import N_

_NWS = "US National Weather Service heat index classes (80, 90, 103, 125 F)"
_JAPAN = "Japan sports guide 2013, Ministry of the Environment"
_GEAR = (
    "de Rome et al. 2016, Ergonomics 59(4):504: full gear, light work; slow at 30 C, "
    "dangerous within 105 min at 35 C"
)
_ISO = "ISO 7243:1989, table of reference values, still air, as quoted in an instrument manual"


class Measure(StrEnum):
    """What a level is a level of."""

    AIR = "air_temp_c"
    INDEX = "heat_index_c"
    WBGT = "wbgt_c"  # standing or at walking pace in the sun
    RIDING = "wbgt_riding_c"  # in the wind of riding


@dataclass(frozen=True, slots=True, kw_only=True)
class HeatLevel:
    """A caution level: from `above` degrees Celsius on, `word` holds."""

    measure: Measure
    above: float
    word: str
    source: str


HEAT_LEVELS: tuple[HeatLevel, ...] = (
    HeatLevel(measure=Measure.AIR, above=30.0, word=N_("gear makes heat build up"), source=_GEAR),
    HeatLevel(
        measure=Measure.AIR, above=35.0, word=N_("gear is dangerous when slow"), source=_GEAR
    ),
    HeatLevel(measure=Measure.INDEX, above=27.0, word=N_("caution"), source=_NWS),
    HeatLevel(measure=Measure.INDEX, above=32.0, word=N_("extreme caution"), source=_NWS),
    HeatLevel(measure=Measure.INDEX, above=39.0, word=N_("danger"), source=_NWS),
    HeatLevel(measure=Measure.INDEX, above=52.0, word=N_("extreme danger"), source=_NWS),
    *(
        HeatLevel(measure=measure, above=above, word=word, source=_JAPAN)
        for measure in (Measure.WBGT, Measure.RIDING)
        for above, word in (
            (21.0, N_("caution")), (25.0, N_("rest often")),
            (28.0, N_("no hard exercise")), (31.0, N_("stop")),
        )
    ),
)  # fmt: skip


def levels_c(measure: Measure) -> tuple[float, ...]:
    """The caution levels of a measure, rising [deg C]."""
    return tuple(level.above for level in HEAT_LEVELS if level.measure is measure)


@dataclass(frozen=True, slots=True, kw_only=True)
class Effort:
    """How hard a ground makes the rider work.

    wbgt_limit_c : ISO 7243 limit for steady work of this class, for people used to heat;
        wbgt_new_c : for people who are not
    water_qt_h : US quarts an hour, by WATER_STEPS_F
    """

    name: str
    wbgt_limit_c: float
    wbgt_new_c: float
    water_qt_h: tuple[float, float, float, float, float]
    source: str


WATER_SOURCE = (
    "US Army TB MED 507 fluid replacement table, as printed by an army hospital; at most 1.5 US "
    "quarts an hour"
)
# Steps of the table of WATER_SOURCE; a US quart is 0.9464 L by definition.
WATER_STEPS_F = (78.0, 82.0, 85.0, 88.0, 90.0)
QUART_L = 0.9464
WATER_COOL_L_H = 0.3  # below 78 F; common practice, no source
WATER_MOST_L_H = 1.5 * QUART_L
WATER_HOT_L_H = 1.0 * QUART_L  # the table's hottest step, any effort
GEAR_WBGT_K = 2.8  # 5 F for body armour in humid climates, same table; our stand-in for full gear

# Road low, track moderate, sand or mud high: compendium of physical activities (2-3, 4, 5+ MET).
EFFORTS: tuple[Effort, ...] = (
    Effort(name="low", wbgt_limit_c=30.0, wbgt_new_c=29.0,
           water_qt_h=(0.5, 0.5, 0.75, 0.75, 1.0),
           source=f"{_ISO}; {WATER_SOURCE}"),
    Effort(name="moderate", wbgt_limit_c=28.0, wbgt_new_c=26.0,
           water_qt_h=(0.75, 0.75, 0.75, 0.75, 1.0),
           source=f"{_ISO}; {WATER_SOURCE}"),
    Effort(name="high", wbgt_limit_c=25.0, wbgt_new_c=22.0,
           water_qt_h=(0.75, 1.0, 1.0, 1.0, 1.0),
           source=f"{_ISO}; {WATER_SOURCE}"),
)  # fmt: skip
# Riders are used to heat where the days of the month before already reached this on the mean
# [deg C]: the first class of the heat index in dry air (US National Weather Service); that a month
# of it is enough, common practice, no source (NIOSH 2016 has one to two weeks, from memory).
USED_TO_HEAT_C = 27.0
OVER_LIMIT_H = 1.0  # ISO 7243 looks at the mean of an hour
HARD_SEVERITY = 0.7  # from here a track counts as high effort; common practice, no source


@dataclass(frozen=True, slots=True, kw_only=True)
class HeightLevel:
    """From `above` metres on, `text` is worth saying.

    step_ele_m, rest_ele_m : numbers of the text [m]
    """

    above: float
    text: str
    source: str
    step_ele_m: float = 500.0
    rest_ele_m: float = 1000.0


# Mountain sickness begins 2 to 12 hours after one has come up: CDC Yellow Book, high elevation
# travel and altitude illness (from memory). A pass that is crossed sooner makes nobody sick.
HEIGHT_STAY_S = 2 * 3600.0
_CDC = "CDC Travelers' Health: high-elevation travel"
HEIGHT_LEVELS: tuple[HeightLevel, ...] = (
    HeightLevel(above=2450.0, text=N_(
        "Mountain sickness is possible from here up; drink enough, no "
                "alcohol for two days, turn back at headache with sickness."), source=_CDC),
    HeightLevel(above=2750.0, text=N_("Do not come here from low ground in one day to sleep; above "
                "this sleep at most {step_ele_m} higher each night, with a night more each "
                "{rest_ele_m}."),
                source=_CDC),
)  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class ColdLevel:
    """From `below` degrees of wind chill at riding speed on, `text` is worth saying."""

    below: float
    text: str
    source: str


_COLD = N_("common practice, no source")
COLD_LEVELS: tuple[ColdLevel, ...] = (
    ColdLevel(below=5.0, text=N_("Cold hands: warm gloves and a wind layer within reach."),
              source=_COLD),
    ColdLevel(below=-10.0, text=N_("Very cold at speed: winter gear, short stages, ice possible."),
              source=_COLD),
    ColdLevel(below=-27.0, text=N_("Bare skin freezes within half an hour."),
              source="Environment Canada wind chill hazards; from memory"),
)  # fmt: skip
# Heat is told from this air temperature on, cold from this wind chill down (common practice, no
# source); in between neither goes before the other.
HEAT_TOLD_C = 20.0
COLD_TOLD_C = 5.0
FREEZING_C = 0.0  # of water, by definition of the scale
ICE_C = 3.0  # road may carry ice from here down; common practice, no source
