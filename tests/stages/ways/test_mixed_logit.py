"""The mixed logistic fit against direct maximisation of the same penalised likelihood."""

from __future__ import annotations

import numpy as np
import pytest
import scipy.sparse as sparse
from scipy.optimize import minimize
from scipy.special import expit

from terrain.stages.ways.model import fit_logit


def _problem() -> tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray, np.ndarray]:
    random = np.random.default_rng(5)
    table = np.concatenate([random.normal(size=(400, 3)), np.eye(8)[random.integers(8, size=400)]],
                           axis=1)  # fmt: skip
    truth = np.r_[0.5, -1.0, 0.0, random.normal(size=8)]
    outcome = (random.random(400) < expit(table @ truth)).astype(np.float64)
    weight = random.random(400) + 0.5
    expected = np.r_[0.2, 0.0, 0.0, np.zeros(8)]
    leeway = np.r_[1.0, 1.0, 0.01, np.full(8, 0.5)]
    return table, outcome, weight, expected, leeway


def test_agrees_with_scipy_minimize() -> None:
    table, outcome, weight, expected, leeway = _problem()

    def loss(coef: np.ndarray) -> float:
        eta = table @ coef
        fit = np.sum(weight * (np.logaddexp(0, eta) - outcome * eta))
        return float(fit + 0.5 * np.sum((coef - expected) ** 2 / leeway))

    best = minimize(loss, expected, method="BFGS", options={"gtol": 1e-6}).x
    ours = fit_logit(
        sparse.csr_matrix(table), outcome, weight=weight, expected=expected, leeway=leeway
    )
    assert ours == pytest.approx(best, abs=5e-3)


def test_without_data_nothing_moves() -> None:
    expected = np.array([1.0, -2.0])
    got = fit_logit(
        sparse.csr_matrix((0, 2)), np.zeros(0),
        weight=np.zeros(0), expected=expected, leeway=np.ones(2),
    )  # fmt: skip
    assert got == pytest.approx(expected)


def test_all_of_one_kind_stays_finite() -> None:
    got = fit_logit(
        sparse.csr_matrix(np.ones((500, 1))), np.ones(500),
        weight=np.ones(500), expected=np.zeros(1), leeway=np.full(1, 4.0),
    )  # fmt: skip
    assert 4 < got[0] < 12


def test_a_group_of_few_moves_little() -> None:
    table = np.zeros((101, 2))
    table[0, 0] = 1
    table[1:, 1] = 1
    got = fit_logit(
        sparse.csr_matrix(table), np.ones(101),
        weight=np.ones(101), expected=np.zeros(2), leeway=np.full(2, 1.0),
    )  # fmt: skip
    assert 0 < got[0] < 0.5 * got[1]
