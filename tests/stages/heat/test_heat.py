"""Heat along a ride: what hour, month, height, ground and bike do to rider and engine."""

from __future__ import annotations

import json
import re
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest

from terrain.calc.daylight import clock_changes, zone_at
from terrain.stages.heat.air import _airs, climate_along
from terrain.stages.heat.engine import clutch_runs, ride_steps
from terrain.stages.heat.judge import heat_along
from terrain.stages.heat.passage import Passage, departure, passing_unix_s
from terrain.tables.fleet import DEFAULT_FLEET
from terrain.tables.heat import EFFORTS, HEAT_LEVELS, WATER_MOST_L_H
from terrain.values.clock import LUNCH_S, SHARE_OF_STOPS, RideClock, SunKind
from terrain.values.fleet import Cooling
from terrain.values.heat import Concern, EngineHeat, Heat, HeatCause
from terrain.values.trip import Luggage, Trip

PAVED, GRAVEL, TRACK = (1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0.0, 0.0, 1.0)


def ride(
    *,
    lon: float = -5.9,
    lat: float = 37.4,
    km: float = 60.0,
    ele_m: tuple[float, float] | None = (50.0, 50.0),
    kph: float = 60.0,
    p: tuple[float, float, float] = PAVED,
    severity: float = 0.1,
    ferry: bool = False,
    east: float = 0.2,
    nights_m: tuple[float, ...] = (),
) -> Passage:
    """A straight ride eastwards in ten stretches, climbing evenly from one height to another."""
    length = km * 1000.0
    edges = np.linspace(0.0, length, 11)
    at = np.linspace(0.0, length, 201)
    none = np.zeros(0)
    rise = 0.0 if ele_m is None else (ele_m[1] - ele_m[0]) / length * 100.0
    return Passage(
        line_at_m=np.array([0.0, length]),
        lon=np.array([lon, lon + east]),
        lat=np.array([lat, lat]),
        ele_at_m=none if ele_m is None else at,
        ele_m=none if ele_m is None else np.interp(at, [0, length], ele_m),
        grade_pct=none if ele_m is None else np.full(len(at), rise),
        from_m=edges[:-1],
        to_m=edges[1:],
        start_s=edges[:-1] / (kph / 3.6),
        speed_kph=np.full(10, kph),
        p=np.tile(p, (10, 1)),
        severity=np.full(10, severity),
        ferry=np.full(10, ferry),
        clock=RideClock(
            knot_m=edges, knot_s=edges / (kph / 3.6), night_m=np.array(nights_m),
            start_s=np.full(len(nights_m) + 1, 8 * 3600.0), back_s=np.zeros(len(nights_m) + 1),
            zone=zone_at(lon, lat),
        ),
    )  # fmt: skip


def judge(inputs: Passage, depart: datetime | None = None, **trip: object) -> Heat:
    if depart is not None:
        later = np.full(inputs.clock.n_days, 3600.0 * depart.hour + 60.0 * depart.minute)
        inputs = replace(inputs, clock=replace(inputs.clock, start_s=later))
    return heat_along(inputs, trip=Trip(depart=depart, **trip), fleet=DEFAULT_FLEET)  # type: ignore[arg-type]


JULY_NOON = datetime(2027, 7, 15, 13, 0)


def test_seville_in_july_is_hot_and_in_january_is_not() -> None:
    """Station normal Sevilla/San Pablo (WMO 1991-2020): July maximum about 36, January 16."""
    july, january = judge(ride(), JULY_NOON), judge(ride(), datetime(2027, 1, 15, 13, 0))
    assert july.rider is not None and january.rider is not None
    assert july.rider.max_air_temp_c == pytest.approx(36, abs=3)
    assert january.rider.max_air_temp_c == pytest.approx(16, abs=3)
    above = {(x.measure, x.above): x.hours for x in july.rider.hours_above}
    assert above["air_temp_c", 30.0] == pytest.approx(1.0, abs=0.05)
    assert above["wbgt_c", 28.0] > 0.5
    assert all(x.hours == 0 for x in january.rider.hours_above if x.above >= 25)


def test_hours_above_never_grow_with_the_level() -> None:
    heat = judge(ride(), JULY_NOON)
    assert heat.rider is not None
    for measure in {level.measure.value for level in HEAT_LEVELS}:
        hours = [x.hours for x in heat.rider.hours_above if x.measure == measure]
        assert hours == sorted(hours, reverse=True)
        assert max(hours) <= 1.01


def test_standing_still_is_worse_than_riding_and_gear_worse_still() -> None:
    heat = judge(ride(), JULY_NOON)
    assert heat.rider is not None and heat.air is not None
    assert heat.rider.max_wbgt_riding_c < heat.rider.max_wbgt_c - 1.5
    assert heat.rider.max_wbgt_gear_c == pytest.approx(heat.rider.max_wbgt_c + 2.8)
    assert np.all(heat.air.wbgt_still_c >= heat.air.wbgt_riding_c - 0.05)


def test_rain_is_that_of_the_month_where_it_is_known() -> None:
    """A place with 10 mm in January, 20 in February and so on, one with twice that, one unknown."""
    climate = climate_along(ride(km=6.0), None)
    rain = np.outer([1.0, 2.0, np.nan], 10.0 * np.arange(1, 13))
    known = replace(climate, year=replace(climate.year, rain_mm=rain))
    assert [known.rain_mm(month) for month in (1, 7, 12)] == [15.0, 105.0, 180.0]
    nowhere = replace(climate, year=replace(climate.year, rain_mm=rain * np.nan))
    assert nowhere.rain_mm(7) is None


def test_the_sun_is_that_of_the_start() -> None:
    """At the equinox the sun stands due south at 12:07 on the meridian of the zone's clock (45 E of
    UTC+3; equation of time of almanacs, from memory), 4 minutes later a degree west of it; its
    rim rises 6 h 3.5 min before. At 37 E: 06:36; at the end of the ride, 15 degrees west, 07:36."""
    heat = judge(ride(lon=37.0, lat=0.0, east=-15.0), datetime(2027, 3, 20, 8, 0))
    assert heat.sun is not None and heat.sun.sunrise is not None
    minutes = 60 * heat.sun.sunrise.hour + heat.sun.sunrise.minute
    assert minutes == pytest.approx(6 * 60 + 36, abs=3)


def test_words_tell_riding_and_standing_apart() -> None:
    """A level that holds only for who stands in the sun is never told of the whole ride."""
    heat = judge(ride(km=30, kph=60.0), JULY_NOON)
    assert heat.rider is not None
    hours = {(x.measure, x.above): x.hours for x in heat.rider.hours_above}
    assert hours["wbgt_c", 31.0] > hours["wbgt_riding_c", 31.0]
    riding = [text for text in heat.words if "In the wind of riding" in text]
    assert not any("stop" in text for text in riding)
    assert any("Where you stop in the sun" in text and "“stop”" in text for text in heat.words)


def test_morning_is_cooler_than_afternoon() -> None:
    dawn, noon = (judge(ride(km=20), datetime(2027, 7, 15, h)).rider for h in (6, 15))
    assert dawn is not None and noon is not None
    assert dawn.max_air_temp_c < noon.max_air_temp_c - 8


def test_the_pass_is_cold_at_speed() -> None:
    """A pass of 2400 m in the Pyrenees on a May morning: near freezing, worse at 60 km/h."""
    heat = judge(
        ride(lon=1.5, lat=42.55, km=30, ele_m=(1000.0, 2400.0)), datetime(2027, 4, 20, 7, 0)
    )
    assert heat.rider is not None
    assert heat.rider.min_air_temp_c < 4
    assert heat.rider.min_wind_chill_c < heat.rider.min_air_temp_c - 4
    assert heat.rider.min_wind_chill_at_m > 20_000
    codes = {c.code for c in heat.cautions}
    assert "ice" in codes
    assert any(code.startswith("cold-") for code in codes)


def test_each_kilometre_of_height_takes_six_and_a_half_kelvins() -> None:
    """ISO 2533 lapse between neighbouring places of one climate."""
    heat = judge(ride(lon=1.5, lat=42.55, km=6, ele_m=(1000.0, 2000.0)), JULY_NOON)
    assert heat.air is not None
    fall = heat.air.temp_c[0] - heat.air.temp_c[-1]
    assert fall == pytest.approx(6.5, abs=2.0)


def test_height_cautions_of_the_cdc() -> None:
    low = judge(ride(ele_m=(500.0, 2300.0)))
    some = judge(ride(ele_m=(500.0, 2600.0)))
    high = judge(ride(ele_m=(500.0, 3500.0)))
    assert [c.code for c in low.cautions] == []
    assert [c.code for c in some.cautions] == ["height-2450"]
    assert [c.code for c in high.cautions] == ["height-2450", "height-2750"]
    assert high.cautions[1].at_m == pytest.approx(60_000 * 2250 / 3000, rel=0.02)
    assert "CDC" in high.cautions[0].source


def test_water_follows_the_army_table() -> None:
    """TB MED 507: easy work at WBGT above 90 F a quart an hour, moderate in the 80s three
    quarters; never more than 1.5."""
    road = judge(ride(), JULY_NOON).rider
    track = judge(ride(p=TRACK, severity=0.9, kph=20, km=20), JULY_NOON).rider
    winter = judge(ride(), datetime(2027, 1, 15, 10)).rider
    assert road is not None and track is not None and winter is not None
    assert 0.47 <= road.water_l_h <= 0.95
    assert road.water_l_h <= track.water_l_h <= WATER_MOST_L_H
    assert winter.water_l_h == pytest.approx(0.3)
    assert road.water_l == pytest.approx(road.water_l_h * 1.0, rel=0.02)
    assert EFFORTS[0].water_qt_h[-1] == 1.0


def test_harder_ground_passes_the_iso_limit_sooner() -> None:
    """ISO 7243: 30 for low, 28 for moderate, 25 for high effort."""
    easy, hard = (
        judge(ride(p=p, severity=s, km=20, kph=20), datetime(2027, 6, 10, 9)).rider
        for p, s in ((PAVED, 0.1), (TRACK, 0.9))
    )
    assert easy is not None and hard is not None
    assert hard.over_limit_h >= easy.over_limit_h


def test_no_date_shows_twelve_months_and_asks() -> None:
    heat = judge(ride())
    told = heat.to_dict()
    assert heat.air is heat.rider is heat.sun is None
    assert told["rider"]["max_air_temp_c"] is None
    assert told["engine"]["fan_dependent_min"] is None
    assert [m["month"] for m in told["months"]] == list(range(1, 13))
    hottest = max(told["months"], key=lambda m: m["max_air_temp_c"])
    assert hottest["month"] in (7, 8)
    assert "set off" in heat.asks[0]
    assert "July" in heat.words[0] or "August" in heat.words[0]


def test_without_an_hour_the_months_show_the_heat_and_the_cold_of_the_day() -> None:
    """A short ride could be met at any hour: the strip must not show a cool morning only."""
    from terrain.stages.heat.climate import climate_at

    july = judge(ride(km=10, east=0.01)).months[6]
    wanted = climate_at(-5.9, 37.4, 50.0, 7)
    assert july.max_air_temp_c == pytest.approx(wanted.tmax_c, abs=0.7)
    assert july.min_air_temp_c == pytest.approx(wanted.tmin_c, abs=0.5)


def test_southern_months_are_turned_round() -> None:
    heat = judge(ride(lon=147.2, lat=-35.1, ele_m=(200.0, 200.0)))
    hottest = max(heat.months, key=lambda m: m.max_air_temp_c)
    assert hottest.month in (1, 2)
    assert heat.months[0].daylight_s > heat.months[6].daylight_s + 3 * 3600


def test_without_heights_the_engine_is_judged_as_on_level_ground_with_a_wide_band() -> None:
    """Slow and hot heats it on the level already; a climb nobody knows of is at the upper end."""
    slow = ride(ele_m=None, km=20, kph=9.0, p=(0.0, 0.0, 1.0), severity=0.5)
    level = ride(ele_m=(0.0, 0.0), km=20, kph=9.0, p=(0.0, 0.0, 1.0), severity=0.5)
    guessed, known = judge(slow, JULY_NOON), judge(level, JULY_NOON)
    told = guessed.to_dict()
    for one, other in zip(guessed.engines, known.engines, strict=True):
        assert one.fan_s == pytest.approx(other.fan_s, rel=0.05, abs=60)
        assert one.fan_high_s >= other.fan_high_s
    dual = next(e for e in guessed.engines if e.bike == "dual-sport")
    same = next(e for e in known.engines if e.bike == "dual-sport")
    assert dual.fan_high_s > same.fan_high_s + 600
    assert told["engine"]["fan_dependent_min"] is not None
    assert any("Heights are not known" in word for word in guessed.words)
    assert "height is not known" in told["basis"]["climate"]
    # A clutch is named by its slope, which is not known.
    assert not guessed.clutch
    assert all(m["fan_dependent_min"] is not None for m in told["months"])


def test_no_heights_and_no_date_is_still_useful() -> None:
    told = judge(ride(ele_m=None)).to_dict()
    assert told["asks"] and len(told["words"]) == 2
    assert told["months"][6]["max_air_temp_c"] > 25


def test_slow_hot_climb_leans_on_the_fan_and_cool_road_does_not() -> None:
    climb = ride(ele_m=(200.0, 1700.0), km=12.5, kph=14, p=TRACK, severity=0.5)
    hot = judge(climb, JULY_NOON)
    cool = judge(ride(km=60, kph=70), datetime(2027, 1, 15, 10))
    for engine in hot.engines:
        if engine.bike == "dual-sport":
            assert engine.fan_s > 600
            assert engine.concern is not Concern.LOW
            assert engine.longest_s <= engine.fan_s + 60
            assert engine.runs and engine.runs[0].why in ("fan", "boil")
    assert all(e.concern is Concern.LOW for e in cool.engines)
    assert hot.hardest is not None and hot.hardest.fan_s > 600
    told = hot.to_dict()["engine"]
    assert told["fan_dependent_min"] > 10
    assert told["stretches"][0]["grade_pct"] == pytest.approx(12.0, abs=0.5)
    assert told["clutch_hot"] and told["clutch_hot"][0]["why"] == "clutch"


def test_engine_heat_is_told_as_a_level_with_its_reason_and_no_minutes() -> None:
    """The constants of cooling have no source, so no figure of theirs is told as if measured."""
    climb = judge(ride(ele_m=(200.0, 1700.0), km=12.5, kph=9, p=TRACK, severity=0.5), JULY_NOON)
    level = {engine.bike: engine for engine in climb.engines}
    assert level["enduro"].concern is Concern.HIGH
    assert level["enduro"].causes[-1] is HeatCause.COOLANT  # 1.1 L for 35 kW
    assert {HeatCause.WALKING, HeatCause.CLIMB, HeatCause.SOFT} <= set(level["dual-sport"].causes)
    assert HeatCause.COOLANT not in level["dual-sport"].causes
    queue = replace(
        ride(km=60, kph=50), stand_at_m=np.array([30_000.0]), stand_s=np.array([2_400.0])
    )
    jam = {engine.bike: engine for engine in judge(queue, JULY_NOON).engines}
    assert jam["dual-sport"].causes[0] is HeatCause.STANDING
    cool = judge(ride(km=60, kph=70), datetime(2027, 1, 15, 10))
    assert all(engine.causes == () for engine in cool.engines)
    said = [str(word) for word in climb.words if "engine heat" in word]
    assert said and all("is high" in word and "climbs" in word for word in said)
    assert not any(" min" in word or re.search(r"\d", word) for word in said)


def test_a_high_strung_single_is_told_no_cooler_than_a_heavy_twin() -> None:
    """Walking pace on loose ground, level or climbing, mild or hot (common practice, no source)."""
    order = (Concern.LOW, Concern.MEDIUM, Concern.HIGH)
    worse = 0
    for top_m in (200.0, 500.0, 900.0):
        for kph in (5.0, 8.0, 12.0):
            way = ride(ele_m=(200.0, top_m), km=8, kph=kph, p=TRACK, severity=0.5)
            for month in (4, 7, 10):
                heat = judge(way, datetime(2027, month, 15, 12))
                level = {e.bike: order.index(e.concern) for e in heat.engines}
                assert level["enduro"] >= level["road-tourer"]
                worse += level["enduro"] > level["road-tourer"]
    assert worse >= 3


def test_hotter_months_never_ask_less_of_the_fan() -> None:
    months = judge(ride(ele_m=(200.0, 1700.0), km=12.5, kph=14, p=TRACK)).months
    january, july = months[0].fan_s, months[6].fan_s
    assert january is not None and july is not None
    assert july >= january
    heat = judge(ride(ele_m=(200.0, 1700.0), km=12.5, kph=14, p=TRACK), JULY_NOON)
    assert all(e.fan_high_s >= e.fan_s for e in heat.engines)


def test_load_makes_the_engine_work_harder() -> None:
    climb = ride(ele_m=(200.0, 1200.0), km=12.5, kph=30, p=GRAVEL)
    light = judge(climb, JULY_NOON, luggage=Luggage.NONE)
    heavy = judge(climb, JULY_NOON, luggage=Luggage.BOXES, pillion=True)
    for a, b in zip(light.engines, heavy.engines, strict=True):
        assert b.most_power_share > a.most_power_share
        assert b.peak_c >= a.peak_c


def test_power_left_at_height() -> None:
    """Density of warm air at 3000 m: about 0.7 of sea level (ISO 2533 gives .74 at -4.5 C)."""
    heat = judge(ride(ele_m=(2900.0, 3000.0)), JULY_NOON)
    assert all(0.65 < e.least_power_left < 0.75 for e in heat.engines)


def test_air_cooled_engines_have_no_fan_in_the_words() -> None:
    heat = judge(ride(ele_m=(200.0, 1700.0), km=12.5, kph=14, p=TRACK), JULY_NOON)
    air_titles = {b.title for b in DEFAULT_FLEET.classes if b.cooling is not Cooling.LIQUID}
    for word in heat.words:
        if any(word.startswith(title) for title in air_titles):
            assert "fan" not in word


def test_a_ferry_neither_heats_the_engine_nor_counts_as_riding() -> None:
    heat = judge(ride(ferry=True, kph=20, km=20), JULY_NOON)
    assert heat.rider is not None
    assert all(level.hours == 0 for level in heat.rider.hours_above)
    assert all(e.fan_s == 0 for e in heat.engines)
    assert heat.clutch == ()


def test_unknown_ground_and_short_rides_are_judged() -> None:
    nan = (float("nan"),) * 3
    heat = judge(ride(km=0.05, p=nan, severity=float("nan")), JULY_NOON)
    told = heat.to_dict()
    json.dumps(told, allow_nan=False)
    assert 30 < told["rider"]["max_air_temp_c"] < 40
    assert len(told["stretches"]) == 10


def test_heat_goes_by_the_clock_of_the_days() -> None:
    inputs = ride(km=600, kph=60, nights_m=(360_000.0,))  # six hours, then four
    start = departure(datetime(2027, 7, 15, 9), inputs.zone)
    unix = passing_unix_s(inputs, np.array([0.0, 60_000.0, 360_000.0, 361_000.0, 600_000.0]), start)
    hours = (unix - start.timestamp()) / 3600
    lunch = LUNCH_S / 2 / 3600
    assert hours[0] == 0.0
    assert hours[1] == pytest.approx(1 + SHARE_OF_STOPS)
    assert hours[2] == pytest.approx(6 * (1 + SHARE_OF_STOPS) + lunch)
    assert hours[3] == pytest.approx(24.0, abs=0.05)
    assert hours[4] == pytest.approx(24 + 4 * (1 + SHARE_OF_STOPS), abs=lunch + 1e-9)
    air = judge(inputs, datetime(2027, 7, 15, 8)).air
    assert air is not None
    np.testing.assert_allclose(
        air.unix_s - departure(datetime(2027, 7, 15), inputs.zone).timestamp(),
        inputs.clock.passing_s(air.at_m) + 86_400.0 * inputs.clock.day_of(air.at_m),
    )


def test_who_sets_off_after_midday_stops_for_no_lunch() -> None:
    """A ride of 4 min from 15:00 was told as coldest at 15:26."""
    inputs = ride(km=4, kph=60)
    for start_h, lunch_s in ((11.9, LUNCH_S / 2), (12.0, 0.0), (15.0, 0.0)):
        clock = replace(inputs.clock, start_s=np.array([3_600.0 * start_h]))
        late = replace(clock, knot_s=clock.knot_s + np.linspace(0.0, 7_200.0, len(clock.knot_s)))
        assert clock.passing_s(np.array([0.0])) == pytest.approx(3_600.0 * start_h)
        end_s = late.passing_s(np.array([4_000.0]))[0] - 3_600.0 * start_h
        assert end_s == pytest.approx((7_200.0 + 240.0) * (1 + SHARE_OF_STOPS) + lunch_s)


@pytest.mark.parametrize("day", [28, 27])
@pytest.mark.parametrize("hour", [0, 8])
def test_passing_goes_by_absolute_time_over_a_change_of_the_clock(day: int, hour: int) -> None:
    """Europe's clocks go from 2:00 to 3:00 on the last Sunday of March, 28 March 2027: Directive
    2000/84/EC. All that is passed is told by the clock of that moment."""
    inputs = ride(km=600, kph=60, lon=2.35, lat=48.85)
    start = departure(datetime(2027, 3, day, hour), inputs.zone)
    clock = replace(
        inputs.clock, start_s=np.array([3600.0 * hour]),
        changes=clock_changes(start.date(), 1, inputs.zone),
    )  # fmt: skip
    at_m = np.array([0.0, 60_000.0, 360_000.0])
    unix = passing_unix_s(replace(inputs, clock=clock), at_m, start)
    assert unix[0] == start.timestamp()
    assert unix[1] - unix[0] == pytest.approx(3600 * (1 + SHARE_OF_STOPS))
    for moment, told_s in zip(unix.tolist(), clock.passing_s(at_m).tolist(), strict=True):
        local = datetime.fromtimestamp(moment, inputs.zone).replace(tzinfo=None)
        assert (local - datetime(2027, 3, day)).total_seconds() == pytest.approx(told_s)


def test_departure_is_local_to_the_start_unless_it_names_a_zone() -> None:
    inputs = ride(lon=85.3, lat=27.7)
    naive = departure(datetime(2027, 5, 1, 7, 30), inputs.zone)
    aware = departure(datetime(2027, 5, 1, 1, 45, tzinfo=UTC), inputs.zone)
    assert naive == aware
    assert naive.utcoffset() == timedelta(hours=5, minutes=45)
    heat = judge(inputs, datetime(2027, 5, 1, 7, 30))
    assert heat.to_dict()["basis"]["depart"] == "2027-05-01T07:30+05:45"
    assert heat.to_dict()["stretches"][0]["at"].endswith("+05:45")


def test_polar_day() -> None:
    """North Cape at midsummer: the sun does not set, and nothing breaks."""
    heat = judge(ride(lon=25.7, lat=70.9, ele_m=(10.0, 300.0)), datetime(2027, 6, 21, 22, 0))
    assert heat.sun is not None and heat.sun.kind is SunKind.POLAR_DAY
    told = json.dumps(heat.to_dict(), allow_nan=False)
    assert '"polar day"' in told
    assert heat.months[11].daylight_s == 0
    assert heat.rider is not None and -5 < heat.rider.max_air_temp_c < 20


def test_the_json_has_the_contract_keys() -> None:
    told = judge(ride(), JULY_NOON).to_dict()
    assert {"basis", "rider", "engine", "stretches"} <= told.keys()
    assert {"max_air_temp_c", "max_heat_index_c", "max_wbgt_c", "hours_above"} <= told[
        "rider"
    ].keys()
    rows = told["stretches"]
    assert rows[0]["from_m"] == 0 and rows[-1]["to_m"] == 60_000
    assert all(a["to_m"] == b["from_m"] for a, b in pairwise(rows))
    assert "no forecast" in told["basis"]["text"]
    json.dumps(told, allow_nan=False)


def test_same_ride_twice_tells_the_same() -> None:
    once, twice = (json.dumps(judge(ride(), JULY_NOON).to_dict()) for _ in range(2))
    assert once == twice


def test_caution_levels_are_sourced_and_ordered() -> None:
    for measure in {level.measure for level in HEAT_LEVELS}:
        steps = [level.above for level in HEAT_LEVELS if level.measure is measure]
        assert steps == sorted(steps)
    assert all(level.source for level in HEAT_LEVELS)


def test_peaks_of_station_days(shared_data: Path) -> None:
    """At every fifth station the hottest hour of a mid-month day equals the mean maximum of the
    climate, to 0.3 K (WMO normals' positions; mid-July)."""
    import csv

    from terrain.stages.heat.climate import climate_at

    path = shared_data / "climate" / "stations.csv"
    rows = list(csv.DictReader(path.read_text(encoding="utf-8").splitlines()))[::25]
    for row in rows:
        lon, lat, ele = (float(row[c]) for c in ("lon", "lat", "elevation_m"))
        heat = judge(
            ride(lon=lon, lat=lat, ele_m=(ele, ele), km=4, kph=1.0, east=0.001),
            datetime(2027, 7, 15, 12, 0),
        )
        assert heat.rider is not None
        wanted = climate_at(lon, lat, ele, 7).tmax_c
        assert heat.rider.max_air_temp_c == pytest.approx(wanted, abs=0.35), row["station"]


def test_unknown_grades_take_the_mean_climb_across_the_hole() -> None:
    """An engine must climb what lies between the known sides; no hot run tells it as measured."""
    whole = ride(lat=37.4, km=20.0, ele_m=(200.0, 3200.0), kph=8.0, p=TRACK)
    hole = (whole.ele_at_m > 8000) & (whole.ele_at_m < 12000)
    holed = replace(whole, grade_pct=np.where(hole, np.nan, whole.grade_pct))
    steps = ride_steps(holed)
    inside = (steps.at_m > 8100) & (steps.at_m < 11900)
    assert not steps.grade_known[inside].any()
    assert steps.grade_pct[inside] == pytest.approx(15.0, abs=0.1)
    assert clutch_runs(ride_steps(whole))
    assert not any(run.from_m < 11900 and run.to_m > 8100 for run in clutch_runs(steps))
    depart = datetime(2027, 7, 14, 14, 0)
    a, b = judge(whole, depart).engines[0], judge(holed, depart).engines[0]
    assert b.fan_s == pytest.approx(a.fan_s, rel=0.05)


def test_unknown_heights_are_not_taken_for_the_sea() -> None:
    """At 3000 m the air is a third thinner: a hole in the heights must not fill it up again."""
    high = ride(lat=37.4, km=20.0, ele_m=(3000.0, 3000.0))
    hole = high.ele_at_m > 15000
    holed = replace(high, ele_m=np.where(hole, np.nan, high.ele_m))
    assert ride_steps(holed).ele_m == pytest.approx(3000.0)
    # Where nothing is known, the mean height of the country: that of the temperature.
    none = ride(lon=-66.0, lat=-22.5, ele_m=None)  # the Puna
    climate = climate_along(none, None)
    assert float(climate.year.ground_m.min()) > 2000.0
    (air,) = _airs([(none, datetime(2027, 7, 14, 12, 0, tzinfo=UTC))], climate)
    assert float(air.pressure_hpa.max()) < 800.0


def test_heights_without_grades_are_told_as_holes() -> None:
    known = ride(ele_m=(1000.0, 1000.0))
    told = judge(
        replace(known, grade_pct=np.full(len(known.ele_m), np.nan)), datetime(2027, 7, 1, 9)
    )
    assert any("holes" in text for text in told.words) and told.engines
    assert not any("mean height of the country" in text for text in told.words)


def test_the_worst_of_the_heat_has_a_length() -> None:
    heat = judge(ride(), datetime(2027, 7, 14, 9, 0))
    assert heat.rider is not None
    assert heat.rider.worst.to_m > heat.rider.worst.from_m


def test_cold_is_told_in_cold_months_and_heat_in_hot_ones() -> None:
    """The same ride in January and in July."""
    where = ride(lon=1.5, lat=42.55, km=30, ele_m=(1000.0, 1400.0))
    january, july = (
        judge(where, datetime(2027, month, 15, 9, 0)).words for month in (1, 7)
    )  # fmt: skip
    assert january[0].startswith("Cold: down to ") and "Environment Canada" in january[0]
    assert not any("Drink" in text for text in january)
    assert "Drink" in july[0] and not any(text.startswith("Cold") for text in july)


def test_minutes_of_the_fan_are_told_whole() -> None:
    """Constants without a source carry no tenths of a minute."""
    engine = EngineHeat(
        bike="a", title="a", cooling="liquid", concern=Concern.LOW, causes=(),
        fan_s=100.0, fan_high_s=130.0,
        longest_s=80.0, boil_s=40.0, peak_c=90.0, cooled_peak_c=90.0, limit_c=120.0,
        most_power_share=0.5, least_power_left=1.0, runs=(),
    ).to_dict()  # fmt: skip
    minutes = {key: value for key, value in engine.items() if key.endswith("_min")}
    assert list(minutes.values()) == [2, 2, 1, 1]
