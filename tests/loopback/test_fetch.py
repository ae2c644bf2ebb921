"""`region fetch` against servers of our own on the loopback: whole, broken, busy, wrong."""

from __future__ import annotations

import hashlib
import re
import socket
import threading
from collections.abc import Iterator
from dataclasses import dataclass, field
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path
from urllib.parse import parse_qs

import numpy as np
import pytest
import shapely

from terrain.cli import main
from terrain.errors import MapDataError, TerrainError, UsageError
from terrain.region import overpass
from terrain.region.download import Patience
from terrain.region.fetch import Target, fetch_around, fetch_extract
from terrain.region.overpass import Corridor, Server, areas_query, far_query, near_query
from terrain.region.region import Region, open_region
from tests.region.osm_xml import OsmXml, crossing

MAP = crossing().text().encode()
# The beginning and end of an Overpass answer, as its documentation shows them.
ANSWER = MAP.replace(
    b'<osm version="0.6">',
    b'<osm version="0.6" generator="Overpass API">\n<note>The data included in this document is '
    b'from www.openstreetmap.org.</note>\n<meta osm_base="2024-06-01T12:00:00Z"/>',
)
TIMED_OUT = ANSWER.replace(
    b"</osm>",
    b"<remark> runtime error: Query timed out in &quot;query&quot; at line 1 after 181 seconds. "
    b"</remark>\n</osm>",
)


@dataclass
class Script:
    """What the server does: files by path, and one action for each of the next requests."""

    files: dict[str, bytes] = field(default_factory=dict)
    actions: list[str] = field(default_factory=list)
    retry_after: str = "7"
    gets: list[tuple[str, str | None]] = field(default_factory=list)
    queries: list[str] = field(default_factory=list)
    around_all: bytes = b'<osm version="0.6"></osm>'

    @property
    def rings(self) -> list[str]:
        """The queries that ask by a ring."""
        return [query for query in self.queries if "poly:" in query]


class Handler(BaseHTTPRequestHandler):
    script: Script

    def log_message(self, *_: object) -> None:
        return

    def _send(self, status: int, body: bytes, *, whole: int | None = None, **more: str) -> None:
        self.send_response(status)
        for name, value in more.items():
            self.send_header(name.replace("_", "-"), value)
        self.send_header("Content-Length", str(len(body) if whole is None else whole))
        self.end_headers()
        self.wfile.write(body)

    def do_GET(self) -> None:
        script, wanted = self.script, self.headers.get("Range")
        script.gets.append((self.path, wanted))
        action = script.actions.pop(0) if script.actions else ""
        body = script.files.get(self.path)
        if action.isdigit():
            self._send(int(action), b"", Retry_After=script.retry_after)
        elif body is None:
            self._send(404, b"not here")
        elif action == "cut":
            self._send(200, body[: len(body) // 2], whole=len(body), ETag='"v1"')
        elif wanted and self.headers.get("If-Range") == '"v1"':
            start = int(wanted.removeprefix("bytes=").rstrip("-"))
            span = f"bytes {start}-{len(body) - 1}/{len(body)}"
            self._send(206, body[start:], Content_Range=span)
        else:
            self._send(200, body, ETag='"v1"')

    def do_POST(self) -> None:
        script = self.script
        form = self.rfile.read(int(self.headers["Content-Length"])).decode()
        script.queries.append(parse_qs(form)["data"][0])
        action = script.actions.pop(0) if script.actions else ""
        if action.isdigit():
            self._send(int(action), b"busy", Retry_After=script.retry_after)
        elif action == "cut":
            self._send(200, ANSWER[:500], whole=len(ANSWER))
        elif action == "timeout":
            self._send(200, TIMED_OUT)
        elif action == "page":
            self._send(200, b"<html><body>Welcome</body></html>")
        elif action == "half":
            self._send(200, ANSWER[: len(ANSWER) // 2])
        elif "is_in" in script.queries[-1]:
            self._send(200, script.around_all)
        else:
            self._send(200, ANSWER)


@pytest.fixture()
def script() -> Script:
    return Script(files={"/small.osm": MAP})


@pytest.fixture()
def base(script: Script) -> Iterator[str]:
    server = ThreadingHTTPServer(("127.0.0.1", 0), type("Own", (Handler,), {"script": script}))
    thread = threading.Thread(target=server.serve_forever, args=(0.02,), daemon=True)
    thread.start()
    yield f"http://127.0.0.1:{server.server_address[1]}"
    server.shutdown()
    server.server_close()
    thread.join()


@dataclass
class Clock:
    """Waits that cost no time, and are remembered."""

    waits: list[float] = field(default_factory=list)

    def patience(self, tries: int = 4) -> Patience:
        return Patience(
            tries=tries,
            timeout_s=5.0,
            first_wait_s=1.0,
            most_wait_s=60.0,
            sleep=self.waits.append,
        )


@pytest.fixture()
def clock() -> Clock:
    return Clock()


@pytest.fixture()
def target(tmp_path: Path) -> Target:
    return Target(name="here", home=tmp_path / "home")


def opened(target: Target) -> Region:
    return open_region("here", target.home)


# --- an extract by its address


def test_an_extract_is_fetched_and_built(target: Target, base: str, clock: Clock) -> None:
    fetch_extract(target, f"{base}/small.osm", patience=clock.patience())
    region = opened(target)
    assert len(region.roads.ways) == 3
    assert any("without a checksum" in note for note in region.info.notes)
    assert not target.downloads.exists()


def test_two_fetches_of_one_region_do_not_mix(target: Target, base: str, clock: Clock) -> None:
    with target.locked(), pytest.raises(TerrainError, match="another fetch of this region"):
        fetch_extract(target, f"{base}/small.osm", patience=clock.patience())
    fetch_extract(target, f"{base}/small.osm", patience=clock.patience())
    assert len(opened(target).roads.ways) == 3


@pytest.mark.parametrize("kind", ["sha256", "md5"])
def test_a_checksum_beside_the_file_is_held_to(
    target: Target, base: str, clock: Clock, script: Script, kind: str
) -> None:
    digest = hashlib.new(kind, MAP, usedforsecurity=False).hexdigest()
    script.files[f"/small.osm.{kind}"] = f"{digest}  small.osm\n".encode()
    fetch_extract(target, f"{base}/small.osm", patience=clock.patience())
    assert opened(target).info.notes == ()


def test_a_wrong_checksum_beside_the_file_stops_the_build(
    target: Target, base: str, clock: Clock, script: Script
) -> None:
    script.files["/small.osm.md5"] = b"0" * 32 + b"  small.osm\n"
    with pytest.raises(MapDataError, match="has the md5"):
        fetch_extract(target, f"{base}/small.osm", patience=clock.patience())
    assert not (target.home / "regions").exists()
    # The wrong file is gone: the next call fetches it anew.
    del script.files["/small.osm.md5"]
    fetch_extract(target, f"{base}/small.osm", patience=clock.patience())
    assert len(opened(target).roads.ways) == 3


def test_the_users_checksum_wins(target: Target, base: str, clock: Clock, script: Script) -> None:
    url = f"{base}/small.osm"
    with pytest.raises(MapDataError, match="has the sha256"):
        fetch_extract(target, url, sha256="0" * 64, patience=clock.patience())
    with pytest.raises(UsageError, match="no SHA-256"):
        fetch_extract(target, url, sha256="abc", patience=clock.patience())
    right = hashlib.sha256(MAP).hexdigest().upper()
    fetch_extract(target, url, sha256=right, patience=clock.patience())
    assert opened(target).info.notes == ()
    assert not any(path.endswith((".md5", ".sha256")) for path, _ in script.gets)


def test_a_page_in_place_of_a_checksum_is_none(
    target: Target, base: str, clock: Clock, script: Script
) -> None:
    script.files["/small.osm.sha256"] = b"<html>all is well</html>"
    fetch_extract(target, f"{base}/small.osm", patience=clock.patience())
    assert any("without a checksum" in note for note in opened(target).info.notes)


def test_a_transfer_that_breaks_off_goes_on(
    target: Target, base: str, clock: Clock, script: Script
) -> None:
    script.actions = ["cut"]
    fetch_extract(target, f"{base}/small.osm", patience=clock.patience())
    ranges = [wanted for path, wanted in script.gets if path == "/small.osm"]
    assert ranges == [None, f"bytes={len(MAP) // 2}-"]
    assert len(opened(target).roads.ways) == 3


def test_the_next_call_goes_on_too(target: Target, base: str, clock: Clock, script: Script) -> None:
    script.actions = ["cut"]
    with pytest.raises(MapDataError, match="could not be fetched"):
        fetch_extract(target, f"{base}/small.osm", patience=clock.patience(tries=1))
    fetch_extract(target, f"{base}/small.osm", patience=clock.patience())
    assert script.gets[1] == ("/small.osm", f"bytes={len(MAP) // 2}-")
    assert len(opened(target).roads.ways) == 3


def test_a_busy_server_is_waited_for_as_long_as_it_says(
    target: Target, base: str, clock: Clock, script: Script
) -> None:
    script.actions = ["429", "503"]
    fetch_extract(target, f"{base}/small.osm", patience=clock.patience())
    assert clock.waits == [7.0, 7.0]


def test_a_file_that_is_not_there(target: Target, base: str, clock: Clock) -> None:
    with pytest.raises(MapDataError, match="does not hold this file"):
        fetch_extract(target, f"{base}/none.osm.pbf", patience=clock.patience())


def test_rubbish_is_refused_and_the_old_region_stays(
    target: Target, base: str, clock: Clock, script: Script
) -> None:
    fetch_extract(target, f"{base}/small.osm", patience=clock.patience())
    again = Target(name="here", home=target.home, replace=True)
    script.files["/bad.osm.pbf"] = b"\x00\x01" * 5000
    with pytest.raises(MapDataError, match="cannot be read as OpenStreetMap data"):
        fetch_extract(again, f"{base}/bad.osm.pbf", patience=clock.patience())
    script.files["/export"] = b"\x00\x01" * 5000
    with pytest.raises(MapDataError, match="no map extract"):
        fetch_extract(again, f"{base}/export", patience=clock.patience())
    assert len(opened(target).roads.ways) == 3


def test_an_address_that_tells_no_kind(
    target: Target, base: str, clock: Clock, script: Script
) -> None:
    script.files["/export?id=1"] = MAP
    fetch_extract(target, f"{base}/export?id=1", patience=clock.patience())
    assert len(opened(target).roads.ways) == 3


@pytest.mark.parametrize("url", ["file:///etc/passwd", "ftp://x/y.osm", "small.osm", "http://"])
def test_only_web_addresses(target: Target, clock: Clock, url: str) -> None:
    with pytest.raises(MapDataError, match="no web address"):
        fetch_extract(target, url, patience=clock.patience())


@pytest.mark.parametrize("name", ["..%2f..%2fx.osm", "a%00b.osm", "%2e%2e"])
def test_file_names_of_the_server_stay_in_the_folder(
    target: Target, base: str, clock: Clock, script: Script, name: str
) -> None:
    script.files[f"/{name}"] = MAP
    fetch_extract(target, f"{base}/{name}", patience=clock.patience())
    assert sorted(p.name for p in target.home.iterdir()) == ["downloads", "regions"]
    assert list((target.home / "downloads").iterdir()) == []


def test_a_region_that_is_there_is_refused_before_anything_is_fetched(
    target: Target, base: str, clock: Clock, script: Script
) -> None:
    fetch_extract(target, f"{base}/small.osm", patience=clock.patience())
    n_before = len(script.gets)
    with pytest.raises(UsageError, match="already"):
        fetch_extract(target, f"{base}/small.osm", patience=clock.patience())
    assert len(script.gets) == n_before


def test_no_server_at_all(target: Target, clock: Clock) -> None:
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        url = f"http://127.0.0.1:{free.getsockname()[1]}"
    with pytest.raises(MapDataError, match="could not be fetched"):
        fetch_extract(target, f"{url}/small.osm", patience=clock.patience())
    assert len(clock.waits) == 3


# --- the map along a route

LON, LAT = np.array([10.0, 10.02, 10.04]), np.array([45.0, 45.0, 45.0])


def around(target: Target, base: str, clock: Clock, **more: object) -> Path:
    server = Server(url=base, patience=clock.patience())
    return fetch_around(target, LON, LAT, server=server, **more)  # type: ignore[arg-type]


def ring_of(query: str) -> shapely.Polygon:
    found = re.search(r'poly:"([^"]+)"', query)
    assert found
    numbers = [float(word) for word in found[1].split()]
    return shapely.Polygon(list(zip(numbers[1::2], numbers[0::2], strict=True)))


def test_the_map_along_a_route_is_fetched_and_built(
    target: Target, base: str, clock: Clock, script: Script
) -> None:
    around(target, base, clock)
    region = opened(target)
    assert len(region.roads.ways) == 3
    # The day of the server's map, newer than any object in it.
    assert str(region.info.map_date) == "2024-06-01"
    assert any("within 10 km" in note for note in region.info.notes)
    near, far, _ = script.queries
    assert near.startswith("[out:xml][timeout:")
    assert near.endswith("out meta;")
    for word in ("track", "ferry", "motorcycle_repair", "drinking_water", "bollard", "saddle"):
        assert word in near
    assert "track" not in far
    assert "motorcycle_repair" in far


def test_the_corridor_has_the_width_asked_for(
    target: Target, base: str, clock: Clock, script: Script
) -> None:
    """Against pyproj's geodesic buffer distance at points beside the line."""
    from pyproj import Geod

    around(target, base, clock, corridor=Corridor(near_km=10, far_km=30))
    for query, km in zip(script.rings, (10, 30), strict=True):
        ring = ring_of(query)
        for azimuth in range(0, 360, 15):
            lon, lat, _ = Geod(ellps="WGS84").fwd(10.0, 45.0, azimuth, 0.99 * km * 1000)
            assert ring.contains(shapely.Point(lon, lat))
            lon, lat, _ = Geod(ellps="WGS84").fwd(10.04, 45.0, azimuth, 1.2 * km * 1000 + 3200)
            assert not ring.contains(shapely.Point(lon, lat))


def test_queries_read_by_the_servers_grammar() -> None:
    """Balanced brackets and quotes, each statement closed: Overpass QL."""
    is_in = r"is_in\(-?\d+\.?\d*,-?\d+\.?\d*\)->\.s\d+;"
    before = rf"(?:(?:{is_in})+\((?:\.s\d+;)+\)->\.a;)?"
    for query in (near_query("1 2 3 4 5 6"), far_query("1 2 3 4 5 6"),
                  areas_query(["1.5,-2", "3,4"])):  # fmt: skip
        plain = re.sub(r'"[^"]*"', '""', query)
        for left, right in ("()", "[]"):
            assert plain.count(left) == plain.count(right)
        body = re.fullmatch(rf"\[out:xml\]\[timeout:\d+\](?:\[maxsize:\d+\])?;{before}\((.+)\);"
                            r"\(\._;>;\);out meta;", plain)  # fmt: skip
        assert body
        statement = r'(?:way|nwr|rel)\[""~""\]\((?:poly:""|pivot\.a)\);'
        assert re.fullmatch(f"(?:{statement})+", body[1])


def test_a_long_route_is_asked_for_in_pieces(
    target: Target, base: str, clock: Clock, script: Script
) -> None:
    server = Server(url=base, patience=clock.patience())
    lon, lat = np.linspace(10, 13, 50), np.full(50, 45.0)  # 236 km
    fetch_around(target, lon, lat, corridor=Corridor(piece_km=100), server=server)
    near = [q for q in script.queries if "track" in q]
    assert len(near) == 3
    whole = shapely.union_all([ring_of(q) for q in near])
    assert whole.contains(shapely.LineString(np.column_stack((lon, lat))))


def test_a_route_across_the_antimeridian(
    target: Target, base: str, clock: Clock, script: Script
) -> None:
    server = Server(url=base, patience=clock.patience())
    fetch_around(target, np.array([179.9, 180.1]), np.array([-17.0, -17.0]), server=server)
    rings = [ring_of(q) for q in script.queries if "track" in q]
    assert len(rings) == 2
    assert all(-180 <= x <= 180 for ring in rings for x, _ in ring.exterior.coords)
    assert any(ring.contains(shapely.Point(179.95, -17)) for ring in rings)
    assert any(ring.contains(shapely.Point(-179.95, -17)) for ring in rings)
    spots = re.findall(r"is_in\([^,]+,([-.\d]+)\)", script.queries[-1])
    assert {float(lon) > 0 for lon in spots} == {True, False}
    assert all(-180 <= float(lon) <= 180 for lon in spots)


def test_an_area_that_holds_the_whole_corridor_is_found(
    target: Target, base: str, clock: Clock, script: Script
) -> None:
    """Its border lies beyond the ring that is asked for, so only what lies round the route tells
    of it: Overpass API language reference, is_in and pivot."""
    osm = OsmXml()
    corners = [osm.node(i, x, y) for i, (x, y) in enumerate(
        ((8.0, 44.0), (12.0, 44.0), (12.0, 46.0), (8.0, 46.0)), start=900)]  # fmt: skip
    osm.way(90, [*corners, corners[0]], {"landuse": "military", "name": "Range"})
    script.around_all = osm.text().encode()
    around(target, base, clock)
    areas = opened(target).areas
    assert areas is not None
    assert areas.name == ("Range",)
    (asked,) = (query for query in script.queries if "is_in" in query)
    spots = re.findall(r"is_in\(([-.\d]+),([-.\d]+)\)", asked)
    assert {(float(lat), float(lon)) for lat, lon in spots} == {(45.0, 10.0), (45.0, 10.04)}
    for word in ("military", "training_area", "protected_area", "nature_reserve"):
        assert word in asked


def test_a_server_that_cannot_tell_what_lies_round_a_place(
    target: Target, base: str, clock: Clock, script: Script
) -> None:
    """Not every server keeps areas: the region is built, and says what may be missing."""
    script.actions = ["", "", "timeout"]
    around(target, base, clock)
    assert any("may be missing" in note for note in opened(target).info.notes)


@pytest.mark.parametrize("action", ["429", "504", "cut", "half"])
def test_a_busy_map_server_is_asked_again(
    target: Target, base: str, clock: Clock, script: Script, action: str
) -> None:
    script.actions = [action]
    around(target, base, clock)
    assert len(script.rings) == 3
    assert clock.waits == [7.0 if action.isdigit() else 1.0]


def test_patience_ends(target: Target, base: str, clock: Clock, script: Script) -> None:
    script.actions = ["429"] * 10
    with pytest.raises(MapDataError, match="did not answer in 4 tries"):
        around(target, base, clock)
    assert len(script.queries) == 4


def test_what_came_before_a_fault_is_not_asked_for_again(
    target: Target, base: str, clock: Clock, script: Script
) -> None:
    script.actions = ["", "400"]
    with pytest.raises(MapDataError, match="refused: 400"):
        around(target, base, clock)
    around(target, base, clock)
    assert len(script.rings) == 3
    assert script.queries[1] == script.queries[2]


def test_an_answer_given_up_half_way_is_not_taken_for_the_whole(
    target: Target, base: str, clock: Clock, script: Script
) -> None:
    """A server that runs out of time says so at the end of a file with status 200."""
    script.actions = ["timeout"]
    server = Server(url=base, patience=clock.patience())
    lon, lat = np.linspace(10, 10.4, 50), np.full(50, 45.0)  # 32 km
    fetch_around(target, lon, lat, server=server)
    assert len([q for q in script.queries if "track" in q]) == 3  # the whole, then two halves
    assert len(opened(target).roads.ways) == 3


def test_a_server_that_always_gives_up(
    target: Target, base: str, clock: Clock, script: Script
) -> None:
    script.actions = ["timeout"] * 10
    with pytest.raises(MapDataError, match=r"gave up .*timed out") as caught:
        around(target, base, clock)
    assert "--km" in caught.value.fix


def test_an_answer_that_is_no_map(target: Target, base: str, clock: Clock, script: Script) -> None:
    script.actions = ["page"]
    with pytest.raises(MapDataError, match="no map data"):
        around(target, base, clock)
    assert not (target.home / "regions").exists()


def test_an_answer_without_end(
    target: Target, base: str, clock: Clock, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(overpass, "_MOST_BYTES", 100)
    with pytest.raises(MapDataError, match="sent more than"):
        around(target, base, clock)
    assert not (target.home / "regions").exists()


def test_osmnx_settings_are_left_as_they_were(target: Target, base: str, clock: Clock) -> None:
    import osmnx

    before = {k: v for k, v in vars(osmnx.settings).items() if not k.startswith("_")}
    getaddrinfo = socket.getaddrinfo
    around(target, base, clock)
    assert {k: v for k, v in vars(osmnx.settings).items() if not k.startswith("_")} == before
    assert socket.getaddrinfo is getaddrinfo


def test_osmnx_address_is_the_default(
    target: Target, base: str, clock: Clock, monkeypatch: pytest.MonkeyPatch, script: Script
) -> None:
    import osmnx

    monkeypatch.setattr(osmnx.settings, "overpass_url", base)
    fetch_around(target, LON, LAT, server=Server(patience=clock.patience()))
    assert len(script.rings) == 2


@pytest.mark.parametrize("km", [0, -1, 51, float("nan")])
def test_a_width_out_of_range(km: float) -> None:
    with pytest.raises(UsageError, match="out of range"):
        Corridor(near_km=km, far_km=60)


# --- as a command


GPX = """<gpx version="1.1" creator="test" xmlns="http://www.topografix.com/GPX/1/1"><trk><trkseg>
<trkpt lat="45.0" lon="10.0"/><trkpt lat="45.0" lon="10.02"/><trkpt lat="45.0" lon="10.04"/>
</trkseg></trk></gpx>"""


def test_the_command(
    tmp_path: Path, base: str, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("TERRAIN_HOME", str(tmp_path / "home"))
    plan = tmp_path / "plan.gpx"
    plan.write_text(GPX)
    args = ["region", "fetch", "trip", "--around", str(plan), "--server", base]
    assert main(args) == 0
    assert "Region trip is ready" in capsys.readouterr().out
    assert main(["region", "fetch", "there", "--url", f"{base}/small.osm"]) == 0
    assert main(["region", "fetch", "gone", "--url", f"{base}/gone.osm"]) == 3
    assert "does not hold this file" in capsys.readouterr().err
    assert main([*args, "--km", "500"]) == 2
