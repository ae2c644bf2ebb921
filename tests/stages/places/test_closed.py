"""All that tags close on a ride: its sum, its tags, its ways. Source: OSM wiki, Key:access."""

from __future__ import annotations

from pathlib import Path

import pytest

from terrain.stages.places.areas import closed_parts
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
