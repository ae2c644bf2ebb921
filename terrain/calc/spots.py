"""Spots in a plane, asked which of them lie near others.

Few are measured one by one; many stand in a tree. The tree is shapely's: what reads a route has
loaded it already, where another library's would cost a report a quarter of a second. To make its
points takes longer than to measure some hundred thousand distances.
"""

from __future__ import annotations

from functools import cached_property

import numpy as np
import shapely

from terrain.values.arrays import FloatArray, IntArray

_FEW = 200_000  # distances that are measured one by one


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
            apart = self._apart(xy)
            best = apart.argmin(axis=1)
            nearest = apart[np.arange(len(xy)), best]
            row = np.flatnonzero(nearest <= within_m)
            away[row], number[row] = nearest[row], best[row]
            return away, number
        (row, spot), told = self._tree.query_nearest(
            shapely.points(xy), max_distance=within_m, return_distance=True, all_matches=False
        )
        away[row], number[row] = told, spot
        return away, number

    def within(self, xy: FloatArray, reach_m: float) -> list[IntArray]:
        """Numbers of the spots as near as that to each position, rising; xy : shape (m, 2) [m]."""
        if self._few(xy):
            return [np.flatnonzero(near) for near in self._apart(xy) <= reach_m]
        row, spot = self._tree.query(shapely.points(xy), predicate="dwithin", distance=reach_m)
        order = np.lexsort((spot, row))
        ends = np.cumsum(np.bincount(row, minlength=len(xy)))
        return np.split(spot[order].astype(np.int64), ends[:-1])

    def _few(self, xy: FloatArray) -> bool:
        return len(self._xy) * len(xy) <= _FEW

    def _apart(self, xy: FloatArray) -> FloatArray:
        """Distances, a row for each position, shape (m, n)."""
        away = xy[:, None, :] - self._xy[None, :, :]
        return np.hypot(away[..., 0], away[..., 1])
