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
        ("tertiary", _CLOSED, (1.02 * 1.1, 0.85 * 5.6, 1.06 * 2.1)),
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
