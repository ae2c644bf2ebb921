"""Parts of a ride that law may bar: military and protected areas, ways closed by tag."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import datetime, time, timedelta
from itertools import pairwise
from typing import Any

import numpy as np
import shapely

from terrain.calc.conditional import conditional_rules, holds_at
from terrain.values.arrays import BoolArray, FloatArray, spans
from terrain.values.clock import RideClock
from terrain.values.closed import ClosedPart, Closure
from terrain.values.match import Match
from terrain.values.places import AreaKind, AreaRun, AreasView, PlacesAlong
from terrain.values.views import RoadsView, WayFlag

# Common practice, no source.
_EVERY_M = 25.0  # spacing of the places along the ride that are looked at


def areas_along(match: Match, areas: AreasView) -> tuple[AreaRun, ...]:
    """The parts of the ride within areas, to 25 m, in riding order.

    Areas that overlap each have a run of their own.
    """
    if not len(areas.name) or not len(match.at_m):
        return ()
    at = np.unique(np.append(np.arange(0.0, match.length_m, _EVERY_M), match.length_m))
    lon, lat = match.lonlat(at)
    found = [
        AreaRun(
            kind=AreaKind(int(areas.kind[i])), name=areas.name[i],
            from_m=float(at[a]), to_m=float(at[min(b, len(at) - 1)]),
        )
        for i, shape in enumerate(_shapes(areas, lon, lat))
        if shape is not None
        for a, b in spans(shapely.contains_xy(shape, lon, lat))
    ]  # fmt: skip
    return tuple(sorted(found, key=lambda run: (run.from_m, run.to_m)))


def _shapes(areas: AreasView, lon: FloatArray, lat: FloatArray) -> list[shapely.Geometry | None]:
    """Each area whose box meets the ride's, ready for looking up; None for the others."""
    west, south, east, north = lon.min(), lat.min(), lon.max(), lat.max()
    rings: list[list[shapely.Geometry]] = [[] for _ in areas.name]
    for r, area in enumerate(areas.ring_area.tolist()):
        pts = slice(int(areas.ring_start[r]), int(areas.ring_start[r + 1]))
        x, y = areas.lon[pts], areas.lat[pts]
        if x.max() >= west and x.min() <= east and y.max() >= south and y.min() <= north:
            rings[area].append(shapely.linestrings(x, y))
    shapes: list[shapely.Geometry | None] = []
    for mine in rings:
        # Within an odd number of rings is inside: holes are told from islands by that alone.
        shape: Any = shapely.build_area(shapely.multilinestrings(mine)) if mine else None
        if shape is not None:
            shapely.prepare(shape)
        shapes.append(shape)
    return shapes


def ferries_without_cars(match: Match, roads: RoadsView) -> tuple[tuple[float, float], ...]:
    """The ferries of a ride that the map tags as taking no cars, from and to [m]."""
    flags = roads.ways.flags[np.maximum(match.way, 0)]
    no_cars = (match.way >= 0) & ((flags & int(WayFlag.NO_CARS)) != 0)
    return tuple((float(match.from_m[a]), float(match.to_m[b - 1])) for a, b in spans(no_cars))


_BY_FLAG: tuple[tuple[WayFlag, Closure], ...] = (
    (WayFlag.NO_MOTORCYCLE, Closure.NO_MOTORCYCLE),
    (WayFlag.PRIVATE, Closure.BY_LEAVE),
    (WayFlag.UNDER_CONSTRUCTION, Closure.CONSTRUCTION),
    (WayFlag.PROPOSED, Closure.PROPOSED),
    (WayFlag.PATH, Closure.NO_MOTOR_ROAD),
    (WayFlag.DESTINATION, Closure.THROUGH),
)
# Common practice, no source.
_END_M = 50.0  # a ride starts or ends on a way that lies this close to its ends


def closed_parts(match: Match, roads: RoadsView) -> tuple[ClosedPart, ...]:
    """All parts of the ride with a tag that closes them, in riding order.

    A way open to a destination counts unless the ride starts or ends on it, or on a run of such
    ways up to an end: its destination is there.
    """
    return _parts(match, roads, [
        None if code is None else (code, roads.ways.closed_by.text(way) or code.value, False)
        for code, way in zip(_closures(match, roads), match.way.tolist(), strict=True)
    ])  # fmt: skip


def parts_at_times(match: Match, roads: RoadsView) -> tuple[ClosedPart, ...]:
    """All parts that a tag closes, or opens though they are closed else, on a condition.

    The closure is AT_TIMES of what is open else. A condition opens what a tag no more specific
    than its own closes (OSM wiki, Key:access). One that leaves a way open to a destination closes
    it to who rides through.
    """
    flags = roads.ways.flags[np.maximum(match.way, 0)]
    tagged = (match.way >= 0) & ((flags & int(WayFlag.CONDITIONAL)) != 0)
    found: list[tuple[Closure, str, bool] | None] = [None] * len(flags)
    codes = _closures(match, roads) if tagged.any() else []
    at_end = _reaches_an_end(match, tagged | ((flags & int(WayFlag.DESTINATION)) != 0))
    for leg in np.flatnonzero(tagged).tolist():
        tag = roads.ways.conditional.text(int(match.way[leg])) or ""
        code, barred = codes[leg], roads.ways.closed_by.text(int(match.way[leg])) or ""
        to_end = bool(at_end[leg])
        if code is None and is_shut(tag, None, to_end=to_end) is not False:
            found[leg] = (Closure.AT_TIMES, tag, to_end)
        elif code in _BY_ACCESS and _rank(tag) <= _rank(barred):
            found[leg] = (code, tag, to_end)
    return _parts(match, roads, found)


def shut_by_clock(places: PlacesAlong, clock: RideClock, depart: datetime | None) -> PlacesAlong:
    """What is closed on a condition by the hour the ride passes: closed, open, or not to be told.

    depart : local; None if the day is not known
    """
    shut: list[ClosedPart] = []
    unknown: list[ClosedPart] = []
    opened: list[tuple[float, float]] = []
    for part in places.at_times:
        moment = None
        if depart is not None:
            at_m = np.array([(part.from_m + part.to_m) / 2])
            day = datetime.combine(depart.date(), time()) + timedelta(int(clock.day_of(at_m)[0]))
            moment = day + timedelta(seconds=float(clock.passing_s(at_m)[0]))
        else_shut = part.closure is not Closure.AT_TIMES
        is_closed = is_shut(part.tag, moment, else_shut=else_shut, to_end=part.to_end)
        if else_shut:
            opened += [(part.from_m, part.to_m)] if is_closed is False else []
        elif is_closed is not False:
            (shut if is_closed else unknown).append(part)
    left = (piece for part in places.closed for piece in _outside(part, opened))
    closed = sorted((*left, *shut), key=lambda part: part.from_m)
    return replace(places, closed=tuple(closed), at_times=tuple(unknown))


def _outside(part: ClosedPart, opened: list[tuple[float, float]]) -> Iterator[ClosedPart]:
    """What is left of a closed part outside of what is open, in riding order."""
    at_m = part.from_m
    for from_m, to_m in (*opened, (part.to_m, part.to_m)):
        if (left := part.within(at_m, from_m)) is not None:
            yield left
        at_m = max(at_m, to_m)


#: Keys of access, the most specific first, and values that let a motorcycle by.
FOR_MOTORCYCLES = ("motorcycle", "motor_vehicle", "vehicle", "access")
LETS_BY = frozenset({"yes", "designated", "permissive", "official", "public", "destination"})
# Closures by a tag of access, which a condition may lift.
_BY_ACCESS = (Closure.NO_MOTORCYCLE, Closure.BY_LEAVE, Closure.THROUGH)


def _rank(tag: str) -> int:
    """How specific the key of an access tag is, 0 the most."""
    key = tag.partition("=")[0].partition(":")[0]
    return FOR_MOTORCYCLES.index(key) if key in FOR_MOTORCYCLES else len(FOR_MOTORCYCLES)


def is_shut(
    tag: str, at: datetime | None, *, else_shut: bool = False, to_end: bool = False
) -> bool | None:
    """Whether a conditional tag (key=value) keeps a motorcycle off; None where it may.

    at : local time; None if not known; else_shut : whether it is closed where no condition holds
    to_end : whether the ride starts or ends there, which "destination" asks for
    """
    key, _, value = tag.partition("=")
    first, *more = key.split(":")
    if first not in FOR_MOTORCYCLES:
        return else_shut
    shut: bool | None = else_shut
    for access, condition in conditional_rules(value):
        closes = access not in LETS_BY or (access == "destination" and not to_end)
        holds = holds_at(condition, at)
        if holds:
            shut = closes
        elif holds is None and closes is not shut:
            shut = None
    if more != ["conditional"] and shut is not else_shut:
        return None  # of one direction or lane: which is ridden is for the signs to say
    return shut


def _parts(
    match: Match, roads: RoadsView, closed: list[tuple[Closure, str, bool] | None]
) -> tuple[ClosedPart, ...]:
    """Runs of legs closed alike. closed : how and by what tag each leg is, and whether an end of
    the ride lies there; None if it is not"""
    starts = [i for i, how in enumerate(closed) if i == 0 or how != closed[i - 1]]
    parts = []
    for first, last in pairwise([*starts, len(closed)]):
        how = closed[first]
        if how is not None:
            parts.append(_part(match, roads, list(range(first, last)), *how))
    return tuple(parts)


def _closures(match: Match, roads: RoadsView) -> list[Closure | None]:
    """How each leg is closed; None if it is not."""
    flags = np.where(match.way >= 0, roads.ways.flags[np.maximum(match.way, 0)], 0)
    open_path = (flags & int(WayFlag.MOTOR_OPEN)) != 0
    at_end = _reaches_an_end(match, (flags & int(WayFlag.DESTINATION)) != 0)
    out: list[Closure | None] = [None] * len(flags)
    for flag, closure in _BY_FLAG[::-1]:
        hit = (flags & int(flag)) != 0
        if closure is Closure.NO_MOTOR_ROAD:
            hit &= ~open_path
        if closure is Closure.THROUGH:
            hit &= ~at_end
        for i in np.flatnonzero(hit).tolist():
            out[i] = closure
    return out


def _reaches_an_end(match: Match, destination: BoolArray) -> BoolArray:
    """Legs in a run of destination ways that reaches the ride's start or end."""
    out = np.zeros(len(destination), dtype=bool)
    for first, last in spans(destination):
        starts = match.from_m[first] <= _END_M
        ends = match.to_m[last - 1] >= match.length_m - _END_M
        out[first:last] = starts or ends
    return out


def _part(
    match: Match, roads: RoadsView, run: list[int], closure: Closure, tag: str, to_end: bool
) -> ClosedPart:
    ways = [int(match.way[i]) for i in run]
    names = [roads.ways.name.text(way) or roads.ways.ref.text(way) for way in ways]
    return ClosedPart(
        from_m=float(match.from_m[run[0]]),
        to_m=float(match.to_m[run[-1]]),
        closure=closure,
        tag=tag,
        way_ids=tuple(dict.fromkeys(int(match.way_id[i]) for i in run)),
        name=next((name for name in names if name), None),
        to_end=to_end,
    )
