"""A group that rides one route together, a rider at a time; nothing is averaged."""

from __future__ import annotations

from dataclasses import dataclass

from terrain.text.message import Message
from terrain.values.fleet import BikeClass
from terrain.values.report import Report
from terrain.values.strip import Strip
from terrain.values.trip import Trip
from terrain.values.verdict import PerAudience, RidePart


@dataclass(frozen=True, slots=True, kw_only=True)
class RidesWith:
    """The others of a group. slowest : whose pace all keep to; bikes : that all ride, each once"""

    slowest: Trip
    bikes: tuple[BikeClass, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class InGroup:
    """A rider's report within a group. alone_s : in the saddle at the rider's own pace"""

    report: Report
    alone_s: float


@dataclass(frozen=True, slots=True, kw_only=True)
class GroupRider:
    """One bike of the group, with who sits on it.

    name : as the booking has it; about : experience, pillion, bags
    bike : class booked, as people call it; "" if none is
    riding_s : in the saddle, None if not known
    too_hard, at_edge : parts of the ride that are too hard for this rider, and at the edge of what
        the rider can do, each in riding order
    why : what they are, in a sentence; answer : whether this bike may go; then : what to do about
        it, to each audience; each "" for nothing to say
    may_go : None while it is open
    """

    name: str
    about: Message | str
    bike: str
    riding_s: float | None
    too_hard: tuple[RidePart, ...]
    at_edge: tuple[RidePart, ...]
    why: Message | str
    answer: Message | str
    then: PerAudience
    may_go: bool | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Group:
    """The riders of one route. strip : the ground they share"""

    strip: Strip
    riders: tuple[GroupRider, ...]
