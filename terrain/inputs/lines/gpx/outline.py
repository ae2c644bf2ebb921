"""What the guard pass gathers from a document: points as columns of numbers, places as elements."""

from __future__ import annotations

import math
from array import array
from dataclasses import dataclass, field
from datetime import UTC, datetime
from xml.etree.ElementTree import Element, SubElement

from terrain.inputs.lines.times import Times
from terrain.text.catalogue import N_, NN_
from terrain.text.message import message, term
from terrain.values.route import Problem, Waypoint

_BATCH = 10_000  # places that exist as XML elements at a time


def _numbers() -> array[float]:
    return array("d")


@dataclass(slots=True, kw_only=True)
class RawPart:
    """A segment or route as it is read.

    kind : "trk" or "rte"; group, segment : numbers in the file, from 0
    Of each point: lon, lat [deg], ele_m (NaN if not given), shaping (1 or 0), its line in the
    file, and times_s, the time of a track point in seconds since 1970-01-01 UTC, NaN where it has
    none.
    """

    kind: str
    group: int
    segment: int
    lon: array[float] = field(default_factory=_numbers)
    lat: array[float] = field(default_factory=_numbers)
    ele_m: array[float] = field(default_factory=_numbers)
    shaping: bytearray = field(default_factory=bytearray)
    lines: array[int] = field(default_factory=lambda: array("q"))
    times_s: array[float] = field(default_factory=_numbers)


@dataclass(slots=True, kw_only=True)
class Outline:
    """All that a route needs from a document; filled by the guard pass, read-only after.

    name : of the file; names : of tracks and routes, by kind and number
    times : of track points
    n_zoneless : times that name no zone; GPX means UTC, and they are read so
    odd_lines : lines of oddities that were put right, by code
    """

    name: str = ""
    names: dict[tuple[str, int], str] = field(default_factory=dict)
    parts: list[RawPart] = field(default_factory=list)
    waypoints: list[Waypoint] = field(default_factory=list)
    waypoint_lines: list[int] = field(default_factory=list)
    times: Times = field(default_factory=Times)
    n_zoneless: int = 0
    odd_lines: dict[str, list[int]] = field(default_factory=dict)

    def note_odd(self, code: str, line: int) -> None:
        self.odd_lines.setdefault(code, []).append(line)

    def problems(self) -> tuple[Problem, ...]:
        """What was put right while reading, a line for each kind."""
        found: list[Problem] = []
        for code, (what, action) in _ODDITIES.items():
            lines = self.odd_lines.get(code)
            if lines:
                n = len(lines)
                one, many = what
                where = (
                    message("line {n_line} and on", n_line=lines[0])
                    if n > 1
                    else message("line {n_line}", n_line=lines[0])
                )
                told = message(one, many, n=n) if many else term(one)
                found.append(Problem(code=code, where=where, what=told, action=term(action)))
        return tuple(found)


# code: what was found, one and many, and what was done
_ODDITIES: dict[str, tuple[tuple[str, str], str]] = {
    "decimal-comma": (
        NN_("one coordinate with a decimal comma", "{n} coordinates with a decimal comma"),
        N_("read as decimal points"),
    ),
    "height-not-a-number": (
        NN_("one height that is not a number", "{n} heights that are not numbers"),
        N_("taken as unknown"),
    ),
    "no-segment": (
        NN_("one track point outside a segment", "{n} track points outside a segment"),
        N_("read as a segment"),
    ),
    "ampersand": (
        NN_(
            "one ampersand that XML wants written as &amp;",
            "{n} ampersands that XML wants written as &amp;",
        ),
        N_("read as plain ampersands"),
    ),
    "text-after-end": ((N_("text after the end of the GPX document"), ""), N_("left out")),
}


class Gatherer:
    """Turns point after point into an Outline."""

    def __init__(self) -> None:
        self.outline = Outline()
        self._n_groups = {"trk": 0, "rte": 0}
        self._segments = 0
        self._part: RawPart | None = None
        self._places = Element("gpx")

    def open_group(self, kind: str) -> None:
        """A <trk> or <rte> begins."""
        self._n_groups[kind] += 1
        self._segments = 0
        if kind == "rte":
            self.open_part(kind)

    @property
    def part_is_open(self) -> bool:
        return self._part is not None

    def open_part(self, kind: str) -> None:
        """A segment or route begins."""
        self.close_part()
        self._part = RawPart(kind=kind, group=self._n_groups[kind] - 1, segment=self._segments)
        self._segments += 1
        self.outline.parts.append(self._part)

    def close_part(self) -> None:
        """A segment or route ends; harmless if none is open."""
        self._part = None

    def name_group(self, kind: str, name: str) -> None:
        self.outline.names.setdefault((kind, self._n_groups[kind] - 1), name)

    def add_point(self, lat: str, lon: str, fields: dict[str, str], line: int) -> None:
        """A point of the open part; its numbers are checked."""
        part = self._part
        assert part is not None
        part.lat.append(float(lat))
        part.lon.append(float(lon))
        part.ele_m.append(float(fields.get("ele", "nan")))
        part.shaping.append(fields.get("type") == "shaping")
        part.lines.append(line)
        if part.kind == "trk":
            part.times_s.append(self._time_s(fields.get("time", "")))

    def _time_s(self, text: str) -> float:
        if not text:
            return math.nan
        try:
            moment = datetime.fromisoformat(text)
        except ValueError:
            return math.nan
        if moment.tzinfo is None:
            self.outline.n_zoneless += 1
            moment = moment.replace(tzinfo=UTC)
        return moment.timestamp()

    def add_place(self, lat: str, lon: str, fields: dict[str, str], line: int) -> None:
        """A waypoint."""
        place = SubElement(self._places, "wpt", {"lat": lat, "lon": lon})
        for key, text in fields.items():
            if key != "time":  # the GPX library would stumble over odd ones
                SubElement(place, key).text = text
        self.outline.waypoint_lines.append(line)
        if len(self._places) >= _BATCH:
            self._flush_places()

    def finish(self) -> Outline:
        self.close_part()
        self._flush_places()
        return self.outline

    def _flush_places(self) -> None:
        if not len(self._places):
            return
        # gpxpy loads the library of web requests; many files have no waypoint.
        from terrain.inputs.lines.gpx.places import to_waypoints

        self.outline.waypoints += to_waypoints(self._places)
        self._places = Element("gpx")
