"""`region fetch --country` and `region update` against servers of our own on the loopback."""

from __future__ import annotations

import gzip
import json
import threading
from collections.abc import Iterator
from datetime import date
from http.server import ThreadingHTTPServer
from pathlib import Path
from typing import Any

import osmium
import pytest

from terrain.cli import main
from terrain.errors import MapDataError, RegionError, TerrainError, UsageError
from terrain.region import update as update_module
from terrain.region.catalog import choose, parse_index
from terrain.region.changed import changed_ways
from terrain.region.changes import fetch_changes, merge_changes, newest_state
from terrain.region.download import Patience
from terrain.region.fetch import Target, fetch_extract
from terrain.region.manage import check_region
from terrain.region.region import open_region
from terrain.region.source import Source, kept_source, source_of
from terrain.region.update import update_region
from tests.loopback.test_fetch import Handler, Script
from tests.region.osm_xml import crossing

HASTY = Patience(tries=3, first_wait_s=0.0, sleep=lambda s: None)
_HEAD = '<?xml version="1.0"?><osmChange version="0.6" generator="test">'
#: Sequence 8 makes way 11 gravel, 9 takes way 12 away, 10 draws way 70 between nodes of its own.
CHANGES = {
    8: '<modify><way id="11" version="2" timestamp="2024-06-02T00:00:00Z"><nd ref="6"/>'
    '<nd ref="3"/><nd ref="7"/><tag k="highway" v="track"/><tag k="surface" v="gravel"/></way>'
    "</modify>",
    9: '<delete><way id="12" version="2" timestamp="2024-06-03T00:00:00Z"/></delete>',
    10: '<create><node id="901" version="1" timestamp="2024-06-04T00:00:00Z" lat="45.001" '
    'lon="10.01"/><node id="902" version="1" timestamp="2024-06-04T00:00:00Z" lat="45.002" '
    'lon="10.01"/><way id="70" version="1" timestamp="2024-06-04T00:00:00Z"><nd ref="901"/>'
    '<nd ref="902"/><tag k="highway" v="track"/></way></create>',
}


@pytest.fixture()
def drawn(tmp_path: Path) -> Path:
    xml = tmp_path / "crossing.osm"
    xml.write_text(crossing().text())
    return xml


def _extract(xml: Path, url: str, folder: Path) -> bytes:
    """The drawn map as PBF whose header names its change files, complete to sequence 7."""
    path = folder / "extract.osm.pbf"
    header = osmium.io.Header()
    header.set("osmosis_replication_base_url", url)
    header.set("osmosis_replication_sequence_number", "7")
    header.set("osmosis_replication_timestamp", "2024-06-01T00:00:00Z")
    writer = osmium.io.Writer(str(path), header)
    reader = osmium.io.Reader(str(xml))
    osmium.MergeInputReader().apply_to_reader(reader, writer, False)
    writer.close()
    reader.close()
    data = path.read_bytes()
    path.unlink()
    return data


def _state(sequence: int) -> bytes:
    moment = f"2024-06-{sequence - 6:02d}T00\\:00\\:00Z"
    return f"#x\nsequenceNumber={sequence}\ntimestamp={moment}\n".encode()


@pytest.fixture()
def script() -> Script:
    files = {
        f"/changes/000/000/{number:03d}.osc.gz": gzip.compress(
            f"{_HEAD}{body}</osmChange>".encode(), mtime=0
        )
        for number, body in CHANGES.items()
    }
    return Script(files={**files, "/changes/state.txt": _state(7)})


@pytest.fixture()
def server(script: Script, drawn: Path, tmp_path: Path) -> Iterator[str]:
    handler = type("Bound", (Handler,), {"script": script})
    httpd = ThreadingHTTPServer(("127.0.0.1", 0), handler)
    thread = threading.Thread(target=httpd.serve_forever, args=(0.01,), daemon=True)
    thread.start()
    url = f"http://127.0.0.1:{httpd.server_port}"
    script.files["/island.osm.pbf"] = _extract(drawn, f"{url}/changes", tmp_path)
    rows = [
        {"properties": {"id": "land/isle", "name": "Isle", "iso3166-1:alpha2": ["IL"],
                        "urls": {"pbf": f"{url}/island.osm.pbf"}}},
        {"properties": {"id": "land", "name": "Land", "iso3166-1:alpha2": ["IL", "LD"],
                        "urls": {"pbf": f"{url}/land.osm.pbf"}}},
    ]  # fmt: skip
    script.files["/index.json"] = json.dumps({"features": rows}).encode()
    yield url
    httpd.shutdown()
    httpd.server_close()


@pytest.fixture()
def home(server: str, tmp_path: Path) -> Path:
    home = tmp_path / "home"
    fetch_extract(Target(name="isle", home=home), f"{server}/island.osm.pbf", patience=HASTY)
    return home


def _ways(home: Path) -> dict[int, str | None]:
    ways = open_region("isle", home).roads.ways
    return {int(way): ways.surface.text(i) for i, way in enumerate(ways.way_id)}


def test_a_region_is_brought_to_date(home: Path, script: Script) -> None:
    before = _ways(home)
    assert 12 in before and 70 not in before and before[11] != "gravel"
    assert update_region("isle", home, patience=HASTY).n_changes == 0
    script.files["/changes/state.txt"] = _state(9)
    done = update_region("isle", home, patience=HASTY)
    assert (done.n_changes, done.new, done.gone, done.changed) == (2, (), (12,), (11,))
    assert _ways(home) == {**{k: v for k, v in before.items() if k != 12}, 11: "gravel"}
    script.files["/changes/state.txt"] = _state(10)
    done = update_region("isle", home, patience=HASTY)
    assert (done.n_changes, done.new) == (1, (70,))
    # The log of what changed goes on from update to update, without ways that came.
    log = changed_ways(open_region("isle", home).pack)
    assert sorted(log.way_id.tolist()) == [11, 12] and (log.at_s > 0).all()
    region = open_region("isle", home)
    assert region.info.map_date == date(2024, 6, 4)
    kept = kept_source(region.pack)
    assert kept is not None and kept.source.sequence == 10
    assert check_region(region.folder) > 10
    assert not (home / "downloads" / "isle-update").exists()


def test_an_updated_region_is_the_one_built_from_the_newer_map(
    home: Path, script: Script, server: str, tmp_path: Path
) -> None:
    script.files["/changes/state.txt"] = _state(10)
    update_region("isle", home, patience=HASTY)
    updated = open_region("isle", home)
    kept = kept_source(updated.pack)
    assert kept is not None and kept.changes is not None
    whole = tmp_path / "whole.osm.pbf"
    merge_changes(kept.extract, (kept.changes,), whole, source=kept.source)
    assert source_of(whole) == kept.source
    script.files["/newer.osm.pbf"] = whole.read_bytes()
    fetch_extract(Target(name="anew", home=home), f"{server}/newer.osm.pbf", patience=HASTY)
    anew = open_region("anew", home)
    for name in ("roads", "places", "ground", "help"):
        files = sorted(p.name for p in (anew.pack / name).iterdir())
        assert files == sorted(p.name for p in (updated.pack / name).iterdir())
        for file in files:
            assert (anew.pack / name / file).read_bytes() == (
                updated.pack / name / file
            ).read_bytes()


class _StopError(BaseException):
    """As Ctrl-C, at a chosen step."""


def test_fifty_interrupted_updates_leave_the_old_or_the_new(home: Path, script: Script) -> None:
    script.files["/changes/state.txt"] = _state(10)
    old = _ways(home)
    seen: set[str] = set()
    stopped = 0
    for number in range(50):
        steps = iter(range(number % 25))

        def step(what: str, share: float | None, left: Iterator[int] = steps) -> None:
            if next(left, None) is None:
                raise _StopError(what)

        try:
            update_region("isle", home, patience=HASTY, progress=step)
        except _StopError as stop:
            stopped += 1
            seen.add(str(stop))
        now = _ways(home)
        assert now == old or (70 in now and 12 not in now)
        check_region(open_region("isle", home).folder)
        packs = list((home / "regions" / "isle").glob("pack-*"))
        assert len(packs) == 1
        if now != old:
            break
    assert stopped >= 15 and "Putting the region in place" in seen
    assert update_region("isle", home, patience=HASTY).n_changes in (0, 3)


def test_broken_changes_leave_the_region_as_it_was(home: Path, script: Script) -> None:
    old = _ways(home)
    script.files["/changes/state.txt"] = _state(10)
    good = script.files["/changes/000/000/009.osc.gz"]
    for bad, what in (
        (None, "no longer holds the changes since 2024-06-01"),
        (b"not a change", "cannot be read"),
        (good[:-9], "cannot be read"),
        (gzip.compress(b"<html/>", mtime=0), "cannot be read"),
    ):
        script.files.pop("/changes/000/000/009.osc.gz", None)
        if bad is not None:
            script.files["/changes/000/000/009.osc.gz"] = bad
        with pytest.raises(MapDataError, match=what):
            update_region("isle", home, patience=HASTY)
        assert _ways(home) == old
    script.files["/changes/000/000/009.osc.gz"] = good
    assert update_region("isle", home, patience=HASTY).n_changes == 3


def test_a_server_s_faults_are_told(home: Path, script: Script, tmp_path: Path) -> None:
    source = Source(url="http://127.0.0.1:9/changes", sequence=7, to_time="2024-06-01T00:00:00")
    with pytest.raises(MapDataError, match="could not be fetched"):
        newest_state(source.url, tmp_path, HASTY)
    for state, what in ((b"", "state cannot be read"), (b"sequenceNumber=x\n", "cannot be read")):
        script.files["/changes/state.txt"] = state
        with pytest.raises(MapDataError, match=what):
            update_region("isle", home, patience=HASTY)
    del script.files["/changes/state.txt"]
    with pytest.raises(MapDataError, match="publishes no changes"):
        update_region("isle", home, patience=HASTY)
    far = type(source)(url=source.url, sequence=7, to_time=source.to_time)
    from terrain.region.changes import State

    with pytest.raises(MapDataError, match="change files behind"):
        fetch_changes(far, State(sequence=9_000, time=""), tmp_path, patience=HASTY,
                      progress=lambda what, share: None)  # fmt: skip


def test_a_region_without_its_extract_says_how_to_get_one(
    drawn: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:  # fmt: skip
    monkeypatch.setenv("TERRAIN_HOME", str(tmp_path / "own"))
    assert main(["region", "build", "own", "--osm", str(drawn)]) == 0
    capsys.readouterr()
    assert main(["region", "update", "own"]) == 4
    assert "--keep-extract" in capsys.readouterr().err
    with pytest.raises(RegionError):
        update_region("own", tmp_path / "own")


def test_only_the_pack_that_was_read_is_replaced(
    home: Path, script: Script, monkeypatch: pytest.MonkeyPatch, server: str
) -> None:
    script.files["/changes/state.txt"] = _state(9)
    renew = update_module.renew

    def slow(*args: Any) -> object:
        done = renew(*args)
        target = Target(name="isle", home=home, replace=True)
        fetch_extract(target, f"{server}/island.osm.pbf", patience=HASTY)
        return done

    monkeypatch.setattr(update_module, "renew", slow)
    with pytest.raises(TerrainError, match="built anew meanwhile"):
        update_region("isle", home, patience=HASTY)
    assert 12 in _ways(home)


def test_from_the_command_line(
    server: str, script: Script, tmp_path: Path, monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:  # fmt: skip
    monkeypatch.setenv("TERRAIN_HOME", str(tmp_path / "cli"))
    monkeypatch.setenv("TERRAIN_MAP_INDEX", f"{server}/index.json")
    assert main(["region", "fetch", "isle", "--country", "isle"]) == 0
    script.files["/changes/state.txt"] = _state(10)
    assert main(["region", "update", "isle"]) == 0
    shown = capsys.readouterr().out
    assert "from 2024-06-01 00:00 UTC to 2024-06-04 00:00 UTC by 3 change files" in shown
    assert "1 new, 1 gone, 1 tagged otherwise" in shown
    assert main(["region", "show", "isle"]) == 0
    shown = capsys.readouterr().out
    assert "map of 2024-06-04, " in shown and "old" in shown
    assert "complete to 2024-06-04 00:00 UTC; changes from http://127.0.0.1" in shown
    assert main(["region", "update", "isle", "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["n_changes"] == 0
    assert main(["region", "fetch", "other", "--country", "nowhere"]) == 2
    assert main(["region", "fetch", "other", "--country", "x", "--url", "y"]) == 2
    monkeypatch.delenv("TERRAIN_MAP_INDEX")
    assert main(["region", "fetch", "other", "--country", "isle"]) == 2
    assert "TERRAIN_MAP_INDEX" in capsys.readouterr().err


def test_words_choose_an_extract() -> None:
    rows = [
        {"id": "europe/andorra", "name": "Andorra", "codes": ["AD"], "url": "a.osm.pbf"},
        {"id": "europe/spain", "name": "Spain", "codes": ["ES"], "url": "/s.osm.pbf"},
        {"id": "europe/spain/la-rioja", "name": "La Rioja", "url": "https://x.example/r.osm.pbf"},
        {"id": "europe/spain/galicia", "name": "Galicia", "url": "g.osm.pbf"},
    ]
    extracts = parse_index(json.dumps(rows).encode(), "https://m.example/maps/index.json")

    def url(word: str) -> str:
        return choose(word, extracts, "index").url

    assert (
        url("andorra") == url("AD") == url("europe/andorra") == "https://m.example/maps/a.osm.pbf"
    )
    assert url("Spain") == url("es") == "https://m.example/s.osm.pbf"
    assert url("la rioja") == url("Rioja") == "https://x.example/r.osm.pbf"
    with pytest.raises(UsageError, match="may mean several extracts: La Rioja"):
        url("spain/")
    with pytest.raises(UsageError, match=r"Did you mean Andorra \(europe/andorra\)"):
        url("andora")
    for bad in (b"<html>", b"{}", b"[]", b'[{"name": 3}]', b"[" * 100_000):
        with pytest.raises(MapDataError):
            parse_index(bad, "index")
