"""The frame of the straight-line diagram: rows of the ride, one scale, lanes stacked."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from terrain.values.arrays import FloatArray

WIDTH = 916.0  # of a row, in px
LABELS = 64.0  # of the column of lane names
GUTTER = 40.0  # right of a row, for the second height scale
_LONGEST_ROW_M = 125_000.0
_NICE = (0.1, 0.2, 0.5, 1, 2, 5, 10, 20, 25, 50, 100, 200, 500)


@dataclass(frozen=True, slots=True, kw_only=True)
class DiagramRow:
    """One folded row: metres from_m to to_m, drawn at px_per_m from x = 0."""

    from_m: float
    to_m: float
    px_per_m: float

    @property
    def width(self) -> float:
        return (self.to_m - self.from_m) * self.px_per_m

    def x(self, at_m: float) -> float:
        return (at_m - self.from_m) * self.px_per_m

    def xs(self, at_m: FloatArray) -> FloatArray:
        return (np.asarray(at_m, dtype=float) - self.from_m) * self.px_per_m

    def clip(self, from_m: float, to_m: float) -> tuple[float, float] | None:
        """x and width of the part of a span that lies in this row; None if none does."""
        a, b = max(from_m, self.from_m), min(to_m, self.to_m)
        return (self.x(a), (b - a) * self.px_per_m) if b > a else None

    def holds(self, at_m: float) -> bool:
        return self.from_m <= at_m < self.to_m

    def sample(self, at_m: FloatArray, value: FloatArray) -> tuple[FloatArray, FloatArray]:
        """The part of a series within the row, ends included by interpolation."""
        at_m, value = np.asarray(at_m, dtype=float), np.asarray(value, dtype=float)
        inside = (at_m > self.from_m) & (at_m < self.to_m)
        ends = np.interp([self.from_m, self.to_m], at_m, value, left=np.nan, right=np.nan)
        at = np.concatenate([[self.from_m], at_m[inside], [self.to_m]])
        return at, np.concatenate([ends[:1], value[inside], ends[1:]])


def fold(
    length_m: float,
    *,
    start_m: float = 0.0,
    longest_m: float = _LONGEST_ROW_M,
    width: float = WIDTH,
) -> list[DiagramRow]:
    """Rows of one scale that hold the ride from start_m on for length_m; the last may be shorter.

    A row's length is a round number of kilometres, so that rows start at one if the first does.
    """
    n = max(1, math.ceil(length_m / longest_m))
    each = length_m if n == 1 else math.ceil(length_m / n / 5000.0) * 5000.0
    scale = width / max(each, 1.0)
    end_m = start_m + length_m
    return [
        DiagramRow(from_m=float(a), to_m=float(min(a + each, end_m)), px_per_m=scale)
        for a in np.arange(start_m, end_m, each)
        if end_m - a > 1.0 or n == 1
    ] or [DiagramRow(from_m=start_m, to_m=end_m, px_per_m=scale)]


def nice_step(span: float, ticks: int) -> float:
    """A round step that cuts `span` into about `ticks` parts."""
    wanted = span / max(ticks, 1)
    return next((step for step in _NICE if step >= wanted), 1000.0)
