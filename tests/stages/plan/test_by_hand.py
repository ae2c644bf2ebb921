"""The limits of a plan, a case on each side of each, by hand."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from terrain.stages.days.near import FOOD, FUEL, HAMLET, PASS, TOWN, WATER
from terrain.stages.plan.breaks import _day, _fuel, _rest, _water
from terrain.stages.plan.candidates import StopCandidates, _lunch_price, _price, _roadside
from terrain.stages.plan.course import RideSums, _temperature, course_of, fuel_ranges
from terrain.stages.plan.schedule import Schedule, hard_day
from terrain.stages.plan.stop_path import fuel_price, leg_price
from terrain.values.fleet import FleetRules
from terrain.values.plan import Day, Daylight, FuelRange, ProblemKind, StopKind
from terrain.values.ride import FERRY, UNMAPPED
from tests.stages.plan.planned import a_bike, straight

H = 3_600.0
GRAVEL_CODE, TRACK_CODE, PAVED_CODE = 1, 2, 0


@pytest.mark.parametrize(
    ("strain", "price"), [(0.0, 0.0), (0.5, 1.5), (1.0, 6.0), (1.5, 6.0 + 150_000.0)]
)
def test_even_legs_are_cheap_and_long_ones_dear(strain: float, price: float) -> None:
    """6 min times the square of the part of the limit; over it 100,000 times the strain."""
    assert leg_price(strain) == pytest.approx(price)


@pytest.mark.parametrize(
    ("short", "price"), [(-1.0, 0.0), (0.0, 0.0), (0.5, 1.0625e6), (2.0, 17e6)]
)
def test_price_of_a_dry_tank(short: float, price: float) -> None:
    """A million, and one for each litre to the fourth power."""
    assert fuel_price(short) == pytest.approx(price)


@pytest.mark.parametrize(
    ("bits", "hour", "price"),
    [
        (FOOD, 12.5, 0.0), (TOWN, 12.5, 8.0), (FUEL, 12.5, 10.0), (WATER, 12.5, 25.0),
        (FOOD | TOWN, 12.5, 0.0), (TOWN | FUEL, 12.5, 8.0),
        (FOOD, 11.24, np.inf), (FOOD, 11.25, 6.25), (FOOD, 14.25, 8.75), (FOOD, 14.26, np.inf),
    ],
)  # fmt: skip
def test_price_of_lunch_by_place_and_hour(bits: int, hour: float, price: float) -> None:
    """Best at half past twelve, five minutes dearer for each hour off it, from 11:15 to 14:15."""
    assert _lunch_price(np.array([bits]), np.array([hour * H])).tolist() == [price]


def _sums(hot: bool, n: int = 2) -> RideSums:
    at = 1_000.0 * np.arange(n)
    return RideSums(at, at / 10, at / 1e4, at / 1e5, np.zeros(n - 1), np.full(n - 1, hot))


@pytest.mark.parametrize(
    ("bits", "mild", "hot"),
    [
        (FOOD, 15.0, 25.0), (FUEL, 15.0, 25.0), (TOWN, 15.0, 15.0), (WATER, 17.0, 17.0),
        (PASS, 17.0, 27.0), (HAMLET, 19.0, 29.0), (0, 25.0, 35.0), (WATER | HAMLET, 17.0, 17.0),
    ],
)  # fmt: skip
def test_price_of_a_stop_by_what_is_there(bits: int, mild: float, hot: float) -> None:
    """A minute off the route, there and back, is two more."""
    for is_hot, price in ((False, mild), (True, hot)):
        two = np.array([500.0, 500.0])
        none = np.full(2, -1, np.int32)
        places = StopCandidates(two, two, np.array([0.0, 60.0]), np.full(2, bits), none, none)
        assert _price(places, _sums(is_hot)).tolist() == [price, price + 2.0]


def test_heat_holds_from_knot_to_knot() -> None:
    sums = RideSums(
        100.0 * np.arange(4), np.zeros(4), np.zeros(4), np.zeros(4), np.zeros(3),
        np.array([False, True, False]),
    )  # fmt: skip
    at = np.array([-5.0, 99.0, 100.0, 199.0, 200.0, 300.0, 400.0])
    assert sums.is_hot(at).tolist() == [False, False, True, True, False, False, False]


@pytest.mark.parametrize(("strain", "at_km"), [(0.1, []), (0.2, [1.0]), (0.5, [0.5, 1.0, 1.5])])
def test_a_roadside_stop_each_eighth_of_a_leg(strain: float, at_km: list[float]) -> None:
    sums = _sums(False, 3)._replace(strain=np.array([0.0, strain / 2, strain]))
    assert _roadside(sums) == pytest.approx([1_000 * km for km in at_km])


def test_temperature_between_what_is_known() -> None:
    got = _temperature(
        np.array([0.0, 5.0, 20.0]), np.array([0.0, 4.0, 10.0]), np.array([20.0, np.nan, 30.0])
    )
    assert got.tolist() == [20.0, 25.0, 30.0]
    assert np.isnan(_temperature(np.zeros(2), np.zeros(1), np.full(1, np.nan))).all()


@pytest.mark.parametrize(
    ("air_c", "strain", "hot"),
    [(np.nan, 1.0, False), (29.9, 1.0, False), (30.0, 1.5, True), (34.9, 1.5, True),
     (35.0, 2.0, True)],
)  # fmt: skip
def test_heat_brings_rests_sooner(tmp_path, air_c: float, strain: float, hot: bool) -> None:
    """An hour of tarmac at 60 km/h with a rest an hour: half as soon again from 30 C, twice from
    35 C (de Rome et al. 2016). A rest each 20 km is stricter."""
    ride = straight([0, 60]).read(tmp_path).ride("N0", "N1")
    rules = replace(FleetRules(), rest_every_s=H, rest_every_m=1e9)
    heat: dict[str, Any] = {"heat_at_m": np.zeros(1), "heat_c": np.full(1, air_c)}
    course = course_of(
        ride, rules, FuelRange(bike="b", title="Bike", usable_l=8.0, l_per_km=0.05), **heat
    )
    assert course.strain[-1] == pytest.approx(strain, rel=1e-3)
    assert set(course.hot.tolist()) == {hot}
    by_way = course_of(ride, replace(rules, rest_every_m=20_000.0), None, **heat)
    assert by_way.strain[-1] == pytest.approx(3.0, rel=1e-3)
    assert by_way.litres[-1] == 0.0


def test_a_group_fills_up_by_the_shortest_range() -> None:
    """10 L less a fifth at 5 L a 100 km: 160 km; 20 L at 16: 100 km."""
    first, second = fuel_ranges(
        (a_bike(), a_bike(20.0, 16.0)), replace(FleetRules(), range_reserve=0.2)
    )
    assert (first.usable_l, first.l_per_km, first.range_m) == pytest.approx((16.0, 0.16, 1e5))
    assert second.range_m == pytest.approx(160_000.0)


def _hard(
    ground: int, length_m: float, *, m_s: float = 10.0, rough_m: float = 0.0, air_c: float = np.nan
) -> list[str]:
    """Why a day of 100 km is hard: it begins with a rough part and goes on over some ground; the
    day before and the day after are rough and hot."""
    day = 100_000.0
    edges = day + np.array([-day, 0.0, rough_m, length_m, day, 2 * day])
    ride = SimpleNamespace(
        from_m=edges[:-1], to_m=edges[1:], time_s=lambda at: np.asarray(at) / m_s,
        ground=np.array([TRACK_CODE, ground, ground, PAVED_CODE, TRACK_CODE]),
        severity=np.array([4, 3, 2, 0, 4]),
    )  # fmt: skip
    n = 5
    course = RideSums(
        edges, edges, edges, edges, np.array([50.0, np.nan, air_c, np.nan, 50.0]), np.zeros(n, bool)
    )
    return [str(why) for why in hard_day(ride, course, day, 2 * day)]  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("case", "n", "words"),
    [
        ({"ground": GRAVEL_CODE, "length_m": 19_990.0}, 0, ""),
        ({"ground": GRAVEL_CODE, "length_m": 20_000.0}, 1, "20 km off road"),
        ({"ground": GRAVEL_CODE, "length_m": 5_390.0, "m_s": 1.0}, 0, ""),
        ({"ground": GRAVEL_CODE, "length_m": 5_400.0, "m_s": 1.0}, 1, "5.4 km off road"),
        ({"ground": FERRY, "length_m": 60_000.0}, 0, ""),
        # What the map does not hold is as hard as it may be, and is not called off road.
        ({"ground": UNMAPPED, "length_m": 19_990.0}, 0, ""),
        ({"ground": UNMAPPED, "length_m": 20_000.0}, 1, "20 km on no road of the map"),
        ({"ground": UNMAPPED, "length_m": 20_000.0, "rough_m": 5_000.0}, 2, "on no road"),
        ({"ground": PAVED_CODE, "length_m": 60_000.0}, 0, ""),
        ({"ground": TRACK_CODE, "length_m": 9_000.0, "rough_m": 4_990.0}, 0, ""),
        ({"ground": TRACK_CODE, "length_m": 9_000.0, "rough_m": 5_000.0}, 1, "rough or worse"),
        ({"ground": TRACK_CODE, "length_m": 20_000.0, "rough_m": 17_900.0}, 2, "off road"),
        ({"ground": TRACK_CODE, "length_m": 20_000.0, "rough_m": 18_000.0}, 1, "rough or worse"),
        ({"ground": PAVED_CODE, "length_m": 9_000.0, "air_c": 34.9}, 0, ""),
        ({"ground": PAVED_CODE, "length_m": 9_000.0, "air_c": 35.0}, 1, "35"),
    ],
)
def test_what_makes_a_day_hard(case: dict[str, Any], n: int, words: str) -> None:
    """20 km or an hour and a half off the tarmac, 5 km rough, or 35 C; told once where it is all
    one (nine tenths)."""
    why = _hard(**case)
    assert len(why) == n
    assert all(words in why[0] for _ in why[:1])


SUN = Daylight(sunrise_s=6 * H, sunset_s=20 * H, dusk_s=20.5 * H)
RULES = FleetRules()


def _problems(*, eaten: bool = False, days: int = 1, **changed: Any) -> list[ProblemKind]:
    day = Day(
        number=1, from_m=0.0, to_m=1e5, riding_s=3 * H, stops_s=0.0, start_s=8 * H, end_s=11 * H,
        daylight=SUN, margin_s=1.0, lodging=None, lodging_off_m=None, hard=(),
    )  # fmt: skip
    kinds = (StopKind.LUNCH,) if eaten else (StopKind.REST,)
    stops: Any = (
        SimpleNamespace(kinds=kinds, day=1),
        SimpleNamespace(kinds=(StopKind.LUNCH,), day=2),
    )
    day = replace(day, **changed)
    return [found.kind for found in _day(day, Schedule((day,) * days, stops, ()), RULES)]


@pytest.mark.parametrize(
    ("changed", "kinds"),
    [
        ({}, []),
        ({"riding_s": RULES.ride_day_s + 0.9}, []),
        ({"riding_s": RULES.ride_day_s + 1.1}, [ProblemKind.LONG_DAY]),
        ({"margin_s": 0.0}, []),
        ({"margin_s": -1.0}, [ProblemKind.DAYLIGHT]),
        ({"margin_s": -1.0, "daylight": None}, []),
        ({"margin_s": None}, []),
        ({"start_s": 6 * H - 59.0}, []),
        ({"start_s": 6 * H - 60.0}, [ProblemKind.DAYLIGHT]),
        ({"days": 2}, [ProblemKind.LODGING]),
        ({"start_s": 11.9 * H, "end_s": 14.5 * H}, []),
        ({"start_s": 11.9 * H, "end_s": 14.6 * H}, [ProblemKind.LUNCH]),
        ({"start_s": 12.0 * H, "end_s": 14.6 * H}, []),
        ({"start_s": 11.9 * H, "end_s": 14.6 * H, "eaten": True}, []),
    ],
)
def test_what_a_day_cannot_keep(changed: dict[str, Any], kinds: list[ProblemKind]) -> None:
    assert _problems(**changed) == kinds


@pytest.mark.parametrize(("end_h", "words"), [(23.5, "at 23:30;"), (24.0, "00:00 the next day")])
def test_a_day_that_ends_after_midnight_says_so(end_h: float, words: str) -> None:
    day = Day(
        number=1, from_m=0.0, to_m=1e5, riding_s=3 * H, stops_s=0.0, start_s=14 * H,
        end_s=end_h * H, daylight=SUN, margin_s=-4 * H, lodging=None, lodging_off_m=None, hard=(),
    )  # fmt: skip
    (found,) = _day(day, Schedule((day,), (), ()), RULES)
    assert words in str(found.text)


@pytest.mark.parametrize(("leg", "broken"), [(1.0, 0), (1.00001, 1)])
def test_a_leg_longer_than_the_limit_is_told(leg: float, broken: int) -> None:
    setting: Any = SimpleNamespace(
        candidates=SimpleNamespace(at_m=np.array([0.0, 5.0, 9.0])),
        problem=SimpleNamespace(strain=np.array([0.0, 0.5, 0.5 + leg])),
        chosen=SimpleNamespace(stops=(0, 1, 2)),
    )
    found = _rest(setting)
    assert len(found) == broken
    assert all((item.from_m, item.to_m) == (5.0, 9.0) for item in found)


@pytest.mark.parametrize(
    ("hot_s", "bits", "night", "litres"),
    [
        (7_190.0, 0, False, None), (7_200.0, 0, False, "2 L"), (10_000.0, 0, False, "2 L"),
        (12_100.0, 0, False, "3 L"),
        (10_000.0, WATER, False, None), (10_000.0, TOWN, False, None), (10_000.0, 0, True, None),
        (10_000.0, FOOD, False, "2 L"),
    ],
)  # fmt: skip
def test_two_hot_hours_without_water_are_told(
    hot_s: float, bits: int, night: bool, litres: str | None
) -> None:
    """.6 L an hour, a stop half-way; the cool hour after counts for nothing."""
    setting: Any = SimpleNamespace(
        course=SimpleNamespace(
            at_m=np.array([0.0, 100.0, 200.0]), ride_s=np.array([0.0, hot_s, hot_s + 3_600.0]),
            hot=np.array([True, False]),
        ),
        candidates=SimpleNamespace(at_m=np.array([0.0, 50.0, 200.0]), bits=np.array([0, bits, 0])),
        chosen=SimpleNamespace(stops=(0, 1, 2)), is_night=lambda row: night and row == 1,
        water_l_h=0.6,
    )  # fmt: skip
    found = _water(setting)
    assert len(found) == (litres is not None)
    assert all(f"carry {litres}" in str(item.text).replace("\xa0", " ") for item in found)


@pytest.mark.parametrize(
    ("to_pump_l", "off_l", "is_pump", "spans"),
    [
        (7.9, 0.0, True, []),
        (7.9, 0.1, True, []),
        (7.9, 0.11, True, [(0.0, 100.0)]),
        (8.1, 0.0, True, [(0.0, 100.0)]),
        (7.9, 0.0, False, [(0.0, 200.0)]),
    ],
)
def test_fuel_that_does_not_reach_is_told(
    to_pump_l: float, off_l: float, is_pump: bool, spans: list[tuple[float, float]]
) -> None:
    """8 L to use; 7.9 L from the pump to the end, and the way from the pump to the road."""
    off = np.array([0.0, off_l, 0.0])
    setting: Any = SimpleNamespace(
        ranges=(FuelRange(bike="b", title="Bike", usable_l=8.0, l_per_km=0.05),),
        namer=SimpleNamespace(near_name=lambda at_m: None),
        problem=SimpleNamespace(
            strain=np.zeros(3), fuel=np.array([True, is_pump, True]), off_l=off,
            litres=np.array([0.0, to_pump_l, to_pump_l + 7.8]),
        ),
        candidates=SimpleNamespace(at_m=np.array([0.0, 100.0, 200.0]), off_m=np.zeros(3)),
        chosen=SimpleNamespace(stops=(0, 1, 2)),
    )  # fmt: skip
    assert [(item.from_m, item.to_m) for item in _fuel(setting, RULES)] == spans
