"""The chain of gaps against sums over all its paths, and its densities against quadrature."""

from __future__ import annotations

from itertools import pairwise, product
from statistics import NormalDist
from typing import Any

import numpy as np
import pytest

from terrain.calc.kernels import plain
from terrain.stages.ridden.standing import (
    _FACTOR,
    _PACES,
    Between,
    StandingRules,
    _blocks,
    _chances,
    _draw,
    _forward,
    _set_rests,
    _spreads,
)

# Three gaps, two paces, a rider who rides or stands at a fix, two paces of the rider.
N, PACES, KINDS, RIDERS, RIDER_SPREAD = 3, 2, 2, 2, 0.4
_RNG = np.random.default_rng(5)
LOG_PACE = _RNG.normal(0.0, 0.5, (N, PACES))
CHANCE = _RNG.uniform(0.1, 1.0, (N, PACES, KINDS, KINDS))
SPREAD, TIE = np.array([0.3, 0.5, 0.4]), np.array([0.0, 0.7, 0.4])
OTHER, ELSEWHERE = np.array([0.1, 0.3, 0.2]), np.array([0.3, 0.8])
START, RIDER = np.array([0.7, 0.3]), np.array([-0.2, 0.3])
MODEL = [plain(a) for a in (LOG_PACE, CHANCE, SPREAD, TIE, OTHER, ELSEWHERE, START, RIDER)]


def _step(i: int, z: float, before: float) -> float:
    """Density of a log pace: correlated with the one before, or that of another way."""
    near = NormalDist(TIE[i] * SPREAD[i] * before, SPREAD[i] * np.sqrt(1 - TIE[i] ** 2))
    return float((1 - OTHER[i]) * near.pdf(z) + OTHER[i] * NormalDist(*ELSEWHERE).pdf(z))


def _weights() -> dict[tuple[Any, ...], float]:
    """The weight of each path: the rider's pace, pace of each gap, state at each end."""
    step = {
        (i, r, h, j): _step(
            i, LOG_PACE[i, j] - RIDER[r], (LOG_PACE[i - 1, h] - RIDER[r]) / SPREAD[i - 1]
        )
        for i in (1, 2) for r in range(RIDERS) for h in range(PACES) for j in range(PACES)
    }  # fmt: skip
    out = {}
    for r in range(RIDERS):
        own = NormalDist(0.0, RIDER_SPREAD).pdf(RIDER[r])
        for j in product(range(PACES), repeat=N):
            drift = own * _step(0, LOG_PACE[0, j[0]] - RIDER[r], 0.0)
            drift *= step[1, r, j[0], j[1]] * step[2, r, j[1], j[2]]
            for q in product(range(KINDS), repeat=N + 1):
                weight = drift * START[q[0]]
                for i in range(N):
                    weight *= CHANCE[i, j[i], q[i], q[i + 1]]
                out[r, j, q] = weight
    return out


def test_weights_of_the_last_gap_are_sums_over_all_paths() -> None:
    """Rabiner 1989, section III: the forward variable, by its definition."""
    want = np.zeros((RIDERS, PACES, KINDS))
    for (r, j, q), weight in _weights().items():
        want[r, j[-1], q[-1]] += weight
    got = _forward(*MODEL, RIDER_SPREAD)
    np.testing.assert_allclose(got[-1], want / want.sum(), rtol=1e-9)
    assert got.sum(axis=(1, 2, 3)) == pytest.approx(1.0)


def test_paths_are_drawn_as_often_as_they_weigh() -> None:
    n = 40_000
    want = np.zeros((PACES,) * N)
    for (_, j, _), weight in _weights().items():
        want[j] += weight
    want /= want.sum()
    by_chance = np.random.default_rng(1).random((n, N))
    drawn = _draw(*MODEL, plain(_forward(*MODEL, RIDER_SPREAD)), plain(by_chance))
    got = np.zeros_like(want)
    np.add.at(got, tuple(drawn.T), 1.0 / n)
    # Four standard errors of a share (binomial, textbook).
    assert (np.abs(got - want) < 4.0 * np.sqrt(want * (1.0 - want) / n)).all()


def _middles(low: float, high: float, n: int) -> Any:
    """Middles of n equal parts: sums over them are integrals (midpoint rule, textbook)."""
    return low + (np.arange(n) + 0.5) / n * (high - low)


def test_every_stop_is_of_some_kind_and_each_kind_lasts_several_times_the_one_before() -> None:
    believed = StandingRules()
    assert sum(believed.stop_share) == pytest.approx(1.0)
    assert list(believed.stop_share) == sorted(believed.stop_share, reverse=True)
    assert all(5 < b / a < 15 for a, b in pairwise(believed.stop_s))


RULES = StandingRules(stop_each_s=500.0, stop_s=(40.0, 300.0), stop_share=(0.7, 0.3))


def test_densities_of_a_gap_are_those_of_stops_that_begin_and_end_at_steady_rates() -> None:
    """Stops begin once in `stop_each_s` of riding and last exponentially: a Markov jump process.

    A gap of 200 s whose pace says 120 s of riding: 80 s were stood.
    """
    riding, stood = 120.0, 80.0
    riding_s = np.array([[200.0, riding]])
    got = _chances(np.array([200.0]), riding_s, np.array([True]), RULES)[0, 1]
    step = 2 * _FACTOR / (_PACES - 1)  # between two paces that are weighed
    none_more = np.exp(-riding / 500.0)
    rate = np.array([0.7, 0.3]) / 500.0
    mean = np.array([40.0, 300.0])

    def held(k: int, s: float) -> float:
        return float(np.exp(-s / mean[k]))

    want = np.zeros((3, 3))
    for k in (0, 1):
        # One stop somewhere in the riding that lasts what was stood.
        want[0, 0] += riding * rate[k] * held(k, stood) / mean[k]
        want[0, k + 1] = rate[k] * held(k, stood)  # begins before the end and goes on
        want[k + 1, 0] = held(k, stood) / mean[k]  # goes on from before, and ends
        for other in (0, 1):
            ends_s = _middles(0.0, stood, 20_000)
            both = np.exp(-ends_s / mean[k]) / mean[k] * rate[other]
            both *= np.exp(-(stood - ends_s) / mean[other])
            want[k + 1, other + 1] = both.mean() * stood
    np.testing.assert_allclose(got, step * none_more * want, rtol=1e-6)


def test_a_gap_without_a_stop_is_ridden_whole_and_one_too_short_holds_none() -> None:
    riding_s = np.array([[200.0, 120.0], [10.0, 6.0], [0.0, 0.0]])
    got = _chances(np.array([200.0, 10.0, 0.0]), riding_s, np.array([True, False, False]), RULES)
    whole = np.zeros((3, 3))
    whole[0, 0] = np.exp(-200.0 / 500.0) / 200.0  # no stop began
    np.testing.assert_allclose(got[0, 0], whole)
    whole[0, 0] = 1.0 / 10.0
    np.testing.assert_allclose(got[1, 0], whole)
    whole[0, 0] = 1.0 / 0.1
    np.testing.assert_allclose(got[2, 0], whole)
    assert (got[1:, 1] == 0.0).all() and (got[0, 1] > 0.0).all()


def test_at_a_known_rest_one_stands_and_long_rests_are_of_a_long_kind() -> None:
    chance = np.ones((4, 2, 3, 3))
    before_s, after_s = np.array([0.0, 60.0, 0.0, 0.0]), np.array([60.0, 0.0, 0.0, 1e9])
    _set_rests(chance, before_s, after_s, RULES)
    assert chance[2].tolist() == np.ones((2, 3, 3)).tolist()
    assert (chance[1, :, 0] == 0.0).all() and (chance[1, 1, 1:] == 1.0).all()
    assert (chance[[0, 3], :, :, 0] == 0.0).all()
    # What is left of an exponential rest after what is known of it.
    want = np.exp(-60.0 / np.array([40.0, 300.0]))
    np.testing.assert_allclose(chance[0, 1, :, 1:], np.tile(want, (3, 1)))
    assert (chance[3, 1, :, 2] > 0.0).all()  # however long: the chance is no nothing
    # A gap ridden whole stands at a rest, if no pace leaves time for it.
    assert (chance[0, 0, :, 1:] > chance[0, 1, :, 1:]).all()
    assert (chance[1, 0, 1:] > 1.0).all() and (chance[[0, 1], 0] < 1.0 + 1e-6).all()


def test_spread_and_tie_are_those_of_a_pace_averaged_over_each_gap() -> None:
    """Covariance of means of an exponentially correlated process (Ornstein and Uhlenbeck 1930)."""
    rules = StandingRules(pace_spread=0.3, pace_s=90.0, gap_spread=0.1, place_s=4.0)
    expected = np.array([60.0, 150.0, 2.0])
    spread, tie = _spreads(expected, rules)

    def covariance(from_a: float, to_a: float, from_b: float, to_b: float) -> float:
        s, t = _middles(from_a, to_a, 700), _middles(from_b, to_b, 700)
        return 0.3**2 * float(np.exp(-np.abs(s[:, None] - t) / 90.0).mean())

    # An error of 4 s in a place is that share of a gap, of a shorter one all of it.
    place = np.array([4.0 / 60.0, 4.0 / 150.0, 1.0])
    own = [covariance(0.0, s, 0.0, s) for s in expected]
    np.testing.assert_allclose(spread**2, np.array(own) + 0.1**2 + place**2, rtol=1e-4)
    beside = [covariance(0.0, 60.0, 60.0, 210.0), covariance(0.0, 150.0, 150.0, 152.0)]
    np.testing.assert_allclose(tie[1:], np.array(beside) / (spread[1:] * spread[:-1]), rtol=1e-4)
    assert tie[0] == 0.0


@pytest.mark.parametrize(
    ("gap_s", "rest", "broken", "first", "last"),
    [
        ([11.0, 11.0, 11.0], (), (), [0], [2]),
        ([12.0, 11.0, 11.0, 12.0], (), (), [0, 1, 3], [0, 2, 3]),
        ([10.0] * 7, (), (), [0, 6], [5, 6]),  # a minute and no more
        ([11.0] * 6, (), (), [0, 5], [4, 5]),
        ([5.0] * 4, (), (1,), [0, 1, 2], [0, 1, 3]),
        ([5.0] * 5, (2,), (), [0, 1, 2, 3], [0, 1, 2, 4]),  # on both sides of a rest
        ([50.0, 11.0, 11.0], (), (), [0, 1], [0, 2]),
    ],
)
def test_short_gaps_are_taken_together(
    gap_s: list[float], rest: tuple[int, ...], broken: tuple[int, ...],
    first: list[int], last: list[int],
) -> None:  # fmt: skip
    """Shorter than 12 s each, 60 s in all. Common practice, no source."""
    n = len(gap_s)
    gaps = Between(
        gap_s=np.array(gap_s), expected_s=np.ones(n), broken=np.isin(np.arange(n), broken),
        rest_s=np.where(np.isin(np.arange(n + 1), rest), 90.0, 0.0),
    )  # fmt: skip
    got = _blocks(gaps, StandingRules())
    assert (got[0].tolist(), got[1].tolist()) == (first, last)
