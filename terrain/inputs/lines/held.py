"""What a reader of any format hands on: lines as arrays, places, and what was odd."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, field, replace

import numpy as np

from terrain.errors import RouteError
from terrain.inputs.lines.limits import GpxLimits
from terrain.inputs.lines.lines import Lines, Part, place_in, place_words, title_words
from terrain.inputs.lines.times import Times
from terrain.text.catalogue import N_, NN_
from terrain.text.message import Message, message, term
from terrain.values.arrays import FloatArray, IntArray
from terrain.values.route import Problem, Waypoint

FEWER = message("Export the planned route with fewer points.")


@dataclass(frozen=True, slots=True, kw_only=True)
class Held:
    """What one document holds.

    kinds : "trk" and "rte" of the lines that had points when they were read
    """

    lines: Lines
    kinds: frozenset[str]
    problems: tuple[Problem, ...] = ()

    @classmethod
    def of(cls, lines: Lines, problems: tuple[Problem, ...]) -> Held:
        """What was just read."""
        kinds = frozenset(p.kind for p in lines.parts if len(p))
        return cls(lines=lines, kinds=kinds, problems=problems)


@dataclass(slots=True)
class Gathered:
    """Lines and places of a document while it is read; every line is a track.

    unit : what `at` counts, "line" or "point" of the file
    """

    source: str
    limits: GpxLimits
    unit: str = "line"
    name: str = ""
    n_points: int = 0
    n_groups: int = 0
    odd: dict[str, list[int]] = field(default_factory=dict)
    times: Times = field(default_factory=Times)
    _rows: list[tuple[int, str, FloatArray, FloatArray, FloatArray, IntArray]] = field(
        default_factory=list
    )
    _places: list[Waypoint] = field(default_factory=list)
    _place_at: list[int] = field(default_factory=list)

    def open_group(self) -> None:
        """A line of one or more segments begins."""
        self.n_groups += 1

    def add_line(
        self, lon: FloatArray, lat: FloatArray, ele_m: FloatArray, at: IntArray, name: str = ""
    ) -> None:
        """A segment of the open group; ele_m is NaN where there is none."""
        self.count(len(lon), int(at[0]) if len(at) else 0)
        if len(self._rows) >= self.limits.max_parts:
            raise self.refuse(
                message(
                    "the file holds more than {n} tracks and segments",
                    n=f"{self.limits.max_parts:,}",
                ),
                int(at[0]) if len(at) else 0,
                message("Keep only the planned route and export it again."),
            )
        self._rows.append((self.n_groups - 1, self.short(name), lon, lat, ele_m, at))

    def add_place(self, lon: float, lat: float, ele_m: float, at: int, name: str = "") -> None:
        """A single point that is no part of a line."""
        self.count(1, at)
        height = None if np.isnan(ele_m) else ele_m
        self._places.append(Waypoint(name=self.short(name), lon=lon, lat=lat, ele_m=height))
        self._place_at.append(at)

    def count(self, n: int, at: int) -> None:
        """Refuse more points than the limit."""
        self.n_points += n
        if self.n_points > self.limits.max_points:
            raise self.refuse(
                message("the file holds more than {n} points", n=f"{self.limits.max_points:,}"),
                at,
                FEWER,
            )

    def note(self, code: str, at: int = 0) -> None:
        """Something odd that was put right, see `_ODDITIES`."""
        self.odd.setdefault(code, []).append(at)

    def short(self, name: str) -> str:
        """A name on one line, of bounded length."""
        head = name[: 4 * self.limits.max_name]
        clean = "".join(c if c.isprintable() else " " for c in head)
        return " ".join(clean.split())[: self.limits.max_name]

    def refuse(self, what: Message, at: int, fix: Message) -> RouteError:
        """The error at a place of the file; 0 is the file as a whole."""
        where = place_in(self.source, self.unit, at) if at else self.source
        return RouteError(what, where, fix)

    def held(self) -> Held:
        segments = Counter(row[0] for row in self._rows)
        seen: Counter[int] = Counter()
        parts = []
        for group, name, lon, lat, ele_m, at in self._rows:
            label = title_words("trk", group)
            seen[group] += 1
            if segments[group] > 1:
                label = message("{title}, segment {n_segment}", title=label, n_segment=seen[group])
            parts.append(
                Part(
                    kind="trk", group=group, label=label, name=name, lon=lon, lat=lat,
                    ele_m=ele_m, line=at, shaping=np.zeros(len(lon), dtype=np.bool_),
                    unit=self.unit,
                )
            )  # fmt: skip
        lines = Lines(
            name=self.short(self.name), parts=tuple(parts), waypoints=tuple(self._places),
            waypoint_lines=tuple(self._place_at), unit=self.unit,
        )  # fmt: skip
        problems = (*self._problems(), *self.times.problems(sum(len(p) for p in parts)))
        return Held.of(lines, problems)

    def _problems(self) -> tuple[Problem, ...]:
        found = []
        for code, places in self.odd.items():
            (one, many), action = _ODDITIES[code]
            n = len(places)
            what = message(one, many, n=n) if many else term(one)
            found.append(
                Problem(
                    code=code,
                    where=place_words(self.unit, places[0], more=n > 1) if places[0] else "",
                    what=what,
                    action=term(action),
                )
            )
        return tuple(found)


# code: what was found, one and many, and what was done
_ODDITIES: dict[str, tuple[tuple[str, str], str]] = {
    "ampersand": (
        NN_(
            "one ampersand that XML wants written as &amp;",
            "{n} ampersands that XML wants written as &amp;",
        ),
        N_("read as plain ampersands"),
    ),
    "text-after-end": ((N_("text after the end of the document"), ""), N_("left out")),
    "decimal-comma": (
        NN_("one coordinate with a decimal comma", "{n} coordinates with a decimal comma"),
        N_("read as decimal points"),
    ),
    "network-link": (
        NN_(
            "one link to a file elsewhere, whose lines are not in this one",
            "{n} links to files elsewhere, whose lines are not in this one",
        ),
        N_("not followed; export the route with all its lines in one file"),
    ),
    "area": (NN_("one outline of an area", "{n} outlines of areas"), N_("left out; not a line")),
    "precision-6": (
        (N_("with five decimals the points would lie beyond the poles"), ""),
        N_("decoded with six decimals"),
    ),
    "no-header": (
        (N_("the columns have no names"), ""),
        N_("read as longitude, latitude, height"),
    ),
}  # fmt: skip


def merged(held: list[tuple[str, Held]]) -> Held:
    """The lines of several documents, one after another, each a group of its own.

    held : a name for the lines of each document that have none, and what it holds
    """
    if len(held) == 1:
        return held[0][1]
    parts: list[Part] = []
    n_groups: Counter[str] = Counter()
    for name, one in held:
        before = n_groups.copy()
        for part in one.lines.parts:
            group = before[part.kind] + part.group
            n_groups[part.kind] = max(n_groups[part.kind], group + 1)
            own = part.name or one.lines.name or name
            label = title_words(part.kind, group)
            parts.append(replace(part, group=group, label=label, name=own))
    lines = Lines(
        name="",
        parts=tuple(parts),
        waypoints=tuple(w for _, one in held for w in one.lines.waypoints),
        waypoint_lines=tuple(n for _, one in held for n in one.lines.waypoint_lines),
    )
    return Held(
        lines=lines,
        kinds=frozenset[str]().union(*(one.kinds for _, one in held)),
        problems=tuple(p for _, one in held for p in one.problems),
    )
