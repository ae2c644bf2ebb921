"""Lines of KML 2.2 and 2.3: LineString, MultiGeometry, Track and MultiTrack, in any folder.

Source: OGC 12-007r2 (KML 2.3): coordinates are lon,lat[,height]; a Track holds <when> and <coord>
elements. Nothing outside the file is ever read: a network link is listed, and refused if the
file holds no line of its own.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace

import numpy as np

from terrain.errors import RouteError
from terrain.inputs.lines.held import Gathered, Held
from terrain.inputs.lines.limits import GpxLimits
from terrain.inputs.lines.text import GpxText, to_utf8
from terrain.inputs.lines.tuples import Tuples, read_tuples
from terrain.inputs.lines.xmlpass import XmlPass, run
from terrain.text.message import message

_LINK_FIX = message("Open the link where it was made, and export the route itself as KML or GPX.")
_CONTAINERS = frozenset(("Document", "Folder", "kml"))
_SHAPES = frozenset(("LineString", "Point", "LinearRing"))


def read_kml(data: bytes, source: str, limits: GpxLimits) -> Held:
    """The lines of a KML document; a Placemark is one line, its parts are segments.

    Raises RouteError with the line for what is not KML or over a limit.
    """
    # All points of a line stand in one text, so only the file's size bounds a text.
    text = to_utf8(data, source, replace(limits, max_token=limits.max_bytes))
    gathered, ampersands = run(text, source, lambda body: _Pass(text, source, limits).read(body))
    for line in ampersands:
        gathered.note("ampersand", line)
    if "network-link" in gathered.odd and not gathered.n_groups:
        raise RouteError(
            message("the file holds no line, only a link to a file elsewhere (NetworkLink)"),
            message(
                "{file}, line {line}", file=str(source), line=str(gathered.odd["network-link"][0])
            ),
            _LINK_FIX,
        )
    held = gathered.held()
    return replace(held, problems=(*text.problems, *held.problems))


@dataclass(slots=True)
class _Placemark:
    """What stands in a <Placemark>, until it ends and its name is known."""

    name: str = ""
    lines: list[Tuples] = field(default_factory=list)
    points: list[Tuples] = field(default_factory=list)


class _Pass(XmlPass):
    root = "kml"

    def __init__(self, text: GpxText, source: str, limits: GpxLimits) -> None:
        super().__init__(text, source, limits)
        self.gathered = Gathered(source, limits)
        self.mark: _Placemark | None = None
        self.first_line = 0  # where the text that is collected begins
        self.track: list[str] | None = None  # the <coord> texts of the Track that is open
        self.track_line = 0

    def read(self, body: bytes) -> Gathered:
        self.parse(body)
        return self.gathered

    def open(self, name: str, parent: str, attrs: dict[str, str]) -> None:
        if name == "Placemark":
            self.mark = _Placemark()
        elif name == "NetworkLink":
            self.gathered.note("network-link", self.line())
        elif name == "Polygon":
            self.gathered.note("area", self.line())
        elif name == "Track":
            self.track, self.track_line = [], self.line()
        elif (
            (name == "coordinates" and parent in _SHAPES)
            or (name in ("coord", "when") and parent == "Track")
            or (name == "name" and (parent == "Placemark" or parent in _CONTAINERS))
        ):
            self.collect, self.first_line = [], self.line()

    def close(self, name: str) -> None:
        if name == "Placemark":
            self._end_placemark()
        elif name == "Track":
            self._end_track()
        elif self.collect is not None and name in ("coordinates", "coord", "when", "name"):
            text = "".join(self.collect)
            self.collect = None
            self._end_text(name, text, self.stack[-1] if self.stack else "")

    def _end_text(self, name: str, text: str, parent: str) -> None:
        if name == "name":
            if parent == "Placemark" and self.mark is not None:
                self.mark.name = text
            elif parent in _CONTAINERS and len(self.stack) <= 2:
                self.gathered.name = self.gathered.name or text
        elif name == "when":
            self.gathered.times.note(text.strip()[:40])
        elif name == "coord":
            if self.track is not None:
                self.gathered.count(1, self.first_line)
                self.track.append(",".join(text.split()))
        elif self.mark is not None:
            found = read_tuples(text, self.first_line)
            if parent == "LineString":
                self.mark.lines.append(found)
            elif parent == "Point":
                self.mark.points.append(found)

    def _end_track(self) -> None:
        coords = [c for c in self.track or () if c]
        self.track = None
        if self.mark is None:
            return
        self.gathered.n_points -= len(coords)  # counted again when the line is kept
        found = read_tuples(" ".join(coords), self.track_line)
        self.mark.lines.append(found)

    def _end_placemark(self) -> None:
        mark, self.mark = self.mark, None
        if mark is None:
            return
        if mark.lines:
            self.gathered.open_group()
        for line in mark.lines:
            self.gathered.add_line(line.lon, line.lat, line.ele_m, line.line, mark.name)
        for point in mark.points:
            for i in range(min(len(point.lon), 1)):
                self._place(point, i, mark.name)

    def _place(self, point: Tuples, i: int, name: str) -> None:
        lon, lat, ele_m = float(point.lon[i]), float(point.lat[i]), float(point.ele_m[i])
        self.gathered.add_place(lon, lat, np.nan if ele_m == 0 else ele_m, int(point.line[i]), name)

    def junk_after(self, rest: bytes) -> None:
        if b"<kml" in rest:
            raise RouteError(
                message("a second document follows the first"),
                message("{file}, line {line}", file=str(self.source), line=str(self.line())),
                message("Send one route at a time."),
            )
        self.gathered.note("text-after-end", self.line())
