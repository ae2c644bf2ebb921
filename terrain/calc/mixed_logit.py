"""Logistic regression in which every coefficient has its own expectation and leeway.

A coefficient with a wide leeway is learned from the data at hand; one with a narrow leeway
stays where it was expected. Groups (a class of road, a street name, a patch of country) are
coefficients expected to be 0, whose leeway is how much such groups differ: a group with few
observations moves little. This is the penalised fit of a mixed logistic model (Breslow and
Clayton 1993, J. Am. Stat. Assoc. 88:9, the penalised quasi-likelihood for known variances).
"""

from __future__ import annotations

import numpy as np
import scipy.sparse as sparse
from scipy.sparse.linalg import LinearOperator, cg
from scipy.special import expit

from terrain.values.arrays import FloatArray

_STEPS = 15
_CLOSE = 0.01  # on the logit scale; the estimates move by less than 0.0001
_LARGEST_STEP = 6.0  # on the logit scale; a longer Newton step is cut


def fit_logit(
    design: sparse.csr_matrix,
    outcome: FloatArray,
    *,
    weight: FloatArray,
    expected: FloatArray,
    leeway: FloatArray,
) -> FloatArray:
    """Coefficients of the most probable logistic model, shape (m,).

    design : one row per observation, shape (n, m)
    outcome : 0..1, shape (n,); weight : how much each observation counts, shape (n,)
    expected, leeway : mean and variance of each coefficient before the data, shape (m,)
    Newton's method, each step by conjugate gradients: cost O(non-zeros of the design).
    """
    coef = np.array(expected, dtype=np.float64)
    if not len(outcome):
        return coef
    stiff = 1.0 / leeway
    transposed = design.T.tocsr()
    squared = transposed.multiply(transposed).tocsr()
    for _ in range(_STEPS):
        p = expit(design @ coef)
        slope = transposed @ (weight * (outcome - p)) - stiff * (coef - expected)
        bend = weight * p * (1 - p)
        step = _newton_step(design, transposed, bend, stiff, stiff + squared @ bend, slope)
        largest = float(np.abs(design @ step).max(initial=0.0))
        step *= min(1.0, _LARGEST_STEP / max(largest, 1e-9))
        coef += step
        if np.abs(step).max(initial=0.0) < _CLOSE:
            break
    return coef


def _newton_step(
    design: sparse.csr_matrix,
    transposed: sparse.csr_matrix,
    bend: FloatArray,
    stiff: FloatArray,
    diagonal: FloatArray,
    slope: FloatArray,
) -> FloatArray:
    size = (len(slope), len(slope))
    bent = LinearOperator(
        size, matvec=lambda v: transposed @ (bend * (design @ v)) + stiff * v, dtype=np.float64
    )
    scaled = LinearOperator(size, matvec=lambda v: v / diagonal, dtype=np.float64)
    step, _ = cg(bent, slope, rtol=3e-2, maxiter=60, M=scaled)
    return np.asarray(step, dtype=np.float64)
