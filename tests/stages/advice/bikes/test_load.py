"""Who rides, who sits behind, what is strapped on: each keeps a bike in or out by itself.

Weights by hand: a rider in gear 85 kg, a pillion 70 kg; 5 kg always go along, soft luggage makes
it 15, boxes 30 (tables/common). A bike is out as soon as they weigh more than its payload.
"""

from __future__ import annotations

from dataclasses import replace

import pytest

from terrain.stages.advice.advise import _wanted, advise_case
from terrain.tables.fleet import DEFAULT_FLEET
from terrain.values.advice import Advice
from terrain.values.trip import Luggage, Trip
from tests.stages.advice.trips import SEALED, TRACK, Case, inputs_of


def _advice(trip: Trip, *, payload_kg: float, seats: int = 2) -> Advice:
    """Advice on one class, which has nothing against it but its load."""
    bike = DEFAULT_FLEET.named("road-tourer")
    assert bike is not None
    only = replace(bike, payload_kg=payload_kg, seats=seats)
    inputs = inputs_of(Case(name="x", legs=((100, SEALED),), choice="road", top=()))
    return advise_case(replace(inputs, trip=trip, fleet=replace(DEFAULT_FLEET, classes=(only,))))


@pytest.mark.parametrize(
    ("pillion", "luggage", "load_kg", "too_little_kg", "enough_kg"),
    [
        (False, "none", 90, 89, 90),
        (False, "soft", 100, 99, 100),
        (False, "boxes", 115, 114, 115),
        (True, "none", 160, 159, 160),
        (True, "soft", 170, 169, 170),
        (True, "boxes", 185, 184, 185),
    ],
)
def test_payload_against_rider_pillion_and_luggage(
    pillion: bool, luggage: str, load_kg: float, too_little_kg: float, enough_kg: float
) -> None:
    trip = Trip(pillion=pillion, luggage=Luggage(luggage))
    (out,) = _advice(trip, payload_kg=too_little_kg).excluded
    (said,) = out.reasons
    assert said.code == ("payload" if pillion else "payload-one")
    assert dict(said.numbers) == {"load_kg": load_kg, "payload_kg": too_little_kg}
    advice = _advice(trip, payload_kg=enough_kg)
    assert not advice.excluded and len(advice.bikes) == 1


def test_a_pillion_needs_a_seat_whatever_the_payload() -> None:
    two_up = Trip(pillion=True, luggage=Luggage.NONE)
    (out,) = _advice(two_up, payload_kg=400, seats=1).excluded
    assert [said.code for said in out.reasons] == ["no-seat"]
    assert _advice(two_up, payload_kg=400, seats=2).bikes
    assert _advice(replace(two_up, pillion=False), payload_kg=400, seats=1).bikes


def test_without_a_seat_the_payload_is_not_told_too() -> None:
    (out,) = _advice(Trip(pillion=True, luggage=Luggage.BOXES), payload_kg=50, seats=1).excluded
    assert [said.code for said in out.reasons] == ["no-seat"]


@pytest.mark.parametrize(
    ("km_track", "luggage", "points"), [(0, "boxes", 0.0), (60, "boxes", 0.5), (0, "soft", 1.0)]
)
def test_who_asks_for_boxes_on_a_road_trip_is_not_sent_with_a_bike_that_takes_none(
    km_track: float, luggage: str, points: float
) -> None:
    """An island by its sealed roads, with boxes: the small bike, which takes none, came first by
    two hundredths. Off tarmac soft bags are the better luggage (common practice, no source)."""
    legs = ((100, SEALED), (km_track, TRACK))
    ride = inputs_of(Case(name="x", legs=legs, choice="off-road" if km_track else "road", top=()))
    advice = advise_case(replace(ride, trip=Trip(luggage=Luggage(luggage))))
    small = next(fit for fit in advice.bikes if fit.name == "small-all-rounder")
    score = next(row.score for row in small.table if row.what == "load")
    assert score == pytest.approx(points)


@pytest.mark.parametrize(("behind", "code"), [(0.049, "wanted-near"), (0.051, "wanted-other")])
def test_a_bike_asked_for_that_is_as_good_is_not_talked_out_of(behind: float, code: str) -> None:
    """An expert with a guide asked for the light trail on a stiff farm track, and was told that a
    small all-rounder "suits this ride better", by three hundredths of a fit."""
    ride = inputs_of(Case(name="x", legs=((100, SEALED), (20, TRACK)), choice="off-road", top=()))
    first, second, *rest = advise_case(ride).bikes
    alike = (first, replace(second, fit=first.fit - behind), *rest)
    case = replace(ride, trip=Trip(wanted_class=second.name))
    said = _wanted(case, alike, (), None)
    assert said is not None and said.code == code
    assert ("either will do" in said.text) is (code == "wanted-near")
