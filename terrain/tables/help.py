"""Numbers of help by road."""

from __future__ import annotations

import numpy as np

from terrain.values.arrays import BoolArray, Float32Array, FloatArray

# A road closed by a tag of access is ridden in an emergency, at so many times its length and
# time: leave to ask for, a gate, a state that nobody vouches for (common practice, no source).
RESTRICTED_PRICE = 3.0


def priced(cost: FloatArray | Float32Array, restricted: BoolArray) -> FloatArray:
    """Costs of whole edges as an emergency counts them. restricted : closed by a tag of access"""
    out: FloatArray = np.where(restricted, RESTRICTED_PRICE * np.float64(cost), np.float64(cost))
    return out


# Of a way to help, less than this on such roads goes without saying: a yard, a drive
# (common practice, no source).
RESTRICTED_TOLD_M = 100.0
# What nine tenths of a region's roads keep within is usual there (common practice, no source).
USUAL_SHARE = 0.9
