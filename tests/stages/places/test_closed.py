"""All that tags close on a ride: its sum, its tags, its ways. Source: OSM wiki, Key:access."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path
from zoneinfo import ZoneInfo

import numpy as np
import pytest

from terrain.region.osm import read_osm
from terrain.stages.places import places_along, shut_by_clock
from terrain.stages.places.areas import closed_parts, ferries_without_cars
from terrain.values.clock import RideClock
from terrain.values.closed import ClosedPart, Closure, closed_by_tag, closed_m, closed_on
from tests.stages.tinymap import PAVED, TinyMap

ROAD = {"highway": "unclassified", "surface": "asphalt"}


def _closed(folder: Path, tag_sets: list[dict[str, str]]) -> tuple[ClosedPart, ...]:
    """A ride along ways of 2 km each with these tags."""
    names = [f"N{i}" for i in range(len(tag_sets) + 1)]
    tiny = TinyMap(nodes={name: (2_000.0 * i, 0.0) for i, name in enumerate(names)})
    for i, tags in enumerate(tag_sets):
        tiny.way(names[i : i + 2], tags)
    region = tiny.read(folder)
    return closed_parts(region.ride(*names).match, region.roads)


@pytest.mark.parametrize("key", ["access", "vehicle", "motor_vehicle", "motorcycle"])
@pytest.mark.parametrize(
    ("value", "closure"),
    [
        ("no", Closure.NO_MOTORCYCLE), ("forestry", Closure.NO_MOTORCYCLE),
        ("agricultural", Closure.NO_MOTORCYCLE), ("military", Closure.NO_MOTORCYCLE),
        ("private", Closure.BY_LEAVE), ("customers", Closure.BY_LEAVE),
        ("delivery", Closure.BY_LEAVE), ("permit", Closure.BY_LEAVE),
        ("destination", Closure.THROUGH), ("yes", None), ("permissive", None),
    ],
)  # fmt: skip
def test_closed_by_access(tmp_path, key: str, value: str, closure: Closure | None) -> None:
    found = _closed(tmp_path, [ROAD, {**ROAD, key: value}, ROAD])
    if closure is None:
        assert found == ()
        return
    (part,) = found
    assert (part.closure, part.tag, part.way_ids) == (closure, f"{key}={value}", (2,))
    assert part.length_m == pytest.approx(2_000, abs=5)


@pytest.mark.parametrize("highway", ["footway", "cycleway", "bridleway", "path"])
@pytest.mark.parametrize("leave", [{}, {"motor_vehicle": "yes"}, {"motorcycle": "designated"}])
def test_paths_are_closed_without_leave(tmp_path, highway: str, leave: dict[str, str]) -> None:
    way = {"highway": highway, "surface": "gravel", **leave}
    found = _closed(tmp_path, [ROAD, way, ROAD])
    assert [part.tag for part in found] == ([] if leave else [f"highway={highway}"])


def test_steps_are_closed_whatever_leave_is_tagged(tmp_path) -> None:
    """No motorcycle climbs a flight of steps: common practice, no source."""
    found = _closed(tmp_path, [ROAD, {"highway": "steps", "motorcycle": "yes"}, ROAD])
    assert [part.tag for part in found] == ["highway=steps"]


def test_a_ferry_that_takes_no_cars_is_no_closed_road(tmp_path) -> None:
    """It may take motorcycles: OSM wiki, Key:access. A road with the same tag is open to them."""
    tiny = TinyMap(nodes={f"N{i}": (2_000.0 * i, 0.0) for i in range(4)})
    tags: tuple[dict[str, str], ...] = ({**ROAD, "motorcar": "no"}, {"route": "ferry"}, ROAD)
    for i, way in enumerate(tags):
        tiny.way([f"N{i}", f"N{i + 1}"], way | ({"motorcar": "no"} if i < 2 else {}))
    region = tiny.read(tmp_path)
    match = region.ride("N0", "N1", "N2", "N3").match
    assert closed_parts(match, region.roads) == ()
    ((from_m, to_m),) = ferries_without_cars(match, region.roads)
    assert (from_m, to_m) == pytest.approx((2_000, 4_000), abs=10)


@pytest.mark.parametrize(
    ("tags", "tag"),
    [
        ({"highway": "construction", "construction": "primary"}, "highway=construction"),
        ({"highway": "primary", "construction": "yes"}, "construction=yes"),
        ({"highway": "primary", "construction": "primary"}, "construction=primary"),
        ({"highway": "primary", "construction": "minor"}, None),
        ({"highway": "primary", "construction": "no"}, None),
        ({"highway": "proposed", "proposed": "primary"}, "highway=proposed"),
    ],
)
def test_works_and_plans_close(tmp_path, tags: dict[str, str], tag: str | None) -> None:
    """Source: OSM wiki, Key:construction and Tag:highway=proposed; from memory."""
    found = _closed(tmp_path, [ROAD, {**tags, "surface": "asphalt"}, ROAD])
    assert [part.tag for part in found] == ([] if tag is None else [tag])


def test_the_most_specific_key_decides(tmp_path) -> None:
    """Source: OSM wiki, Key:access: the most specific key wins."""
    opened = {**ROAD, "access": "no", "motorcycle": "yes"}
    shut = {**ROAD, "access": "yes", "motor_vehicle": "forestry"}
    assert [part.tag for part in _closed(tmp_path, [opened, shut, ROAD])] == [
        "motor_vehicle=forestry"
    ]


@pytest.mark.parametrize(
    ("where", "closed"), [("first", 0), ("last", 0), ("middle", 1), ("first two", 0)]
)
def test_a_way_to_a_destination_is_closed_off_the_ends_only(
    tmp_path, where: str, closed: int
) -> None:
    dead_end = {**ROAD, "access": "destination"}
    ways = {
        "first": [dead_end, ROAD, ROAD], "last": [ROAD, ROAD, dead_end],
        "middle": [ROAD, dead_end, ROAD], "first two": [dead_end, dead_end, ROAD],
    }[where]  # fmt: skip
    assert len(_closed(tmp_path, ways)) == closed


def test_all_of_it_is_summed_by_tag_and_by_day(tmp_path) -> None:
    """One metre in two is closed: 27 of 54 ways of 2 km, by two tags."""
    forest, track = {**ROAD, "access": "forestry"}, {**ROAD, "motor_vehicle": "no"}
    parts = _closed(
        tmp_path, [way for i in range(27) for way in (ROAD, (forest, track)[i % 3 == 0])]
    )
    assert closed_m(parts) == pytest.approx(54_000, abs=50)
    assert [(tag, round(m, -3)) for tag, m in closed_by_tag(parts)] == [
        ("access=forestry", 36_000), ("motor_vehicle=no", 18_000),
    ]  # fmt: skip
    assert sum(len(part.way_ids) for part in parts) == 27
    days = [closed_on(parts, a, b) for a, b in ((0, 35_000), (35_000, 108_200))]
    assert sum(map(closed_m, days)) == pytest.approx(closed_m(parts))
    assert days[0][-1].to_m == 35_000  # a part over the night is cut at it


def test_a_paved_road_with_no_tag_closes_nothing(tmp_path) -> None:
    assert _closed(tmp_path, [PAVED, ROAD]) == ()


_AT_TIMES = [
    # Friday 15 January 2027 at 22:30; the ride passes within the hour.
    ("access:conditional", "no @ (Nov-Apr)", True),
    ("access:conditional", "no @ (May-Oct)", False),
    ("motor_vehicle:conditional", "no @ (Sa,Su 08:00-18:00)", False),
    ("motorcycle:conditional", "no @ (22:00-06:00)", True),
    ("vehicle:conditional", "no @ (22:00-06:00); yes @ (Fr)", False),
    ("access:conditional", "destination @ (Jan)", True),  # the ride goes through
    ("access:conditional", "no @ (weight>3.5)", False),
    ("access:conditional", "no @ snow", None),
    ("access:forward:conditional", "no @ (Nov-Apr)", None),
    ("hgv:conditional", "no @ Jan", False),
    ("surface:conditional", "mud @ wet", False),
]


@pytest.mark.parametrize(("key", "value", "shut"), _AT_TIMES)
def test_what_is_closed_at_times_is_closed_when_the_ride_passes_then(
    tmp_path, key: str, value: str, shut: bool | None
) -> None:
    """Source: OSM wiki, Conditional restrictions."""
    assert _passed(tmp_path, {key: value}, datetime(2027, 1, 15, 22, 30)) is shut


def test_who_ends_on_a_way_open_to_a_destination_at_times_may_ride_it(tmp_path) -> None:
    """Source: OSM wiki, Key:access, value destination."""
    way = {"access": "no", "access:conditional": "destination @ (Jan)"}
    moment = datetime(2027, 1, 15, 22, 30)
    assert _passed(tmp_path, way, moment) is True
    assert _passed(tmp_path, way, moment, path="ABC") is False
    timed = {"access:conditional": "destination @ (Jan)"}
    assert _passed(tmp_path, timed, moment, path="ABC") is False


@pytest.mark.parametrize(
    ("value", "shut"), [("no @ (Nov-Apr)", None), ("no @ (weight>3.5)", False), ("no @ 24/7", True)]
)
def test_without_a_day_a_condition_is_open(tmp_path, value: str, shut: bool | None) -> None:
    assert _passed(tmp_path, {"access:conditional": value}, None) is shut


def test_on_a_later_day_the_condition_is_judged_for_that_day(tmp_path) -> None:
    """A night at km 2: the way from there on is ridden on Saturday morning."""
    way = {"access:conditional": "no @ (Sa 08:00-10:00)"}
    assert _passed(tmp_path, way, datetime(2027, 1, 15, 22, 30), night_m=2_000.0) is True


@pytest.mark.parametrize(
    ("tags", "shut"),
    [
        # Closed but for some months: Friday 15 January at 22:30, and the middle of July.
        ({"motor_vehicle": "no", "motor_vehicle:conditional": "yes @ (Jan)"}, False),
        ({"access": "private", "motorcycle:conditional": "permissive @ (Nov-Apr)"}, False),
        ({"access": "no", "access:conditional": "yes @ (Jul)"}, True),
        ({"access": "no", "access:conditional": "yes @ dry"}, True),
        ({"access": "no", "access:forward:conditional": "yes @ (Jan)"}, True),
        # The most specific key wins.
        ({"motorcycle": "no", "access:conditional": "yes @ (Jan)"}, True),
    ],
)  # fmt: skip
def test_what_is_closed_but_at_times_is_open_when_the_ride_passes_then(
    tmp_path, tags: dict[str, str], shut: bool
) -> None:
    """Source: OSM wiki, Conditional restrictions and Key:access."""
    assert _passed(tmp_path, tags, datetime(2027, 1, 15, 22, 30)) is shut
    assert _passed(tmp_path, tags, None) is True


def test_of_two_conditions_that_of_motorcycles_is_read(tmp_path) -> None:
    way = {"access:conditional": "no @ (Jan)", "motorcycle:conditional": "yes @ (Jan)"}
    assert _passed(tmp_path, way, datetime(2027, 1, 15, 9)) is False


def _passed(
    folder: Path, tags: dict[str, str], depart: datetime | None, night_m: float | None = None,
    path: str = "ABCD",
) -> bool | None:  # fmt: skip
    """Whether 2 km with the tags, B to C of a path, are shut; None if they may be."""
    tiny = TinyMap(nodes={name: (2_000.0 * i, 0.0) for i, name in enumerate("ABCD")})
    for pair, more in (("AB", {}), ("BC", tags), ("CD", {})):
        tiny.way(pair, {**ROAD, **more})
    region = tiny.read(folder)
    laid = region.ride(*path).match
    along = places_along(laid, region.roads, region.places, None)
    nights = [] if night_m is None else [night_m]
    clock = RideClock(
        knot_m=np.array([0.0, laid.length_m]), knot_s=np.array([0.0, 1_800.0]),
        night_m=np.array(nights), start_s=np.array([22.5 * 3600, *(9.0 * 3600 for _ in nights)]),
        back_s=np.zeros(1 + len(nights)), zone=ZoneInfo("UTC"),
    )  # fmt: skip
    then = shut_by_clock(along, clock, depart)
    found = (*then.closed, *then.at_times)
    assert all(part.from_m == pytest.approx(2_000, abs=5) for part in found)
    assert all(part.way_ids == (2,) for part in found)
    assert len(found) <= 1
    return None if then.at_times else bool(then.closed)


@pytest.mark.parametrize(
    ("tags", "kind", "shut"),
    [
        ({"barrier": "gate"}, "barrier", False), ({"barrier": "cattle_grid"}, None, False),
        ({"barrier": "gate", "locked": "yes"}, "barrier", True),
        ({"barrier": "gate", "locked": "no"}, "barrier", False),
        ({"barrier": "stile"}, "barrier", True),
        ({"barrier": "motorcycle_barrier"}, "barrier", True),
        ({"barrier": "cycle_barrier"}, "barrier", False),
        ({"barrier": "lift_gate", "access": "private"}, "barrier", True),
        ({"barrier": "bollard", "access": "no", "motor_vehicle": "permissive"}, None, False),
        ({"barrier": "gate", "access": "yes", "motorcycle": "no"}, "barrier", True),
        ({"barrier": "border_control", "access": "no"}, "border", False),
    ],
)  # fmt: skip
def test_a_barrier_is_shut_by_its_tags_alone(
    tmp_path, tags: dict[str, str], kind: str | None, shut: bool
) -> None:
    """Source: OSM wiki, Key:barrier, Key:locked, Key:access."""
    tiny = TinyMap(nodes={name: (2_000.0 * i, 0.0) for i, name in enumerate("ABC")})
    tiny.way("AB", ROAD).way("BC", ROAD)
    tiny.spot((2_000.0, 0.0), **tags)
    path = tiny.write(tmp_path / "tiny.osm")
    # The spot is the node of the road itself.
    path.write_text(path.read_text().replace('ref="2"', 'ref="1001"'))
    data = read_osm((path,), lambda step, share: None)
    laid = tiny.read(tmp_path).ride(*"ABC").match
    nodes = places_along(laid, data.roads, data.places, None).nodes
    assert [(node.kind, node.shut) for node in nodes] == ([] if kind is None else [(kind, shut)])
