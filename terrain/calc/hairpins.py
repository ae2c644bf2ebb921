"""Hairpins of a line on the ground."""

from __future__ import annotations

import numpy as np

from terrain.values.arrays import BoolArray, FloatArray

# A hairpin turns by three quarters of half a circle or more within the ride through a bend of
# about 34 m radius (135 degrees of it are 80 m). Common practice, no source.
HAIRPIN_DEG = 135.0
HAIRPIN_M = 80.0
STEP_M = 10.0
# One sharper corner than this is a turn on the spot or at a junction, not a bend of a road.
CORNER_DEG = 120.0


def hairpins_m(
    at_m: FloatArray, lon: FloatArray, lat: FloatArray, *, left_out: BoolArray | None = None
) -> FloatArray:
    """Positions of the hairpins along a line [m], rising.

    at_m : metres along the line, never falling; lon, lat [deg]; shape (n,)
    left_out : per point, shape (n,); True where bends do not count, such as in a roundabout
    A hairpin turns at least HAIRPIN_DEG one way within HAIRPIN_M, without a single corner
    sharper than CORNER_DEG. Bends that meet in an S count as two, one long curl as one.
    """
    if len(at_m) < 3 or at_m[-1] - at_m[0] < 2 * STEP_M:
        return np.zeros(0)
    x = np.cumsum(np.concatenate([[0.0], np.diff(lon) * np.cos(np.radians(lat[:-1]))]))
    keep = np.concatenate([[True], np.diff(at_m) > 0])
    at, x, y = at_m[keep], x[keep], lat[keep]
    if len(at) < 3:
        return np.zeros(0)
    turn = _turns_deg(x, y)
    count = int((at[-1] - at[0]) / STEP_M) + 1
    cell = np.minimum(((at[1:-1] - at[0]) / STEP_M).astype(np.int64), count - 1)
    by_step = np.bincount(cell, weights=turn, minlength=count).astype(np.float64)
    bad = np.abs(turn) > CORNER_DEG
    if left_out is not None:
        bad |= left_out[keep][1:-1]
    spoilt = np.bincount(cell, weights=bad, minlength=count) > 0
    by_step[spoilt] = 0.0
    return np.asarray(at[0] + STEP_M * _bends(by_step), dtype=np.float64)


def _turns_deg(x: FloatArray, y: FloatArray) -> FloatArray:
    """Change of heading at each inner point, -180..180, left positive."""
    heading = np.degrees(np.arctan2(np.diff(y), np.diff(x)))
    return (np.diff(heading) + 180.0) % 360.0 - 180.0


def _bends(by_step: FloatArray) -> FloatArray:
    """Middles, in steps, of the windows that turn far enough; each bend counts once."""
    reach = int(HAIRPIN_M / STEP_M)
    rows = []
    # Short windows too: where bends follow closely a long one would hold two that cancel out.
    for width in range(2, reach + 1):
        sums = np.abs(np.convolve(by_step, np.ones(width))[width - 1 :])
        first = np.flatnonzero(sums >= HAIRPIN_DEG)
        rows += [(-float(sums[i]), width, int(i)) for i in first]
    taken = np.zeros(len(by_step) + reach, dtype=bool)
    middles = []
    for _, width, first_step in sorted(rows):
        window = slice(first_step, first_step + width)
        if not taken[window].any():
            taken[window] = True
            middles.append(first_step + width / 2)
    return np.array(sorted(middles), dtype=np.float64)
