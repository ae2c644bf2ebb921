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
import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import partial

import numpy as np

from terrain.calc.geodesy import between_m, steps_m, steps_within
from terrain.errors import RouteError
from terrain.inputs.lines.checks import apart_m
from terrain.inputs.lines.lines import Lines, Part, place_in, place_words, title_words
from terrain.inputs.lines.same import NEAR_M, Group, Taken
from terrain.text.catalogue import N_
from terrain.text.message import join_messages, message, term
from terrain.values.arrays import FloatArray
from terrain.values.route import Problem

_JOIN_M = 100.0  # a smaller gap between segments does not break the line
_JUMP_M = 1_000.0  # a longer step in a dense line is told
_MAX_LISTED = 8
_PLANNED_FIX = message("Export the planned route or track itself.")


@dataclass(frozen=True, slots=True, kw_only=True)
class Ridden:
    """The parts that are ridden, in order, and what was decided.

    day_starts : which of the parts begin a later day
    """

    parts: Group
    problems: tuple[Problem, ...]
    day_starts: tuple[int, ...] = ()


def choose_parts(lines: Lines, source: str) -> Ridden:
    """Decide what is ridden. Raises RouteError if no line of two points is left."""
    groups, problems = _all_lines(lines, source)
    chosen, left_out = Taken(), []
    for group in groups:
        verdict = _verdict(group, chosen) if chosen.groups else None
        if verdict is None:
            chosen.add(group)
        else:
            left_out.append(verdict)
    days = days_named([group[0].name for group in chosen.groups])
    told = _several(chosen.groups, by_day=bool(days))
    return ridden_of(chosen.groups, (*problems, *left_out, *told), days)


def lines_apart(lines: Lines, source: str) -> tuple[list[Group], tuple[Problem, ...]]:
    """Every line of two points once, and what was left out: a second drawing of the same trip.

    Raises RouteError if no line of two points is left.
    """
    groups, problems = _all_lines(lines, source)
    kept, left_out = Taken(), []
    for group in groups:
        twin = kept.twin(group)
        if twin is None:
            kept.add(group)
        else:
            left_out.append(_twin(group, twin))
    return kept.groups, (*problems, *left_out)


def ridden_of(
    groups: Sequence[Group], problems: tuple[Problem, ...], days: Sequence[int] = ()
) -> Ridden:
    """The groups one after another, with the gaps and jumps between and in them.

    days : which of the groups begin a later day
    """
    parts = tuple(p for group in groups for p in group)
    first = np.cumsum([0, *(len(group) for group in groups)]).tolist()
    return Ridden(
        parts=parts, problems=(*problems, *_gaps(parts), *_jumps(parts)),
        day_starts=tuple(first[day] for day in days),
    )  # fmt: skip


# A word for a day or a stage of a tour, in the languages of the program, and its number.
_WORD = r"day|d[ií]a|jour(?:n[ée]e)?|tag|giorno|stage|etapa|[ée]tape|etappe|tappa"
_DAY = re.compile(
    rf"(?:^|[\W_])(?:(?:{_WORD})[\W_]*0*(\d{{1,2}})(?!\d)"
    rf"|0*(\d{{1,2}})[\W_]*(?:er|re|e|a|o|st|nd|rd|th)?[\W_]*(?:{_WORD})(?![^\W_]))",
    re.IGNORECASE,
)


def days_named(names: Sequence[str]) -> tuple[int, ...]:
    """Which of the lines of these names begin a later day; none if not each is named by its day.

    Two lines of one day are one day; names whose numbers fall, or are all the same, say no days.
    """
    found = [_DAY.search(name) for name in names]
    days = [int(day[1] or day[2]) for day in found if day is not None]
    if len(days) < len(names) or any(b < a for a, b in itertools.pairwise(days)):
        return ()
    return tuple(k for k in range(1, len(days)) if days[k] > days[k - 1])


def _several(chosen: list[Group], *, by_day: bool) -> tuple[Problem, ...]:
    if len(chosen) < 2:
        return ()
    action = message(
        "ridden one after another; to keep each on a day of its own, say that the lines are days"
    )
    if by_day:
        action = message("ridden one after another, each day as the file has it")
    return (
        Problem(
            code="several-lines",
            what=message(
                "the file holds {n_lines} lines: {parts}", n_lines=len(chosen),
                parts=_listed([_title(group) for group in chosen[:_MAX_LISTED]], len(chosen)),
            ),
            action=action,
        ),
    )  # fmt: skip


def _all_lines(lines: Lines, source: str) -> tuple[list[Group], tuple[Problem, ...]]:
    usable, problems = _usable(lines, source)
    return _groups(usable), problems


def _usable(lines: Lines, source: str) -> tuple[Group, tuple[Problem, ...]]:
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
                    "{parts}: one place only, no line",
                    parts=_listed_parts(single),
                ),
                action=message("left out"),
            )
        )
    if empty:
        problems.append(
            Problem(
                code="empty-part",
                what=message("{parts}: no points", parts=_listed_parts(empty)),
                action=message("left out"),
            )
        )
    return usable, tuple(problems)


def _nothing_to_ride(lines: Lines, single: list[Part], source: str) -> RouteError:
    if single:
        return RouteError(
            message("the file holds one place only, and a route needs two points or more"),
            place_in(source, single[0].unit, int(single[0].line[0])),
            _PLANNED_FIX,
        )
    if lines.waypoints:
        places = message("one waypoint", "{n} waypoints", n=len(lines.waypoints))
        return RouteError(
            message("the file holds {places} but no route or track to ride", places=places),
            source,
            message("Join them to a route in the planner, and export that."),
        )
    return RouteError(message("the file holds no points"), source, _PLANNED_FIX)


def _listed_parts(parts: Sequence[Part]) -> str:
    return _listed([part.label for part in parts[:_MAX_LISTED]], len(parts))


def _listed(labels: Sequence[str], n: int) -> str:
    """The labels, of n, in one text, and how many more there are."""
    more = n - _MAX_LISTED
    told = join_messages(labels, "{first}, {then}")
    return message("{parts} and {n_more} more", parts=told, n_more=more) if more > 0 else told


def _groups(parts: Group) -> list[Group]:
    """Parts by track or route; the kind with more points first, else in file order."""
    by_key: dict[tuple[str, int], list[Part]] = {}
    for part in parts:
        by_key.setdefault((part.kind, part.group), []).append(part)
    n_points = {kind: sum(len(p) for p in parts if p.kind == kind) for kind in ("trk", "rte")}
    first = "trk" if n_points["trk"] > n_points["rte"] else "rte"
    groups = [tuple(g) for g in by_key.values()]
    return sorted(groups, key=lambda g: g[0].kind != first)


# -- is a line new ground, or told already? ------------------------------------------------------


def _verdict(group: Group, chosen: Taken) -> Problem | None:
    """Why the group is not ridden as well; None if it is."""
    twin = chosen.twin(group)
    if twin is not None:
        return _twin(group, twin)
    if chosen.is_whole(group):
        return _twin(group, chosen.all_parts())
    last = chosen.groups[-1][-1]
    if apart_m(last.lon[-1], last.lat[-1], group[0].lon[0], group[0].lat[0]) <= NEAR_M:
        return None
    if not chosen.leaves_and_comes_back(group):
        return None
    return Problem(
        code="alternative",
        where=_where(group),
        what=message(
            "{part} starts and ends on {other}: another way between the same places, or a "
            "part of it",
            part=_title(group),
            other=_title(chosen.all_parts()),
        ),
        action=message(
            "left out; to judge it too, say that the lines are alternatives, or send it as a "
            "file of its own"
        ),
    )


def _twin(group: Group, other: Group) -> Problem:
    return Problem(
        code="same-trip",
        where=_where(group),
        what=message("{part} is the same trip as {other}", part=_title(group), other=_title(other)),
        action=message("{other} was used", other=_title(other)),
    )


def _where(group: Group) -> str:
    return place_words(group[0].unit, group[0].line[0])


def _title(group: Group) -> str:
    keys = dict.fromkeys((p.kind, p.group, p.name) for p in group)
    titles = [
        message("{title} ({name})", title=title_words(kind, n), name=name)
        if name
        else title_words(kind, n)
        for kind, n, name in itertools.islice(keys, _MAX_LISTED)
    ]
    return _listed(titles, len(keys))


# -- how the ridden parts hang together ----------------------------------------------------------


def piece_numbers(parts: Group) -> list[int]:
    """A number for each part; the same as the part before where the line is not broken."""
    return [0, *np.cumsum(_joins(parts) > _JOIN_M).tolist()]


def _joins(parts: Group) -> FloatArray:
    """Distance from each part's end to the next part's start [m], shape (parts - 1,)."""
    lon = np.array([(part.lon[0], part.lon[-1]) for part in parts])
    lat = np.array([(part.lat[0], part.lat[-1]) for part in parts])
    return between_m(lon[:-1, 1], lat[:-1, 1], lon[1:, 0], lat[1:, 0])


def _gaps(parts: Group) -> tuple[Problem, ...]:
    gap_m = _joins(parts)
    broken = np.flatnonzero(gap_m > _JOIN_M).tolist()
    return _shortened([partial(_gap, parts[k], parts[k + 1], float(gap_m[k])) for k in broken])


def _gap(a: Part, b: Part, gap_m: float) -> Problem:
    turned = apart_m(a.lon[-1], a.lat[-1], b.lon[-1], b.lat[-1])
    action = (
        N_("kept in file order, and marked; it may be drawn the other way round")
        if turned <= NEAR_M and gap_m > 2 * NEAR_M
        else N_("kept in file order, and marked")
    )
    return Problem(
        code="gap",
        where=place_words(b.unit, b.line[0]),
        what=message(
            "{gap_m} between the end of {before} and the start of {after}",
            gap_m=gap_m,
            before=a.label,
            after=b.label,
        ),
        action=term(action),
    )


def _jumps(parts: Group) -> tuple[Problem, ...]:
    """Long steps in a dense line, and tracks that are sparse throughout."""
    found: list[Callable[[], Problem]] = []
    for part in parts:
        if part.kind != "trk" or steps_within(part.lon, part.lat, _JUMP_M):
            continue
        step = steps_m(part.lon, part.lat)
        usual = float(np.median(step)) if len(step) > 1 else float(step[0])
        if usual > _JUMP_M:
            found.append(partial(_sparse, part, float(step.sum())))
            continue
        long = np.flatnonzero(step > max(_JUMP_M, 20 * usual)).tolist()
        found += [partial(_jump, part, i, float(step[i])) for i in long]
    return _shortened(found)


def _sparse(part: Part, whole_m: float) -> Problem:
    return Problem(
        code="sparse-track",
        where=place_words(part.unit, part.line[0]),
        what=message(
            "{part}: {n_points} points over {whole_m}",
            part=part.label,
            n_points=len(part),
            whole_m=whole_m,
        ),
        action=message(
            "kept; the way between the points is found on the map, and may not be the one meant"
        ),
    )


def _jump(part: Part, i: int, gap_m: float) -> Problem:
    return Problem(
        code="jump",
        where=place_words(part.unit, part.line[i + 1]),
        what=message("{gap_m} without points in {part}", gap_m=gap_m, part=part.label),
        action=message("kept; the way between is found on the map"),
    )


def _shortened(found: Sequence[Callable[[], Problem]]) -> tuple[Problem, ...]:
    """At most a handful of the same kind; the last says how many more there are."""
    told = [make() for make in found[:_MAX_LISTED]]
    if len(found) <= _MAX_LISTED:
        return tuple(told)
    rest = told[-1]
    last = Problem(
        code=rest.code,
        where=message("{where} and on", where=rest.where),
        what=message("{n_more} more of the same", n_more=len(found) - _MAX_LISTED + 1),
        action=rest.action,
    )
    return (*told[:-1], last)
