"""Quantiles of the normal distribution."""

from __future__ import annotations

from statistics import NormalDist

import numpy as np

from terrain.values.arrays import FloatArray


def normal_quantile(p: FloatArray) -> FloatArray:
    """The value that a standard normal variable stays below with probability p, 0 < p < 1.

    As scipy's ndtri, which takes longer to load than a report has values to ask for.
    Source: Wichura 1988, algorithm AS 241, Applied Statistics 37, as Python's statistics has it.
    """
    quantile = NormalDist().inv_cdf
    return np.array([quantile(share) for share in p.ravel().tolist()]).reshape(p.shape)


def normal_share(value: FloatArray) -> FloatArray:
    """The probability with which a standard normal variable stays below each value."""
    share = NormalDist().cdf
    return np.array([share(x) for x in value.ravel().tolist()]).reshape(value.shape)
