"""Leaving out points of a line that add nothing to its shape."""

from __future__ import annotations

import numpy as np
from numba import njit

from terrain.calc.geodesy import metres_per_degree
from terrain.values.arrays import BoolArray, FloatArray


@njit(cache=True, nogil=True)
def thin_line(
    lon: FloatArray, lat: FloatArray, tolerance_m: float, longest_m: float
) -> BoolArray:
    """Mask of the points to keep so that the line stays within a tolerance of itself.

    lon, lat : [deg], shape (n,)
    tolerance_m : farthest a left-out point may lie from the thinned line [m]
    longest_m : no thinned step is longer than this unless the drawn one was [m]
    Returns: shape (n,), first and last True.
    A single forward pass: from each kept point the farthest successor is taken whose step keeps
    every skipped point within the tolerance, by narrowing the sector of allowed bearings.
    Source: the sleeve method, Zhao and Saalfeld 1997, Auto-Carto 13, pp. 214-223 (from memory).
    """
    n = len(lon)
    keep = np.zeros(n, dtype=np.bool_)
    if n == 0:
        return keep
    keep[0] = True
    keep[n - 1] = True
    start = 0
    while start < n - 1:
        kx, ky = metres_per_degree(lat[start])
        low, high = -np.pi, np.pi
        base = 0.0
        has_base = False
        farthest = 0.0
        end = start + 1
        for i in range(start + 1, n):
            x = (lon[i] - lon[start]) * kx
            y = (lat[i] - lat[start]) * ky
            dist = np.hypot(x, y)
            if i > start + 1 and dist > longest_m:
                break
            if dist + 0.5 * tolerance_m < farthest:  # the line turns back: keep the turn
                break
            farthest = max(farthest, dist)
            if dist > tolerance_m:
                bearing = np.arctan2(y, x)
                half = np.arcsin(tolerance_m / dist)
                if not has_base:
                    base, has_base = bearing, True
                turn = bearing - base
                if turn > np.pi:
                    turn -= 2 * np.pi
                elif turn < -np.pi:
                    turn += 2 * np.pi
                if turn < low or turn > high:
                    break
                low = max(low, turn - half)
                high = min(high, turn + half)
            end = i
        keep[end] = True
        start = end
    return keep
