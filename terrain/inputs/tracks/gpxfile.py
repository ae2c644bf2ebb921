"""The fixes of a GPX file, read through the guard of planned routes."""

from __future__ import annotations

from pathlib import PurePath

import numpy as np

from terrain.errors import RouteError, TrackError
from terrain.inputs.lines.gpx.guard import guard
from terrain.inputs.lines.gpx.outline import Outline, RawPart
from terrain.inputs.lines.limits import LIMITS
from terrain.inputs.lines.look import by_bytes
from terrain.inputs.lines.text import to_utf8
from terrain.inputs.tracks.fixes import Fixes
from terrain.text.message import message
from terrain.values.arrays import FloatArray
from terrain.values.route import Problem

_FIX = message("Export the recorded track itself, with its times.")


def gpx_fixes(content: bytes, source: str) -> Fixes:
    """The fixes of all tracks of a GPX 1.0 or 1.1 document, in file order.

    Raises TrackError for what is no GPX, for no tracks, and for tracks without times.
    """
    outline = _outline(content, source)
    parts = [part for part in outline.parts if part.kind == "trk" and len(part.lines)]
    if not parts:
        what = message("the file holds no recorded track")
        if any(part.kind == "rte" for part in outline.parts):
            what = message("the file holds a planned route, not a recorded track")
        raise TrackError(what, source, _FIX)
    time_s = np.concatenate([np.frombuffer(part.times_s, dtype=np.float64) for part in parts])
    if np.isnan(time_s).all():
        raise TrackError(
            message("the points of the track have no times"),
            source,
            message("Export it with its times."),
        )
    names = (outline.names.get(("trk", part.group), "") for part in parts)
    counts = [len(part.lines) for part in parts]
    zoneless = (_zoneless(outline.n_zoneless),) if outline.n_zoneless else ()
    return Fixes(
        name=outline.name or next(filter(None, names), "") or PurePath(source).stem,
        time_s=time_s,
        lon=_column(parts, "lon"),
        lat=_column(parts, "lat"),
        ele_m=_column(parts, "ele_m"),
        part=np.repeat(np.arange(len(parts)), counts).astype(np.int32),
        group=np.repeat([part.group for part in parts], counts).astype(np.int32),
        problems=(*outline.problems(), *zoneless),
    )


def _outline(content: bytes, source: str) -> Outline:
    try:
        if (other := by_bytes(content)) is not None:
            raise TrackError(other.what, source, _FIX)
        text = to_utf8(content, source, LIMITS)
        if (other := by_bytes(text.data)) is not None:
            raise TrackError(other.what, source, _FIX)
        return guard(text, source, LIMITS)
    except RouteError as exc:
        raise TrackError(exc.what, exc.where, _FIX) from exc


def _column(parts: list[RawPart], name: str) -> FloatArray:
    return np.concatenate([np.array(getattr(part, name)) for part in parts])


def _zoneless(n: int) -> Problem:
    return Problem(
        code="no-zone",
        what=message("one time without a zone", "{n} times without a zone", n=n),
        action=message("read as UTC, which GPX means"),
    )
