"""What to carry and what to check, by class, remoteness, heat and ground.

A row holds when it applies; all its conditions must. Sources: spares and checks by touring
practice (common practice, no source) unless a row says more; T-CLOCS is the daily check of the
Motorcycle Safety Foundation.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from terrain.text.catalogue import N_

PRACTICE = N_("common practice, no source")


class When(StrEnum):
    """Conditions of a row."""

    ALWAYS = "always"
    OFF_ROAD = "off-road"  # some of the ride is off tarmac
    REMOTE_TOOLS = "remote-tools"  # far enough from a mechanic to carry tools
    REMOTE_VEHICLE = "remote-vehicle"  # far enough for a support vehicle
    CARE_FAR = "care-far"  # over an hour from a hospital
    HOT = "hot"  # heat the rider feels
    HOT_ENGINE = "hot-engine"  # slow hot riding on the fan
    HARD_OR_HOT = "hard-or-hot"  # the same, or hours off tarmac
    LIQUID = "liquid"  # a class of the fleet is liquid-cooled
    AIR = "air"  # one is air-cooled
    GUIDE = "guide"
    ALONE = "alone"  # no guide rides along
    FUEL_FAR = "fuel-far"  # a long way between pumps against its range
    FORDS = "fords"
    HIGH = "high"  # altitude that matters
    TUBES = "tubes"  # a puncture is likely, or far from who mends it
    COLD = "cold"  # hands grow cold at speed
    FROST = "frost"  # water freezes
    RAIN = "rain"  # a forecast tells of it for a day of the ride
    DUST = "dust"  # the ground is not frozen all the way


@dataclass(frozen=True, slots=True, kw_only=True)
class KitRow:
    """One thing to carry or to check."""

    code: str
    text: str
    when: tuple[When, ...]
    source: str = PRACTICE


SPARES: tuple[KitRow, ...] = (
    KitRow(code="papers", text=N_("Licence, rental papers, insurance card, phone, cash."),
           when=(When.ALWAYS,)),
    KitRow(code="puncture", text=N_("Plugs or tubes to fit the tyres, tyre levers, pump."),
           when=(When.TUBES,)),
    KitRow(code="lever", text=N_("Spare clutch and brake lever."), when=(When.OFF_ROAD,)),
    KitRow(code="tools", text=N_("Tools, tape, wire, cable ties, fuses, a chain link, cables."),
           when=(When.REMOTE_TOOLS,)),
    KitRow(code="plug-filter", text=N_("Spark plug, clean air filter, a litre of oil."),
           when=(When.REMOTE_TOOLS, When.OFF_ROAD)),
    KitRow(code="tube-spare", text=N_("A spare tube for each wheel, even with tubeless tyres."),
           when=(When.REMOTE_TOOLS, When.OFF_ROAD)),
    KitRow(code="coolant", text=N_("A bottle of coolant."), when=(When.REMOTE_TOOLS, When.LIQUID)),
    KitRow(code="water-engine", text=N_("Water for the engine. If coolant is lost: let the engine "
           "cool, fill up with any clean water, again every 20 minutes while it leaks, and go "
           "slowly to the next help; have it flushed later."), when=(When.HOT_ENGINE, When.LIQUID)),
    KitRow(code="water-rider", text=N_(
        "Drinking water for every hour in the heat, and some to spare."
    ),
           when=(When.HOT,)),
    KitRow(code="clutch-set", text=N_("A set of clutch plates, with the guide."),
           when=(When.GUIDE, When.OFF_ROAD)),
    KitRow(code="support-vehicle", text=N_("A support vehicle within reach, with a spare wheel and "
           "a bike trailer."), when=(When.REMOTE_VEHICLE, When.GUIDE)),
    KitRow(code="recovery", text=N_("Settle with the rental desk, before you go, who fetches you "
           "and the bike if it does not run."), when=(When.REMOTE_VEHICLE, When.ALONE)),
    KitRow(code="first-aid", text=N_("First-aid kit, and somebody who knows how to use it."),
           when=(When.CARE_FAR,)),
    KitRow(code="messenger", text=N_("A satellite messenger: there may be no phone signal."),
           when=(When.CARE_FAR, When.REMOTE_TOOLS)),
    KitRow(code="fuel-can", text=N_(
        "Fill up at every pump; carry fuel for the longest way between."
    ),
           when=(When.FUEL_FAR,)),
    KitRow(code="warm", text=N_("Warm and rain gear: high passes are cold at any season."),
           when=(When.HIGH,)),
    KitRow(code="rain", text=N_("Rain gear: rain is forecast."), when=(When.RAIN,)),
    KitRow(code="cold-hands", text=N_("Winter gloves and a dry pair to spare, a neck tube, a "
           "windproof layer."), when=(When.COLD,)),
)  # fmt: skip

CHECKS: tuple[KitRow, ...] = (
    KitRow(code="t-clocs", text=N_("Every morning: tyres and wheels, controls, lights, oil and "
           "fluids, chassis, stands. Two or three minutes."), when=(When.ALWAYS,),
           source="T-CLOCS, Motorcycle Safety Foundation"),
    KitRow(code="tyres-pressure", text=N_("Tyre pressure cold, every day, for the ground of the "
           "day."), when=(When.ALWAYS,)),
    KitRow(code="oil-sight-glass", text=N_("Oil every day at the sight glass, a few minutes after "
           "the engine was stopped, the bike level and upright (leaning it changes the reading): "
           "between half and three quarters. Do not change it on the road unless told to."),
           when=(When.ALWAYS,)),
    KitRow(code="coolant-morning", text=N_("Coolant every morning, engine cold, bike upright: "
           "filled to the top. If it was low: to the workshop, and tell the rental desk. Never "
           "open a hot radiator."), when=(When.LIQUID,)),
    KitRow(code="coolant-midday", text=N_("Coolant again at midday, when the engine has cooled."),
           when=(When.HARD_OR_HOT, When.LIQUID)),
    KitRow(code="coolant-frost", text=N_("Coolant that stands the frost: where plain water was "
           "filled up it freezes and bursts the radiator. Have it tested before you go."),
           when=(When.FROST, When.LIQUID)),
    KitRow(code="battery-frost", text=N_("Battery full: the cold takes much of its strength."),
           when=(When.FROST,)),
    KitRow(code="fan-listen", text=N_("The fan must come on in a hot climb or after a slow "
           "stretch. If it never does when the bike is pushed, take it as broken. Do not wait for "
           "a lamp: a dead sensor lights none, nor does a radiator that has lost its coolant. "
           "What fails, most often first: a wire, a shroud bent into the blades by a fall, the "
           "sensor. What follows: a blown head gasket and lost coolant."),
           when=(When.HARD_OR_HOT, When.LIQUID)),
    KitRow(code="fan-fall", text=N_("After every fall on the fan's side turn the fan by hand, "
           "engine off and cold."), when=(When.HARD_OR_HOT, When.LIQUID)),
    KitRow(code="air-cooled-rest", text=N_("Let an air-cooled engine cool at every stop; keep it "
           "moving where you can."), when=(When.HOT_ENGINE, When.AIR)),
    KitRow(code="chain", text=N_("Chain slack and oil, every evening after dust or water."),
           when=(When.OFF_ROAD,)),
    KitRow(code="spokes-bolts", text=N_("Spokes, bolts and luggage straps at every stop on rough "
           "ground."), when=(When.OFF_ROAD,)),
    KitRow(code="air-filter", text=N_("Air filter every evening after dust."),
           when=(When.OFF_ROAD, When.REMOTE_TOOLS, When.DUST)),
    KitRow(code="after-ford", text=N_("Brakes dry and air box free of water after each ford."),
           when=(When.FORDS,)),
)  # fmt: skip
