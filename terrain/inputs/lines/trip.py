"""Which of a file's lines are ridden, in what order, and how they hang together.

What a booking clerk would expect, and what is done:

- A track and a route of the same trip: the one with more points is ridden, the other left out;
  with as many points each, the route, whose points may lie far apart on purpose.
- The same track twice: ridden once.
- Tracks that go on where the last one ended: ridden one after another, in file order.
- A track whose both ends lie on a line already ridden, in the same direction, is another way
  between two of its places (or a part of the whole): the first is ridden, the other left out.
- Anything else: ridden in file order, and the gap between is listed.

Nothing is ever turned round, and whatever is left out or bridged is listed.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely

from terrain.errors import RouteError
from terrain.inputs.lines.checks import apart_m, steps_m
from terrain.inputs.lines.lines import Lines, Part, place_words, title_words
from terrain.text.catalogue import N_
from terrain.text.message import join_messages, message, term
from terrain.values.arrays import FloatArray
from terrain.values.route import Problem

_NEAR_M = 500.0  # two ends this close are the same place: a car park, a village
_BESIDE_M = 250.0  # a line this close is the same ground drawn on another map
_DEGREE_M = 111_320.0  # one of latitude, and of longitude on the equator
_JOIN_M = 100.0  # a smaller gap between segments does not break the line
_MAX_LISTED = 8
_MOST_LINES = 500  # each is compared with all before it
_PLANNED_FIX = "Export the planned route or track itself."


@dataclass(frozen=True, slots=True, kw_only=True)
class Ridden:
    """The parts that are ridden, in order, and what was decided."""

    parts: tuple[Part, ...]
    problems: tuple[Problem, ...]


def choose_parts(lines: Lines, source: str) -> Ridden:
    """Decide what is ridden. Raises RouteError if no line of two points is left."""
    groups, problems = _all_lines(lines, source)
    chosen: list[tuple[Part, ...]] = []
    for group in groups:
        verdict = _verdict(group, chosen) if chosen else None
        if verdict is None:
            chosen.append(group)
        else:
            problems = (*problems, verdict)
    return ridden_of(chosen, (*problems, *_several(chosen)))


def lines_apart(lines: Lines, source: str) -> tuple[list[tuple[Part, ...]], tuple[Problem, ...]]:
    """Every line of two points once, and what was left out: a second drawing of the same trip.

    Raises RouteError if no line of two points is left.
    """
    groups, problems = _all_lines(lines, source)
    kept: list[tuple[Part, ...]] = []
    for group in groups:
        twin = next((other for other in kept if _same_trip(group, other)), None)
        if twin is None:
            kept.append(group)
        else:
            problems = (*problems, _twin(group, twin))
    return kept, problems


def ridden_of(groups: Sequence[tuple[Part, ...]], problems: tuple[Problem, ...]) -> Ridden:
    """The groups one after another, with the gaps and jumps between and in them."""
    parts = tuple(p for group in groups for p in group)
    return Ridden(parts=parts, problems=(*problems, *_gaps(parts), *_jumps(parts)))


def _several(chosen: list[tuple[Part, ...]]) -> tuple[Problem, ...]:
    if len(chosen) < 2:
        return ()
    return (
        Problem(
            code="several-lines",
            where="",
            what=message("the file holds {n_lines} lines", n_lines=len(chosen)),
            action=message("ridden one after another, as the days of one trip"),
        ),
    )


def _all_lines(lines: Lines, source: str) -> tuple[list[tuple[Part, ...]], tuple[Problem, ...]]:
    usable, problems = _usable(lines, source)
    groups = _groups(usable)
    if len(groups) > _MOST_LINES:
        raise RouteError(
            f"the file holds more than {_MOST_LINES} tracks and routes",
            f"{source}, {usable[0].unit} {groups[_MOST_LINES][0].line[0]}",
            "Keep only the planned route and export it again.",
        )
    return groups, problems


def _usable(lines: Lines, source: str) -> tuple[tuple[Part, ...], tuple[Problem, ...]]:
    usable = tuple(p for p in lines.parts if len(p) > 1)
    single = [p for p in lines.parts if len(p) == 1]
    empty = [p for p in lines.parts if len(p) == 0]
    if not usable:
        raise _nothing_to_ride(lines, single, source)
    problems: list[Problem] = []
    if single:
        problems.append(
            Problem(
                code="single-point",
                where=place_words(single[0].unit, single[0].line[0]),
                what=message(
                    "{parts}: one place only, no line", parts=_listed([p.label for p in single])
                ),
                action=message("left out"),
            )
        )
    if empty:
        problems.append(
            Problem(
                code="empty-part",
                where="",
                what=message("{parts}: no points", parts=_listed([p.label for p in empty])),
                action=message("left out"),
            )
        )
    return usable, tuple(problems)


def _nothing_to_ride(lines: Lines, single: list[Part], source: str) -> RouteError:
    if single:
        return RouteError(
            "the file holds one place only, and a route needs two points or more",
            f"{source}, {single[0].unit} {single[0].line[0]}",
            _PLANNED_FIX,
        )
    if lines.waypoints:
        n = len(lines.waypoints)
        places = "one waypoint" if n == 1 else f"{n} waypoints"
        return RouteError(
            f"the file holds {places} but no route or track to ride",
            source,
            "Join them to a route in the planner, and export that.",
        )
    return RouteError("the file holds no points", source, _PLANNED_FIX)


def _listed(labels: Sequence[str]) -> str:
    more = len(labels) - _MAX_LISTED
    told = join_messages(labels[:_MAX_LISTED], "{first}, {then}")
    return message("{parts} and {n_more} more", parts=told, n_more=more) if more > 0 else told


def _groups(parts: tuple[Part, ...]) -> list[tuple[Part, ...]]:
    """Parts by track or route; the kind with more points first, else in file order."""
    by_key: dict[tuple[str, int], list[Part]] = {}
    for part in parts:
        by_key.setdefault((part.kind, part.group), []).append(part)
    n_points = {kind: sum(len(p) for p in parts if p.kind == kind) for kind in ("trk", "rte")}
    first = "trk" if n_points["trk"] > n_points["rte"] else "rte"
    groups = [tuple(g) for g in by_key.values()]
    return sorted(groups, key=lambda g: g[0].kind != first)


# -- is a line new ground, or told already? ------------------------------------------------------


def _verdict(group: tuple[Part, ...], chosen: list[tuple[Part, ...]]) -> Problem | None:
    """Why the group is not ridden as well; None if it is."""
    for other in (*chosen, tuple(p for g in chosen for p in g)):
        if _same_trip(group, other):
            return _twin(group, other)
    last = chosen[-1][-1]
    if apart_m(last.lon[-1], last.lat[-1], group[0].lon[0], group[0].lat[0]) <= _NEAR_M:
        return None
    ridden = tuple(p for g in chosen for p in g)
    if _within(group, ridden):
        return Problem(
            code="alternative",
            where=_where(group),
            what=message(
                "{part} starts and ends on {other}: another way between the same places, or a "
                "part of it",
                part=_title(group),
                other=_title(ridden),
            ),
            action=message(
                "left out; to judge it too, say that the lines are alternatives, or send it as a "
                "file of its own"
            ),
        )
    return None


def _twin(group: tuple[Part, ...], other: tuple[Part, ...]) -> Problem:
    return Problem(
        code="same-trip",
        where=_where(group),
        what=message("{part} is the same trip as {other}", part=_title(group), other=_title(other)),
        action=message("{other} was used", other=_title(other)),
    )


def _where(group: tuple[Part, ...]) -> str:
    return place_words(group[0].unit, group[0].line[0])


def _title(group: tuple[Part, ...]) -> str:
    keys = dict.fromkeys((p.kind, p.group, p.name) for p in group)
    titles = [
        message("{title} ({name})", title=title_words(kind, n), name=name)
        if name
        else title_words(kind, n)
        for kind, n, name in keys
    ]
    return _listed(titles)


class _Drawn:
    """A group as one planar line in metres, for questions of nearness."""

    def __init__(self, group: tuple[Part, ...], origin: tuple[float, float]) -> None:
        lon = np.concatenate([p.lon for p in group])
        lat = np.concatenate([p.lat for p in group])
        lon0, lat0 = origin
        # Longitudes relative to the origin, so that 180 degrees is no edge.
        x = (lon - lon0 + 540.0) % 360.0 - 180.0
        self.xy: FloatArray = np.column_stack(
            (x * _DEGREE_M * np.cos(np.radians(lat0)), (lat - lat0) * _DEGREE_M)
        )
        self.n = len(lon)
        keep = np.unique(np.linspace(0, self.n - 1, min(self.n, 20_000)).astype(int))
        self.line = shapely.LineString(self.xy[keep])

    def sample(self, n: int) -> FloatArray:
        rows = np.unique(np.linspace(0, self.n - 1, min(self.n, n)).astype(int))
        return np.asarray(self.xy[rows])


def _draw(a: tuple[Part, ...], b: tuple[Part, ...]) -> tuple[_Drawn, _Drawn]:
    origin = (float(a[0].lon[0]), float(a[0].lat[0]))
    return _Drawn(a, origin), _Drawn(b, origin)


def _same_trip(group: tuple[Part, ...], other: tuple[Part, ...]) -> bool:
    """Same ends, same ground, same direction. Route points need only lie along the track."""
    if not (_near(group[0], other[0], 0) and _near(group[-1], other[-1], -1)):
        return False
    a, b = _draw(group, other)
    sparse, dense = (a, b) if a.n <= b.n else (b, a)
    if not _along(sparse.sample(400), dense):
        return False
    if group[0].kind != other[0].kind:
        return True
    return _along(dense.sample(400), sparse) and _ratio(a.line.length, b.line.length) > 0.9


def _near(a: Part, b: Part, i: int) -> bool:
    """True if the first (i = 0) or last (i = -1) points of two parts are the same place."""
    lat = float(a.lat[i])
    north_m = (float(b.lat[i]) - lat) * _DEGREE_M
    east_deg = (float(b.lon[i]) - float(a.lon[i]) + 540.0) % 360.0 - 180.0
    return math.hypot(north_m, east_deg * _DEGREE_M * math.cos(math.radians(lat))) <= _NEAR_M


def _ratio(x: float, y: float) -> float:
    return min(x, y) / max(x, y) if max(x, y) > 0 else 1.0


def _along(points: FloatArray, drawn: _Drawn) -> bool:
    """True if nearly all points lie beside the line, and run in its direction."""
    geometry = shapely.points(points)
    if np.mean(shapely.distance(geometry, drawn.line) <= _BESIDE_M) < 0.9:
        return False
    if len(points) < 4:
        return True
    at = shapely.line_locate_point(drawn.line, geometry)
    forward = np.diff(at) >= 0
    return bool(forward.mean() > 0.6)


def _within(group: tuple[Part, ...], ridden: tuple[Part, ...]) -> bool:
    """True if the group leaves the ridden line and comes back to it further on."""
    a, b = _draw(group, ridden)
    ends = shapely.points(a.xy[[0, -1]])
    if (shapely.distance(ends, b.line) > _NEAR_M).any():
        return False
    at: FloatArray = np.asarray(shapely.line_locate_point(b.line, ends))
    return bool(at[1] - at[0] > 2 * _NEAR_M)


# -- how the ridden parts hang together ----------------------------------------------------------


def joins(parts: tuple[Part, ...]) -> list[float]:
    """Distance from each part's end to the next part's start [m]."""
    return [apart_m(a.lon[-1], a.lat[-1], b.lon[0], b.lat[0]) for a, b in itertools.pairwise(parts)]


def piece_numbers(parts: tuple[Part, ...]) -> list[int]:
    """A number for each part; the same as the part before where the line is not broken."""
    return list(itertools.accumulate((int(gap > _JOIN_M) for gap in joins(parts)), initial=0))


def _gaps(parts: tuple[Part, ...]) -> tuple[Problem, ...]:
    found: list[Problem] = []
    for a, b, gap in zip(parts[:-1], parts[1:], joins(parts), strict=True):
        if gap <= _JOIN_M:
            continue
        turned = apart_m(a.lon[-1], a.lat[-1], b.lon[-1], b.lat[-1])
        action = (
            N_("kept in file order, and marked; it may be drawn the other way round")
            if turned <= _NEAR_M and gap > 2 * _NEAR_M
            else N_("kept in file order, and marked")
        )
        found.append(
            Problem(
                code="gap",
                where=place_words(b.unit, b.line[0]),
                what=message(
                    "{gap_m} between the end of {before} and the start of {after}",
                    gap_m=gap,
                    before=a.label,
                    after=b.label,
                ),
                action=term(action),
            )
        )
    return _shortened(found)


def _jumps(parts: tuple[Part, ...]) -> tuple[Problem, ...]:
    """Long steps in a dense line, and tracks that are sparse throughout."""
    found: list[Problem] = []
    for part in parts:
        if part.kind != "trk":
            continue
        step = steps_m(part.lon, part.lat)
        usual = float(np.median(step))
        if usual > 1000:
            found.append(
                Problem(
                    code="sparse-track",
                    where=place_words(part.unit, part.line[0]),
                    what=message(
                        "{part}: {n_points} points over {whole_m}",
                        part=part.label,
                        n_points=len(part),
                        whole_m=float(step.sum()),
                    ),
                    action=message(
                        "kept; the way between the points is found on the map, and may not be "
                        "the one meant"
                    ),
                )
            )
            continue
        for i in np.flatnonzero(step > max(1000.0, 20 * usual)):
            found.append(
                Problem(
                    code="jump",
                    where=place_words(part.unit, part.line[i + 1]),
                    what=message(
                        "{gap_m} without points in {part}", gap_m=float(step[i]), part=part.label
                    ),
                    action=message("kept; the way between is found on the map"),
                )
            )
    return _shortened(found)


def _shortened(found: list[Problem]) -> tuple[Problem, ...]:
    """At most a handful of the same kind; the last says how many more there are."""
    if len(found) <= _MAX_LISTED:
        return tuple(found)
    more = len(found) - _MAX_LISTED + 1
    rest = found[_MAX_LISTED - 1]
    last = Problem(
        code=rest.code,
        where=message("{where} and on", where=rest.where),
        what=message("{n_more} more of the same", n_more=more),
        action=rest.action,
    )
    return (*found[: _MAX_LISTED - 1], last)
