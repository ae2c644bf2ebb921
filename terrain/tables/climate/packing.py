"""Whole-number grids packed for a small file: differences, split into byte planes."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from terrain.values.arrays import ByteArray, Int16Array


def pack_grid(codes: NDArray[Any]) -> ByteArray:
    """Byte planes of the differences along both grid axes; codes must fit in int16.

    codes : shape (..., rows, columns)
    Returns: shape (2, ..., rows, columns), low bytes first. Neighbouring cells are alike, so
    the differences are small and a general compressor does the rest.
    """
    if codes.min() < -32768 or codes.max() > 32767:
        raise ValueError("codes do not fit in 16 bits")
    wrapped = codes.astype(np.int16).view(np.uint16)
    for axis in (-1, -2):
        before = np.roll(wrapped, 1, axis=axis)
        first: list[Any] = [slice(None)] * wrapped.ndim
        first[axis] = 0
        before[tuple(first)] = 0
        wrapped = wrapped - before
    return np.stack([(wrapped & 0xFF).astype(np.uint8), (wrapped >> 8).astype(np.uint8)])


def unpack_grid(planes: ByteArray) -> Int16Array:
    """The codes that pack_grid was given, shape (..., rows, columns)."""
    wrapped = planes[0].astype(np.uint16) | (planes[1].astype(np.uint16) << 8)
    for axis in (-2, -1):
        wrapped = np.cumsum(wrapped, axis=axis, dtype=np.uint16)
    codes: Int16Array = wrapped.view(np.int16)
    return codes
