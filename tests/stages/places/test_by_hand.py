"""Places a ride passes and roads near it, against plain distances."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
from scipy.spatial import cKDTree

from terrain.stages.places.around import _cells_near, _near, _thinned
from terrain.stages.places.nodes import nodes_along
from terrain.stages.places.passed import RideBox, _passes, places_passed
from terrain.values.views import PLACE_KINDS, PlaceKind
from tests.stages.ground.handmade import category, texts
from tests.stages.tinymap import EAST_M, NORTH_M


def _match(*xy: tuple[float, float]) -> Any:
    line = np.array(xy)
    at_m = np.r_[0.0, np.cumsum(np.hypot(*np.diff(line, axis=0).T))]
    lon, lat = line[:, 0] / EAST_M, line[:, 1] / NORTH_M

    def lonlat(at: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        return np.interp(at, at_m, lon), np.interp(at, at_m, lat)

    return SimpleNamespace(lon=lon, lat=lat, at_m=at_m, lonlat=lonlat, length_m=float(at_m[-1]))


def _places(*spots: tuple[PlaceKind, float, float, str | None, float]) -> Any:
    kinds, x, y, names, people = zip(*spots, strict=True)
    return SimpleNamespace(
        kind=np.array([PLACE_KINDS.index(kind) for kind in kinds]), name=texts(names),
        lon=np.array(x) / EAST_M, lat=np.array(y) / NORTH_M, population=np.array(people),
    )  # fmt: skip


def test_the_box_of_a_ride() -> None:
    """10 km by 5 km: 800 m more all round, 600 m is near, and a pixel is 11 m, so 0.6 of it."""
    box = RideBox(_match((0, 0), (10_000, 0), (10_000, 5_000)))
    assert (box.west * EAST_M, box.east * EAST_M) == pytest.approx((-800, 10_800), abs=1)
    assert (box.south * NORTH_M, box.north * NORTH_M) == pytest.approx((-800, 5_800), abs=1)
    assert (box.near_m, box.tolerance_m) == pytest.approx((600.0, 20 / 3), rel=1e-3)
    inside = box.holds(
        np.array([0.0, -900.0, 10_700.0]) / EAST_M, np.array([0.0, 0.0, 6_000.0]) / NORTH_M
    )
    assert inside.tolist() == [True, False, False]
    small = RideBox(_match((0, 0), (100, 0)))
    assert small.near_m == pytest.approx(120.0)  # of 2 km at least


@pytest.mark.parametrize(
    ("kind", "away_m", "passed"),
    [
        (PlaceKind.CITY, 2_990, True), (PlaceKind.CITY, 3_010, False),
        (PlaceKind.TOWN, 1_490, True), (PlaceKind.TOWN, 1_510, False),
        (PlaceKind.VILLAGE, 795, True), (PlaceKind.VILLAGE, 805, False),
        (PlaceKind.HAMLET, 495, True), (PlaceKind.HAMLET, 505, False),
        (PlaceKind.PASS, 149, True), (PlaceKind.PASS, 151, False),
        (PlaceKind.FORD, 59, True), (PlaceKind.FORD, 61, False), (PlaceKind.FUEL, 1, False),
    ],
)  # fmt: skip
def test_how_near_a_place_is_passed(kind: PlaceKind, away_m: float, passed: bool) -> None:
    """Common practice, no source; towns that are not passed are drawn all the same."""
    match = _match((0, 0), (50_000, 0))
    found, towns = places_passed(match, _places((kind, 20_000, away_m, "X", 900.0)), RideBox(match))
    assert [place.name for place in found] == ["X"] * passed
    town = kind in (PlaceKind.CITY, PlaceKind.TOWN, PlaceKind.VILLAGE)
    assert len(towns) == (town and not passed)
    for place in found:
        assert place.at_m == pytest.approx(20_000, abs=1) and place.population == 900.0
        assert place.away_m == pytest.approx(away_m, rel=1e-3, abs=0.2)


def test_a_place_without_a_name_is_not_told_and_people_may_be_unknown() -> None:
    match = _match((0, 0), (50_000, 0))
    spots = _places(
        (PlaceKind.TOWN, 9_000, 0, None, 1.0), (PlaceKind.TOWN, 8_000, 0, "B", np.nan),
        (PlaceKind.TOWN, 3_000, 0, "A", 5.0),
    )  # fmt: skip
    found, _ = places_passed(match, spots, RideBox(match))
    assert [(place.name, place.population) for place in found] == [("A", 5.0), ("B", None)]


@pytest.mark.parametrize(("apart_m", "times"), [(5_000.0, 1), (5_050.0, 2)])
def test_a_place_is_passed_again_after_five_kilometres(apart_m: float, times: int) -> None:
    """Common practice, no source: at the point of each visit that is nearest."""
    places = _places((PlaceKind.TOWN, 0, 0, "X", 1.0))
    at_m = np.array([100.0, 150.0, 150.0 + apart_m, 200.0 + apart_m])
    line = np.array([[400.0, 0.0], [300.0, 0.0], [200.0, 0.0], [250.0, 0.0]])
    found = _passes(places, 0, np.arange(4), line, at_m, np.zeros(2))
    assert len(found) == times
    assert found[-1].at_m == 150.0 + apart_m and found[-1].away_m == 200.0
    assert times == 1 or (found[0].at_m, found[0].away_m) == (150.0, 300.0)


@pytest.mark.parametrize("seed", range(5))
def test_edges_near_a_ride_as_plain_distances_tell_them(seed: int) -> None:
    """scipy's tree over the same points."""
    rng = np.random.default_rng(seed)
    ride = np.cumsum(rng.normal(0.0, 30.0, (200, 2)), axis=0)
    xy = rng.uniform(ride.min() - 300, ride.max() + 300, (400, 2))
    owner = np.arange(400)
    away, _ = cKDTree(ride).query(xy)
    assert _near(ride, xy, owner, 100.0, 400).tolist() == (away <= 100.0).tolist()
    # Of an edge one near point is enough.
    pairs = owner // 2
    want = (away <= 100.0).reshape(200, 2).any(axis=1)
    assert _near(ride, xy, pairs, 100.0, 200).tolist() == want.tolist()


def test_cells_that_are_surely_and_perhaps_near_a_cell() -> None:
    """Eight cells in the breadth: any point of a cell against any of the ride's."""
    surely, perhaps = _cells_near(np.array([[12, 12]]), np.array([25, 25]))
    x, y = np.abs(np.indices((25, 25)) - 12)
    assert (surely == (np.hypot(x + 1, y + 1) < 8)).all()
    most = np.hypot(np.maximum(x - 1, 0), np.maximum(y - 1, 0)) <= 8
    within = (x <= 9) & (y <= 9)
    assert (perhaps == (most & within)).all()
    assert not (most & ~within).any()


def test_points_of_a_line_within_half_a_pixel_are_left_out() -> None:
    box: Any = SimpleNamespace(xy=lambda lon, lat: np.column_stack([lon, lat]), tolerance_m=10.0)
    lon = np.array([0.0, 5.0, 9.0, 11.0, 12.0, 100.0, 101.0, 102.0])
    owner = np.array([0, 0, 0, 0, 0, 1, 1, 1])
    kept = _thinned(box, lon, np.zeros(8), owner)
    # The ends of each line, and the first in each cell of 10 m.
    assert kept.tolist() == [True, False, False, True, True, True, False, True]
    assert len(_thinned(box, np.zeros(0), np.zeros(0), np.zeros(0, int))) == 0
    assert category(["x"]).values == ("x",)


@pytest.mark.parametrize(
    ("x", "y", "found"),
    [
        (500.0, 0.9, True), (500.0, -0.9, True), (500.0, 1.1, False), (500.0, -1.1, False),
        (-0.9, 0.0, True), (-1.1, 0.0, False), (3_000.9, 0.0, True), (3_001.1, 0.0, False),
        (500.0, 2.5, False),  # a gate of a drive beside the road
    ],
)  # fmt: skip
@pytest.mark.parametrize("turned", [False, True])
def test_a_node_of_the_ridden_way_lies_on_the_ride_but_for_rounding(
    x: float, y: float, found: bool, turned: bool
) -> None:
    """Within 1 m, whichever way the line runs: of 82 barriers and fords within 8 m of 31 drawn
    rides (nine open maps) the 30 of ridden ways lie on the line to a centimetre, the others 2.4 m
    off and more, most of them gates of drives that were told as in the way."""
    line = [(0.0, 0.0), (3_000.0, 0.0)]
    spot = (y, x) if turned else (x, y)
    match = _match(*((b, a) if turned else (a, b) for a, b in line))
    nodes = nodes_along(match, _places((PlaceKind.FORD, *spot, "Mill Ford", np.nan)))
    assert [(n.kind, n.name, n.shut) for n in nodes] == [("ford", "Mill Ford", False)] * found
    if found:
        assert nodes[0].at_m == pytest.approx(min(max(x, 0.0), 3_000.0), abs=5.0)


@pytest.mark.parametrize(("out_m", "visits"), [(90.0, 1), (110.0, 2)])
def test_a_node_is_passed_again_where_the_ride_comes_back_to_it(out_m: float, visits: int) -> None:
    """Out and back past a border post 1 km from the start: twice, if 200 m are ridden between."""
    match = _match((0.0, 0.0), (1_000.0 + out_m, 0.0), (0.0, 0.0))
    spots = (
        (PlaceKind.BORDER, 1_000.0, 0.0, None, np.nan), (PlaceKind.TOWN, 500.0, 0.0, "T", 1.0),
        (PlaceKind.FORD, 300.0, 0.0, None, np.nan),
    )  # fmt: skip
    nodes = nodes_along(match, _places(*spots))
    assert [n.kind for n in nodes] == ["ford", *["border"] * visits, "ford"]
    at_m = [n.at_m for n in nodes]
    assert at_m == sorted(at_m)
    border = at_m[1:-1]
    want = [1_000.0, 1_000.0 + 2 * out_m] if visits == 2 else [1_000.0 + out_m]
    assert border == pytest.approx(want, abs=3.0)
    assert nodes_along(match, _places(spots[1])) == ()
