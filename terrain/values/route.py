"""The planned line, in riding order, and what was odd about the file it came from."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from terrain.values.arrays import BoolArray, Columns, FloatArray, Int32Array
from terrain.values.plain import Plain


class RouteKind(StrEnum):
    """What the file held: tracks, routes, or both."""

    TRACK = "track"
    ROUTE = "route"
    MIXED = "mixed"


@dataclass(frozen=True, slots=True, kw_only=True)
class Problem(Plain):
    """One oddity of an input file and what was done about it.

    code : short stable name, such as "duplicate-points"
    where : line, part or point, in words; empty if the whole file
    what : what was found
    action : what terrain did, in the past tense
    """

    code: str
    where: str = ""
    what: str
    action: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Waypoint:
    """A named point of the file that is not part of the line."""

    name: str
    lon: float
    lat: float
    ele_m: float | None = None
    symbol: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Route(Columns):
    """A planned line.

    name : from the file, else the file's own name
    lon, lat : WGS 84 degrees, shape (n,), n >= 2; the line never jumps the antimeridian by
        360 degrees: longitudes may leave -180..180 so that it stays continuous
    ele_m : heights the file gave [m], shape (n,); NaN where it gave none
    piece : shape (n,), never falling; a new number where the file breaks the line
    shaping : shape (n,); True for points that only shape a route between its stops
    planned : shape (n,); True for points of a <rte>, which may lie far apart on purpose
    source : file name as shown to the user
    day_starts : where the file says that a later day begins, as the number of its first point
    """

    name: str
    kind: RouteKind
    lon: FloatArray
    lat: FloatArray
    ele_m: FloatArray
    piece: Int32Array
    shaping: BoolArray
    planned: BoolArray
    waypoints: tuple[Waypoint, ...] = ()
    problems: tuple[Problem, ...] = ()
    source: str = ""
    day_starts: tuple[int, ...] = ()

    def __post_init__(self) -> None:
        Columns.__post_init__(self)
        if len(self.lon) < 2:
            raise ValueError("a route needs two points or more")

    @property
    def n_points(self) -> int:
        return len(self.lon)
