"""The whole job's edges: which region, and what is not covered."""

from __future__ import annotations

import pickle
from dataclasses import replace
from datetime import UTC, date, datetime, time, timedelta
from pathlib import Path
from types import SimpleNamespace
from typing import cast
from zoneinfo import ZoneInfo

import numpy as np
import pytest

import terrain
from terrain.stages.days.daylight import daylight_of
from terrain.values.ground import GroundKind, GroundNote
from terrain.values.ride import Ride


def _route(home: Path) -> terrain.Route:
    return terrain.read_route(sorted((home / "demo" / "routes").glob("*.gpx"))[0])


def test_region_is_found_by_the_route(island_home: Path) -> None:
    assert terrain.find_region(_route(island_home), island_home).info.name == "island"


def test_no_region_at_all(tmp_path: Path, island_home: Path) -> None:
    with pytest.raises(terrain.RegionMissing, match="terrain demo"):
        terrain.find_region(_route(island_home), tmp_path)


def test_route_elsewhere_is_refused(island_home: Path) -> None:
    route = _route(island_home)
    away = replace(route, lat=np.asarray(route.lat) + 20.0)
    with pytest.raises(terrain.RegionNotCovering, match="none of the regions"):
        terrain.find_region(away, island_home)
    region = terrain.open_region("island", island_home)
    with pytest.raises(terrain.RegionNotCovering, match="no part of the route"):
        terrain.assess(away, region)


def test_a_damaged_region_does_not_hide_a_sound_one(
    island_home: Path, tmp_path: Path, caplog: pytest.LogCaptureFixture
) -> None:
    home = tmp_path / "home"
    (home / "regions").mkdir(parents=True)
    (home / "regions" / "island").symlink_to(island_home / "regions" / "island")
    broken = home / "regions" / "broken"
    broken.mkdir()
    (broken / "CURRENT").write_text("pack-gone\n")
    route = _route(island_home)
    assert terrain.find_region(route, home).info.name == "island"
    assert "broken" in caplog.text
    away = replace(route, lat=np.asarray(route.lat) + 20.0)
    with pytest.raises(terrain.RegionDamaged, match="broken"):
        terrain.find_region(away, home)


def test_a_file_of_two_days_is_planned_as_two_days(island_home: Path) -> None:
    """Two short tracks "Day 1" and "Day 2" were ridden on one day."""
    region, route = terrain.open_region("island", island_home), _route(island_home)
    start = route.n_points // 3
    (whole,) = terrain.assess(route, region).assessed.plan.days
    report = terrain.assess(replace(route, day_starts=(start,)), region)
    first, second = report.assessed.plan.days
    at_m = float(report.assessed.match.point_at_m[start - 1])
    assert first.to_m == second.from_m == at_m and second.to_m == whole.to_m
    assert [stop.pinned for stop in report.assessed.plan.stops if stop.at_m == at_m] == [False]


def test_an_old_map_is_said(island_home: Path) -> None:
    region = terrain.open_region("island", island_home)
    map_date = region.info.map_date
    assert map_date is not None
    route = terrain.read_route(island_home / "demo" / "routes" / "coast-road.gpx")
    for days, is_old in ((366, False), (367, True)):
        day = map_date + timedelta(days=days)
        dated = terrain.Trip(depart=datetime.combine(day, time(8, 0)))
        made_at = datetime.combine(day, time(8, 0), UTC)
        for trip in (dated, terrain.Trip()):  # without a date the map ages to today
            report = terrain.assess(route, region, trip, made_at=made_at)
            told = [item["why"] for item in report.to_dict()["not_known"]
                    if item["key"] == "region.map_date"]  # fmt: skip
            assert bool(told) is is_old
            if told:
                assert "since" in told[0] and str(map_date.year) in told[0]


def test_match_tells_ways_in_riding_order(island_home: Path) -> None:
    region = terrain.open_region("island", island_home)
    laid = terrain.match(_route(island_home), region)
    assert laid.ways
    assert sum(length for _, length in laid.ways) == pytest.approx(
        laid.matched_m + laid.ferry_m, rel=1e-6
    )


def test_rider_and_load_change_the_answer(island_home: Path) -> None:
    region, route = terrain.open_region("island", island_home), _route(island_home)
    quick = terrain.assess(route, region, terrain.Trip(rider="expert", luggage="none"))
    slow = terrain.assess(route, region, terrain.Trip(rider="novice", pillion=True))
    assert quick.to_dict()["speed"]["riding_s"] < slow.to_dict()["speed"]["riding_s"]


@pytest.mark.parametrize("n", range(3))
def test_setup_follows_the_ground_whoever_rides(island_home: Path, n: int) -> None:
    """Same line, same month: same setup, tyres and chances; another rider's times are told."""
    region = terrain.open_region("island", island_home)
    route = terrain.read_route(sorted((island_home / "demo" / "routes").glob("*.gpx"))[n])
    trips = (
        terrain.Trip(), terrain.Trip(rider="expert", luggage="none"),
        terrain.Trip(rider="novice", riding="new"), terrain.Trip(pillion=True, luggage="boxes"),
    )  # fmt: skip
    setups = [terrain.assess(route, region, trip).assessed.advice.setup for trip in trips]
    assert len({(s.choice, s.tyres, s.p_off_road) for s in setups}) == 1
    assert not any(r.code == "setup-usual" for r in setups[0].reasons)
    assert any(r.code == "setup-usual" for r in setups[3].reasons)


def test_inputs_are_left_as_they_were(island_home: Path) -> None:
    region, route = terrain.open_region("island", island_home), _route(island_home)
    before = route.lon.copy(), route.lat.copy(), route.ele_m.copy()
    terrain.assess(route, region)
    for old, new in zip(before, (route.lon, route.lat, route.ele_m), strict=True):
        np.testing.assert_array_equal(old, new)


def test_report_crosses_processes(island_home: Path) -> None:
    region, route = terrain.open_region("island", island_home), _route(island_home)
    report = terrain.assess(route, region)
    assert pickle.loads(pickle.dumps(report)).to_dict() == report.to_dict()


def test_dusk_after_midnight_leaves_light() -> None:
    """At 62 N in July a ride that ends at noon has a long evening left, not none."""
    ride = SimpleNamespace(lonlat=lambda _: (-6.77, 62.01))
    trip = terrain.Trip(depart=datetime(2027, 7, 14, 8, 0))
    for sun in daylight_of(trip, cast(Ride, ride), ZoneInfo("Atlantic/Faroe")):
        assert sun.sunrise_s < 12 * 3600 < sun.sunset_s < sun.dusk_s < 27 * 3600


def test_where_twilight_lasts_all_night_no_day_is_called_dark() -> None:
    """At 62 N on 20 June the sun sets at 23:25 and stands 4.6 degrees below the horizon at its
    lowest (90 - 62.0 - 23.4): within civil twilight."""
    ride = SimpleNamespace(lonlat=lambda _: (-6.77, 62.01))
    trip = terrain.Trip(depart=datetime(2027, 6, 20, 23, 30))
    assert daylight_of(trip, cast(Ride, ride), ZoneInfo("Atlantic/Faroe")) == ()


def test_an_old_note_counts_less_also_without_a_day_of_travel(island_home: Path) -> None:
    """Without a date the notes age to the day of the report."""
    region, route = terrain.open_region("island", island_home), _route(island_home)
    made_at = datetime(2027, 7, 14, tzinfo=UTC)
    plain = terrain.assess(route, region, made_at=made_at).assessed.ground.stretches
    way_id = max(plain, key=lambda s: (s.p or (0.0,))[0]).way_id
    assert way_id is not None

    def track_with(noted: date) -> float:
        note = GroundNote(way_id=way_id, ground=GroundKind.TRACK, noted=noted)
        ground = terrain.assess(route, region, notes=[note], made_at=made_at).assessed.ground
        return max(s.p[2] for s in ground.stretches if s.way_id == way_id and s.p)

    assert track_with(date(2007, 7, 14)) < 0.5 < track_with(date(2027, 7, 1))


def test_a_departure_with_a_zone_is_told_by_the_clock_of_the_start(island_home: Path) -> None:
    region, route = terrain.open_region("island", island_home), _route(island_home)
    utc = terrain.Trip(depart=datetime(2027, 7, 14, 3, 0, tzinfo=UTC))
    told = terrain.assess(route, region, utc).to_dict()
    assert told["trip"]["depart"] == "2027-07-14T09:00:00"  # the island lies at UTC+6
    assert told["days"][0]["start"] == "09:00"
    assert told["heat"]["basis"]["depart"] == "2027-07-14T09:00+06:00"


def test_heat_and_plan_ride_by_one_clock(island_home: Path) -> None:
    """Every place is passed on the plan's day, near the plan's hour, in the heat too."""
    region = terrain.open_region("island", island_home)
    route = terrain.read_route(island_home / "demo" / "routes" / "high-tracks.gpx")
    depart = datetime(2027, 6, 14, 7, 30)
    told = terrain.assess(route, region, terrain.Trip(depart=depart)).to_dict()
    days = told["days"]
    assert len(days) > 1
    for day in days:
        passed = [
            datetime.fromisoformat(row["at"])
            for row in told["heat"]["stretches"]
            if row["from_m"] >= day["from_m"] and row["to_m"] <= day["to_m"]
        ]
        assert {moment.date() for moment in passed} == {
            depart.date() + timedelta(days=day["number"] - 1)
        }
        for clock, end in ((passed[0], "start"), (passed[-1], "end")):
            hour, minute = map(int, day[end].split(":"))
            assert abs(clock.hour * 60 + clock.minute - hour * 60 - minute) <= 45
