"""Places that help: which tags count, each once, tied to the road."""

from __future__ import annotations

import json
from collections.abc import Callable

import numpy as np
import pytest
from pyproj import Geod

from terrain.region.osm import MapData
from terrain.region.place_tags import WANTED_TAGS, kept_tags, place_kinds, place_name, population
from terrain.values.views import PLACE_KINDS, PlaceKind, PlacesView
from tests.region.osm_xml import OsmXml, crossing

Read = Callable[..., MapData]
K = PlaceKind


@pytest.mark.parametrize(
    ("tags", "kinds"),
    [
        ({"shop": "motorcycle_repair"}, {K.MECHANIC}),
        ({"shop": "motorcycle"}, {K.MECHANIC}),
        ({"shop": "motorcycle", "motorcycle:repair": "yes"}, {K.MECHANIC}),
        ({"shop": "motorcycle", "motorcycle:repair": "no"}, {K.PARTS}),
        ({"shop": "motorcycle", "service:vehicle:motorcycle": "no"}, {K.PARTS}),
        ({"shop": "car", "motorcycle:repair": "yes"}, {K.MECHANIC}),
        ({"shop": "car_repair"}, {K.CAR_REPAIR}),
        ({"shop": "car_repair", "service:vehicle:motorcycle": "yes"}, {K.MECHANIC}),
        ({"shop": "tyres"}, {K.TYRES}),
        ({"shop": "motorcycle_parts"}, {K.PARTS}),
        ({"shop": "car_parts", "motorcycle:parts": "yes"}, {K.PARTS}),
        ({"shop": "car_parts"}, set()),
        ({"shop": "bicycle"}, {K.BICYCLE}),
        ({"amenity": "fuel", "shop": "car_repair"}, {K.FUEL, K.CAR_REPAIR}),
        ({"amenity": "fuel", "disused": "yes"}, set()),
        ({"amenity": "drinking_water"}, {K.WATER}),
        ({"amenity": "drinking_water", "drinking_water": "no"}, set()),
        ({"man_made": "water_tap"}, set()),
        ({"man_made": "water_tap", "drinking_water": "yes"}, {K.WATER}),
        ({"natural": "spring"}, set()),
        ({"natural": "spring", "drinking_water": "no"}, set()),
        ({"natural": "spring", "drinking_water": "yes"}, {K.WATER}),
        ({"amenity": "hospital"}, {K.HOSPITAL}),
        ({"amenity": "clinic"}, {K.CLINIC}),
        ({"amenity": "doctors"}, {K.DOCTOR}),
        ({"amenity": "pharmacy"}, {K.PHARMACY}),
        ({"amenity": "police"}, {K.POLICE}),
        ({"tourism": "alpine_hut"}, {K.LODGING}),
        ({"tourism": "museum"}, set()),
        ({"amenity": "cafe"}, {K.FOOD}),
        ({"shop": "supermarket"}, {K.SHOP}),
        ({"place": "village", "name": "Ansel"}, {K.VILLAGE}),
        ({"place": "village"}, set()),
        ({"place": "isolated_dwelling", "name": "Ansel"}, {K.LOCALITY}),
        ({"place": "country", "name": "Ansel"}, set()),
        ({"mountain_pass": "yes"}, {K.PASS}),
        ({"natural": "saddle", "name": "High Gap"}, {K.PASS}),
        ({"natural": "saddle"}, set()),
        ({"ford": "yes"}, {K.FORD}),
        ({"ford": "no"}, set()),
        ({"barrier": "gate"}, {K.BARRIER}),
        ({"barrier": "cattle_grid"}, set()),
        ({"barrier": "lift_gate", "access": "no"}, {K.BARRIER}),
        ({"barrier": "gate", "motorcycle": "yes"}, set()),
        ({"barrier": "fence"}, set()),
        ({"barrier": "border_control"}, {K.BORDER}),
    ],
)
def test_kinds_of_nodes(tags: dict[str, str], kinds: set[PlaceKind]) -> None:
    assert set(place_kinds(tags, is_node=True)) == kinds


def test_a_road_is_no_place_whatever_it_carries() -> None:
    assert place_kinds({"highway": "track", "ford": "yes"}, is_node=False) == ()
    assert place_kinds({"highway": "service", "amenity": "fuel"}, is_node=False) == ()
    assert place_kinds({"barrier": "gate"}, is_node=False) == ()


def test_every_kind_can_be_read_at_all() -> None:
    """Each kind is reached by a tag that passes the first filter."""
    reached = set()
    for key, value in WANTED_TAGS:
        tags = {key: value, "name": "x", "drinking_water": "yes", "shop": "x"} | {key: value}
        reached.update(place_kinds(tags, is_node=True))
    assert reached == set(PlaceKind)


@pytest.mark.parametrize(
    ("text", "people"),
    [("1200", 1200.0), ("1 200", 1200.0), ("1,200", 1200.0), ("1.200", 1200.0), ("about 5", np.nan),
     ("", np.nan), (None, np.nan), ("٣", 3.0)],
)  # fmt: skip
def test_population_digits(text: str | None, people: float) -> None:
    assert population(text) == pytest.approx(people, nan_ok=True)


def test_tags_worth_keeping_and_no_more() -> None:
    tags = {
        "amenity": "fuel",
        "opening_hours": "24/7",
        "fuel:octane_95": "yes",
        "website": "https://example.org",
        "phone": "+00 1",
        "note": "x",
    }
    assert json.loads(kept_tags(tags)) == {
        "amenity": "fuel",
        "fuel:octane_95": "yes",
        "opening_hours": "24/7",
        "phone": "+00 1",
    }
    assert kept_tags({"note": "x"}) == ""


def kinds_of(places: PlacesView) -> list[str]:
    return [PLACE_KINDS[k].value for k in places.kind]


def test_nodes_ways_and_relations_are_places(read: Read) -> None:
    osm = crossing()
    osm.node(50, 10.005, 45.001, {"amenity": "fuel", "name": "Low Pump"})
    for ref, (lon, lat) in {51: (0, 0), 52: (2, 0), 53: (2, 1), 54: (0, 1)}.items():
        osm.node(ref, 10.015 + lon / 1e4, 45.001 + lat / 1e4)
    osm.way(50, [51, 52, 53, 54, 51], {"amenity": "hospital", "name": "Low House"})
    osm.way(51, [51, 52, 53, 54, 51], {"building": "yes"})
    osm.relation(
        50, [("way", 51, "outer")], {"type": "multipolygon", "amenity": "police", "name": "Post"}
    )
    osm.relation(51, [("node", 50, "")], {"type": "site", "tourism": "camp_site"})
    osm.relation(52, [("way", 999, "outer")], {"amenity": "clinic"})  # member not in the file
    places = read(osm).places
    assert sorted(zip(places.osm_type.tolist(), kinds_of(places), strict=True)) == [
        (0, "fuel"),
        (1, "hospital"),
        (2, "lodging"),
        (2, "police"),
    ]
    row = kinds_of(places).index("police")
    assert (places.lon[row], places.lat[row]) == pytest.approx((10.0151, 45.00105), abs=1e-7)
    assert places.name.text(row) == "Post"


def test_a_place_is_tied_to_the_nearest_usable_road(read: Read) -> None:
    """Distance along the edge against pyproj.Geod; a footway nearer by does not count."""
    osm = crossing()
    osm.node(40, 10.0, 45.0011)
    osm.node(41, 10.02, 45.0011)
    osm.way(40, [40, 41], {"highway": "footway"})
    osm.node(50, 10.012, 45.001, {"amenity": "fuel"})
    osm.node(51, 10.012, 45.02, {"amenity": "fuel"})  # 2 km off
    data = read(osm)
    roads, places = data.roads, data.places
    near, far = places.osm_id.tolist().index(50), places.osm_id.tolist().index(51)
    edge = int(places.edge[near])
    assert roads.ways.way_id[roads.edge_way[edge]] == 10
    _, _, along = Geod(ellps="WGS84").inv(10.0, 45.0, 10.012, 45.0)
    assert places.edge_at_m[near] == pytest.approx(along, abs=0.5)
    assert places.edge[far] == -1
    assert np.isnan(places.edge_at_m[far])


@pytest.mark.parametrize(
    ("tags", "usable"),
    [
        ({"highway": "service", "access": "customers"}, True),
        ({"highway": "service", "access": "destination"}, True),
        ({"highway": "path", "motorcycle": "yes"}, True),
        ({"highway": "service", "access": "private"}, False),
        ({"highway": "service", "motor_vehicle": "no"}, False),
        ({"highway": "path"}, False),
        ({"highway": "construction", "construction": "primary"}, False),
        ({"route": "ferry"}, False),
    ],
)
def test_which_roads_reach_a_place(read: Read, tags: dict[str, str], usable: bool) -> None:
    osm = OsmXml()
    for ref, lon in ((1, 10.0), (2, 10.01)):
        osm.node(ref, lon, 45.0)
    osm.way(1, [1, 2], tags)
    osm.node(3, 10.005, 45.0, {"amenity": "fuel"})
    assert read(osm).places.edge.tolist() == [0 if usable else -1]


def test_fords_and_barriers_count_on_roads_only(read: Read) -> None:
    osm = crossing()
    osm.node(60, 10.05, 45.0, {"ford": "yes", "depth": "0.4"})
    osm.node(61, 10.06, 45.0, {"barrier": "gate"})
    osm.way(60, [5, 60, 61], {"highway": "track"})
    osm.node(62, 10.07, 45.0, {"ford": "yes"})  # in a stream, on no road
    osm.node(63, 10.07, 45.1, {"barrier": "gate"})  # in a fence
    places = read(osm).places
    assert sorted(zip(places.osm_id.tolist(), kinds_of(places), strict=True)) == [
        (60, "ford"),
        (61, "barrier"),
    ]
    row = places.osm_id.tolist().index(60)
    assert json.loads(places.tags.text(row) or "") == {"depth": "0.4", "ford": "yes"}


def test_a_place_drawn_twice_counts_once(read: Read) -> None:
    osm = crossing()
    osm.node(50, 10.005, 45.001, {"amenity": "hospital", "name": "Low House"})
    for ref, (lon, lat) in {51: (0, 0), 52: (2, 0), 53: (2, 1)}.items():
        osm.node(ref, 10.0051 + lon / 1e4, 45.001 + lat / 1e4)
    osm.way(50, [51, 52, 53, 51], {"amenity": "hospital", "name": "Low House"})
    osm.way(51, [51, 52, 53, 51], {"amenity": "hospital", "name": "Other House"})
    osm.node(54, 10.3, 45.0, {"amenity": "hospital", "name": "Low House"})  # far away: another
    assert sorted(read(osm).places.osm_id.tolist()) == [50, 51, 54]


def test_of_overlapping_extracts_a_place_counts_once(read: Read) -> None:
    old, new = crossing(), crossing()
    old.node(50, 10.005, 45.001, {"amenity": "fuel", "name": "Old", "shop": "tyres"}, v=1)
    new.node(50, 10.005, 45.001, {"amenity": "fuel", "name": "New"}, v=2)
    places = read(old, new).places
    assert [(places.name.text(0), kinds_of(places)[0])] == [("New", "fuel")]
    assert len(places) == 1


def test_population_and_height_are_numbers(read: Read) -> None:
    osm = crossing()
    osm.node(50, 10.005, 45.001, {"place": "town", "name": "Ansel", "population": "5 300"})
    osm.node(51, 10.015, 45.001, {"mountain_pass": "yes", "ele": "2408"})
    data = read(osm)
    places = data.places
    row = {int(i): k for k, i in enumerate(places.osm_id)}
    assert places.population[row[50]] == 5300
    assert np.isnan(places.population[row[51]])
    assert data.place_ele_m[row[51]] == 2408
    assert places.name.text(row[51]) is None


def test_a_name_is_shown_without_what_was_left_around_it() -> None:
    assert place_name({"name": " Mill  Inn ,"}) == "Mill Inn"
    assert place_name({"name": " , "}) is None
    assert place_name({"operator": "Mill Inn"}) == "Mill Inn"
