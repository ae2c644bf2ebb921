"""Planned routes from files in any open format: guarded, parsed, checked, and made one line.

read_route -> parse_route: unpack -> format_of -> a reader -> check_points -> choose_parts -> Route
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path, PurePath

import numpy as np

from terrain.errors import RouteError
from terrain.inputs.lines.checks import check_points
from terrain.inputs.lines.container import Document, unpack
from terrain.inputs.lines.gpx import LIMITS, GpxLimits, gpx_lines
from terrain.inputs.lines.held import Held, merged
from terrain.inputs.lines.kinds import Format, format_of, holds_route, is_link, link_error, utf8_of
from terrain.inputs.lines.lines import Lines, Part
from terrain.inputs.lines.rule import LineRule, days_of, separate
from terrain.inputs.lines.trip import Ridden, choose_parts, piece_numbers
from terrain.inputs.reading import read_most
from terrain.text.message import message
from terrain.values.arrays import FloatArray
from terrain.values.route import Problem, Route, RouteKind

__all__ = [
    "LIMITS",
    "SUFFIXES",
    "Format",
    "GpxLimits",
    "LineRule",
    "parse_route",
    "parse_routes",
    "read_route",
    "read_routes",
]

#: Ends of the names of route files, for folders that are searched; the content decides.
SUFFIXES = (
    ".gpx", ".gpx.gz", ".kml", ".kml.gz", ".kmz", ".geojson", ".geojsonl", ".geojsons",
    ".geojson.gz", ".gpkg", ".csv", ".polyline", ".polyline5", ".polyline6", ".zip",
)  # fmt: skip


def read_route(
    path: str | Path, limits: GpxLimits = LIMITS, *, lines: LineRule = LineRule.AUTO
) -> Route:
    """The planned route in a file: GPX, KML, KMZ, GeoJSON, GeoPackage, CSV, encoded polyline.

    Gzipped, or in a .zip of one or more, as well. lines : how several lines are taken
    Raises RouteError if the file cannot be read or used.
    """
    return parse_route(*_content(path, limits), limits, lines=lines)


def read_routes(
    path: str | Path, limits: GpxLimits = LIMITS, *, lines: LineRule = LineRule.AUTO
) -> tuple[Route, ...]:
    """The planned routes in a file: one, or with `LineRule.ALTERNATIVES` one for each line."""
    return parse_routes(*_content(path, limits), limits, lines=lines)


def _content(path: str | Path, limits: GpxLimits) -> tuple[bytes, str]:
    if is_link(str(path)):
        raise link_error(str(path))
    path = Path(path)
    return read_most(path, limits.max_bytes, RouteError), path.name


def parse_route(
    data: bytes, source: str, limits: GpxLimits = LIMITS, *, lines: LineRule = LineRule.AUTO
) -> Route:
    """The planned route in the bytes of a file; with alternatives, the first.

    source : the file's name as shown to people
    Returns: the line in riding order, with all that was odd listed in `problems`.
    Raises RouteError with place, reason and fix for what cannot be put right.
    """
    return parse_routes(data, source, limits, lines=lines)[0]


def parse_routes(
    data: bytes, source: str, limits: GpxLimits = LIMITS, *, lines: LineRule = LineRule.AUTO
) -> tuple[Route, ...]:
    """The planned routes in the bytes of a file, see `read_routes`."""
    documents = unpack(data, source, limits, holds_route)
    held = merged([(PurePath(doc.name).stem, _checked(doc, source, limits)) for doc in documents])
    if sum(len(part) for part in held.lines.parts) > limits.max_points:
        raise RouteError(
            message("the file holds more than {n} points", n=f"{limits.max_points:,}"),
            source,
            message("Export the planned route with fewer points."),
        )
    if lines is LineRule.ALTERNATIVES:
        rides: Sequence[Ridden] = separate(held.lines, source)
    elif lines is LineRule.DAYS:
        rides = [days_of(held.lines, source)]
    else:
        rides = [choose_parts(held.lines, source)]
    several = len(rides) > 1
    return tuple(_route(held, ride, source, own_name=several) for ride in rides)


def _checked(document: Document, source: str, limits: GpxLimits) -> Held:
    """The lines of one document, with valid points only."""
    shown = f"{source}: {document.name}" if document.name else source
    held = _read(document.data, shown, document.name or source, limits)
    lines, found = check_points(held.lines, shown)
    return replace(held, lines=lines, problems=(*held.problems, *found))


def _read(data: bytes, source: str, name: str, limits: GpxLimits) -> Held:
    kind = format_of(data, source, name)
    if kind is Format.GPX:
        return Held.of(*gpx_lines(data, source, limits))
    if kind is Format.KML:
        from terrain.inputs.lines.kml import read_kml

        return read_kml(data, source, limits)
    if kind is Format.GEOPACKAGE:
        from terrain.inputs.lines.geopackage import read_geopackage

        return read_geopackage(data, source, limits)
    if kind is Format.CSV:
        from terrain.inputs.lines.table import read_table

        return read_table(utf8_of(data), source, limits)
    if kind is Format.POLYLINE:
        from terrain.inputs.lines.polyline import read_polyline

        return read_polyline(utf8_of(data), source, limits, name)
    from terrain.inputs.lines.geojson import read_geojson

    plain = data[:1] in (b"{", b"[", b"\x1e")
    return read_geojson(data if plain else utf8_of(data).lstrip(b" \t\r\n"), source, limits)


def _route(held: Held, ridden: Ridden, source: str, *, own_name: bool) -> Route:
    parts = ridden.parts
    problems = (*held.problems, *ridden.problems)
    lon = _joined([p.lon for p in parts])
    unwrapped = lon
    if np.ptp(lon) > 180.0 and (np.abs(np.diff(lon)) > 180.0).any():
        unwrapped = np.unwrap(lon, period=360.0)
        problems = (*problems, _ANTIMERIDIAN)
    piece = np.repeat(piece_numbers(parts), [len(p) for p in parts])
    kind = RouteKind.TRACK if held.kinds == {"trk"} else RouteKind.ROUTE
    return Route(
        name=_name(held.lines, parts, source, own_name=own_name),
        kind=RouteKind.MIXED if len(held.kinds) > 1 else kind,
        lon=unwrapped,
        lat=_joined([p.lat for p in parts]),
        ele_m=_joined([p.ele_m for p in parts]),
        piece=piece.astype(np.int32),
        shaping=np.concatenate([p.shaping for p in parts]),
        planned=np.repeat([p.kind == "rte" for p in parts], [len(p) for p in parts]),
        waypoints=held.lines.waypoints,
        problems=problems,
        source=source,
        day_starts=tuple(sum(len(p) for p in parts[:k]) for k in ridden.day_starts),
    )


def _joined(arrays: list[FloatArray]) -> FloatArray:
    """One line of several; the very array if it is alone."""
    return np.concatenate(arrays) if len(arrays) > 1 else np.ascontiguousarray(arrays[0])


def _name(lines: Lines, parts: tuple[Part, ...], source: str, *, own_name: bool) -> str:
    """The file's name for its route, or its only named line's; of alternatives, their own."""
    names = tuple(dict.fromkeys(p.name for p in parts if p.name))
    if own_name:
        return names[0] if names else str(parts[0].label)
    return lines.name or (names[0] if len(names) == 1 else PurePath(source).stem)


_ANTIMERIDIAN = Problem(
    code="antimeridian",
    what=message("the line crosses 180 degrees of longitude"),
    action=message("kept in one piece; longitudes run on past 180"),
)
