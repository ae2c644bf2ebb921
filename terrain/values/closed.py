"""The parts of a ride that the map tags as closed to motorcycles, each with its tag and ways."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from enum import StrEnum
from typing import ClassVar

from terrain.values.plain import Plain


class Closure(StrEnum):
    """How a part is closed."""

    NO_MOTORCYCLE = "no-motorcycle"  # no, agricultural, forestry, military, ...
    BY_LEAVE = "by-leave"  # private, permit, customers, delivery, ...
    CONSTRUCTION = "construction"
    PROPOSED = "proposed"
    NO_MOTOR_ROAD = "no-motor-road"  # path, footway, cycleway, bridleway without leave
    THROUGH = "through"  # open to a destination, and the ride goes through
    AT_TIMES = "at-times"  # closed by a condition on month, weekday or hour


@dataclass(frozen=True, slots=True, kw_only=True)
class ClosedPart(Plain):
    """One part of the ride with one tag that closes it.

    tag : as key=value; way_ids : OSM ids of its ways in riding order, each once; name : of the
    first of them that has one; to_end : whether the ride starts or ends there, so that what a
    condition leaves open to a destination is open to it
    """

    _also: ClassVar = ("length_m",)
    _untold: ClassVar = ("to_end",)
    from_m: float
    to_m: float
    closure: Closure
    tag: str
    way_ids: tuple[int, ...]
    name: str | None = None
    to_end: bool = False

    @property
    def length_m(self) -> float:
        return self.to_m - self.from_m

    def within(self, from_m: float, to_m: float) -> ClosedPart | None:
        """What of it lies between two positions of the ride; None if nothing does."""
        start, end = max(self.from_m, from_m), min(self.to_m, to_m)
        if end <= start:
            return None
        return replace(self, from_m=start, to_m=end)


def closed_on(parts: Iterable[ClosedPart], from_m: float, to_m: float) -> tuple[ClosedPart, ...]:
    """The closed parts of one day or another piece of the ride."""
    return tuple(cut for part in parts if (cut := part.within(from_m, to_m)) is not None)


def closed_m(parts: Iterable[ClosedPart]) -> float:
    """Their length in all [m]."""
    return float(sum(part.length_m for part in parts))


def closed_by_tag(parts: Iterable[ClosedPart]) -> tuple[tuple[str, float], ...]:
    """Length in all of each tag [m], the longest first."""
    sums: dict[str, float] = {}
    for part in parts:
        sums[part.tag] = sums.get(part.tag, 0.0) + part.length_m
    return tuple(sorted(sums.items(), key=lambda item: (-item[1], item[0])))
