"""Hard exclusions: what no fit can make good."""

from __future__ import annotations

from terrain.stages.advice.measures import canister_l, carried_kg, motorway_m, range_m
from terrain.stages.advice.words import say
from terrain.tables.advice import PRACTICE, BikeModel
from terrain.tables.fuel import FUEL
from terrain.values.advice import AdviceInputs, Said
from terrain.values.fleet import BikeClass
from terrain.values.trip import Rider

_ORDER = tuple(Rider)
_OVERLOAD = 1.15  # people's weights are guesses; beyond this they are no excuse


def exclusions(inputs: AdviceInputs, bike: BikeClass, model: BikeModel) -> tuple[Said, ...]:
    """Why this class must not go; empty if it may."""
    checks = (_rider, _seat, _payload, _range, _motorway)
    found = (check(inputs, bike, model) for check in checks)
    return tuple(said for said in found if said is not None)


def _rider(inputs: AdviceInputs, bike: BikeClass, model: BikeModel) -> Said | None:
    rider = inputs.trip.rider
    if _ORDER.index(rider) >= _ORDER.index(bike.minimum_rider):
        return None
    return say(
        "rider-below-class", rider=rider.value, needed=bike.minimum_rider.value, source=PRACTICE
    )


def _seat(inputs: AdviceInputs, bike: BikeClass, model: BikeModel) -> Said | None:
    if not inputs.trip.pillion or bike.seats >= 2:
        return None
    return say("no-seat", n_seats=bike.seats)


def _payload(inputs: AdviceInputs, bike: BikeClass, model: BikeModel) -> Said | None:
    load = carried_kg(inputs.trip, model)
    if load <= bike.payload_kg * _OVERLOAD or (inputs.trip.pillion and bike.seats < 2):
        return None
    code = "payload" if inputs.trip.pillion else "payload-one"
    return say(code, load_kg=load, payload_kg=bike.payload_kg, source=PRACTICE)


def _range(inputs: AdviceInputs, bike: BikeClass, model: BikeModel) -> Said | None:
    gap = inputs.fuel_gap_m
    if gap is None:
        return None
    # What a canister bridges is told beside the bike, and counts against it.
    if canister_l(inputs, bike) <= inputs.fleet.rules.carry_l:
        return None
    reach = range_m(inputs, bike)
    start = inputs.fuel_gap_from_m or 0.0
    return say(
        "range", from_m=start, to_m=start + gap, range_m=reach, gap_m=gap, from_at_m=start,
        source=FUEL.source,
    )  # fmt: skip


def _motorway(inputs: AdviceInputs, bike: BikeClass, model: BikeModel) -> Said | None:
    length, limit = motorway_m(inputs), inputs.fleet.rules.motorway_min_cc
    if length <= 0 or bike.displacement_cc >= limit:
        return None
    return say("motorway-ban", motorway_m=length, limit_cc=limit, source=PRACTICE)
