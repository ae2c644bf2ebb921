"""Parts of a ride that belong together, and where they lie."""

from __future__ import annotations

from collections.abc import Callable, Iterable

import numpy as np

from terrain.tables.verdict import LIMITS
from terrain.values.arrays import BoolArray, FloatArray, joined_spans, spans
from terrain.values.ground import Stretch
from terrain.values.places import PlacesAlong
from terrain.values.verdict import RidePart


def merged(parts: Iterable[tuple[float, float]], near_m: float = 0.0) -> tuple[RidePart, ...]:
    """Parts in riding order and apart; those that overlap or lie within near_m are one."""
    return tuple(RidePart(from_m=a, to_m=b) for a, b in joined_spans(parts, near_m))


def where(stretches: Iterable[Stretch], wanted: Callable[[Stretch], bool]) -> tuple[RidePart, ...]:
    """The parts whose stretches are wanted, as they are: nothing between is counted in."""
    return merged((s.from_m, s.to_m) for s in stretches if wanted(s))


def pieces(parts: Iterable[RidePart]) -> tuple[RidePart, ...]:
    """Parts as a rider sees them: a short interruption ends no piece."""
    return merged(((part.from_m, part.to_m) for part in parts), LIMITS.near_m)


def sampled(at_m: FloatArray, mask: BoolArray) -> tuple[RidePart, ...]:
    """The parts between the first and the last sample of each run of a mask."""
    return merged((float(at_m[a]), float(at_m[b - 1])) for a, b in spans(mask))


def within(at_m: FloatArray, parts: Iterable[tuple[float, float]]) -> BoolArray:
    """Which positions lie in any of the parts, ends included."""
    hits = [(from_m <= at_m) & (at_m <= to_m) for from_m, to_m in parts]
    return np.asarray(np.any(hits, axis=0)) if hits else np.zeros(len(at_m), np.bool_)


def total_m(parts: Iterable[RidePart]) -> float:
    return sum(part.length_m for part in parts)


def place_of(parts: tuple[RidePart, ...], places: PlacesAlong) -> str | None:
    """The named place that the middle of the longest part lies near; None if none is near."""
    if not parts:
        return None
    longest = max(parts, key=lambda part: part.length_m)
    return places.near((longest.from_m + longest.to_m) / 2) or None
