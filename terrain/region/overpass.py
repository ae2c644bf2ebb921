"""Map data along a route from an Overpass server, as OSM XML files.

The server's address, time limit and size limit are osmnx's settings, which are read and never
changed. The transfer is ours: osmnx's own asks for data without edit dates, waits on a busy
server without end and without heeding Retry-After, and alters name look-up for the process.
Source: Overpass API language reference and its "commons" page (status codes, remarks).
"""

from __future__ import annotations

import hashlib
import http.client
import re
import urllib.error
import urllib.parse
import urllib.request
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import numpy as np

from terrain.errors import MapDataError, UsageError
from terrain.region.disk import file_errors
from terrain.region.download import Patience
from terrain.region.place_tags import AREA_TAGS, READ_TAGS
from terrain.region.tags import PATH_CLASSES, ROAD_CLASSES
from terrain.text.message import message
from terrain.values.arrays import FloatArray

Progress = Callable[[str, float | None], None]

_MAIN_ROADS = tuple(c for c in ROAD_CLASSES if c.split("_")[0] in
                    ("motorway", "trunk", "primary", "secondary"))  # fmt: skip
_FAR_HELP = {
    "amenity": ("fuel", "hospital", "clinic"),
    "shop": ("motorcycle_repair", "motorcycle", "car_repair"),
    "place": ("city", "town"),
}
_AGENT = "terrain (route planning; reads open map data)"
_CHUNK = 1 << 18
_MOST_BYTES = 2_000_000_000  # a piece of a corridor is some tens of megabytes
_TAIL = 4096
_BUSY = frozenset({408, 425, 429, 502, 503, 504})
_SHORTEST_PIECE_M = 5_000.0
_AREAS_EVERY_M = 5_000.0
_NO_AREAS = message(
    "Military or protected areas that hold the whole route may be missing: the map server could "
    "not tell of them."
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Corridor:
    """How much of the map to ask for.

    near_km : every road and place within this of the line
    far_km : main roads and the help worth a long ride within this
    piece_km : length of line per request
    """

    near_km: float = 10.0
    far_km: float = 30.0
    piece_km: float = 120.0

    def __post_init__(self) -> None:
        if not 0 < self.near_km <= 50 or not self.near_km <= self.far_km <= 100:
            raise UsageError(
                message("a corridor of {near_km} km is out of range", near_km=f"{self.near_km:g}"),
                "--km",
                message("Give a width between 1 and 50 km."),
            )


@dataclass(frozen=True, slots=True, kw_only=True)
class Server:
    """An Overpass server and how long to bear with it.

    url : without "/interpreter"; None takes osmnx's setting
    """

    url: str | None = None
    patience: Patience = field(
        default_factory=lambda: Patience(
            tries=6, timeout_s=300.0, first_wait_s=15.0, most_wait_s=120.0
        )
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class CorridorMap:
    """What came of the map along a line: its files, and what a user should know of them."""

    paths: tuple[Path, ...]
    notes: tuple[str, ...] = ()


class _TooMuchError(Exception):
    """The server gave up on the request; a smaller one may do."""


def fetch_corridor(
    lon: FloatArray,
    lat: FloatArray,
    folder: Path,
    *,
    corridor: Corridor,
    server: Server,
    progress: Progress,
) -> CorridorMap:
    """Fetch the map along a line, piece by piece, as .osm files in `folder`.

    lon, lat [deg], shape (n,), n >= 2. Pieces that an earlier call brought are not asked for
    again. Raises MapDataError if the server cannot be reached, refuses or sends something else.
    """
    with file_errors(folder):
        folder.mkdir(parents=True, exist_ok=True)
    pieces = _pieces(lon, lat, corridor.piece_km * 1000.0)
    todo, total = list(pieces), len(pieces)
    done: list[Path] = []
    while todo:
        piece = todo.pop(0)
        progress("Asking the map server", (total - len(todo) - 1) / total)
        try:
            done += _fetch_piece(piece, folder, corridor, server)
        except _TooMuchError as exc:
            halves = _pieces(piece[0], piece[1], max(_length_m(*piece) / 2, _SHORTEST_PIECE_M))
            if len(halves) < 2:
                raise MapDataError(
                    message("the map server gave up ({reason})", reason=str(exc)),
                    _address(server),
                    message("Try again later, or give a smaller width with --km."),
                ) from exc
            todo = [*halves, *todo]
            total += len(halves) - 1
    progress("Asking for the areas that hold the route", None)
    for piece in pieces:
        try:
            done.append(_kept(areas_query(_spots(*piece)), folder, server))
        except _TooMuchError:
            return CorridorMap(paths=tuple(done), notes=(_NO_AREAS,))
    return CorridorMap(paths=tuple(done))


def _fetch_piece(
    piece: tuple[FloatArray, FloatArray], folder: Path, corridor: Corridor, server: Server
) -> list[Path]:
    out = []
    for make, reach_km in ((near_query, corridor.near_km), (far_query, corridor.far_km)):
        for ring in _rings(*piece, reach_km * 1000.0):
            out.append(_kept(make(ring), folder, server))
    return out


def _kept(query: str, folder: Path, server: Server) -> Path:
    """The file that holds the answer, asked for unless an earlier call brought it."""
    path = folder / f"{hashlib.sha256(query.encode()).hexdigest()[:24]}.osm"
    if not path.exists():
        _ask(query, path, server)
    return path


def near_query(ring: str) -> str:
    """Everything a region is built from within a ring of "lat lon lat lon ..."."""
    by_key = _by_key(READ_TAGS)
    ways = [*ROAD_CLASSES, *PATH_CLASSES, "construction"]
    by_key.pop("highway")
    by_key.pop("route")
    parts = [_part("way", "highway", ways, ring), _part("way", "route", ["ferry"], ring)]
    parts += [_part("nwr", key, values, ring) for key, values in by_key.items()]
    return _query(parts)


def far_query(ring: str) -> str:
    """Main roads, ferries, and the help worth a long ride."""
    parts = [_part("way", "highway", _MAIN_ROADS, ring), _part("way", "route", ["ferry"], ring)]
    parts += [_part("nwr", key, values, ring) for key, values in _FAR_HELP.items()]
    return _query(parts)


def areas_query(spots: list[str]) -> str:
    """Areas that limit a ride round any of the spots "lat,lon", whole.

    A ring finds only what has a part in it, so not an area whose border lies all outside.
    Source: Overpass API language reference, is_in and pivot. A server keeps most such areas, those
    without a name perhaps not (from memory).
    """
    round_each = "".join(f"is_in({spot})->.s{k};" for k, spot in enumerate(spots))
    all_of_them = "".join(f".s{k};" for k in range(len(spots)))
    parts = [
        f"{kind}{_tagged(key, values)}(pivot.a);"
        for key, values in _by_key(AREA_TAGS).items()
        for kind in ("way", "rel")
    ]
    return _query(parts, before=f"{round_each}({all_of_them})->.a;")


def _by_key(tags: tuple[tuple[str, str], ...]) -> dict[str, list[str]]:
    by_key: dict[str, list[str]] = {}
    for key, value in tags:
        by_key.setdefault(key, []).append(value)
    return by_key


def _tagged(key: str, values: Any) -> str:
    words = "|".join(re.escape(value) for value in values)
    return f'["{key}"~"^({words})$"]'


def _part(kind: str, key: str, values: Any, ring: str) -> str:
    return f'{kind}{_tagged(key, values)}(poly:"{ring}");'


def _query(parts: list[str], before: str = "") -> str:
    import osmnx

    limit_s = int(osmnx.settings.requests_timeout)
    memory = osmnx.settings.overpass_memory
    size = "" if memory is None else f"[maxsize:{memory}]"
    # `out meta` carries version and time stamp; `>` adds the nodes of the ways.
    return f"[out:xml][timeout:{limit_s}]{size};{before}({''.join(parts)});(._;>;);out meta;"


def _address(server: Server) -> str:
    if server.url is not None:
        return server.url.rstrip("/") + "/interpreter"
    import osmnx

    return str(osmnx.settings.overpass_url).rstrip("/") + "/interpreter"


def _ask(query: str, path: Path, server: Server) -> None:
    """Send one query, again if the server is busy; the file appears only when whole."""
    url, patience = _address(server), server.patience
    if urllib.parse.urlsplit(url).scheme not in ("http", "https"):
        raise UsageError(
            message("this is no web address"), url, message("It should begin with https://.")
        )
    part = path.with_suffix(".part")
    for attempt in range(1, patience.tries + 1):
        try:
            _transfer(url, query, part, patience.timeout_s)
            _check_answer(part, url)
            break
        except _BusyError as trouble:
            if attempt == patience.tries:
                raise MapDataError(
                    message(
                        "the map server did not answer in {attempt} tries ({trouble})",
                        attempt=str(attempt),
                        trouble=str(trouble),
                    ),
                    url,
                    message("Check the network, or try again later; what has come is kept."),
                ) from trouble
            wait_s = patience.first_wait_s * 2 ** (attempt - 1)
            patience.sleep(min(max(wait_s, trouble.wait_s), patience.most_wait_s))
    with file_errors(path):
        part.replace(path)


class _BusyError(Exception):
    """Worth another try, after at least wait_s."""

    def __init__(self, why: str, wait_s: float = 0.0) -> None:
        super().__init__(why)
        self.wait_s = wait_s


def _transfer(url: str, query: str, part: Path, timeout_s: float) -> None:
    body = urllib.parse.urlencode({"data": query}).encode()
    request = urllib.request.Request(url, data=body, headers={"User-Agent": _AGENT})
    try:
        answer = urllib.request.urlopen(request, timeout=timeout_s)
    except urllib.error.HTTPError as exc:
        with exc:
            raise _refusal(exc, url) from exc
    except (urllib.error.URLError, http.client.HTTPException, TimeoutError, OSError) as exc:
        raise _BusyError(str(getattr(exc, "reason", None) or exc) or type(exc).__name__) from exc
    size = 0
    with answer, file_errors(part), part.open("wb") as file:
        while chunk := _read(answer):
            size += len(chunk)
            if size > _MOST_BYTES:
                raise MapDataError(
                    message(
                        "the map server sent more than {value} MB", value=f"{_MOST_BYTES / 1e6:.0f}"
                    ),
                    url,
                    message("Check its address, or give a smaller width with --km."),
                )  # fmt: skip
            file.write(chunk)


def _read(answer: Any) -> bytes:
    try:
        return bytes(answer.read(_CHUNK))
    except (http.client.HTTPException, OSError) as exc:
        raise _BusyError(message("the connection broke off")) from exc


def _refusal(answer: urllib.error.HTTPError, url: str) -> Exception:
    if answer.code in _BUSY:
        wait = answer.headers.get("Retry-After", "")
        return _BusyError(
            message("it answered {code}", code=str(answer.code)),
            float(wait) if wait.isdigit() else 0.0,
        )
    return MapDataError(
        message(
            "the map server refused: {code} {reason}",
            code=str(answer.code),
            reason=str(answer.reason),
        ),
        url,
        message("Check its address."),
    )


def _check_answer(part: Path, url: str) -> None:
    """The server says at the end of a file with status 200 that it gave up half way."""
    with file_errors(part), part.open("rb") as file:
        head = file.read(_TAIL)
        file.seek(max(part.stat().st_size - _TAIL, 0))
        tail = file.read().rstrip()
    remark = re.search(rb"<remark>(.*?)</remark>", tail, re.S)
    if remark and b"error" in remark[1]:
        part.unlink()
        text = " ".join(remark[1].decode("utf-8", "replace").split())
        raise _TooMuchError(text.removeprefix("runtime error: "))
    if b"<osm" in head and not tail.endswith(b"</osm>"):
        raise _BusyError(message("the answer broke off"))
    if b"<osm" not in head:
        part.unlink()
        raise MapDataError(
            message("the map server sent something that is no map data"),
            url,
            message("Check its address, or try again later."),
        )


def _length_m(lon: FloatArray, lat: FloatArray) -> float:
    from pyproj import Geod

    return float(Geod(ellps="WGS84").line_length(lon, lat))


def _pieces(lon: FloatArray, lat: FloatArray, most_m: float) -> list[tuple[FloatArray, FloatArray]]:
    """The line in pieces of about equal length, none longer than `most_m`; ends are shared."""
    from pyproj import Geod

    at = np.r_[0.0, np.cumsum(Geod(ellps="WGS84").line_lengths(lon, lat))]
    n = max(int(np.ceil(at[-1] / most_m - 1e-9)), 1)
    cuts = at[-1] * np.arange(n + 1) / n
    cut_lon, cut_lat = np.interp(cuts, at, lon), np.interp(cuts, at, lat)
    out = []
    for k in range(n):
        inside = (at > cuts[k]) & (at < cuts[k + 1])
        out.append(
            (
                np.r_[cut_lon[k], lon[inside], cut_lon[k + 1]],
                np.r_[cut_lat[k], lat[inside], cut_lat[k + 1]],
            )
        )
    return out


def _spots(lon: FloatArray, lat: FloatArray) -> list[str]:
    """Places along a line as "lat,lon", its ends among them, within -180..180."""
    parts = _pieces(lon, lat, _AREAS_EVERY_M)
    ends = [(x[0], y[0]) for x, y in parts] + [(parts[-1][0][-1], parts[-1][1][-1])]
    return [f"{y:.5f},{(x + 180.0) % 360.0 - 180.0:.5f}" for x, y in ends]


def _rings(lon: FloatArray, lat: FloatArray, reach_m: float) -> list[str]:
    """Rings of the corridor round a line, as "lat lon lat lon ...", within -180..180."""
    import shapely
    from osmnx.projection import project_geometry
    from shapely.affinity import translate

    turn = 360.0 * round(float(np.mean(lon)) / 360.0)
    line = shapely.LineString(np.column_stack((lon - turn, lat)))
    flat: Any
    flat, crs = project_geometry(line)
    # A corner more or less does not matter; a short request does.
    wide = flat.simplify(reach_m / 20).buffer(reach_m * 1.05, quad_segs=3)
    area: Any = project_geometry(wide.simplify(reach_m / 50), crs=crs, to_latlong=True)[0]
    middle = float(np.mean(lon)) - turn
    # Projected back, what lies beyond the antimeridian has jumped to its other side.
    area = shapely.transform(area, lambda xy: xy + [[360, 0]] * np.rint((middle - xy) / 360))
    rings = []
    for east in (-360.0, 0.0, 360.0):
        part = area.intersection(shapely.box(east - 180, -90, east + 180, 90))
        for polygon in getattr(part, "geoms", [part]):
            if isinstance(polygon, shapely.Polygon) and not polygon.is_empty:
                corners = translate(polygon, -east).exterior.coords
                rings.append(" ".join(f"{y:.5f} {x:.5f}" for x, y in corners))
    return rings
