"""A stop that the guide asks for as the plan has it already stays the one stop it was."""

from __future__ import annotations

from dataclasses import replace

import pytest

from terrain.values.plan import PinnedStop, Pins, Plan, ProblemKind, Stop, StopKind
from terrain.values.trip import Trip
from tests.stages.plan.planned import a_bike, kinds_at, planned, pump_inn_and_track, trip_at


def _as_typed(stop: Stop) -> PinnedStop:
    """As the form of the desk holds it: to a tenth of a kilometre, by its first reason."""
    return PinnedStop(
        kind=stop.kinds[0], at_m=round(stop.at_m / 1000, 1) * 1000, name=stop.name,
        stay_s=stop.stay_s,
    )  # fmt: skip


def _spots(plan: Plan) -> list[tuple[object, ...]]:
    return [(round(s.at_m), s.van_access, round(s.off_m), s.lon, s.lat) for s in plan.stops]


def test_no_stop_becomes_two_or_another_when_the_guide_asks_for_it(tmp_path) -> None:
    trip = replace(trip_at(11), guided=True)
    first, _ = planned(pump_inn_and_track(), tmp_path, bikes=(a_bike(7),), trip=trip)
    every = {kind for stop in first.stops for kind in stop.kinds}
    assert {StopKind.FUEL, StopKind.LUNCH, StopKind.VAN} <= every
    for stop in first.stops:
        again, _ = planned(
            pump_inn_and_track(),
            tmp_path,
            bikes=(a_bike(7),),
            trip=trip,
            pins=Pins(stops=(_as_typed(stop),)),
        )
        assert _spots(again) == _spots(first), stop.kinds
        (mine,) = [s for s in again.stops if s.pinned]
        assert set(stop.kinds) <= set(mine.kinds)
        assert all(text in mine.why for text in [stop.why] if StopKind.VAN in stop.kinds)


def test_a_meeting_with_the_van_that_is_moved_is_not_met_twice(tmp_path) -> None:
    trip = Trip(guided=True)
    first, _ = planned(pump_inn_and_track(), tmp_path, trip=trip)
    met = kinds_at(first, StopKind.VAN)
    pins = Pins(stops=(PinnedStop(kind=StopKind.VAN, at_m=1000 * met[0] - 1_500, name="Barn"),))
    moved, _ = planned(pump_inn_and_track(), tmp_path, trip=trip, pins=pins)
    assert kinds_at(moved, StopKind.VAN) == pytest.approx([met[0] - 1.5, *met[1:]], abs=0.05)


def test_where_the_guide_wants_lunch_it_is_had_once(tmp_path) -> None:
    pins = Pins(stops=(PinnedStop(kind=StopKind.LUNCH, at_m=50_000, name="Ford"),))
    plan, _ = planned(pump_inn_and_track(), tmp_path, pins=pins)
    assert kinds_at(plan, StopKind.LUNCH) == pytest.approx([50.0], abs=0.05)


def _longest_without_fuel(plan: Plan) -> float:
    gaps = [x.to_m - x.from_m for x in plan.problems if x.kind is ProblemKind.FUEL]
    return max(gaps, default=0.0)


def test_a_stop_the_guide_does_not_want_is_gone_and_what_that_breaks_is_told(tmp_path) -> None:
    trip = replace(trip_at(11), guided=True)
    first, _ = planned(pump_inn_and_track(), tmp_path, bikes=(a_bike(7),), trip=trip)
    (pump_km,) = kinds_at(first, StopKind.FUEL)[:1]
    pins = Pins(without_m=(1000 * pump_km,))
    left, _ = planned(pump_inn_and_track(), tmp_path, bikes=(a_bike(7),), trip=trip, pins=pins)
    assert pump_km not in kinds_at(left, StopKind.FUEL)
    assert _longest_without_fuel(left) > _longest_without_fuel(first)
    van_km = kinds_at(first, StopKind.VAN)[0]
    alone, _ = planned(
        pump_inn_and_track(),
        tmp_path,
        trip=Trip(guided=True),
        pins=Pins(without_m=(1000 * van_km,)),
    )
    assert van_km not in kinds_at(alone, StopKind.VAN)
