"""The two ways of reading an extract give the same objects, and fail alike."""

from __future__ import annotations

import gzip
import io
import subprocess
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from terrain.region import items, positions
from terrain.region.build import no_progress
from terrain.region.items import MapItem, day_of, parse_opl, read_items, stamp_of
from terrain.region.osm import read_osm
from terrain.region.positions import UNKNOWN, parse_lines
from tests.region.osm_xml import OsmXml, crossing


def plain(read: Iterator[MapItem]) -> list[tuple[object, ...]]:
    """Items as comparable tuples."""
    out = []
    for item in read:
        ids, places = parse_lines([item.line]) if item.line else (np.empty(0), np.empty((0, 2)))
        spots = [None if x == UNKNOWN else (int(x), int(y)) for x, y in places]
        out.append((*item[:3], item.day, item.tags, ids.tolist(), spots, item.members))
    return out


def both_ways(path: Path, monkeypatch: pytest.MonkeyPatch) -> list[list[tuple[object, ...]]]:
    out = []
    for least in (0, 1 << 60):
        monkeypatch.setattr(items, "_SIFT_FROM", least)
        out.append(plain(read_items(path)))
    return out


def test_a_real_extract_read_both_ways(helsinki_pbf: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    sifted, here = both_ways(helsinki_pbf, monkeypatch)
    assert sifted == here
    assert len(sifted) > 2900


def test_odd_texts_read_both_ways(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
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
    osm.node(100, -180, -90, {"amenity": "fuel"})
    osm.way(1, [1, 2, 999, -5], {"highway": "track", "name": "x=y, z"})
    osm.way(2, [], {"highway": "track"})
    osm.way(3, [999], {"highway": "track"})
    osm.relation(1, [("way", 1, "inner"), ("node", 2, "a b"), ("way", 3, "")], {"amenity": "fuel"})
    osm.relation(2, [], {"amenity": "fuel"})
    path = osm.write(tmp_path / "odd.osm")
    sifted, here = both_ways(path, monkeypatch)
    assert sifted == here
    assert [item[4]["name"] for item in here[: len(texts)]] == texts  # type: ignore[index]
    relation = next(item for item in here if item[:2] == ("r", 1))
    assert relation[-1] == [("w", 1, "inner"), ("n", 2, "a b"), ("w", 3, "")]
    # Then what relations are made of: the file holds both ways and the node, and no others.
    assert [(*item[:2], item[4]) for item in here[-3:]] == [
        ("n", 2, {}),
        ("w", 1, {}),
        ("w", 3, {}),
    ]


def test_an_extract_without_stamps_read_both_ways(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    osm = OsmXml(timestamp=None)
    osm.node(1, 10, 45, {"amenity": "fuel"})
    sifted, here = both_ways(osm.write(tmp_path / "x.osm"), monkeypatch)
    assert sifted == here
    assert here[0][3] == 0


def test_bad_files_fail_alike_both_ways(
    tmp_path: Path, small_pbf: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
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
        for least in (0, 1 << 60):
            monkeypatch.setattr(items, "_SIFT_FROM", least)
            with pytest.raises(Exception, match=r".") as caught:
                list(read_items(path))
            said.append(str(caught.value))
        assert said[0] == said[1]


def test_a_reader_that_dies_is_an_error(
    crossing_file: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(items, "_SIFT_FROM", 0)
    monkeypatch.setattr(items, "_SIFT", "import os; os.kill(os.getpid(), 9)")
    with pytest.raises(RuntimeError, match="the reader died"):
        list(read_items(crossing_file))


def test_without_a_second_process_it_is_read_here(
    crossing_file: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def refuse(*_: object, **__: object) -> None:
        raise OSError("no more processes")

    monkeypatch.setattr(items, "_SIFT_FROM", 0)
    monkeypatch.setattr(subprocess, "Popen", refuse)
    assert len(read_osm((crossing_file,), no_progress).roads.ways) == 3


def test_a_reader_that_is_not_needed_any_more_is_ended(
    helsinki_pbf: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    started: list[subprocess.Popen[bytes]] = []
    real = items._start_sifting

    def start(*args: Any) -> subprocess.Popen[bytes] | None:
        child = real(*args)
        assert child is not None
        started.append(child)
        return child

    monkeypatch.setattr(items, "_SIFT_FROM", 0)
    monkeypatch.setattr(items, "_start_sifting", start)
    read = read_items(helsinki_pbf)
    next(read)
    read.close()  # type: ignore[attr-defined]
    assert started[0].poll() is not None


def test_opl_as_its_manual_writes_it() -> None:
    """Examples after the OPL page of the osmium-tool manual: escapes are %hex%."""
    text = (
        b"n1 v2 dV t2014-07-16T01:00:00Z Tamenity=fuel,name=Main%20%St.%2c%%20%1%25% x1.5 y-2.25\n"
        b"w3 v1 dV t Thighway=track Nn1x1.5y-2.25,n2xy\n"
        b"w4 v1 dD t T N\n"
        b"r5 v1 dV t2014-07-16T01:00:00Z Tamenity=fuel Mw3@outer,w9@inner,n1@\n"
    )
    node, way, relation = list(parse_opl(io.BytesIO(text)))
    assert node.tags == {"amenity": "fuel", "name": "Main St., 1%"}
    assert (node.version, node.day) == (2, day_of("2014-07-16"))
    ids, places = parse_lines([way.line, node.line])
    assert ids.tolist() == [1, 2, 1]
    units = [[15_000_000, -22_500_000], [UNKNOWN, UNKNOWN], [15_000_000, -22_500_000]]
    np.testing.assert_array_equal(places, units)
    assert relation.members == [("w", 3, "outer"), ("w", 9, "inner"), ("n", 1, "")]


def test_many_lines_are_parsed_as_few(monkeypatch: pytest.MonkeyPatch) -> None:
    """Every number of decimals OPL writes, both signs, ids of editors and beyond 32 bits."""
    lines = [
        b"n1x1.5y-2.25,n12000000001x-0.0000001y89.9999999,n-7xy",
        b"n3x180y-90",
        b"n4x-179.99y0,n5x0.07y0.1234567",
    ]
    few = parse_lines(lines)
    monkeypatch.setattr(positions, "_FEW", 0)
    many = parse_lines(lines)
    units = [[15_000_000, -22_500_000], [-1, 899_999_999], [UNKNOWN, UNKNOWN],
             [1_800_000_000, -900_000_000], [-1_799_900_000, 0], [700_000, 1_234_567]]  # fmt: skip
    for ids, places in (few, many):
        assert ids.tolist() == [1, 12_000_000_001, -7, 3, 4, 5]
        assert places.tolist() == units


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
