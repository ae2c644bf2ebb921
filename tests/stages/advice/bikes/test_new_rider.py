"""Off-road riding and motorcycling at all are two things: a person may be new to one or both.

35 kW is the limit of licence category A2 (Directive 2006/126/EC, Article 4(3)(b)); what a learner
can hold up is common practice, no source.
"""

from __future__ import annotations

from dataclasses import replace

import pytest

from terrain.stages.advice.advise import advise_case
from terrain.stages.advice.case import AdviceCase
from terrain.tables.fleet import DEFAULT_FLEET
from terrain.values.advice import Advice, RiderVerdict
from terrain.values.fleet import BikeClass, Fleet, FleetRules
from terrain.values.trip import Rider, Riding, Trip
from tests.stages.advice.trips import GRAVEL, SEALED, TRACK, Case, Leg, inputs_of


def _case(trip: Trip, *legs: tuple[float, Leg], fleet: Fleet = DEFAULT_FLEET) -> AdviceCase:
    plain = inputs_of(Case(name="x", legs=legs, choice="road", top=()))
    return replace(plain, trip=trip, fleet=fleet)


def _advice(trip: Trip, *legs: tuple[float, Leg], fleet: Fleet = DEFAULT_FLEET) -> Advice:
    return advise_case(_case(trip, *legs, fleet=fleet))


def _may_go(advice: Advice) -> set[str]:
    return {fit.name for fit in advice.bikes}


NEW = Trip(rider=Rider.NOVICE, riding=Riding.NEW)
LEARNER_BIKES = {"small-all-rounder", "light-trail"}


@pytest.mark.parametrize("legs", [((60, SEALED),), ((60, SEALED), (20, GRAVEL)), ((30, TRACK),)])
def test_new_to_motorcycles_gets_a_light_bike_on_any_ground(
    legs: tuple[tuple[float, Leg], ...],
) -> None:
    advice = _advice(NEW, *legs)
    assert _may_go(advice) == LEARNER_BIKES
    (why,) = [item.reasons[0] for item in advice.excluded if item.name == "road-tourer"]
    assert why.code == "new-rider"
    assert "230 kg" in str(why.text) and "65 kW" in str(why.text) and "35 kW" in str(why.text)


def test_new_to_dirt_only_may_take_the_heavy_bike_and_the_trail_bike() -> None:
    practised = replace(NEW, riding=Riding.PRACTISED)
    assert _may_go(_advice(practised, (60, SEALED))) == {*LEARNER_BIKES, "road-tourer"}


def _alone(kg: float, kw: float) -> tuple[BikeClass, ...]:
    bike = DEFAULT_FLEET.named("small-all-rounder")
    assert bike is not None
    return (replace(bike, mass_kg=kg, power_kw=kw),)


@pytest.mark.parametrize(
    ("kg", "kw", "may_go"), [(180, 35, True), (181, 35, False), (180, 36, False)]
)
def test_either_weight_or_power_is_too_much(kg: float, kw: float, may_go: bool) -> None:
    fleet = replace(DEFAULT_FLEET, classes=_alone(kg, kw))
    assert bool(_advice(NEW, (60, SEALED), fleet=fleet).bikes) is may_go


def test_the_operator_sets_other_limits() -> None:
    rules = FleetRules(new_rider_kg=240, new_rider_kw=70)
    assert "road-tourer" in _may_go(
        _advice(NEW, (60, SEALED), fleet=replace(DEFAULT_FLEET, rules=rules))
    )


def test_new_to_motorcycles_is_new_off_tarmac_whatever_they_say() -> None:
    """Skill on dirt is not had before skill on a bike: judged as the more careful of the two."""
    legs = ((40, SEALED), (50, TRACK))
    boast = Trip(rider=Rider.EXPERT, riding=Riding.NEW)
    assert _advice(boast, *legs).rider == _advice(NEW, *legs).rider
    assert _advice(boast, *legs).rider.verdict is RiderVerdict.BEYOND
    assert _advice(replace(boast, riding=None), *legs).rider.verdict is not RiderVerdict.BEYOND


def test_a_new_rider_tires_sooner_and_takes_no_pillion_to_learn_with() -> None:
    sealed = ((330, SEALED),)  # five and a half hours
    told = {said.code for said in _advice(NEW, *sealed).rider.reasons}
    assert told == {"long-day"}
    practised = replace(NEW, riding=Riding.PRACTISED)
    assert not _advice(practised, *sealed).rider.reasons
    two_up = replace(NEW, pillion=True)
    told = {said.code for said in _advice(two_up, (60, SEALED)).rider.reasons}
    assert told == {"pillion-new"}
    told = {said.code for said in _advice(two_up, (60, TRACK)).rider.reasons}
    assert {"pillion-new", "pillion-off-road"} <= told
    assert not _advice(replace(two_up, riding=Riding.PRACTISED), (60, SEALED)).rider.reasons


def _asks(trip: Trip, *legs: tuple[float, Leg]) -> str:
    said = [str(q.text) for q in _advice(trip, *legs).questions if q.code == "how-long-riding"]
    return said[0] if said else ""


def test_asked_only_where_it_would_change_the_bike() -> None:
    untold = Trip(rider=Rider.NOVICE, wanted_class="road-tourer")
    assert "road tourer is too much" in _asks(untold, (200, SEALED))
    assert "small all-rounder instead" in _asks(untold, (200, SEALED))
    assert not _asks(replace(untold, wanted_class="light-trail"), (200, SEALED))
    assert not _asks(replace(untold, riding=Riding.PRACTISED), (200, SEALED))
    assert not _asks(replace(untold, riding=Riding.NEW), (200, SEALED))
    assert not _asks(replace(untold, rider=Rider.STEADY), (200, SEALED))
