"""What to carry and check follows from the ride: common practice, no source."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from terrain.stages.advice.advise import advise_case
from terrain.stages.advice.case import AdviceCase
from terrain.stages.advice.rider.kit import _help, conditions, spares
from terrain.tables.advice import BIKES
from terrain.tables.advice_kit import CHECKS, SPARES, When
from terrain.tables.fleet import DEFAULT_FLEET
from terrain.values.fleet import Cooling
from terrain.values.heat import Concern, Heat, RiderHeat
from terrain.values.places import RideNode
from terrain.values.trip import Luggage, Trip
from tests.stages.advice.trips import COOL, SEALED, TRACK, Case, hot_run, inputs_of, rider_heat

_HOT = Case(name="x", legs=((20, SEALED), (80, TRACK)), choice="off-road", top=(), hot_c=38)


def test_kit_and_checks_are_the_same_if_no_bike_may_go() -> None:
    ride = inputs_of(_HOT)
    heavy = tuple(replace(bike, payload_kg=50) for bike in DEFAULT_FLEET.classes)
    none = replace(ride, fleet=replace(DEFAULT_FLEET, classes=heavy))
    some, nobody = advise_case(ride), advise_case(none)
    assert some.bikes and not nobody.bikes
    codes = {item.code for item in (*nobody.checks, *nobody.spares)}
    assert codes == {item.code for item in (*some.checks, *some.spares)}
    assert {"coolant-midday", "fan-listen", "fan-fall", "water-engine"} <= codes
    assert "fan-depends" in {item.code for item in nobody.cautions}


def test_midday_coolant_on_hard_days_that_are_not_hot() -> None:
    def codes(km_track: float) -> set[str]:
        ride = replace(_HOT, hot_c=10, legs=((100, SEALED), (km_track, TRACK)))
        return {item.code for item in advise_case(inputs_of(ride)).checks}

    assert "coolant-midday" in codes(60)
    assert "coolant-midday" not in codes(5)


def test_where_coolant_is_looked_at_comes_from_the_fleet() -> None:
    where = "cap on the right, behind the plastic"
    classes = tuple(replace(b, coolant_check=where) for b in DEFAULT_FLEET.classes)
    ride = replace(inputs_of(_HOT), fleet=replace(DEFAULT_FLEET, classes=classes))
    told = [item for item in advise_case(ride).checks if item.code == "coolant-where"]
    assert len(told) == sum(bike.cooling.value == "liquid" for bike in classes)
    assert all(where in item.text for item in told)


def test_spares_begin_with_what_failed_on_the_bikes_that_may_go() -> None:
    ride = inputs_of(_HOT)
    before = advise_case(ride)
    first = before.bikes[0].name
    wanted = next(b.name for b in DEFAULT_FLEET.classes if b.name not in before.bikes[0].name)
    failed = {bike.name: (f"chain of {bike.name}", "fan") for bike in DEFAULT_FLEET.classes}
    ride = replace(
        ride, fleet=DEFAULT_FLEET.failing(failed), trip=replace(ride.trip, wanted_class=wanted)
    )
    after = advise_case(ride).spares
    told = [item for item in after if item.code == "failed-before"]
    assert list(after[: len(told)]) == told
    assert [f"chain of {name} and fan" in item.text for item, name in
            zip(told, (wanted, first), strict=True)] == [True, True]  # fmt: skip
    assert after[len(told) :] == before.spares


def test_hot_clutches_are_named_longest_first_and_the_bill_once() -> None:
    ride = inputs_of(_HOT)
    assert not {"clutch-hot", "clutch-how"} & {c.code for c in advise_case(ride).cautions}
    runs = (replace(hot_run(30e3, 31e3), time_s=300.0), hot_run(50e3, 53e3))
    ride = replace(ride, heat=replace(ride.heat, clutch=runs))
    told = [c for c in advise_case(ride).cautions if c.code.startswith("clutch")]
    assert [(c.code, c.from_m) for c in told] == [
        ("clutch-hot", 50e3), ("clutch-hot", 30e3), ("clutch-how", None),
        ("clutch-contract", None),
    ]  # fmt: skip


def _check(code: str) -> str:
    return next(row.text for row in CHECKS if row.code == code)


def test_the_fan_check_holds_what_a_workshop_would_tell() -> None:
    """Common practice, no source."""
    said = _check("fan-listen")
    assert "must come on" in said and "climb" in said and "take it as broken" in said
    # No lamp tells of it: neither a dead sensor nor a radiator without coolant lights one.
    assert "Do not wait for a lamp" in said
    assert "dead sensor" in said and "lost its coolant" in said
    # Causes in the order in which they happen; then what follows.
    order = [said.index(word) for word in ("wire", "shroud", "sensor. What", "head gasket")]
    assert order == sorted(order)
    fall = _check("fan-fall")
    assert "every fall" in fall and "by hand" in fall and "off and cold" in fall


def test_the_coolant_check_holds_what_a_workshop_would_tell() -> None:
    """Common practice, no source."""
    said = _check("coolant-morning")
    for fact in ("every morning", "cold", "upright", "to the top", "workshop", "tell the rental",
                 "Never open a hot radiator"):  # fmt: skip
        assert fact in said, fact
    assert "midday" in _check("coolant-midday")
    (water,) = [row.text for row in SPARES if row.code == "water-engine"]
    for fact in ("cool", "clean water", "20 minutes", "next help"):
        assert fact in water, fact


def test_the_oil_check_holds_what_a_workshop_would_tell() -> None:
    """Common practice, no source."""
    said = _check("oil-sight-glass")
    for fact in ("every day", "sight glass", "level and upright", "half and three quarters",
                 "Do not change it on the road"):  # fmt: skip
        assert fact in said, fact
    assert "every day" in _check("tyres-pressure") and "ground" in _check("tyres-pressure")


@pytest.mark.parametrize(
    ("mass_kg", "pillion", "luggage", "code"),
    [
        (159.0, False, "none", "pressure-light"),
        (160.0, False, "none", "pressure-heavy"),
        (140.0, True, "none", "pressure-heavy"),
        (140.0, False, "boxes", "pressure-heavy"),
    ],
)
def test_a_heavy_or_loaded_bike_keeps_more_air_on_loose_ground(
    mass_kg: float, pillion: bool, luggage: str, code: str
) -> None:
    ride = inputs_of(replace(_HOT, hot_c=None))
    bike = replace(
        DEFAULT_FLEET.classes[0], mass_kg=mass_kg, seats=2, payload_kg=400,
        luggage=tuple(Luggage),
    )  # fmt: skip
    fleet = replace(DEFAULT_FLEET, classes=(bike,))
    reach = tuple(replace(one, name=bike.name) for one in ride.reach[:1])
    trip = replace(ride.trip, pillion=pillion, luggage=Luggage(luggage))
    setup = advise_case(replace(ride, fleet=fleet, reach=reach, trip=trip)).setup
    assert code in {item.code for item in setup.pressures}


def test_boxes_that_a_light_bike_cannot_take_do_not_load_it() -> None:
    """Common practice, no source: what is not strapped on asks for no air."""
    ride = inputs_of(replace(_HOT, hot_c=None))
    bike = replace(DEFAULT_FLEET.classes[0], mass_kg=140.0, payload_kg=400, luggage=(Luggage.SOFT,))
    reach = tuple(replace(one, name=bike.name) for one in ride.reach[:1])
    trip = replace(ride.trip, luggage=Luggage.BOXES)
    fleet = replace(DEFAULT_FLEET, classes=(bike,))
    setup = advise_case(replace(ride, fleet=fleet, reach=reach, trip=trip)).setup
    assert [item.code for item in setup.pressures] == ["pressure-road", "pressure-light"]


def _told(heat: RiderHeat | None, **changed: object) -> set[str]:
    """Codes of what to carry and to check on a ride in such air."""
    ride = replace(inputs_of(_HOT), heat=Heat(rider=heat), **changed)
    advice = advise_case(ride)
    return {item.code for item in (*advice.spares, *advice.checks)}


def test_kit_for_the_cold_follows_from_the_cold() -> None:
    """A ride at -8 deg C that felt like -20 packed an air filter "after dust" and no gloves; plain
    water filled up in summer bursts a radiator in frost (common practice, no source)."""
    cold, mild = ({"min_wind_chill_c": c, "min_air_temp_c": 5.0} for c in (4.9, 5.0))
    air = rider_heat(15.0, index_c=15.0, wbgt_c=12.0, riding_wbgt_c=10.0)
    assert "cold-hands" in _told(replace(air, **cold))
    assert "cold-hands" not in _told(replace(air, **mild))
    winter = {"coolant-frost", "battery-frost"}
    assert winter <= _told(replace(air, min_air_temp_c=-0.1))
    assert not winter & _told(replace(air, min_air_temp_c=0.0))
    assert not winter & _told(None)


def test_no_dust_on_frozen_ground() -> None:
    far = {"mechanic_s": 7_200.0, "mechanic_m": 120_000.0}
    air = rider_heat(0.1, index_c=0.1, wbgt_c=0.0, riding_wbgt_c=0.0)
    assert "air-filter" in _told(air, **far) and "air-filter" in _told(None, **far)
    assert "air-filter" not in _told(replace(air, max_air_temp_c=0.0), **far)


@pytest.mark.parametrize(
    ("km_track", "mechanic_s", "told"),
    [(80, 600.0, True), (0, 600.0, False), (0, 3_601.0, True)],
)
def test_who_is_told_to_carry_tubes_finds_them_in_the_list(
    km_track: float, mechanic_s: float, told: bool
) -> None:
    """On tarmac far from help the first lines said "carry tools and tubes", and the list had
    tools alone."""
    ride = replace(_HOT, hot_c=None, legs=((100, SEALED), (km_track, TRACK)))
    case = replace(inputs_of(ride), mechanic_s=mechanic_s, mechanic_m=1_000.0)
    assert ("puncture" in {item.code for item in advise_case(case).spares}) is told
    # So they do where a town mends the bike of most of the way, and a part has none in reach.
    lost = {item.code for item in advise_case(replace(case, alone=True)).spares}
    assert {"tools", "puncture"} <= lost


@pytest.mark.parametrize(
    ("farthest", "far"),
    [
        (None, (3_600.0, 50_000.0)),
        ((False, 9_000.0, 90_000.0), (3_600.0, 50_000.0)),
        ((True, 7_200.0, 90_000.0), (7_200.0, 90_000.0)),
        ((True, 1_800.0, 20_000.0), (3_600.0, 50_000.0)),
        ((True, None, None), (3_600.0, 50_000.0)),
    ],
)
def test_help_is_as_far_as_who_helps_the_class_if_that_is_farther(
    farthest: tuple[bool, float | None, float | None] | None, far: tuple[float, float]
) -> None:
    """An hour and 50 km to any mechanic. Without a bike nobody is asked whom they help."""
    reach = None
    if farthest is not None:
        known, s, m = farthest
        reach = SimpleNamespace(known=known, farthest_s=s, farthest_m=m)
    case: Any = SimpleNamespace(
        mechanic_s=3_600.0, mechanic_m=50_000.0, reach_of={"one": reach}.__getitem__
    )
    bike = replace(DEFAULT_FLEET.classes[0], name="one")
    assert _help(case, bike) == far
    assert _help(case, None) == (3_600.0, 50_000.0)


_CALM = rider_heat(15.0, index_c=15.0, wbgt_c=12.0, riding_wbgt_c=10.0)
_NEAR: dict[str, Any] = {"mechanic_s": 0.0, "mechanic_m": 0.0, "trip": Trip(guided=True)}
_FORD = RideNode(at_m=9.0, kind="ford")


def _conditions(off_s: float = 0.0, **case: Any) -> set[When]:
    """What holds on a ride that is near all help, guided, mild and dry, but for what is told."""
    burden: Any = SimpleNamespace(
        time_s=np.full(2, 2 * off_s), p=np.tile([0.75, 0.25, 0.0], (2, 1))
    )
    ride = AdviceCase(stretches=(), fleet=DEFAULT_FLEET, **{**_NEAR, **case})
    return set(conditions(ride, burden, (), BIKES))


@pytest.mark.parametrize(
    ("case", "more"),
    [
        ({}, set()),
        ({"off_s": 599.0}, set()),
        ({"off_s": 600.0}, {When.OFF_ROAD, When.TUBES}),
        ({"off_s": 7_199.0}, {When.OFF_ROAD, When.TUBES}),
        ({"off_s": 7_200.0}, {When.OFF_ROAD, When.TUBES, When.HARD_OR_HOT}),
        ({"mechanic_s": 3_600.0, "mechanic_m": 50_000.0}, set()),
        ({"mechanic_s": 3_601.0}, {When.REMOTE_TOOLS, When.TUBES}),
        ({"mechanic_m": 50_001.0}, {When.REMOTE_TOOLS, When.TUBES}),
        ({"mechanic_s": 7_200.0, "mechanic_m": 100_000.0}, {When.REMOTE_TOOLS, When.TUBES}),
        ({"mechanic_s": 7_201.0}, {When.REMOTE_TOOLS, When.TUBES, When.REMOTE_VEHICLE}),
        ({"mechanic_m": 100_001.0}, {When.REMOTE_TOOLS, When.TUBES, When.REMOTE_VEHICLE}),
        ({"alone": True}, {When.REMOTE_TOOLS, When.TUBES}),
        # Where no help at all is known tools go along; one of time and way is enough to know.
        ({"mechanic_s": None, "mechanic_m": None}, {When.REMOTE_TOOLS, When.TUBES}),
        ({"mechanic_s": None}, set()),
        ({"hospital_s": 3_600.0}, set()),
        ({"hospital_s": 3_601.0}, {When.CARE_FAR}),
        ({"max_ele_m": 2_450.0}, set()),
        ({"max_ele_m": 2_451.0}, {When.HIGH}),
        ({"nodes": (_FORD,)}, {When.FORDS}),
        ({"heat": Heat(rain_mm=0.9)}, set()),
        ({"heat": Heat(rain_mm=1.0)}, {When.RAIN}),
        ({"heat": Heat(rider=_CALM)}, set()),
        ({"heat": Heat(rider=replace(_CALM, max_heat_index_c=50.0))}, {When.HOT}),
        ({"heat": Heat(rider=replace(_CALM, min_wind_chill_c=4.9))}, {When.COLD}),
        ({"heat": Heat(engines=(COOL,))}, set()),
        ({"heat": Heat(engines=(replace(COOL, concern=Concern.HIGH),))},
         {When.HOT_ENGINE, When.HARD_OR_HOT}),
    ],
)  # fmt: skip
def test_conditions_hold_from_their_limits_on(case: dict[str, Any], more: set[When]) -> None:
    """Minutes, hours, kilometres and metres of tables/advice; a wet day has 1 mm (WMO ETCCDI)."""
    assert _conditions(**case) == {When.ALWAYS, When.GUIDE, When.DUST} | more


def test_who_rides_without_a_guide_is_alone() -> None:
    held = _conditions(trip=Trip())
    assert When.ALONE in held and When.GUIDE not in held


@pytest.mark.parametrize(("gap_km", "far"), [(60.0, False), (60.1, True)])
def test_pumps_are_far_from_three_fifths_of_the_range_on(gap_km: float, far: bool) -> None:
    """10 L with a fifth kept back, 8 L a 100 km: 100 km."""
    bike = replace(DEFAULT_FLEET.classes[0], tank_l=10.0, consumption_l_100km=8.0)
    fleet = replace(DEFAULT_FLEET, rules=replace(DEFAULT_FLEET.rules, range_reserve=0.2))
    gap_m = 1_000 * gap_km
    case = AdviceCase(stretches=(), fleet=fleet, fuel_gap_m=gap_m, fuel_gap_tarmac_m=gap_m, **_NEAR)
    burden: Any = SimpleNamespace(time_s=np.zeros(0), p=np.zeros((0, 3)))
    assert (When.FUEL_FAR in conditions(case, burden, (bike,), BIKES)) is far
    assert When.FUEL_FAR not in conditions(replace(case, fuel_gap_m=None), burden, (bike,), BIKES)


def test_what_only_some_classes_need_names_them() -> None:
    burden: Any = SimpleNamespace(time_s=np.zeros(0), p=np.zeros((0, 3)))
    case = AdviceCase(stretches=(), fleet=DEFAULT_FLEET, **_NEAR)
    liquid, air = (
        replace(DEFAULT_FLEET.classes[0], title=title, cooling=cooling)
        for title, cooling in (("wet", Cooling.LIQUID), ("dry", Cooling.AIR))
    )
    for bikes, of_liquid, of_air in (((liquid, air), ("wet",), ("dry",)), ((liquid,), None, ()),
                                     ((air,), (), None), ((), (), ())):  # fmt: skip
        held = conditions(case, burden, bikes, BIKES)
        for when, named in ((When.LIQUID, of_liquid), (When.AIR, of_air)):
            assert held.get(when, {"classes": ()})["classes"] == named


def test_four_of_the_parts_that_failed_before_are_told() -> None:
    parts = tuple(f"part {i}" for i in range(6))
    (item,) = spares({}, (replace(DEFAULT_FLEET.classes[0], failed=parts),))
    assert "part 3" in item.text and "part 4" not in item.text
