"""Other ways round on maps drawn by hand."""

from __future__ import annotations

import json

import pytest

from terrain.stages.detours import find_detours
from terrain.stages.help import judge_help
from terrain.tables.fleet import DEFAULT_FLEET
from terrain.values.detours import DetourKind
from terrain.values.ground import GroundKind
from terrain.values.help import Remote
from terrain.values.trip import Rider, Trip, Wants
from tests.stages.tinymap import GRAVEL, PAVED, TRACK, TinyMap


def _ring(direct, loop) -> TinyMap:
    """West to east A 0, B 10, C 18, D 28 km; B-C direct, or over N, 8 km + 2 x 6 km north."""
    tiny = TinyMap(nodes={"A": (0, 0), "B": (10_000, 0), "C": (18_000, 0), "D": (28_000, 0),
                          "N": (10_000, 6_000), "M": (18_000, 6_000)})  # fmt: skip
    return (
        tiny.way("AB", PAVED, ref="R 1").way("BC", direct).way("CD", PAVED, ref="R 1")
        .way("BNMC", loop, name="Hill Road")
    )  # fmt: skip


def _detours(tiny: TinyMap, tmp_path, *names, remote: bool = False, trip: Trip | None = None):
    region = tiny.read(tmp_path)
    ride = region.ride(*names)
    fields = region.fields()
    runs = ()
    if remote:
        runs = judge_help(
            ride, region.roads, region.places, fields, fleet=DEFAULT_FLEET
        ).remote  # fmt: skip
    return find_detours(ride, region.roads, fields, way_p=region.way_p, remote=runs, trip=trip)


def test_road_tyre_way_round_a_track_with_km_and_minutes_added(tmp_path) -> None:
    """20 km of tarmac at 60 km/h (1200 s) for 8 km of track at 18 km/h (1600 s)."""
    found = _detours(_ring(TRACK, PAVED), tmp_path, *"ABCD")
    assert [item.kind for item in found] == [DetourKind.ROAD]
    way = found[0]
    assert (way.from_m, way.to_m) == pytest.approx((10_000, 18_000), abs=20)
    assert (way.around_from_m, way.around_to_m) == pytest.approx((10_000, 18_000), abs=20)
    assert way.length_m == pytest.approx(20_000, abs=30)
    assert way.added_m == pytest.approx(12_000, abs=30)
    assert way.added_s == pytest.approx(-400, abs=5)
    assert way.roads == ("Hill Road",)
    assert way.shares is not None
    paved = way.shares[GroundKind.PAVED]
    assert paved.best == pytest.approx(0.98, abs=0.005)
    assert paved.low <= paved.best <= paved.high
    assert len(way.lon) == len(way.lat) == 4


def test_no_way_for_road_tyres_is_made_up(tmp_path) -> None:
    assert _detours(_ring(TRACK, TRACK), tmp_path, *"ABCD") == ()


def test_gravel_is_taken_for_road_tyres_only_without_tarmac(tmp_path) -> None:
    found = _detours(_ring(TRACK, GRAVEL), tmp_path, *"ABCD")
    assert len(found) == 1
    assert found[0].shares is not None
    assert found[0].shares[GroundKind.GRAVEL].best > 0.9
    tiny = _ring(TRACK, GRAVEL)
    tiny.nodes |= {"S": (10_000, -9_000), "T": (18_000, -9_000)}
    tiny.way("BSTC", PAVED, name="South Road")
    found = _detours(tiny, tmp_path, *"ABCD")
    assert found[0].roads == ("South Road",)


def test_closed_road_is_no_way_round(tmp_path) -> None:
    tiny = _ring(TRACK, {**PAVED, "motor_vehicle": "no"})
    assert _detours(tiny, tmp_path, *"ABCD") == ()


def test_there_and_back_track_may_be_left_out(tmp_path) -> None:
    tiny = _ring(PAVED, PAVED)
    tiny.nodes["V"] = (10_000, -5_000)
    tiny.way("BV", TRACK)
    found = _detours(tiny, tmp_path, *"ABVBCD")
    ways = [item for item in found if item.kind is DetourKind.ROAD]
    assert len(ways) == 1
    assert ways[0].added_m == pytest.approx(-10_000, abs=20)
    assert ways[0].shares is None
    assert len(ways[0].lon) == 0


def test_dirt_in_place_of_tarmac_is_offered(tmp_path) -> None:
    """8 km of tarmac, or 9.4 km over gravel."""
    tiny = _ring(PAVED, GRAVEL)
    tiny.nodes["N"], tiny.nodes["M"] = (10_700, 700), (17_300, 700)
    found = _detours(tiny, tmp_path, *"ABCD")
    assert [item.kind for item in found] == [DetourKind.DIRT]
    assert found[0].added_m == pytest.approx(2 * 990 + 6_600 - 8_000, abs=60)
    assert found[0].shares is not None
    assert found[0].shares[GroundKind.GRAVEL].best == pytest.approx(0.92, abs=0.01)
    assert "More dirt" in found[0].words


def test_two_ways_over_dirt_lie_side_by_side_and_none_over_another(tmp_path) -> None:
    """Two gravel loops 60 km apart beside one road of tarmac: both are offered."""
    tiny = TinyMap(nodes={})
    names = []
    for number, x in enumerate((0.0, 80_000.0)):
        tiny.nodes |= {
            f"A{number}": (x, 0), f"B{number}": (x + 10_000, 0), f"C{number}": (x + 18_000, 0),
            f"N{number}": (x + 10_700, 700), f"M{number}": (x + 17_300, 700),
        }  # fmt: skip
        tiny.way((f"A{number}", f"B{number}"), PAVED).way((f"B{number}", f"C{number}"), PAVED)
        tiny.way([f"{letter}{number}" for letter in "BNMC"], GRAVEL)
        names += [f"{letter}{number}" for letter in "ABC"]
    tiny.way(("C0", "A1"), PAVED)
    found = _detours(tiny, tmp_path, *names)
    assert [item.kind for item in found] == [DetourKind.DIRT] * 2
    (first, second) = sorted(found, key=lambda item: item.from_m)
    assert first.to_m <= second.from_m
    assert (first.from_m, second.from_m) == pytest.approx((10_000, 90_000), abs=60)


@pytest.mark.parametrize(
    ("trip", "offered"),
    [
        (Trip(), True),
        (Trip(wants=Wants.ROAD), False),
        (Trip(rider=Rider.NOVICE), False),
        (Trip(rider=Rider.NOVICE, wants=Wants.OFF_ROAD), True),
    ],
)
def test_dirt_is_offered_neither_to_who_wants_a_road_trip_nor_unasked_to_a_novice(
    trip: Trip, offered: bool, tmp_path
) -> None:
    """Common practice, no source."""
    tiny = _ring(PAVED, GRAVEL)
    tiny.nodes["N"], tiny.nodes["M"] = (10_700, 700), (17_300, 700)
    found = _detours(tiny, tmp_path, *"ABCD", trip=trip)
    assert any(item.kind is DetourKind.DIRT for item in found) == offered


def test_dirt_far_longer_than_the_tarmac_is_not_offered(tmp_path) -> None:
    tiny = _ring(PAVED, GRAVEL)
    tiny.nodes["N"], tiny.nodes["M"] = (10_000, 14_000), (18_000, 14_000)
    assert _detours(tiny, tmp_path, *"ABCD") == ()


def test_way_round_a_remote_part_has_to_be_nearer_to_help(tmp_path) -> None:
    """The far loop passes a workshop: only then is leaving the remote road worth it."""
    tiny = TinyMap(nodes={
        "A": (0, 0), "B": (2_000, 0), "C": (98_000, 0), "D": (100_000, 0), "N": (2_000, 20_000),
        "M": (98_000, 20_000), "W": (50_000, 20_000),
    })  # fmt: skip
    tiny.way("AB", PAVED).way("BC", PAVED).way("CD", PAVED)
    tiny.way("BN", PAVED).way("NW", PAVED).way("WM", PAVED).way("MC", PAVED)
    far = _detours(tiny, tmp_path, *"ABCD", remote=True)
    assert [item for item in far if item.kind is DetourKind.ROAD] == []
    tiny.spot((50_000, 20_000), shop="motorcycle_repair", name="Middle Works")
    near = _detours(tiny, tmp_path, *"ABCD", remote=True)
    # From the middle of the road it is 116 km to W, from the loop 68 at most.
    assert [item.kind for item in near] == [DetourKind.ROAD]
    assert near[0].length_m == pytest.approx(136_000, abs=100)


def test_dict_is_plain_data(tmp_path) -> None:
    found = _detours(_ring(TRACK, PAVED), tmp_path, *"ABCD")
    told = json.loads(json.dumps(found[0].to_dict(), allow_nan=False))
    assert {"kind", "from_m", "to_m", "added_m", "added_s", "shares", "line"} <= told.keys()


def test_a_way_round_a_remote_junction_leaves_out_both_roads_beside_it(tmp_path) -> None:
    """C is the farthest from help: a loop that comes back to it is no way round, one that comes
    back at D is."""
    tiny = TinyMap(nodes={
        "A": (0, 0), "B": (10_000, 0), "C": (18_000, 0), "D": (28_000, 0), "E": (38_000, 0),
        "N": (14_000, 2_000), "M": (19_000, 9_000),
    })  # fmt: skip
    tiny.way("AB", PAVED).way("BC", PAVED).way("CD", PAVED).way("DE", PAVED)
    tiny.way("BNC", PAVED, name="Short Loop").way("BMD", PAVED, name="Long Loop")
    tiny.spot((19_000, 9_000), shop="motorcycle_repair", name="Works")
    region = tiny.read(tmp_path)
    ride = region.ride(*"ABCDE")
    far = Remote(
        from_m=10_000.0, to_m=28_000.0, worst_at_m=float(ride.match.to_m[1]), nearest_m=1e5,
        nearest_s=1e4, nearest=None, back_s=None, town=None, town_m=None, town_s=None,
    )  # fmt: skip
    found = find_detours(ride, region.roads, region.fields(), way_p=region.way_p, remote=(far,))
    assert [(way.roads, round(way.from_m, -2), round(way.to_m, -2)) for way in found] == [
        (("Long Loop",), 10_000, 28_000)
    ]
