"""Rates from few events: conjugate priors, posteriors and their intervals.

A prior worth `strength` observations at the rate believed so far draws small samples towards
it. Source: Gelman et al., Bayesian Data Analysis, 3rd ed. 2013, sections 2.4 (binomial) and
2.6 (Poisson).
"""

from __future__ import annotations

from dataclasses import dataclass

from scipy.special import betaincinv, gammaincinv


@dataclass(frozen=True, slots=True, kw_only=True)
class Posterior:
    """A rate with its interval: mean, low, high; shape parameters a and b of the posterior."""

    mean: float
    low: float
    high: float
    a: float
    b: float


def beta_binomial(
    events: int, trials: int, *, a: float, b: float, level: float = 0.90
) -> Posterior:
    """Chance of an event per trial, prior Beta(a, b).

    Returns: posterior Beta(a + events, b + trials - events) with its equal-tailed interval.
    Raises ValueError for impossible counts or priors.
    """
    if not 0 <= events <= trials or a <= 0 or b <= 0:
        raise ValueError(f"{events} events in {trials} trials with prior Beta({a}, {b})")
    a, b = a + events, b + trials - events
    tail = (1 - level) / 2
    return Posterior(
        mean=a / (a + b),
        low=float(betaincinv(a, b, tail)),
        high=float(betaincinv(a, b, 1 - tail)),
        a=a,
        b=b,
    )


def gamma_poisson(
    events: int, exposure: float, *, a: float, b: float, level: float = 0.90
) -> Posterior:
    """Events per unit of exposure, prior Gamma(shape a, rate b).

    Returns: posterior Gamma(a + events, b + exposure) with its equal-tailed interval.
    Raises ValueError for impossible counts or priors.
    """
    if events < 0 or exposure < 0 or a <= 0 or b <= 0:
        raise ValueError(f"{events} events in {exposure} with prior Gamma({a}, {b})")
    a, b = a + events, b + exposure
    tail = (1 - level) / 2
    return Posterior(
        mean=a / b,
        low=float(gammaincinv(a, tail)) / b,
        high=float(gammaincinv(a, 1 - tail)) / b,
        a=a,
        b=b,
    )
