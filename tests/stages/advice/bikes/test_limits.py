"""A case on each side of what a bike may do, worked by hand."""

from __future__ import annotations

from dataclasses import replace

import pytest

from terrain.stages.advice.advise import advise_case
from terrain.stages.advice.bikes.limits import what_helps
from terrain.tables.advice import BIKES
from terrain.tables.fleet import DEFAULT_FLEET
from terrain.values.advice import Advice
from terrain.values.trip import Luggage, Rider
from tests.stages.advice.trips import SEALED, Case, inputs_of, reach_of


def _advice(rider: str = "steady", *, gap_km: float = 60.0, **bike: object) -> Advice:
    """On 300 km of tarmac with one bike: 10 L, a fifth kept back, 4 L for 100 km."""
    case = inputs_of(Case(name="x", legs=((300, SEALED),), choice="road", top=(), rider=rider,
                          fuel_gap_km=gap_km))  # fmt: skip
    plain = replace(DEFAULT_FLEET.classes[0], tank_l=10.0, consumption_l_100km=4.0, **bike)  # type: ignore[arg-type]
    fleet = replace(
        DEFAULT_FLEET, classes=(plain,), rules=replace(DEFAULT_FLEET.rules, range_reserve=0.2)
    )
    reach = (reach_of(plain.name, farthest_s=600.0, farthest_m=10_000.0),)
    return advise_case(replace(case, fleet=fleet, reach=reach, fuel_gap_tarmac_m=1_000.0 * gap_km))


@pytest.mark.parametrize(
    ("gap_km", "carry_l"), [(200, None), (201, 1), (325, 5), (326, None)]
)  # fmt: skip
def test_five_litres_are_carried_besides_the_tank_and_no_more(gap_km, carry_l) -> None:
    """8 L go 200 km, 13 L 325 km; 5 L is what the rules of the fleet allow."""
    assert DEFAULT_FLEET.rules.carry_l == 5.0
    advice = _advice(gap_km=gap_km)
    if gap_km > 325:
        (out,) = advice.excluded
        assert [item.code for item in out.reasons] == ["range"]
        return
    (fit,) = advice.bikes
    told = [item.text for item in fit.against if item.code == "range-carry"]
    assert [f"carry {carry_l} L" in text for text in told] == ([True] if carry_l else [])


@pytest.mark.parametrize(("off_road", "said"), [(0.5, True), (0.51, False)])
def test_a_novice_hears_that_a_bike_asks_little_up_to_a_fifth(off_road: float, said: bool) -> None:
    """0.4 of what it can off tarmac, for a bike that a novice may ride: 0.2 at 0.5."""
    (fit,) = _advice("novice", off_road=off_road, minimum_rider=Rider.NOVICE).bikes
    assert ("asks-little" in {item.code for item in fit.reasons}) is said


def test_what_helps_is_what_lets_any_bike_go() -> None:
    """Two up with boxes: the single seat may go with one person, and the other bike, which may
    carry 100 kg, not even so. Less luggage helps neither."""
    case = inputs_of(Case(name="x", legs=((100, SEALED),), choice="road", top=()))
    plain = replace(DEFAULT_FLEET.classes[0], minimum_rider=Rider.NOVICE, payload_kg=400.0)
    alone = replace(plain, name="alone", seats=1)
    weak = replace(plain, name="weak", seats=2, payload_kg=100.0)
    trip = replace(case.trip, rider=Rider.STEADY, pillion=True, luggage=Luggage.BOXES)
    two_up = replace(case, trip=trip, fleet=replace(DEFAULT_FLEET, classes=(alone, weak)))
    said = [str(text) for text in what_helps(two_up, BIKES)]
    assert said == ["a bike each in place of two up", "another route"]
    # What is not so already is not tried: alone, without luggage and an expert nothing helps.
    best = replace(trip, rider=Rider.EXPERT, pillion=False, luggage=Luggage.NONE)
    assert [str(text) for text in what_helps(replace(two_up, trip=best), BIKES)] == [
        "another route"
    ]
