"""How much of the time between two fixes was riding, and how sure that is.

A fix each minute or two shows a stop in part at most: it lies within one gap, or the fix in its
middle cuts it in two. So the ride is taken for a chain of gaps. In each, riding takes what the
estimate says times a pace that drifts about this rider's own, and stops begin at a steady rate and
last as short, long and very long stops do; at each fix the rider rides or stands, and a stop goes
on over a fix as it began. Whole rides are drawn from all that agree with the clock, so the moving
time has its mean, and its band holds what the fixes leave open, pace and stops together.

Source: forward filtering, backward sampling, Rabiner 1989, A tutorial on hidden Markov models,
Proc. IEEE 77(2), section III, and Carter and Kohn 1994, Biometrika 81(3), section 2 (from memory).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from terrain.calc.kernels import inner, kernel, plain
from terrain.values.arrays import BoolArray, FloatArray, IntArray, freeze_fields


@dataclass(frozen=True, slots=True, kw_only=True)
class StandingRules:
    """What is believed of stops and pace before a ride is looked at.

    Common practice, no source; fitted on simulated rides of other draws than those scored.

    gap_s : a shorter gap holds no stop that tells; block_s : such are taken together up to this
    stop_each_s : riding between stops; stop_s, stop_share : mean length of a stop and how many
        are of that kind
    rider_spread : of the logarithm of a rider's own pace over the estimate
    pace_spread, pace_s : of the logarithm of pace at a place, and how long it keeps to itself
    gap_spread, place_s : error of the estimate of a gap: of its logarithm, and in seconds
    other_s : riding between fixes on another way than was laid, once in so long
    other_longer, other_spread : of the logarithm of riding time there over that on the way laid
    """

    gap_s: float = 12.0
    block_s: float = 60.0
    stop_each_s: float = 1_000.0
    stop_s: tuple[float, ...] = (80.0, 700.0, 7_200.0)
    stop_share: tuple[float, ...] = (0.60, 0.35, 0.05)
    rider_spread: float = 0.25
    pace_spread: float = 0.2
    pace_s: float = 80.0
    gap_spread: float = 0.12
    place_s: float = 3.0
    other_s: float = 600.0
    other_longer: float = 0.3
    other_spread: float = 0.8


RULES = StandingRules()
# Common practice, no source.
_LEAST_S = 0.5  # an estimate below this is no ground covered
_FACTOR = 1.25  # logarithm of the most that a gap may take over the estimate, and least under it
_PACES, _RIDERS = 21, 7  # paces of a gap and of a rider that are weighed
_DRAWS = 200
_LONGEST_S = 20_000.0  # a longer rest says no more of its kind
_OTHER_SEEN = 0.005  # chance of another way between fixes that show it
_FORCED = 1e-9


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Between:
    """The gaps between the knots of a ride, in riding order, shape (n,).

    gap_s : clock time; expected_s : riding time by the estimate; broken : the clock is not known
    rest_s : known rest before each gap and after the last, shape (n + 1,)
    """

    gap_s: FloatArray
    expected_s: FloatArray
    broken: BoolArray
    rest_s: FloatArray

    def __post_init__(self) -> None:
        freeze_fields(self, ("gap_s", "expected_s", "broken"), len(self.gap_s))
        freeze_fields(self, ("rest_s",), len(self.gap_s) + 1)


def share_out(gaps: Between, rules: StandingRules = RULES) -> FloatArray:
    """Riding in each gap as it may have been, shape (draws, n) [s]; 0 where broken.

    The same gaps give the same draws.
    """
    out = np.tile(np.where(gaps.broken, 0.0, gaps.gap_s), (_DRAWS, 1))
    if not len(gaps.gap_s):
        return out
    first, last = _blocks(gaps, rules)
    gap_s = np.add.reduceat(gaps.gap_s, first)
    expected_s = np.maximum(np.add.reduceat(gaps.expected_s, first), _LEAST_S)
    broken = gaps.broken[first]
    before_s, after_s = gaps.rest_s[first], gaps.rest_s[last + 1]
    single = first == last
    beside = ~broken & ((before_s > 0.0) | (after_s > 0.0))
    short = beside & (gap_s < rules.gap_s)
    holds = ~broken & single & (gap_s >= rules.gap_s)
    # The first pace of each gap is that without a stop.
    log_pace = np.empty((len(gap_s), _PACES + 1))
    log_pace[:, 0] = np.log(np.maximum(gap_s, _LEAST_S) / expected_s)
    log_pace[:, 1:] = np.linspace(-_FACTOR, _FACTOR, _PACES)
    riding_s = np.minimum(expected_s[:, None] * np.exp(log_pace), gap_s[:, None])
    riding_s[:, 0] = gap_s
    chance = _chances(gap_s, riding_s, holds, rules)
    start = np.append(1.0, np.array(rules.stop_share) * rules.stop_s / rules.stop_each_s)
    # They tell nothing: any pace, and riding or standing at their end as at any time.
    chance[broken | short] = start
    chance[broken | short, 0] = 0.0
    _set_rests(chance, before_s, after_s, rules)
    spread, tie = _spreads(expected_s, rules)
    other = np.where(holds, 1.0 - np.exp(-gap_s / rules.other_s), _OTHER_SEEN)
    model = (
        plain(log_pace), plain(chance), plain(spread), plain(tie), plain(other),
        plain(np.array([rules.other_longer, rules.other_spread])), plain(start),
    )  # fmt: skip
    # The rider's own pace roughly, then finely where it may lie.
    rider = np.linspace(-3.0, 3.0, _RIDERS) * rules.rider_spread
    weight = _forward(*model, plain(rider), rules.rider_spread)
    mean, sd = _moments(weight, rider)
    rider = mean + np.linspace(-2.5, 2.5, _RIDERS) * max(sd, (rider[1] - rider[0]) / 4.0)
    weight = _forward(*model, plain(rider), rules.rider_spread)
    by_chance = np.random.default_rng(len(gap_s)).random((_DRAWS, len(gap_s)))
    by_chance[:, -1] = (np.arange(_DRAWS) + 0.5) / _DRAWS
    chosen = _draw(*model, plain(rider), plain(weight), plain(by_chance))
    drawn = riding_s[np.arange(len(gap_s)), chosen]
    # Of a short gap beside a rest all that exceeds this rider's own time is rest as well.
    own_s = np.exp(_moments(weight, rider)[0]) * expected_s
    drawn[:, short] = np.minimum(own_s, gap_s)[short]
    drawn[:, broken] = 0.0
    out[:, first[single]] = drawn[:, single]
    return out


def _moments(weight: FloatArray, rider: FloatArray) -> tuple[float, float]:
    """Mean and spread of the rider's pace, given all gaps."""
    own = weight[-1].sum(axis=(1, 2))
    mean = float((own * rider).sum())
    return mean, float(np.sqrt((own * (rider - mean) ** 2).sum()))


def _blocks(gaps: Between, rules: StandingRules) -> tuple[IntArray, IntArray]:
    """First and last of the gaps that are taken together, shape (m,) each."""
    rest = gaps.rest_s > 0.0
    short = (gaps.gap_s < rules.gap_s) & ~gaps.broken & ~rest[:-1] & ~rest[1:]
    first: list[int] = []
    spent_s = 0.0
    for i, (gap_s, joins) in enumerate(zip(gaps.gap_s.tolist(), short.tolist(), strict=True)):
        if joins and i and short[i - 1] and spent_s + gap_s <= rules.block_s:
            spent_s += gap_s
        else:
            first.append(i)
            spent_s = gap_s
    starts = np.array(first, dtype=np.int64)
    return starts, np.append(starts[1:], len(short)) - 1


def _chances(
    gap_s: FloatArray, riding_s: FloatArray, holds: BoolArray, rules: StandingRules
) -> FloatArray:
    """Density of a gap's clock time by its pace, and by what the rider did at its two ends.

    riding_s : by pace, the first without a stop, shape (m, paces)
    Returns: shape (m, paces, 1 + kinds, 1 + kinds); 0 rides, k stands for a stop of kind k.
    """
    mean_s = np.array(rules.stop_s)
    begin = np.array(rules.stop_share) / rules.stop_each_s
    stood_s = gap_s[:, None] - riding_s
    on = np.exp(-riding_s / rules.stop_each_s)  # no further stop began
    step = 2.0 * _FACTOR / (_PACES - 1)
    weight = np.where(holds[:, None] & (stood_s > 0.0), step * on, 0.0)
    lasts = np.exp(-stood_s[..., None] / mean_s)
    out = np.zeros((*riding_s.shape, len(mean_s) + 1, len(mean_s) + 1))
    out[..., 0, 0] = weight * riding_s * (begin / mean_s * lasts).sum(axis=-1)
    out[..., 0, 1:] = weight[..., None] * begin * lasts
    out[..., 1:, 0] = weight[..., None] * lasts / mean_s
    for k, mean in enumerate(mean_s):
        # A stop goes on into the gap, and another begins in it: both together are what it stood.
        with np.errstate(divide="ignore", invalid="ignore"):
            both = (lasts[..., [k]] - lasts) / (mean / mean_s - 1.0)
        both[..., k] = stood_s * lasts[..., k] / mean
        out[..., k + 1, 1:] = weight[..., None] * begin * both
    out[:, 0] = 0.0
    out[:, 0, 0, 0] = np.where(holds, on[:, 0], 1.0) / np.maximum(gap_s, 0.1)
    return out


def _set_rests(
    chance: FloatArray, before_s: FloatArray, after_s: FloatArray, rules: StandingRules
) -> None:
    """Put in that the rider stood at known rests, and for how long."""
    # Where the gap is too short for any pace that leaves time to stand, it is ridden whole.
    chance[:, 0, 1:, :] += _FORCED * (before_s > 0.0)[:, None, None]
    chance[:, 0, :, 1:] += _FORCED * (after_s > 0.0)[:, None, None]
    chance[before_s > 0.0, :, 0, :] = 0.0
    chance[after_s > 0.0, :, :, 0] = 0.0
    known_s = np.minimum(after_s, _LONGEST_S)
    chance[..., 1:] *= np.exp(-known_s[:, None] / np.array(rules.stop_s))[:, None, None]


def _spreads(expected_s: FloatArray, rules: StandingRules) -> tuple[FloatArray, FloatArray]:
    """Of the logarithm of pace, averaged over each gap, and its correlation with the gap before.

    Pace keeps to itself exponentially; its covariances are averaged over the gaps.
    """
    x = expected_s / rules.pace_s
    own = rules.pace_spread**2 * 2.0 * (x - 1.0 + np.exp(-x)) / x**2
    place = rules.place_s / np.maximum(expected_s, rules.place_s)
    spread = np.sqrt(own + rules.gap_spread**2 + place**2)
    reach = (1.0 - np.exp(-x)) / x
    tie = rules.pace_spread**2 * reach[1:] * reach[:-1] / (spread[1:] * spread[:-1])
    return spread, np.append(0.0, tie)


@inner
def _likely(
    log_pace: float, before: float, spread: float, tie: float, other: float, elsewhere: FloatArray
) -> float:
    """Density of a gap's log pace about the rider's own, after that of the gap before.

    elsewhere : mean and spread of the logarithm on another way than was laid
    """
    sd = spread * np.sqrt(1.0 - tie * tie)
    near = (log_pace - tie * spread * before) / sd
    far = (log_pace - elsewhere[0]) / elsewhere[1]
    # Not normalised by the root of two pi, which all have in common.
    return float(
        (1.0 - other) * np.exp(-near * near / 2.0) / sd
        + other * np.exp(-far * far / 2.0) / elsewhere[1]
    )


@kernel
def _forward(
    log_pace: FloatArray, chance: FloatArray, spread: FloatArray, tie: FloatArray,
    other: FloatArray, elsewhere: FloatArray, start: FloatArray, rider: FloatArray,
    rider_spread: float,
) -> FloatArray:  # fmt: skip
    """Weights by gap, rider, pace and what the rider did at its end, given the gaps up to it."""
    n, paces = log_pace.shape
    kinds = len(start)
    out = np.zeros((n, len(rider), paces, kinds))
    arrived = np.empty(kinds)
    for i in range(n):
        total = 0.0
        for r in range(len(rider)):
            for j in range(paces):
                arrived[:] = 0.0
                z = log_pace[i, j] - rider[r]
                if i == 0:
                    k = _likely(z, 0.0, spread[i], 0.0, other[i], elsewhere)
                    arrived[:] = start * k * np.exp(-((rider[r] / rider_spread) ** 2) / 2.0)
                else:
                    for h in range(paces):
                        before = (log_pace[i - 1, h] - rider[r]) / spread[i - 1]
                        k = _likely(z, before, spread[i], tie[i], other[i], elsewhere)
                        for p in range(kinds):
                            arrived[p] += k * out[i - 1, r, h, p]
                for p in range(kinds):
                    for q in range(kinds):
                        more = arrived[p] * chance[i, j, p, q]
                        out[i, r, j, q] += more
                        total += more
        out[i] /= total
    return out


@kernel
def _draw(
    log_pace: FloatArray, chance: FloatArray, spread: FloatArray, tie: FloatArray,
    other: FloatArray, elsewhere: FloatArray, start: FloatArray, rider: FloatArray,
    weight: FloatArray, by_chance: FloatArray,
) -> IntArray:  # fmt: skip
    """Row of the pace in each gap of each draw, shape (draws, n), from the last gap backwards."""
    n, paces = log_pace.shape
    kinds = len(start)
    out = np.zeros((len(by_chance), n), dtype=np.int64)
    last = np.cumsum(weight[n - 1].ravel())
    sums = np.empty(paces * kinds)
    for d in range(len(by_chance)):
        row = np.searchsorted(last, by_chance[d, n - 1] * last[-1])
        r = row // (paces * kinds)
        j = row // kinds % paces
        q = row % kinds
        out[d, n - 1] = j
        for i in range(n - 1, 0, -1):
            z = log_pace[i, j] - rider[r]
            total = 0.0
            for h in range(paces):
                before = (log_pace[i - 1, h] - rider[r]) / spread[i - 1]
                k = _likely(z, before, spread[i], tie[i], other[i], elsewhere)
                for p in range(kinds):
                    total += k * weight[i - 1, r, h, p] * chance[i, j, p, q]
                    sums[h * kinds + p] = total
            row = np.searchsorted(sums, by_chance[d, i - 1] * total)
            j = row // kinds
            q = row % kinds
            out[d, i - 1] = j
    return out
