"""The limits of heat, a case on each side of each: rider, engine, air and words, by hand."""

from __future__ import annotations

from dataclasses import fields, replace
from datetime import UTC, datetime
from zoneinfo import ZoneInfo

import numpy as np
import pytest

from terrain.stages.heat.air import _of_day, climate_along
from terrain.stages.heat.climate import climate_at, daily_curve_c
from terrain.stages.heat.engine import (
    Steps,
    _bridged,
    _causes,
    _closed,
    _concern,
    clutch_runs,
    grades_known,
    judge_engine,
)
from terrain.stages.heat.engine_model import (
    coolant_heat_w,
    fins_w_k,
    radiator_w_k,
    rolling_resistance,
    usual_coolant_l,
)
from terrain.stages.heat.rider import judge_rider, rider_cautions
from terrain.stages.heat.words import Unknown, heat_words
from terrain.tables.fleet import DEFAULT_FLEET
from terrain.values.arrays import FloatArray
from terrain.values.climate import ClimateGrid
from terrain.values.heat import (
    AirAlong,
    Concern,
    EngineHeat,
    HeatCause,
    LevelHours,
    MonthHeat,
    RiderHeat,
)
from terrain.values.trip import Trip
from tests.stages.heat.test_heat import GRAVEL, PAVED, TRACK, ride

QUART_L = 0.9464


def _air(
    n: int = 11,
    *,
    temp: float | FloatArray = 15.0,
    still: float | FloatArray = 15.0,
    riding: float | FloatArray = 15.0,
    chill: float | FloatArray = 15.0,
    index: float = 15.0,
) -> AirAlong:
    """Air at n places over 60 km, passed a minute after each other from midnight UTC on."""
    one = np.ones(n)
    return AirAlong(
        at_m=np.linspace(0.0, 60_000.0, n), unix_s=60.0 * np.arange(n), temp_c=one * temp,
        low_c=one * temp - 3.0, high_c=one * temp + 4.0, humidity_pct=50.0 * one,
        heat_index_c=one * index, wbgt_still_c=one * still, wbgt_riding_c=one * riding,
        wind_chill_c=one * chill, ele_m=one,
    )  # fmt: skip


def _rider(air: AirAlong, *, used: bool = True, **way: object) -> RiderHeat:
    inputs = ride(km=60, kph=60, **way)  # type: ignore[arg-type]
    return judge_rider(inputs, air, ZoneInfo("UTC"), used_to_heat=used)


# Fahrenheit of the steps of TB MED 507 in Celsius: 78 F is 25.56, 82 is 27.78, 85 is 29.44, 88 is
# 31.11, 90 is 32.22.
@pytest.mark.parametrize(
    ("way", "quarts"),
    [
        ({"p": PAVED}, (0.5, 0.5, 0.75, 0.75, 1.0)),
        ({"p": GRAVEL}, (0.75, 0.75, 0.75, 0.75, 1.0)),
        ({"p": TRACK, "severity": 0.69}, (0.75, 0.75, 0.75, 0.75, 1.0)),
        ({"p": TRACK, "severity": 0.7}, (0.75, 1.0, 1.0, 1.0, 1.0)),
    ],
)
def test_water_by_each_step_of_the_army_table(
    way: dict[str, object], quarts: tuple[float, ...]
) -> None:
    litres = [0.3, *(QUART_L * quart for quart in quarts)]
    for i, edge in enumerate((25.56, 27.78, 29.44, 31.11, 32.22)):
        assert _rider(_air(still=edge - 0.02), **way).water_l_h == pytest.approx(litres[i])
        assert _rider(_air(still=edge + 0.02), **way).water_l_h == pytest.approx(litres[i + 1])


@pytest.mark.parametrize(
    ("way", "used", "limit"),
    [
        # ISO 7243:1989, reference values: light, moderate and heavy work; used to heat and not.
        ({"p": PAVED}, True, 30.0), ({"p": PAVED}, False, 29.0),
        ({"p": GRAVEL}, True, 28.0), ({"p": GRAVEL}, False, 26.0),
        ({"p": TRACK, "severity": 0.2}, True, 28.0),
        ({"p": TRACK, "severity": 0.9}, True, 25.0), ({"p": TRACK, "severity": 0.9}, False, 22.0),
        ({"p": (0.5, 0.5, 0.0)}, True, 29.0),
        ({"p": (0.5, 0.0, 0.5), "severity": 0.9}, True, 27.5),
    ],
)  # fmt: skip
def test_over_the_limit_of_the_effort(way: dict[str, object], used: bool, limit: float) -> None:
    """An hour at 60 km/h; ten of eleven places are in the wind, and the first, half a place, is
    over the limit standing only."""
    wind = np.full(11, limit + 0.1)
    wind[0] = limit - 0.1
    got = _rider(_air(still=limit + 0.1, riding=wind), used=used, **way)
    assert got.over_limit_h == pytest.approx(1.0)
    assert got.over_riding_h == pytest.approx(0.95)
    assert got.over_riding == ((3_000.0, 60_000.0),)
    cooler = _rider(_air(still=limit - 0.1, riding=limit - 0.1), used=used, **way)
    assert (cooler.over_limit_h, cooler.over_riding_h, cooler.over_riding) == (0.0, 0.0, ())


def test_where_heat_and_cold_are_worst() -> None:
    temp, chill = np.arange(11.0), np.full(11, 9.0)
    chill[4] = 2.0
    got = _rider(_air(temp=temp, chill=chill, index=31.0, still=24.0))
    assert (got.max_air_temp_c, got.max_air_temp_low_c, got.max_air_temp_high_c) == (10, 7, 14)
    assert (got.max_air_temp_at_m, got.min_air_temp_at_m) == (60_000.0, 0.0)
    assert (got.min_air_temp_c, got.max_heat_index_c) == (0.0, 31.0)
    assert (got.min_wind_chill_c, got.min_wind_chill_at_m) == (2.0, 24_000.0)
    assert got.max_wbgt_gear_c == pytest.approx(24.0 + 2.8)


@pytest.mark.parametrize(("beside", "from_km", "to_km"), [(29.6, 21.0, 39.0), (29.4, 27.0, 33.0)])
def test_the_worst_part_lies_within_half_a_kelvin(
    beside: float, from_km: float, to_km: float
) -> None:
    """30 C of WBGT at 30 km, a little less 6 km before and after; each place holds for 3 km
    around it, and the part begins when its first place is passed."""
    wet = np.full(11, 20.0)
    wet[[4, 5, 6]] = beside, 30.0, beside
    worst = _rider(_air(still=wet, temp=np.arange(11.0))).worst
    first = round((from_km + 3) / 6)
    assert (worst.from_m, worst.to_m) == (1000 * from_km, 1000 * to_km)
    assert worst.start == datetime(1970, 1, 1, 0, first, tzinfo=UTC)
    assert (worst.wbgt_c, worst.temp_c) == (30.0, round((to_km - 3) / 6))


def test_the_worst_part_may_be_the_whole_ride() -> None:
    worst = _rider(_air(still=30.0)).worst
    assert (worst.from_m, worst.to_m) == (0.0, 60_000.0)


@pytest.mark.parametrize(
    ("measure", "above", "air"),
    [
        ("air_temp_c", 30.0, "temp"), ("air_temp_c", 35.0, "temp"),
        ("heat_index_c", 27.0, "index"), ("heat_index_c", 39.0, "index"),
        ("wbgt_c", 28.0, "still"), ("wbgt_riding_c", 31.0, "riding"),
    ],
)  # fmt: skip
def test_a_level_holds_from_its_own_degree_on(measure: str, above: float, air: str) -> None:
    for value, hours in ((above - 0.1, 0.0), (above, 1.0)):
        levels = _rider(_air(**{air: value})).hours_above  # type: ignore[arg-type]
        (got,) = (x.hours for x in levels if (x.measure, x.above) == (measure, above))
        assert got == pytest.approx(hours)


@pytest.mark.parametrize(
    ("chill", "temp", "codes"),
    [
        (5.0, 3.1, []),
        (4.9, 3.1, ["cold-5"]),
        (-10.0, 3.1, ["cold-5"]),
        (-10.1, 3.0, ["cold--10", "ice"]),
        (-27.0, 9.0, ["cold--10"]),
        (-27.1, 9.0, ["cold--27"]),
    ],
)
def test_cautions_of_cold(chill: float, temp: float, codes: list[str]) -> None:
    cold, ice = np.full(11, 9.0), np.full(11, 9.0)
    cold[3:], ice[5:] = chill, temp
    found = rider_cautions(_air(chill=cold, temp=ice), ride())
    assert [c.code for c in found] == codes
    assert all(c.at_m == (30_000.0 if c.code == "ice" else 18_000.0) for c in found)


@pytest.mark.parametrize(("top", "codes"), [(2449.0, 0), (2450.0, 1), (2749.0, 1), (2750.0, 2)])
def test_cautions_of_height(top: float, codes: int) -> None:
    """CDC, high-elevation travel: from 2450 m and 2750 m."""
    assert len(rider_cautions(None, ride(ele_m=(500.0, top)))) == codes


@pytest.mark.parametrize(
    ("km_above", "nights_m", "told"),
    [((100, 190), (), False), ((100, 210), (), True), ((100, 110), (105_000.0,), True),
     ((0, 10), (), True), ((240, 300), (), True)],
)  # fmt: skip
def test_a_pass_that_is_crossed_makes_nobody_sick(
    km_above: tuple[float, float], nights_m: tuple[float, ...], told: bool
) -> None:
    """CDC Yellow Book (from memory): 2 to 12 hours after one has come up. At 60 km/h with a sixth
    of it in stops; a night up there counts, and so does who starts or ends there: they may stay."""
    way = ride(km=300.0, nights_m=nights_m)
    high = (way.ele_at_m >= km_above[0] * 1e3) & (way.ele_at_m <= km_above[1] * 1e3)
    found = rider_cautions(None, replace(way, ele_m=np.where(high, 2_600.0, 900.0)))
    assert bool(found) is told
    assert all(0.0 <= c.at_m - km_above[0] * 1e3 < 1_500.0 for c in found)  # a height each 1.5 km


@pytest.mark.parametrize(
    ("fan_s", "boil_s", "concern"),
    [
        (59.0, 0.0, Concern.LOW), (60.0, 0.0, Concern.MEDIUM), (899.0, 0.0, Concern.MEDIUM),
        (900.0, 0.0, Concern.HIGH), (0.0, 1.0, Concern.HIGH),
    ],
)  # fmt: skip
def test_engine_heat_by_its_minutes(fan_s: float, boil_s: float, concern: Concern) -> None:
    assert _concern(fan_s, boil_s) is concern


def _steps(n: int = 10, **changed: object) -> Steps:
    """Steps of 100 m and 30 s on level tarmac at 12 km/h, all known."""
    edges = 100.0 * np.arange(n + 1)
    one = np.ones(n)
    level = Steps(
        at_m=edges[:-1] + 50, from_m=edges[:-1], to_m=edges[1:], time_s=30 * one,
        speed_m_s=one * 12.0 / 3.6, grade_pct=0 * one, grade_known=np.ones(n, bool),
        p=np.tile(PAVED, (n, 1)), severity=0 * one, ele_m=0 * one, running=np.ones(n, bool),
    )  # fmt: skip
    known = {item.name for item in fields(Steps)}
    assert set(changed) <= known
    return replace(level, **changed)  # type: ignore[arg-type]


def _loose(track: float, n: int = 10) -> FloatArray:
    return np.tile((1.0 - track, 0.0, track), (n, 1))


FAST = np.full(10, 60 / 3.6)


@pytest.mark.parametrize(
    ("steps", "air_c", "causes"),
    [
        (_steps(), 29.9, [HeatCause.WALKING]),
        (_steps(speed_m_s=np.full(10, 12.1 / 3.6), grade_pct=np.full(10, 5.0)), 20.0,
         [HeatCause.CLIMB]),
        (_steps(speed_m_s=FAST, grade_pct=np.full(10, 4.9), p=_loose(0.5)), 20.0,
         [HeatCause.SOFT]),
        (_steps(speed_m_s=FAST, grade_pct=np.full(10, 5.0), p=_loose(0.49)), 30.0,
         [HeatCause.CLIMB, HeatCause.AIR]),
        (_steps(to_m=100.0 * np.arange(10), p=_loose(0.9)), 20.0, [HeatCause.STANDING]),
        # Four tenths of the hot time name a cause, three do not; the longest is named first.
        (_steps(grade_pct=np.where(np.arange(10) < 4, 9.0, 0.0)), 20.0,
         [HeatCause.WALKING, HeatCause.CLIMB]),
        (_steps(grade_pct=np.where(np.arange(10) < 3, 9.0, 0.0)), 20.0, [HeatCause.WALKING]),
        # Nothing holds for long: what holds the longest.
        (_steps(speed_m_s=FAST, grade_pct=np.where(np.arange(10) < 2, 9.0, 0.0),
                p=np.where(np.arange(10)[:, None] < 3, TRACK, PAVED)), 20.0, [HeatCause.SOFT]),
    ],
)  # fmt: skip
def test_what_makes_an_engine_hot(steps: Steps, air_c: float, causes: list[HeatCause]) -> None:
    bike = replace(DEFAULT_FLEET.classes[0], coolant_l=None)
    hot = np.ones(10, dtype=bool)
    assert list(_causes(bike, steps, hot, np.full(10, air_c))) == causes


def test_a_stop_makes_no_grade_known() -> None:
    """20 km at walking pace whose grades nobody knows may all be climbs on a day of 40 degrees; a
    minute at a barrier in the middle, level as one stands, says nothing of them. One known step
    of the way does."""
    pace = {"speed_m_s": np.full(200, 6 / 3.6), "time_s": np.full(200, 60.0)}
    unknown = _steps(200, grade_known=np.zeros(200, bool), **pace)
    row = np.r_[:101, 100:200]  # the step in the middle twice: there and on
    there = Steps(**{item.name: getattr(unknown, item.name)[row] for item in fields(Steps)})
    stands = np.arange(201) == 100
    at_m = np.where(stands, there.from_m, there.to_m)
    stopped = replace(there, to_m=at_m, grade_known=stands)
    known = replace(unknown, grade_known=np.arange(200) == 100)
    air = replace(_air(temp=20.0), high_c=np.full(11, 40.0))
    bike = next(bike for bike in DEFAULT_FLEET.classes if bike.name == "enduro")
    for steps, causes in ((unknown, (HeatCause.UNKNOWN,)), (stopped, (HeatCause.UNKNOWN,)),
                          (known, ())):  # fmt: skip
        assert judge_engine(bike, steps, air, Trip()).causes == causes


def test_climbs_that_nobody_knows_are_told_from_half_an_hour_of_fan_on() -> None:
    """Common practice, no source. A minute more of it each time."""
    air = replace(_air(temp=20.0), high_c=np.full(11, 40.0))
    bike = next(bike for bike in DEFAULT_FLEET.classes if bike.name == "enduro")
    told = {}
    for n in range(36, 48):
        way = _steps(n, grade_known=np.zeros(n, bool), time_s=np.full(n, 60.0),
                     speed_m_s=np.full(n, 6 / 3.6))  # fmt: skip
        heat = judge_engine(bike, way, air, Trip())
        assert (heat.fan_s, heat.longest_s, heat.runs) == (0.0, 0.0, ())
        told[heat.fan_high_s] = heat.concern is Concern.MEDIUM
    assert set(told.values()) == {False, True}
    assert told == {fan_s: fan_s >= 1_800.0 for fan_s in told}


def test_only_the_time_in_which_an_engine_is_hot_names_its_causes() -> None:
    """Two steps at walking pace make it hot; it is cool on the 198 that climb fast."""
    first = np.arange(200) < 2
    steps = _steps(200, speed_m_s=np.where(first, 2.0, 20.0), grade_pct=np.where(first, 0.0, 9.0))
    bike = replace(DEFAULT_FLEET.classes[0], coolant_l=None)
    assert _causes(bike, steps, first, np.full(200, 20.0)) == (HeatCause.WALKING,)


@pytest.mark.parametrize(("share", "little"), [(0.84, True), (0.86, False)])
def test_little_coolant_is_less_than_is_usual(share: float, little: bool) -> None:
    """.22 L x 16 kW to the power of .55 are 1.011 L."""
    assert usual_coolant_l(16.0) == pytest.approx(1.011, abs=0.001)
    bike = replace(DEFAULT_FLEET.classes[0], power_kw=16.0, coolant_l=1.011 * share)
    causes = _causes(bike, _steps(), np.ones(10, dtype=bool), np.zeros(10))
    assert (HeatCause.COOLANT in causes) == little


@pytest.mark.parametrize(
    ("kph", "grade", "track", "hot"),
    [(14.9, 8.0, 0.4, True), (15.1, 8.0, 0.4, False), (14.9, 7.9, 0.4, False),
     (14.9, 8.0, 0.39, False)],
)  # fmt: skip
def test_a_clutch_is_hot_where_slow_steep_and_loose_meet(
    kph: float, grade: float, track: float, hot: bool
) -> None:
    all_of_it = _steps(
        speed_m_s=np.full(10, kph / 3.6), grade_pct=np.full(10, grade), p=_loose(track)
    )
    assert bool(clutch_runs(all_of_it)) == hot
    for name in ("grade_known", "running"):
        assert not clutch_runs(replace(all_of_it, **{name: np.zeros(10, dtype=bool)}))


@pytest.mark.parametrize(("kph", "told"), [(6.0, True), (6.1, False)])
def test_a_clutch_that_works_for_less_than_a_minute_is_not_told(kph: float, told: bool) -> None:
    """100 m at 6 km/h take a minute (common practice, no source). A report said: "the clutch gets
    hot on the 10 m from km 10.9, about under a minute"."""
    grade = np.zeros(10)
    grade[3] = 20.0
    step = {"grade_pct": grade, "p": _loose(1.0)}
    time_s = np.full(10, 100.0 / (kph / 3.6))
    runs = clutch_runs(_steps(speed_m_s=np.full(10, kph / 3.6), time_s=time_s, **step))
    assert bool(runs) == told


def test_a_clutch_run_tells_its_place_time_grade_and_pace() -> None:
    """Steps 3 to 6: 400 m in 120 s at 8, 10, 12 and 14 %."""
    grade = np.zeros(10)
    grade[3:7] = 8.0, 10.0, 12.0, 14.0
    (run,) = clutch_runs(_steps(grade_pct=grade, p=_loose(1.0)), "some")
    assert (run.from_m, run.to_m, run.time_s, run.bike) == (300.0, 700.0, 120.0, "some")
    assert run.grade_pct == pytest.approx(11.0)
    assert run.speed_kph == pytest.approx(12.0)


@pytest.mark.parametrize(("unknown", "known"), [(100, True), (101, False)])
def test_engines_are_judged_by_grades_where_half_are_known(unknown: int, known: bool) -> None:
    way = ride()
    grade = np.array(way.grade_pct[:200])
    grade[:unknown] = np.nan
    some = replace(way, ele_at_m=way.ele_at_m[:200], ele_m=way.ele_m[:200], grade_pct=grade)
    assert grades_known(some) == known


def test_holes_in_heights_and_grades_are_bridged() -> None:
    """50 m up over the 500 m between what is known on both sides: 10 %."""
    nan = np.nan
    at = 100.0 * np.arange(8)
    ele = _closed(at, np.array([nan, 10.0, 20.0, nan, nan, nan, nan, 70.0]))
    assert ele.tolist() == [10.0, 10.0, 20.0, 30.0, 40.0, 50.0, 60.0, 70.0]
    grade = _bridged(at, np.array([nan, 1.0, 2.0, nan, nan, nan, nan, 3.0]), ele)
    assert grade == pytest.approx([0.0, 1.0, 2.0, 10.0, 10.0, 10.0, 10.0, 3.0])
    assert _bridged(at[:3], np.array([1.0, nan, nan]), ele[:3]).tolist() == [1.0, 0.0, 0.0]
    assert _bridged(at[:3], np.array([1.0, nan, 2.0]), ele[:3]).tolist() == [1.0, 5.0, 2.0]
    assert _closed(at, np.full(8, nan)).tolist() == [0.0] * 8


def test_rolling_resistance_by_hand() -> None:
    """Paved .015, gravel .03, track .05 to .15 by severity; unknown counts as .3: .08."""
    p = np.array([PAVED, GRAVEL, TRACK, TRACK, TRACK, (0.5, 0.3, 0.2)])
    got = rolling_resistance(p, np.array([0.9, 0.9, 0.0, 0.5, np.nan, 1.0]))
    assert got == pytest.approx([0.015, 0.03, 0.05, 0.10, 0.08, 0.0075 + 0.009 + 0.03])


def test_coolant_heat_by_hand() -> None:
    """300 cc at 90 km/h turn 2500 + 25 x 90 = 4750 a minute, 79.17 a second: friction at 1.5 bar is
    150 kPa x 300 cc x 79.17 / 2 = 1781.25 W. 8.7 kW at the wheel are 10 kW at the crank; a third
    (.33) of the fuel, of which .30 does work: 1.1 x 11,781.25 W."""
    got = coolant_heat_w(np.array([8_700.0, -500.0]), np.full(2, 25.0), 300.0)
    assert got == pytest.approx([1.1 * 11_781.25, 1.1 * 1_781.25])
    # A quarter of the root of the root of 1/16 as many turns: 4800 cc turn half as fast.
    slow = coolant_heat_w(np.zeros(1), np.full(1, 25.0), 4_800.0)
    assert slow == pytest.approx([1.1 * 16 * 1_781.25 / 2])


def test_radiator_by_hand() -> None:
    """Core of .0065 m2 x 1; the road's 10 m/s give 4 m/s in it: 1 transfer unit, so 1 - 1/e of
    1.2 x 1005 x .0065 x 4. At the fan's switch point no draught. Two thirds of the coolant: two
    thirds of the core; a tenth of it: no less than half. Standing, the fan's 2.2 m/s alone."""

    def give(m_s: float = 10.0, **more: float) -> float:
        v, rho, fan = np.array([m_s]), np.array([1.2]), m_s == 0.0
        return float(radiator_w_k(v, rho, power_kw=1.0, fan=fan, air_c=100.0, **more)[0])

    full = 1.2 * 1005 * 0.0065 * 4.0 * (1 - 1 / np.e)
    assert give() == pytest.approx(full)
    assert give(coolant_l=0.22 * 2 / 3) == pytest.approx(full * 2 / 3)
    assert give(coolant_l=0.022) == pytest.approx(full / 2)
    assert give(coolant_l=0.22 * 9) == pytest.approx(full * 2)
    still = 1.2 * 1005 * 0.0065 * 2.2 * (1 - np.exp(-((4.0 / 2.2) ** 0.4)))
    assert give(0.0) == pytest.approx(still)


def test_fins_by_hand() -> None:
    """At 80 km/h in air of 1.2 kg/m3: .28 and .028 W/K a cc; in still air .028. At a quarter of the
    speed, or of the air, .28 / 2^1.2 = .12188."""
    v, rho = np.array([80.0, 0.0, 20.0, 80.0]) / 3.6, np.array([1.2, 1.2, 1.2, 0.3])
    got = fins_w_k(v, rho, displacement_cc=100.0, oil_cooler=False)
    assert got == pytest.approx([30.8, 2.8, 14.988, 14.988], abs=1e-3)


@pytest.mark.parametrize(
    ("day", "value"),
    [
        (15.0, 1.0), (46.0, 2.0), (30.5, 1.5), (349.0, 12.0),
        (1.0, 1.0 + 11.0 * 14 / 31), (365.0, 12.0 - 11.0 * 16 / 31),
    ],
)  # fmt: skip
def test_a_day_lies_between_the_middles_of_its_months(day: float, value: float) -> None:
    """15 January and February are days 15 and 46 by the calendar; 15 December is day 349, and 31
    days before the next 15 January."""
    monthly = np.arange(1.0, 13.0)[None, :]
    assert _of_day(monthly, day) == pytest.approx([value])


@pytest.mark.parametrize(("june", "used"), [(26.9, False), (27.0, True)])
def test_riders_are_used_to_heat_by_the_month_before(june: float, used: bool) -> None:
    """27 C is where the heat index begins (US National Weather Service, 80 F)."""
    climate = climate_along(ride(km=6.0), None)
    tmax = np.full(climate.year.tmax_c.shape, 20.0)
    tmax[:, 5] = june
    warm = replace(climate, year=replace(climate.year, tmax_c=tmax))
    assert warm.used_to_heat(7) == used
    assert not warm.used_to_heat(6) and not warm.used_to_heat(8)
    tmax[:, [5, 11]] = 20.0, 30.0
    assert replace(climate, year=replace(climate.year, tmax_c=tmax)).used_to_heat(1)


@pytest.mark.parametrize(
    ("km", "samples", "places"),
    [(0.1, 2, 2), (1.0, 5, 2), (1.1, 6, 2), (6.1, 31, 4), (119.9, 600, 60), (300.0, 600, 60)],
)
def test_climate_is_sampled_by_length(km: float, samples: int, places: int) -> None:
    """A position each 200 m, a place each 2 km; at most 600 and 60."""
    climate = climate_along(ride(km=km, ele_m=None), None)
    assert (len(climate.at_m), len(climate.place_m)) == (samples, places)
    assert (climate.at_m[-1], climate.place_m[-1]) == pytest.approx((1000 * km, 1000 * km))


def _hours(measure: str, *hours: float) -> tuple[LevelHours, ...]:
    return tuple(
        LevelHours(measure=measure, above=21.0 + i, word=f"level {i}", hours=h, source="")
        for i, h in enumerate(hours)
    )


COOL = _rider(_air(chill=9.0))


def _said(rider: RiderHeat) -> list[str]:
    return [str(word) for word in heat_words(rider, (), (), unknown=None)]


@pytest.mark.parametrize(
    ("chill", "warmest", "begins"),
    [
        (5.0, 12.0, ["Up to"]),
        (4.9, 19.9, ["Cold"]),
        (4.9, 20.0, ["Cold", "Up to"]),
    ],
)
def test_cold_is_told_first_and_heat_where_it_is_warm(
    chill: float, warmest: float, begins: list[str]
) -> None:
    words = _said(replace(COOL, min_wind_chill_c=chill, max_air_temp_c=warmest, hours_above=()))
    assert [word.startswith(begin) for word, begin in zip(words, begins, strict=True)] == [
        True for _ in begins
    ]


@pytest.mark.parametrize(
    ("riding", "still", "wanted"),
    [
        ((1.0, 0.0), (1.0, 0.0), []),  # caution alone is not told
        ((1.0, 0.5), (1.0, 0.5), ["“level 1” for 30 min", "Rest in shade, gear open."]),
        ((1.0, 0.0), (1.0, 0.5), ["it reaches “level 1”"]),
        ((1.0, 0.5, 0.0), (1.0, 1.0, 0.2), ["“level 1” for 30 min", "it reaches “level 2”"]),
        ((1.0, 1.0, 0.25), (1.0, 0.2, 0.0), ["“level 2” for 15 min", "Rest in shade, gear open."]),
    ],
)
def test_levels_are_told_riding_and_standing(
    riding: tuple[float, ...], still: tuple[float, ...], wanted: list[str]
) -> None:
    hours = _hours("wbgt_riding_c", *riding) + _hours("wbgt_c", *still)
    words = _said(replace(COOL, hours_above=hours))[1:]
    assert len(words) == len(wanted)
    assert all(want in word for word, want in zip(words, wanted, strict=True))


def _engine(concern: Concern, cooling: str) -> EngineHeat:
    return EngineHeat(
        bike="b", title="Bike", cooling=cooling, concern=concern, causes=(HeatCause.CLIMB,),
        fan_s=0.0, fan_high_s=0.0, longest_s=0.0, boil_s=0.0, peak_c=0.0, cooled_peak_c=0.0,
        limit_c=0.0, most_power_share=0.0, least_power_left=1.0, runs=(),
    )  # fmt: skip


@pytest.mark.parametrize(
    ("concern", "cooling", "wanted"),
    [
        (Concern.HIGH, "liquid", "Test the fan"), (Concern.HIGH, "air", "too much for its oil"),
        (Concern.HIGH, "oil", "too much for its oil"), (Concern.MEDIUM, "liquid", None),
        (Concern.MEDIUM, "air", None), (Concern.LOW, "air", None),
    ],
)  # fmt: skip
def test_engines_are_told_where_their_heat_is_high(
    concern: Concern, cooling: str, wanted: str | None
) -> None:
    words = heat_words(None, (_engine(concern, cooling),), (), unknown=None)
    assert len(words) == (wanted is not None)
    assert all(wanted in str(word) for word in words if wanted)


@pytest.mark.parametrize(
    ("unknown", "wanted"),
    [(None, None), (Unknown.GRADES, "has holes"), (Unknown.HEIGHTS, "Heights are not known")],
)
def test_what_is_not_known_of_heights_is_told(unknown: Unknown | None, wanted: str | None) -> None:
    words = heat_words(None, (), (), unknown=unknown)
    assert len(words) == (wanted is not None)
    assert all(wanted in str(word) for word in words if wanted)


def test_the_hottest_and_the_coldest_month_are_told() -> None:
    base = MonthHeat(
        month=1, max_air_temp_c=0.0, max_air_temp_low_c=0.0, max_air_temp_high_c=0.0,
        min_air_temp_c=0.0, max_heat_index_c=0.0, max_wbgt_c=0.0, min_wind_chill_c=0.0,
        rain_mm=None, daylight_s=0.0, fan_s=None,
    )  # fmt: skip
    warm = (12.0, 18.0, 31.0, 9.0, 22.0)
    months = [replace(base, month=m, max_air_temp_c=c) for m, c in enumerate(warm, start=1)]
    (word,) = heat_words(None, (), months, unknown=None)
    assert "reaches 31 °C in March and 9 °C in April" in str(word).replace("\xa0", " ")


@pytest.mark.parametrize(
    ("lon", "lat", "served"),
    [
        (10.1, 46.04, True), (10.1, 46.06, False), (10.1, 45.76, True), (10.1, 45.74, False),
        (9.96, 45.9, True), (9.94, 45.9, False), (10.24, 45.9, True), (10.26, 45.9, False),
    ],
)  # fmt: skip
def test_own_grids_reach_half_a_cell_past_their_middles(
    lon: float, lat: float, served: bool
) -> None:
    """Three by three cells of a tenth of a degree, the first with its middle at 10 E 46 N."""
    shape = (12, 3, 3)
    own = ClimateGrid(
        tmax_c=np.full(shape, 51.0, np.float32), tmin_c=np.full(shape, 41.0, np.float32),
        ele_m=np.full((3, 3), np.nan, np.float32), west=10.0, north=46.0, step_lon=0.1,
        step_lat=0.1, source="test grids",
    )  # fmt: skip
    assert (climate_at(lon, lat, 500.0, 7, own=own).tmax_c == 51.0) == served


@pytest.mark.parametrize(
    ("hour", "daylight", "share"),
    [
        # Parton & Logan 1981 with 12 h of light: a sine of 15.72 h from 05:50, its top at 13:41;
        # at sunset sin(pi 12.17 / 15.72) = .652 of the range is left; at midnight, 6 of the
        # night's 11.83 h later, (exp(-1.116) - exp(-2.2)) / (1 - exp(-2.2)) = .244 of that.
        (5.83, 12.0, 0.0), (13.69, 12.0, 1.0), (17.999, 12.0, 0.652), (18.0, 12.0, 0.652),
        (0.0, 12.0, 0.159), (24.0 - 1e-6, 12.0, 0.159), (5.82, 12.0, 0.0),
        # Campbell & Norman 1998, eq. 2.2 at 15 h: .44 - .46 sin(4.827) + .11 sin(8.754).
        (15.0, 22.1, 0.965), (15.0, 1.9, 0.965),
        # With 21.9 h a sine of 25.62 h from 00:53 on, with 2.1 h one of 5.82 h from 10:47 on.
        (12.0, 21.9, 0.979), (12.0, 2.1, 0.612),
    ],
)  # fmt: skip
def test_the_day_s_curve_by_hand(hour: float, daylight: float, share: float) -> None:
    one = np.ones(1)
    got = daily_curve_c(hour * one, 10.0 * one, 30.0 * one, daylight * one)
    assert got == pytest.approx([10.0 + 20.0 * share], abs=0.05)
