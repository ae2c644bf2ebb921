"""What is drawn around a ride: enough roads, not too many points, and the places passed."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

import terrain
from terrain.stages.places.around import look_around
from terrain.values.places import Surroundings


@pytest.fixture(scope="module")
def seen(island_home: Path) -> tuple[terrain.Match, Surroundings]:
    region = terrain.open_region("island", island_home)
    path = sorted((island_home / "demo" / "routes").glob("*.gpx"))[0]
    laid = terrain.match(terrain.read_route(path), region)
    return laid, look_around(laid, region.roads, region.places)


def test_lines_are_whole_and_few_points(seen: tuple[terrain.Match, Surroundings]) -> None:
    _, around = seen
    assert len(around.rank) > 50
    assert len(around.lon) <= 25_000
    assert (np.diff(around.start) >= 2).all()
    assert set(around.rank.tolist()) <= set(range(7))
    # A road is not cut at each crossing: a line begins elsewhere than the one before ends, or is of
    # another rank.
    first, last = around.start[1:-1], around.start[1:-1] - 1
    goes_on = (around.lon[first] == around.lon[last]) & (around.lat[first] == around.lat[last])
    assert not (goes_on & (around.rank[1:] == around.rank[:-1])).any()


def test_the_ride_lies_among_its_roads(seen: tuple[terrain.Match, Surroundings]) -> None:
    laid, around = seen
    assert around.lon.min() <= laid.lon.min()
    assert around.lon.max() >= laid.lon.max()


def test_places_come_in_riding_order_near_the_ride(
    seen: tuple[terrain.Match, Surroundings],
) -> None:
    laid, around = seen
    at_m = [place.at_m for place in around.places]
    assert len(at_m) > 3
    assert at_m == sorted(at_m)
    assert all(0 <= m <= laid.length_m for m in at_m)
    assert all(place.away_m <= 3000 for place in around.places)
    assert all(place.name for place in around.places)
    for place in around.places:
        # As far as the ride's point at that position, by the equirectangular rule.
        lon = np.interp(place.at_m, laid.at_m, laid.lon)
        lat = np.interp(place.at_m, laid.at_m, laid.lat)
        east = (place.lon - lon) * 111_320 * np.cos(np.radians(lat))
        north = (place.lat - lat) * 110_574
        assert np.hypot(east, north) == pytest.approx(place.away_m, rel=0.02, abs=15)
