"""Plans on maps drawn by hand, and every kind of plan against an independent checker."""

from __future__ import annotations

import json
import tempfile
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from terrain.stages.days import choose_days
from terrain.stages.days.fuel import carry_l
from terrain.stages.plan.asked import van_stops
from terrain.stages.plan.make import plan_stops
from terrain.values.exits import Exit, ExitPoint
from terrain.values.help import Helper, HelperKind
from terrain.values.plan import (
    PinnedNight,
    PinnedStop,
    Pins,
    ProblemKind,
    StopKind,
)
from terrain.values.trip import Trip
from tests.stages.plan.checker import faults_of
from tests.stages.plan.planned import (
    RULES,
    SUMMER,
    WINTER,
    a_bike,
    kinds_at,
    planned,
    problems_of,
    straight,
    trip_at,
)
from tests.stages.tinymap import EAST_M, GRAVEL, PAVED, TRACK, TinyMap, ride_of_legs

# Rest


def test_rest_every_90_minutes_nsw_road_safety(tmp_path) -> None:
    """NSW road safety: motorcyclists rest each 1.5 h; the default rule of the fleet."""
    assert RULES.rest_every_s == 5_400.0
    grounds = [GRAVEL] * 8
    plan, ride = planned(straight([0, 15, 30, 45, 60, 75, 90, 105, 120], grounds), tmp_path,
                       bikes=(a_bike(40),), with_exits=False)  # fmt: skip
    marks = np.array([0.0, *(stop.at_m for stop in plan.stops), ride.length_m])
    assert np.diff(ride.time_s(marks)).max() <= 5_400.0 + 1.0


def test_rest_every_100_km_nz_motorcycle_road_code(tmp_path) -> None:
    """NZ motorcycle road code: each 2 h or 100 km; the stricter holds on fast roads."""
    rules = replace(RULES, rest_every_s=7_200.0)
    plan, ride = planned(straight([0, 100, 200, 290]), tmp_path, bikes=(a_bike(40),), rules=rules)
    marks = np.array([0.0, *(stop.at_m for stop in plan.stops), ride.length_m])
    assert np.diff(marks).max() <= 100_000.0 + 1.0
    assert len(plan.stops) == 2  # three legs of under 100 km


def test_stop_of_15_minutes_uk_highway_code_rule_91(tmp_path) -> None:
    plan, _ = planned(straight([0, 100, 200]), tmp_path, bikes=(a_bike(40),))
    assert plan.stops
    assert all(stop.stay_s >= 900.0 for stop in plan.stops)


def test_rest_comes_sooner_in_the_heat_and_where_water_is(tmp_path) -> None:
    """De Rome et al. 2016: at 35 deg C the limit comes in about 105 minutes of effort."""
    tiny = straight([0, 30, 60, 90])
    tiny.spot((40_000, 20), amenity="drinking_water", name="Spring")
    cool, _ = planned(tiny, tmp_path, bikes=(a_bike(40),))
    hot, ride = planned(tiny, tmp_path, bikes=(a_bike(40),), heat_at_m=np.array([0.0]),
                      heat_c=np.array([36.0]))  # fmt: skip
    assert len(hot.stops) > len(cool.stops)
    marks = np.array([0.0, *(stop.at_m for stop in hot.stops), ride.length_m])
    assert np.diff(ride.time_s(marks)).max() <= 2_700.0 + 1.0
    water = [stop for stop in hot.stops if StopKind.WATER in stop.kinds]
    assert [stop.name for stop in water] == ["Spring"]
    assert "hot" in water[0].why


# Fuel


def test_usable_range_keeps_a_fifth_of_the_tank(tmp_path) -> None:
    """Tank incl. reserve x worst consumption x 0.8: 10 L at 5 L/100 km are 160 km, not 200."""
    tiny = straight([0, 100, 200])
    tiny.spot((150_000, 0), amenity="fuel", name="Mid Pump")
    plan, _ = planned(tiny, tmp_path)
    assert plan.fuel is not None
    assert plan.fuel.range_m == pytest.approx(160_000)
    assert kinds_at(plan, StopKind.FUEL) == pytest.approx([150], abs=0.1)
    assert problems_of(plan, ProblemKind.FUEL) == []


def test_infeasible_leg_is_told_with_what_to_carry(tmp_path) -> None:
    """142 km without fuel; the range is 120 (7.5 L at 5 L/100 km, less a fifth): carry 2 L."""
    tiny = straight([0, 20, 100, 162, 180])
    tiny.spot((20_000, 0), amenity="fuel", name="First Pump")
    tiny.spot((162_000, 0), amenity="fuel", name="Second Pump")
    plan, _ = planned(tiny, tmp_path, bikes=(a_bike(7.5),))
    (problem,) = [p for p in plan.problems if p.kind is ProblemKind.FUEL]
    assert (problem.from_m, problem.to_m) == pytest.approx((20_000, 162_000), abs=50)
    assert problem.text.startswith("142 km without fuel from km 20")
    # 120 on tarmac for sure; tagged tarmac leaves a grain of doubt.
    assert "your range on this ground is 119" in problem.text
    assert problem.text.endswith("carry 2 L.")  # 22 km at 5 L/100 km are 1.1 L
    assert problem.carry_l == 2.0


def test_group_refuels_by_its_smallest_tank_club_rules(tmp_path) -> None:
    big, small = a_bike(20), replace(a_bike(6), name="small-tank")
    tiny = straight([0, 80, 150])
    tiny.spot((80_000, 0), amenity="fuel", name="Mid Pump")
    alone, _ = planned(tiny, tmp_path, bikes=(big,))
    group, _ = planned(tiny, tmp_path, bikes=(big, small))
    assert group.fuel is not None
    assert group.fuel.bike == "small-tank"
    assert kinds_at(group, StopKind.FUEL) == pytest.approx([80], abs=0.1)
    assert problems_of(group, ProblemKind.FUEL) == []
    assert alone.fuel is not None
    assert alone.fuel.range_m > group.fuel.range_m


def test_track_burns_a_third_more(tmp_path) -> None:
    """120 km of track at 1.317 times (0.9 x 1.35 + 0.09 x 1.2 + 0.01) is 158 km of tarmac."""
    tiny = straight([0, 60, 120], [TRACK, TRACK])
    fits, _ = planned(tiny, tmp_path, bikes=(a_bike(10),), with_exits=False)
    assert problems_of(fits, ProblemKind.FUEL) == []
    short, _ = planned(tiny, tmp_path, bikes=(a_bike(9.8),), with_exits=False)
    assert "carry 1 L" in problems_of(short, ProblemKind.FUEL)[0]


def test_pump_off_the_ride_counts_with_the_way_to_it(tmp_path) -> None:
    tiny = straight([0, 75, 150])
    tiny.nodes["X"] = (75_000, 4_000)
    tiny.way(("N1", "X"), PAVED)
    tiny.spot((75_000, 4_000), amenity="fuel", name="Side Pump")
    plan, _ = planned(tiny, tmp_path, bikes=(a_bike(6.25),))  # 100 km
    stop = next(stop for stop in plan.stops if StopKind.FUEL in stop.kinds)
    assert stop.name == "Side Pump"
    assert stop.off_m == pytest.approx(4_000, abs=20)
    assert stop.at_m == pytest.approx(75_000, abs=20)
    assert problems_of(plan, ProblemKind.FUEL) == []
    # With 78 km of range the way to the pump is what breaks it: 79 km.
    plan, _ = planned(tiny, tmp_path, bikes=(a_bike(4.88),))
    assert len(problems_of(plan, ProblemKind.FUEL)) >= 1


def test_greedy_filling_would_fail_where_the_plan_does_not(tmp_path) -> None:
    """Range 160: pumps at 90, 150 and 300 km. From the farthest in reach one cannot miss."""
    tiny = straight([0, 100, 200, 300, 400])
    for x in (90, 150, 300):
        tiny.spot((x * 1000.0, 0), amenity="fuel", name=f"Pump {x}")
    plan, _ = planned(tiny, tmp_path)
    assert problems_of(plan, ProblemKind.FUEL) == []
    assert kinds_at(plan, StopKind.FUEL) == pytest.approx([150, 300], abs=0.1)


def test_operators_fuel_drum_is_used(tmp_path) -> None:
    drum = Helper(name="Our drum", lon=100_000 / EAST_M, lat=0.0, kind=HelperKind.FUEL)
    without, _ = planned(straight([0, 100, 200]), tmp_path)
    assert problems_of(without, ProblemKind.FUEL)
    plan, _ = planned(straight([0, 100, 200]), tmp_path, helpers=(drum,))
    assert problems_of(plan, ProblemKind.FUEL) == []
    assert "Our drum" in [stop.name for stop in plan.stops]


def test_pump_passed_twice_serves_twice(tmp_path) -> None:
    """Out 70 km, back and out again, range 131 km: only the second pass at km 130 helps."""
    tiny = TinyMap(nodes={"N0": (0, 0), "N1": (10_000, 0), "M": (70_000, 0)})
    tiny.way(("N0", "N1"), PAVED).way(("N1", "M"), PAVED)
    tiny.spot((10_000, 0), amenity="fuel", name="Only Pump")
    region = tiny.read(tmp_path)
    there = [region.edge("N0", "N1"), region.edge("N1", "M")]
    back = [(k, not ahead) for k, ahead in reversed(there)]
    ride = ride_of_legs(region, [*there, *back, *there])
    days = choose_days(ride, region.roads, region.places, region.fields(), rules=RULES, trip=Trip())
    plan = plan_stops(ride, days, region.places, region.fields(), bikes=(a_bike(8.2),),
                     rules=RULES, trip=Trip())  # fmt: skip
    assert kinds_at(plan, StopKind.FUEL) == pytest.approx([130], abs=0.1)
    assert problems_of(plan, ProblemKind.FUEL) == []


# Lunch, checks, van


def test_lunch_is_had_at_midday_where_there_is_food(tmp_path) -> None:
    tiny = straight([float(x) for x in range(0, 301, 50)])
    tiny.spot((190_000, 0), amenity="restaurant", name="Table")
    tiny.spot((100_000, 0), amenity="fuel", name="Pump 100")
    plan, _ = planned(tiny, tmp_path, trip=trip_at(9))
    (lunch,) = [stop for stop in plan.stops if StopKind.LUNCH in stop.kinds]
    assert lunch.name == "Table"
    assert 11 * 3600 <= lunch.arrive_s <= 14.5 * 3600
    assert lunch.stay_s >= 2_700


def test_lunch_where_the_day_ends_keeps_nobody_from_arriving(tmp_path) -> None:
    tiny = straight([float(x) for x in range(0, 401, 50)])
    tiny.spot((230_000, 0), amenity="restaurant", name="Table")
    pins = Pins(nights=(PinnedNight(day=1, at_m=230_000.0),))
    plan, ride = planned(tiny, tmp_path, trip=trip_at(9), pins=pins)
    (night,) = [stop for stop in plan.stops if StopKind.NIGHT in stop.kinds]
    assert StopKind.LUNCH in night.kinds
    assert night.stay_s == 0.0
    assert plan.days[0].end_s == pytest.approx(night.arrive_s)
    assert faults_of(plan, ride, (a_bike(),), RULES) == []


def test_hard_day_checks_coolant_and_oil_at_midday(tmp_path) -> None:
    grounds = [PAVED, TRACK, TRACK, PAVED]
    plan, _ = planned(straight([0, 60, 80, 100, 200], grounds), tmp_path, trip=trip_at(9))
    assert plan.days[0].hard == ("40 km off road",)
    (check,) = [stop for stop in plan.stops if StopKind.CHECK in stop.kinds]
    assert "coolant and oil" in check.why
    easy, _ = planned(straight([0, 60, 120, 200]), tmp_path, trip=trip_at(9))
    assert kinds_at(easy, StopKind.CHECK) == []


def test_van_meets_before_and_after_each_off_road_stretch(tmp_path) -> None:
    grounds = [PAVED, TRACK, PAVED, TRACK, PAVED]
    way = straight([0, 30, 40, 60, 75, 100], grounds)
    assert not kinds_at(planned(way, tmp_path)[0], StopKind.VAN)  # no guide, no van
    plan, _ = planned(way, tmp_path, trip=Trip(guided=True))
    assert kinds_at(plan, StopKind.VAN) == pytest.approx([30, 40, 60, 75], abs=0.1)
    van = [stop for stop in plan.stops if StopKind.VAN in stop.kinds]
    assert all(stop.van_access for stop in van)
    assert "before 10 km it cannot use" in van[0].why
    assert "after 10 km it cannot use" in van[1].why


# All kinds of plans

_GROUNDS = (PAVED, PAVED, GRAVEL, TRACK)


@st.composite
def _cases(draw):
    steps = draw(st.lists(st.integers(2, 60), min_size=1, max_size=14))
    grounds = [dict(draw(st.sampled_from(_GROUNDS))) for _ in steps]
    km = [0.0, *np.cumsum(steps).astype(float).tolist()]
    tiny = straight(km, grounds)
    kinds = [{"amenity": "fuel"}, {"tourism": "hotel"}, {"amenity": "restaurant"},
             {"amenity": "drinking_water"}, {"place": "village"}]  # fmt: skip
    for i in range(draw(st.integers(0, 18))):
        at = draw(st.floats(0, km[-1])) * 1000.0
        tags = dict(draw(st.sampled_from(kinds)))
        tiny.spot((at, draw(st.sampled_from([0.0, 40.0, -200.0]))), name=f"Place {i}", **tags)
    pins = Pins()
    if draw(st.booleans()):
        at_m = draw(st.floats(0.05, 0.95)) * km[-1] * 1000.0
        nights = (PinnedNight(day=draw(st.integers(1, 2)), at_m=at_m),)
        pins = Pins(nights=nights if draw(st.booleans()) else (),
                    stops=(PinnedStop(at_m=at_m / 2),), start_s=9 * 3600.0)  # fmt: skip
    return tiny, pins, draw(st.sampled_from([(), (SUMMER,), (WINTER,)])), draw(st.floats(4, 14))


@settings(max_examples=25, deadline=None)
@given(_cases())
def test_every_plan_is_sound_and_every_break_is_told(case) -> None:
    tiny, pins, daylight, tank_l = case
    bikes = (a_bike(tank_l), replace(a_bike(tank_l + 3, 6.0), name="other"))
    with tempfile.TemporaryDirectory() as folder:
        plan, ride = planned(tiny, Path(folder), bikes=bikes, pins=pins, daylight=daylight)
    assert faults_of(plan, ride, bikes, RULES) == []
    json.dumps(plan.to_dict(), allow_nan=False)


def test_checker_finds_what_is_wrong(tmp_path) -> None:
    """A check that cannot fail checks nothing: spoil a sound plan in each way."""
    tiny = straight([float(x) for x in range(0, 601, 100)])
    tiny.spot((300_000, 0), tourism="hotel", name="Middle Inn")
    for x in (100, 200, 300, 400, 500):
        tiny.spot((x * 1000.0, 0), amenity="fuel", name=f"Pump {x}")
    plan, ride = planned(tiny, tmp_path, daylight=(SUMMER,))
    bikes = (a_bike(),)
    assert faults_of(plan, ride, bikes, RULES) == []
    fewer = replace(plan, stops=tuple(s for s in plan.stops if StopKind.FUEL not in s.kinds))
    assert any("short" in fault for fault in faults_of(fewer, ride, bikes, RULES))
    assert any("rest" in fault for fault in faults_of(fewer, ride, bikes, RULES))
    one = replace(plan, days=plan.days[:1])
    assert any("cover" in fault for fault in faults_of(one, ride, bikes, RULES))
    strict = replace(RULES, ride_day_s=3_600.0)
    assert any("long day" in fault for fault in faults_of(plan, ride, bikes, strict))
    backwards = replace(plan, stops=plan.stops[::-1])
    assert any("order" in fault for fault in faults_of(backwards, ride, bikes, RULES))
    late = replace(plan.days[0], end_s=22 * 3600.0)
    spoilt = replace(plan, days=(late, *plan.days[1:]))
    assert any("dark" in fault for fault in faults_of(spoilt, ride, bikes, RULES))
    bare = replace(plan.days[0], lodging=None)
    spoilt = replace(plan, days=(bare, *plan.days[1:]))
    assert any("bed" in fault for fault in faults_of(spoilt, ride, bikes, RULES))


def test_small_tanks_fill_up_at_every_pump_and_agree_with_the_longest_gap(tmp_path) -> None:
    """Nine short ways beat one canister for all of the ride; what days say of fuel, stops keep."""
    tiny = straight([0, 25, 50, 80, 100, 125])
    for km in (25, 50, 80, 100):
        tiny.spot((1000.0 * km, 0), amenity="fuel", name=f"Pump {km}")
    region = tiny.read(tmp_path)
    ride, fields = region.ride(*(n for n in tiny.nodes if n.startswith("N"))), region.fields()
    days = choose_days(ride, region.roads, region.places, fields, rules=RULES, trip=Trip())
    bike = a_bike(1.0, 8.0)  # 10 km
    plan = plan_stops(ride, days, region.places, fields, bikes=(bike,), rules=RULES, trip=Trip())
    told = [p.carry_l for p in plan.problems if p.kind is ProblemKind.FUEL]
    assert days.fuel.gap_m == pytest.approx(30_000, abs=50)
    assert max(told) == carry_l(days.fuel.tarmac_m, 0.08, 0.8) == 2.0
    assert len(told) == 5


def test_unpaved_parts_that_share_their_meeting_points_tell_them_once() -> None:
    """Between two tracks of one closed valley the van still stands at its mouth."""
    mouth, far = (ExitPoint(lon=0.0, lat=0.0, at_m=at_m) for at_m in (10_000.0, 17_000.0))
    parts = [
        Exit(
            from_m=from_m, to_m=to_m, ride_s=900.0, worst=None, unknown_m=0.0, sides=(),
            last_decision=mouth, commit_m=0.0, commit_s=0.0, turn_back_until_m=None,
            van_before=mouth, van_after=far, van_worst=None, van_worst_s=None, van_passes=False,
            words="",
        )
        for from_m, to_m in ((11_000.0, 12_000.0), (12_500.0, 16_500.0))
    ]  # fmt: skip
    stops = van_stops(parts, 30_000.0)
    assert [stop.at_m for stop in stops] == [10_000.0, 17_000.0]
    assert [str(stop.why).count("the van") for stop in stops] == [1, 1]
