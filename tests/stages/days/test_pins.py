"""Where a guide's wish lies along a ride, and which cannot be had: by hand."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from terrain.stages.days.pins import pinned_nights, position_of, with_days
from terrain.values.plan import PinnedNight, PinnedStop, Pins

LENGTH_M = 20_000.0


def test_days_of_a_file_end_where_its_lines_end_unless_the_guide_says_otherwise() -> None:
    nan = np.nan
    match: Any = SimpleNamespace(point_at_m=np.array([0.0, 900.0, nan, 2_000.0, 3_000.0]))
    route: Any = SimpleNamespace(day_starts=(3, 4), source="tour.gpx")
    assert [(n.day, n.at_m) for n in with_days(None, route, match).nights] == [
        (1, 900.0), (2, 2_000.0)]  # fmt: skip
    said = with_days(Pins(nights=(PinnedNight(day=2, at_m=2_500.0),)), route, match)
    assert {n.day: (n.at_m, n.by_file) for n in said.nights} == {
        1: (900.0, True), 2: (2_500.0, False)}  # fmt: skip
    none: Any = SimpleNamespace(day_starts=(), source="")
    assert with_days(None, none, match) == Pins()


def east() -> Any:
    """A ride of 20 km due east along the equator from the zero meridian, one degree 111,320 m
    (from the equatorial radius of WGS 84)."""

    def lonlat(at_m: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        return at_m / 111_320.0, np.zeros(len(at_m))

    return SimpleNamespace(length_m=LENGTH_M, match=SimpleNamespace(lonlat=lonlat))


@pytest.mark.parametrize(
    ("asked_m", "at_m", "told_m"),
    [(0.0, 0.0, None), (LENGTH_M, LENGTH_M, None), (LENGTH_M + 1, None, LENGTH_M),
     (9_000.0, 9_000.0, None)],
)  # fmt: skip
def test_a_distance_lies_on_the_ride_or_its_problem_at_the_end(asked_m, at_m, told_m) -> None:
    found, problem = position_of(PinnedStop(at_m=asked_m), east())
    assert found == at_m
    assert (None if problem is None else (problem.from_m, problem.to_m)) == (
        None if told_m is None else (told_m, told_m)
    )


def test_a_point_lies_where_the_line_is_nearest_up_to_5_km_off() -> None:
    """One degree of latitude at the equator is 110,574 m (ellipsoid of WGS 84)."""
    for off_m in (-4_900.0, 4_900.0):
        pin = PinnedStop(lon=7_010.0 / 111_320.0, lat=off_m / 110_574.0)
        assert position_of(pin, east()) == (7_000.0, None)
    at_m, problem = position_of(PinnedStop(lon=0.0629, lat=5_100.0 / 110_574.0), east())
    assert at_m is None
    assert problem is not None
    assert problem.from_m == 7_000.0
    # Beyond the end it is the end that counts, up to 5 km too.
    assert position_of(PinnedStop(lon=24_900.0 / 111_320.0, lat=0.0), east())[0] == LENGTH_M
    assert position_of(PinnedStop(lon=25_100.0 / 111_320.0, lat=0.0), east())[0] is None


@pytest.mark.parametrize("point", [{}, {"lon": 0.05}, {"lat": 0.0}])
def test_half_a_point_is_told_as_none(point: dict[str, float]) -> None:
    at_m, problem = position_of(PinnedStop(**point), east())
    assert at_m is None
    assert problem is not None
    assert "neither a distance nor a point" in problem.text


def nights(*asked: tuple[int, float]) -> tuple[list[tuple[int, float]], list[str]]:
    pins = Pins(nights=tuple(PinnedNight(day=day, at_m=at_m) for day, at_m in asked))
    found, problems = pinned_nights(pins, east())
    return [(index, at_m) for index, _, at_m in found], [p.text for p in problems]


def test_nights_are_taken_by_day_and_each_beyond_the_last() -> None:
    assert nights((2, 9_000.0), (1, 4_000.0)) == ([(1, 4_000.0), (0, 9_000.0)], [])
    rests = "day 2 would be a rest where day 1 ends: the plan holds none, and dates what follows"
    for second_m, told in (
        (4_000.0, rests), (3_999.5, rests), (3_999.0, "day 2 would end before day 1 does"),
    ):  # fmt: skip
        found, texts = nights((1, 4_000.0), (2, second_m))
        assert found == [(0, 4_000.0)]
        assert told in texts[0]
    # One that cannot be had is no measure for the next.
    assert nights((1, 4_000.0), (2, 3_000.0), (3, 4_100.0))[0] == [(0, 4_000.0), (2, 4_100.0)]


def test_a_night_within_the_last_metre_is_the_end_anyway() -> None:
    assert nights((1, LENGTH_M - 1.1))[1] == []
    found, texts = nights((1, LENGTH_M - 1.0))
    assert found == []
    assert "end of the ride anyway" in texts[0]
    assert nights((1, 0.0))[0] == []
