"""Where the days end, when they start and what light they have, on roads drawn by hand."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime
from zoneinfo import ZoneInfo

import numpy as np
import pytest

from terrain.stages.days import choose_days
from terrain.stages.days.choose import RideDays, _sun
from terrain.values.plan import Daylight, PinnedNight, PinnedStop, Pins, ProblemKind, StopKind
from terrain.values.trip import Trip
from tests.stages.plan.checker import faults_of
from tests.stages.plan.planned import (
    RULES,
    SUMMER,
    WINTER,
    a_bike,
    planned,
    problems_of,
    straight,
    trip_at,
)
from tests.stages.tinymap import EAST_M, PAVED


def test_arrives_an_hour_before_civil_dusk(tmp_path) -> None:
    """Common practice: plan arrival an hour before civil dusk. Winter light makes two days."""
    tiny = straight([0, 150, 300])
    tiny.spot((150_000, 0), tourism="hotel", name="Half Way Inn")
    for x in (100, 200):
        tiny.spot((x * 1000.0, 0), amenity="fuel", name=f"Pump {x}")
    summer, _ = planned(tiny, tmp_path, daylight=(SUMMER,), trip=trip_at(9))
    winter, _ = planned(tiny, tmp_path, daylight=(WINTER,), trip=trip_at(11))
    assert len(summer.days) == 1
    assert len(winter.days) == 2
    assert winter.days[0].lodging is not None
    assert winter.days[0].lodging.name == "Half Way Inn"
    assert all(day.margin_s is not None and day.margin_s >= 0 for day in winter.days)


def test_late_start_is_told(tmp_path) -> None:
    plan, _ = planned(straight([0, 100, 200]), tmp_path, daylight=(WINTER,), trip=trip_at(16))
    assert "it is dark at 17:00" in problems_of(plan, ProblemKind.DAYLIGHT)[0]


def test_start_before_sunrise_is_told(tmp_path) -> None:
    plan, _ = planned(straight([0, 50]), tmp_path, daylight=(WINTER,), trip=trip_at(6))
    assert "before sunrise at 08:00" in problems_of(plan, ProblemKind.DAYLIGHT)[0]


def test_a_start_at_the_minute_of_sunrise_is_not_before_it(tmp_path) -> None:
    """A plan said that a day "sets off at 08:30, before sunrise at 08:30"."""
    light = replace(WINTER, sunrise_s=WINTER.sunrise_s + 40.0)
    plan, _ = planned(straight([0, 50]), tmp_path, daylight=(light,), trip=trip_at(8))
    assert problems_of(plan, ProblemKind.DAYLIGHT) == []


@pytest.mark.parametrize(("first_h", "then_h"), [(16, 8.5), (9, 8.5), (6, 6.0)])
def test_who_sets_off_late_on_the_first_day_sets_off_in_the_morning_of_the_next(
    tmp_path, first_h: int, then_h: float
) -> None:
    """A ride from 16:30 set off at 16:30 on each of three days, and the last ended in the dark."""
    tiny = straight([0, 100, 200, 300, 400, 500])
    for x in (60, 100, 340):
        tiny.spot((x * 1000.0, 0), tourism="hotel", name=f"Inn {x}")
    for x in (50, 150, 250, 350, 450):
        tiny.spot((x * 1000.0, 0), amenity="fuel", name=f"Pump {x}")
    plan, _ = planned(tiny, tmp_path, daylight=(SUMMER,), trip=trip_at(first_h))
    assert len(plan.days) >= 2
    first, *later = (day.start_s / 3600 for day in plan.days)
    assert first == first_h and set(later) == {then_h}


@pytest.mark.parametrize(("first_h", "rests"), [(22, True), (12, False)])
def test_who_arrives_towards_morning_sleeps_before_riding_on(
    tmp_path, first_h: int, rests: bool
) -> None:
    """From 22:00 a day ended at 04:10, and the next began at 08:30. Nine hours are the least rest
    of a driver: Regulation (EC) 561/2006, article 4 (g), from memory."""
    tiny = straight([0, 100, 200, 300, 400, 500, 600])
    for x in range(50, 600, 50):
        tiny.spot((x * 1000.0, 0), tourism="hotel", name=f"Inn {x}")
        tiny.spot((x * 1000.0, 0), amenity="fuel", name=f"Pump {x}")
    plan, _ = planned(tiny, tmp_path, daylight=(), trip=trip_at(first_h))
    first, second, *_ = plan.days
    slept_h = (second.start_s + 86_400.0 - first.end_s) / 3600.0
    assert slept_h >= 8.5
    assert (second.start_s > 8.5 * 3600.0) == rests


def test_nobody_unpacks_within_half_an_hour_of_setting_off(tmp_path) -> None:
    """A ride of three hours and a half from 16:30 in winter had its first night at km 0.1, "under
    a minute" from the start. At 60 km/h the inns are 12 and 36 min away."""
    tiny = straight([0, 100, 200])
    for x in (12, 36):
        tiny.spot((x * 1000.0, 0), tourism="hotel", name=f"Inn {x}")
    plan, _ = planned(tiny, tmp_path, daylight=(WINTER,), trip=trip_at(15))
    assert [day.lodging.name for day in plan.days if day.lodging] == ["Inn 36"]
    pin = Pins(nights=(PinnedNight(day=1, at_m=12_000.0, where="pins.toml, line 1"),))
    asked, _ = planned(tiny, tmp_path, daylight=(WINTER,), trip=trip_at(15), pins=pin)
    assert asked.days[0].to_m == 12_000.0


def test_a_night_ride_over_a_change_of_the_clock_arrives_by_the_clock_of_that_hour(
    tmp_path,
) -> None:
    """Directive 2000/84/EC: on 28 March 2027 Europe's clocks go from 2:00 to 3:00, on 31 October
    from 3:00 to 2:00. A day earlier or later the same ride arrives an hour apart."""
    tiny, zone = straight([0, 100, 200]), ZoneInfo("Europe/Paris")

    def arrives_s(month: int, day: int) -> float:
        trip = Trip(depart=datetime(2027, month, day, 1, 0))
        plan, _ = planned(tiny, tmp_path, trip=trip, zone=zone, daylight=(SUMMER,))
        (only,) = plan.days
        assert only.start_s == 3_600.0
        assert only.margin_s == SUMMER.dusk_s - 3_600.0 - only.end_s
        assert plan.stops == () or plan.stops[-1].arrive_s <= only.end_s
        return only.end_s - only.riding_s - only.stops_s

    assert arrives_s(3, 29) == arrives_s(10, 30) == pytest.approx(3_600.0)
    assert arrives_s(3, 28) == pytest.approx(7_200.0)
    assert arrives_s(10, 31) == pytest.approx(0.0)


def test_setting_off_is_told_to_the_second() -> None:
    depart = datetime(2027, 7, 1, 8, 20, 30)
    assert _sun(Trip(depart=depart), Pins(), ()).sets_off_s(0) == 8 * 3_600 + 20 * 60 + 30
    assert _sun(Trip(depart=depart), Pins(start_s=9 * 3_600.0), ()).sets_off_s(0) == 9 * 3_600


@pytest.mark.parametrize(
    ("dawn", "sunrise", "sunset", "dusk"),
    [("03:41", "04:17", "19:35", "20:10"), ("06:48", "07:20", "16:24", "16:56"),
     ("00:15", "00:40", "11:26", "11:52")],
)  # fmt: skip
def test_dawn_is_as_long_before_sunrise_as_dusk_is_after_sunset(
    dawn: str, sunrise: str, sunset: str, dusk: str
) -> None:
    """Civil twilight of Andorra (21 June and 21 December 2025) and Kathmandu (15 November 2025),
    UTC, by astral 3.2; to a minute or two."""

    def seconds(text: str) -> float:
        return 3600.0 * int(text[:2]) + 60.0 * int(text[3:])

    sun = Daylight(sunrise_s=seconds(sunrise), sunset_s=seconds(sunset), dusk_s=seconds(dusk))
    assert sun.dawn_s == pytest.approx(seconds(dawn), abs=120.0)


def test_days_end_where_there_is_a_bed(tmp_path) -> None:
    """800 km at 60 km/h are 13.3 h: three days of at most 6 h."""
    tiny = straight([float(x) for x in range(0, 801, 100)])
    for x in (290, 310, 540):
        tiny.spot((x * 1000.0, 0), tourism="guest_house", name=f"House {x}")
    for x in range(50, 800, 100):
        tiny.spot((x * 1000.0, 0), amenity="fuel", name=f"Pump {x}")
    plan, _ = planned(tiny, tmp_path)
    assert [day.lodging.name for day in plan.days[:-1] if day.lodging] == ["House 290", "House 540"]
    assert len(plan.days) == 3
    assert problems_of(plan, ProblemKind.LODGING) == []
    assert all(day.riding_s <= RULES.ride_day_s for day in plan.days)


@pytest.mark.parametrize(
    ("beds_km", "end_km", "hour", "daylight", "told", "by"),
    [
        # 7 h to the next bed, and light enough: a day takes 6.
        ((150, 420), 500, 8, (), "the next lodging on the map is at km 420, 7 h of riding", None),
        # 4.5 h, with stops 5.3: from noon on an hour before dark at five is too soon.
        ((120, 270), 300, 12, (WINTER,), "is at km 270, 4 h 30 min of riding", (10, 15)),
    ],
)
def test_a_short_day_says_which_limit_the_next_bed_would_break(
    tmp_path, beds_km, end_km, hour, daylight, told, by
) -> None:
    tiny = straight([float(x) for x in range(0, end_km + 1, 50)])
    for x in beds_km:
        tiny.spot((x * 1000.0, 0), tourism="hotel", name=f"House {x}")
    tiny.spot(((beds_km[0] + 30) * 1000.0, 0), amenity="fuel", name="Pump")  # nobody sleeps there
    region = tiny.read(tmp_path)

    def chosen(depart: datetime) -> RideDays:
        return choose_days(
            region.ride(*tiny.nodes), region.roads, region.places, region.fields(), rules=RULES,
            trip=replace(trip_at(hour), depart=depart), daylight=daylight,
        )  # fmt: skip

    days = chosen(datetime(2027, 7, 1, hour))
    assert days.clock.night_m.tolist() == pytest.approx([1000.0 * beds_km[0]], abs=5)
    words, *then = days.words
    assert told in words and words.startswith("Day 1 is short")
    # Who sets off as it says is there the same day, and who sets off half an hour later is not.
    assert [word.split()[3] for word in then] == ([] if by is None else ["{}:{}".format(*by)])
    for late_min, night_km in ((0, beds_km[1]), (30, beds_km[0])) if by else ():
        at = datetime(2027, 7, 1, by[0], by[1] + late_min)
        assert chosen(at).clock.night_m[0] == pytest.approx(1000.0 * night_km, abs=5)


def test_night_without_a_bed_is_told_as_unknown_not_as_none(tmp_path) -> None:
    plan, _ = planned(straight([float(x) for x in range(0, 601, 100)]), tmp_path)
    assert len(plan.days) == 2
    assert "not the same as none" in problems_of(plan, ProblemKind.LODGING)[0]


def test_without_a_date_daylight_is_said_to_be_unchecked(tmp_path) -> None:
    plan, _ = planned(straight([0, 50]), tmp_path)
    assert plan.days[0].margin_s is None
    assert any("daylight is not checked" in words for words in plan.words)


def test_pinned_night_and_stop_are_kept_and_what_breaks_is_told(tmp_path) -> None:
    tiny = straight([float(x) for x in range(0, 601, 100)])
    tiny.spot((300_000, 0), tourism="hotel", name="Middle Inn")
    for x in (100, 200, 300, 400, 500):
        tiny.spot((x * 1000.0, 0), amenity="fuel", name=f"Pump {x}")
    pins = Pins(
        nights=(PinnedNight(day=1, at_m=420_000.0, name="Wild camp"),),
        stops=(PinnedStop(at_m=55_000.0, name="View", stay_s=1_200.0),),
        start_s=7 * 3600.0,
    )
    plan, ride = planned(tiny, tmp_path, pins=pins)
    assert plan.days[0].to_m == 420_000.0
    assert plan.days[0].start_s == 7 * 3600.0
    view = next(stop for stop in plan.stops if stop.name == "View")
    assert (view.pinned, view.stay_s, view.at_m) == (True, 1_200.0, 55_000.0)
    # Seven hours in the saddle, and no bed at km 420.
    assert "7 h in the saddle" in problems_of(plan, ProblemKind.LONG_DAY)[0]
    assert len(problems_of(plan, ProblemKind.LODGING)) == 1
    assert faults_of(plan, ride, (a_bike(),), RULES) == []


@pytest.mark.parametrize(
    ("pins", "text"),
    [
        (Pins(stops=(PinnedStop(at_m=900_000.0, name="Too far", where="p.toml, line 3"),)),
         "Too far (p.toml, line 3) is left out: km 900 is beyond the ride"),
        (Pins(stops=(PinnedStop(lon=0.5, lat=0.2, name="Off"),)), "km off the ride"),
        (Pins(nights=(PinnedNight(day=1, at_m=80_000.0), PinnedNight(day=2, at_m=40_000.0))),
         "day 2 would end before day 1 does"),
    ],
    ids=["beyond the end", "off the ride", "days out of order"],
)  # fmt: skip
def test_pin_that_cannot_be_is_told(tmp_path, pins, text) -> None:
    plan, _ = planned(straight([0, 50, 100]), tmp_path, pins=pins)
    assert any(text in problem for problem in problems_of(plan, ProblemKind.PIN))


def test_pin_by_point_lies_on_the_ride(tmp_path) -> None:
    pins = Pins(stops=(PinnedStop(lon=70_000 / EAST_M, lat=0.001, name="Bridge",
                                  kind=StopKind.LUNCH),))  # fmt: skip
    plan, _ = planned(straight([0, 50, 100]), tmp_path, pins=pins)
    stop = next(stop for stop in plan.stops if stop.name == "Bridge")
    assert stop.at_m == pytest.approx(70_000, abs=60)
    assert stop.kinds[0] is StopKind.LUNCH


def test_the_ride_back_from_a_bed_is_part_of_the_next_day(tmp_path) -> None:
    """A bed 4 km off the ride: the second day is longer by the way back to it."""
    tiny = straight([0, 300, 600])
    tiny.nodes["X"] = (300_000, 4_000)
    tiny.way(("N1", "X"), PAVED)
    tiny.spot((300_000, 4_000), tourism="hotel", name="Side Inn")
    plan, ride = planned(tiny, tmp_path, bikes=(a_bike(60),))
    first, second = plan.days[:2]
    assert first.lodging is not None
    assert first.lodging.name == "Side Inn"
    night = next(stop for stop in plan.stops if StopKind.NIGHT in stop.kinds)
    stays = sum(stop.stay_s for stop in plan.stops if stop.day == second.number)
    way_s = night.arrive_s - first.start_s - first.riding_s
    way_s -= sum(stop.stay_s for stop in plan.stops if stop.day == 1)
    assert second.stops_s - stays == pytest.approx(way_s, abs=1.0)
    assert way_s > 120.0
    region = tiny.read(tmp_path)
    days = choose_days(ride, region.roads, region.places, region.fields(), rules=RULES, trip=Trip())
    passed_s = days.clock.passing_s(np.array([first.to_m + 0.1]))[0]
    assert passed_s == pytest.approx(second.start_s + way_s, abs=1.0)  # heat and advice, too


def test_each_night_knows_the_wish_it_fulfils(tmp_path) -> None:
    """From the second on 700 km are left, more than a day: the third night is nobody's wish."""
    tiny = straight([float(x) for x in range(0, 1201, 100)])
    pins = Pins(
        nights=(PinnedNight(day=2, at_m=500_000.0), PinnedNight(day=1, at_m=250_000.0)),
    )
    region = tiny.read(tmp_path)
    days = choose_days(
        region.ride(*tiny.nodes), region.roads, region.places, region.fields(), rules=RULES,
        trip=Trip(), pins=pins,
    )  # fmt: skip
    assert [night.pin for night in days.nights] == [1, 0, -1]
    assert [night.at_m for night in days.nights][:2] == [250_000.0, 500_000.0]
