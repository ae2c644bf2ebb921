"""A region brought to date is the one built from the newer map, to the byte."""

from __future__ import annotations

import gzip
import shutil
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest

from terrain.region import renew as renew_module
from terrain.region import update as update_module
from terrain.region.build import Rebuild, build_region, rebuild_region
from terrain.region.changes import merge_changes
from terrain.region.kept import KEPT
from terrain.region.manage import check_region
from terrain.region.pack import seal_pack
from terrain.region.pbf import Extract
from terrain.region.region import Region, open_folder
from terrain.region.source import Source, kept_source
from terrain.region.update import changed_map
from terrain.values.arrays import IntArray
from tests.region.days import made_day
from tests.region.osm_xml import crossing

DATA = Path(__file__).resolve().parents[3] / "shared" / "data" / "osm"
_EXTRACTS = ("monaco-2021-04-19.osm.pbf", "faroe-islands-2017-02-18.osm.pbf")


def _source(day: int) -> Source:
    to_time = f"2024-01-{day:02d}T00:00:00+00:00"
    return Source(url="https://changes.example", sequence=day, to_time=to_time)


def _headed(extract: Path, out: Path) -> Path:
    """The extract as one that names its change files."""
    merge_changes(extract, (), out, source=_source(1))
    return out


def _bring(region: Region, day: Path, number: int, said: list[str], work: Path) -> Region:
    kept = kept_source(region.pack)
    assert kept is not None
    work.mkdir(exist_ok=True)
    now, read = changed_map(
        region,
        replace(kept, source=_source(number)),
        (day,),
        work,
        lambda step, _: said.append(step),
    )
    rebuild_region(
        Rebuild(folder=region.folder, pack=region.pack, info=region.info, kept=now, read=read)
    )
    return open_folder(region.folder)


def _files(pack: Path) -> dict[str, bytes]:
    folders = ("roads", "places", "areas", "ground", "help", "stats", "zones")
    return {
        f"{name}/{path.name}": path.read_bytes()
        for name in folders
        for path in sorted((pack / name).iterdir())
    }


def _write_day(path: Path, rows: str) -> None:
    path.write_bytes(gzip.compress(f'<osmChange version="0.6">{rows}</osmChange>'.encode()))


def _is_as_built(region: Region, folder: Path) -> None:
    kept = kept_source(region.pack)
    assert kept is not None
    whole = folder / f"{kept.source.sequence}.osm.pbf"
    changes = () if kept.changes is None else (kept.changes,)
    merge_changes(kept.extract, changes, whole, source=kept.source)
    anew = open_folder(
        build_region("anew", (whole,), home=folder / "home", replace=True, keep_extract=True)
    )
    was, now = _files(region.pack), _files(anew.pack)
    assert was.keys() == now.keys()
    assert [name for name in was if was[name] != now[name]] == []
    assert region.info.map_date == anew.info.map_date


@pytest.mark.parametrize("seed", range(3))
@pytest.mark.parametrize("name", _EXTRACTS)
def test_a_region_brought_to_date_is_as_built(name: str, seed: int, tmp_path: Path) -> None:
    if not (DATA / name).exists():
        pytest.skip(f"{name} is not beside the checkout")
    extract = _headed(DATA / name, tmp_path / "extract.osm.pbf")
    region = open_folder(build_region("x", (extract,), home=tmp_path, keep_extract=True))
    said: list[str] = []
    for number in range(2, 5):
        day = tmp_path / f"{number}.osc.gz"
        made_day(DATA / name, day, seed=10 * seed + number, number=number, one_in=100)
        region = _bring(region, day, number, said, tmp_path / "work")
        check_region(region.folder)
        _is_as_built(region, tmp_path)
    assert not any("whole map" in step for step in said)


@pytest.fixture()
def region(tmp_path: Path) -> Region:
    """A real region, which keeps its map."""
    if not (DATA / _EXTRACTS[0]).exists():
        pytest.skip(f"{_EXTRACTS[0]} is not beside the checkout")
    extract = _headed(DATA / _EXTRACTS[0], tmp_path / "extract.osm.pbf")
    return open_folder(build_region("x", (extract,), home=tmp_path, keep_extract=True))


def _remove_all(read: Path) -> None:
    shutil.rmtree(read)  # as with regions built before anything was kept


def _remove_one(read: Path) -> None:
    (read / "beside.osm.pbf").unlink()


def _change_a_byte(read: Path) -> None:
    path = read / "roads" / "tag_set.npy"
    data = bytearray(path.read_bytes())
    data[-4] ^= 1
    path.write_bytes(data)


def _read_less(read: Path) -> None:
    path = read.parent / "manifest.json"
    path.write_text(path.read_text().replace('"reads": ', '"reads": -'))


def _other_rules(read: Path) -> None:
    path = read / "roads" / "value.json"
    path.write_text(path.read_text().replace('"rules":"', '"rules":"0'))
    (read.parent / "manifest.json").unlink()
    seal_pack(read.parent)


@pytest.mark.parametrize(
    "spoil", [_remove_all, _remove_one, _change_a_byte, _read_less, _other_rules]
)
def test_what_was_kept_and_is_odd_is_not_used(
    spoil: Callable[[Path], None], region: Region, tmp_path: Path
) -> None:
    """The whole map is read anew then, and what it holds kept."""
    day = tmp_path / "2.osc.gz"
    made_day(DATA / _EXTRACTS[0], day, seed=1, number=2, one_in=100)
    spoil(region.pack / KEPT)
    said: list[str] = []
    brought = _bring(region, day, 2, said, tmp_path / "work")
    assert "Reading the whole map, as nothing that was read before can be used" in said
    kept = kept_source(brought.pack)
    assert kept is not None and kept.changes is None
    _is_as_built(brought, tmp_path)


def test_a_change_older_than_the_map_is_left_to_a_merge(region: Region, tmp_path: Path) -> None:
    way = int(region.roads.ways.way_id[0])
    day = tmp_path / "2.osc.gz"
    said: list[str] = []
    _write_day(
        day, f'<modify><way id="{way}" version="0"><tag k="highway" v="track"/></way></modify>'
    )
    brought = _bring(region, day, 2, said, tmp_path / "work")
    assert any("Reading the whole map" in step for step in said)
    _is_as_built(brought, tmp_path)
    assert way in brought.roads.ways.way_id


def test_many_changes_are_packed_into_the_extract(
    region: Region, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(update_module, "_FEW_BYTES", 0)
    for number, one_in, packed in ((2, 3000, False), (3, 5, True), (4, 3000, False)):
        day = tmp_path / f"{number}.osc.gz"
        made_day(DATA / _EXTRACTS[0], day, seed=number, number=number, one_in=one_in)
        before = kept_source(region.pack)
        extract = before and before.extract.read_bytes()
        region = _bring(region, day, number, [], tmp_path / "work")
        kept = kept_source(region.pack)
        assert kept is not None and (kept.changes is None) == packed
        assert (kept.extract.read_bytes() != extract) == packed
        _is_as_built(region, tmp_path)


def test_an_extract_in_which_nothing_can_be_found_is_read_whole(
    region: Region, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def refuse(*_: object) -> None:
        raise ValueError("a blob is not packed as most are")

    monkeypatch.setattr(renew_module, "find_parts", refuse)
    day, said = tmp_path / "2.osc.gz", list[str]()
    made_day(DATA / _EXTRACTS[0], day, seed=1, number=2, one_in=20)
    brought = _bring(region, day, 2, said, tmp_path / "work")
    assert any("whole map" in step for step in said)
    _is_as_built(brought, tmp_path)


def test_what_the_map_lacks_is_not_looked_for_again(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A hospital one part of which the map lacks, and whose other loses a node; a road that is
    tagged anew and loses one the day after; at last a house that the road leads to."""
    osm = crossing()
    for ref in range(20, 26):
        osm.node(ref, 10.02 + ref / 1e4, 45.001 + ref % 2 / 1e4)
    osm.way(30, [20, 21, 22, 23, 20], {"amenity": "fuel"})
    osm.way(32, [24, 25, 24], {"building": "yes"})
    members = [("way", 30, "outer"), ("way", 31, "outer"), ("node", 29, "")]
    osm.relation(40, members, {"amenity": "hospital", "type": "site"})
    extract = _headed(osm.write(tmp_path / "drawn.osm"), tmp_path / "extract.osm.pbf")
    region = open_folder(build_region("x", (extract,), home=tmp_path, keep_extract=True))
    asked: list[tuple[list[int], list[int]]] = []
    find = renew_module.find_parts

    def watched(path: Path, nodes: IntArray, ways: IntArray) -> Extract:
        asked.append((nodes.tolist(), ways.tolist()))
        return find(path, nodes, ways)

    monkeypatch.setattr(renew_module, "find_parts", watched)
    member = "".join(f'<member type="{of}" ref="{ref}" role="{r}"/>' for of, ref, r in members)
    hospital = '<tag k="amenity" v="hospital"/><tag k="name" v="New"/>'
    road = "".join(f'<nd ref="{ref}"/>' for ref in (6, 3, 7)) + '<tag k="highway" v="track"/>'
    house = "".join(f'<nd ref="{ref}"/>' for ref in (3, 24)) + '<tag k="highway" v="service"/>'
    for number, rows in enumerate((
        f'<way id="11" version="2">{road}</way><relation id="40" version="2">{member}{hospital}'
        "</relation>",
        "",
        f'<way id="33" version="1">{house}</way>',
        f'<way id="34" version="1">{house}</way>',
    ), start=2):  # fmt: skip
        gone = "".join(f'<node id="{ref}" version="2"/>' for ref in (7, 21)) if not rows else ""
        day = tmp_path / f"{number}.osc.gz"
        _write_day(day, f"<modify>{rows}</modify><delete>{gone}</delete>")
        region = _bring(region, day, number, [], tmp_path / "work")
        _is_as_built(region, tmp_path)
    assert asked == [([24], [])]
