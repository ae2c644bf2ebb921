"""Builds: all or nothing, one at a time, and clear about what is wrong."""

from __future__ import annotations

import errno
import gzip
import json
import os
import pickle
import shutil
import stat
import threading
from collections.abc import Iterator
from dataclasses import fields, is_dataclass
from pathlib import Path

import numpy as np
import osmium
import pytest

from terrain.cli import main
from terrain.errors import MapDataError, RegionDamaged, RegionMissing, TerrainError, UsageError
from terrain.region import disk
from terrain.region import pack as packs
from terrain.region.build import build_region
from terrain.region.manage import check_region, list_regions, remove_region, size_bytes
from terrain.region.pack import CURRENT, FORMAT, MANIFEST, build_lock, current_pack
from terrain.region.region import Region, find_folder, open_region
from tests.region.osm_xml import OsmXml, crossing


@pytest.fixture()
def home(tmp_path: Path) -> Path:
    return tmp_path / "home"


def build(home: Path, path: Path, *, name: str = "here", replace: bool = False) -> Path:
    return build_region(name, (path,), replace=replace, home=home)


def two_roads(tmp_path: Path) -> Path:
    osm = crossing()
    osm.node(70, 10.1, 45.0)
    osm.way(70, [5, 70], {"highway": "residential"})
    return osm.write(tmp_path / "more.osm")


def n_ways(home: Path) -> int:
    return len(open_region("here", home).roads.ways)


def test_a_region_opens_by_name_and_by_folder(home: Path, crossing_file: Path) -> None:
    folder = build(home, crossing_file)
    for given in ("here", str(folder), folder):
        region = open_region(given, home)
        assert region.info.name == "here"
        assert region.info.map_date is not None
        assert region.info.map_date.isoformat() == "2023-05-02"
        assert region.info.bbox == pytest.approx((10.0, 44.99, 10.04, 45.01))
        assert "OpenStreetMap contributors" in region.info.attribution[0]
        assert "Open Database License" in region.info.attribution[0]
        assert region.info.sources == ("crossing.osm",)
        assert len(region.ground) == 3
        assert region.heights is None


def test_statistics_add_up(home: Path, crossing_file: Path) -> None:
    build(home, crossing_file)
    region = open_region("here", home)
    stats = region.stats
    assert stats.road_m == pytest.approx(float(region.roads.edge_length_m.sum()))
    assert sum(m for _, m in stats.ground_m) == pytest.approx(stats.road_m, rel=1e-5)
    assert sum(m for _, m in stats.basis_m) == pytest.approx(stats.road_m)
    assert dict(stats.basis_m).keys() == {"tagged", "graded", "inferred"}
    assert sum(m for _, m in stats.highway_m) == pytest.approx(stats.road_m)


def test_opening_takes_the_same_short_time_whatever_the_size(
    home: Path, crossing_file: Path, helsinki: Region
) -> None:
    """Opening maps files and reads none: a city is opened like a crossing of three roads."""
    build(home, crossing_file)

    def arrays(value: object) -> Iterator[np.ndarray]:
        for field in fields(value):  # type: ignore[arg-type]
            held = getattr(value, field.name)
            if isinstance(held, np.ndarray):
                yield held
            elif is_dataclass(held):
                yield from arrays(held)

    def is_mapped(array: np.ndarray | None) -> bool:
        return isinstance(array, np.memmap) or (array is not None and is_mapped(array.base))

    def read_bytes(folder: Path) -> int:
        """What an opening reads: all files but those of the arrays."""
        pack = open_region(folder, home).pack
        return sum(p.stat().st_size for p in pack.rglob("*") if p.suffix == ".json")

    held = [array for array in arrays(open_region(helsinki.folder, home)) if array.size]
    assert len(held) > 50
    assert all(is_mapped(array) for array in held)
    assert sum(array.nbytes for array in held) > 20 * read_bytes(helsinki.folder)
    assert read_bytes(helsinki.folder) < 2 * read_bytes(home / "regions" / "here")


def test_a_region_survives_pickling(home: Path, crossing_file: Path) -> None:
    build(home, crossing_file)
    region = open_region("here", home)
    back: Region = pickle.loads(pickle.dumps(region))
    np.testing.assert_array_equal(back.roads.edge_length_m, region.roads.edge_length_m)


def test_a_pickle_is_of_one_pack_and_never_opens_a_newer(
    home: Path, crossing_file: Path, tmp_path: Path
) -> None:
    build(home, crossing_file)
    sent = pickle.dumps(open_region("here", home))
    build(home, two_roads(tmp_path), replace=True)
    with pytest.raises(RegionDamaged, match=r"built anew while work.*Start again"):
        pickle.loads(sent)


@pytest.mark.parametrize("kind", ["osm.gz", "osm.bz2", "osm.pbf"])
def test_every_kind_of_extract(home: Path, crossing_file: Path, tmp_path: Path, kind: str) -> None:
    path = tmp_path / f"map.{kind}"
    if kind == "osm.gz":
        path.write_bytes(gzip.compress(crossing_file.read_bytes()))
    else:
        with osmium.SimpleWriter(path) as writer:
            for item in osmium.FileProcessor(crossing_file):
                writer.add(item)
    build(home, path)
    assert n_ways(home) == 3


def test_a_region_that_is_there_needs_replace(
    home: Path, crossing_file: Path, tmp_path: Path
) -> None:
    build(home, crossing_file)
    with pytest.raises(UsageError, match="already"):
        build(home, two_roads(tmp_path))
    assert n_ways(home) == 3
    build(home, two_roads(tmp_path), replace=True)
    assert n_ways(home) == 4
    assert len(list((home / "regions" / "here").glob("pack-*"))) == 1


def test_an_open_region_outlives_its_replacement(
    home: Path, crossing_file: Path, tmp_path: Path
) -> None:
    build(home, crossing_file)
    region = open_region("here", home)
    build(home, two_roads(tmp_path), replace=True)
    assert len(region.roads.ways) == 3
    assert float(region.roads.edge_length_m.sum()) > 0


@pytest.mark.parametrize(
    "name",
    ["", ".", "..", ".hidden", "a/b", "../x", "a\\b", "/abs", "a b", "con", "NUL.txt", "x" * 65,
     "-x", "a\n", "dot."],
)  # fmt: skip
def test_names_that_could_leave_the_folder_are_refused(
    home: Path, crossing_file: Path, name: str
) -> None:
    with pytest.raises(UsageError, match="cannot name a region"):
        build(home, crossing_file, name=name)
    with pytest.raises(UsageError, match="cannot name a region"):
        remove_region(name, home)
    assert not home.exists()


@pytest.mark.parametrize("name", ["andorra", "Käsivarsi", "north-2024.1", "a", "7_islands"])
def test_names_that_are_fine(home: Path, crossing_file: Path, name: str) -> None:
    build(home, crossing_file, name=name)
    assert open_region(name, home).info.name == name


def _bad_files(tmp_path: Path, pbf: Path) -> dict[str, Path]:
    whole = pbf.read_bytes()
    files = {
        "cut.osm.pbf": whole[: len(whole) // 2],
        "noise.osm.pbf": b"\x00\x01\x02" * 1000,
        "empty.osm.pbf": b"",
        "empty.osm": b"",
        "words.osm": b"this is not a map",
        "open.osm": crossing().text().encode()[:-20],
        "page.osm": b"<!DOCTYPE html><html><body>404</body></html>",
        "cut.osm.gz": gzip.compress(crossing().text().encode())[:-30],
        "map.txt": crossing().text().encode(),
        "half.osm": b'<osm version="0.6"><node id="1" lat="95" lon="1"/></osm>',
        "bad.osm": b'<osm version="0.6"><node id="x" lat="5" lon="1"/></osm>',
        "old.osm": b'<osm version="0.5"></osm>',
        "past.osh": b'<osm version="0.6"></osm>',
        "change.osc": b'<osmChange version="0.6"></osmChange>',
    }
    out = {}
    for name, data in files.items():
        out[name] = tmp_path / name
        out[name].write_bytes(data)
    out["folder"] = tmp_path / "folder.osm"
    out["folder"].mkdir()
    out["missing"] = tmp_path / "missing.osm.pbf"
    return out


@pytest.mark.parametrize(
    "kind",
    ["cut.osm.pbf", "noise.osm.pbf", "empty.osm.pbf", "empty.osm", "words.osm", "open.osm",
     "page.osm", "cut.osm.gz", "map.txt", "half.osm", "bad.osm", "old.osm", "past.osh",
     "change.osc", "folder", "missing"],
)  # fmt: skip
def test_a_bad_extract_gives_one_message_and_leaves_all_as_it_was(
    home: Path, crossing_file: Path, tmp_path: Path, small_pbf: Path, kind: str
) -> None:
    build(home, crossing_file)
    before = sorted(p.name for p in (home / "regions" / "here").iterdir())
    path = _bad_files(tmp_path, small_pbf)[kind]
    with pytest.raises(MapDataError) as caught:
        build(home, path, replace=True)
    assert caught.value.fix
    assert "Traceback" not in str(caught.value)
    assert sorted(p.name for p in (home / "regions" / "here").iterdir()) == before
    assert n_ways(home) == 3


def test_an_extract_without_roads_is_refused(home: Path, tmp_path: Path) -> None:
    osm = OsmXml()
    osm.node(1, 10, 45, {"amenity": "fuel"})
    with pytest.raises(MapDataError, match="no road"):
        build(home, osm.write(tmp_path / "sea.osm"))
    with pytest.raises(RegionMissing):
        open_region("here", home)
    assert list_regions(home) == []


def test_a_second_build_at_the_same_time_is_refused(home: Path, crossing_file: Path) -> None:
    folder = build(home, crossing_file)
    with build_lock(folder):
        with pytest.raises(TerrainError, match="another build"):
            build(home, crossing_file, replace=True)
        with pytest.raises(TerrainError, match="another build"):
            remove_region("here", home)
    build(home, crossing_file, replace=True)


def test_a_lock_that_went_with_its_folder_is_not_held(
    home: Path, crossing_file: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    folder = build(home, crossing_file)
    take, taken = packs._lock, []

    def late(fd: int) -> None:
        if not taken:  # removed by another process between opening the file and locking it
            shutil.rmtree(folder)
        taken.append(fd)
        take(fd)

    monkeypatch.setattr(packs, "_lock", late)
    with build_lock(folder), pytest.raises(TerrainError, match="another build"):
        build(home, crossing_file)
    assert len(taken) == 3


def test_what_a_dead_build_left_is_cleared_away(home: Path, crossing_file: Path) -> None:
    folder = build(home, crossing_file)
    (folder / "pack-dead").mkdir()
    (folder / "pack-dead" / "big.npy").write_bytes(b"x" * 100)
    (folder / ".CURRENT.new").write_text("pack-dead")
    assert n_ways(home) == 3
    build(home, crossing_file, replace=True)
    assert not (folder / "pack-dead").exists()
    assert not (folder / ".CURRENT.new").exists()


@pytest.mark.parametrize("number", [errno.ENOSPC, errno.EIO])
def test_a_disk_fault_at_any_write_leaves_the_old_region(
    home: Path, crossing_file: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, number: int
) -> None:
    """The fault is laid at each write in turn, until a build gets through."""
    build(home, crossing_file)
    more = two_roads(tmp_path)
    real, count = os.write, 0

    def failing(fd: int, data: memoryview) -> int:
        nonlocal count
        count += 1
        if count == fail_at:
            raise OSError(number, os.strerror(number))
        return real(fd, data)

    monkeypatch.setattr(disk.os, "write", failing)
    fail_at = 1
    while True:
        count = 0
        try:
            build(home, more, replace=True)
        except TerrainError as exc:
            assert exc.where
            assert exc.fix
            assert n_ways(home) == 3
            check_region(home / "regions" / "here")
            assert len(list((home / "regions" / "here").glob("pack-*"))) == 1
        else:
            break
        fail_at += 1 if fail_at < 6 else 11
    assert fail_at > 60
    assert n_ways(home) == 4


@pytest.mark.parametrize("call", ["fsync", "replace", "mkdir"])
def test_a_fault_at_other_steps_leaves_a_whole_region(
    home: Path, crossing_file: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, call: str
) -> None:
    build(home, crossing_file)
    more = two_roads(tmp_path)
    where = os if call == "fsync" else Path
    real, count, fail_at = getattr(where, call), 0, 0

    def failing(*args: object, **kwargs: object) -> object:
        nonlocal count
        count += 1
        if count == fail_at:
            raise OSError(errno.EIO, os.strerror(errno.EIO))
        return real(*args, **kwargs)

    for turn in (1, 2, 3, 40, 80):
        fail_at, count = turn, 0
        monkeypatch.setattr(where, call, failing)
        try:
            build(home, more, replace=True)
        except TerrainError as exc:
            assert exc.fix
        monkeypatch.undo()
        assert n_ways(home) in (3, 4)
        check_region(home / "regions" / "here")
    build(home, more, replace=True)
    assert n_ways(home) == 4


def test_readers_never_see_a_half_replaced_region(
    home: Path, crossing_file: Path, tmp_path: Path
) -> None:
    """Regions are opened all the while another thread replaces them."""
    build(home, crossing_file)
    maps, done, seen = [crossing_file, two_roads(tmp_path)], threading.Event(), set()

    def keep_replacing() -> None:
        try:
            for i in range(6):
                build(home, maps[(i + 1) % 2], replace=True)
        finally:
            done.set()

    builder = threading.Thread(target=keep_replacing)
    builder.start()
    while not done.is_set():
        seen.add(n_ways(home))
    builder.join()
    assert seen == {3, 4}


@pytest.mark.skipif(os.name == "nt" or os.geteuid() == 0, reason="root may write anywhere")
def test_a_folder_without_leave_to_write(home: Path, crossing_file: Path) -> None:
    home.mkdir()
    home.chmod(stat.S_IRUSR | stat.S_IXUSR)
    try:
        with pytest.raises(TerrainError, match="no leave to write"):
            build(home, crossing_file)
    finally:
        home.chmod(stat.S_IRWXU)


def test_a_file_where_the_home_should_be(home: Path, crossing_file: Path) -> None:
    home.write_text("x")
    with pytest.raises(TerrainError, match="stands where a folder is needed"):
        build(home, crossing_file)


def _flip_last_byte(path: Path) -> None:
    data = bytearray(path.read_bytes())
    data[-1] ^= 1
    path.write_bytes(data)


def test_a_changed_byte_is_found_by_the_full_check(home: Path, crossing_file: Path) -> None:
    folder = build(home, crossing_file)
    assert check_region(folder) > 50
    changed = current_pack(folder) / "roads" / "edge_length_m.npy"
    _flip_last_byte(changed)
    with pytest.raises(RegionDamaged, match="changed since the build") as caught:
        check_region(folder)
    assert "edge_length_m" in caught.value.where


@pytest.mark.parametrize("name", ["roads/pt_lon.npy", "places/value.json", "info/value.json"])
@pytest.mark.parametrize("harm", ["gone", "cut"])
def test_a_missing_or_cut_file_is_found_at_open(
    home: Path, crossing_file: Path, name: str, harm: str
) -> None:
    path = current_pack(build(home, crossing_file)) / name
    if harm == "gone":
        path.unlink()
    else:
        path.write_bytes(path.read_bytes()[:-8])
    with pytest.raises(RegionDamaged) as caught:
        open_region("here", home)
    assert "--replace" in caught.value.fix
    assert [item.region for item in list_regions(home)] == [None]
    build(home, crossing_file, replace=True)
    assert n_ways(home) == 3


@pytest.mark.parametrize(("form", "word"), [(FORMAT - 1, "older"), (FORMAT + 1, "another")])
def test_another_format_says_so(home: Path, crossing_file: Path, form: int, word: str) -> None:
    manifest = current_pack(build(home, crossing_file)) / MANIFEST
    tree = json.loads(manifest.read_text())
    manifest.write_text(json.dumps(tree | {"format": form}))
    with pytest.raises(RegionDamaged, match=f"{word} format"):
        open_region("here", home)


def test_a_region_that_was_built_of_less_is_used_and_says_so(
    home: Path, crossing_file: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """As one of before steps were read: nobody would know that closed steps are missing."""
    manifest = current_pack(build(home, crossing_file)) / MANIFEST
    assert open_region("here", home).notes == ()
    tree = json.loads(manifest.read_text())
    del tree["reads"]
    manifest.write_text(json.dumps(tree))
    (note,) = open_region("here", home).notes
    assert "earlier version" in note and "build or fetch it anew" in note
    assert main(["region", "show", str(home / "regions" / "here")]) == 0
    assert f"Note: {note}" in capsys.readouterr().out


@pytest.mark.parametrize("text", ["", "pack-none\n", "../../etc\n", "pack-/../x", "\x00"])
def test_a_spoilt_pointer_is_damage(home: Path, crossing_file: Path, text: str) -> None:
    folder = build(home, crossing_file)
    (folder / CURRENT).write_text(text)
    with pytest.raises(RegionDamaged):
        open_region("here", home)
    remove_region("here", home)
    assert not folder.exists()


def test_a_missing_region_names_those_there_are(home: Path, crossing_file: Path) -> None:
    with pytest.raises(RegionMissing, match="no regions yet"):
        find_folder("there", home)
    build(home, crossing_file)
    with pytest.raises(RegionMissing, match="There are: here"):
        find_folder("there", home)
    with pytest.raises(RegionMissing, match="There are: here"):
        remove_region("there", home)


def test_remove_takes_all_away(home: Path, crossing_file: Path) -> None:
    folder = build(home, crossing_file)
    remove_region("here", home)
    assert not folder.exists()
    assert list_regions(home) == []


def test_size_is_what_the_disk_holds(home: Path, crossing_file: Path) -> None:
    folder = build(home, crossing_file)
    pack = current_pack(folder)
    held = sum(p.stat().st_size for p in pack.rglob("*") if p.is_file())
    assert size_bytes(open_region("here", home)) == held - (pack / MANIFEST).stat().st_size


def test_a_copied_region_opens_where_it_lies(
    home: Path, crossing_file: Path, tmp_path: Path
) -> None:
    folder = build(home, crossing_file)
    moved = tmp_path / "elsewhere"
    shutil.copytree(folder, moved)
    remove_region("here", home)
    assert len(open_region(str(moved), home).roads.ways) == 3


def test_the_same_extract_gives_the_same_bytes(home: Path, crossing_file: Path) -> None:
    first = current_pack(build(home, crossing_file, name="one"))
    second = current_pack(build(home, crossing_file, name="two"))
    for part in ("roads", "places", "ground", "help", "stats"):
        names = sorted(p.name for p in (first / part).iterdir())
        assert names == sorted(p.name for p in (second / part).iterdir())
        for name in names:
            assert (first / part / name).read_bytes() == (second / part / name).read_bytes()
