"""Recorded rides on the invented island, where every turn and second is known."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, datetime
from pathlib import Path

import numpy as np
import pytest
from jsonschema import Draft202012Validator

import terrain
from terrain.errors import TrackError
from terrain.flow import match
from terrain.inputs.tracks import read_track
from terrain.region.region import Region
from terrain.report.data.jsonfile import schema
from terrain.report.ride.text import ridden_text
from terrain.values.learned import Learned, LearnedWay
from terrain.values.ridden import TRIMMED_M, Ridden
from terrain.values.track import Track
from terrain.values.trip import Rider, Trip
from terrain.values.verdict import FindingKind, Rank
from tests.ride_sim import Habits, Maker, Recording, TrueRide


@pytest.fixture(scope="module")
def region(island_home: Path) -> Region:
    return terrain.open_region("island", island_home)


def _made(region: Region, seed: int, every_s: float, habits: Habits) -> tuple[TrueRide, Recording]:
    maker = Maker(region.roads, region.ground.p, np.random.default_rng(seed))
    route = terrain.read_route(Path("sample_routes") / "valleys-and-passes.gpx")
    ride = maker.ride(match(route, region), habits)
    return ride, maker.record(ride, every_s)


@pytest.fixture(scope="module")
def made(region: Region) -> tuple[TrueRide, Recording]:
    return _made(region, 3, 10.0, Habits(factor=(1.1, 1.3, 1.3)))


@pytest.fixture(scope="module")
def read(region: Region, made: tuple[TrueRide, Recording]) -> Ridden:
    return terrain.ridden(made[1].track, region, made[0].plan, Trip(rider=Rider.STEADY))


def test_times_are_those_of_the_ride(made: tuple[TrueRide, Recording], read: Ridden) -> None:
    ride, record = made
    kept = (record.from_m + TRIMMED_M, record.to_m - TRIMMED_M)
    assert read.length_m == pytest.approx(kept[1] - kept[0], rel=0.005)
    assert read.moving_s == pytest.approx(ride.moving_s(*kept), rel=0.02)
    assert read.standing_s == pytest.approx(ride.standing_s(*kept), abs=60.0)
    long = ride.rest_m[(ride.rest_s >= 200.0) & (ride.rest_m > kept[0]) & (ride.rest_m < kept[1])]
    assert len(read.stops) >= len(long) > 0
    for at in long - kept[0]:
        assert min(abs(stop.at_m - at) for stop in read.stops) < 100.0


@pytest.mark.parametrize(("every_s", "most"), [(5.0, 0.01), (60.0, 0.04), (300.0, 0.15)])
def test_times_at_other_samplings(region: Region, every_s: float, most: float) -> None:
    """Moving time of one ride; over 30 rides by `tests/bench/rides.py` it errs by half of that."""
    ride, record = _made(region, 3, every_s, Habits(factor=(1.1, 1.3, 1.3)))
    read = terrain.ridden(record.track, region, ride.plan, Trip(rider=Rider.STEADY))
    true_s = ride.moving_s(record.from_m + TRIMMED_M, record.to_m - TRIMMED_M)
    assert read.moving_s == pytest.approx(true_s, rel=most)
    assert read.moving_low_s < true_s < read.moving_high_s
    rough = [str(problem.what) for problem in read.problems if problem.code == "rough-times"]
    assert bool(rough) == (every_s == 300.0)


def test_fixes_that_no_rider_could_reach_are_one_error(region: Region, tmp_path: Path) -> None:
    """Two fixes 6.5 km apart within a minute: a line with times put in, no recording."""
    route = terrain.read_route(Path("sample_routes") / "valleys-and-passes.gpx")
    away = np.cumsum(np.hypot(np.diff(route.lon), np.diff(route.lat)) * 111_000.0)
    end = int(np.searchsorted(away, 9_000.0))
    fixes = "".join(
        f'<trkpt lat="{route.lat[i]}" lon="{route.lon[i]}"><time>2027-03-14T08:0{m}:00Z</time>'
        "</trkpt>"
        for m, i in enumerate((0, end))
    )
    path = tmp_path / "two.gpx"
    head = '<gpx version="1.1" creator="t" xmlns="http://www.topografix.com/GPX/1/1">'
    path.write_text(f"{head}<trk><trkseg>{fixes}</trkseg></trk></gpx>")
    with pytest.raises(TrackError, match="leaps over all of") as told:
        terrain.ridden(read_track(path), region)
    assert told.value.where == "two.gpx" and "a fix each five minutes" in str(told.value)


def test_parts_are_gapless_and_add_up(read: Ridden) -> None:
    assert read.parts[0].from_m == 0.0
    assert read.parts[-1].to_m == pytest.approx(read.length_m)
    for one, other in zip(read.parts, read.parts[1:], strict=False):
        assert one.to_m == other.from_m
    assert sum(part.moving_s or 0.0 for part in read.parts) == pytest.approx(read.moving_s)
    assert sum(part.expected_s for part in read.parts) == pytest.approx(read.expected_s)
    by_ground = sum(time.moving_s for time in read.times if time.by == "ground")
    assert by_ground == pytest.approx(read.moving_s)


def test_where_the_plan_was_left(made: tuple[TrueRide, Recording], read: Ridden) -> None:
    ride, _ = made
    assert read.plan is not None
    found: dict[int, float] = {}
    for item in read.plan.leavings:
        for way, m in item.ways:
            found[way] = found.get(way, 0.0) + m
    both = sum(min(m, ride.off.get(way, 0.0)) for way, m in found.items())
    assert sum(ride.off.values()) > 1_000.0
    assert both > 0.95 * sum(ride.off.values())
    assert both > 0.9 * sum(found.values())
    assert read.plan.off_plan_m == pytest.approx(sum(ride.off.values()), rel=0.1)


def test_json_is_the_contract(
    read: Ridden, region: Region, made: tuple[TrueRide, Recording]
) -> None:
    Draft202012Validator.check_schema(schema("terrain-ridden-1"))
    validator = Draft202012Validator(schema("terrain-ridden-1"))
    facts = read.to_dict()
    assert [error.message for error in validator.iter_errors(facts)] == []
    keys = {"moving_s", "standing_s", "length_m", "stops", "off_plan_m", "missed_m", "parts",
            "problems"}  # fmt: skip
    assert keys <= set(facts)
    assert {"at_m", "from", "to", "lon", "lat"} <= set(facts["stops"][0])
    assert {"from_m", "to_m", "way_id", "ground", "moving_s", "expected_s"} <= set(
        facts["parts"][0]
    )
    for stop in facts["stops"]:
        assert datetime.fromisoformat(stop["from"]).tzinfo is not None
    without = terrain.ridden(made[1].track, region).to_dict()
    assert without["off_plan_m"] is None
    assert without["missed_m"] is None
    assert [error.message for error in validator.iter_errors(without)] == []


def test_nothing_of_the_ends_is_told(
    made: tuple[TrueRide, Recording], read: Ridden, region: Region
) -> None:
    track = made[1].track
    assert all(0.0 <= stop.at_m <= read.length_m for stop in read.stops)
    # A rest at home, before the ride sets off, is no stop of it.
    still = replace(
        track,
        time_s=np.concatenate(
            [track.time_s[0] - 600.0 + np.arange(0.0, 600.0, 10.0), track.time_s]
        ),
        lon=np.concatenate([np.full(60, track.lon[0]), track.lon]),
        lat=np.concatenate([np.full(60, track.lat[0]), track.lat]),
        ele_m=np.full(track.n_fixes + 60, np.nan),
        piece=np.zeros(track.n_fixes + 60, dtype=np.int32),
    )
    assert len(terrain.ridden(still, region, made[0].plan).stops) == len(read.stops)


def test_a_part_the_clock_does_not_tell_is_not_known(
    made: tuple[TrueRide, Recording], region: Region
) -> None:
    track = made[1].track
    middle = track.n_fixes // 2
    piece = np.where(np.arange(track.n_fixes) >= middle, 1, 0).astype(np.int32)
    late = np.where(piece == 1, 50_000.0, 0.0)
    broken = replace(track, time_s=track.time_s + late, piece=piece)
    read = terrain.ridden(broken, region)
    whole = terrain.ridden(track, region)
    assert read.moving_s == pytest.approx(whole.moving_s, abs=30.0)
    assert read.standing_s == pytest.approx(whole.standing_s, abs=30.0)


def test_a_plan_of_another_trip_and_a_short_ride(
    made: tuple[TrueRide, Recording], region: Region
) -> None:
    other = terrain.read_route(Path("sample_routes") / "coast-road.gpx")
    track = made[1].track
    short = np.arange(60)
    little = Track(
        name="short", time_s=track.time_s[short], lon=track.lon[short],
        lat=track.lat[0] + 1e-6 * (track.lat[short] - track.lat[0]), ele_m=track.ele_m[short],
        piece=track.piece[short], source="short.gpx",
    )  # fmt: skip
    with pytest.raises(TrackError, match=r"1\.5 km"):
        terrain.ridden(little, region)
    try:
        told = terrain.ridden(track, region, other)
    except TrackError as fault:
        assert "plan" in fault.what
    else:
        assert "little-of-the-plan" in [problem.code for problem in told.problems]


def test_the_text_says_time_ground_and_plan(read: Ridden) -> None:
    text = ridden_text(read)
    assert "riding" in text
    assert "gravel" in text
    assert "Against the plan" in text
    assert len(text.split("\n")) < 40


def test_what_riders_found_shut_is_a_danger_of_the_next_ride(region: Region) -> None:
    route = terrain.read_route(Path("sample_routes") / "coast-road.gpx")
    way_id, length_m = max(match(route, region).ways, key=lambda item: item[1])
    shut = LearnedWay(
        way_id=way_id, ground=None, p=None, trust=0.0, said=(), shut=2, witnesses=2, against=0,
        last_day=date(2027, 3, 14), against_map=False,
    )  # fmt: skip
    before = terrain.assess(route, region).verdict.findings
    after = terrain.assess(route, region, learned=Learned(ways=(shut,))).verdict.findings
    (new,) = [f for f in after if f.kind is FindingKind.CLOSED and f not in before]
    assert new.rank is Rank.DANGER
    assert new.what.startswith("Riders found ")
    assert "14 March 2027" in new.what
    assert sum(part.to_m - part.from_m for part in new.parts) >= length_m - 1.0
