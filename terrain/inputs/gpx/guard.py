"""The first pass: refuse what is dangerous or not GPX, and gather only what a route needs.

Runs on bare expat, in one pass and bounded memory. It knows the line of every point, which the
GPX library does not, and hands it checked points only, without namespaces, times, comments and
extensions, so that nothing unusual reaches it.
"""

from __future__ import annotations

import itertools
import re
from xml.parsers import expat

from terrain.errors import RouteError
from terrain.inputs.gpx.limits import GpxLimits
from terrain.inputs.gpx.look import EXPORT, by_root
from terrain.inputs.gpx.outline import Gatherer, Outline
from terrain.inputs.gpx.text import GpxText


class _RefusedError(Exception):
    def __init__(self, what: str, fix: str) -> None:
        super().__init__(what, fix)
        self.what, self.fix = what, fix


# An ampersand that starts no entity XML knows: people write "Fish & Chips" by hand.
_STRAY_AMPERSAND = re.compile(rb"&(?!(?:amp|lt|gt|apos|quot|#[0-9]{1,7}|#x[0-9A-Fa-f]{1,6});)")
_POINT_TAG = re.compile(rb"<(?:[\w.-]{1,40}:)?(?:trkpt|rtept|wpt|rpt)[\s/>]")
_POINTS = frozenset(("trkpt", "rtept", "wpt"))
_IN_TRACK = ["gpx", "trk"]
_TEXTS = frozenset(("name", "ele", "sym", "time"))
_POINT_TEXTS = frozenset(("ele", "time"))
_NAMED = frozenset(("metadata", "gpx", "trk", "rte", "wpt"))
_TRUNCATED = frozenset((
    expat.errors.codes[expat.errors.XML_ERROR_NO_ELEMENTS],
    expat.errors.codes[expat.errors.XML_ERROR_UNCLOSED_TOKEN],
    expat.errors.codes[expat.errors.XML_ERROR_PARTIAL_CHAR],
    expat.errors.codes[expat.errors.XML_ERROR_UNCLOSED_CDATA_SECTION],
))  # fmt: skip
_REPAIRABLE = frozenset((
    expat.errors.codes[expat.errors.XML_ERROR_INVALID_TOKEN],
    expat.errors.codes[expat.errors.XML_ERROR_UNDEFINED_ENTITY],
))  # fmt: skip
_JUNK_AFTER = expat.errors.codes[expat.errors.XML_ERROR_JUNK_AFTER_DOC_ELEMENT]
_TAG_MISMATCH = expat.errors.codes[expat.errors.XML_ERROR_TAG_MISMATCH]


def guard(text: GpxText, source: str, limits: GpxLimits) -> Outline:
    """Check the document and reduce it to what a route needs.

    Raises RouteError with the line for: not XML or not GPX, a document type declaration,
    nesting, count or length over a limit, a coordinate missing or not a number.
    """
    _count_points(text, source, limits)
    try:
        return _Pass(text, source, limits).run(text.data)
    except expat.ExpatError as exc:
        fixed = _STRAY_AMPERSAND.sub(b"&amp;", text.data) if exc.code in _REPAIRABLE else text.data
        if fixed == text.data:
            raise _syntax_error(exc, text, source) from exc
    try:
        outline = _Pass(text, source, limits).run(fixed)
    except expat.ExpatError as exc:
        raise _syntax_error(exc, text, source) from exc
    for stray in _STRAY_AMPERSAND.finditer(text.data):
        line = text.data.count(b"\n", 0, stray.start()) + 1 + text.line_offset
        outline.note_odd("ampersand", line)
    return outline


def _too_many_points(limits: GpxLimits) -> tuple[str, str]:
    return (
        f"the file holds more than {limits.max_points:,} points",
        "Export the planned route with fewer points.",
    )


def _count_points(text: GpxText, source: str, limits: GpxLimits) -> None:
    """Refuse far too many points at once, without reading them first."""
    names = (b"trkpt", b"rtept", b"wpt", b"rpt")
    if sum(text.data.count(name) for name in names) <= limits.max_points:
        return
    beyond = next(itertools.islice(_POINT_TAG.finditer(text.data), limits.max_points, None), None)
    if beyond is not None:
        line = text.data.count(b"\n", 0, beyond.start()) + 1 + text.line_offset
        what, fix = _too_many_points(limits)
        raise RouteError(what, f"{source}, line {line}", fix)


def _syntax_error(exc: expat.ExpatError, text: GpxText, source: str) -> RouteError:
    where = f"{source}, line {exc.lineno + text.line_offset}"
    if exc.code in _TRUNCATED:
        return RouteError(
            "the file ends in the middle of the route",
            where,
            "Download or export it again; a part of the ride would be missing.",
        )
    if exc.code == _TAG_MISMATCH:
        what = "a closing tag does not belong to the tag that is open"
    else:
        what = f"the file is not well-formed XML ({expat.errors.messages[exc.code]})"
    return RouteError(what, where, EXPORT)


class _Pass:
    """One run of expat over the document; holds the state between its callbacks."""

    def __init__(self, text: GpxText, source: str, limits: GpxLimits) -> None:
        self.source, self.limits, self.line_offset = source, limits, text.line_offset
        self.parser = expat.ParserCreate(encoding="utf-8")
        self.parser.buffer_text = True
        self.parser.SetParamEntityParsing(expat.XML_PARAM_ENTITY_PARSING_NEVER)
        self.parser.StartDoctypeDeclHandler = self._doctype
        self.parser.StartElementHandler = self._start
        self.parser.EndElementHandler = self._end
        self.parser.CharacterDataHandler = self._chars
        self.stack: list[str] = []
        self.gather = Gatherer()
        self.n_points = self.n_parts = 0
        self.in_point, self.point_depth = "", 0  # the point element we are inside, if any
        self.at: tuple[str, str, int] = ("", "", 0)  # its latitude, longitude and line
        self.fields: dict[str, str] = {}
        self.inner: list[tuple[str, str, int]] = []  # points inside a route point's extension
        self.collect: list[str] | None = None  # text of the element being read
        self.root_closed = False

    def run(self, data: bytes) -> Outline:
        """Parse all of it. Raises RouteError, or ExpatError if it is not well-formed."""
        try:
            self.parser.Parse(data, True)
        except _RefusedError as refusal:
            where = f"{self.source}, line {self._line()}"
            raise RouteError(refusal.what, where, refusal.fix) from None
        except expat.ExpatError as exc:
            if not (self.root_closed and exc.code == _JUNK_AFTER):
                raise
            self._junk_after(data)
        return self.gather.finish()

    def _line(self) -> int:
        return self.parser.CurrentLineNumber + self.line_offset

    # -- callbacks ---------------------------------------------------------------------------

    def _doctype(self, name: str, *_: object) -> None:
        if name.lower() == "html":
            raise _RefusedError(*by_root("html"))
        raise _RefusedError(
            "the file declares a document type (DOCTYPE), which GPX never does",
            "It may be harmful. " + EXPORT,
        )

    def _start(self, name: str, attrs: dict[str, str]) -> None:
        if ":" in name:
            name = name.rpartition(":")[2]
        stack = self.stack
        parent = stack[-1] if stack else ""
        stack.append(name)
        if not parent and name != "gpx":
            raise _RefusedError(*by_root(name))
        if name in _POINTS:
            self._start_point(name, parent, attrs)
        elif name in _TEXTS:
            if (parent in _POINTS) if name in _POINT_TEXTS else (parent in _NAMED):
                self.collect = []
        elif self.in_point == "rtept":
            if name == "rpt":
                self.inner.append((*self._coordinates(attrs), self._line()))
            elif name == "ShapingPoint":
                self.fields["type"] = "shaping"
        elif name == "trkseg":
            if parent == "trk" and len(stack) == 3:
                self._count_part()
                self.gather.open_part("trk")
        elif name in ("trk", "rte") and parent == "gpx" and len(stack) == 2:
            self._count_part()
            self.gather.open_group(name)
        if len(stack) > self.limits.max_depth:
            raise _RefusedError(
                f"elements are nested more than {self.limits.max_depth} deep",
                "It may be damaged or harmful. " + EXPORT,
            )

    def _start_point(self, name: str, parent: str, attrs: dict[str, str]) -> None:
        depth = len(self.stack)
        if name == "trkpt" and depth == (4 if parent == "trkseg" else 3) and parent[:3] == "trk":
            if parent == "trk":
                self.gather.outline.note_odd("no-segment", self._line())
            if not self.gather.part_is_open:
                self.gather.open_part("trk")
        elif not (depth == 3 and parent == "rte" and name == "rtept") and not (
            depth == 2 and name == "wpt"
        ):
            return  # a point inside an extension, or where GPX has no place for one
        self.in_point, self.point_depth = name, depth
        self.at = (*self._coordinates(attrs), self._line())
        self.fields = {}

    def _chars(self, data: str) -> None:
        if self.collect is not None:
            self.collect.append(data)

    def _end(self, name: str) -> None:
        if ":" in name:
            name = name.rpartition(":")[2]
        stack = self.stack
        stack.pop()
        if self.collect is not None and name in _TEXTS:
            self._end_text(name, "".join(self.collect).strip(), stack[-1])
            self.collect = None
        elif name == self.in_point and len(stack) + 1 == self.point_depth:
            self._end_point(name)
        elif (name == "trkseg" and stack == _IN_TRACK) or (
            name in ("trk", "rte") and len(stack) == 1
        ):
            self.gather.close_part()
        elif not stack:
            self.root_closed = True

    # -- what the callbacks share ------------------------------------------------------------

    def _count_part(self) -> None:
        self.n_parts += 1
        if self.n_parts > self.limits.max_parts:
            raise _RefusedError(
                f"the file holds more than {self.limits.max_parts:,} tracks and segments",
                "Keep only the planned route and export it again.",
            )

    def _coordinates(self, attrs: dict[str, str]) -> tuple[str, str]:
        """The point's lat and lon as numbers in text; counts the point."""
        self.n_points += 1
        if self.n_points > self.limits.max_points:
            raise _RefusedError(*_too_many_points(self.limits))
        return self._degrees(attrs, "lat", "latitude"), self._degrees(attrs, "lon", "longitude")

    def _degrees(self, attrs: dict[str, str], key: str, word: str) -> str:
        value = attrs.get(key)
        if value is None:
            raise _RefusedError(
                f"a point has no {word}", "Correct the point or export the route again."
            )
        if _is_number(value):
            return value.strip()
        dotted = value.replace(",", ".", 1)
        if _is_number(dotted):
            self.gather.outline.note_odd("decimal-comma", self._line())
            return dotted.strip()
        raise _RefusedError(
            f"{word} {value[:30]!r} is not a number", "Correct the point or export the route again."
        )

    def _end_text(self, name: str, text: str, parent: str) -> None:
        outline = self.gather.outline
        if name == "ele":
            if _is_number(text):
                self.fields["ele"] = text
            elif text:
                outline.note_odd("height-not-a-number", self._line())
        elif name == "time":
            if self.in_point == "trkpt" and text:
                outline.note_time(text[:40])
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

    def _junk_after(self, data: bytes) -> None:
        rest = data[self.parser.CurrentByteIndex :]
        if b"<gpx" in rest:
            raise RouteError(
                "a second GPX document follows the first",
                f"{self.source}, line {self._line()}",
                "Send one route at a time.",
            )
        self.gather.outline.note_odd("text-after-end", self._line())


def _is_number(text: str) -> bool:
    """True for what XML calls a decimal; 'nan' and 'inf' too, so that the checks can name them."""
    if "_" in text:
        return False
    try:
        float(text)
    except ValueError:
        return False
    return True
