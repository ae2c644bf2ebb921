"""Planned routes from GPX files: guarded, parsed, checked, and made one line.

read_route -> parse_route: unpack -> to_utf8 -> guard -> to_lines -> check_points
                           -> choose_parts -> Route
"""

from __future__ import annotations

from pathlib import Path, PurePath

import numpy as np

from terrain.errors import RouteError
from terrain.inputs.gpx.checks import check_points
from terrain.inputs.gpx.container import too_big, unpack
from terrain.inputs.gpx.guard import guard
from terrain.inputs.gpx.limits import LIMITS, GpxLimits
from terrain.inputs.gpx.lines import Lines, Part, to_lines
from terrain.inputs.gpx.look import by_bytes
from terrain.inputs.gpx.outline import Outline
from terrain.inputs.gpx.text import to_utf8
from terrain.inputs.gpx.trip import choose_parts, piece_numbers
from terrain.inputs.reading import read_most
from terrain.text.message import sentence
from terrain.values.route import Problem, Route, RouteKind

__all__ = ["LIMITS", "GpxLimits", "parse_route", "read_route"]


def read_route(path: str | Path, limits: GpxLimits = LIMITS) -> Route:
    """The planned route in a .gpx, .gpx.gz or .zip file.

    Raises RouteError if the file cannot be read or used.
    """
    path = Path(path)
    return parse_route(read_most(path, limits.max_bytes, RouteError), path.name, limits)


def parse_route(data: bytes, source: str, limits: GpxLimits = LIMITS) -> Route:
    """The planned route in the bytes of a file.

    data : GPX 1.0 or 1.1 in any usual encoding, plain, gzipped, or alone in a zip
    source : the file's name as shown to people
    Returns: the line in riding order, with all that was odd listed in `problems`.
    Raises RouteError with line, reason and fix for what cannot be put right.
    """
    if len(data) > limits.max_bytes:
        raise too_big(limits, source, packed=False)
    content = unpack(data, source, limits)
    if (other := by_bytes(content)) is not None:
        raise RouteError(other.what, source, other.fix)
    text = to_utf8(content, source, limits)
    if (other := by_bytes(text.data)) is not None:
        raise RouteError(other.what, source, other.fix)
    outline = guard(text, source, limits)
    lines = to_lines(outline)
    held = {p.kind for p in lines.parts if len(p)}
    lines, found = check_points(lines, source)
    ridden = choose_parts(lines, source)
    problems = (*text.problems, *outline.problems(), *found, *ridden.problems, *_recorded(outline))
    return _route(lines, ridden.parts, held, problems, source)


def _route(
    lines: Lines,
    parts: tuple[Part, ...],
    held: set[str],
    problems: tuple[Problem, ...],
    source: str,
) -> Route:
    lon = np.concatenate([p.lon for p in parts])
    unwrapped = np.unwrap(lon, period=360.0)
    if (unwrapped != lon).any():
        problems = (*problems, _ANTIMERIDIAN)
    piece = np.repeat(piece_numbers(parts), [len(p) for p in parts])
    kind = RouteKind.TRACK if held == {"trk"} else RouteKind.ROUTE
    return Route(
        name=lines.name or next((p.name for p in parts if p.name), "") or PurePath(source).stem,
        kind=RouteKind.MIXED if len(held) > 1 else kind,
        lon=unwrapped,
        lat=np.concatenate([p.lat for p in parts]),
        ele_m=np.concatenate([p.ele_m for p in parts]),
        piece=piece.astype(np.int32),
        shaping=np.concatenate([p.shaping for p in parts]),
        planned=np.repeat([p.kind == "rte" for p in parts], [len(p) for p in parts]),
        waypoints=lines.waypoints,
        problems=problems,
        source=source,
    )


_ANTIMERIDIAN = Problem(
    code="antimeridian",
    where="",
    what=sentence("the line crosses 180 degrees of longitude"),
    action=sentence("kept in one piece; longitudes run on past 180"),
)


def _recorded(outline: Outline) -> tuple[Problem, ...]:
    """Say so if most points carry times that move on: a ride that was recorded, not planned."""
    n = sum(len(p.lines) for p in outline.parts)
    if outline.n_times < 0.5 * n or outline.last_time == outline.first_time:
        return ()
    day = max(outline.first_time, outline.last_time)[:10]
    return (
        Problem(
            code="recorded",
            where="",
            what=sentence("the points carry times, to {last}, as in a recorded ride", last=day),
            action=sentence("times not used"),
        ),
    )
