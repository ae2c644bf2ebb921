"""The operator's bikes, by class, and the operator's own limits."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from enum import StrEnum

from terrain.values.trip import Luggage, Rider


class Cooling(StrEnum):
    """What carries the engine's heat away."""

    LIQUID = "liquid"
    AIR = "air"
    OIL = "oil"


class Parts(StrEnum):
    """How far from home a spare part can be found."""

    COMMON = "common"  # nearly any town
    FAIR = "fair"  # larger towns
    RARE = "rare"  # only where the operator says so


class Repair(StrEnum):
    """How hard the bike is to mend by the road."""

    EASY = "easy"
    FAIR = "fair"
    HARD = "hard"


@dataclass(frozen=True, slots=True, kw_only=True)
class IncidentRate:
    """Incidents per rental on one ground, learnt from the operator's log.

    ground : "paved", "gravel", "track" or "mixed"
    rate with its 90 % interval low..high, drawn towards the class's own rate where rentals are few
    """

    ground: str
    rate: float
    low: float
    high: float
    rentals: int
    incidents: int


@dataclass(frozen=True, slots=True, kw_only=True)
class BikeClass:
    """One kind of bike in the fleet.

    name : short key, such as "dual-sport"; title : as shown to people
    mass_kg : ready to ride, full tank; payload_kg : most it may carry
    power_kw : at the crank, sea level; displacement_cc
    drag_area_m2 : CdA with a rider sitting up; radiator fan : True if there is one
    tank_l, consumption_l_100km : usable tank and worst steady consumption on road
    off_road, motorway : how able it is, 0..1
    incident_rate : rentals with a breakdown or fall per rental; incident_basis : what it rests on
    incident_low, incident_high : its 90 % interval; None where it was not learnt
    coolant_l : coolant in the engine, radiator and hoses; None where not told, or air cooled
    coolant_check : where coolant is looked at, in the operator's words;
        None where not told
    incidents : the same by ground, where the operator's log had enough of it
    failed : what broke on it by the operator's log, most often first
    """

    name: str
    title: str
    mass_kg: float
    payload_kg: float
    power_kw: float
    displacement_cc: float
    drag_area_m2: float
    cooling: Cooling
    fan: bool
    tank_l: float
    consumption_l_100km: float
    seats: int
    luggage: tuple[Luggage, ...]
    clearance_mm: float
    tyres: tuple[str, ...]  # of "road", "mixed", "block"
    kick_start: bool
    parts: Parts
    repair: Repair
    off_road: float
    motorway: float
    minimum_rider: Rider
    incident_rate: float
    incident_basis: str
    incident_low: float | None = None
    incident_high: float | None = None
    incidents: tuple[IncidentRate, ...] = ()
    failed: tuple[str, ...] = ()
    coolant_l: float | None = None
    coolant_check: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class FleetRules:
    """The operator's own limits.

    remote_m, remote_s : a stretch is remote when the nearest mechanic is farther by road or time
    range_reserve : share of the tank kept back; carry_l : most fuel that a bike may carry besides
    rest_every_s, rest_every_m : longest ride without a rest
    ride_day_s : riding time of a full day
    town_population : places above it count as likely help for common bikes (inferred)
    motorway_min_cc : smaller engines are kept off motorways; local law decides
    new_rider_kg, new_rider_kw : the heaviest and the strongest bike for a person new to
        motorcycles. 35 kW is category A2 of Directive 2006/126/EC, Article 4(3)(b); the weight is
        common practice, no source
    """

    remote_m: float = 50_000.0
    remote_s: float = 3_600.0
    range_reserve: float = 0.2
    carry_l: float = 5.0
    rest_every_s: float = 5_400.0
    rest_every_m: float = 100_000.0
    ride_day_s: float = 6.0 * 3600.0
    town_population: float = 5_000.0
    motorway_min_cc: float = 125.0
    new_rider_kg: float = 180.0
    new_rider_kw: float = 35.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Fleet:
    """All classes an operator rents, with the rules and weights the advice uses."""

    name: str
    classes: tuple[BikeClass, ...]
    rules: FleetRules = field(default_factory=FleetRules)
    weights: tuple[tuple[str, float], ...] = ()
    rentals: int | None = None  # how many logged rentals the incident rates rest on
    rentals_span: str | None = None  # from when to when, as "2025-03-01 to 2027-01-31"

    def meant(self, text: str, say: Callable[[str], str] = str) -> BikeClass | None:
        """The class that people mean by a name or a title, in English or as `say` tells it."""
        word = text.strip().casefold()
        for bike in self.classes:
            if word in {told.casefold() for told in (bike.name, bike.title, say(bike.title))}:
                return bike
        return None

    def failing(self, parts: Mapping[str, Sequence[str]]) -> Fleet:
        """The fleet with what failed by class, most often first, ahead of what was known of it."""
        classes = (
            replace(bike, failed=tuple(dict.fromkeys((*parts.get(bike.name, ()), *bike.failed))))
            for bike in self.classes
        )
        return replace(self, classes=tuple(classes))

    def named(self, name: str) -> BikeClass | None:
        return next((c for c in self.classes if c.name == name), None)

    def title_of(self, name: str) -> str:
        """Title of a class; its name if the fleet has none."""
        return next((c.title for c in self.classes if c.name == name), name)
