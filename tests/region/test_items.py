"""Extracts of every form give the objects that the library's own reader gives."""

from __future__ import annotations

import gzip
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np
import osmium
import pytest

from terrain.region import pbf
from terrain.region.items import day_of, read_extract, stamp_of
from terrain.region.pbf import UNITS, UNKNOWN, Extract, find_parts, read_pbf
from terrain.region.place_tags import READ_TAGS
from tests.region.osm_xml import OsmXml, crossing

Spot = tuple[float, float] | None
Plain = dict[tuple[str, int], tuple[Any, ...]]


def plain(extract: Extract) -> Plain:
    """Objects as comparable tuples: version, day, tags, positions of nodes, members."""
    out: Plain = {}
    stop = 0
    for kind, parts in (("n", extract.nodes), ("w", extract.ways), ("r", extract.relations)):
        for part in parts:
            for k, osm_id in enumerate(part.id.tolist()):
                tags = dict(part.tag_sets[part.told[k]]) if part.told[k] >= 0 else None
                spots: list[Spot] = []
                if part.spots is not None:
                    spots = _spots(part.spots[k : k + 1])
                if part.count is not None:
                    start, stop = stop, stop + int(part.count[k])
                    spots = _spots(extract.spots[extract.node[start:stop]])
                members = [] if part.members is None else part.members[k]
                facts = int(part.version[k]), int(part.day[k])
                out[kind, osm_id] = (*facts, tags, spots, members)
    return out


def _spots(places: np.ndarray) -> list[Spot]:
    return [None if x == UNKNOWN else (x / UNITS, y / UNITS) for x, y in places.tolist()]


def expected(path: Path) -> Plain:
    """The same by pyosmium, object by object."""
    relations = [o for o in _objects(path, osmium.osm.RELATION) if o[2]]
    parts = {(kind, ref) for o in relations for kind, ref, _ in o[4]}
    out: Plain = {}
    for key, facts, wanted, spots, members in _objects(path, osmium.osm.ALL):
        if wanted or (key in parts and key[0] == "w"):
            version, day, tags = facts
            out[key] = (version, day, tags if wanted else None, spots, members)
    return out


def _objects(path: Path, kinds: Any) -> Iterator[tuple[Any, ...]]:
    for o in osmium.FileProcessor(path, kinds | osmium.osm.NODE).with_locations():
        tags, spots, members = dict(o.tags), [], []
        if o.is_node():
            spots = [_spot(o.location)]
        elif o.is_way():
            spots = [_spot(node.location) for node in o.nodes]
        else:
            members = [(m.type, m.ref, m.role) for m in o.members]
        facts = (o.version, day_of(o.timestamp.isoformat()), tags)
        wanted = any(tag in READ_TAGS for tag in tags.items())
        yield (o.type_str(), o.id), facts, wanted, spots, members


def _spot(location: osmium.osm.Location) -> Spot:
    return (location.lon, location.lat) if location.valid() else None


@pytest.fixture(params=["kernels", "Python"])
def pace(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> None:
    """Both ways of reading, whatever the size."""
    least = 0 if request.param == "kernels" else 1 << 60
    monkeypatch.setattr(pbf, "_COMPILED_FROM", least)


@pytest.mark.usefixtures("pace")
def test_a_real_extract(helsinki_pbf: Path) -> None:
    read = plain(read_pbf(helsinki_pbf))
    assert read == expected(helsinki_pbf)
    assert len(read) > 2900


@pytest.mark.usefixtures("pace")
def test_odd_texts_and_ids(tmp_path: Path) -> None:
    osm = OsmXml()
    texts = [
        "a b",
        "a,b=c",
        "100%",
        "%41%",
        "@x",
        "é漢字",
        "\u2028",
        "\u202e",
        "a\tb",
        "'\"<&>",
        "",
    ]
    for ref, text in enumerate(texts, start=1):
        osm.node(ref, 10, 45, {"amenity": "fuel", "name": text, f"k{text}": "v"})
    osm.node(-5, 179.9999999, -0.0000001)
    osm.node(100, -180, -90, {"amenity": "fuel"})
    osm.node(2**62, 11, 46)
    osm.way(1, [1, 2, 999, -5, 2**62], {"highway": "track", "name": "x=y, z"})
    osm.way(2, [], {"highway": "track"})
    osm.way(3, [999], {"building": "yes"})
    osm.way(4, [1, 2], {"building": "yes"})
    osm.way(-6, [2, 1], {"highway": "track"})
    osm.relation(1, [("way", 1, "inner"), ("node", 2, "a b"), ("way", 3, "")], {"amenity": "fuel"})
    osm.relation(2, [], {"amenity": "fuel"})
    osm.relation(3, [("way", 4, "")], {"type": "route"})
    path = osm.write(tmp_path / "odd.osm")
    read = plain(read_extract(path))
    known = expected(path)
    # The library finds no node of an editor, which numbers new ones below zero.
    spots = [(10, 45), (10, 45), None, (179.9999999, -0.0000001), (11, 46)]
    assert read.pop(("w", 1)) == (*known.pop(("w", 1))[:3], spots, [])
    assert read == known
    assert [read["n", ref][2]["name"] for ref in range(1, len(texts) + 1)] == texts
    assert read["r", 1][-1] == [("w", 1, "inner"), ("n", 2, "a b"), ("w", 3, "")]
    assert read["w", 3] == (1, day_of("2023-05-02"), None, [None], [])
    assert ("w", 4) not in read
    assert read["w", -6][3] == [(10, 45), (10, 45)]


def test_where_a_part_of_a_relation_lies(tmp_path: Path) -> None:
    osm = OsmXml()
    osm.node(7, 10, 45)
    osm.relation(1, [("node", 7, ""), ("node", 8, "")], {"amenity": "fuel"})
    extract = read_extract(osm.write(tmp_path / "a.osm"))
    assert extract.spots_of(7).tolist() == [[100_000_000, 450_000_000]]
    assert extract.spots_of(8).tolist() == [[UNKNOWN, UNKNOWN]]
    assert len(extract.spots_of(9)) == 0


def test_an_extract_without_stamps(tmp_path: Path) -> None:
    osm = OsmXml(timestamp=None)
    osm.node(1, 10, 45, {"amenity": "fuel"})
    (found,) = read_extract(osm.write(tmp_path / "x.osm")).nodes
    assert found.day.tolist() == [0]


def _rewritten(path: Path, form: str, out: Path, *kinds: Any) -> Path:
    with osmium.SimpleWriter(osmium.io.File(out, form), overwrite=True) as writer:
        for kind in kinds or (osmium.osm.ALL,):
            osmium.apply(osmium.io.Reader(path, kind), writer)
    return out


@pytest.mark.parametrize("pack", ["none", "zlib", "lz4"])
@pytest.mark.parametrize("dense", ["true", "false"])
def test_however_it_is_packed(helsinki_pbf: Path, tmp_path: Path, pack: str, dense: str) -> None:
    """What few files are packed like, the library reads."""
    form = f"pbf,pbf_compression={pack},pbf_dense_nodes={dense}"
    path = _rewritten(helsinki_pbf, form, tmp_path / "a.osm.pbf")
    if pack == "lz4" or dense == "false":
        with pytest.raises(ValueError, match=r"packed|sorted"):
            read_pbf(path)
    assert plain(read_extract(path)) == expected(helsinki_pbf)


def test_sorted_by_no_kind(helsinki_pbf: Path, tmp_path: Path) -> None:
    kinds = (osmium.osm.WAY, osmium.osm.RELATION, osmium.osm.NODE)
    path = _rewritten(helsinki_pbf, "pbf", tmp_path / "a.osm.pbf", *kinds)
    with pytest.raises(ValueError, match="not sorted"):
        read_pbf(path)
    assert plain(read_extract(path)) == expected(helsinki_pbf)


def test_what_is_deleted_is_left_out(tmp_path: Path) -> None:
    osm = crossing()
    osm.node(90, 10, 45, {"amenity": "fuel"})
    osm.way(91, [1, 2], {"highway": "track"})
    path = tmp_path / "a.osm"
    path.write_text(osm.text().replace('id="90"', 'id="90" visible="false"')
                    .replace('way id="91"', 'way id="91" visible="false"'))  # fmt: skip
    read = plain(read_extract(path))
    assert ("w", 10) in read
    assert not {("n", 90), ("w", 91)} & read.keys()


def test_bad_files_fail_as_the_library_says(tmp_path: Path, small_pbf: Path) -> None:
    whole = small_pbf.read_bytes()
    files = {
        "cut.osm.pbf": whole[: len(whole) // 2],
        "noise.osm.pbf": b"\x00\x01\x02" * 1000,
        "cut.osm.gz": gzip.compress(crossing().text().encode())[:-30],
        "place.osm": b'<osm version="0.6"><node id="1" version="1" lat="5x" lon="1"/></osm>',
    }
    for name, data in files.items():
        path = tmp_path / name
        path.write_bytes(data)
        said = []
        for read in (read_extract, lambda path: osmium.apply(path, osmium.filter.EmptyTagFilter())):
            with pytest.raises(Exception, match=r".") as caught:
                read(path)
            said.append(str(caught.value))
        assert said[0] == said[1]


@pytest.mark.usefixtures("pace")
def test_spoilt_blocks_are_read_or_refused(
    tmp_path: Path, small_pbf: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """No check sum guards blocks that are not packed."""
    path = _rewritten(small_pbf, "pbf,pbf_compression=none", tmp_path / "plain.osm.pbf")
    chance, whole, refused = np.random.default_rng(3), path.read_bytes(), 0
    for _ in range(150):
        data = np.frombuffer(whole, np.uint8).copy()
        at = chance.integers(0, len(data), chance.choice([1, 3, 30]))
        data[at] = chance.integers(0, 256, len(at))
        path.write_bytes(data.tobytes())
        try:
            assert isinstance(read_pbf(path), Extract)
        except ValueError:
            refused += 1
    assert 10 < refused < 150


def _field(number: int, inside: bytes | int) -> bytes:
    """A field of a message, by the encoding page of protocol buffers; a number below 128."""
    if isinstance(inside, int):
        return bytes([number << 3, inside])
    assert len(inside) < 128
    return bytes([number << 3 | 2, len(inside)]) + inside


def _blob(inside: bytes, kind: bytes = b"OSMData") -> bytes:
    blob = _field(1, inside)
    head = _field(1, kind) + _field(3, len(blob))
    return len(head).to_bytes(4, "big") + head + blob


_HEAD = _blob(_field(4, b"OsmSchema-V0.6") + _field(4, b"DenseNodes"), b"OSMHeader")
_TEXTS = _field(1, b"".join(_field(1, text) for text in (b"", b"highway", b"track")))
_NODE = _field(1, b"\x02") + _field(8, b"\x02") + _field(9, b"\x02")  # id, lat and lon 1
_MOVED = _field(1, b"\x02") + _field(8, b"\x04") + _field(9, b"\x04")
_TRACK = _field(1, 7) + _field(2, b"\x01") + _field(3, b"\x02") + _field(8, b"\x02\x00")


def _map_of(path: Path, *data: bytes, head: bytes = _HEAD) -> Path:
    path.write_bytes(head + b"".join(map(_blob, data)))
    return path


def test_groups_of_a_block_in_order(tmp_path: Path) -> None:
    """Of two nodes of one id the first counts, whether in one group, block or in several."""
    nodes = [_field(2, _field(2, node)) for node in (_NODE, _MOVED)]
    way = _TEXTS + _field(2, _field(3, _TRACK))
    for k, blocks in enumerate(([nodes[0] + nodes[1]], nodes)):
        path = _map_of(tmp_path / f"{k}.osm.pbf", *(_TEXTS + nodes for nodes in blocks), way)
        spot = 1 / UNITS, 1 / UNITS
        assert plain(read_pbf(path)) == {("w", 7): (0, 0, {"highway": "track"}, [spot] * 2, [])}


def test_whether_ids_rise(tmp_path: Path) -> None:
    """Within a block and from one to the next, of each kind by itself."""
    way = _field(2, _field(3, _field(1, 2)))

    def rise(*blocks: tuple[bytes, ...]) -> bool:
        """Steps from id to id, of each group of each block; a step is half of what is told."""
        nodes = [b"".join(_field(2, _field(2, _field(1, ids))) for ids in of) for of in blocks]
        data = [_TEXTS + inside for inside in (*nodes, way)]
        return read_pbf(_map_of(tmp_path / "a.osm.pbf", *data)).in_order

    assert rise((b"\x02\x04",), (b"\x08\x02",))  # 1 3, 4 5
    assert rise((b"\x04", b"\x08\x02"))  # 2, 4 5
    assert not rise((b"\x02\x04",), (b"\x08\x01",))  # 1 3, 4 3
    assert not rise((b"\x02\x04",), (b"\x06\x02",))  # 1 3, 3 4
    assert not rise((b"\x08\x02",), (b"\x02\x04",))  # 4 5, 1 3
    assert not rise((b"\x02\x04", b"\x04"))  # 1 3, 2
    assert not rise((b"\x01\x04",))  # -1 1


def test_a_time_that_none_can_be_is_not_known(tmp_path: Path) -> None:
    """Seconds of more than 32 bits; libosmium holds no others."""
    for stamp, day in ((b"\x10\x80\xa3\x05", 1), (b"\x10" + b"\xff" * 8 + b"\x7f", 0)):
        way = _field(2, _field(3, _TRACK + _field(4, stamp)))
        assert plain(read_pbf(_map_of(tmp_path / "a.osm.pbf", _TEXTS + way)))["w", 7][1] == day


def test_numbers_one_by_one_are_refused(tmp_path: Path) -> None:
    """The library takes them for something else, and gives other texts and nodes."""
    odd = _field(1, 7) + _field(2, 1) + _field(3, 2) + _field(8, b"\x02\x00")
    path = _map_of(tmp_path / "a.osm.pbf", _TEXTS + _field(2, _field(3, odd)))
    with pytest.raises(ValueError, match="packed piece"):
        read_extract(path)


def test_blobs_of_a_spoilt_kind_are_refused(tmp_path: Path) -> None:
    path = _map_of(tmp_path / "a.osm.pbf", _TEXTS + _field(2, _field(3, _TRACK)))
    assert len(plain(read_extract(path))) == 1
    path.write_bytes(path.read_bytes().replace(b"OSMData", b"OSMDatb"))
    with pytest.raises(RuntimeError, match="expected type"):
        read_extract(path)


def test_texts_that_are_spoilt_are_refused(tmp_path: Path) -> None:
    """A rule whose key is spoilt would be gone."""
    path = _map_of(tmp_path / "a.osm.pbf", _TEXTS + _field(2, _field(3, _TRACK)))
    track = plain(read_extract(path))["w", 7]
    tags = _field(2, b"\x01\x03") + _field(3, b"\x02\x03")
    way = _field(2, _field(3, _field(1, 7) + tags + _field(8, b"\x02\x00")))
    for text, also in ((b"acc\xc3\xa9s", {"acc\xe9s": "acc\xe9s"}), (b"acc\xffs", None)):
        texts = _field(1, b"".join(_field(1, t) for t in (b"", b"highway", b"track", text)))
        _map_of(path, texts + way)
        if also:
            assert plain(read_extract(path))["w", 7] == (*track[:2], track[2] | also, *track[3:])
        else:
            with pytest.raises(ValueError, match="utf-8"):
                read_extract(path)


def test_positions_off_the_earth_are_unknown(tmp_path: Path) -> None:
    lat = b"\x82\xa4\xa7\xda\x06"  # 90 degrees and one unit
    node = _field(1, b"\x02") + _field(8, lat) + _field(9, b"\x02")
    way = _field(2, _field(3, _TRACK))
    path = _map_of(tmp_path / "a.osm.pbf", _TEXTS + _field(2, _field(2, node)), _TEXTS + way)
    assert plain(read_pbf(path))["w", 7][3] == [None, None] == expected(path)["w", 7][3]


def test_ways_with_positions_of_their_own_are_refused(tmp_path: Path) -> None:
    """OSM wiki, PBF Format: where that feature is told, nodes without tags may be left out."""
    told = _field(4, b"OsmSchema-V0.6") + _field(5, b"Sorted") + _field(5, b"LocationsOnWays")
    path = _map_of(tmp_path / "a.osm.pbf", head=_blob(told, b"OSMHeader"))
    with pytest.raises(ValueError, match="positions of their own"):
        read_extract(path)


@pytest.mark.parametrize(
    ("stamp", "day"), [("1970-01-02", 1), ("2023-05-02T10:00:00Z", 19479), ("", 0), ("x", 0)]
)
def test_day_of_a_stamp(stamp: str, day: int) -> None:
    assert day_of(stamp) == day


def test_stamp_of_an_overpass_answer(tmp_path: Path) -> None:
    path = tmp_path / "a.osm"
    head = '<osm version="0.6" generator="x">\n<meta osm_base="2024-06-01T12:00:00Z"/>'
    path.write_text(crossing().text().replace('<osm version="0.6">', head))
    assert stamp_of(path) == "2024-06-01T12:00:00Z"


@pytest.mark.usefixtures("pace")
@pytest.mark.parametrize("every", [7, 999, 20_000])
def test_nodes_and_ways_by_their_ids(every: int, helsinki_pbf: Path) -> None:
    ways = {key[1]: of[3] for key, of in expected(helsinki_pbf).items() if key[0] == "w"}
    asked = sorted(ways)[every :: 2 * every]
    nodes = [node.id for node in osmium.FileProcessor(helsinki_pbf, osmium.osm.NODE)][::every]
    wanted = np.array([*nodes, 1], np.int64), np.array([*asked, 1], np.int64)
    found = find_parts(helsinki_pbf, *wanted)
    assert plain(found).keys() == {("w", ref) for ref in asked}
    assert {ref: of[3] for (_, ref), of in plain(found).items()} == {r: ways[r] for r in asked}
    spots = {n.id: _spot(n.location) for n in osmium.FileProcessor(helsinki_pbf, osmium.osm.NODE)}
    assert [_spots(found.spots_of(ref)) for ref in nodes] == [[spots[ref]] for ref in nodes]
    assert _spots(found.spots_of(1)) == [None]
