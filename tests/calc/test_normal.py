"""Quantiles of the normal distribution, against scipy."""

from __future__ import annotations

import numpy as np
from scipy.special import ndtri

from terrain.calc.normal import normal_quantile


def test_quantiles_as_scipy_has_them() -> None:
    p = np.concatenate([np.logspace(-12, -0.31, 200), 1.0 - np.logspace(-12, -0.31, 200)])
    table = p.reshape(100, 4)
    np.testing.assert_allclose(normal_quantile(table), ndtri(table), rtol=1e-13, atol=1e-15)
    assert normal_quantile(np.zeros((0, 2))).shape == (0, 2)
