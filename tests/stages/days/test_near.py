"""Places near a ride, with ways anyone can add up."""

from __future__ import annotations

import pytest

from terrain.stages.days.near import FUEL, NearbyPlaces, places_near
from tests.stages.tinymap import PAVED, TinyMap


def _near(tiny: TinyMap, tmp_path, *names: str) -> NearbyPlaces:
    region = tiny.read(tmp_path)
    return places_near(region.ride(*names), region.roads, region.places, region.fields(), ())


def _road() -> TinyMap:
    """A 0, B 10, C 12, D 20 km; a lane comes down to B from X, 2 km north, which C leads to."""
    tiny = TinyMap(nodes={"A": (0, 0), "B": (10_000, 0), "C": (12_000, 0), "D": (20_000, 0),
                          "X": (10_000, 2_000)})  # fmt: skip
    return tiny.way("AB", PAVED).way("BC", PAVED).way("CD", PAVED).way("CX", PAVED)


@pytest.mark.parametrize(
    ("oneway", "at_m", "off_m"),
    # The pump stands in the middle of the lane: 1 km from B, or 1 km from X and 2.83 more from C.
    [("no", 10_000, 1_000), ("-1", 10_000, 1_000), ("yes", 12_000, 1_000 + 2_828)],
)
def test_no_way_to_a_pump_leads_against_a_one_way(tmp_path, oneway, at_m, off_m) -> None:
    tiny = _road().way("XB", PAVED, oneway=oneway).spot((10_000, 1_000), amenity="fuel")
    near = _near(tiny, tmp_path, *"ABCD")
    assert near.bits.tolist() == [FUEL]
    assert (near.at_m[0], near.off_m[0]) == pytest.approx((at_m, off_m), abs=5)


def test_only_what_a_day_can_stop_at_is_listed(tmp_path) -> None:
    """Neither the workshop nor the viewpoint; both stand in the region's list of places."""
    tiny = _road().spot((4_000, 0), shop="motorcycle_repair").spot((5_000, 0), amenity="fuel")
    tiny.spot((6_000, 0), amenity="hospital")
    assert _near(tiny, tmp_path, *"ABCD").bits.tolist() == [FUEL]
