"""The longest part that never falls, beside trying all parts."""

from __future__ import annotations

import itertools

import numpy as np

from terrain.calc.rises import longest_rise


def test_beside_trying_all() -> None:
    rng = np.random.default_rng(3)
    for _ in range(60):
        values = rng.integers(0, 6, rng.integers(1, 9)).astype(float)
        rows = longest_rise(values)
        assert (np.diff(rows) > 0).all()
        assert (np.diff(values[rows]) >= 0).all()
        best = max(
            n
            for n in range(len(values) + 1)
            for some in itertools.combinations(values, n)
            if list(some) == sorted(some)
        )
        assert len(rows) == best


def test_nothing() -> None:
    assert len(longest_rise(np.zeros(0))) == 0
