"""A generic fleet of class names, used until the operator writes their own.

Figures are round numbers for a kind of bike, not of any model: common practice, no source.
Two people with soft bags weigh some 170 kg: a tourer and a small all-rounder carry them, light
off-road bikes do not (common practice, no source).
Incident rates: dual-sport about one rental in ten, road tourer and small all-rounder far fewer
(common practice, no source).
"""

from __future__ import annotations

from terrain.text.catalogue import N_
from terrain.values.fleet import BikeClass, Cooling, Fleet, Parts, Repair
from terrain.values.trip import Luggage, Rider

_GENERIC = N_("common practice, no source")
_ALL_LUGGAGE = (Luggage.NONE, Luggage.SOFT, Luggage.BOXES)
_SOFT_ONLY = (Luggage.NONE, Luggage.SOFT)

# Round numbers; common practice, no source.
DEFAULT_FLEET = Fleet(
    name="generic fleet",
    classes=(
        BikeClass(
            name="road-tourer", title=N_("road tourer"),
            mass_kg=230, payload_kg=200, power_kw=65, displacement_cc=800, drag_area_m2=0.60,
            cooling=Cooling.LIQUID, fan=True, coolant_l=2.2, tank_l=18, consumption_l_100km=5.5,
            seats=2, luggage=_ALL_LUGGAGE, clearance_mm=150, tyres=("road",), kick_start=False,
            parts=Parts.FAIR, repair=Repair.FAIR, off_road=0.15, motorway=1.0,
            minimum_rider=Rider.NOVICE, incident_rate=0.02, incident_basis=_GENERIC,
        ),
        BikeClass(
            name="small-all-rounder", title=N_("small all-rounder"),
            mass_kg=145, payload_kg=175, power_kw=15, displacement_cc=200, drag_area_m2=0.50,
            cooling=Cooling.AIR, fan=False, tank_l=12, consumption_l_100km=3.0,
            seats=2, luggage=_SOFT_ONLY, clearance_mm=170, tyres=("road", N_("mixed")),
            kick_start=True, parts=Parts.COMMON, repair=Repair.EASY, off_road=0.40, motorway=0.4,
            minimum_rider=Rider.NOVICE, incident_rate=0.03, incident_basis=_GENERIC,
        ),
        BikeClass(
            name=N_("dual-sport"), title=N_("dual-sport"),
            mass_kg=150, payload_kg=150, power_kw=22, displacement_cc=300, drag_area_m2=0.50,
            cooling=Cooling.LIQUID, fan=True, coolant_l=1.2, tank_l=8, consumption_l_100km=3.8,
            seats=2, luggage=_SOFT_ONLY, clearance_mm=260, tyres=("road", N_("mixed"), N_("block")),
            kick_start=False, parts=Parts.RARE, repair=Repair.FAIR, off_road=0.75, motorway=0.6,
            minimum_rider=Rider.STEADY, incident_rate=0.10, incident_basis=_GENERIC,
        ),
        BikeClass(
            name="light-trail", title=N_("light trail"),
            mass_kg=120, payload_kg=130, power_kw=10, displacement_cc=150, drag_area_m2=0.45,
            cooling=Cooling.AIR, fan=False, tank_l=8, consumption_l_100km=2.6,
            seats=1, luggage=_SOFT_ONLY, clearance_mm=250, tyres=(N_("mixed"), N_("block")),
            kick_start=True, parts=Parts.COMMON, repair=Repair.EASY, off_road=0.80, motorway=0.15,
            minimum_rider=Rider.NOVICE, incident_rate=0.06, incident_basis=_GENERIC,
        ),
        BikeClass(
            name=N_("enduro"), title=N_("enduro"),
            mass_kg=118, payload_kg=110, power_kw=35, displacement_cc=350, drag_area_m2=0.45,
            cooling=Cooling.LIQUID, fan=True, coolant_l=1.1, tank_l=8, consumption_l_100km=5.5,
            seats=1, luggage=_SOFT_ONLY, clearance_mm=320, tyres=(N_("block"),), kick_start=False,
            parts=Parts.RARE, repair=Repair.HARD, off_road=1.0, motorway=0.2,
            minimum_rider=Rider.EXPERT, incident_rate=0.12, incident_basis=_GENERIC,
        ),
    ),
)  # fmt: skip
