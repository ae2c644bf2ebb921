"""Leaving out points of a line that add nothing to its shape, and steadying a shaky one."""

from __future__ import annotations

import numpy as np

from terrain.calc.geodesy import metres_per_degree
from terrain.calc.kernels import Index, inner, kernel, plain
from terrain.values.arrays import BoolArray, FloatArray

# The line may come back towards its start by this share of the tolerance before a turn is kept.
# Common practice, no source.
_BACK_SHARE = 0.5
# So a left-out point may lie this many tolerances from the thinned line: the tolerance aside,
# and the share beyond the end.
FARTHEST_OUT = float(np.hypot(1.0, _BACK_SHARE))
# Common practice, no source.
_SMOOTH_REACH = 3.0  # widths beyond which weights no longer count
_LEAST_STEP_M = 0.01  # points that repeat the one before are that far apart
# Common practice, no source: of shaken open lines 0.48 is left or more, of planned ones 0.25 at
# most.
_NOISE_LEFT = 0.35


def thin_line(lon: FloatArray, lat: FloatArray, tolerance_m: float, longest_m: float) -> BoolArray:
    """Mask of the points to keep so that the line stays within a tolerance of itself.

    lon, lat : [deg], shape (n,), finite
    tolerance_m : farthest a left-out point may lie aside of the thinned line [m]; beyond the end
        of a step, where the line turns back, FARTHEST_OUT times that
    longest_m : no thinned step is longer than this unless the drawn one was [m]
    Returns: shape (n,), first and last True.
    A single forward pass: from each kept point the farthest successor is taken whose step keeps
    every skipped point within the tolerance, by narrowing the sector of allowed bearings.
    Source: the sleeve method, Zhao and Saalfeld 1997, Auto-Carto 13, pp. 214-223 (from memory).
    """
    keep = np.zeros(len(lon), dtype=np.bool_)
    if len(lon):
        _thin(plain(lon), plain(lat), float(tolerance_m), float(longest_m), keep)
    return keep


@kernel
def _thin(
    lon: FloatArray, lat: FloatArray, tolerance_m: float, longest_m: float, keep: BoolArray
) -> None:
    n = len(lon)
    keep[0] = keep[n - 1] = True
    start: Index = np.int64(0)
    while start < n - 1:
        start = _step_end(lon, lat, tolerance_m, longest_m, start)
        keep[start] = True


@inner
def _step_end(
    lon: FloatArray, lat: FloatArray, tolerance_m: float, longest_m: float, start: Index
) -> Index:
    """The farthest point that one step from `start` may go to."""
    kx, ky = metres_per_degree(lat[start])
    low, high, base = -np.pi, np.pi, 0.0
    has_base = False
    farthest = 0.0
    end = start + 1
    for i in range(start + 1, len(lon)):
        x = (lon[i] - lon[start]) * kx
        y = (lat[i] - lat[start]) * ky
        dist = np.hypot(x, y)
        if i > start + 1 and dist > longest_m:
            break
        if dist + _BACK_SHARE * tolerance_m < farthest:  # the line turns back: keep the turn
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
        elif has_base:  # so near the start a bearing says nothing of the points left out
            break
        end = i
    return end


def shake_m(x_m: FloatArray, y_m: FloatArray) -> float:
    """Spread of the points about a smooth line, by axis [m]: the noise of a shaky recording.

    x_m, y_m : the line in a flat frame [m], shape (n,); n < 5 gives 0
    Third differences of independent noise have variance 20 times its own, and those of a smooth
    line vanish if its points lie evenly; the median keeps bends from counting. A planner's points
    do not: corners of streets, and few where it is straight. So they are also divided by the
    length drawn, where any smooth line's vanish and noise keeps half and more.
    """
    if len(x_m) < 5:
        return 0.0
    even = np.array([[-1.0], [3.0], [-3.0], [1.0]])
    step = np.maximum(np.hypot(np.diff(x_m), np.diff(y_m)), _LEAST_STEP_M)
    a, b, c = step[:-2], step[1:-1], step[2:]
    drawn = np.stack([-1.0 / (a * (a + b) * (a + b + c)), 1.0 / (a * b * (b + c)),
                      -1.0 / ((a + b) * b * c), 1.0 / ((a + b + c) * (b + c) * c)])  # fmt: skip
    by_number, by_length = (_third_m(x_m, y_m, weight) for weight in (even, drawn))
    return by_number if by_length >= _NOISE_LEFT * by_number else by_length


def _third_m(x_m: FloatArray, y_m: FloatArray, weight: FloatArray) -> float:
    """Noise [m] by the median of weighted sums of four points; weight : shape (4, 1 or n)."""
    weight = weight / np.sqrt((weight**2).sum(axis=0))
    sums = [sum(weight[k] * axis[k : len(axis) - 3 + k] for k in range(4)) for axis in (x_m, y_m)]
    return float(1.4826 * np.median(np.abs(np.concatenate(sums))))


def smooth_line(
    x_m: FloatArray, y_m: FloatArray, along: FloatArray, width_m: float
) -> tuple[FloatArray, FloatArray]:
    """Local straight-line fits along the line, weighted by a normal curve of distance ridden.

    x_m, y_m : flat frame [m]; along : distance along the line [m], never falling, shape (n,)
    width_m : standard deviation of the weights [m]
    Returns: smoothed x_m, y_m, shape (n,).
    """
    out_x, out_y = np.empty(len(x_m)), np.empty(len(x_m))
    _smooth(plain(x_m), plain(y_m), plain(along), float(width_m), out_x, out_y)
    return out_x, out_y


@kernel
def _smooth(
    x_m: FloatArray, y_m: FloatArray, along: FloatArray, width_m: float,
    out_x: FloatArray, out_y: FloatArray,
) -> None:  # fmt: skip
    first, n = 0, len(x_m)
    for i in range(n):
        while along[i] - along[first] > _SMOOTH_REACH * width_m:
            first += 1
        w0 = w1 = w2 = x0 = x1 = y0 = y1 = 0.0
        j = first
        while j < n and along[j] - along[i] <= _SMOOTH_REACH * width_m:
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
