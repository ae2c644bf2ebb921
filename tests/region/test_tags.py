"""What tags mean, checked against the OSM wiki pages named at each test."""

from __future__ import annotations

import math
from typing import ClassVar

import pytest

from terrain.region import tags
from terrain.values.views import WayFlag


@pytest.mark.parametrize(
    ("text", "metres"),
    [
        ("3", 3.0),
        ("3.5", 3.5),
        ("3.5 m", 3.5),
        ("0.6 km", 600.0),
        ("12'6\"", 3.81),
        ("16'", 4.8768),
        ("12 ft", 3.6576),
        ("250 cm", 2.5),
        ("3,5", 3.5),
        ("narrow", math.nan),
        ("2-3", math.nan),
        ("", math.nan),
        (None, math.nan),
    ],
)
def test_width_units_of_wiki_map_features_units(text: str | None, metres: float) -> None:
    assert tags.length_m(text) == pytest.approx(metres, nan_ok=True)


@pytest.mark.parametrize(
    ("text", "kph"),
    [
        ("60", 60.0),
        ("50 mph", 80.4672),
        ("50mph", 80.4672),
        ("10 knots", 18.52),
        ("80 km/h", 80.0),
        ("RU:rural", math.nan),
        ("none", math.nan),
        ("walk", math.nan),
        ("signals", math.nan),
        ("50;70", math.nan),
        (None, math.nan),
    ],
)
def test_maxspeed_of_wiki_key_maxspeed(text: str | None, kph: float) -> None:
    assert tags.speed_kph(text) == pytest.approx(kph, nan_ok=True)


@pytest.mark.parametrize(
    ("text", "percent"),
    [
        ("10%", 10.0),
        ("-8 %", -8.0),
        ("45°", 100.0),
        ("12", 12.0),
        ("up", math.nan),
        ("down", math.nan),
        ("1000", math.nan),
        (None, math.nan),
    ],
)
def test_incline_of_wiki_key_incline(text: str | None, percent: float) -> None:
    assert tags.incline_pct(text) == pytest.approx(percent, nan_ok=True)


@pytest.mark.parametrize(
    ("text", "seconds"),
    [
        ("00:05", 300.0),
        ("1:30", 5400.0),
        ("01:30:20", 5420.0),
        ("PT1H30M", 5400.0),
        ("P1DT2H", 93600.0),
        ("45", 2700.0),
        ("soon", math.nan),
        ("0", math.nan),
        ("P", math.nan),
    ],
)
def test_duration_of_wiki_key_duration(text: str, seconds: float) -> None:
    assert tags.ferry_s({"route": "ferry", "duration": text}) == pytest.approx(seconds, nan_ok=True)


def test_duration_of_a_road_is_no_crossing_time() -> None:
    assert math.isnan(tags.ferry_s({"highway": "path", "duration": "1:00"}))


@pytest.mark.parametrize(
    ("given", "wanted"),
    [
        ({"oneway": "yes"}, 1),
        ({"oneway": "-1"}, -1),
        ({"oneway": "yes", "oneway:motorcycle": "no"}, 0),
        ({"oneway": "no", "highway": "motorway"}, 0),
        ({"highway": "motorway"}, 1),
        ({"highway": "motorway_link"}, 0),
        ({"junction": "roundabout"}, 1),
        ({"junction": "circular"}, 1),
        ({"junction": "roundabout", "oneway": "-1"}, -1),
        ({"oneway": "reversible"}, 0),
        ({"oneway": "nonsense"}, 0),
        ({}, 0),
    ],
)
def test_oneway_of_wiki_key_oneway(given: dict[str, str], wanted: int) -> None:
    assert tags.oneway({"highway": "residential"} | given) == wanted


def test_a_direction_that_changes_is_marked_conditional() -> None:
    flags = tags.way_flags({"highway": "primary", "oneway": "reversible"})
    assert flags & WayFlag.CONDITIONAL


@pytest.mark.parametrize(
    ("given", "access", "flags"),
    [
        # Most specific wins: Key:access, "Land-based transportation".
        ({"access": "no", "motorcycle": "yes"}, "yes", WayFlag(0)),
        ({"access": "yes", "vehicle": "no"}, "no", WayFlag.NO_MOTORCYCLE),
        ({"vehicle": "no", "motor_vehicle": "yes"}, "yes", WayFlag(0)),
        ({"motor_vehicle": "yes", "motorcycle": "no"}, "no", WayFlag.NO_MOTORCYCLE),
        ({"access": "private"}, "private", WayFlag.PRIVATE),
        ({"motor_vehicle": "permit"}, "permit", WayFlag.PRIVATE),
        ({"access": "customers"}, "customers", WayFlag.PRIVATE),
        ({"motor_vehicle": "agricultural"}, "agricultural", WayFlag.NO_MOTORCYCLE),
        (
            {"motor_vehicle": "agricultural;forestry"},
            "agricultural;forestry",
            WayFlag.NO_MOTORCYCLE,
        ),
        ({"motor_vehicle": "forestry;private"}, "forestry;private", WayFlag.PRIVATE),
        ({"motor_vehicle": "destination"}, "destination", WayFlag.DESTINATION),
        ({"access": "permissive"}, "permissive", WayFlag(0)),
        ({"motor_vehicle": "unknown", "access": "private"}, "private", WayFlag.PRIVATE),
        ({"access": "some words"}, "some words", WayFlag(0)),
        ({}, None, WayFlag(0)),
    ],
)
def test_access_of_wiki_key_access(
    given: dict[str, str], access: str | None, flags: WayFlag
) -> None:
    assert tags.motor_access(given) == access
    assert tags.access_flags(access) == flags


@pytest.mark.parametrize(
    ("given", "wanted"),
    [
        ({"highway": "track"}, "track"),
        ({"highway": "motorway_link"}, "motorway_link"),
        ({"highway": "path"}, "path"),
        ({"highway": "footway"}, "footway"),
        ({"highway": "footway", "footway": "sidewalk"}, None),
        ({"highway": "footway", "footway": "crossing"}, None),
        ({"highway": "footway", "indoor": "yes"}, None),
        ({"highway": "steps"}, "steps"),
        ({"highway": "steps", "conveying": "yes"}, None),
        ({"highway": "proposed"}, None),
        ({"highway": "raceway"}, None),
        ({"highway": "pedestrian", "area": "yes"}, None),
        ({"highway": "construction", "construction": "primary"}, "primary"),
        ({"highway": "construction"}, "road"),
        ({"highway": "construction", "construction": "footway"}, None),
        ({"route": "ferry"}, "ferry"),
        ({"route": "ferry", "access": "no", "foot": "yes"}, "ferry"),  # closed, see its flags
        ({"route": "bus"}, None),
        ({"building": "yes"}, None),
    ],
)
def test_which_ways_are_kept(given: dict[str, str], wanted: str | None) -> None:
    assert tags.way_class(given) == wanted


@pytest.mark.parametrize(
    ("given", "flag"),
    [
        ({"bridge": "viaduct"}, WayFlag.BRIDGE),
        ({"tunnel": "yes"}, WayFlag.TUNNEL),
        ({"ford": "yes"}, WayFlag.FORD),
        ({"ford": "stepping_stones"}, WayFlag.FORD),
        ({"toll": "yes"}, WayFlag.TOLL),
        ({"lit": "24/7"}, WayFlag.LIT),
        ({"4wd_only": "yes"}, WayFlag.FOUR_WD_ONLY),
        ({"winter_road": "yes"}, WayFlag.WINTER_ROAD),
        ({"ice_road": "yes"}, WayFlag.ICE_ROAD),
        ({"seasonal": "dry_season"}, WayFlag.SEASONAL),
        ({"tidal": "yes"}, WayFlag.FLOODS),
        ({"flood_prone": "yes"}, WayFlag.FLOODS),
        ({"motor_vehicle:conditional": "no @ (Nov-Apr)"}, WayFlag.CONDITIONAL),
        ({"surface:conditional": "mud @ wet"}, WayFlag.CONDITIONAL),
        ({"motorcycle": "yes", "motorcycle:conditional": "no @ (Nov-Apr)"}, WayFlag.CONDITIONAL),
        ({"vehicle": "yes", "motor_vehicle:conditional": "no @ night"}, WayFlag.CONDITIONAL),
        ({"motorcycle": "unknown", "access:conditional": "no @ night"}, WayFlag.CONDITIONAL),
        ({"motorcycle": "yes", "surface:conditional": "mud @ wet"}, WayFlag.CONDITIONAL),
        ({"junction": "roundabout"}, WayFlag.ROUNDABOUT),
        ({"abandoned": "yes"}, WayFlag.DISUSED),
        ({"disused": "yes"}, WayFlag.DISUSED),
        ({"abandoned:highway": "tertiary"}, WayFlag.DISUSED),
        ({"razed": "yes"}, WayFlag.DISUSED),
    ],
)
def test_flags(given: dict[str, str], flag: WayFlag) -> None:
    assert tags.way_flags({"highway": "track"} | given) == flag


@pytest.mark.parametrize(
    "given",
    [
        {"bridge": "no"},
        {"abandoned": "no"},
        {"ford": "no"},
        {"toll": "no"},
        {"toll": "yes", "toll:motorcycle": "no"},
        {"lit": "no"},
        {"seasonal": "no"},
        {"maxspeed:conditional": "30 @ (22:00-06:00)"},
        {"motorcycle": "yes", "access:conditional": "no @ (Nov-Apr)"},
        {"motor_vehicle": "yes", "vehicle:conditional": "no @ (Nov-Apr)"},
    ],
)
def test_a_tag_that_says_no_sets_no_flag(given: dict[str, str]) -> None:
    assert tags.way_flags({"highway": "track"} | given) == 0


@pytest.mark.parametrize(
    ("given", "is_open"),
    [
        ({"motorcycle": "yes"}, True),
        ({"motorcycle": "designated", "access": "no"}, True),
        ({"motor_vehicle": "permissive"}, True),
        ({"motor_vehicle": "yes", "motorcycle": "no"}, False),
        ({"motorcycle": "unknown", "motor_vehicle": "yes"}, True),
        ({"access": "yes"}, False),  # says nothing of motors on a way made for others
        ({"foot": "yes"}, False),
    ],
)
def test_a_path_is_open_to_motors_only_by_a_tag_that_names_them(
    given: dict[str, str], is_open: bool
) -> None:
    """Source: OSM wiki, Key:access (the most specific key wins)."""
    flags = tags.way_flags({"highway": "path"} | given)
    assert WayFlag.PATH in flags
    assert (WayFlag.MOTOR_OPEN in flags) is is_open


def test_classes_set_their_own_flags() -> None:
    assert tags.way_flags({"highway": "path"}) == WayFlag.PATH
    assert tags.way_flags({"highway": "pedestrian"}) == WayFlag.PATH
    assert tags.way_flags({"route": "ferry"}) == WayFlag.FERRY
    # Key:access: motor_vehicle covers motorcars and motorcycles, of which neither covers the other.
    no_cars = {"route": "ferry", "motorcar": "no"}
    assert tags.way_flags(no_cars) == WayFlag.FERRY | WayFlag.NO_CARS
    for said in ({"motorcycle": "yes"}, {"motor_vehicle": "yes"}):
        assert tags.way_flags(no_cars | said) == WayFlag.FERRY
    assert tags.way_flags({"highway": "track", "motorcar": "no"}) == WayFlag(0)
    building = {"highway": "construction", "construction": "primary"}
    assert tags.way_flags(building) == WayFlag.UNDER_CONSTRUCTION


@pytest.mark.parametrize(
    ("given", "stops"),
    [
        # Key:barrier: closed unless tagged, but for those made to be driven through.
        ({"barrier": "bollard"}, True),
        ({"barrier": "gate"}, True),
        ({"barrier": "gate", "motor_vehicle": "yes"}, False),
        ({"barrier": "bollard", "motorcycle": "yes"}, False),
        ({"barrier": "gate", "access": "private"}, True),
        ({"barrier": "cattle_grid"}, False),
        ({"barrier": "cattle_grid", "motor_vehicle": "no"}, True),
        ({"barrier": "toll_booth"}, False),
        ({"barrier": "border_control"}, False),
        ({"barrier": "lift_gate"}, False),
        ({"highway": "crossing"}, False),
    ],
)
def test_barriers_of_wiki_key_barrier(given: dict[str, str], stops: bool) -> None:
    assert tags.barrier_stops(given) is stops


@pytest.mark.parametrize(
    ("text", "wanted"), [("2", 2), ("2+", 2), ("0-1", 0), ("9", -1), ("x", -1), (None, -1)]
)
def test_mtb_scale_starts_with_its_number(text: str | None, wanted: int) -> None:
    assert tags.leading_int(text, 0, 6, -1) == wanted


def test_every_tag_looked_at_is_kept_while_reading() -> None:
    """A tag that a rule reads but the reader drops would silently never count."""

    class Watched(dict[str, str]):
        seen: ClassVar[set[str]] = set()

        def get(self, key: str, default: object = None) -> object:  # type: ignore[override]
            self.seen.add(key)
            return super().get(key, default)  # type: ignore[arg-type]

        def __contains__(self, key: object) -> bool:
            self.seen.add(str(key))
            return super().__contains__(key)

    for given in ({"highway": "path"}, {"highway": "track"}, {"route": "ferry"}):
        watched = Watched(given)
        tags.way_flags(watched)
        tags.oneway(watched)
        tags.ferry_s(watched)
    assert Watched.seen <= tags.WAY_KEYS | {"route"}
