"""Places for labels on a map, so that no two lie on each other."""

from __future__ import annotations

import numpy as np

from terrain.report.drawing.svg import text_width
from terrain.values.arrays import FloatArray

_LEAST = 3.0  # clear space around a label, px
_MOST_COVERED = 2  # points of the ride, 4 px apart, that a label may lie on


class LabelPlacer:
    """Keeps what is taken; hands out the baseline's start for a label, or None.

    Positions are tried right, left, above, below and at the corners; the first that hits no
    other label wins, those that also miss the ride before those that do not.
    """

    def __init__(self, width: float, height: float) -> None:
        self.width, self.height = width, height
        self.taken: list[tuple[float, float, float, float]] = []
        self._rooms: list[tuple[float, float, float, float]] = []  # with clear space around
        self.line_x: FloatArray = np.zeros(0)  # rising
        self.line_y: FloatArray = np.zeros(0)

    def avoid_line(self, line: FloatArray) -> None:
        """Points of the ride that labels should rather not cover, shape (n, 2)."""
        points = _dense(line)
        points = points[np.argsort(points[:, 0], kind="stable")]
        self.line_x, self.line_y = points[:, 0].copy(), points[:, 1].copy()

    def block(self, left: float, top: float, width: float, height: float) -> None:
        """Keep a box free."""
        self._take((left, top, left + width, top + height))

    def clearest(
        self, spots: list[tuple[float, float]], width: float, height: float
    ) -> tuple[float, float]:
        """Of some left top corners the one whose box covers least of the ride; it is kept.

        A box that hits nothing kept before wins.
        """
        boxes = [(x, y, x + width, y + height) for x, y in spots]
        best = min(boxes, key=lambda box: (not self._clear(box), self._covers(box)))
        self._take(best)
        return best[0], best[1]

    def place(
        self, x: float, y: float, translator: str, size: float, *, away: float, must: bool = False
    ) -> tuple[float, float] | None:
        """Baseline start of a label for a spot at x, y."""
        width, height = text_width(translator, size), size
        spots = _spots(x, y, width, height, away)
        best, least = None, np.inf
        for box in spots:
            if self._fits(box):
                covers = self._covers(box)
                if covers < least:
                    best, least = box, covers
                if not covers:
                    break
        if not must and least > _MOST_COVERED:
            return None
        best = best or spots[0]
        self._take(best)
        return best[0], best[3] - 0.22 * size

    def _fits(self, box: tuple[float, float, float, float]) -> bool:
        left, top, right, bottom = box
        if left < 2 or top < 2 or right > self.width - 2 or bottom > self.height - 2:
            return False
        return self._clear(box)

    def _clear(self, box: tuple[float, float, float, float]) -> bool:
        left, top, right, bottom = box
        for a, b, c, d in self._rooms:
            if right >= a and left <= c and bottom >= b and top <= d:
                return False
        return True

    def _take(self, box: tuple[float, float, float, float]) -> None:
        left, top, right, bottom = box
        self.taken.append(box)
        self._rooms.append((left - _LEAST, top - 1, right + _LEAST, bottom + 1))

    def _covers(self, box: tuple[float, float, float, float]) -> int:
        """How many points of the ride the label would lie on."""
        left, top, right, bottom = box
        first = self.line_x.searchsorted(left, side="right")
        last = self.line_x.searchsorted(right, side="left")
        if last <= first:
            return 0
        y = self.line_y[first:last]
        return int(np.count_nonzero((y > top) & (y < bottom)))


def _spots(
    x: float, y: float, width: float, height: float, away: float
) -> list[tuple[float, float, float, float]]:
    half = height / 2
    corners = 0.7 * away
    starts = [
        (x + away, y - half),
        (x - away - width, y - half),
        (x - width / 2, y - away - height),
        (x - width / 2, y + away),
        (x + corners, y - corners - height),
        (x + corners, y + corners),
        (x - corners - width, y - corners - height),
        (x - corners - width, y + corners),
    ]
    starts += [(x + 3 * away, y - half), (x - 3 * away - width, y - half)]
    return [(left, top, left + width, top + height) for left, top in starts]


def _dense(line: FloatArray) -> FloatArray:
    """The line as points about 4 px apart."""
    if len(line) < 2:
        return line
    step = np.hypot(*np.diff(line, axis=0).T)
    at = np.concatenate([[0.0], np.cumsum(step)])
    if at[-1] <= 0:
        return line[:1]
    new = np.arange(0.0, at[-1], 4.0)
    return np.column_stack([np.interp(new, at, line[:, 0]), np.interp(new, at, line[:, 1])])
