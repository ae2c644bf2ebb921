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


def shake_m(x_m: FloatArray, y_m: FloatArray) -> float:
    """Spread of the points about a smooth line, by axis [m]: the noise of a shaky recording.

    x_m, y_m : the line in a flat frame [m], shape (n,); n < 5 gives 0
    Third differences of independent noise have variance 20 times its own, and those of a smooth
    line vanish; the median keeps bends from counting.
    """
    if len(x_m) < 5:
        return 0.0
    third = np.r_[np.abs(np.diff(x_m, 3)), np.abs(np.diff(y_m, 3))]
    return float(1.4826 * np.median(third) / np.sqrt(20.0))


@njit(cache=True, nogil=True)
def smooth_line(
    x_m: FloatArray, y_m: FloatArray, along: FloatArray, width_m: float
) -> tuple[FloatArray, FloatArray]:
    """Local straight-line fits along the line, weighted by a normal curve of distance ridden.

    x_m, y_m : flat frame [m]; along : distance along the line [m], never falling, shape (n,)
    width_m : standard deviation of the weights [m]
    Returns: smoothed x_m, y_m, shape (n,).
    """
    n = len(x_m)
    out_x, out_y = np.empty(n), np.empty(n)
    first = 0
    for i in range(n):
        while along[i] - along[first] > 3.0 * width_m:
            first += 1
        w0 = w1 = w2 = x0 = x1 = y0 = y1 = 0.0
        j = first
        while j < n and along[j] - along[i] <= 3.0 * width_m:
            u = along[j] - along[i]
            w = np.exp(-0.5 * (u / width_m) ** 2)
            w0 += w
            w1 += w * u
            w2 += w * u * u
            x0 += w * x_m[j]
            x1 += w * u * x_m[j]
            y0 += w * y_m[j]
            y1 += w * u * y_m[j]
            j += 1
        det = w0 * w2 - w1 * w1
        if det > 1e-9 * w0 * w0:
            out_x[i] = (w2 * x0 - w1 * x1) / det
            out_y[i] = (w2 * y0 - w1 * y1) / det
        else:
            out_x[i], out_y[i] = x0 / w0, y0 / w0
    return out_x, out_y
