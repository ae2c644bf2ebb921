"""What is told of a place: its name, how to reach it by phone, and near what it lies."""

from __future__ import annotations

from pathlib import Path

import pytest

from terrain.stages.places.near import Nearby, names_along
from terrain.stages.places.refs import helper_ref, is_private, place_ref, place_tags
from terrain.values.help import HelpBasis, Helper, HelperKind
from tests.stages.tinymap import EAST_M, PAVED, TinyMap, TinyRegion


def _one(folder: Path, **tags: str) -> TinyRegion:
    tiny = TinyMap(nodes={"a": (0, 0), "b": (1_000, 0)}).way("ab", PAVED)
    return tiny.spot((500, 0), **tags).read(folder)


@pytest.mark.parametrize(
    ("tags", "phone"),
    [
        ({"phone": "1", "contact__phone": "2", "contact__mobile": "3"}, "1"),
        ({"contact__phone": "2", "contact__mobile": "3"}, "2"),
        ({"contact__mobile": "3"}, "3"),
        ({}, None),
    ],
)
def test_the_phone_is_the_first_that_is_tagged(
    tmp_path: Path, tags: dict[str, str], phone: str | None
) -> None:
    places = _one(tmp_path, amenity="fuel", name="Pump", opening_hours="24/7", **tags).places
    told = place_ref(places, 0)
    assert (told.phone, told.name, told.kind) == (phone, "Pump", "fuel")
    assert told.opening_hours == "24/7" and told.basis is HelpBasis.MAPPED
    assert told.osm == "node/1001" and told.near is None
    assert told.lon == pytest.approx(500 / EAST_M, abs=1e-6)
    assert place_ref(places, 0, kind="water").kind == "water"


@pytest.mark.parametrize(
    ("access", "private"), [("private", True), ("no", True), ("yes", False), (None, False)]
)
def test_what_keeps_strangers_out(tmp_path: Path, access: str | None, private: bool) -> None:
    tags = {} if access is None else {"access": access}
    places = _one(tmp_path, amenity="fuel", **tags).places
    assert is_private(places, 0) is private
    assert place_tags(places, 0).get("access") == access


def test_a_partner_is_told_with_what_it_mends() -> None:
    helper = Helper(name="Yard", lon=1.0, lat=2.0, kind=HelperKind.MECHANIC, phone="7",
                    repairs=("enduro", "dual-sport"), note="ask for Ann")  # fmt: skip
    told = helper_ref(helper)
    assert told.note == "ask for Ann; mends enduro, dual-sport"
    assert (told.phone, told.basis, told.kind) == ("7", HelpBasis.OPERATOR, "mechanic")
    assert helper_ref(Helper(name="Yard", lon=1.0, lat=2.0)).note is None


def test_near_is_the_nearest_named_place_within_five_kilometres(tmp_path: Path) -> None:
    tiny = TinyMap(nodes={"a": (0, 0), "b": (30_000, 0)}).way("ab", PAVED)
    tiny.spot((2_000, 0), place="hamlet", name="Aby").spot((9_000, 0), place="town", name="Bolt")
    tiny.spot((15_000, 0), amenity="fuel", name="Pump")
    region = tiny.read(tmp_path)
    near = Nearby(region.places)
    told = {km: near.name(1_000 * km / EAST_M, 0.0) for km in (0, 5, 6, 13, 14.2, 15)}
    assert told == {0: "Aby", 5: "Aby", 6: "Bolt", 13: "Bolt", 14.2: None, 15: None}
    at_m, names = names_along(region.ride("a", "b").match, region.places)
    assert names == ("Aby", "Bolt", "")
    assert at_m == pytest.approx([0, 5_500, 14_000], abs=110)
    # North counts as far as east.
    assert near.name(2_000 / EAST_M, 4_900 / 110_574) == "Aby"
    assert near.name(2_000 / EAST_M, 5_100 / 110_574) is None


def test_without_named_places_nothing_is_near(tmp_path: Path) -> None:
    region = _one(tmp_path, amenity="fuel")
    assert Nearby(region.places).name(0.0, 0.0) is None
    assert names_along(region.ride("a", "b").match, region.places)[1] == ("",)
