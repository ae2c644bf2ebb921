"""Standing and crawling heat an engine: towns, queues at borders, stops for pictures."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime
from pathlib import Path
from zoneinfo import ZoneInfo

import numpy as np
import pytest

from terrain.stages.heat.engine_model import draught_m_s, run_engine
from terrain.stages.heat.passage import passage_of
from terrain.stages.places.settled import towns_along
from terrain.tables.engine import BORDER_QUEUE_S, ENGINE, PICTURE_S, TOWN_STANDING_SHARE
from terrain.tables.fleet import DEFAULT_FLEET
from terrain.values.clock import RideClock
from terrain.values.heat import Heat
from terrain.values.places import RideNode
from terrain.values.ride import Ride
from tests.assessed import RELIEF
from tests.stages.heat.test_heat import JULY_NOON, judge, ride
from tests.stages.tinymap import PAVED, TinyMap, TinyRegion


def _fan_s(heat: Heat) -> dict[str, float]:
    return {engine.bike: engine.fan_s for engine in heat.engines if engine.cooling == "liquid"}


def test_the_standing_share_is_that_of_the_urban_cycle() -> None:
    """UN Regulation 83, elementary urban cycle: 60 s of idling in 195 s (from memory)."""
    assert pytest.approx(0.308, abs=0.001) == TOWN_STANDING_SHARE


def test_two_hours_of_city_in_the_heat_make_fans_run() -> None:
    """60 km of city at 30 km/h in Seville's July, two up: queues as a town has them."""
    town = ride(km=60.0, kph=30.0)
    queues = np.linspace(7_500.0, 52_500.0, 4)
    standing = TOWN_STANDING_SHARE / (1 - TOWN_STANDING_SHARE) * 7_200.0 / 4
    stood = replace(town, stand_at_m=queues, stand_s=np.full(4, standing))
    before, after = (_fan_s(judge(way, JULY_NOON, pillion=True)) for way in (town, stood))
    assert max(before.values()) == 0.0
    assert max(after.values()) >= 300.0
    assert all(after[bike] >= before[bike] for bike in before)


@pytest.mark.parametrize("hour", [7, 13])
def test_standing_never_cools(hour: int) -> None:
    way = ride(km=40.0, kph=45.0)
    stood = replace(way, stand_at_m=np.array([20_000.0]), stand_s=np.array([1_200.0]))
    when = datetime(2027, 7, 15, hour, 0)
    assert sum(_fan_s(judge(stood, when)).values()) >= sum(_fan_s(judge(way, when)).values())


@pytest.mark.parametrize(("air_c", "comes_on"), [(-10.0, False), (0.0, False), (30.0, True)])
def test_an_engine_left_on_sheds_its_heat_in_frost_and_not_in_the_heat(
    air_c: float, comes_on: bool
) -> None:
    """A quarter of an hour in a queue: no fan runs in frost, all do at 30 C (common practice, no
    source); a hot core draws more air through itself the colder that is."""
    still, minute = np.zeros(15), np.full(15, 60.0)
    for bike in (b for b in DEFAULT_FLEET.classes if b.fan):
        run = run_engine(
            bike, time_s=minute, power_w=still, speed_m_s=still, air_c=still + air_c,
            density_kg_m3=still + 1.2,
        )  # fmt: skip
        assert run.hot.any() == comes_on, bike.name
        assert run.cooled_c[-1] < ENGINE.fan_on_c  # what the fan is there for


def test_draught_grows_with_the_root_of_the_warmth_of_the_core() -> None:
    """Torricelli's law for a column of warm air (textbook): four times as warm, twice the speed."""
    near, far = draught_m_s(ENGINE.fan_on_c - 20.0), draught_m_s(ENGINE.fan_on_c - 80.0)
    assert far == pytest.approx(2 * near)
    assert draught_m_s(ENGINE.fan_on_c + 5.0) == 0.0


def test_a_queue_on_a_ferry_heats_nothing() -> None:
    """The engine is off there."""
    crossing = ride(km=40.0, kph=45.0, ferry=True)
    stood = replace(crossing, stand_at_m=np.array([20_000.0]), stand_s=np.array([3_600.0]))
    assert sum(_fan_s(judge(stood, JULY_NOON)).values()) == 0.0


def _city_ride(tmp_path: Path) -> tuple[TinyRegion, Ride]:
    tiny = TinyMap(nodes={"A": (0, 0), "B": (30_000, 0), "C": (34_000, 0), "D": (100_000, 0)})
    tiny.way("AB", PAVED).way("BC", PAVED).way("CD", PAVED)
    tiny.spot((32_000, 0), place="city", name="Big")
    tiny.spot((60_000, 0), place="village", name="Small")
    region = tiny.read(tmp_path)
    return region, region.ride(*"ABCD")


def test_towns_and_cities_hold_traffic_and_villages_do_not(tmp_path) -> None:
    region, made = _city_ride(tmp_path)
    ((from_m, to_m),) = towns_along(made.match, region.places)
    assert (from_m, to_m) == pytest.approx((29_500, 34_500), abs=250)


def test_where_one_stands_comes_from_towns_borders_and_pictures(tmp_path) -> None:
    region, made = _city_ride(tmp_path)
    clock = RideClock(
        knot_m=made.knot_m, knot_s=made.knot_s, night_m=np.zeros(0),
        start_s=np.array([8 * 3600.0]), back_s=np.zeros(1), zone=ZoneInfo("UTC"),
    )  # fmt: skip
    nodes = (RideNode(at_m=80_000.0, kind="border"), RideNode(at_m=90_000.0, kind="ford"))
    found = passage_of(made, RELIEF, clock, region.places, nodes)
    at = dict(zip(found.stand_at_m.round(-3).tolist(), found.stand_s.tolist(), strict=True))
    town_s = float(np.diff(made.time_s(np.array([29_500.0, 34_500.0])))[0])
    assert at[80_000.0] == BORDER_QUEUE_S
    assert at[32_000.0] == pytest.approx(
        town_s * TOWN_STANDING_SHARE / (1 - TOWN_STANDING_SHARE), rel=0.1
    )
    assert at[60_000.0] == PICTURE_S  # an hour at 60 km/h
    assert len(at) == 3
