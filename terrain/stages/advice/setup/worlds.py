"""How far off-road riding time may lie from what is likely, by the errors that hang together.

The model is that of the ground's own intervals (`terrain.calc.shares`): the error of each guess
has a part of its own and parts that it shares with the same road, the same kind of road, the
neighbourhood and the region, and which of gravel and track a kind of road is may be wrong beside
(`terrain.tables.ground_errors`).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from terrain.calc.normal import normal_quantile
from terrain.calc.shares import SPLIT_STEPS, split_cuts
from terrain.stages.advice.burden import ChoiceBurden, Gap, OffRoadTime
from terrain.tables.advice import SetupModel
from terrain.values.arrays import BoolArray, FloatArray, IntArray

# -- imagined worlds -----------------------------------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Worlds:
    """Weighted off-road, hard and whole riding time [s] in each imagined true world, shape (n,).

    off_on_s : weighted off-road time if each stretch takes as long as its drawn ground does
    """

    off_s: FloatArray
    hard_s: FloatArray
    ride_s: FloatArray
    off_on_s: FloatArray


def draw_worlds(burden: OffRoadTime, model: SetupModel) -> Worlds:
    """Off-road riding time in each of `draws` imagined true worlds.

    Each guess gets a normal score, made of parts it shares and a part of its own, and the score
    picks its ground by its probabilities; where the way is in doubt each world takes one. The
    scores of a stretch do not depend on the others, and more probability of track only ever
    moves a stretch towards track, so more track gives at least as much in every single world.
    """
    scores = Scores(model.draws)
    out = np.zeros((4, model.draws))
    left = np.ones((len(burden.row), 1))
    for fork in burden.forks:
        taken = scores.choice(fork)
        left = left - fork.inside[:, None] * (taken > 0)
        for number, other in enumerate(fork.others, start=1):
            out += _ridden(other, scores, np.ones((len(other.row), 1))) * (taken == number)
    return _worlds(out + _ridden(burden, scores, left) + _missed(burden, scores, left))


def _worlds(sums: FloatArray) -> Worlds:
    return Worlds(off_s=sums[0], hard_s=sums[1], ride_s=sums[2], off_on_s=sums[3])


def _ridden(burden: OffRoadTime, scores: Scores, left: FloatArray) -> FloatArray:
    """Sums of off-road, hard and whole time over the stretches, and of `off_on_s`, shape (4, n).

    left : share of each stretch that is ridden in each world, shape (k, 1 or n)
    """
    out = np.zeros((4, scores.n))
    cut = _cuts(burden.p)
    own = np.sqrt(np.maximum(1 - burden.shared.sum(axis=1), 0))
    load = np.sqrt(burden.shared)
    for rows in _alike(burden):
        first = rows[0]
        score = own[first] * scores.own(int(burden.piece[first]))
        for m in np.flatnonzero(load[first]).tolist():
            score = score + load[first, m] * scores.common(m, int(burden.group[first, m]))
        ground = _ground(score, cut[first])
        if burden.split[first]:
            cuts = split_cuts(burden.p[[first]], burden.split[[first]])[:, 0]
            frequent = cuts[scores.step(int(burden.split_group[first]))]
            ground = _ground(score, (cut[first, 0], frequent))
        for i in rows:
            time, weight = burden.time_s[i] * left[i], burden.weight[i].take(ground)
            out[0] += time * weight
            out[3] += burden.ground_s[i].take(ground) * left[i] * weight
            out[1] += time * burden.hard[i].take(ground)
            out[2] += time
    return out


def _alike(burden: OffRoadTime) -> list[list[int]]:
    """Rows of stretches that share a guess whole, as where a ride comes by a way again."""
    rows: dict[bytes, list[int]] = {}
    guesses = np.column_stack([burden.place, burden.p, burden.shared, burden.split])
    for i, guess in enumerate(guesses):
        rows.setdefault(guess.tobytes(), []).append(i)
    return list(rows.values())


def _missed(burden: OffRoadTime, scores: Scores, left: FloatArray) -> FloatArray:
    """What changes in the worlds where a way between two points was another one, shape (4, n)."""
    out = np.zeros((4, scores.n))
    if not burden.gaps:
        return out
    for gap in burden.gaps:
        missed = scores.uniform(gap.key) < gap.chance
        ground = _ground(scores.common(_GAP, gap.key), _cuts(gap.p[None, :])[0])
        for i in np.flatnonzero(gap.inside).tolist():
            there, weight = gap.inside[i] * left[i] * missed, burden.weight[i, ground]
            out[0] += burden.time_s[i] * there * weight
            out[3] += burden.ground_s[i, ground] * there * weight
        out -= _ridden_inside(burden, scores, gap, left, missed)
    return out


def _ridden_inside(
    burden: OffRoadTime, scores: Scores, gap: Gap, left: FloatArray, missed: BoolArray
) -> FloatArray:
    rows = gap.inside > 0
    share = gap.inside[rows][:, None] * left[rows] * missed
    out = _ridden(burden.without(~rows), scores, share)
    out[2] = 0.0  # as long, on other ground
    return out


def _cuts(p: FloatArray) -> FloatArray:
    """Below the first cut point of a standard normal score the ground is the first."""
    return np.asarray(normal_quantile(np.clip(np.cumsum(p, axis=1)[:, :2], 1e-12, 1 - 1e-12)))


def _ground(score: FloatArray, cut: FloatArray | tuple[float, FloatArray]) -> IntArray:
    return np.asarray((score > cut[0]).astype(np.int64) + (score > cut[1]), dtype=np.int64)


_MOST_HELD = 2000  # scores kept at hand; any can be made again
_OWN, _GAP, _WAY, _LOST, _SPLIT = 90, 91, 92, 93, 94


class Scores:
    """Standard normal scores that depend on nothing but what they belong to."""

    def __init__(self, n: int) -> None:
        self.n = n
        self._held: dict[tuple[int, int], FloatArray] = {}
        self._steps: dict[int, IntArray] = {}

    def own(self, piece: int) -> FloatArray:
        return self.common(_OWN, piece)

    def common(self, kind: int, number: int) -> FloatArray:
        held = self._held.get((kind, number))
        if held is None:
            if len(self._held) >= _MOST_HELD:
                self._held.clear()
            held = self._held[kind, number] = self._random(kind, number).standard_normal(self.n)
        return held

    def uniform(self, number: int) -> FloatArray:
        return self._random(_LOST, number).random(self.n)

    def step(self, group: int) -> IntArray:
        """How frequent track is among the unsealed roads of a kind, by `split_cuts`, shape (n,)."""
        held = self._steps.get(group)
        if held is None:
            held = self._random(_SPLIT, group).integers(SPLIT_STEPS, size=self.n)
            self._steps[group] = held
        return held

    def choice(self, fork: ChoiceBurden) -> IntArray:
        """Which way each world takes, 0 the ridden one, shape (n,)."""
        edges = np.cumsum(fork.chance)[:-1]
        drawn = self._random(_WAY, fork.key).random(self.n)
        return np.asarray(np.searchsorted(edges, drawn, side="right"), dtype=np.int64)

    def _random(self, kind: int, number: int) -> np.random.Generator:
        return np.random.Generator(np.random.PCG64([20270314, kind, number % 2**63]))
