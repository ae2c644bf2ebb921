"""The frame of the straight-line diagram: a row a day, all rows of one scale."""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from terrain.values.arrays import FloatArray
from terrain.values.plan import Day

WIDTH = 900.0  # of the longest row, in px: with lane names as wide as the page
LABELS = 124.0  # of the column of lane names
_LONG_RIDE_M, _FOLD_M = 150_000.0, 120_000.0
_NICE = (0.1, 0.2, 0.5, 1, 2, 5, 10, 20, 25, 50, 100, 200, 500)


@dataclass(frozen=True, slots=True, kw_only=True)
class DiagramRow:
    """One row: metres from_m to to_m, drawn at px_per_m from x = 0; day : None if it is no day."""

    from_m: float
    to_m: float
    px_per_m: float
    day: Day | None = None

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
        return self.from_m <= at_m <= self.to_m

    def sample(self, at_m: FloatArray, value: FloatArray) -> tuple[FloatArray, FloatArray]:
        """The part of a series within the row, ends included by interpolation."""
        at_m, value = np.asarray(at_m, dtype=float), np.asarray(value, dtype=float)
        inside = (at_m > self.from_m) & (at_m < self.to_m)
        ends = np.interp([self.from_m, self.to_m], at_m, value, left=np.nan, right=np.nan)
        at = np.concatenate([[self.from_m], at_m[inside], [self.to_m]])
        return at, np.concatenate([ends[:1], value[inside], ends[1:]])


def day_rows(
    days: Sequence[Day], length_m: float, *, dated: bool, width: float = WIDTH
) -> list[DiagramRow]:
    """A row for each day; the longest takes the whole width, the others keep its scale.

    A ride of one undated day folds each 120 km from 150 km on.
    """
    spans: list[tuple[float, float, Day | None]] = [
        (day.from_m, day.to_m, day) for day in days if day.to_m - day.from_m >= 1.0
    ]
    if len(spans) <= 1 and not dated and length_m > _LONG_RIDE_M:
        cuts = [*np.arange(0.0, length_m - 1.0, _FOLD_M).tolist(), length_m]
        spans = [(a, b, None) for a, b in itertools.pairwise(cuts)]
    spans = spans or [(0.0, length_m, None)]
    scale = width / max(max(b - a for a, b, _ in spans), 1.0)
    return [DiagramRow(from_m=a, to_m=b, px_per_m=scale, day=day) for a, b, day in spans]


def nice_step(span: float, ticks: int) -> float:
    """A round step that cuts `span` into about `ticks` parts."""
    wanted = span / max(ticks, 1)
    return next((step for step in _NICE if step >= wanted), 1000.0)


def nice_top(value: float, ticks: int = 5) -> float:
    """The next round number from a value up, of a scale from nought."""
    step = nice_step(max(value, 1e-9), ticks)
    return math.ceil(value / step - 1e-9) * step
