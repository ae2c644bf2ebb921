"""A ride against its plan: which of it was on plan, by roads drawn by hand."""

from __future__ import annotations

import pytest

from terrain.stages.ridden.compare import compare
from tests.stages.ridden.lines import OFF_MAP, east


@pytest.mark.parametrize("north_m", [20.0, -20.0, 40.0])
def test_the_road_beside_the_planned_one_is_not_the_plan(north_m: float) -> None:
    """On the map it is the road that counts, not how near its line is."""
    told = compare(east(1_000.0, 1, north_m=north_m), east(1_000.0, 0))
    assert told.off.tolist() == [[0.0, 1_000.0]] == told.missed.tolist()
    assert told.common_m == 0.0
    same = compare(east(1_000.0, 0), east(1_000.0, 0))
    assert same.off.tolist() == [] == same.missed.tolist()
    assert same.common_m == pytest.approx(1_000.0)


@pytest.mark.parametrize(("ride", "plan"), [(OFF_MAP, 0), (0, OFF_MAP), (OFF_MAP, OFF_MAP)])
@pytest.mark.parametrize(("north_m", "on_plan"), [(29.0, True), (31.0, False)])
def test_off_the_map_a_ride_within_30_m_of_the_planned_line_is_on_plan(
    ride: int, plan: int, north_m: float, on_plan: bool
) -> None:
    """30 m: common practice, no source."""
    told = compare(east(1_000.0, ride, north_m=north_m), east(1_000.0, plan))
    assert told.common_m == pytest.approx(1_000.0 if on_plan else 0.0)
    assert told.off.tolist() == ([] if on_plan else [[0.0, 1_000.0]])
