"""Spots in a plane, asked which of them lie near others.

Few are measured one by one; many stand in a tree. The tree is shapely's: what reads a route has
loaded it already, where another library's would cost a report a quarter of a second. To make its
points takes as long as to measure a hundred distances from each.
"""

from __future__ import annotations

from functools import cached_property

import numpy as np
import shapely

from terrain.values.arrays import FloatArray, IntArray

_FEW = 100  # distances a spot that are measured one by one
_MOST = 2_000_000  # of them in all: 32 MB while they are asked for


class Spots:
    """Spots to look among; xy : shape (n, 2) [m]."""

    def __init__(self, xy: FloatArray) -> None:
        self._xy = xy

    @cached_property
    def _tree(self) -> shapely.STRtree:
        return shapely.STRtree(shapely.points(self._xy))

    def nearest(self, xy: FloatArray, within_m: float) -> tuple[FloatArray, IntArray]:
        """Distance to the nearest spot and its number; infinite and -1 if none is as near.

        xy : shape (m, 2) [m]. Returns: shape (m,) each.
        """
        away, number = np.full(len(xy), np.inf), np.full(len(xy), -1, np.int64)
        if not len(self._xy) or not len(xy):
            return away, number
        if self._few(xy):
            square = self._square_m2(xy)
            best = square.argmin(axis=1)
            nearest = np.sqrt(square[np.arange(len(xy)), best])
            row = np.flatnonzero(nearest <= within_m)
            away[row], number[row] = nearest[row], best[row]
            return away, number
        (row, spot), told = self._tree.query_nearest(
            shapely.points(xy), max_distance=within_m, return_distance=True
        )
        away[row] = told
        # Of several as near the first, however many there are to look among.
        order = np.argsort(spot)[::-1]
        number[row[order]] = spot[order]
        return away, number

    def within(self, xy: FloatArray, reach_m: float) -> list[IntArray]:
        """Numbers of the spots as near as that to each position, rising; xy : shape (m, 2) [m]."""
        if self._few(xy):
            return [np.flatnonzero(near) for near in self._square_m2(xy) <= reach_m**2]
        row, spot = self._tree.query(shapely.points(xy), predicate="dwithin", distance=reach_m)
        order = np.lexsort((spot, row))
        ends = np.cumsum(np.bincount(row, minlength=len(xy)))
        return np.split(spot[order].astype(np.int64), ends[:-1])

    def _few(self, xy: FloatArray) -> bool:
        n, m = len(self._xy), len(xy)
        return n * m <= min(_FEW * (n + m), _MOST)

    def _square_m2(self, xy: FloatArray) -> FloatArray:
        """Squares of the distances, a row for each position, shape (m, n)."""
        (x, y), (spot_x, spot_y) = xy.T[..., None], self._xy.T
        return np.asarray((x - spot_x) ** 2 + (y - spot_y) ** 2)
