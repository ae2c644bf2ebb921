"""Lines of GeoJSON (RFC 7946), whole, a feature a line, or as a text sequence (RFC 8142).

Positions are longitude, latitude and, if given, height, in WGS 84. The JSON itself is read by
orjson: the fastest for 50,000 points, it refuses NaN, and stops at depth.
"""

from __future__ import annotations

from array import array
from collections.abc import Iterator
from itertools import chain
from typing import Any

import numpy as np
import orjson

from terrain.errors import RouteError
from terrain.inputs.lines.held import FEWER, Gathered, Held
from terrain.inputs.lines.limits import GpxLimits, count_of
from terrain.text.message import message
from terrain.values.arrays import FloatArray

_EXPORT = message("Export the planned route again as GeoJSON or GPX.")
_CORRECT = message("Correct the point or export the route again.")
_RECORD = b"\x1e"  # before each text of a sequence
_WGS84 = ("CRS84", "4326", "CRS84H", "4979")
_NAMES = ("name", "title", "Name")
_LINES = ("LineString", "MultiLineString")
_AREAS = ("Polygon", "MultiPolygon")


def read_geojson(data: bytes, source: str, limits: GpxLimits) -> Held:
    """The lines of GeoJSON; a feature is one line, its parts are segments.

    data : UTF-8
    Raises RouteError with the line of the file, or the number of the point, for what is not
    GeoJSON or over a limit.
    """
    _bound(data, source, limits)
    gathered = Gathered(source, limits, unit="point")
    reader = _Reader(gathered)
    for line, text in _texts(data, source):
        reader.read(text, line)
    return gathered.held()


def _bound(data: bytes, source: str, limits: GpxLimits) -> None:
    """Refuse what would take far more memory than a route of the most points."""
    too_many = (
        count_of(b"[", data) > 2 * limits.max_points
        or count_of(b",", data) > 8 * limits.max_points
        or count_of(b"{", data) > limits.max_points
    )
    if too_many:
        raise RouteError(
            message("the file holds more than {n} points", n=f"{limits.max_points:,}"),
            source,
            FEWER,
        )


def _texts(data: bytes, source: str) -> Iterator[tuple[int, Any]]:
    """Each JSON text of the file with the line it begins on; 0 if it is the only one."""
    if not data.startswith(_RECORD):
        try:
            yield 0, orjson.loads(data)
            return
        except orjson.JSONDecodeError as exc:
            if not _by_line(data):
                raise _not_json(exc, data, source) from exc
    for number, line in enumerate(data.split(b"\n"), start=1):
        line = line.strip(b" \t\r" + _RECORD)
        if not line:
            continue
        try:
            yield number, orjson.loads(line)
        except orjson.JSONDecodeError as exc:
            where = message("{file}, line {line}", file=str(source), line=str(number))
            raise RouteError(message("this line is not JSON"), where, _EXPORT) from exc


def _by_line(data: bytes) -> bool:
    """True if the first line is a JSON object of its own, and more follow."""
    first, _, rest = data.partition(b"\n")
    if not rest.strip() or not first.strip().startswith(b"{"):
        return False
    try:
        orjson.loads(first)
    except orjson.JSONDecodeError:
        return False
    return True


def _not_json(exc: orjson.JSONDecodeError, data: bytes, source: str) -> RouteError:
    where = message("{file}, line {line}", file=str(source), line=str(exc.lineno))
    if data.rstrip()[-1:] not in (b"}", b"]") and exc.pos >= len(data.decode(errors="replace")) - 1:
        return RouteError(
            message("the file ends in the middle of the route"),
            where,
            message("Download or export it again; a part of the ride would be missing."),
        )
    return RouteError(message("the file is not well-formed JSON"), where, _EXPORT)


class _Reader:
    """Walks one JSON text after another."""

    def __init__(self, gathered: Gathered) -> None:
        self.to = gathered
        self.n_seen = 0  # positions before the one being read

    def read(self, text: Any, line: int) -> None:
        where = (
            message("{file}, line {line}", file=str(self.to.source), line=str(line))
            if line
            else self.to.source
        )
        if not isinstance(text, dict) or "type" not in text:
            raise RouteError(message("this is a JSON file, but not GeoJSON"), where, _EXPORT)
        self._check_crs(text.get("crs"), where)
        kind = text["type"]
        if kind == "FeatureCollection" and isinstance(text.get("features"), list):
            name = text.get("name")
            self.to.name = self.to.name or (name if isinstance(name, str) else "")
            for feature in text["features"]:
                self._feature(feature)
        elif kind == "Feature":
            self._feature(text)
        elif "coordinates" in text or "geometries" in text:
            self._open(text, "")
        else:
            raise RouteError(message("this is a JSON file, but not GeoJSON"), where, _EXPORT)

    def _check_crs(self, crs: Any, where: str) -> None:
        """Refuse another reference system, which the format's first edition allowed."""
        if crs is None:
            return
        properties = crs.get("properties") if isinstance(crs, dict) else None
        name = properties.get("name") if isinstance(properties, dict) else None
        if not str(name).endswith(_WGS84):
            raise RouteError(
                message("its coordinates are not longitude and latitude in WGS 84"), where,
                message("Export it in WGS 84 (EPSG:4326)."),
            )  # fmt: skip

    def _feature(self, feature: Any) -> None:
        if not isinstance(feature, dict):
            return
        properties = feature.get("properties")
        name = ""
        if isinstance(properties, dict):
            found = (properties.get(key) for key in _NAMES)
            name = next((value for value in found if isinstance(value, str) and value.strip()), "")
        self._open(feature.get("geometry"), name)

    def _open(self, geometry: Any, name: str) -> None:
        if _holds_line(geometry):
            self.to.open_group()
        self._geometry(geometry, name, 1)

    def _geometry(self, geometry: Any, name: str, depth: int) -> None:
        if not isinstance(geometry, dict) or depth > self.to.limits.max_depth:
            return
        kind, coordinates = geometry.get("type"), geometry.get("coordinates")
        if kind == "GeometryCollection":
            members = geometry.get("geometries")
            for member in members if isinstance(members, list) else ():
                self._geometry(member, name, depth + 1)
        elif kind in _AREAS:
            self.to.note("area")
        elif kind == "LineString":
            self._line(coordinates, name)
        elif kind == "MultiLineString":
            for part in coordinates if isinstance(coordinates, list) else ():
                self._line(part, name)
        elif kind in ("Point", "MultiPoint"):
            self._places([coordinates] if kind == "Point" else coordinates, name)

    def _line(self, coordinates: Any, name: str) -> None:
        rows, first = self._positions(coordinates)
        height = rows[:, 2].copy() if rows.shape[1] > 2 else np.full(len(rows), np.nan)
        at = np.arange(first, first + len(rows), dtype=np.int64)
        self.to.add_line(rows[:, 0].copy(), rows[:, 1].copy(), height, at, name)

    def _places(self, coordinates: Any, name: str) -> None:
        rows, first = self._positions(coordinates)
        for i, row in enumerate(rows.tolist()):
            height = row[2] if len(row) > 2 else np.nan
            self.to.add_place(row[0], row[1], height, first + i, name)

    def _positions(self, coordinates: Any) -> tuple[FloatArray, int]:
        """Positions as rows, with the number in the file of the first."""
        first = self.n_seen + 1
        if not isinstance(coordinates, list):
            raise self.to.refuse(message("a line has no list of coordinates"), first, _EXPORT)
        self.n_seen += len(coordinates)
        if not coordinates:
            return np.zeros((0, 2)), first
        if (rows := _plain(coordinates)) is not None:
            return rows, first
        return np.array([self._position(p, first + i) for i, p in enumerate(coordinates)]), first

    def _position(self, position: Any, at: int) -> tuple[float, float, float]:
        if not isinstance(position, list) or len(position) < 2:
            raise self.to.refuse(message("a point has no latitude"), at, _CORRECT)
        lon = self._number(position[0], "longitude", at)
        lat = self._number(position[1], "latitude", at)
        height = position[2] if len(position) > 2 else None
        if not isinstance(height, int | float) or isinstance(height, bool):
            height = np.nan
        return lon, lat, float(height)

    def _number(self, value: Any, word: str, at: int) -> float:
        if not isinstance(value, int | float) or isinstance(value, bool):
            raise self.to.refuse(
                message(
                    "{word} {value} is not a number", word=str(word), value=repr(str(value)[:30])
                ),
                at,
                _CORRECT,
            )
        return float(value)


def _plain(coordinates: list[Any]) -> FloatArray | None:
    """Positions as rows if all are two or all are three numbers; None if they are not."""
    try:
        lengths = set(map(len, coordinates))
        flat = list(chain.from_iterable(coordinates))
        rows = np.array(array("d", flat))  # unlike NumPy an array takes no text for a number
    except TypeError:
        return None
    truth = ((rows == 0) | (rows == 1)).any() and bool in set(map(type, flat))
    return None if truth or lengths not in ({2}, {3}) else rows.reshape(len(coordinates), -1)


def _holds_line(geometry: Any, depth: int = 1) -> bool:
    if not isinstance(geometry, dict) or depth > 8:
        return False
    members = geometry.get("geometries")
    return geometry.get("type") in _LINES or (
        isinstance(members, list) and any(_holds_line(m, depth + 1) for m in members)
    )
