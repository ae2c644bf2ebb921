"""Ways out of an off-road stretch, and where a van can meet it."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import Any

from terrain.values.arrays import FloatArray, freeze_fields

_SHORT_S = 300.0  # common practice, no source


class ExitMode(StrEnum):
    """Which way one leaves."""

    BACK = "back"  # turn round on the ride
    ON = "on"  # ride on to the end of the stretch
    SIDE = "side"  # leave the ride at a junction


@dataclass(frozen=True, slots=True, kw_only=True)
class ExitPoint:
    """A point on or near the ride. at_m : metres along the ride; None if it lies off it."""

    lon: float
    lat: float
    at_m: float | None = None
    name: str | None = None

    def to_dict(self) -> dict[str, Any]:
        return {"at_m": self.at_m, "lon": self.lon, "lat": self.lat, "name": self.name}


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class WayOut:
    """One way out from a point of the ride to a road of the paved network.

    at_m : where one stands; time_s, length_m : to the paved road; to : where it is reached
    leave_at_m : where one leaves the ride, None if one stays on it
    restricted_m : how much of the way off the ride a tag of access closes; time_s counts it at a
        price
    lon, lat : the way itself [deg]; empty where it was not drawn
    """

    at_m: float
    out: ExitMode
    time_s: float
    length_m: float
    to: ExitPoint
    leave_at_m: float | None
    lon: FloatArray
    lat: FloatArray
    restricted_m: float = 0.0

    def __post_init__(self) -> None:
        freeze_fields(self, ("lon", "lat"), len(self.lon))

    def to_dict(self) -> dict[str, Any]:
        return {
            "at_m": self.at_m,
            "out": self.out.value,
            "time_s": self.time_s,
            "length_m": self.length_m,
            "to": self.to.to_dict(),
            "leave_at_m": self.leave_at_m,
            "restricted_m": self.restricted_m,
        }


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Exit:
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
    words: str
    van_gaps: tuple[tuple[float, float], ...] = ()

    @property
    def is_short(self) -> bool:
        """Out within five minutes from anywhere: no decision, no way out to plan."""
        return self.worst is not None and self.worst.time_s <= _SHORT_S and not self.unknown_m

    def to_dict(self) -> dict[str, Any]:
        def spot(value: ExitPoint | None) -> dict[str, Any] | None:
            return None if value is None else value.to_dict()

        return {
            "from_m": self.from_m,
            "to_m": self.to_m,
            "ride_s": self.ride_s,
            "worst": None if self.worst is None else self.worst.to_dict(),
            "unknown_m": self.unknown_m,
            "sides": [way.to_dict() for way in self.sides],
            "last_decision": self.last_decision.to_dict(),
            "commit_m": self.commit_m,
            "commit_s": self.commit_s,
            "turn_back_until_m": self.turn_back_until_m,
            "van_before": spot(self.van_before),
            "van_after": spot(self.van_after),
            "van_worst": spot(self.van_worst),
            "van_worst_s": self.van_worst_s,
            "van_passes": self.van_passes,
            "van_gaps": [list(gap) for gap in self.van_gaps],
            "words": self.words,
        }
