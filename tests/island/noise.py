"""Random streams and smooth random fields, the same on every machine."""

from __future__ import annotations

import zlib
from typing import Final

import numpy as np

from terrain.values.arrays import FloatArray
from tests.island.frame import COLS, ROWS, STEP_M, steady

SEED: Final = 20_270_314


def stream(purpose: str) -> np.random.Generator:
    """An independent random stream for one purpose, so that parts do not disturb each other."""
    return np.random.Generator(np.random.PCG64([SEED, zlib.crc32(purpose.encode())]))


def smooth_field(purpose: str, wave_m: float, octaves: int = 1, gain: float = 0.5) -> FloatArray:
    """A smooth random field over the board, shape (ROWS, COLS), about -1..1.

    wave_m : size of its largest features [m]
    octaves : layers, each half as large as the one before and `gain` times as strong
    """
    rng = stream(purpose)
    total: FloatArray = np.zeros((ROWS, COLS))
    strength = 1.0
    for k in range(octaves):
        spacing = wave_m / STEP_M / 2**k
        lattice = rng.random((int(ROWS / spacing) + 5, int(COLS / spacing) + 5)) * 2 - 1
        by_row = _spline(lattice, ROWS, spacing)
        total += strength * _spline(by_row.T, COLS, spacing).T
        strength *= gain
    return steady(total * 1.8)


def _spline(knots: FloatArray, n: int, spacing: float) -> FloatArray:
    """Cubic B-splines over the rows of knots, at n places `1 / spacing` apart; shape (n, ...).

    Plain sums instead of a matrix product, whose last bits differ from machine to machine.
    """
    at = np.arange(n) / spacing + 1
    first = np.floor(at).astype(np.int64)
    t = (at - first)[:, None]
    weights = ((1 - t) ** 3, 3 * t**3 - 6 * t**2 + 4, -3 * t**3 + 3 * t**2 + 3 * t + 1, t**3)
    value: FloatArray = np.zeros((n, knots.shape[1]))
    for j, weight in enumerate(weights):
        value += weight / 6 * knots[first + j - 1]
    return value
