"""Spots in a plane, asked which of them lie near others.

The tree is shapely's: what reads a route has loaded it already, where another library's would cost
a report a quarter of a second.
"""

from __future__ import annotations

import numpy as np
import shapely

from terrain.values.arrays import FloatArray, IntArray


class Spots:
    """Spots to look among; xy : shape (n, 2) [m]."""

    def __init__(self, xy: FloatArray) -> None:
        self._tree = shapely.STRtree(shapely.points(xy))

    def nearest(self, xy: FloatArray, within_m: float) -> tuple[FloatArray, IntArray]:
        """Distance to the nearest spot and its number; infinite and -1 if none is as near.

        xy : shape (m, 2) [m]. Returns: shape (m,) each.
        """
        away, number = np.full(len(xy), np.inf), np.full(len(xy), -1, np.int64)
        (row, spot), apart = self._tree.query_nearest(
            shapely.points(xy), max_distance=within_m, return_distance=True, all_matches=False
        )
        away[row], number[row] = apart, spot
        return away, number

    def within(self, xy: FloatArray, reach_m: float) -> list[IntArray]:
        """Numbers of the spots as near as that to each position, rising; xy : shape (m, 2) [m]."""
        row, spot = self._tree.query(shapely.points(xy), predicate="dwithin", distance=reach_m)
        order = np.lexsort((spot, row))
        ends = np.cumsum(np.bincount(row, minlength=len(xy)))
        return np.split(spot[order].astype(np.int64), ends[:-1])
