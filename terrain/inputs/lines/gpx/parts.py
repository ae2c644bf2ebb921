"""From what the guard pass gathered to the lines of the file."""

from __future__ import annotations

from collections import Counter

import numpy as np

from terrain.inputs.lines.gpx.outline import Outline, RawPart
from terrain.inputs.lines.lines import Lines, Part, title_words
from terrain.text.message import message


def to_lines(outline: Outline) -> Lines:
    """The columns of each part as arrays, with its label."""
    n_segments = Counter((p.kind, p.group) for p in outline.parts)
    return Lines(
        name=outline.name,
        parts=tuple(_part(raw, outline, n_segments[raw.kind, raw.group]) for raw in outline.parts),
        waypoints=tuple(outline.waypoints),
        waypoint_lines=tuple(outline.waypoint_lines),
    )


def _part(raw: RawPart, outline: Outline, n_segments: int) -> Part:
    label = title_words(raw.kind, raw.group)
    if n_segments > 1:
        label = message("{title}, segment {n_segment}", title=label, n_segment=raw.segment + 1)
    return Part(
        kind=raw.kind,
        group=raw.group,
        label=label,
        name=outline.names.get((raw.kind, raw.group), ""),
        lon=np.array(raw.lon),
        lat=np.array(raw.lat),
        ele_m=np.array(raw.ele_m),
        line=np.array(raw.lines),
        shaping=np.array(raw.shaping, dtype=np.bool_),
    )
