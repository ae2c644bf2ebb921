"""The lines of a file as arrays: one part per segment or route, in file order."""

from __future__ import annotations

from dataclasses import dataclass, replace

from terrain.text.message import Message, message
from terrain.values.arrays import BoolArray, FloatArray, IntArray
from terrain.values.route import Waypoint


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Part:
    """One unbroken line of the file.

    kind : "trk" or "rte"; group : number of its track or route in the file, from 0
    label : as shown to people, such as "track 2, segment 1"
    name : its own name, empty if it has none
    lon, lat [deg], ele_m (NaN if not given), line (in the file), shaping : shape (n,)
    unit : what `line` counts, "line" or "point" of the file
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
    unit: str = "line"

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
    """All parts in file order, with the waypoints and the file's own name.

    unit : what `waypoint_lines` counts, "line" or "point" of the file
    """

    name: str
    parts: tuple[Part, ...]
    waypoints: tuple[Waypoint, ...]
    waypoint_lines: tuple[int, ...]
    unit: str = "line"


def title_words(kind: str, group: int) -> Message:
    """ "track 1" or "route 1"."""
    if kind == "trk":
        return message("track {n_part}", n_part=group + 1)
    return message("route {n_part}", n_part=group + 1)


LATITUDE, LONGITUDE = message("latitude"), message("longitude")


def place_in(source: str, unit: str, at: int) -> Message:
    """ "plan.gpx, line 12", or point 12."""
    if unit == "point":
        return message("{file}, point {point}", file=source, point=str(at))
    return message("{file}, line {line}", file=source, line=str(at))


def place_words(unit: str, at: int, *, more: bool = False) -> Message:
    """ "line 12" or "point 12" of a file; more: there are others further on."""
    if unit == "point":
        if more:
            return message("point {n_point} and on", n_point=int(at))
        return message("point {n_point}", n_point=int(at))
    if more:
        return message("line {n_line} and on", n_line=int(at))
    return message("line {n_line}", n_line=int(at))
