"""Where a recorded line stays in one place: kernels over its fixes."""

from __future__ import annotations

import numpy as np

from terrain.calc.kernels import Index, kernel, plain
from terrain.values.arrays import FloatArray, Int32Array, IntArray


def stays(
    x_m: FloatArray, y_m: FloatArray, time_s: FloatArray, piece: Int32Array,
    radius_m: float, least_s: float,
) -> tuple[IntArray, IntArray]:  # fmt: skip
    """First and last fix of each run that keeps within a radius of where it began, long enough.

    x_m, y_m : the fixes in a flat frame [m]; time_s rising; piece never falling; shape (n,)
    radius_m : a run ends at the first fix farther than this from its centre
    least_s : shorter runs are no stay
    Returns: rows of the first and of the last fix of each stay.
    Source: stay points by distance and time thresholds, Li et al. 2008, Mining user similarity
    based on location history, ACM GIS, section 3 (from memory); the centre moves with its fixes
    here, since a receiver at rest drifts.
    """
    first = np.empty(len(x_m), dtype=np.int64)
    last = np.empty(len(x_m), dtype=np.int64)
    n = _stays(
        plain(x_m), plain(y_m), plain(time_s), plain(piece), float(radius_m), float(least_s),
        first, last,
    )  # fmt: skip
    return first[:n], last[:n]


@kernel
def _stays(
    x: FloatArray, y: FloatArray, t: FloatArray, piece: IntArray, radius_m: float,
    least_s: float, first: IntArray, last: IntArray,
) -> Index:  # fmt: skip
    n = len(x)
    found = np.int64(0)
    i = np.int64(0)
    while i < n:
        cx, cy = x[i], y[i]
        count = 1.0
        j = i + 1
        while j < n and piece[j] == piece[i] and np.hypot(x[j] - cx, y[j] - cy) <= radius_m:
            # Until it is a stay the centre holds: a slow ride must get away from it.
            if t[j] - t[i] >= least_s:
                count += 1.0
                # A slow average: the receiver drifts over minutes.
                w = 1.0 / min(count, 50.0)
                cx += (x[j] - cx) * w
                cy += (y[j] - cy) * w
            j += 1
        if t[j - 1] - t[i] >= least_s:
            first[found], last[found] = i, j - 1
            found += 1
            i = j
        else:
            i += 1
    return found
