"""From probabilities per piece to shares of a length with honest intervals.

A ride's pieces are not independent guesses: one wrong guess about a valley road is one error,
however many pieces the road is cut into. So outcomes are drawn together: each piece gets a
normal score made of parts it shares with other pieces (the same road, the same class of road,
the neighbourhood, the whole region) and a part of its own, and the score picks the piece's
ground by its probabilities. Gravel lies between paved and track, so a common push towards
harder or softer ground moves all pieces the same way. Which of gravel and track the ground off
tarmac is may be wrong in common on top of that, where little speaks for it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from terrain.calc.normal import normal_quantile, normal_share
from terrain.values.arrays import FloatArray, IntArray


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SharePieces:
    """What the ride is made of, one row per distinct piece of ground guessed as one.

    length_m : [m], shape (k,)
    p : probabilities of each ground, shape (k, g), rows sum to 1
    shared : variance of the score shared within each grouping, shape (k, m), row sums <= 1
    group : number of the group the piece belongs to in each grouping, shape (k, m)
    split : variance of the error of the normal score of the third ground against the second, in
        common for all pieces of one number in split_group, shape (k,); None if there is none
    """

    length_m: FloatArray
    p: FloatArray
    shared: FloatArray
    group: IntArray
    split: FloatArray | None = None
    split_group: IntArray | None = None

    def __post_init__(self) -> None:
        if self.p.shape[0] != len(self.length_m) or self.shared.shape != self.group.shape:
            raise ValueError("pieces of different counts")
        if np.any(self.shared.sum(axis=1) > 1 + 1e-9):
            raise ValueError("the shared parts of a score exceed its variance")


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class WayChoice:
    """A part of the ride that goes one of several ways.

    chance : of each way, shape (o,), sum 1
    length_m : what each way adds to the length of every piece [m], shape (o, k)
    """

    chance: FloatArray
    length_m: FloatArray

    def __post_init__(self) -> None:
        if not np.isclose(self.chance.sum(), 1.0) or len(self.chance) != len(self.length_m):
            raise ValueError("the chances of a fork do not fit its ways")


def best_shares(pieces: SharePieces, forks: Sequence[WayChoice] = ()) -> FloatArray:
    """Expected length on each ground over expected length, shape (g,); the sum is 1.

    NaN if there is no length.
    """
    length = pieces.length_m + sum(fork.chance @ fork.length_m for fork in forks)
    if not length.any():
        return np.full(pieces.p.shape[1], np.nan)
    share = length @ pieces.p
    return np.asarray(share / share.sum(), dtype=np.float64)


def draw_shares(
    pieces: SharePieces, forks: Sequence[WayChoice] = (), *, draws: int = 2000, seed: int = 1
) -> FloatArray:
    """Shares of each ground in `draws` imagined true worlds, shape (draws, g).

    The same input gives the same numbers. Memory grows with draws times pieces, in blocks.
    """
    k, n_ground = pieces.p.shape
    # Cut points of a standard normal score: below the first the piece is of the first ground.
    cut = normal_quantile(np.clip(np.cumsum(pieces.p, axis=1)[:, :-1], 1e-12, 1 - 1e-12))
    own = np.sqrt(np.maximum(1 - pieces.shared.sum(axis=1), 0.0))
    load = np.sqrt(pieces.shared)
    groups = [np.unique(pieces.group[:, m], return_inverse=True) for m in range(load.shape[1])]
    random = np.random.Generator(np.random.PCG64(seed))
    splits = _Splits.of(pieces, seed)
    out = np.empty((draws, n_ground))
    block = 2_000_000 // max(k, 1)
    for first in range(0, draws, block):
        n = min(block, draws - first)
        score = random.standard_normal((n, k)) * own
        for m, (numbers, place) in enumerate(groups):
            score += random.standard_normal((n, len(numbers)))[:, place] * load[:, m]
        length = _drawn_lengths(pieces, forks, n, random)
        total = np.maximum(length.sum(axis=1), 1e-12)
        cuts = [cut[:, g] for g in range(n_ground - 1)]
        if splits is not None:
            cuts[1] = splits.draw(n)
        above = [((score > own) * length).sum(axis=1) / total for own in cuts]
        edges = np.stack([np.ones(n), *above, np.zeros(n)], axis=1)
        out[first : first + n] = -np.diff(edges, axis=1)
    return np.maximum(out, 0.0) + 0.0  # no minus zero


SPLIT_STEPS = 20  # of the drawn split; common practice, no source


def split_cuts(p: FloatArray, split: FloatArray) -> FloatArray:
    """Where the second ground ends on the score of each piece, in so many equally likely cases of
    how frequent the third is, shape (SPLIT_STEPS, k).

    p : shape (k, 3); split : as in `SharePieces`
    Of the ground beyond the first the third is N(N^-1(q) + e), e normal about 0 with variance
    `split`: the estimate q is the middle of what may be; where it is small or large the mean lies
    nearer one half.
    """
    rest = np.maximum(1 - p[:, 0], 1e-12)
    usual = normal_quantile(np.clip(p[:, 2] / rest, 1e-9, 1 - 1e-9))
    third = normal_share(usual + np.sqrt(split) * _split_scores())
    return normal_quantile(np.clip(1 - rest * third, 1e-12, 1 - 1e-12))


@lru_cache(maxsize=1)
def _split_scores() -> FloatArray:
    return normal_quantile((np.arange(SPLIT_STEPS) + 0.5) / SPLIT_STEPS)[:, None]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Splits:
    """Where the second ground ends for each piece, if its group's third ground is rarer or more
    frequent than thought, by `split_cuts`."""

    cut: FloatArray
    place: IntArray
    random: np.random.Generator

    @classmethod
    def of(cls, pieces: SharePieces, seed: int) -> _Splits | None:
        if pieces.split is None or pieces.split_group is None or not pieces.split.any():
            return None
        cut = split_cuts(pieces.p, pieces.split)
        place = np.unique(pieces.split_group, return_inverse=True)[1]
        # The first score is drawn by a generator of its own: what is paved does not change.
        return cls(cut=cut, place=place, random=np.random.Generator(np.random.PCG64([seed, 2])))

    def draw(self, n: int) -> FloatArray:
        """Cuts in n worlds, shape (n, k)."""
        step = self.random.integers(SPLIT_STEPS, size=(n, int(self.place.max()) + 1))
        return np.asarray(self.cut[step[:, self.place], np.arange(len(self.place))])


def _drawn_lengths(
    pieces: SharePieces, forks: Sequence[WayChoice], n: int, random: np.random.Generator
) -> FloatArray:
    length = np.broadcast_to(pieces.length_m, (1, len(pieces.length_m)))
    for fork in forks:
        way = random.choice(len(fork.chance), size=n, p=fork.chance)
        length = length + fork.length_m[way]
    return np.asarray(length, dtype=np.float64)


def interval(
    values: FloatArray, best: float, *, level: float = 0.90, least: float = 0.85
) -> tuple[float, float]:
    """The range of values from low to high that holds `level` of them as nearly as can be.

    The shortest range, not equal tails: where most outcomes are "all paved", the rare other
    outcomes all lie on one side. A ride of few guesses has few outcomes, and no range may hold
    just `level` of them: then the one nearest to it is taken, though never one under `least`, so
    that ranges hold `level` on average and not always more (Agresti and Coull 1998, Am. Stat.
    52:119, on the same choice for proportions). It is widened to hold `best`.
    """
    value, count = np.unique(np.round(values, 9), return_counts=True)
    up_to = np.r_[0, np.cumsum(count)] / len(values)  # share of the values below each value
    lows, highs = _shortest(value, up_to, np.linspace(least, level, 11), best)
    lows, highs = np.minimum(lows, best), np.maximum(highs, best)
    held = up_to[np.searchsorted(value, highs, side="right")] - up_to[np.searchsorted(value, lows)]
    # The share is known to a hundredth from some thousand draws: then the shorter one.
    found = [
        (round(abs(share - level), 2), high - low, low, high)
        for share, low, high in zip(
            np.abs(held).tolist(), lows.tolist(), highs.tolist(), strict=True
        )
    ]
    return min(found)[2:]


def meeting(
    ranges: Sequence[tuple[float, float]], values: FloatArray, best: FloatArray, least: float = 0.85
) -> list[tuple[float, float]]:
    """Ranges of shares that sum to one, with no end that the other ranges leave no room for.

    The first range stands as it is: the others follow it.

    ranges : low and high of each share; values : drawn shares, shape (draws, n); best : shape (n,)
    An end out of reach is drawn in, if the range still holds `least` of the values; else the share
    that takes its place in those draws is given the room, unless it is the first.
    """
    low, high = (np.array(side, dtype=np.float64) for side in zip(*ranges, strict=True))
    low, high = _draw_in(low, high, values, best, total=1.0, least=least)
    # The same for the high ends: with all signs turned they are the low ones.
    low, high = _draw_in(-high, -low, -values, -best, total=-1.0, least=least)
    return list(zip((-high).tolist(), (-low).tolist(), strict=True))


def _draw_in(
    low: FloatArray, high: FloatArray, values: FloatArray, best: FloatArray, *,
    total: float, least: float,
) -> tuple[FloatArray, FloatArray]:  # fmt: skip
    """Low ends that the high ends of the others can make up to the total."""
    for i in range(len(low)):
        short = total - (high.sum() - high[i]) - low[i]
        if short <= 0:
            continue
        nearer = min(low[i] + short, best[i])
        held = (values[:, i] >= nearer - 1e-9) & (values[:, i] <= high[i] + 1e-9)
        there = values[values[:, i] <= low[i] + 1e-9]
        others = np.delete(np.arange(len(low)), i)
        more = there.mean(axis=0) if len(there) else best
        taker = others[np.argmax(more[others] - high[others])]
        if i > 0 and (taker == 0 or held.mean() >= least):
            low[i] = nearer
        else:
            high[taker] += short
    return low, high


def _shortest(
    value: FloatArray, up_to: FloatArray, wanted: FloatArray, best: float
) -> tuple[FloatArray, FloatArray]:
    """Of the shortest ranges that hold each share `wanted`, the one whose middle is nearest best.

    value, up_to : distinct values, rising, shape (v,), and the share below each, shape (v + 1,)
    Returns: low and high ends, shape (w,) each.
    """
    last = np.searchsorted(up_to, up_to[:-1] + wanted[:, None] - 1e-12) - 1
    high = np.append(value, np.inf)[last]
    width = high - value
    close = width <= width.min(axis=1, keepdims=True) + 1e-12
    off = np.where(close, np.abs((value + high) / 2 - best), np.inf)
    i = np.arange(len(wanted)), np.argmin(off, axis=1)
    return value[i[1]], high[i]
