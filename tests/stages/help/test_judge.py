"""Help along rides on maps drawn by hand, with distances anyone can add up."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from terrain.stages.help import judge_help
from terrain.tables.fleet import DEFAULT_FLEET
from terrain.tables.speed import BREAKDOWN_VAN
from terrain.values.fleet import Fleet
from terrain.values.ground import GroundKind
from terrain.values.help import HelpBasis, Helper, HelperKind, HelpKind
from terrain.values.match import LegKind
from terrain.values.ride import Ride
from tests.stages.tinymap import EAST_M, GRAVEL, PAVED, TRACK, TinyMap, ride_on

ROUND = 5.0  # metres: coordinates are kept to 0.1 m at best over 10 km


def _line_map() -> TinyMap:
    """West to east: A 0, B 10 km, C 30 km (gravel from B), D 40 km (track), E 60 km (paved)."""
    tiny = TinyMap(nodes={"A": (0, 0), "B": (10_000, 0), "C": (30_000, 0), "D": (40_000, 0),
                          "E": (60_000, 0)})  # fmt: skip
    return (
        tiny.way("AB", PAVED, name="Coast Road")
        .way("BC", GRAVEL)
        .way("CD", TRACK, name="Old Salt Way")
        .way("DE", PAVED)
    )


def _fleet(**rules) -> Fleet:
    return replace(DEFAULT_FLEET, rules=replace(DEFAULT_FLEET.rules, **rules))


def _judge(tiny: TinyMap, tmp_path, *names, fleet=DEFAULT_FLEET, helpers=()):
    region = tiny.read(tmp_path)
    ride = region.ride(*names)
    help_ = judge_help(
        ride, region.roads, region.places, region.fields(), fleet=fleet, helpers=helpers
    )
    return help_, ride


def test_farthest_point_lies_between_two_mechanics(tmp_path) -> None:
    """Mechanics at A and at E: the middle of the 60 km is 30 km from both."""
    tiny = _line_map()
    tiny.spot((0, 20), shop="motorcycle_repair", name="West Works", phone="+999 1")
    tiny.spot((60_000, 20), shop="motorcycle_repair", name="East Works")
    help_, _ = _judge(tiny, tmp_path, *"ABCDE")
    far = help_.kind(HelpKind.MECHANIC)
    assert far.farthest_m == pytest.approx(30_000, abs=130)  # to half a sample
    assert far.farthest_at_m == pytest.approx(30_000, abs=130)
    # By time: 10 km at 60, 20 km at 36, 10 km at 18, 20 km at 60 km/h are 600, 2000, 2000 and
    # 1200 s; half of the 5800 s is 300 s into the track.
    assert far.farthest_s == pytest.approx(2900, abs=30)
    assert far.farthest_s_at_m == pytest.approx(31_500, abs=130)
    assert far.place is not None
    assert far.place.basis is HelpBasis.MAPPED


def test_nearest_is_told_with_phone_and_hours(tmp_path) -> None:
    tiny = _line_map().spot(
        (200, 20), shop="motorcycle_repair", name="West Works", phone="+999 1",
        opening_hours="Mo-Sa 09:00-18:00",
    )  # fmt: skip
    help_, _ = _judge(tiny, tmp_path, *"ABCDE")
    place = help_.kind(HelpKind.MECHANIC).place
    assert place is not None
    assert (place.name, place.phone, place.opening_hours) == (
        "West Works", "+999 1", "Mo-Sa 09:00-18:00",
    )  # fmt: skip
    assert place.osm == "node/1001"


def test_none_in_the_map_is_never_called_none(tmp_path) -> None:
    help_, ride = _judge(_line_map(), tmp_path, *"ABCDE")
    far = help_.kind(HelpKind.MECHANIC)
    assert far.farthest_m is None
    assert far.farthest_s is None
    assert far.unknown_m == pytest.approx(ride.length_m, abs=1)
    assert "not the same as none" in help_.words[0]
    assert [(run.from_m, run.nearest_m, run.nearest) for run in help_.remote] == [(0.0, None, None)]


def test_town_is_inferred_help_and_never_mixed_with_mapped(tmp_path) -> None:
    tiny = _line_map().spot((60_000, 20), place="town", name="Eastport", population="20000")
    help_, _ = _judge(tiny, tmp_path, *"ABCDE")
    assert help_.kind(HelpKind.MECHANIC).farthest_m is None
    town = help_.kind(HelpKind.TOWN)
    assert town.farthest_m == pytest.approx(60_000, abs=ROUND + 60)
    assert town.place is not None
    assert town.place.basis is HelpBasis.INFERRED
    assert help_.remote[0].town is not None
    assert help_.remote[0].town.name == "Eastport"


@pytest.mark.parametrize(("population", "counts"), [("20000", True), ("3000", False), (None, True)])
def test_town_counts_by_population_and_by_word_where_that_is_missing(
    tmp_path, population, counts
) -> None:
    tags = {"place": "town", "name": "Eastport"} | (
        {"population": population} if population else {}
    )
    help_, _ = _judge(_line_map().spot((60_000, 20), **tags), tmp_path, *"ABCDE")
    assert (help_.kind(HelpKind.TOWN).farthest_m is not None) == counts


def test_town_size_of_the_fleet_wins_over_that_of_the_region(tmp_path) -> None:
    tiny = _line_map().spot((60_000, 20), place="village", name="Eastham", population="900")
    help_, _ = _judge(tiny, tmp_path, *"ABCDE", fleet=_fleet(town_population=500.0))
    assert help_.kind(HelpKind.TOWN).farthest_m == pytest.approx(60_000, abs=ROUND + 60)


def test_parts_decide_what_counts_as_help(tmp_path) -> None:
    """Common: towns. Fair: mapped workshops. Rare: only the operator's partners."""
    tiny = _line_map().spot((60_000, 20), place="town", name="Eastport")
    tiny.spot((0, 20), shop="motorcycle_repair", name="West Works")
    help_, ride = _judge(tiny, tmp_path, *"ABCDE")
    by_class = {item.name: item for item in help_.classes}
    common, fair, rare = (by_class[n] for n in ("light-trail", "road-tourer", "enduro"))
    assert common.farthest_m == pytest.approx(30_000, abs=130)
    assert fair.farthest_m == pytest.approx(60_000, abs=ROUND + 60)
    assert not rare.known
    assert rare.remote_m == pytest.approx(ride.length_m, abs=1)
    partner = Helper(name="Far Partner", lon=60_000 / EAST_M, lat=0.0, repairs=("enduro",))
    help_, _ = _judge(tiny, tmp_path, *"ABCDE", helpers=(partner,))
    by_class = {item.name: item for item in help_.classes}
    assert by_class["enduro"].known
    assert by_class["enduro"].nearest is not None
    assert by_class["enduro"].nearest.name == "Far Partner"
    assert not by_class["dual-sport"].known  # the partner mends enduros only
    assert by_class["road-tourer"].farthest_m == pytest.approx(60_000, abs=ROUND + 60)


def test_a_partner_for_one_class_shortens_no_other_way_to_help(tmp_path) -> None:
    """The distances told up front hold for whatever bike is ridden."""
    tiny = _line_map().spot((0, 20), shop="motorcycle_repair", name="West Works")
    plain, _ = _judge(tiny, tmp_path, *"ABCDE")
    told = {}
    for repairs in (("enduro",), tuple(bike.name for bike in DEFAULT_FLEET.classes), ()):
        partner = Helper(name="East End", lon=60_000 / EAST_M, lat=0.0, repairs=repairs)
        help_, _ = _judge(tiny, tmp_path, *"ABCDE", helpers=(partner,))
        told[len(repairs)] = help_.kind(HelpKind.MECHANIC).farthest_m
        assert any("some classes only" in text for text in help_.words) is (len(repairs) == 1)
    assert told[1] == plain.kind(HelpKind.MECHANIC).farthest_m
    assert told[0] == told[len(DEFAULT_FLEET.classes)] < told[1]


def test_operators_partner_wins_over_a_mapped_place_at_the_same_spot(tmp_path) -> None:
    tiny = _line_map().spot((0, 0), shop="motorcycle_repair", name="As Mapped")
    partner = Helper(name="Our Friend", lon=0.0, lat=0.0, phone="+999 7")
    help_, _ = _judge(tiny, tmp_path, *"ABCDE", helpers=(partner,))
    place = help_.kind(HelpKind.MECHANIC).place
    assert place is not None
    assert (place.name, place.phone, place.basis) == ("Our Friend", "+999 7", HelpBasis.OPERATOR)


def test_partner_far_from_any_road_is_left_out_and_said_so(tmp_path) -> None:
    partner = Helper(name="Off Grid", lon=0.0, lat=0.5, where="partners.csv, line 2")
    help_, _ = _judge(_line_map(), tmp_path, *"ABCDE", helpers=(partner,))
    assert help_.kind(HelpKind.MECHANIC).farthest_m is None
    assert any("Off Grid (partners.csv, line 2)" in words for words in help_.words)


def test_partner_of_another_kind_counts_for_that_kind_only(tmp_path) -> None:
    drum = Helper(name="Fuel drum", lon=30_000 / EAST_M, lat=0.0, kind=HelperKind.FUEL)
    help_, _ = _judge(_line_map(), tmp_path, *"ABCDE", helpers=(drum,))
    assert help_.kind(HelpKind.FUEL).farthest_m == pytest.approx(30_000, abs=130)
    assert help_.kind(HelpKind.MECHANIC).farthest_m is None


@pytest.mark.parametrize(
    ("rules", "from_m", "to_m"),
    [
        # DOMAIN E, remoteness steps (common practice): mechanic > 50 km or 1 h.
        ({}, 40_000, 60_000),
        ({"remote_m": 20_000.0, "remote_s": 1e9}, 20_000, 60_000),
        # 1000 s are 10 km of tarmac and 4 km of gravel.
        ({"remote_m": 1e9, "remote_s": 1_000.0}, 14_000, 60_000),
    ],
    ids=["50 km or 1 h", "20 km", "1000 s"],
)
def test_remote_run_starts_where_the_limit_is_passed(tmp_path, rules, from_m, to_m) -> None:
    tiny = _line_map().spot((0, 0), shop="motorcycle_repair", name="West Works")
    help_, _ = _judge(tiny, tmp_path, *"ABCDE", fleet=_fleet(**rules))
    assert len(help_.remote) == 1
    run = help_.remote[0]
    if not rules:
        # An hour is 600 s + 2000 s + 1000 s: 5 km into the track.
        from_m = 35_000
    assert run.from_m == pytest.approx(from_m, abs=260)
    assert run.from_m <= from_m + 1.0  # rather too long than too short
    assert run.to_m == pytest.approx(to_m, abs=20)
    assert run.nearest is not None
    assert run.nearest.name == "West Works"
    assert run.nearest_m == pytest.approx(60_000, abs=30)


def test_van_does_not_come_up_a_track(tmp_path) -> None:
    tiny = _line_map().spot((0, 0), shop="motorcycle_repair", name="West Works")
    help_, ride = _judge(tiny, tmp_path, *"ABCDE")
    paved, gravel, _ = BREAKDOWN_VAN.factor
    assert [s.ground.value for s in ride.stretches[:3]] == ["paved", "gravel", "track"]
    at, back_s = help_.along.at_m, help_.along.back_s
    on_paved = at < ride.to_m[0] + 1
    on_gravel = (at > ride.to_m[0] + 1) & (at < ride.to_m[1] + 1)
    assert np.max(back_s[on_paved]) == pytest.approx(600 / paved, abs=5)
    # The gravel may be a track by a small share, where a van is slower still.
    gravel_s = 600 / paved + 2000 / gravel
    assert gravel_s - 5 <= np.nanmax(back_s[on_gravel]) <= 1.02 * gravel_s
    assert np.isnan(back_s[at > ride.to_m[1] + 1]).all()  # the track, and E beyond it


def test_oneway_makes_there_and_back_differ(tmp_path) -> None:
    """A ring of 4 x 10 km ridden with the arrows: from B back to the mechanic at A is 30 km."""
    tiny = TinyMap(nodes={"A": (0, 0), "B": (10_000, 0), "C": (10_000, 10_000), "D": (0, 10_000)})
    for pair in ("AB", "BC", "CD", "DA"):
        tiny.way(pair, PAVED, oneway="yes")
    tiny.spot((0, 0), shop="motorcycle_repair", name="West Works")
    help_, _ = _judge(tiny, tmp_path, *"ABCDA")
    far = help_.kind(HelpKind.MECHANIC)
    assert far.farthest_at_m == pytest.approx(0.0, abs=260)
    assert far.farthest_m == pytest.approx(40_000, abs=300)


def test_closed_place_and_closed_road_do_not_count(tmp_path) -> None:
    tiny = _line_map().spot((0, 0), amenity="fuel", name="Farm pump", access="private")
    tiny.nodes["X"] = (20_000, 1_000)
    tiny.nodes["M"] = (20_000, 0)
    tiny.ways[1] = (("B", "M", "C"), tiny.ways[1][1])
    tiny.way("MX", PAVED, access="private")
    tiny.spot((60_000, 0), amenity="fuel", name="Open pump")
    help_, _ = _judge(tiny, tmp_path, *"ABMCDE")
    far = help_.kind(HelpKind.FUEL)
    assert far.place is not None
    assert far.place.name == "Open pump"
    assert far.farthest_m == pytest.approx(60_000, abs=30)


def test_unmapped_legs_are_reached_along_the_ride(tmp_path) -> None:
    """The middle of an unmapped line is as far as the ride to its nearer end, and no farther."""
    tiny = _line_map().spot((0, 0), shop="motorcycle_repair", name="West Works")
    region = tiny.read(tmp_path)
    whole = region.ride(*"ABCDE")
    match = whole.match
    kind, edge = match.kind.copy(), match.edge.copy()
    kind[1], edge[1] = LegKind.UNMAPPED, -1
    at_edge = [np.where(edge < 0, np.nan, x) for x in (match.edge_from_m, match.edge_to_m)]
    off = replace(match, kind=kind, edge=edge, edge_from_m=at_edge[0], edge_to_m=at_edge[1])
    ground = [region.ground(int(w)) for w in match.way]
    ground[1] = type(ground[0]).UNMAPPED
    ride: Ride = ride_on(off, ground, region.way_p)
    help_ = judge_help(ride, region.roads, region.places, region.fields(), fleet=DEFAULT_FLEET)
    along = help_.along
    middle = int(np.argmin(np.abs(along.at_m - 20_000)))
    assert along.mechanic_m[middle] == pytest.approx(along.at_m[middle], abs=10)
    assert along.to_dict()["at_m"][-1] == along.at_m[-1]  # rounded, it may lie past the end


def test_edge_of_the_map_is_told_where_help_may_lie_beyond(tmp_path) -> None:
    tiny = _line_map().spot((0, 0), shop="motorcycle_repair", name="West Works")
    help_, _ = _judge(tiny, tmp_path, *"ABCDE")
    assert any("edge of the map" in words for words in help_.words)
    assert help_.kind(HelpKind.MECHANIC).outside_m == pytest.approx(0.0, abs=1)


def test_dict_holds_the_contract_keys_and_no_nan(tmp_path) -> None:
    tiny = _line_map().spot((0, 0), shop="motorcycle_repair", name="West Works")
    help_, _ = _judge(tiny, tmp_path, *"ABCDE")
    told = help_.to_dict()
    for kind in ("mechanic", "fuel", "water", "hospital"):
        assert {"farthest_m", "farthest_at_m", "farthest_s"} <= told[kind].keys()
    assert {"from_m", "to_m", "nearest_m", "nearest_s", "nearest"} <= told["remote"][0].keys()
    assert told["exits"] == []
    assert told["fuel"]["farthest_m"] is None
    numbers = [x for lane in told["along"].values() for x in lane if x is not None]
    assert np.isfinite(numbers).all()
    assert None in told["along"]["fuel_m"]


def _two_roads(price_m: float = 20_000) -> TinyMap:
    """From A to the hospital at B: 10 km of forest road, or `price_m` round by the north."""
    half = price_m / 2 - 5_000
    nodes = {"A": (0, 0), "B": (10_000, 0), "C": (0, half), "D": (10_000, half), "Z": (-5_000, 0)}
    tiny = TinyMap(nodes=nodes)
    tiny.way("ZA", PAVED)
    tiny.way("AB", PAVED, access="forestry", name="Cut Road")
    for pair in ("AC", "CD", "DB"):
        tiny.way(pair, PAVED)
    return tiny.spot((10_000, 0), amenity="hospital", name="Ward")


@pytest.mark.parametrize(("round_m", "far_m"), [(20_000, 25_000), (40_000, 15_000)])
def test_road_closed_by_tag_is_ridden_in_an_emergency_at_its_price(
    tmp_path, round_m: float, far_m: float
) -> None:
    """10 km of forest road count 30: a way round of 20 km is better, one of 40 km is not."""
    help_, _ = _judge(_two_roads(round_m), tmp_path, "Z", "A")
    far = help_.kind(HelpKind.HOSPITAL)
    assert far.farthest_m == pytest.approx(far_m, abs=30)  # true metres, without the price
    assert far.place is not None and far.place.name == "Ward"
    restricted = [(way.access, way.name, round(way.length_m, -2)) for way in far.restricted]
    assert restricted == ([] if round_m == 20_000 else [("forestry", "Cut Road", 10_000)])
    if restricted:
        assert far.farthest_s == pytest.approx(5 * 60 + 3 * 10 * 60, rel=0.01)
    told = [text for text in help_.words if "closed by tag (access=forestry)" in text]
    assert bool(told) is bool(restricted)


def test_one_place_one_map_one_answer_whichever_way_the_forest_road_lies(tmp_path) -> None:
    """The hospital behind a forest road is in reach, and so is who rides on that road."""
    tiny = TinyMap(nodes={"A": (0, 0), "B": (20_000, 0), "C": (25_000, 0)})
    tiny.way("AB", PAVED, access="forestry").way("BC", PAVED)
    tiny.spot((25_000, 0), amenity="hospital", name="Ward")
    far = _judge(tiny, tmp_path, "A", "B")[0].kind(HelpKind.HOSPITAL)
    assert far.farthest_m == pytest.approx(25_000, abs=30)
    assert far.unknown_m == 0.0


def test_weaker_help_is_told_by_kind_name_and_phone(tmp_path) -> None:
    tiny = _line_map().spot((60_000, 0), shop="tyres", name="Rubber", phone="+999 1")
    tiny.spot((30_000, 0), amenity="doctors", name="Dr. Who")
    tiny.spot((0, 0), tourism="hotel", name="Inn")
    help_, ride = _judge(tiny, tmp_path, *"ABCDE")
    told = {item.kind.value: item for item in help_.weaker}
    assert set(told) == {"tyres", "doctor", "lodging"}
    assert (told["tyres"].place.name, told["tyres"].place.phone) == ("Rubber", "+999 1")
    assert told["tyres"].length_m == pytest.approx(60_000, abs=30)  # from the other end
    assert told["lodging"].time_s == pytest.approx(ride.time_s(np.array([60_000.0]))[0], rel=0.01)
    (run,) = help_.remote
    assert {item.kind.value for item in run.weaker} == {"tyres", "doctor", "lodging"}
    assert any("tyre shop Rubber, +999 1" in text for text in help_.words)


def test_way_to_a_place_on_the_edge_that_one_rides(tmp_path) -> None:
    """8 km along a road from its first kilometre on, and 2 km more off the map: the inn at
    4.1 km is 2 and 4.9 km away from the end of it."""
    tiny = TinyMap(nodes={"A": (0, 0), "B": (10_000, 0), "C": (12_000, 0)})
    tiny.way("AB", PAVED).way("BC", PAVED).spot((4_100, 0), tourism="hotel", name="Inn")
    region = tiny.read(tmp_path)
    whole = region.ride(*"ABC").match
    off = replace(
        whole, kind=np.array([LegKind.MATCHED, LegKind.UNMAPPED], np.int8),
        edge=np.array([whole.edge[0], -1], np.int32), from_m=np.array([0.0, 8_000.0]),
        to_m=np.array([8_000.0, 10_000.0]), edge_from_m=np.array([1_000.0, np.nan]),
        edge_to_m=np.array([9_000.0, np.nan]),
    )  # fmt: skip
    ground = [region.ground(0), GroundKind.UNMAPPED]
    ride = ride_on(off, ground, region.way_p)
    help_ = judge_help(ride, region.roads, region.places, region.fields(), fleet=DEFAULT_FLEET)
    (inn,) = help_.weaker
    assert (inn.at_m, inn.length_m) == pytest.approx((10_000, 2_000 + 4_900), abs=5)


def test_weaker_help_is_told_only_where_it_is_nearer_than_the_workshop(tmp_path) -> None:
    tiny = _line_map().spot((0, 0), shop="motorcycle_repair", name="West Works")
    tiny.spot((0, 0), shop="car_repair", name="Cars")
    tiny.spot((60_000, 0), shop="tyres", name="Rubber")
    (run,) = _judge(tiny, tmp_path, *"ABCDE")[0].remote
    assert [item.kind.value for item in run.weaker] == ["tyres"]


def test_no_workshop_is_an_alarm_only_against_what_is_usual_in_the_region(tmp_path) -> None:
    """Where the map of a region holds none at all, that says something of the map."""
    assert [run.unusual for run in _judge(_line_map(), tmp_path, *"ABCDE")[0].remote] == [False]
    apart = _line_map().spot((0, 0), shop="motorcycle_repair", name="West Works")
    apart.nodes |= {"X": (0, 50_000), "Y": (2_000, 50_000)}  # an island without a way across
    apart.way("XY", PAVED)
    alone, _ = _judge(apart, tmp_path, "X", "Y")
    assert [run.unusual for run in alone.remote] == [True]


def test_what_the_map_lacks_is_told_at_once_and_towns_only_where_there_is_one(tmp_path) -> None:
    """Five sentences in a row ended with "That is not the same as none", and one on what towns
    are good for followed, on a map without a town."""
    bare, _ = _judge(_line_map(), tmp_path, *"ABCDE")
    told = [text for text in bare.words if text.startswith("Not in the map")]
    assert told == [
        "Not in the map, as far as roads lead from this ride: fuel, water, hospital and "
        "lodging. That is not the same as none."
    ]
    assert not any("Towns" in text for text in bare.words)
    some = _line_map().spot((0, 0), amenity="fuel").spot((0, 0), tourism="hotel")
    some.spot((0, 0), place="town", name="Bigtown", population="50000")
    help_, _ = _judge(some, tmp_path, *"ABCDE")
    told = [text for text in help_.words if text.startswith("Not in the map")]
    assert told == [
        "Not in the map, as far as roads lead from this ride: water and hospital. That is not the "
        "same as none."
    ]
    assert any("Towns" in text for text in help_.words)


def test_a_part_without_a_workshop_is_worst_where_the_town_is_farthest(tmp_path) -> None:
    """A ride from a town outward said that help is "0 min away at most"."""
    tiny = _line_map().spot((0, 0), place="town", name="Bigtown", population="50000")
    (run,) = _judge(tiny, tmp_path, *"ABCDE")[0].remote
    assert run.nearest_s is None and run.worst_at_m == run.to_m
    assert run.town_m == pytest.approx(run.to_m, rel=0.01)


def test_a_short_one_way_off_the_map_is_no_alarm(tmp_path) -> None:
    """From the last 500 m no road leads back but against the arrow: pushed, it is not far."""
    tiny = TinyMap(nodes={"A": (0, 0), "B": (5_000, 0), "C": (5_500, 0), "D": (0, 60_000)})
    tiny.way("AB", PAVED).way("BC", PAVED, oneway="yes").way("AD", PAVED)
    tiny.spot((0, 0), shop="motorcycle_repair", name="West Works")
    (run,) = _judge(tiny, tmp_path, *"ABC")[0].remote
    assert run.nearest_m is None and not run.unusual
