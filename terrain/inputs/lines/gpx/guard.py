"""The first pass: refuse what is dangerous or not GPX, and gather only what a route needs.

Runs on bare expat, in one pass and bounded memory. It knows the line of every point, which the
GPX library does not, and hands it checked points only, without namespaces, times, comments and
extensions, so that nothing unusual reaches it.
"""

from __future__ import annotations

import itertools
import re

from terrain.errors import RouteError
from terrain.inputs.lines.gpx.outline import Gatherer, Outline
from terrain.inputs.lines.limits import GpxLimits
from terrain.inputs.lines.lines import LATITUDE, LONGITUDE
from terrain.inputs.lines.text import GpxText
from terrain.inputs.lines.xmlpass import RefusedError, XmlPass, line_at, run
from terrain.text.message import Message, message

_POINT_TAG = re.compile(rb"<(?:[\w.-]{1,40}:)?(?:trkpt|rtept|wpt|rpt)[\s/>]")
_POINTS = frozenset(("trkpt", "rtept", "wpt"))
_IN_TRACK = ["gpx", "trk"]
_TEXTS = frozenset(("name", "ele", "sym", "time"))
_POINT_TEXTS = frozenset(("ele", "time"))
_NAMED = frozenset(("metadata", "gpx", "trk", "rte", "wpt"))


def guard(text: GpxText, source: str, limits: GpxLimits) -> Outline:
    """Check the document and reduce it to what a route needs.

    Raises RouteError with the line for: not XML or not GPX, a document type declaration,
    nesting, count or length over a limit, a coordinate missing or not a number.
    """
    _count_points(text, source, limits)
    outline, ampersands = run(text, source, lambda data: _Pass(text, source, limits).run(data))
    for line in ampersands:
        outline.note_odd("ampersand", line)
    return outline


def _too_many_points(limits: GpxLimits) -> tuple[Message, Message]:
    return (
        message("the file holds more than {n} points", n=f"{limits.max_points:,}"),
        message("Export the planned route with fewer points."),
    )


def _count_points(text: GpxText, source: str, limits: GpxLimits) -> None:
    """Refuse far too many points at once, without reading them first."""
    names = (b"trkpt", b"rtept", b"wpt", b"rpt")
    if sum(text.data.count(name) for name in names) <= limits.max_points:
        return
    beyond = next(itertools.islice(_POINT_TAG.finditer(text.data), limits.max_points, None), None)
    if beyond is not None:
        what, fix = _too_many_points(limits)
        raise RouteError(
            what,
            message(
                "{file}, line {line}", file=str(source), line=str(line_at(text, beyond.start()))
            ),
            fix,
        )


class _Pass(XmlPass):
    """One run of expat over the document; holds the state between its callbacks."""

    root = "gpx"

    def __init__(self, text: GpxText, source: str, limits: GpxLimits) -> None:
        super().__init__(text, source, limits)
        self.gather = Gatherer()
        self.n_points = self.n_parts = 0
        self.in_point, self.point_depth = "", 0  # the point element we are inside, if any
        self.at: tuple[str, str, int] = ("", "", 0)  # its latitude, longitude and line
        self.fields: dict[str, str] = {}
        self.inner: list[tuple[str, str, int]] = []  # points inside a route point's extension

    def run(self, data: bytes) -> Outline:
        """Parse all of it. Raises RouteError, or ExpatError if it is not well-formed."""
        self.parse(data)
        return self.gather.finish()

    # -- callbacks ---------------------------------------------------------------------------

    def open(self, name: str, parent: str, attrs: dict[str, str]) -> None:
        stack = self.stack
        if name in _POINTS:
            self._start_point(name, parent, attrs)
        elif name in _TEXTS:
            if (parent in _POINTS) if name in _POINT_TEXTS else (parent in _NAMED):
                self.collect = []
        elif self.in_point == "rtept":
            if name == "rpt":
                self.inner.append((*self._coordinates(attrs), self.line()))
            elif name == "ShapingPoint":
                self.fields["type"] = "shaping"
        elif name == "trkseg":
            if parent == "trk" and len(stack) == 3:
                self._count_part()
                self.gather.open_part("trk")
        elif name in ("trk", "rte") and parent == "gpx" and len(stack) == 2:
            self._count_part()
            self.gather.open_group(name)

    def _start_point(self, name: str, parent: str, attrs: dict[str, str]) -> None:
        depth = len(self.stack)
        if name == "trkpt" and depth == (4 if parent == "trkseg" else 3) and parent[:3] == "trk":
            if parent == "trk":
                self.gather.outline.note_odd("no-segment", self.line())
            if not self.gather.part_is_open:
                self.gather.open_part("trk")
        elif not (depth == 3 and parent == "rte" and name == "rtept") and not (
            depth == 2 and name == "wpt"
        ):
            return  # a point inside an extension, or where GPX has no place for one
        self.in_point, self.point_depth = name, depth
        self.at = (*self._coordinates(attrs), self.line())
        self.fields = {}

    def close(self, name: str) -> None:
        stack = self.stack
        if self.collect is not None and name in _TEXTS:
            self._end_text(name, "".join(self.collect).strip(), stack[-1])
            self.collect = None
        elif name == self.in_point and len(stack) + 1 == self.point_depth:
            self._end_point(name)
        elif (name == "trkseg" and stack == _IN_TRACK) or (
            name in ("trk", "rte") and len(stack) == 1
        ):
            self.gather.close_part()

    # -- what the callbacks share ------------------------------------------------------------

    def _count_part(self) -> None:
        self.n_parts += 1
        if self.n_parts > self.limits.max_parts:
            raise RefusedError(
                message(
                    "the file holds more than {n} tracks and segments",
                    n=f"{self.limits.max_parts:,}",
                ),
                message("Keep only the planned route and export it again."),
            )

    def _coordinates(self, attrs: dict[str, str]) -> tuple[str, str]:
        """The point's lat and lon as numbers in text; counts the point."""
        self.n_points += 1
        if self.n_points > self.limits.max_points:
            raise RefusedError(*_too_many_points(self.limits))
        return self._degrees(attrs, "lat", LATITUDE), self._degrees(attrs, "lon", LONGITUDE)

    def _degrees(self, attrs: dict[str, str], key: str, word: Message) -> str:
        value = attrs.get(key)
        if value is None:
            raise RefusedError(
                message("a point has no {word}", word=word),
                message("Correct the point or export the route again."),
            )
        if _is_number(value):
            return value.strip()
        dotted = value.replace(",", ".", 1)
        if _is_number(dotted):
            self.gather.outline.note_odd("decimal-comma", self.line())
            return dotted.strip()
        raise RefusedError(
            message("{word} {value} is not a number", word=word, value=repr(value[:30])),
            message("Correct the point or export the route again."),
        )

    def _end_text(self, name: str, text: str, parent: str) -> None:
        outline = self.gather.outline
        if name == "ele":
            if _is_number(text):
                self.fields["ele"] = text
            elif text:
                outline.note_odd("height-not-a-number", self.line())
        elif name == "time":
            if self.in_point == "trkpt" and text:
                outline.times.note(text[:40])
                self.fields["time"] = text[:40]
        elif text:
            short = " ".join(text.split())[: self.limits.max_name]
            if self.in_point:
                self.fields[name] = short
            elif parent in ("trk", "rte"):
                self.gather.name_group(parent, short)
            else:
                # In GPX 1.0 the file's name stands in the root, in 1.1 in its metadata.
                outline.name = outline.name or short

    def _end_point(self, name: str) -> None:
        lat, lon, line = self.at
        if name == "wpt":
            self.gather.add_place(lat, lon, self.fields, line)
        else:
            self.gather.add_point(lat, lon, self.fields, line)
            for lat, lon, line in self.inner:
                # Ridden points between two stops: points of the route themselves.
                self.gather.add_point(lat, lon, {"type": "shaping"}, line)
        self.in_point, self.inner = "", []

    def junk_after(self, rest: bytes) -> None:
        if b"<gpx" in rest:
            raise RouteError(
                message("a second GPX document follows the first"),
                message("{file}, line {line}", file=str(self.source), line=str(self.line())),
                message("Send one route at a time."),
            )
        self.gather.outline.note_odd("text-after-end", self.line())


def _is_number(text: str) -> bool:
    """True for what XML calls a decimal; 'nan' and 'inf' too, so that the checks can name them."""
    if "_" in text:
        return False
    try:
        float(text)
    except ValueError:
        return False
    return True
