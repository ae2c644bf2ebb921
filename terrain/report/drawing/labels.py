"""Places for labels on a map, so that none lies on another or on the ride."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from itertools import chain

import numpy as np

from terrain.report.drawing.svg import text_width
from terrain.values.arrays import BoolArray, FloatArray

Box = tuple[float, float, float, float]  # left, top, right, bottom

_LEAST = 3.0  # clear space around a label, px
_CELL = 4.0  # side of a square of the grid that knows where the ride lies, px
_OFF_RIDE = 9.0  # from a label with a leader to the middle of the ride, whose edge is 7.5 px off
_DISTANCES = np.array([16.0, 24, 36, 52, 74, 104, 144, 196, 260, 340])
_RINGS = (3, 6)  # where the distances are parted: what is near is tried first
_ANGLES = np.radians(np.arange(0.0, 360.0, 22.5))
_ASIDE = np.array([-_OFF_RIDE, -_OFF_RIDE, _OFF_RIDE, _OFF_RIDE])
_BEYOND = np.array([0, 0, 1, 1])  # the last squares of a box are left out
_CROSSING = 4.0  # how much worse a leader is that lies on the ride than one of its length beside it
_SAMPLES = np.linspace(0.0, 1.0, 16)[:, None]


@dataclass(frozen=True, slots=True)
class Lead:
    """A label beside the ride: its box, and the leader's line from the spot to it."""

    box: Box
    from_x: float
    from_y: float
    to_x: float
    to_y: float

    @property
    def is_left(self) -> bool:
        """The words stand left of the leader's end."""
        return (self.box[0] + self.box[2]) / 2 < self.to_x


def _runs_through(lead: Lead, box: Box) -> bool:
    """Whether a leader runs through a box: where its line is within both sides' bounds at once
    (the slab test)."""
    enter, leave = 0.0, 1.0
    for low, high, start, end in (
        (box[0], box[2], lead.from_x, lead.to_x), (box[1], box[3], lead.from_y, lead.to_y),
    ):  # fmt: skip
        way = end - start if abs(end - start) >= 1e-9 else 1e-9
        near, far = (low - 1.0 - start) / way, (high + 1.0 - start) / way
        if near > far:
            near, far = far, near
        enter = near if near > enter else enter
        leave = far if far < leave else leave
    return enter <= leave


class LabelPlacer:
    """Keeps what is taken; hands out places.

    line : points of the ride that labels leave free, shape (n, 2)
    """

    def __init__(self, width: float, height: float, line: FloatArray | None = None) -> None:
        self._most = np.array([width - 2, height - 2])
        self.taken: list[Box] = []
        self.marks: list[Box] = []  # that leaders may touch: the spots they lead to
        self.leads: list[Lead] = []
        shape = (int(height // _CELL) + 2, int(width // _CELL) + 2)
        self._ride: BoolArray = np.zeros(shape, dtype=bool)
        self._cells = np.array([*shape[::-1]] * 2)
        if line is not None and len(line):
            cell = (_dense(line) // _CELL).astype(int)
            inside = ((cell >= 0) & (cell < np.array(shape)[::-1])).all(axis=1)
            self._ride[cell[inside, 1], cell[inside, 0]] = True
        self._sum = np.zeros((shape[0] + 1, shape[1] + 1), dtype=np.int32)
        rows = self._ride.cumsum(axis=0, dtype=np.int32)
        np.cumsum(rows, axis=1, out=self._sum[1:, 1:])

    def block(self, left: float, top: float, width: float, height: float) -> None:
        """Keep a box free."""
        self.taken.append((left, top, left + width, top + height))

    def mark(self, x: float, y: float, half: float) -> None:
        """Keep the square around a spot free of words."""
        self.marks.append((x - half, y - half, x + half, y + half))

    def clearest(
        self, spots: list[tuple[float, float]], width: float, height: float
    ) -> tuple[float, float]:
        """Of some left top corners the one whose box covers least of the ride; it is kept.

        A box that hits nothing kept before wins.
        """
        boxes = [(x, y, x + width, y + height) for x, y in spots]
        covers = self._covers(np.array(boxes)).tolist()
        best = min(range(len(spots)), key=lambda k: (self._hits(boxes[k]), covers[k]))
        self.taken.append(boxes[best])
        return spots[best]

    def place(
        self, x: float, y: float, words: str, size: float, *, away: float, weight: float = 1.0
    ) -> tuple[float, float] | None:
        """Baseline start of a label close to a spot at x, y; None if there is no room.

        Tried right, left, above, below and at the corners: the first that hits nothing wins.

        weight : how much wider bold letters are
        """
        boxes = _around(x, y, weight * text_width(words, size), size, away)
        free = self._free(boxes)
        for box in map(tuple, boxes[free].tolist()):
            if not self._hits(box):
                self.taken.append(box)
                return box[0], box[3] - 0.22 * size
        return None

    def lead(
        self, x: float, y: float, width: float, height: float, *, line: float, reach: float
    ) -> Lead | None:
        """Room for a label with a leader to a spot; the nearest that leaves all else free.

        line : height of the label's first line, at whose middle the leader ends
        reach : from the spot to where the leader starts
        """
        best: tuple[float, Lead] | None = None
        for nearest, steps in _rings():
            if best is not None and best[0] <= nearest:  # no leader is better than it is long
                break
            boxes, ends = _leads(x, y, width, height, line, steps)
            found = self._cheapest(x, y, boxes, ends, reach)
            if found is not None and (best is None or found[0] < best[0]):
                best = found
        if best is None:
            return None
        self.leads.append(best[1])
        self.taken.append(best[1].box)
        return best[1]

    def _cheapest(
        self, x: float, y: float, boxes: FloatArray, ends: FloatArray, reach: float
    ) -> tuple[float, Lead] | None:
        """The best of some places for a label that leave all else free, with its cost."""
        free = self._free(boxes, _ASIDE)
        if not len(free):
            return None
        costs = self._costs(x, y, ends[free])
        for n in np.argsort(costs, kind="stable").tolist():
            box, (end_x, end_y) = tuple(boxes[free[n]].tolist()), ends[free[n]].tolist()
            if self._hits(box):
                continue
            far = max(float(np.hypot(end_x - x, end_y - y)), 1e-6)
            start = min(reach / far, 1.0)
            lead = Lead(box, x + start * (end_x - x), y + start * (end_y - y), end_x, end_y)
            if not self._crosses(lead):
                return float(costs[n]), lead
        return None

    def _costs(self, x: float, y: float, ends: FloatArray) -> FloatArray:
        """Length of the leaders, and what of the ride they lie on."""
        start = np.array([x, y])
        points = start + _SAMPLES * (ends - start)[:, None, :]
        cell = np.minimum(np.maximum(points // _CELL, 0), self._cells[:2] - 1).astype(int)
        far = np.hypot(*(ends - start).T)
        on = self._ride[cell[..., 1], cell[..., 0]] & (far[:, None] * _SAMPLES[:, 0] > 2 * _CELL)
        return np.asarray(far * (1.0 + _CROSSING * on.mean(axis=1)))

    def _crosses(self, lead: Lead) -> bool:
        """Whether a leader runs over a label, its own too, or another leader."""
        for box in (lead.box, *self.taken):
            if _runs_through(lead, box):
                return True
        return any(_meet(lead, other) for other in self.leads)

    def _free(self, boxes: FloatArray, aside: FloatArray | float = 0.0) -> FloatArray:
        """Which boxes lie on the map and, grown by what is to be left aside, off the ride."""
        inside = (boxes[:, :2] >= 2).all(axis=1) & (boxes[:, 2:] <= self._most).all(axis=1)
        free = np.flatnonzero(inside)
        return np.asarray(free[self._covers(boxes[free] + aside) == 0])

    def _hits(self, box: Box) -> bool:
        """Whether a box lies on one that is taken, or on a leader."""
        left, top, right, low = box[0] - _LEAST, box[1] - 1, box[2] + _LEAST, box[3] + 1
        for x0, y0, x1, y1 in chain(self.taken, self.marks):
            if right >= x0 and left <= x1 and low >= y0 and top <= y1:
                return True
        return any(_runs_through(lead, box) for lead in self.leads)

    def _covers(self, boxes: FloatArray) -> np.ndarray:
        """How many squares of the ride each box lies on."""
        cell = np.minimum(np.maximum(boxes // _CELL + _BEYOND, 0), self._cells)
        left, top, right, low = cell.astype(int).T
        total = self._sum
        return np.asarray(
            total[low, right] - total[top, right] - total[low, left] + total[top, left]
        )


def _around(x: float, y: float, width: float, height: float, away: float) -> FloatArray:
    half, corners = height / 2, 0.7 * away
    starts = np.array([
        (x + away, y - half), (x - away - width, y - half),
        (x - width / 2, y - away - height), (x - width / 2, y + away),
        (x + corners, y - corners - height), (x + corners, y + corners),
        (x - corners - width, y - corners - height), (x - corners - width, y + corners),
        (x + 2.5 * away, y - half), (x - 2.5 * away - width, y - half),
    ])  # fmt: skip
    return np.hstack([starts, starts + np.array([width, height])])


@cache
def _rings() -> tuple[tuple[float, FloatArray], ...]:
    """Steps from a spot to where a leader may end, ring by ring, the nearest first: the least
    distance, and shape (n, 3) with the side of the end that the words stand on (1 right, -1 left;
    both above and below)."""
    unit = [
        (np.cos(angle), np.sin(angle), side)
        for angle in _ANGLES
        for side in (1.0, -1.0)
        if side * np.cos(angle) > -0.5
    ]
    return tuple(
        (float(ring[0]), np.vstack([np.array(unit) * (far, far, 1.0) for far in ring]))
        for ring in np.split(_DISTANCES, _RINGS)
    )


def _leads(
    x: float, y: float, width: float, height: float, line: float, steps: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Boxes of a label to try, and the ends of their leaders: words right of the end, or left."""
    ends = np.array([x, y]) + steps[:, :2]
    left = np.where(steps[:, 2] > 0, ends[:, 0] + 4, ends[:, 0] - 4 - width)
    top = ends[:, 1] - line / 2
    return np.column_stack([left, top, left + width, top + height]), ends


def _meet(one: Lead, two: Lead) -> bool:
    """Whether two leaders cross."""

    def side(lead: Lead, x: float, y: float) -> float:
        along = lead.to_x - lead.from_x, lead.to_y - lead.from_y
        return along[0] * (y - lead.from_y) - along[1] * (x - lead.from_x)

    return (
        side(one, two.from_x, two.from_y) * side(one, two.to_x, two.to_y) <= 0
        and side(two, one.from_x, one.from_y) * side(two, one.to_x, one.to_y) <= 0
    )


def _dense(line: FloatArray) -> FloatArray:
    """The line as points at most two thirds of a square apart."""
    if len(line) < 2:
        return line
    step = np.hypot(*np.diff(line, axis=0).T)
    at = np.concatenate([[0.0], np.cumsum(step)])
    if at[-1] <= 0:
        return line[:1]
    new = np.arange(0.0, at[-1], _CELL / 1.5)
    return np.column_stack([np.interp(new, at, line[:, 0]), np.interp(new, at, line[:, 1])])
