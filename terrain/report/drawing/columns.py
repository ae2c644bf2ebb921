"""Columns of ground along an axis: what a drawing of some hundred pixels can show of a ride."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import groupby
from typing import NamedTuple, Protocol

import numpy as np

from terrain.values.arrays import FloatArray
from terrain.values.ground import GroundKind

NARROW_PX = 6.0  # narrower columns would be needles
_ALIKE = 0.02  # a difference of chances that nobody sees


class Grounded(Protocol):
    """A part of a ride whose ground is told: chances, or a ground where they are None."""

    @property
    def from_m(self) -> float: ...
    @property
    def to_m(self) -> float: ...
    @property
    def p(self) -> tuple[float, ...] | None: ...
    @property
    def ground(self) -> GroundKind: ...


class Axis(Protocol):
    """Metres from_m to to_m, drawn at px_per_m from 0."""

    @property
    def from_m(self) -> float: ...
    @property
    def to_m(self) -> float: ...
    @property
    def px_per_m(self) -> float: ...


class GroundColumn(NamedTuple):
    """Start and width [px]; chances, None on a ferry or off the map; the ground there, else ""."""

    at: float
    wide: float
    p: tuple[float, ...] | None
    other: str


def ground_columns(
    axis: Axis, stretches: Sequence[Grounded], narrow_px: float = NARROW_PX
) -> list[GroundColumn]:
    """The columns to draw, in order and without a break.

    What is narrower than narrow_px is drawn that wide, its chances the mean of what lies there: no
    needles, no metre of chance lost, and nothing short drowned in something long beside it.
    """
    shown = [s for s in stretches if s.to_m > axis.from_m and s.from_m < axis.to_m]
    other = ["" if s.p is not None else s.ground.value for s in shown]
    out: list[GroundColumn] = []
    first = 0
    for name, group in groupby(other):
        part = shown[first : (first := first + len(tuple(group)))]
        metres = np.array([*(s.from_m for s in part), part[-1].to_m])
        edge = (metres.clip(axis.from_m, axis.to_m) - axis.from_m) * axis.px_per_m
        if name:
            out.append(GroundColumn(float(edge[0]), float(edge[-1] - edge[0]), None, name))
        else:
            out += _land(edge, [s.p for s in part if s.p is not None], narrow_px)
    return out


def _land(
    edge: FloatArray, p: Sequence[tuple[float, ...]], narrow_px: float
) -> Iterator[GroundColumn]:
    """Columns between edges, shape (n + 1,), of n chances, the narrow ones in a row cut anew."""
    chances = np.array(p)
    area = np.vstack([np.zeros(chances.shape[1]),
                      np.cumsum(chances * np.diff(edge)[:, None], axis=0)])  # fmt: skip
    cuts = _cuts(edge[_seen(p)], narrow_px)
    at_cuts = np.stack([np.interp(cuts, edge, row) for row in area.T], axis=1)
    wide = np.diff(cuts)
    share = np.diff(at_cuts, axis=0) / np.maximum(wide, 1e-9)[:, None]
    for a, w, one in zip(cuts, wide.tolist(), share.tolist(), strict=False):
        if w > 0.0:
            yield GroundColumn(a, w, tuple(one), "")


def _seen(p: Sequence[tuple[float, ...]]) -> list[int]:
    """The edges at which somebody would see a difference, the first and last among them."""
    seen, last = [0], p[0]
    for i, now in enumerate(p):
        if not (-_ALIKE < now[0] - last[0] < _ALIKE and -_ALIKE < now[-1] - last[-1] < _ALIKE):
            seen += (i,)
            last = now
    return [*seen, len(p)]


def _cuts(edge: FloatArray, narrow_px: float) -> list[float]:
    """Where columns begin and end; a run of narrow ones may take half of narrow_px each side."""
    at: list[float] = edge.tolist()
    cuts = at[:1]
    last = 0
    for is_narrow, group in groupby((np.diff(edge) < narrow_px).tolist()):
        first, last = last, last + len(tuple(group))
        if not is_narrow:
            cuts += at[first + 1 : last + 1]
            continue
        lack = max(0.0, narrow_px - (at[last] - at[first])) / 2
        # What was taken from the column before by another run stays its own.
        a, b = max(at[first] - lack, *cuts[-2:-1], at[0]), min(at[-1], at[last] + lack)
        parts = max(1, int((b - a) / narrow_px + 1e-9))
        cuts[-1:] = [a + (b - a) * k / parts for k in range(parts)]
        cuts += (b,)
    return cuts
