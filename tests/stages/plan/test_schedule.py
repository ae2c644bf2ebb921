"""The chosen stops on the clock, added up by hand."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from terrain.stages.days.near import FUEL, TOWN, WATER
from terrain.stages.days.nights import DayStarts
from terrain.stages.plan import candidates as module
from terrain.stages.plan.candidates import (
    RequiredStop,
    StopCandidates,
    stop_candidates,
    stop_problem,
)
from terrain.stages.plan.course import RideSums
from terrain.stages.plan.schedule import Visit, _why, _with_check, keep_time, tell_stop, visit_of
from terrain.stages.plan.setting import PlanInputs
from terrain.values.help import HelpBasis, PlaceRef
from terrain.values.plan import Daylight, FuelRange, StopKind

H = 3_600.0
_SUN = Daylight(sunrise_s=6 * H, sunset_s=19 * H, dusk_s=20 * H)
_BED = PlaceRef(name="Inn", kind="lodging", lon=1.5, lat=2.5, basis=HelpBasis.MAPPED)


def _asked(*kinds: StopKind, **more: Any) -> RequiredStop:
    usual: dict[str, Any] = {
        "at_m": 0.0, "name": None, "why": "Asked for.", "lon": None, "lat": None, "source": -1,
        "bits": 0, "off_m": 0.0, "off_s": 0.0, "stay_s": None, "pinned": True,
    }  # fmt: skip
    return RequiredStop(kinds=kinds, **{**usual, **more})


def _setting(
    at_km: list[float], *, bits: dict[int, int] | None = None,
    off_s: dict[int, float] | None = None,
    asked: dict[int, RequiredStop] | None = None, lunches: tuple[int, ...] = (), hot: bool = False,
    near: dict[int, int] | None = None, rough: bool = False, start_h: float = 8.0,
) -> PlanInputs:  # fmt: skip
    """A ride of 360 km at 36 km/h, ten hours; candidates by row, the start and the end included."""
    n = len(at_km) + 2
    at_m = np.array([0.0, *at_km, 360.0]) * 1e3

    def column(values: dict[int, Any] | None, usual: Any) -> np.ndarray:
        return np.array([(values or {}).get(row, usual) for row in range(n)])

    off = column(off_s, 0.0)
    wished = asked or {}
    candidates = StopCandidates(
        at_m=at_m, off_m=10.0 * off, off_s=off, bits=column(bits, 0), near=column(near, -1),
        asked=column({row: i for i, row in enumerate(wished)}, -1),
    )  # fmt: skip
    whole = np.array([0.0, 360e3])
    course = RideSums(whole, whole / 10, whole, whole, np.array([20.0]), np.array([hot]))
    ride: Any = SimpleNamespace(
        length_m=360e3, from_m=np.array([0.0]), to_m=np.array([360e3]),
        time_s=lambda at: np.asarray(at) / 10, ground=np.array([2 if rough else 0]),
        severity=np.array([2]),
    )  # fmt: skip
    namer: Any = SimpleNamespace(
        place=lambda row: _BED if row >= 0 else None, near_name=lambda at_m: None,
        ride=SimpleNamespace(lonlat=lambda at_m: (at_m, -at_m)), van_at=lambda at_m: None,
        near=SimpleNamespace(van=np.array([True, False])),
    )  # fmt: skip
    return PlanInputs(
        ride=ride, course=course, ranges=(), clock=DayStarts(9 * H, start_h * H, (_SUN,)),
        candidates=candidates, asked=tuple(wished.values()), problem=None,  # type: ignore[arg-type]
        chosen=SimpleNamespace(stops=tuple(range(n)), lunches=lunches),  # type: ignore[arg-type]
        namer=namer, water_l_h=0.8,
    )  # fmt: skip


def test_a_day_of_three_stops_by_the_clock() -> None:
    """36, 144 and 180 km: an hour, four and five of riding from eight o'clock. A rest of 15 min;
    a station 2 min off, 15 min there; lunch of 45 min. Arrival at 18:00 and 1 h 19 min of stops;
    an hour before dusk at 20:00 is 19:00."""
    setting = _setting([36, 144, 180], bits={2: FUEL}, off_s={2: 120.0}, lunches=(3,))
    days, stops, rows = keep_time(setting)
    assert rows == (1, 2, 3)
    assert [stop.kinds for stop in stops] == [
        (StopKind.REST,), (StopKind.FUEL,), (StopKind.LUNCH,),
    ]  # fmt: skip
    minutes = [stop.arrive_s / 60 - 480 for stop in stops]
    assert minutes == pytest.approx([60, 60 + 15 + 180 + 2, 75 + 180 + 4 + 15 + 60])
    assert [stop.stay_s for stop in stops] == [900.0, 900.0, 2_700.0]
    (day,) = days
    assert (day.from_m, day.to_m, day.number) == (0.0, 360e3, 1)
    assert day.riding_s == 10 * H
    assert day.stops_s == pytest.approx(60 * (15 + 19 + 45))
    assert day.end_s == pytest.approx(18 * H + day.stops_s)
    assert day.margin_s == pytest.approx(19 * H - day.end_s)
    assert (day.lodging, day.lodging_off_m) == (None, None)


def test_a_night_ends_the_day_and_the_way_back_begins_the_next() -> None:
    """A bed at 180 km, 10 min off: arrival after five hours and ten minutes; next day from nine
    (not eight) ten minutes back and five hours."""
    setting = _setting([180], off_s={1: 600.0}, asked={1: _asked(StopKind.NIGHT, source=0)})
    (first, second), (night,), _ = keep_time(setting)
    assert (first.to_m, second.from_m, second.to_m) == (180e3, 180e3, 360e3)
    assert first.end_s == night.arrive_s == pytest.approx(13 * H + 600)
    assert first.stops_s == pytest.approx(600) and first.riding_s == 5 * H
    assert (first.lodging, first.lodging_off_m) == (_BED, 6_000.0)
    assert second.start_s == 9 * H and second.end_s == pytest.approx(14 * H + 600)
    assert (second.number, night.day, night.stay_s) == (2, 1, 0.0)
    assert night.pinned
    # Where no lodging is known there is none, and no way to it.
    setting = _setting([180], off_s={1: 600.0}, asked={1: _asked(StopKind.NIGHT)})
    assert keep_time(setting).days[0].lodging_off_m is None


@pytest.mark.parametrize(
    ("case", "kinds", "stay_s"),
    [
        ({}, (StopKind.REST,), 900.0),
        ({"bits": {1: WATER}}, (StopKind.REST,), 900.0),
        ({"bits": {1: WATER}, "hot": True}, (StopKind.WATER,), 900.0),
        ({"bits": {1: TOWN}, "hot": True}, (StopKind.REST,), 900.0),
        ({"bits": {1: FUEL}, "lunches": (1,)}, (StopKind.FUEL, StopKind.LUNCH), 2_700.0),
        ({"asked": {1: _asked(StopKind.VAN)}}, (StopKind.VAN,), 900.0),
        ({"asked": {1: _asked(StopKind.LUNCH)}, "lunches": (1,)}, (StopKind.LUNCH,), 2_700.0),
        ({"asked": {1: _asked(StopKind.VAN, stay_s=60.0)}}, (StopKind.VAN,), 60.0),
        ({"asked": {1: _asked(StopKind.VAN, stay_s=0.0)}}, (StopKind.VAN,), 0.0),
        (
            {"asked": {1: _asked(StopKind.NIGHT, StopKind.LUNCH)}},
            (StopKind.NIGHT, StopKind.LUNCH),
            0.0,
        ),
    ],
)
def test_what_a_stop_is_for_and_how_long(
    case: dict[str, Any], kinds: tuple[StopKind, ...], stay_s: float
) -> None:
    """15 min by the UK Highway Code, rule 91; lunch of 45 min is common practice, no source."""
    visit = visit_of(1, _setting([90], **case))
    assert (visit.kinds, visit.stay_s) == (kinds, stay_s)


def _checked(at_km: list[float], kinds: list[StopKind], **more: Any) -> list[Visit]:
    setting = _setting(at_km, **more)
    visits = [Visit(row, (kind,), 900.0, None) for row, kind in enumerate(kinds, start=1)]
    return _with_check(visits, setting, 0.0, 1)


def test_coolant_is_checked_at_lunch_or_at_the_stop_nearest_to_midday() -> None:
    """From eight at 36 km/h: 108 km at eleven, 158 km at 12:23, and 15 min later for the stop
    before it; 216 km at 14:00. Half past twelve is nearest to the second."""
    rest, fuel, lunch = StopKind.REST, StopKind.FUEL, StopKind.LUNCH
    at_km = [108.0, 158.0, 216.0]
    found = _checked(at_km, [rest, rest, rest])
    assert [visit.kinds for visit in found] == [(rest,), (StopKind.CHECK, rest), (rest,)]
    assert [visit.stay_s for visit in found] == [900.0, 1_500.0, 900.0]
    assert _checked(at_km, [rest, rest, lunch])[2].kinds == (lunch, StopKind.CHECK)
    assert _checked(at_km, [rest, fuel, rest])[1].kinds == (fuel, StopKind.CHECK)
    # Never at the bed, and none on a day without a stop.
    assert _checked([158.0, 250.0], [StopKind.NIGHT, rest])[1].kinds == (StopKind.CHECK, rest)
    assert _checked([158.0], [StopKind.NIGHT])[0].kinds == (StopKind.NIGHT,)
    assert _with_check([], _setting([90]), 0.0, 1) == []


def test_each_stop_before_it_makes_a_stop_a_quarter_of_an_hour_later() -> None:
    """The third, at 12:19 by riding alone, passes at 12:49, and the second, at 11:55, at 12:10."""
    at_km = [36.0, (11 + 55 / 60 - 8) * 36, (12 + 19 / 60 - 8) * 36]
    found = _checked(at_km, [StopKind.REST] * 3)
    assert [StopKind.CHECK in visit.kinds for visit in found] == [False, False, True]
    later = [36.0, (11 + 55 / 60 - 8) * 36, (12 + 21 / 60 - 8) * 36]
    found = _checked(later, [StopKind.REST] * 3)
    assert [StopKind.CHECK in visit.kinds for visit in found] == [False, True, False]


def test_a_hard_day_is_checked() -> None:
    days, stops, _ = keep_time(_setting([90], rough=True))
    assert days[0].hard and StopKind.CHECK in stops[0].kinds
    days, stops, _ = keep_time(_setting([90]))
    assert not days[0].hard and StopKind.CHECK not in stops[0].kinds


@pytest.mark.parametrize(
    ("kinds", "asked", "hot", "bits", "words"),
    [
        ((StopKind.FUEL,), None, False, 0, "Rest and fill up."),
        ((StopKind.FUEL, StopKind.LUNCH), None, False, 0, "Fill up. Lunch."),
        ((StopKind.FUEL, StopKind.NIGHT), None, False, 0, "Fill up."),
        ((StopKind.FUEL,), "Pinned.", False, 0, "Pinned. Fill up."),
        (
            (StopKind.CHECK, StopKind.REST),
            None,
            False,
            0,
            "Check coolant and oil: a hard day. Rest",
        ),
        ((StopKind.WATER,), None, True, WATER, "Rest and drink"),
        ((StopKind.REST,), None, True, 0, "Rest. Hot: look for shade"),
        ((StopKind.REST,), None, True, TOWN, "Rest. Hot: shade is likely in the village"),
        ((StopKind.FUEL,), None, True, 0, "Rest and fill up."),
    ],
)
def test_why_one_stops(
    kinds: tuple[StopKind, ...], asked: str | None, hot: bool, bits: int, words: str
) -> None:
    item = None if asked is None else _asked(StopKind.VAN, why=asked)
    course = _setting([90], hot=hot).course
    text = str(_why(Visit(1, kinds, 900.0, item), bits, course, 90e3))
    assert words in text
    assert text.count("Hot:") == (hot and StopKind.REST in kinds)
    assert text.startswith(words)


def test_where_a_stop_is_and_what_it_is_called() -> None:
    """By the roadside it lies on the ride, nearest to some place; a known place has its own spot;
    what was asked for has its own name."""

    def told(setting: PlanInputs) -> Any:
        return tell_stop(visit_of(1, setting), setting, day=1, arrive_s=0.0)

    bare = told(_setting([90]))
    assert (bare.name, bare.lon, bare.lat, bare.van_access) == (None, 90e3, -90e3, None)
    mapped = told(_setting([90], near={1: 0}))
    assert (mapped.name, mapped.lon, mapped.lat, mapped.van_access) == ("Inn", 1.5, 2.5, True)
    assert told(_setting([90], near={1: 1})).van_access is False
    wished = told(_setting([90], asked={1: _asked(StopKind.VAN, name="Gate", lon=7.0, lat=8.0)}))
    assert (wished.name, wished.lon, wished.lat, wished.place) == ("Gate", 7.0, 8.0, None)
    half = told(_setting([90], asked={1: _asked(StopKind.VAN, lon=7.0)}))
    assert (half.lon, half.lat) == (90e3, -90e3)
    setting = _setting([90])
    setting.namer.near_name = lambda at_m: "Alder"  # type: ignore[method-assign]
    assert str(told(setting).name) == "near Alder"


# -- candidates and the problem they make ---------------------------------------------------------


def test_candidates_stand_in_riding_order_between_start_and_end(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """A pump at the start and an inn at the end; a stop asked for at the very start."""
    monkeypatch.setattr(module, "place_groups", lambda near, group_m: np.array([1, 2]))
    monkeypatch.setattr(module, "lone_pumps", lambda near, group_m: np.array([0]))
    monkeypatch.setattr(module, "group_bits", lambda near, rows, group_m: near.bits[rows] | WATER)
    monkeypatch.setattr(module, "_roadside", lambda course: np.array([40e3, 80e3]))
    near: Any = SimpleNamespace(
        at_m=np.array([0.0, 60e3, 100e3]), bits=np.array([FUEL, TOWN, 0]),
        off_m=np.array([10.0, 20.0, 30.0]), off_s=np.array([1.0, 2.0, 3.0]),
    )  # fmt: skip
    asked = (
        _asked(StopKind.REST, at_m=0.0, off_m=7.0, off_s=0.7),
        _asked(StopKind.LUNCH, at_m=70e3, off_m=8.0, off_s=0.8, bits=FUEL),
    )
    whole = np.array([0.0, 100e3])
    got = stop_candidates(
        RideSums(whole, whole, whole, whole, np.zeros(1), np.zeros(1, bool)), near, asked
    )
    assert got.at_m.tolist() == [0.0, 0.0, 0.0, 40e3, 60e3, 70e3, 80e3, 100e3, 100e3]
    assert (got.near[0], got.near[-1]) == (-1, -1)
    assert (got.bits[0], got.asked[0], got.bits[-1], got.asked[-1]) == (0, -1, 0, -1)
    rows = sorted(zip(got.near.tolist(), got.asked.tolist(), strict=True))
    assert rows == [(-1, -1)] * 4 + [(-1, 0), (-1, 1), (0, -1), (1, -1), (2, -1)]
    at = {(near, asked): i for i, (near, asked) in enumerate(zip(got.near, got.asked, strict=True))}
    told = [(got.off_m[at[key]], got.off_s[at[key]], got.bits[at[key]])
            for key in ((0, -1), (1, -1), (-1, 0), (-1, 1))]  # fmt: skip
    assert told == [(10.0, 1.0, FUEL | WATER), (20.0, 2.0, TOWN | WATER), (7.0, 0.7, 0),
                    (8.0, 0.8, FUEL)]  # fmt: skip
    assert got.off_m[[0, -1]].tolist() == got.off_s[[0, -1]].tolist() == [0.0, 0.0]


def test_what_a_choice_of_stops_costs_and_burns() -> None:
    """5 L/100 km: 1 km to a pump is 0.05 L, and 2 km there and back to what has none 0.2 L, burnt
    from there on. From eight o'clock at 36 km/h the night is at 15:00, the end at 18:00."""
    setting = _setting(
        [54.0, 108.0, 252.0], bits={1: FUEL, 3: FUEL}, off_s={1: 100.0, 2: 200.0, 3: 300.0},
        asked={2: _asked(StopKind.LUNCH), 3: _asked(StopKind.NIGHT)},
    )  # fmt: skip
    clock: Any = SimpleNamespace(
        passing_s=lambda at: 8 * H + at / 10, start_s=np.array([8.0 * H, 9.0 * H]),
        day_of=lambda at: (at > 252e3).astype(np.int64),
    )  # fmt: skip
    usable = FuelRange(bike="x", title="x", usable_l=10.0, l_per_km=0.05)
    got = stop_problem(setting.candidates, setting.asked, setting.course, usable, clock)
    assert got.must.tolist() == [False, False, True, True, False]
    assert got.night.tolist() == [False, False, False, True, False]
    assert got.fuel.tolist() == [False, True, False, True, False]
    km = setting.candidates.at_m
    np.testing.assert_allclose(
        got.litres - setting.course.litres_at(km), [0.0, 0.0, 0.2, 0.2, 0.2], atol=1e-9
    )
    np.testing.assert_allclose(got.off_l, [0.0, 0.05, 0.0, 0.15, 0.0])
    assert got.price[[2, 3]].tolist() == [0.0, 0.0] and (got.price[[0, 1, 4]] > 0.0).all()
    assert got.lunch[2] == 0.0 and got.lunch[1] == np.inf
    assert got.no_lunch.tolist() == [0.0, 0.0, 0.0, 60.0, 60.0]
    assert got.usable_l == 10.0
    late: Any = SimpleNamespace(**{**vars(clock), "start_s": np.array([12.0 * H, 11.99 * H])})
    assert stop_problem(
        setting.candidates, setting.asked, setting.course, None, late
    ).no_lunch.tolist() == [0.0, 0.0, 0.0, 0.0, 60.0]
    dry = stop_problem(setting.candidates, setting.asked, setting.course, None, clock)
    assert dry.usable_l == np.inf and dry.off_l.tolist() == [0.0] * 5


def test_a_night_is_a_stop_that_was_asked_for_as_one() -> None:
    asked = {1: _asked(StopKind.NIGHT, StopKind.LUNCH), 2: _asked(StopKind.LUNCH)}
    setting = _setting([90, 180, 270], asked=asked)
    assert [setting.is_night(row) for row in range(5)] == [False, True, False, False, False]
