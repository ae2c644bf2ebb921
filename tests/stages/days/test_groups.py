"""Which places near a ride are one stop, which pump or bed stands for its neighbours: by hand."""

from __future__ import annotations

import numpy as np
import pytest

from terrain.stages.days.groups import (
    bed_near,
    group_bits,
    is_settled,
    lone_pumps,
    night_rows,
    place_groups,
    pump_rows,
)
from terrain.stages.days.near import (
    FOOD,
    FUEL,
    HAMLET,
    LODGING,
    PASS,
    TOWN,
    WATER,
    NearbyPlaces,
)


def near(*places: tuple[int, float, float]) -> NearbyPlaces:
    """Places as (what they offer, metres along the ride, metres off it)."""
    n = len(places)
    bits, at_m, off_m = (np.array([p[i] for p in places]) for i in range(3))
    return NearbyPlaces(
        source=np.arange(n, dtype=np.int32),
        bits=bits.astype(np.int64),
        at_m=at_m.astype(float),
        off_m=off_m.astype(float),
        off_s=off_m / 10.0,
        lon=at_m / 1e5,
        lat=off_m / 1e5,
        van=np.ones(n, dtype=bool),
    )


@pytest.mark.parametrize(
    "order", [(FUEL, FOOD), (FOOD, WATER), (WATER, TOWN), (TOWN, PASS), (PASS, HAMLET)]
)
@pytest.mark.parametrize("swapped", [False, True])
def test_one_stops_where_the_more_useful_place_is(order: tuple[int, int], swapped: bool) -> None:
    first, second = order[::-1] if swapped else order
    rows = place_groups(near((first, 100, 0), (second, 900, 0)), 1_000.0)
    assert rows.tolist() == [1 if swapped else 0]


def test_of_equal_places_the_first_on_the_ride_is_the_stop() -> None:
    assert place_groups(near((FUEL, 100, 0), (FUEL, 200, 0)), 1_000.0).tolist() == [0]


def test_places_are_at_hand_up_to_300_m_and_a_bed_alone_is_no_stop() -> None:
    some = near((FUEL, 100, 300), (FUEL, 1_100, 301), (LODGING, 2_100, 0))
    assert place_groups(some, 1_000.0).tolist() == [0]
    assert place_groups(near((LODGING, 100, 0)), 1_000.0).tolist() == []


def test_a_stretch_of_the_ride_begins_where_the_last_one_ends() -> None:
    """Stretches of 1 km: 999 m lies in the first, 1,000 m and 1,999 m in the second."""
    some = near((FUEL, 999, 0), (FUEL, 1_000, 0), (FUEL, 1_999, 0))
    assert place_groups(some, 1_000.0).tolist() == [0, 1]


def test_a_stop_offers_what_all_places_at_hand_there_do() -> None:
    some = near((FUEL, 100, 0), (FOOD, 500, 300), (WATER, 900, 301), (TOWN, 1_100, 0))
    offered = group_bits(some, np.array([0, 2, 3]), 1_000.0)
    assert offered.tolist() == [FUEL | FOOD, WATER, TOWN]


def test_a_pump_off_the_ride_stands_where_none_is_at_hand() -> None:
    """Of each 2 km of the ride (twice the width): the nearest of those that are off it."""
    some = near(
        (FUEL, 100, 300), (FUEL, 1_900, 400),  # one at hand serves the first 2 km
        (FUEL, 2_100, 900), (FUEL, 3_900, 800),  # the nearer of two
        (WATER, 4_100, 0), (FUEL, 4_200, 301),  # water at hand is no pump
    )  # fmt: skip
    assert lone_pumps(some, 1_000.0).tolist() == [3, 5]
    assert lone_pumps(near((FUEL, 100, 300)), 1_000.0).tolist() == []


def test_pumps_stand_for_1_km_each_and_for_a_250th_of_a_long_ride() -> None:
    some = near((FUEL, 100, 0), (FUEL, 1_900, 0), (FOOD, 5_000, 0))
    assert pump_rows(some, 100_000.0).tolist() == [0, 1]
    assert pump_rows(some, 250_000.0).tolist() == [0, 1]
    assert pump_rows(some, 500_000.0).tolist() == [0]


def test_a_bed_in_a_village_is_worth_three_kilometres_of_way() -> None:
    """Within the same 2 km: 3,400 m off beside a village (within 1.5 km of it along the ride)
    against one alone 500 m off, 500 + 3,000 m; then 3,600 m off."""
    village = (TOWN, 0, 0)
    for off_m, row in ((3_400, 1), (3_600, 2)):
        some = near(village, (LODGING, 1_400, off_m), (LODGING, 1_900, 500))
        assert night_rows(some).tolist() == [row]


def test_beds_are_looked_for_up_to_8_km_off_one_for_each_2_km() -> None:
    some = near((LODGING, 100, 8_000), (LODGING, 2_100, 8_001), (LODGING, 4_100, 90),
                (LODGING, 5_900, 80), (LODGING, 6_000, 70))  # fmt: skip
    assert night_rows(some).tolist() == [0, 3, 4]
    assert night_rows(near((FUEL, 100, 0))).tolist() == []


@pytest.mark.parametrize(
    ("place", "at_m", "there"),
    [
        ((TOWN, 5_000, 0), 6_500, True),
        ((TOWN, 5_000, 0), 6_501, False),
        ((TOWN, 5_000, 0), 3_500, True),
        ((TOWN, 5_000, 0), 3_499, False),
        ((FOOD, 5_000, 1_500), 5_000, True),
        ((FOOD, 5_000, 1_501), 5_000, False),
        ((HAMLET, 5_000, 0), 5_000, False),
        ((FUEL, 5_000, 0), 5_000, False),
    ],
)
def test_settled_is_within_1500_m_of_houses_or_food(place, at_m: float, there: bool) -> None:
    at = np.array([at_m])
    assert is_settled(near(place), at).tolist() == [there]
    # A village far ahead or far behind takes nothing away.
    for far in ((TOWN, 90_000, 0), (TOWN, -90_000, 0)):
        assert is_settled(near(place, far), at).tolist() == [there]


def test_nowhere_is_settled_without_places() -> None:
    assert is_settled(near((LODGING, 0, 0)), np.array([0.0, 9.0])).tolist() == [False, False]


def test_the_bed_of_a_night_is_the_nearest_by_ride_and_way_together() -> None:
    some = near((LODGING, 4_000, 600), (LODGING, 5_900, 500), (LODGING, 6_000, 200))
    # 1,000 + 600, 900 + 500, 1,000 + 200 m.
    assert bed_near(some, 5_000.0) == 2
    assert bed_near(some, 4_200.0) == 0


@pytest.mark.parametrize(
    ("at_m", "off_m", "row"),
    [(6_500, 0, 0), (6_501, 0, -1), (3_500, 0, 0), (3_499, 0, -1), (5_000, 1_500, 0),
     (5_000, 1_501, -1)],
)  # fmt: skip
def test_a_bed_farther_than_1500_m_is_not_that_of_the_night(at_m, off_m, row: int) -> None:
    assert bed_near(near((LODGING, at_m, off_m)), 5_000.0) == row
    assert bed_near(near((TOWN, at_m, off_m)), 5_000.0) == -1
