"""The lines of a file as arrays: one part per segment or route, in file order."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, replace

import numpy as np

from terrain.inputs.gpx.outline import Outline, RawPart
from terrain.inputs.gpx.points import Points
from terrain.text.message import sentence
from terrain.values.arrays import BoolArray, FloatArray, IntArray
from terrain.values.route import Waypoint


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Part:
    """One unbroken line of the file.

    kind : "trk" or "rte"; group : number of its track or route in the file, from 0
    label : as shown to people, such as "track 2, segment 1"
    name : its own name, empty if it has none
    lon, lat [deg], ele_m (NaN if not given), line (in the file), shaping : shape (n,)
    """

    kind: str
    group: int
    label: str
    name: str
    lon: FloatArray
    lat: FloatArray
    ele_m: FloatArray
    line: IntArray
    shaping: BoolArray

    def __len__(self) -> int:
        return len(self.lon)

    def only(self, keep: BoolArray | IntArray) -> Part:
        """The same part with some of its points."""
        return replace(
            self,
            lon=self.lon[keep],
            lat=self.lat[keep],
            ele_m=self.ele_m[keep],
            line=self.line[keep],
            shaping=self.shaping[keep],
        )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Lines:
    """All parts in file order, with the waypoints and the file's own name."""

    name: str
    parts: tuple[Part, ...]
    waypoints: tuple[Waypoint, ...]
    waypoint_lines: tuple[int, ...]


def to_lines(outline: Outline) -> Lines:
    """Join the batches of each part, and label the parts."""
    n_segments = Counter((p.kind, p.group) for p in outline.parts)
    return Lines(
        name=outline.name,
        parts=tuple(_part(raw, outline, n_segments[raw.kind, raw.group]) for raw in outline.parts),
        waypoints=tuple(outline.waypoints),
        waypoint_lines=tuple(outline.waypoint_lines),
    )


def _part(raw: RawPart, outline: Outline, n_segments: int) -> Part:
    label: str = title_words(raw.kind, raw.group)
    if n_segments > 1:
        label = sentence("{title}, segment {n_segment}", title=label, n_segment=raw.segment + 1)
    batches = raw.batches or [_NO_POINTS]
    return Part(
        kind=raw.kind,
        group=raw.group,
        label=label,
        name=outline.names.get((raw.kind, raw.group), ""),
        lon=np.concatenate([b.lon for b in batches]),
        lat=np.concatenate([b.lat for b in batches]),
        ele_m=np.concatenate([b.ele_m for b in batches]),
        line=np.asarray(raw.lines, dtype=np.int64),
        shaping=np.concatenate([b.shaping for b in batches]),
    )


_NO_POINTS = Points(np.zeros(0), np.zeros(0), np.zeros(0), np.zeros(0, dtype=np.bool_))


def title_words(kind: str, group: int) -> str:
    """ "track 1" or "route 1"."""
    if kind == "trk":
        return sentence("track {n_part}", n_part=group + 1)
    return sentence("route {n_part}", n_part=group + 1)


def line_words(line: int, *, more: bool = False) -> str:
    """ "line 12"; more: there are others further on."""
    if more:
        return sentence("line {n_line} and on", n_line=int(line))
    return sentence("line {n_line}", n_line=int(line))
