"""Weights of the ways, worked out one by one."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from terrain.stages.matching.params import StepMode, class_rates, kind_rates
from terrain.values.views import WayFlag
from tests.stages.ground.handmade import DrawnWay, way_table

_CLOSED = int(WayFlag.NO_MOTORCYCLE)


@pytest.mark.parametrize(
    ("highway", "flags", "plain"),
    [
        ("tertiary", 0, (1.02, 0.85, 1.06)),
        ("track", 0, (1.12, 2.55, 1.2)),
        ("tertiary", _CLOSED, (1.02 * 1.1, 0.85 * 5.6, 1.06 * 1.25)),
        ("service", 0, (1.4, 3.75, 2.05)),
        ("footway", _CLOSED, (2.4 * 1.1, 12.0, 5.0)),  # no more than the search goes
    ],
)
@pytest.mark.parametrize("oneway", [0, 1, -1])
def test_weight_of_a_metre_along_and_against_a_way(
    highway: str, flags: int, plain: tuple[float, float, float], oneway: int
) -> None:
    other = DrawnWay(way_id=1, start=(0, 0), end=(1, 0), tags={"highway": "motorway"})
    way = DrawnWay(way_id=2, start=(0, 0), end=(1, 0), flags=flags, tags={"highway": highway})
    ways = replace(way_table([other, way]), oneway=np.array([0, oneway], np.int8))
    rates = kind_rates(ways, np.array([1, 0], np.int32))
    assert rates.shape == (len(StepMode), 4)
    fond = 0.3 if highway == "track" else 1.0  # between points on tracks
    shut = 5.6 if flags else 1.0
    alike = plain[1] if highway == "footway" else shut  # any road of the same weight
    right = [*plain, fond * plain[1], alike]
    wrong = [
        4.0 * plain[0], 20.0 * plain[1], 5.0 * plain[2], 20.0 * fond * plain[1], 20.0 * alike
    ]  # fmt: skip
    assert rates[:, 0].tolist() == pytest.approx(wrong if oneway < 0 else right)
    assert rates[:, 1].tolist() == pytest.approx(wrong if oneway > 0 else right)


def test_greater_roads_weigh_no_more_and_what_is_no_road_more_than_any() -> None:
    """Main roads in their order; paths, bridleways and cycleways alike. By each StepMode but that
    of any road, to which all roads are the same."""
    mains = ("motorway", "trunk", "primary", "secondary", "tertiary", "unclassified")
    roads = (*mains, "residential", "living_street", "service", "track", "ferry")
    paths = ("path", "bridleway", "cycleway", "pedestrian", "footway", "steps")
    rates = class_rates((*roads, *paths))
    for mode in (StepMode.SHOWN, StepMode.GUESSED, StepMode.ROUGH, StepMode.OFF_ROAD):
        row = rates[mode].tolist()
        assert row[: len(mains)] == sorted(row[: len(mains)])
        assert max(row[: len(roads)]) < min(row[len(roads) :])
        path, bridleway, cycleway = row[len(roads) : len(roads) + 3]
        assert path == bridleway == cycleway
    assert set(rates[StepMode.ANY_ROAD, : len(roads)].tolist()) == {1.0}
    links = tuple(f"{road}_link" for road in mains[:-1])
    for mode in (StepMode.SHOWN, StepMode.GUESSED, StepMode.ROUGH):
        pairs = zip(class_rates(links)[mode], class_rates(mains)[mode], strict=False)
        assert all(link > road for link, road in pairs)


@pytest.mark.parametrize(
    ("highway", "least_kph", "most_kph"),
    [
        ("unclassified", 40, 50), ("residential", 25, 35), ("road", 25, 35),
        ("living_street", 12, 20), ("service", 10, 15), ("track", 15, 20), ("ferry", 15, 25),
        ("pedestrian", 5, 7), ("path", 4, 6), ("footway", 3.5, 5), ("steps", 0.6, 1.0),
        ("of no known class", 12, 20),
    ],
)  # fmt: skip
def test_where_the_way_is_guessed_minor_ways_weigh_by_a_plausible_speed(
    highway: str, least_kph: float, most_kph: float
) -> None:
    """45 over the speed in km/h: a 30 zone, walking pace in a living street and on foot, a ferry
    at ten knots. Common practice, no source."""
    assert least_kph <= 45.0 / class_rates((highway,))[StepMode.GUESSED, 0] <= most_kph


def test_of_all_roads_a_service_road_weighs_most_and_a_bare_stair_of_all_ways() -> None:
    minor = ("unclassified", "residential", "living_street", "service")
    others = ("road", "track", "ferry", "of no known class")
    rates = class_rates((*minor, *others))
    for mode in (StepMode.SHOWN, StepMode.GUESSED, StepMode.ROUGH):
        row = rates[mode].tolist()
        assert row[: len(minor)] == sorted(row[: len(minor)])
        assert max(row) == row[len(minor) - 1]
        assert row[len(minor)] == row[1]  # of a road of unknown kind as of a street
    # Clicks a few hundred metres apart along a track mean the track.
    assert rates[StepMode.ROUGH, len(minor) + 1] < rates[StepMode.ROUGH, 1]
    feet = class_rates(("pedestrian", "path", "footway", "steps"))
    assert (np.diff(feet, axis=1) >= 0).all()


@pytest.mark.parametrize("highway", ["pedestrian", "path", "bridleway", "cycleway", "footway"])
def test_a_rough_line_tells_more_of_no_road_than_none_and_less_than_a_drawn_one(
    highway: str,
) -> None:
    """Weights of ways that no motor is meant for lie a sixth under the geometric mean of the two
    (measured on lines of known ways, tests/bench/matching.py)."""
    shown, guessed, rough = class_rates((highway,))[:3, 0]
    assert rough / np.sqrt(shown * guessed) == pytest.approx(5 / 6, abs=0.035)


@pytest.mark.parametrize(
    "flag",
    [
        WayFlag.NO_MOTORCYCLE, WayFlag.PRIVATE, WayFlag.UNDER_CONSTRUCTION, WayFlag.PROPOSED,
        WayFlag.ICE_ROAD, WayFlag.DISUSED,
    ],
)  # fmt: skip
def test_what_is_shut_weighs_more_the_less_the_line_shows_it(flag: WayFlag) -> None:
    """By the same measure; what works or nobody has built yet weighs more than a private road."""
    ways = way_table([
        DrawnWay(way_id=1, start=(0, 0), end=(1, 0), tags={"highway": "primary"}, flags=int(f))
        for f in (flag, 0, WayFlag.PRIVATE)
    ])  # fmt: skip
    rates = kind_rates(ways, np.arange(3, dtype=np.int32))[:3, ::2]
    shown, guessed, rough = rates[:, 0] / rates[:, 1]
    assert shown < rough < guessed
    if flag is WayFlag.NO_MOTORCYCLE:
        # Little more than where it is drawn: the open track beside it is another road.
        assert rough <= 1.25 * shown
    else:
        assert rough / np.sqrt(shown * guessed) == pytest.approx(5 / 6, abs=0.035)
        assert (rates[:, 0] >= rates[:, 2]).all()
