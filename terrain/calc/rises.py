"""The longest part of a sequence that never falls."""

from __future__ import annotations

import bisect

import numpy as np

from terrain.values.arrays import FloatArray, IntArray


def longest_rise(values: FloatArray) -> IntArray:
    """Rows of a longest subsequence that never falls, in order; empty for no values.

    Source: patience sorting, Schensted 1961, Canad. J. Math. 13, 179-191 (from memory).
    """
    tails: list[float] = []
    rows: list[int] = []
    before = np.full(len(values), -1, dtype=np.int64)
    for i, value in enumerate(values.tolist()):
        at = bisect.bisect_right(tails, value)
        before[i] = rows[at - 1] if at else -1
        if at == len(tails):
            tails.append(value)
            rows.append(i)
        else:
            tails[at], rows[at] = value, i
    out = rows[-1:]
    while out and before[out[-1]] >= 0:
        out.append(int(before[out[-1]]))
    return np.array(out[::-1], dtype=np.int64)
