"""Ways out of an off-road stretch, and where a van can meet it."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import ClassVar

from terrain.values.arrays import Columns, FloatArray
from terrain.values.plain import Plain

_SHORT_S = 300.0  # common practice, no source


class ExitMode(StrEnum):
    """Which way one leaves."""

    BACK = "back"  # turn round on the ride
    ON = "on"  # ride on to the end of the stretch
    SIDE = "side"  # leave the ride at a junction


@dataclass(frozen=True, slots=True, kw_only=True)
class ExitPoint(Plain):
    """A point on or near the ride. at_m : metres along the ride; None if it lies off it."""

    at_m: float | None = None
    lon: float
    lat: float
    name: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class WayOut(Columns, Plain):
    """One way out from a point of the ride to a road of the paved network.

    at_m : where one stands; time_s, length_m : to the paved road; to : where it is reached
    leave_at_m : where one leaves the ride, None if one stays on it
    restricted_m : how much of the way off the ride a tag of access closes; time_s counts it at a
        price
    lon, lat : the way itself [deg]; empty where it was not drawn
    """

    _untold: ClassVar = ("lon", "lat")
    at_m: float
    out: ExitMode
    time_s: float
    length_m: float
    to: ExitPoint
    leave_at_m: float | None
    lon: FloatArray
    lat: FloatArray
    restricted_m: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Exit(Plain):
    """The ways out of one off-road stretch of the ride.

    from_m, to_m : the stretch, from paved network to paved network (or the ride's end)
    ride_s : time to ride it
    worst : the point from which the way out takes longest, with its way out; None if no way out
        is known on mapped roads from some point of it (see unknown_m)
    unknown_m : length of the stretch from which no way out is known
    sides : junctions where one can leave the ride for a paved road without riding it, in order
    last_decision : the last point where one can still choose before the longest part with no
        side way out; after it the only ways are on or back; commit_m, commit_s : that part
    turn_back_until_m : up to here turning back is quicker than riding on; beyond it, ride on
    van_before, van_after : last and first points of the ride a van can reach round the stretch
    van_passes : a van can use the whole of it; van_gaps : the parts that it cannot, from and to
        [m], of any length but those it is carried over
    van_worst : from the worst point, the quickest place a van can come to; van_worst_s : time
        of the rider to it; None if none is known
    """

    from_m: float
    to_m: float
    ride_s: float
    worst: WayOut | None
    unknown_m: float
    sides: tuple[WayOut, ...]
    last_decision: ExitPoint
    commit_m: float
    commit_s: float
    turn_back_until_m: float | None
    van_before: ExitPoint | None
    van_after: ExitPoint | None
    van_worst: ExitPoint | None
    van_worst_s: float | None
    van_passes: bool
    van_gaps: tuple[tuple[float, float], ...] = ()
    words: str

    @property
    def is_short(self) -> bool:
        """Out within five minutes from anywhere: no decision, no way out to plan."""
        return self.worst is not None and self.worst.time_s <= _SHORT_S and not self.unknown_m
