"""What is wrong with single points, and what can be put right with certainty."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from terrain.calc.geodesy import between_m, steps_m, steps_within
from terrain.errors import RouteError
from terrain.inputs.lines.lines import LATITUDE, LONGITUDE, Lines, Part, place_in, place_words
from terrain.inputs.lines.look import EXPORT
from terrain.text.message import message
from terrain.values.arrays import BoolArray, FloatArray
from terrain.values.route import Problem, Waypoint

_FIX = message("Correct the point or export the route again.")

# Land ends at 83.7 degrees north (Kaffeklubben island, from memory) and no public road reaches
# past 80 south, so a line wholly beyond 84 has its coordinates swapped.
_ROADS_END_DEG = 84.0
_NULL_M = 100_000.0  # a line this far from 0, 0 does not pass through it
_MIN_ELE_M, _MAX_ELE_M = -500.0, 9_000.0  # Dead Sea shore is -430, the highest summit 8849
_SPIKE_M = 1_000.0  # smaller excursions may be real, such as to a viewpoint


def apart_m(lon1: float, lat1: float, lon2: float, lat2: float) -> float:
    """Distance between two points [m]."""
    ends = (np.array([value]) for value in (lon1, lat1, lon2, lat2))
    return float(between_m(*ends)[0])


def check_points(lines: Lines, source: str) -> tuple[Lines, tuple[Problem, ...]]:
    """Parts with valid points only. Raises RouteError at the first point that cannot be right."""
    lines, swapped = _unswap(lines)
    for part in lines.parts:
        _check_range(part, source)
    waypoints, bad_places = _valid_waypoints(lines)
    parts, nulls = _without_null_points(lines.parts, source)
    parts, doubles = _without_doubles(parts)
    parts, spikes = _without_spikes(parts)
    parts, heights = _checked_heights(parts)
    lines = replace(lines, parts=parts, waypoints=waypoints)
    return lines, (*swapped, *bad_places, *nulls, *doubles, *spikes, *heights)


def _unswap(lines: Lines) -> tuple[Lines, tuple[Problem, ...]]:
    """Exchange latitude and longitude if no other reading is possible.

    Certain only if every point of the line is impossible as written (beyond the last road
    towards a pole, or beyond the pole) and possible when exchanged.
    """
    parts = [p for p in lines.parts if len(p)]
    if not parts or not all(_exchanged(p) for p in parts):
        return lines, ()
    problem = Problem(
        code="swapped",
        what=message("latitude and longitude are exchanged in every point"),
        action=message("exchanged back"),
    )
    return (
        replace(
            lines,
            parts=tuple(replace(p, lon=p.lat, lat=p.lon) for p in lines.parts),
            waypoints=tuple(replace(w, lon=w.lat, lat=w.lon) for w in lines.waypoints),
        ),
        (problem,),
    )


def _exchanged(part: Part) -> bool:
    lat = np.abs(part.lat)  # NaN compares false
    if not (lat.min() > _ROADS_END_DEG and lat.max() <= 180):
        return False
    return bool(np.abs(part.lon).max() <= _ROADS_END_DEG)


def _check_range(part: Part, source: str) -> None:
    for values, word, limit in ((part.lat, LATITUDE, 90), (part.lon, LONGITUDE, 180)):
        bad = ~(np.abs(values) <= limit)  # NaN compares false, so it is bad too
        if bad.any():
            i = int(bad.argmax())
            value = float(values[i])
            what = message("{word} is not a number", word=word)
            if np.isfinite(value):
                what = message(
                    "{word} {value} is outside -{low}..{high}",
                    word=word, value=f"{value:.10g}", low=str(limit), high=str(limit),
                )  # fmt: skip
            raise RouteError(what, place_in(source, part.unit, int(part.line[i])), _FIX)


def _valid_waypoints(lines: Lines) -> tuple[tuple[Waypoint, ...], tuple[Problem, ...]]:
    ok = [abs(w.lat) <= 90 and abs(w.lon) <= 180 for w in lines.waypoints]
    if all(ok):
        return lines.waypoints, ()
    problem = Problem(
        code="waypoint-outside",
        where=place_words(lines.unit, lines.waypoint_lines[ok.index(False)]),
        what=message(
            "one waypoint with impossible coordinates",
            "{n} waypoints with impossible coordinates",
            n=ok.count(False),
        ),
        action=message("left out; not part of the line"),
    )
    return tuple(w for w, good in zip(lines.waypoints, ok, strict=True) if good), (problem,)


def _at_null(part: Part) -> BoolArray:
    return np.asarray((part.lat == 0) & (part.lon == 0))


def _without_null_points(
    parts: tuple[Part, ...], source: str
) -> tuple[tuple[Part, ...], tuple[Problem, ...]]:
    """Drop 0, 0: what receivers write before they know where they are."""
    at_null = [_at_null(p) for p in parts]
    n = sum(int(a.sum()) for a in at_null)
    if not n:
        return parts, ()
    first = next(int(p.line[a][0]) for p, a in zip(parts, at_null, strict=True) if a.any())
    rest_lon = np.concatenate([p.lon[~a] for p, a in zip(parts, at_null, strict=True)])
    rest_lat = np.concatenate([p.lat[~a] for p, a in zip(parts, at_null, strict=True)])
    if not len(rest_lon):
        raise RouteError(
            message("every point lies at 0, 0"), place_in(source, parts[0].unit, first), EXPORT
        )
    zero = np.zeros_like(rest_lon)
    if between_m(zero, zero, rest_lon, rest_lat).min() < _NULL_M:
        return parts, ()
    problem = Problem(
        code="null-points",
        where=place_words(parts[0].unit, first),
        what=message(
            "one point at latitude 0, longitude 0, far from the rest",
            "{n} points at latitude 0, longitude 0, far from the rest",
            n=n,
        ),
        action=message("left out"),
    )
    return tuple(p.only(~a) for p, a in zip(parts, at_null, strict=True)), (problem,)


def _without_doubles(parts: tuple[Part, ...]) -> tuple[tuple[Part, ...], tuple[Problem, ...]]:
    """Drop points that repeat the one before them."""
    kept: list[Part] = []
    n, first = 0, 0
    for part in parts:
        same = np.zeros(len(part), dtype=np.bool_)
        same[1:] = (part.lat[1:] == part.lat[:-1]) & (part.lon[1:] == part.lon[:-1])
        if same.any():
            first = first or int(part.line[same][0])
            n += int(same.sum())
            part = part.only(~same)
        kept.append(part)
    if not n:
        return parts, ()
    problem = Problem(
        code="duplicate-points",
        where=place_words(parts[0].unit, first, more=n > 1),
        what=message(
            "one point that repeats the point before it",
            "{n} points that repeat the point before them",
            n=n,
        ),
        action=message("left out"),
    )
    return tuple(kept), (problem,)


def _without_spikes(parts: tuple[Part, ...]) -> tuple[tuple[Part, ...], tuple[Problem, ...]]:
    """Drop single track points far off a dense line: out and back in one step.

    Route points may lie anywhere on purpose, and so may those of a sparse track.
    """
    kept: list[Part] = []
    lines: list[int] = []
    for part in parts:
        spike = _spikes(part) if part.kind == "trk" else np.zeros(len(part), dtype=np.bool_)
        lines += part.line[spike].tolist()
        kept.append(part.only(~spike) if spike.any() else part)
    if not lines:
        return parts, ()
    problem = Problem(
        code="spike",
        where=place_words(parts[0].unit, lines[0]),
        what=message(
            "one single point more than {limit_m} off the line, out and back in one step",
            "{n} single points more than {limit_m} off the line, out and back in one step",
            n=len(lines),
            limit_m=_SPIKE_M,
        ),
        action=message("left out"),
    )
    return tuple(kept), (problem,)


def _spikes(part: Part) -> BoolArray:
    found = np.zeros(len(part), dtype=np.bool_)
    if len(part) < 8 or steps_within(part.lon, part.lat, _SPIKE_M):
        return found
    step = steps_m(part.lon, part.lat)
    across = between_m(part.lon[:-2], part.lat[:-2], part.lon[2:], part.lat[2:])
    usual = float(np.median(step))
    leg = np.minimum(step[:-1], step[1:])
    found[1:-1] = (leg > max(_SPIKE_M, 30 * usual)) & (across < 5 * usual + 0.05 * leg)
    return found


def _checked_heights(parts: tuple[Part, ...]) -> tuple[tuple[Part, ...], tuple[Problem, ...]]:
    """Turn heights that cannot be measurements into NaN; flag those that are odd but possible."""
    if not any(len(p) for p in parts):
        return parts, ()
    ele = np.concatenate([p.ele_m for p in parts])
    known = ~np.isnan(ele)
    if not known.any():
        return parts, ()
    if (ele[known] == 0).all() and known.sum() > 1:
        problem = Problem(
            code="heights-all-zero",
            what=message("every height in the file is 0"),
            action=message("taken as unknown"),
        )
        return tuple(replace(p, ele_m=np.full(len(p), np.nan)) for p in parts), (problem,)
    problems: list[Problem] = []
    with np.errstate(invalid="ignore"):
        wild = known & ~((ele >= _MIN_ELE_M) & (ele <= _MAX_ELE_M))
        below = (ele < 0) & ~wild
    if wild.any():
        parts = tuple(replace(part, ele_m=_possible_m(part.ele_m)) for part in parts)
        problems.append(_impossible(int(wild.sum())))
    if below.any():
        problems.append(_below_sea(int(below.sum()), float(ele[below].min())))
    return parts, tuple(problems)


def _possible_m(ele_m: FloatArray) -> FloatArray:
    return np.where((ele_m >= _MIN_ELE_M) & (ele_m <= _MAX_ELE_M), ele_m, np.nan)


def _impossible(n: int) -> Problem:
    return Problem(
        code="heights-impossible",
        what=message(
            "one height below {low_ele_m} or above {high_ele_m}",
            "{n} heights below {low_ele_m} or above {high_ele_m}",
            n=n,
            low_ele_m=_MIN_ELE_M,
            high_ele_m=_MAX_ELE_M,
        ),
        action=message("taken as unknown"),
    )


def _below_sea(n: int, low_ele_m: float) -> Problem:
    return Problem(
        code="heights-below-sea",
        what=message(
            "one height below sea level, at {low_ele_m}",
            "{n} heights below sea level, the lowest {low_ele_m}",
            n=n,
            low_ele_m=low_ele_m,
        ),
        action=message("kept"),
    )
