"""What the speed of a ride's stretch is taken from: its way, its limit, where it lies."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from terrain.stages.ground.judge import ground_along
from terrain.stages.speed import judge_speed
from terrain.stages.ways.fit import fit_way_ground
from terrain.values.match import LegKind
from terrain.values.trip import Luggage, Trip
from terrain.values.views import PLACE_KINDS, PlaceKind
from tests.assessed import RELIEF
from tests.stages.ground.handmade import DrawnWay, places, ride, roads

_TRIP = Trip(luggage=Luggage.NONE)
_AT_M = np.linspace(0.0, 20_000.0, 2_001)
_LEVEL = replace(
    RELIEF, at_m=_AT_M, ele_m=0 * _AT_M, grade_pct=0 * _AT_M, basis=np.zeros(2_001, np.int8)
)


def _kph(*ways: dict[str, str], spots: tuple[tuple[int, float, float], ...] = ()) -> list[float]:
    """Speeds over ways of 2 km in a row, 5 km off the map after them, and 5 km on a ferry."""
    view = roads([
        DrawnWay(way_id=9 + i, start=(2e3 * i, 0), end=(2e3 * i + 2e3, 0), tags=tags)
        for i, tags in enumerate(ways)
    ])  # fmt: skip
    off = [(LegKind.UNMAPPED, 5e3), (LegKind.FERRY, 5e3)]
    match = ride(view, [*range(len(ways)), *off])
    ground = ground_along(match, view, fit_way_ground(view, places()))
    speeds = judge_speed(match, ground, _LEVEL, places(spots), view, trip=_TRIP).speeds
    return speeds.speed_kph.tolist()


def test_speed_of_each_stretch() -> None:
    """Limits are ridden at 92 %, streets and settlements at no more than 40 km/h (tables/speed)."""
    sealed = {"surface": "asphalt", "maxspeed": "100"}
    free, street = ({"highway": name, **sealed} for name in ("tertiary", "residential"))
    slow = {**free, "maxspeed": "30"}
    limited, open_road, town, off_map, ferry = _kph(slow, free, street)
    for kph, most in ((limited, 0.92 * 30), (town, 40.0)):
        assert 0.9 * most < kph <= most
    assert open_road > 50.0
    # What is off the map has no limit, whichever way comes last; the ferry goes its own speed.
    assert _kph(free, slow)[-2:] == pytest.approx([off_map, ferry])
    village = (PLACE_KINDS.index(PlaceKind.VILLAGE), 3e3, 0.0)
    held = _kph(slow, free, street, spots=(village,))
    assert held[:1] + held[2:] == pytest.approx([limited, town, off_map, ferry])
    assert 36.0 < held[1] <= 40.0
    rough, fair, _, _ = _kph({"highway": "track", "smoothness": "horrible"}, {"highway": "track"})
    assert rough < 0.9 * fair
