"""From the reduced document to parts: one line of points per segment or route.

The only place that knows the GPX library.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Any, NamedTuple

import gpxpy
import gpxpy.gpx
import numpy as np

from terrain.errors import RouteError
from terrain.inputs.gpx.guard import Outline
from terrain.inputs.gpx.look import EXPORT
from terrain.values.arrays import BoolArray, FloatArray, IntArray
from terrain.values.route import Waypoint


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Part:
    """One unbroken line of the file.

    kind : "trk" or "rte"; group : number of its track or route in the file, from 0
    label : as shown to people, such as "track 2, segment 1"
    name : its own name, empty if it has none
    lon, lat [deg], ele_m (NaN if not given), line (in the file), shaping : shape (n,)
    """

    kind: str
    group: int
    label: str
    name: str
    lon: FloatArray
    lat: FloatArray
    ele_m: FloatArray
    line: IntArray
    shaping: BoolArray

    def __len__(self) -> int:
        return len(self.lon)

    def only(self, keep: BoolArray | IntArray) -> Part:
        """The same part with some of its points."""
        return replace(
            self,
            lon=self.lon[keep],
            lat=self.lat[keep],
            ele_m=self.ele_m[keep],
            line=self.line[keep],
            shaping=self.shaping[keep],
        )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Lines:
    """All parts in file order, with the waypoints and the file's own name."""

    name: str
    parts: tuple[Part, ...]
    waypoints: tuple[Waypoint, ...]
    waypoint_lines: tuple[int, ...]


def read_lines(outline: Outline, source: str) -> Lines:
    """Parse the reduced document. Raises RouteError if the GPX library refuses it."""
    try:
        gpx = gpxpy.parse(outline.xml, version="1.1")
    except (gpxpy.gpx.GPXException, ValueError) as exc:
        raise RouteError(f"the file cannot be read as GPX ({exc})", source, EXPORT) from exc
    tracks = _track_parts(gpx, np.asarray(outline.track_lines, dtype=np.int64))
    routes = _route_parts(gpx, np.asarray(outline.route_lines, dtype=np.int64))
    parts = [p for kind in outline.order for p in next(tracks if kind == "trk" else routes)]
    return Lines(
        name=gpx.name or "",
        parts=tuple(parts),
        waypoints=tuple(
            Waypoint(
                name=w.name or "",
                lon=w.longitude,
                lat=w.latitude,
                ele_m=w.elevation,
                symbol=w.symbol or None,
            )
            for w in gpx.waypoints
        ),
        waypoint_lines=tuple(outline.place_lines),
    )


def _track_parts(gpx: Any, lines: IntArray) -> Iterator[list[Part]]:
    """For each track, the list of its segments."""
    start = 0
    for i, track in enumerate(gpx.tracks):
        parts = []
        for j, segment in enumerate(track.segments):
            label = f"track {i + 1}"
            label += f", segment {j + 1}" if len(track.segments) > 1 else ""
            n = len(segment.points)
            blank = _Blank(kind="trk", group=i, label=label, name=track.name or "")
            parts.append(_part(blank, segment.points, lines[start : start + n]))
            start += n
        yield parts


def _route_parts(gpx: Any, lines: IntArray) -> Iterator[list[Part]]:
    """For each route, a list of its one part."""
    start = 0
    for i, route in enumerate(gpx.routes):
        n = len(route.points)
        blank = _Blank(kind="rte", group=i, label=f"route {i + 1}", name=route.name or "")
        yield [_part(blank, route.points, lines[start : start + n])]
        start += n


class _Blank(NamedTuple):
    kind: str
    group: int
    label: str
    name: str


def _part(blank: _Blank, points: list[Any], lines: IntArray) -> Part:
    n = len(points)
    heights = (np.nan if p.elevation is None else p.elevation for p in points)
    return Part(
        kind=blank.kind,
        group=blank.group,
        label=blank.label,
        name=blank.name,
        lon=np.fromiter((p.longitude for p in points), dtype=np.float64, count=n),
        lat=np.fromiter((p.latitude for p in points), dtype=np.float64, count=n),
        ele_m=np.fromiter(heights, dtype=np.float64, count=n),
        line=lines,
        shaping=np.fromiter((p.type == "shaping" for p in points), dtype=np.bool_, count=n),
    )
