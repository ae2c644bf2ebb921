"""Limits of help by road, a case on each side of each, and fields on a map drawn by hand against
networkx."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import networkx as nx
import numpy as np
import pytest

from terrain.stages.help import usable_roads
from terrain.stages.help.fields import _networks, _usual_m, help_sources
from terrain.stages.help.found import (
    _to_map_edge_m,
    beyond_limits,
    length_of,
    mends_all,
    steps_of,
)
from terrain.stages.help.judge import _along, _pushed_m, _remote_runs, judge_help
from terrain.stages.help.lanes import _nearer, helper_code, nearer, no_lanes
from terrain.stages.help.way import _to_node, restricted_ways
from terrain.stages.help.words import _restricted, _weaker_near
from terrain.tables.fleet import DEFAULT_FLEET
from terrain.values.help import (
    HELP_KINDS,
    HelpBasis,
    Helper,
    HelperKind,
    HelpKind,
    NearestHelp,
    PlaceRef,
    RestrictedWay,
    Weaker,
    WeakHelp,
)
from tests.stages.tinymap import PAVED, TRACK, TinyMap, TinyRegion

NAN = np.nan


def _lane(cost: list[float], source: list[int] | None = None) -> Any:
    rows = [0] * len(cost) if source is None else source
    return SimpleNamespace(cost=np.array(cost), source=np.array(rows, np.int32))


def _by_kind(dist: list[float], time: list[float]) -> Any:
    return SimpleNamespace(dist=_lane(dist), time=_lane(time), back=_lane(time))


def _samples(at_m: list[float], on_land: list[bool] | None = None) -> Any:
    at = np.array(at_m)
    land = np.ones(len(at), np.bool_) if on_land is None else np.array(on_land)
    return SimpleNamespace(at_m=at, step_m=np.diff(at), on_land=land)


# -- what is nearer, and what is remote -----------------------------------------------------------


@pytest.mark.parametrize(
    ("a", "b", "source", "cost"),
    [
        (100.0, 91.0, 1, 100.0), (100.0, 90.0, 1, 100.0), (100.0, 89.0, 2, 89.0),
        (100.0, NAN, 1, 100.0), (NAN, 500.0, 2, 500.0),
    ],
)  # fmt: skip
def test_the_first_of_two_wins_unless_the_other_is_10_nearer(
    a: float, b: float, source: int, cost: float
) -> None:
    """Metres or seconds that make no difference (common practice, no source)."""
    found = _nearer(_lane([a], [1]), _lane([b], [2]))
    assert (found.source.tolist(), found.cost.tolist()) == ([source], [cost])


def test_of_two_sorts_each_column_is_compared_by_itself() -> None:
    samples: Any = _samples([0.0, 10.0])
    nothing = no_lanes(samples)
    assert all(np.isnan(lane.cost).all() and (lane.source == -1).all() for lane in nothing)
    some: Any = (_lane([1.0, 2.0], [3, 3]), _lane([5.0, NAN], [4, -1]), _lane([NAN, 6.0], [-1, 5]))
    either = nearer(nothing, some)
    assert either.dist.source.tolist() == [3, 3]
    assert either.time.source.tolist() == [4, -1]
    assert either.back.source.tolist() == [-1, 5]


def test_codes_of_helpers_are_their_own_inverse() -> None:
    assert [helper_code(i) for i in (0, 1, 5)] == [-2, -3, -7]
    assert [helper_code(helper_code(i)) for i in (0, 1, 5)] == [0, 1, 5]


@pytest.mark.parametrize(
    ("dist_m", "time_s", "beyond"),
    [
        (60_000.0, 5_400.0, False), (60_001.0, 10.0, True), (10.0, 5_401.0, True),
        (NAN, NAN, True), (NAN, 10.0, True),
    ],
)  # fmt: skip
def test_remote_is_beyond_either_of_the_operators_limits(
    dist_m: float, time_s: float, beyond: bool
) -> None:
    rules = replace(DEFAULT_FLEET.rules, remote_m=60_000.0, remote_s=5_400.0)
    lanes = _by_kind([dist_m] * 2, [time_s] * 2)
    samples = _samples([0.0, 10.0], [True, False])
    assert beyond_limits(lanes, samples, rules).tolist() == [beyond, False]  # never on a ferry


def test_a_step_counts_if_either_end_does_and_none_at_sea() -> None:
    samples = _samples([0, 100, 300, 600, 1_000], [True, True, True, True, False])
    mask = np.array([False, False, True, False, True])
    assert steps_of(samples, mask).tolist() == [False, True, True, False]
    assert length_of(samples, mask) == 500.0


def _found(at_m: list[float], far: list[bool], **more: Any) -> Any:
    """A ride of which some samples are 90 km from a mechanic."""
    cost = [90_000.0 if f else 10_000.0 for f in far]
    kinds = {kind: _by_kind(cost, cost) for kind in HELP_KINDS}
    kinds[HelpKind.MECHANIC].time.source[:] = -1
    kinds[HelpKind.TOWN].time.source[:] = -1
    usual = SimpleNamespace(usual_m=np.full(len(HELP_KINDS), 50_000.0))
    found = {"samples": _samples(at_m), "kinds": kinds, "mapped": kinds, "fields": usual}
    return SimpleNamespace(**(found | more))


class _NoWeaker:
    def around(self, i: int, within_s: float | None) -> tuple[()]:
        return ()


@pytest.mark.parametrize(("gap_m", "runs"), [(1_000.0, 1), (1_001.0, 2)])
def test_remote_runs_less_than_a_kilometre_apart_are_one(gap_m: float, runs: int) -> None:
    """Common practice, no source. A run reaches to the samples beside those that are far."""
    at = [0.0, 100.0, 200.0, 200.0 + gap_m, 300.0 + gap_m, 400.0 + gap_m, 9_000.0]
    far = [False, True, False, False, True, False, False]
    found, weaker = _found(at, far), _NoWeaker()
    told = _remote_runs(found, weaker, np.array(far))  # type: ignore[arg-type]
    assert len(told) == runs
    assert (told[0].from_m, told[-1].to_m) == (0.0, 400.0 + gap_m)
    assert told[0].worst_at_m == 100.0
    assert told[0].unusual and told[0].nearest_m == 90_000.0


def test_the_worst_point_of_a_run_is_where_nobody_is_known() -> None:
    found = _found([0.0, 100.0, 200.0, 300.0], [True] * 4)
    found.kinds[HelpKind.MECHANIC].time.cost[2] = NAN
    found.kinds[HelpKind.MECHANIC].dist.cost[2] = NAN
    (run,) = _remote_runs(found, _NoWeaker(), np.ones(4, np.bool_))  # type: ignore[arg-type]
    assert (run.worst_at_m, run.nearest_m, run.nearest_s) == (200.0, None, None)
    # Pushed 100 m to where a mechanic is 90 km off: 90.1, more than is usual there.
    assert _pushed_m(found, 2) == pytest.approx(90_100.0)
    assert run.unusual
    found.fields.usual_m[:] = 90_100.0
    (run,) = _remote_runs(found, _NoWeaker(), np.ones(4, np.bool_))  # type: ignore[arg-type]
    assert not run.unusual
    found.kinds[HelpKind.MECHANIC].dist.cost[:] = NAN
    assert _pushed_m(found, 2) == np.inf


@pytest.mark.parametrize(("n", "kept"), [(600, 600), (601, 600), (5, 5)])
def test_600_positions_are_kept_for_drawing_with_both_ends(n: int, kept: int) -> None:
    at = np.arange(n, dtype=float).tolist()
    along = _along(_found(at, [False] * n))
    assert len(along.at_m) == kept
    assert (along.at_m[0], along.at_m[-1]) == (0.0, n - 1.0)


def test_the_farthest_point_is_drawn_as_far_as_it_is_told() -> None:
    """Told as 35 min on the page and drawn as 30 on the card: it lay between two of 600."""
    far = [i == 777 for i in range(2_000)]
    along = _along(_found(np.arange(2_000.0).tolist(), far))
    assert along.mechanic_s.max() == 90_000.0 and len(along.at_m) <= 602


@pytest.mark.parametrize(
    ("lon", "lat", "edge_km"),
    [
        (0.1, 0.4, 11.13), (0.9, 0.4, 11.13), (0.4, 0.1, 11.06), (0.4, 0.9, 11.06),
        (0.5, 0.45, 49.8), (1.1, 0.4, 0.0),
    ],
)  # fmt: skip
def test_distance_to_the_edge_of_the_map(lon: float, lat: float, edge_km: float) -> None:
    """A box of a degree: 111.3 km across and 110.6 up at the equator; 0 beyond it."""
    corners = SimpleNamespace(node_lon=np.array([0.0, 1.0]), node_lat=np.array([0.0, 1.0]))
    ride = SimpleNamespace(lonlat=lambda at_m: (lon, lat))
    found: Any = SimpleNamespace(roads=corners, ride=ride)
    assert _to_map_edge_m(found, 0.0) / 1e3 == pytest.approx(edge_km, abs=0.06)
    beyond = SimpleNamespace(lonlat=lambda at_m: (lon + 90.0, lat))
    assert _to_map_edge_m(SimpleNamespace(roads=corners, ride=beyond), 0.0) == 0.0  # type: ignore[arg-type]


def test_a_helper_of_all_classes_is_one_for_whatever_is_ridden() -> None:
    names = tuple(bike.name for bike in DEFAULT_FLEET.classes)
    helper = Helper(name="x", kind=HelperKind.MECHANIC, lon=0.0, lat=0.0)
    assert mends_all(helper, DEFAULT_FLEET)
    assert mends_all(replace(helper, repairs=(*names, "other")), DEFAULT_FLEET)
    assert not mends_all(replace(helper, repairs=names[1:]), DEFAULT_FLEET)


# -- which roads ----------------------------------------------------------------------------------

_SERVED = ("motorcycle", "restricted", "van", "van_restricted")


@pytest.mark.parametrize(
    ("tags", "served"),
    [
        ({}, "motorcycle van"),
        ({"access": "private"}, "restricted van_restricted"),
        ({"motorcycle": "no"}, "restricted van_restricted"),
        ({"highway": "path"}, ""),
        ({"highway": "construction", "construction": "primary"}, ""),
        ({"4wd_only": "yes"}, "motorcycle"),
        ({"ford": "yes"}, "motorcycle"),
        ({"width": "2.1"}, "motorcycle"), ({"width": "2.2"}, "motorcycle van"),
        ({"smoothness": "bad"}, "motorcycle van"), ({"smoothness": "very_bad"}, "motorcycle"),
        ({"tracktype": "grade3"}, "motorcycle van"), ({"tracktype": "grade4"}, "motorcycle"),
        ({"access": "private", "tracktype": "grade5"}, "restricted"),
    ],
)  # fmt: skip
def test_whom_a_road_serves(tmp_path: Path, tags: dict[str, str], served: str) -> None:
    """Clearance and soft ground by the OSM wiki (Key:smoothness, Key:tracktype); 2.2 m of width
    for a van is common practice, no source."""
    tiny = TinyMap(nodes={"A": (0, 0), "B": (1_000, 0)}).way("AB", {"highway": "tertiary", **tags})
    roads = tiny.read(tmp_path).roads
    usable = usable_roads(roads, np.array([[0.6, 0.2, 0.2]]))
    assert " ".join(name for name in _SERVED if getattr(usable, name).any()) == served


@pytest.mark.parametrize(
    ("p", "van", "paved"),
    [
        ((0.5, 0.01, 0.49), True, True), ((0.49, 0.02, 0.49), True, False),
        ((0.0, 0.5, 0.5), False, False),
    ],
)  # fmt: skip
def test_a_van_keeps_off_what_is_as_likely_a_track(
    tmp_path: Path, p: tuple[float, float, float], van: bool, paved: bool
) -> None:
    tiny = TinyMap(nodes={"A": (0, 0), "B": (6_000, 0)}).way("AB", {"highway": "unclassified"})
    usable = usable_roads(tiny.read(tmp_path).roads, np.array([p]))
    assert (bool(usable.van.any()), bool(usable.paved.any())) == (van, paved)


@pytest.mark.parametrize(("far_m", "network"), [(4_900, False), (5_100, True)])
def test_five_kilometres_in_all_are_a_network(tmp_path: Path, far_m: float, network: bool) -> None:
    """Common practice, no source: two roads that meet count together, a third apart does not."""
    tiny = TinyMap(nodes={"A": (0, 0), "B": (3_000, 0), "C": (far_m, 0), "D": (0, 9_000),
                          "E": (4_000, 9_000)})  # fmt: skip
    roads = tiny.way("AB", PAVED).way("BC", PAVED).way("DE", PAVED).read(tmp_path).roads
    on = _networks(roads, np.ones(roads.n_edges, np.bool_))
    assert int(on.sum()) == (2 if network else 0)


@pytest.mark.parametrize(
    ("tags", "town"),
    [
        ({"place": "town"}, True), ({"place": "city"}, True), ({"place": "village"}, False),
        ({"place": "village", "population": "5000"}, True),
        ({"place": "village", "population": "4999"}, False),
        ({"place": "town", "population": "4999"}, False),
    ],
)  # fmt: skip
def test_a_town_by_its_word_or_its_people(tmp_path: Path, tags: dict[str, str], town: bool) -> None:
    tiny = TinyMap(nodes={"A": (0, 0), "B": (1_000, 0)}).way("AB", PAVED)
    region = tiny.spot((500, 10), name="X", **tags).read(tmp_path)
    rows = help_sources(region.places, 5_000.0)
    assert len(rows[HELP_KINDS.index(HelpKind.TOWN)]) == town
    nowhere = np.zeros(len(region.places.kind), np.bool_)
    assert not any(len(row) for row in help_sources(region.places, 5_000.0, among=nowhere))


def test_what_nine_tenths_of_the_roads_keep_within_is_usual(tmp_path: Path) -> None:
    """Nodes 0, 1, 2 and 3 km from help: each edge counts half at either end. By length: 0 km 500,
    1 km 1,000, 2 km 1,000 and 3 km 500 of 3,000 m, so nine tenths lie within 3 km."""
    tiny = TinyMap(nodes={n: (1e3 * i, 0.0) for i, n in enumerate("ABCD")})
    region = tiny.way("AB", PAVED).way("BC", PAVED).way("CD", PAVED).read(tmp_path)
    cost = np.empty(4)
    for i, name in enumerate("ABCD"):
        cost[region.node[name]] = 1_000.0 * i
    reach = NearestHelp(
        cost=np.stack([cost, np.full(4, NAN)]).astype(np.float32), place=np.zeros((2, 4), np.int32)
    )
    all_of_it = np.ones(3, np.bool_)
    usual = _usual_m(region.roads, all_of_it, reach)
    assert usual[:2].tolist() == [3_000.0, np.inf]
    # Without the last edge 0, 1 and 2 km weigh 1, 2 and 1.
    k, _ = region.edge("C", "D")
    all_of_it[k] = False
    assert _usual_m(region.roads, all_of_it, reach)[0] == 2_000.0
    assert _usual_m(region.roads, np.zeros(3, np.bool_), reach)[0] == np.inf


# -- ways there -----------------------------------------------------------------------------------


def _ring() -> TinyMap:
    """A to E in a row, a kilometre each; C to D only that way; from B a closed short cut to E."""
    tiny = TinyMap(nodes={n: (1e3 * i, 0.0) for i, n in enumerate("ABCDE")} | {"F": (2_500, 800)})
    tiny.way("AB", PAVED).way("BC", TRACK).way("CD", PAVED, oneway="yes").way("DE", PAVED)
    return tiny.way("BFE", PAVED, access="private", name="Estate Drive")


def _graph(region: TinyRegion, *, price: float) -> nx.DiGraph:
    """Seconds of each edge as one may ride it, the closed one at its price."""
    out: nx.DiGraph = nx.DiGraph()
    for a, b in (*pairwise("ABCDE"), ("B", "E")):
        k, _ = region.edge(a, b)
        cost = region.edge_time_s[k] * (price if (a, b) == ("B", "E") else 1.0)
        out.add_edge(a, b, s=cost)
        if (a, b) != ("C", "D"):
            out.add_edge(b, a, s=cost)
    return out


def test_times_to_a_mechanic_as_networkx_finds_them(tmp_path: Path) -> None:
    """A workshop beside E: the closed road counts three times, the one-way leads only there."""
    tiny = _ring().spot((4_000, 10), shop="motorcycle_repair", name="Works")
    region = tiny.read(tmp_path)
    time_s = region.fields().to_help_s.cost[HELP_KINDS.index(HelpKind.MECHANIC)]
    want = nx.shortest_path_length(_graph(region, price=3.0), target="E", weight="s")
    for name in "ABCDE":
        assert time_s[region.node[name]] == pytest.approx(want[name], abs=0.5)
    # The van comes by neither the track nor back through the one-way.
    van_s = region.fields().van_s.cost[HELP_KINDS.index(HelpKind.MECHANIC)]
    assert np.isnan(van_s[region.node["C"]])


def test_a_ferry_on_the_way_to_help_is_told(tmp_path: Path) -> None:
    """The workshop at D lies over 5 km of water from B: what is said of the
    point farthest by time is all of that point, and names the ferry; of a bridge nothing is."""
    tiny = TinyMap(nodes={"A": (0, 0.0), "B": (1e3, 0.0), "C": (6e3, 0.0), "D": (7e3, 0.0)})
    tiny.way("AB", PAVED).way("CD", PAVED)
    tiny.way("BC", {"route": "ferry", "motorcycle": "yes"})
    region = tiny.spot((7_000, 10), shop="motorcycle_repair", name="Works").read(tmp_path)
    fields, ride = region.fields(), region.ride("A", "B")
    help_ = judge_help(ride, region.roads, region.places, fields, fleet=DEFAULT_FLEET)
    far = help_.kind(HelpKind.MECHANIC)
    assert far.ferry_m == pytest.approx(5_000, rel=0.01)
    assert (far.farthest_s_at_m, far.farthest_s_m) == (0.0, pytest.approx(7_000, rel=0.01))
    assert any("takes a ferry" in str(text) for text in help_.words)
    dry = TinyMap(nodes=tiny.nodes).way("AB", PAVED).way("BCD", PAVED)
    (tmp_path / "dry").mkdir()
    region = dry.spot((7_000, 10), shop="motorcycle_repair", name="Works").read(tmp_path / "dry")
    ride = region.ride("A", "B")
    help_ = judge_help(ride, region.roads, region.places, region.fields(), fleet=DEFAULT_FLEET)
    assert help_.kind(HelpKind.MECHANIC).ferry_m == 0.0
    assert not any("ferry" in str(text) for text in help_.words)


def test_the_restricted_part_of_the_way_is_told(tmp_path: Path) -> None:
    """From B the workshop at E lies 3.4 km off by the closed road; the way round is slower: the
    track takes 200 s, its tarmac 120, against 3 x 204."""
    tiny = _ring().spot((4_000, 10), shop="motorcycle_repair", name="Works")
    region = tiny.read(tmp_path)
    ride = region.ride("A", "B")
    help_ = judge_help(ride, region.roads, region.places, region.fields(), fleet=DEFAULT_FLEET)
    far = help_.kind(HelpKind.MECHANIC)
    assert far.restricted == ()
    assert far.farthest_s == pytest.approx(60 + 200 + 60 + 60, abs=1.0)
    # From E the same road is the only way back west.
    tiny = _ring().spot((0, 10), shop="motorcycle_repair", name="Works")
    region = tiny.read(tmp_path)
    ride = region.ride("D", "E")
    help_ = judge_help(ride, region.roads, region.places, region.fields(), fleet=DEFAULT_FLEET)
    (closed,) = help_.kind(HelpKind.MECHANIC).restricted
    edge, _ = region.edge("B", "E")
    length = float(region.roads.edge_length_m[edge])
    assert (closed.access, closed.name, closed.length_m) == ("private", "Estate Drive", length)
    far = help_.kind(HelpKind.MECHANIC)
    assert far.farthest_m == pytest.approx(1_000 + length + 1_000, abs=1.0)  # true metres
    assert far.farthest_s == pytest.approx(60 + 3 * length / 60 * 3.6 + 60, abs=1.0)


def test_from_a_point_of_an_edge_to_its_ends(tmp_path: Path) -> None:
    tiny = TinyMap(nodes={"A": (0, 0), "B": (1_000, 0), "C": (1_500, 400), "D": (1_500, -400)})
    region = tiny.way("AB", PAVED).way("BCDB", PAVED).read(tmp_path)
    edge, ahead = region.edge("A", "B")
    assert _to_node(region.roads, edge, 300.0, region.node["A" if ahead else "B"]) == 300.0
    assert _to_node(region.roads, edge, 300.0, region.node["B" if ahead else "A"]) == (
        pytest.approx(700.0, abs=0.1)
    )
    (ring,) = (k for k in range(region.roads.n_edges) if k != edge)
    whole = float(region.roads.edge_length_m[ring])
    assert _to_node(region.roads, ring, 100.0, region.node["B"]) == 100.0
    assert _to_node(region.roads, ring, whole - 90.0, region.node["B"]) == pytest.approx(90.0)


def test_closed_parts_of_one_way_add_up(tmp_path: Path) -> None:
    tiny = TinyMap(nodes={n: (1e3 * i, 0.0) for i, n in enumerate("ABC")} | {"X": (1_000, 500)})
    tiny.way("ABC", PAVED, access="private", ref="L1", name="Estate Drive").way("BX", PAVED)
    region = tiny.read(tmp_path)
    edges = np.array([region.edge(a, b)[0] for a, b in ("AB", "BC", "BX")], np.int32)
    first, second = restricted_ways(region.roads, edges)
    assert first.length_m == pytest.approx(2_000.0, abs=0.2)
    assert (first.access, first.name, second.name) == ("private", "L1", None)


# -- words ----------------------------------------------------------------------------------------


def _closed(*lengths_m: float) -> Any:
    ways = tuple(
        RestrictedWay(way_id=i, access="private" if i else "no", name=f"R{i}", length_m=m)
        for i, m in enumerate(lengths_m)
    )
    return SimpleNamespace(restricted=ways)


@pytest.mark.parametrize(("lengths", "told"), [((60.0, 39.0), 0), ((60.0, 40.0), 1)])
def test_100_m_of_closed_road_are_told(lengths: tuple[float, ...], told: int) -> None:
    """Common practice, no source; of several ways to help the longest over such roads."""
    far: Any = {HelpKind.FUEL: _closed(10.0), HelpKind.MECHANIC: _closed(*lengths)}
    said = _restricted(far)
    assert len(said) == told
    assert all("R0 is the longest" in str(text) for text in said)
    assert all("access=no" in str(text) and "access=private" in str(text) for text in said)


def test_weaker_help_is_named_by_name_place_and_phone() -> None:
    def item(**place: Any) -> Weaker:
        ref = PlaceRef(
            name=None, lon=0.0, lat=0.0, basis=HelpBasis.MAPPED, kind="lodging"
        )  # fmt: skip
        return Weaker(kind=WeakHelp.LODGING, at_m=0.0, place=replace(ref, **place), time_s=600.0,
                      length_m=1.0, restricted=())  # fmt: skip

    run: Any = SimpleNamespace(
        worst_at_m=12_000.0,
        weaker=(
            item(name="Inn", near="Alder", phone="+999 1"), item(near="Birch"), item(),
            item(phone="+999 2"), item(name="Fifth"),
        ),
    )  # fmt: skip
    text = str(_weaker_near(run))
    assert "Inn, +999 1" in text and "Birch" in text and "+999 2" in text
    assert "Alder" not in text and "Fifth" not in text  # four are told
