"""GPX documents: text -> guard -> lines; see `terrain.inputs.lines` for routes in any format."""

from __future__ import annotations

from terrain.errors import RouteError
from terrain.inputs.lines.gpx.guard import guard
from terrain.inputs.lines.gpx.parts import to_lines
from terrain.inputs.lines.limits import LIMITS, GpxLimits
from terrain.inputs.lines.lines import Lines
from terrain.inputs.lines.look import by_bytes
from terrain.inputs.lines.text import to_utf8
from terrain.values.route import Problem

__all__ = ["LIMITS", "GpxLimits", "gpx_lines"]


def gpx_lines(content: bytes, source: str, limits: GpxLimits) -> tuple[Lines, tuple[Problem, ...]]:
    """The lines of a GPX 1.0 or 1.1 document, and what was odd or put right.

    Raises RouteError with line, reason and fix for what cannot be put right.
    """
    text = to_utf8(content, source, limits)
    if (other := by_bytes(text.data)) is not None:
        raise RouteError(other.what, source, other.fix)
    outline = guard(text, source, limits)
    lines = to_lines(outline)
    n = sum(len(p.lines) for p in outline.parts)
    return lines, (*text.problems, *outline.problems(), *outline.times.problems(n))
