"""Ways out on maps drawn by hand, with times anyone can add up; and on Andorra with networkx."""

from __future__ import annotations

from pathlib import Path

import networkx as nx
import numpy as np
import pytest

from terrain.stages.exits import find, find_exits
from terrain.stages.exits.leaving import node_spot
from terrain.stages.help.fields import help_fields
from terrain.values.exits import ExitMode
from tests.stages.tinymap import EAST_M, GRAVEL, PAVED, TRACK, TinyMap, TinyRegion, ride_of_legs


def _valley(*, side: bool = False, far_end_paved: bool = True) -> TinyMap:
    """Tarmac A-B (10 km), track B-C-D (6 and 6 km), tarmac D-E (10 km).

    With `side`, a gravel lane leads 2 km north from C to a paved road P-Q of 10 km.
    """
    tiny = TinyMap(nodes={
        "A": (0, 0), "B": (10_000, 0), "C": (16_000, 0), "D": (22_000, 0), "E": (32_000, 0),
        "P": (16_000, 2_000), "Q": (26_000, 2_000),
    })  # fmt: skip
    tiny.way("AB", PAVED, ref="R 1").way("BCD", TRACK, name="Old Salt Way")
    tiny.way("DE", PAVED if far_end_paved else TRACK, ref="R 2")
    tiny.way("PQ", PAVED, ref="R 3")
    if side:
        tiny.way("CP", GRAVEL)
        return tiny
    tiny.nodes["P"] = (16_000, 20_000)
    return tiny


def _exits(tiny: TinyMap, tmp_path, *names):
    region = tiny.read(tmp_path)
    ride = region.ride(*names)
    return find_exits(ride, region.roads, region.fields()), ride


def test_halfway_is_worst_and_turning_back_is_quicker_until_there(tmp_path) -> None:
    """12 km of track at 18 km/h: 1200 s from the middle to either end."""
    exits, _ = _exits(_valley(), tmp_path, *"ABDE")
    assert len(exits) == 1
    way = exits[0]
    assert (way.from_m, way.to_m) == pytest.approx((10_000, 22_000), abs=30)
    assert way.ride_s == pytest.approx(2_400, abs=5)
    assert way.worst is not None
    assert way.worst.time_s == pytest.approx(1_200, abs=30)
    assert way.worst.at_m == pytest.approx(16_000, abs=130)
    assert way.turn_back_until_m == pytest.approx(16_000, abs=30)
    assert way.sides == ()
    assert way.last_decision.at_m == pytest.approx(10_000, abs=30)
    assert (way.commit_m, way.commit_s) == pytest.approx((12_000, 2_400), rel=0.01)
    assert way.unknown_m == 0.0
    assert "No side way out" in way.words


def test_a_node_is_named_after_a_paved_road_that_meets_it_and_no_other(tmp_path) -> None:
    """The reference before the name; gravel names no way out."""
    tiny = TinyMap(nodes={"A": (0, 0), "B": (9_000, 0), "C": (18_000, 0), "D": (9_000, 9_000)})
    tiny.way("AB", PAVED, name="Low Road", ref="R 7").way("BC", PAVED, name="High Road")
    tiny.way("BD", GRAVEL, name="Stony Lane")
    region = tiny.read(tmp_path)
    fields = region.fields()
    told = {name: node_spot(region.roads, row, fields).name for name, row in region.node.items()}
    assert told["A"] == "R 7" and told["C"] == "High Road" and told["D"] is None
    assert told["B"] in ("R 7", "High Road")
    spot = node_spot(region.roads, region.node["C"], fields)
    assert (spot.lon, spot.lat) == pytest.approx((18_000 / EAST_M, 0.0), abs=1e-6)


def test_side_way_out_is_found_with_its_line_and_target(tmp_path) -> None:
    """From C 2 km of gravel at 36 km/h: 200 s to R 3, where back or on takes 1200 s."""
    exits, _ = _exits(_valley(side=True), tmp_path, *"ABCDE")
    way = exits[0]
    assert len(way.sides) == 1
    side = way.sides[0]
    assert side.at_m == pytest.approx(16_000, abs=30)
    assert side.time_s == pytest.approx(200, abs=2)
    assert side.length_m == pytest.approx(2_000, abs=5)
    assert side.to.name == "R 3"
    assert (side.lon[0], side.lat[0]) == pytest.approx((16_000 / 111_319.49, 0.0), abs=1e-5)
    assert side.lat[-1] == pytest.approx(2_000 / 110_574.28, abs=1e-5)
    # Worst is now where back to B and on to C and out take the same: (1200 + 200) / 2 s.
    assert way.worst is not None
    assert way.worst.time_s == pytest.approx(700, abs=30)
    assert {round(way.worst.at_m, -3)} <= {14_000.0, 13_000.0, 18_000.0, 19_000.0}
    assert way.worst.out in (ExitMode.BACK, ExitMode.SIDE, ExitMode.ON)
    assert way.commit_m == pytest.approx(6_000, abs=30)


def test_dead_end_track_leaves_only_turning_back(tmp_path) -> None:
    exits, ride = _exits(_valley(far_end_paved=False), tmp_path, *"ABDE")
    way = exits[0]
    assert way.to_m == pytest.approx(ride.length_m, abs=1)
    assert way.worst is not None
    assert way.worst.out is ExitMode.BACK
    assert way.worst.at_m == pytest.approx(ride.length_m, abs=1)
    assert way.worst.time_s == pytest.approx(22_000 / 5.0, rel=0.01)
    assert way.worst.to.name == "R 1"
    assert way.turn_back_until_m is None
    assert way.van_after is None


def test_oneway_track_cannot_be_turned_back_on(tmp_path) -> None:
    tiny = _valley()
    tiny.ways[1] = (tiny.ways[1][0], {**tiny.ways[1][1], "oneway": "yes"})
    exits, _ = _exits(tiny, tmp_path, *"ABDE")
    way = exits[0]
    assert way.turn_back_until_m is None
    assert way.worst is not None
    assert way.worst.out is ExitMode.ON
    assert way.worst.time_s == pytest.approx(2_400, abs=60)


def test_van_meets_at_the_ends_of_what_it_cannot_ride(tmp_path) -> None:
    """Gravel B-C can be driven, the track C-D cannot: the van comes as far as C."""
    tiny = _valley()
    tiny.ways[1] = (("B", "C"), GRAVEL)
    tiny.way("CD", TRACK)
    exits, _ = _exits(tiny, tmp_path, *"ABCDE")
    way = exits[0]
    assert not way.van_passes
    assert way.van_before is not None
    assert way.van_before.at_m == pytest.approx(16_000, abs=30)
    assert way.van_after is not None
    assert way.van_after.at_m == pytest.approx(22_000, abs=30)
    # From the middle of the track, 600 s to either end; from C on the van takes the bike.
    assert way.van_worst_s is not None
    assert way.van_worst_s <= 600 + 30
    assert "cannot follow from km 16 to km 22; on the rest" in way.words


def test_van_follows_over_gravel(tmp_path) -> None:
    tiny = _valley()
    tiny.ways[1] = (("B", "C", "D"), GRAVEL)
    exits, _ = _exits(tiny, tmp_path, *"ABDE")
    assert exits[0].van_passes
    assert "van can probably follow" in exits[0].words


def test_paved_patch_inside_a_track_is_no_way_out(tmp_path) -> None:
    """A concrete ramp of 1 km joins no network: the run goes on over it."""
    tiny = _valley()
    tiny.nodes["F"] = (17_000, 0)
    tiny.ways[1] = (("B", "C"), TRACK)
    tiny.way("CF", PAVED).way("FD", TRACK)
    exits, _ = _exits(tiny, tmp_path, *"ABCFDE")
    assert len(exits) == 1
    assert exits[0].to_m - exits[0].from_m == pytest.approx(12_000, abs=30)
    assert exits[0].worst is not None
    assert exits[0].worst.time_s > 600


def test_ride_on_tarmac_needs_no_way_out(tmp_path) -> None:
    assert _exits(_valley(), tmp_path, *"AB")[0] == ()


def test_dict_is_plain_data(tmp_path) -> None:
    import json

    exits, _ = _exits(_valley(side=True), tmp_path, *"ABCDE")
    told = json.loads(json.dumps(exits[0].to_dict(), allow_nan=False))
    assert {"from_m", "to_m", "worst", "sides", "last_decision", "van_before"} <= told.keys()


def test_worst_way_out_equals_networkx_on_andorra(shared_data: Path) -> None:
    """Random walks over tracks of a real extract: the way out of each leg border."""
    from terrain.region.osm import read_osm

    data = read_osm((shared_data / "osm/andorra-2023-05-02.osm.pbf",), lambda step, share: None)
    roads = data.roads
    region = TinyRegion(roads=roads, places=data.places, names={})
    is_track = np.array([roads.ways.highway.text(i) == "track" for i in range(len(roads.ways))])
    region.way_p = np.where(is_track[:, None], (0.02, 0.08, 0.90), (0.95, 0.03, 0.02))
    region.edge_time_s = roads.edge_length_m / np.where(is_track[roads.edge_way], 5.0, 16.0)
    fields = help_fields(roads, data.places, way_p=region.way_p, edge_time_s=region.edge_time_s)
    graph = nx.MultiDiGraph()
    oneway = roads.ways.oneway[roads.edge_way]
    for k in np.flatnonzero(fields.edge_open).tolist():
        u, v, w = int(roads.edge_u[k]), int(roads.edge_v[k]), float(region.edge_time_s[k])
        if oneway[k] != -1:
            graph.add_edge(v, u, w=w)  # turned round: from the target
        if oneway[k] != 1:
            graph.add_edge(u, v, w=w)
    paved = np.flatnonzero(fields.edge_paved)
    targets = set(roads.edge_u[paved].tolist()) | set(roads.edge_v[paved].tolist())
    out_s = nx.multi_source_dijkstra_path_length(graph, targets, weight="w")
    checked = 0
    for seed in range(60):
        legs = _random_tracks(region, fields, np.random.default_rng(seed))
        if len(legs) < 3:
            continue
        ride = ride_of_legs(region, legs)
        for way in find_exits(ride, roads, fields):
            assert way.worst is not None
            # At every leg border inside the run the way out is that of the graph.
            inside = (ride.match.from_m >= way.from_m) & (ride.match.to_m <= way.to_m)
            ends = [
                int(roads.edge_v[k] if ahead else roads.edge_u[k])
                for (k, ahead), on in zip(legs, inside, strict=True) if on
            ]  # fmt: skip
            least = max(out_s[node] for node in ends if node in out_s)
            assert way.worst.time_s >= least - 1.0
            for side in way.sides:
                node = int(np.argmin(np.hypot(roads.node_lon - side.lon[0],
                                              roads.node_lat - side.lat[0])))  # fmt: skip
                assert side.time_s >= out_s[node] - 0.5
                checked += 1
    assert checked >= 5


def _random_tracks(region: TinyRegion, fields, rng) -> list[tuple[int, bool]]:
    """A walk of up to 12 open track edges that never turns on the spot."""
    roads = region.roads
    usable = fields.edge_open & ~fields.edge_paved & (roads.ways.oneway[roads.edge_way] == 0)
    k = int(rng.choice(np.flatnonzero(usable)))
    legs, ahead = [], bool(rng.integers(2))
    for _ in range(12):
        legs.append((k, ahead))
        node = int(roads.edge_v[k] if ahead else roads.edge_u[k])
        span = roads.out_arc[roads.out_start[node] : roads.out_start[node + 1]]
        onward = [(int(a) >> 1, not int(a) & 1) for a in span if usable[a >> 1] and a >> 1 != k]
        if not onward:
            break
        k, ahead = onward[int(rng.integers(len(onward)))]
    return legs


def test_a_van_barred_in_parts_is_said_to_meet_in_between(tmp_path) -> None:
    """Track, 3 km of gravel that a van comes up from the road, track: two gaps, not one."""
    tiny = TinyMap(nodes={name: (x, y) for name, x, y in (
        ("A", 0, 0), ("B", 10_000, 0), ("C", 15_000, 0), ("D", 18_000, 0), ("E", 23_000, 0),
        ("F", 33_000, 0), ("G", 15_000, -9_000), ("H", 0, -9_000),
    )})  # fmt: skip
    tiny.way("AB", PAVED).way("BC", TRACK).way("CD", GRAVEL).way("DE", TRACK).way("EF", PAVED)
    tiny.way("CG", GRAVEL).way("GH", PAVED).way("HA", PAVED)
    region = tiny.read(tmp_path)
    (way,) = find_exits(region.ride(*"ABCDEF"), region.roads, region.fields())
    assert [(round(a, -3), round(b, -3)) for a, b in way.van_gaps] == [
        (10_000, 15_000), (18_000, 23_000),
    ]  # fmt: skip
    assert "cannot follow on 10 km of it, in 2 parts between km 10 and km 23" in way.words


@pytest.mark.parametrize(("from_m", "n"), [(12_000.0, 0), (13_000.0, 1)])
def test_of_a_run_mostly_beyond_the_region_nothing_is_said(
    tmp_path, monkeypatch: pytest.MonkeyPatch, from_m: float, n: int
) -> None:
    """30 km beyond the map were told as "No side way out is mapped: ride on or turn back"."""
    tiny = TinyMap(
        nodes={name: (x, 0) for name, x in zip("ABCD", (0, 1e4, 1.5e4, 2e4), strict=True)}
    )
    tiny.way("AB", PAVED).way("BC", TRACK).way("CD", PAVED)
    region = tiny.read(tmp_path)
    monkeypatch.setattr(find, "outside_region", lambda *_: ((from_m, 2e4),))
    assert len(find_exits(region.ride(*"ABCD"), region.roads, region.fields())) == n
