"""Elevation tiles from our own server on the loopback: whole, broken, changed, absent."""

from __future__ import annotations

import gzip
import json
import threading
from collections.abc import Iterator
from dataclasses import dataclass, field
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path

import numpy as np
import pytest

from terrain.calc.elevation import sample_heights
from terrain.cli import main
from terrain.errors import MapDataError
from terrain.region.dem.build import build_heights, open_heights
from terrain.region.dem.fetch import TILE_SERVER, fetch_tiles, resolve_dem, tiles_at
from terrain.region.download import NotOnServerError, Patience, download
from terrain.region.pack import LOCK
from terrain.region.region import open_region
from tests.region.osm_xml import crossing


def tile_bytes(height: int) -> bytes:
    rng = np.random.default_rng(height)
    return gzip.compress(
        (height + rng.integers(0, 50, (1201, 1201))).astype(">i2").tobytes(), 1, mtime=0
    )


TILE = tile_bytes(1000)


@dataclass
class Script:
    """What the server does: files by path, and one action for each of the next requests."""

    files: dict[str, bytes] = field(default_factory=dict)
    actions: list[str] = field(default_factory=list)
    etag: str | None = '"v1"'
    asked: list[tuple[str, str | None]] = field(default_factory=list)


class Handler(BaseHTTPRequestHandler):
    script: Script

    def log_message(self, *_: object) -> None:
        return

    def do_GET(self) -> None:
        script = self.script
        wanted = self.headers.get("Range")
        script.asked.append((self.path, wanted))
        action = script.actions.pop(0) if script.actions else "serve"
        if action.isdigit():
            self.send_response(int(action))
            self.send_header("Retry-After", "7")
            self.send_header("Content-Length", "0")
            self.end_headers()
            return
        if action.startswith("to:"):
            self.send_response(302)
            self.send_header("Location", action[3:])
            self.send_header("Content-Length", "0")
            self.end_headers()
            return
        body = script.files.get(self.path)
        if body is None:
            self.send_error(404)
            return
        start = 0
        same = self.headers.get("If-Range") == script.etag
        if wanted and same and action != "no-ranges":
            start = int(wanted.removeprefix("bytes=").rstrip("-"))
            self.send_response(206)
            self.send_header("Content-Range", f"bytes {start}-{len(body) - 1}/{len(body)}")
        else:
            self.send_response(200)
        if script.etag:
            self.send_header("ETag", script.etag)
        if action != "no-length":
            self.send_header("Content-Length", str(len(body) - start))
        self.end_headers()
        rest = body[start:]
        self.wfile.write(rest[: len(rest) // 2] if action == "break" else rest)


@pytest.fixture
def server() -> Iterator[tuple[str, Script]]:
    script = Script()
    handler = type("ThisHandler", (Handler,), {"script": script})
    httpd = ThreadingHTTPServer(("127.0.0.1", 0), handler)
    thread = threading.Thread(target=httpd.serve_forever, kwargs={"poll_interval": 0.01})
    thread.start()
    yield f"http://127.0.0.1:{httpd.server_address[1]}", script
    httpd.shutdown()
    thread.join()
    httpd.server_close()


def hasty() -> tuple[Patience, list[float]]:
    """Patience that does not wait, and the waits it was told."""
    waits: list[float] = []
    return Patience(tries=3, timeout_s=5.0, sleep=waits.append), waits


def fetch(base: str, tmp_path: Path, *names: str) -> tuple[list[Path], tuple[str, ...]]:
    patience, _ = hasty()
    got = fetch_tiles(names, tmp_path / "tiles", base_url=base, patience=patience)
    return list(got.paths), got.missing


def test_tiles_are_fetched_once_and_kept(server: tuple[str, Script], tmp_path: Path) -> None:
    base, script = server
    script.files = {"/N42/N42E001.hgt.gz": TILE, "/S01/S01W072.hgt.gz": tile_bytes(20)}
    paths, missing = fetch(base, tmp_path, "N42E001", "S01W072")
    assert [path.read_bytes() for path in paths] == [TILE, tile_bytes(20)]
    assert missing == ()
    assert len(script.asked) == 2
    assert fetch(base, tmp_path, "N42E001", "S01W072")[0] == paths
    assert len(script.asked) == 2  # nothing was asked again
    kept = {path.name for path in paths[0].parent.iterdir()}
    assert kept == {"N42E001.hgt.gz", "S01W072.hgt.gz", "sha256.json", LOCK}


def test_a_tile_changed_on_the_disk_is_fetched_again(
    server: tuple[str, Script], tmp_path: Path
) -> None:
    base, script = server
    script.files = {"/N42/N42E001.hgt.gz": TILE}
    (path,), _ = fetch(base, tmp_path, "N42E001")
    path.write_bytes(TILE[:-100] + b"x" * 100)
    (path,), _ = fetch(base, tmp_path, "N42E001")
    assert path.read_bytes() == TILE
    assert len(script.asked) == 2
    sums = path.parent / "sha256.json"
    assert len(json.loads(sums.read_text())["N42E001"]) == 64
    sums.write_text("not json")
    assert fetch(base, tmp_path, "N42E001")[0] == [path]
    assert len(script.asked) == 3


def test_a_broken_transfer_goes_on_from_where_it_stopped(
    server: tuple[str, Script], tmp_path: Path
) -> None:
    base, script = server
    script.files = {"/N42/N42E001.hgt.gz": TILE}
    script.actions = ["break", "break"]
    (path,), _ = fetch(base, tmp_path, "N42E001")
    assert path.read_bytes() == TILE
    half = len(TILE) // 2
    quarter = half + (len(TILE) - half) // 2
    assert [ranged for _, ranged in script.asked] == [None, f"bytes={half}-", f"bytes={quarter}-"]


def test_a_later_call_resumes_an_earlier_one(server: tuple[str, Script], tmp_path: Path) -> None:
    base, script = server
    script.files = {"/N42/N42E001.hgt.gz": TILE}
    script.actions = ["break", "503", "503"]
    with pytest.raises(MapDataError, match="could not be fetched"):
        fetch(base, tmp_path, "N42E001")
    (path,), _ = fetch(base, tmp_path, "N42E001")
    assert path.read_bytes() == TILE
    assert script.asked[-1][1] == f"bytes={len(TILE) // 2}-"


@pytest.mark.parametrize("etag", ['"v2"', 'W/"v1"', None])
def test_a_file_that_changed_or_cannot_be_told_apart_starts_anew(
    server: tuple[str, Script], tmp_path: Path, etag: str | None
) -> None:
    base, script = server
    script.files = {"/t.bin": b"a" * 1000}
    script.etag = '"v1"' if etag == '"v2"' else etag
    script.actions = ["break", "503", "503"]
    patience, _ = hasty()
    with pytest.raises(MapDataError):
        download(f"{base}/t.bin", tmp_path / "t.bin", most_bytes=5000, patience=patience)
    script.files, script.etag = {"/t.bin": b"b" * 1200}, etag
    download(f"{base}/t.bin", tmp_path / "t.bin", most_bytes=5000, patience=patience)
    assert (tmp_path / "t.bin").read_bytes() == b"b" * 1200


def test_a_server_without_ranges_or_lengths(server: tuple[str, Script], tmp_path: Path) -> None:
    base, script = server
    script.files = {"/t.bin": b"a" * 1000}
    script.actions = ["break", "no-ranges"]
    patience, _ = hasty()
    download(f"{base}/t.bin", tmp_path / "t.bin", most_bytes=5000, patience=patience)
    assert (tmp_path / "t.bin").read_bytes() == b"a" * 1000
    script.actions = ["no-length"]
    said: list[float | None] = []
    download(
        f"{base}/t.bin", tmp_path / "u.bin", most_bytes=5000, patience=patience, say=said.append
    )
    assert (tmp_path / "u.bin").read_bytes() == b"a" * 1000
    assert set(said) == {None}


def test_waits_double_and_the_server_may_ask_for_longer(
    server: tuple[str, Script], tmp_path: Path
) -> None:
    base, script = server
    script.files = {"/t.bin": b"abc"}
    script.actions = ["429", "500"]
    patience, waits = hasty()
    download(f"{base}/t.bin", tmp_path / "t.bin", most_bytes=5000, patience=patience)
    assert waits == [7, 7]
    assert (tmp_path / "t.bin").read_bytes() == b"abc"


@pytest.mark.parametrize("code", ["403", "404", "410"])
def test_tiles_the_service_does_not_hold(
    server: tuple[str, Script], tmp_path: Path, code: str
) -> None:
    base, script = server
    script.files = {"/N42/N42E001.hgt.gz": TILE}
    script.actions = ["serve", code]
    paths, missing = fetch(base, tmp_path, "N42E001", "N42E002")
    assert [path.name for path in paths] == ["N42E001.hgt.gz"]
    assert missing == ("N42E002",)


def test_a_service_that_holds_none(server: tuple[str, Script], tmp_path: Path) -> None:
    with pytest.raises(MapDataError, match=r"none of the 2 .* N42E001\.hgt, N42E002\.hgt"):
        fetch(server[0], tmp_path, "N42E001", "N42E002")


@pytest.mark.parametrize(
    "body",
    [
        b"<html>sign in first</html>",
        gzip.compress(bytes(1000), mtime=0),
        TILE[:-20],
        b"",
        TILE + TILE,
    ],
)
def test_what_is_no_tile_is_thrown_away(
    server: tuple[str, Script], tmp_path: Path, body: bytes
) -> None:
    base, script = server
    script.files = {"/N42/N42E001.hgt.gz": body}
    with pytest.raises(MapDataError, match="no tile"):
        fetch(base, tmp_path, "N42E001")
    left = [
        path.name
        for path in (tmp_path / "tiles").rglob("*")
        if path.is_file() and path.name != LOCK
    ]
    assert left == []


def test_a_file_far_too_large_is_refused(server: tuple[str, Script], tmp_path: Path) -> None:
    base, script = server
    script.files = {"/t.bin": b"a" * 2000}
    patience, _ = hasty()
    for action in ("serve", "no-length"):
        script.actions = [action]
        with pytest.raises(MapDataError, match="larger than"):
            download(f"{base}/t.bin", tmp_path / "t.bin", most_bytes=1000, patience=patience)
        assert not (tmp_path / "t.bin").exists()


def test_offline_says_what_to_do(tmp_path: Path) -> None:
    patience, waits = hasty()
    with pytest.raises(MapDataError) as caught:
        # Port 9 (discard) on the loopback: nobody listens there.
        fetch_tiles(["N42E001"], tmp_path, base_url="http://127.0.0.1:9", patience=patience)
    text = str(caught.value)
    assert "could not be fetched" in text
    assert "N42E001.hgt" in text and "--dem" in text
    assert caught.value.exit_code == 3
    assert waits == [1, 2]


@pytest.mark.parametrize("url", ["file:///etc/passwd", "ftp://127.0.0.1/x", "tiles", "https://"])
def test_only_web_addresses(url: str, tmp_path: Path) -> None:
    with pytest.raises(MapDataError, match="no web address"):
        download(url, tmp_path / "x", most_bytes=10)


def test_redirects_are_followed_only_to_the_web(server: tuple[str, Script], tmp_path: Path) -> None:
    base, script = server
    script.files = {"/real.bin": b"abc"}
    patience, _ = hasty()
    script.actions = [f"to:{base}/real.bin"]
    download(f"{base}/t.bin", tmp_path / "t.bin", most_bytes=10, patience=patience)
    assert (tmp_path / "t.bin").read_bytes() == b"abc"
    script.actions = ["to:file:///etc/passwd"]
    with pytest.raises(MapDataError, match="not allowed"):
        download(f"{base}/t.bin", tmp_path / "u.bin", most_bytes=10, patience=patience)


def test_not_on_server(server: tuple[str, Script], tmp_path: Path) -> None:
    with pytest.raises(NotOnServerError):
        download(f"{server[0]}/none", tmp_path / "x", most_bytes=10)


def test_tiles_at_points_and_just_beside_an_edge() -> None:
    assert tiles_at(np.array([1.5]), np.array([42.5])) == ["N42E001"]
    assert tiles_at(np.array([1.99]), np.array([42.01])) == [
        "N41E001", "N41E002", "N42E001", "N42E002",
    ]  # fmt: skip
    assert tiles_at(np.array([179.99]), np.array([-16.5])) == ["S17E179", "S17W180"]
    assert tiles_at(np.array([-0.5, 180.5]), np.array([0.5, 0.5])) == ["N00W001", "N00W180"]
    assert tiles_at(np.zeros(0), np.zeros(0)) == []


def test_auto_fetches_what_the_roads_need(server: tuple[str, Script], tmp_path: Path) -> None:
    base, script = server
    script.files = {"/N42/N42E001.hgt.gz": TILE}
    own = tmp_path / "own.tif"
    lon, lat = np.array([1.4, 1.6]), np.array([42.4, 42.6])
    paths, credit = resolve_dem(
        [Path("auto"), own], lon=lon, lat=lat, cache=tmp_path, base_url=base
    )
    assert paths[0] == own
    assert paths[1].name == "N42E001.hgt.gz"
    assert credit == (f"Heights from {base}",)
    summary = build_heights(paths[1:], (1.4, 42.4, 1.6, 42.6), tmp_path / "out")
    assert summary.covered_share == 1
    ele, _ = sample_heights(open_heights(tmp_path / "out"), lon, lat)
    assert ((ele >= 1000) & (ele < 1050)).all()
    assert resolve_dem([own], lon=lon, lat=lat, cache=tmp_path) == ((own,), ())


def test_region_build_with_dem_auto(
    server: tuple[str, Script],
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    """The command end to end; a second build needs no network."""
    base, script = server
    script.files = {f"/{n[:3]}/{n}.hgt.gz": TILE for n in ("N44E010", "N45E010")}
    monkeypatch.setenv("TERRAIN_HOME", str(tmp_path / "home"))
    osm = crossing().write(tmp_path / "crossing.osm")
    build = ["region", "build", "here", "--osm", str(osm), "--dem", "auto"]
    assert main([*build, "--tile-server", base]) == 0
    region = open_region("here", tmp_path / "home")
    assert region.heights is not None
    ele, _ = sample_heights(region.heights, np.array([10.02]), np.array([45.0]))
    assert 1000 <= ele[0] <= 1050
    assert f"Heights from {base}" in region.info.attribution
    asked = {path for path, _ in script.asked}
    assert asked >= {"/N44/N44E010.hgt.gz", "/N45/N45E010.hgt.gz"}

    n_asked = len(script.asked)
    script.files = {}
    monkeypatch.setenv("TERRAIN_TILE_SERVER", base)
    assert main([*build, "--replace"]) == 0
    fresh = {path for path, _ in script.asked[n_asked:]}
    assert not fresh & {"/N44/N44E010.hgt.gz", "/N45/N45E010.hgt.gz"}
    capsys.readouterr()


def test_region_build_offline_leaves_the_old_region(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("TERRAIN_HOME", str(tmp_path / "home"))
    osm = crossing().write(tmp_path / "crossing.osm")
    assert main(["region", "build", "here", "--osm", str(osm)]) == 0
    build = ["region", "build", "here", "--osm", str(osm), "--dem", "auto", "--replace"]
    assert main([*build, "--tile-server", "nowhere"]) == 3
    message = capsys.readouterr().err
    assert "no web address" in message
    assert "N45E010.hgt" in message
    assert "Traceback" not in message
    assert open_region("here", tmp_path / "home").heights is None


def test_the_default_service_is_reached_by_a_safe_address() -> None:
    assert TILE_SERVER.startswith("https://")
