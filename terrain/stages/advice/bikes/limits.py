"""Hard exclusions: what no fit can make good."""

from __future__ import annotations

from dataclasses import replace

from terrain.stages.advice.bikes.measures import canister_l, carried_kg, motorway_m, range_m
from terrain.stages.advice.case import AdviceCase
from terrain.stages.advice.runs import near
from terrain.stages.advice.words import advice_item
from terrain.tables.advice import PRACTICE, BikeModel
from terrain.tables.fuel import FUEL_MODEL
from terrain.text.catalogue import N_
from terrain.text.message import Message, message, term
from terrain.text.terms import EVENNESS_TERMS
from terrain.values.advice import AdviceItem
from terrain.values.fleet import BikeClass, FleetRules
from terrain.values.trip import Luggage, Rider, Riding

_ORDER = tuple(Rider)
# From the first that needs high clearance, and the first for heavy off-road vehicles.
_FOR_HEAVY_OFF_ROAD = ("horrible", "very_horrible", "impassable")
_NOT_FOR_ROAD_BIKES = ("very_bad", *_FOR_HEAVY_OFF_ROAD)


def exclusions(case: AdviceCase, bike: BikeClass, model: BikeModel) -> tuple[AdviceItem, ...]:
    """Why this class must not go; empty if it may."""
    checks = (_new_rider, _rider, _seat, _payload, _range, _motorway, _smoothness)
    found = (check(case, bike, model) for check in checks)
    return tuple(said for said in found if said is not None)


def what_helps(case: AdviceCase, model: BikeModel) -> tuple[Message, ...]:
    """What would let some class go where none may: each tried by itself, and another route."""
    trip = case.trip
    skilled = Riding.PRACTISED if trip.is_new else trip.riding
    tried = (
        (replace(trip, rider=Rider.EXPERT, riding=skilled), N_("a rider with more experience")),
        (replace(trip, pillion=False), N_("a bike each in place of two up")),
        (replace(trip, luggage=Luggage.NONE), N_("the luggage in a guide's van")),
    )
    helps = [
        message(text)
        for other, text in tried
        if other != trip and _any_may_go(replace(case, trip=other), model)
    ]
    return (*helps, message("another route"))


def _any_may_go(case: AdviceCase, model: BikeModel) -> bool:
    return any(not exclusions(case, bike, model) for bike in case.fleet.classes)


def _new_rider(case: AdviceCase, bike: BikeClass, model: BikeModel) -> AdviceItem | None:
    """Too heavy or too strong for a person new to motorcycles, on any ground."""
    rules = case.fleet.rules
    if not case.trip.is_new or not for_practised(bike, rules):
        return None
    return advice_item(
        "new-rider", mass_kg=bike.mass_kg, power_kw=bike.power_kw, limit_kg=rules.new_rider_kg,
        limit_kw=rules.new_rider_kw,
        source="35 kW: category A2, Directive 2006/126/EC Article 4(3)(b); weight: " + PRACTICE,
    )  # fmt: skip


def for_practised(bike: BikeClass, rules: FleetRules) -> bool:
    """True of a bike that a person new to motorcycles must not ride."""
    return bike.mass_kg > rules.new_rider_kg or bike.power_kw > rules.new_rider_kw


def _rider(case: AdviceCase, bike: BikeClass, model: BikeModel) -> AdviceItem | None:
    rider = case.trip.skill
    if _ORDER.index(rider) >= _ORDER.index(bike.minimum_rider):
        return None
    return advice_item(
        "rider-below-class",
        rider=term(rider.value),
        needed=term(bike.minimum_rider.value),
        source=PRACTICE,
    )


def _seat(case: AdviceCase, bike: BikeClass, model: BikeModel) -> AdviceItem | None:
    if not case.trip.pillion or bike.seats >= 2:
        return None
    return advice_item("no-seat", n_seats=bike.seats)


def _payload(case: AdviceCase, bike: BikeClass, model: BikeModel) -> AdviceItem | None:
    load = carried_kg(case.trip, model)
    if load <= bike.payload_kg or (case.trip.pillion and bike.seats < 2):
        return None
    code = "payload" if case.trip.pillion else "payload-one"
    return advice_item(code, load_kg=load, payload_kg=bike.payload_kg, source=PRACTICE)


def _range(case: AdviceCase, bike: BikeClass, model: BikeModel) -> AdviceItem | None:
    gap = case.fuel_gap_m
    if gap is None:
        return None
    # What a canister bridges is told beside the bike, and counts against it.
    if canister_l(case, bike) <= case.fleet.rules.carry_l:
        return None
    reach = range_m(case, bike)
    start = case.fuel_gap_from_m or 0.0
    return advice_item(
        "range", from_m=start, to_m=start + gap, range_m=reach, gap_m=gap, from_at_m=start,
        source=FUEL_MODEL.source,
    )  # fmt: skip


def _motorway(case: AdviceCase, bike: BikeClass, model: BikeModel) -> AdviceItem | None:
    length, limit = motorway_m(case), case.fleet.rules.motorway_min_cc
    if length <= 0 or bike.displacement_cc >= limit:
        return None
    return advice_item("motorway-ban", motorway_m=length, limit_cc=limit, source=PRACTICE)


def _smoothness(case: AdviceCase, bike: BikeClass, model: BikeModel) -> AdviceItem | None:
    """Ground that lets no vehicle of the bike's kind through, as the map tags it."""
    shut: tuple[str, ...]
    if bike.off_road < model.road_only:
        shut = _NOT_FOR_ROAD_BIKES
    elif bike.off_road < model.full_off_road and case.trip.skill is not Rider.EXPERT:
        shut = _FOR_HEAVY_OFF_ROAD
    else:
        return None
    # Between far-apart points the way is a guess, which keeps no bike out.
    rows = [
        s for s in case.stretches
        if s.smoothness in shut and not any(a < (s.from_m + s.to_m) / 2 < b for a, b in case.gaps)
    ]  # fmt: skip
    length = sum(s.length_m for s in rows)
    if length < model.shut_m:
        return None
    worst = max(rows, key=lambda s: (shut.index(s.smoothness or ""), s.length_m))
    code = "too-rough-road" if shut is _NOT_FOR_ROAD_BIKES else "too-rough-dual"
    return advice_item(
        code, from_m=worst.from_m, to_m=worst.to_m, run_m=length, from_at_m=worst.from_m,
        near=near(case, worst.from_m), tag=term(EVENNESS_TERMS[worst.smoothness or ""]),
        source="OSM wiki, Key:smoothness: first vehicle that gets through; " + PRACTICE,
    )  # fmt: skip
