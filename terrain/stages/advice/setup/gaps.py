"""How far the ways between far-apart points may move off-road riding time.

Between two such points the ride may have gone another known way, or one that nobody thinks of.
Each gap's move is drawn by the chances of its ways, the gaps apart from one another, and the
bounds allow for what the sum of the moves stays within in `way_level` of the draws.

Only moves in the asked direction count, none makes up for another: so a gap more, or a likelier
other way, never makes the sum smaller in any draw, and an answer never firmer.
"""

from __future__ import annotations

from collections import defaultdict
from typing import NamedTuple

import numpy as np

from terrain.stages.advice.burden import ChoiceBurden, Gap, Leeway, OffRoadTime
from terrain.tables.advice import SetupModel
from terrain.values.arrays import FloatArray

# Common practice, no source.
_OTHER, _LOST = 1, 2


class Moves(NamedTuple):
    """What one gap may do: moves of off-road and of hard time [s] with their chances, shape (n,);
    key : tells its draws from those of others."""

    key: tuple[int, int]
    off_s: FloatArray
    hard_s: FloatArray
    chance: FloatArray


def way_shift_s(burden: OffRoadTime, model: SetupModel, *, worse: bool) -> Leeway:
    """How far riding time may rise (worse) or fall by the choice of ways between points."""
    parts = _parts(burden, model, worse=worse)
    return Leeway(
        _within(parts, [p.off_s for p in parts], model),
        _within(parts, [p.hard_s for p in parts], model),
    )


def telling_gaps(burden: OffRoadTime, model: SetupModel, *, worse: bool) -> list[int]:
    """Keys of the gaps, those first whose other ways may move riding time farthest that way."""
    far: defaultdict[int, float] = defaultdict(float)
    for part in _parts(burden, model, worse=worse):
        far[part.key[1]] += float(part.chance @ (part.off_s + part.hard_s))
    return sorted(far, key=lambda key: (-far[key], key))


def _parts(burden: OffRoadTime, model: SetupModel, *, worse: bool) -> list[Moves]:
    parts = [_by_fork(burden, fork, model, worse=worse) for fork in burden.forks]
    return parts + [_by_gap(burden, gap, worse=worse) for gap in burden.gaps]


def _within(parts: list[Moves], moves: list[FloatArray], model: SetupModel) -> float:
    """What the sum of the moves stays within in `way_level` of the draws."""
    total = np.zeros(model.draws)
    for part, move in zip(parts, moves, strict=True):
        if not move.any():
            continue
        order = np.argsort(move, kind="stable")
        edges = np.cumsum(part.chance[order])[:-1]
        drawn = np.random.Generator(np.random.PCG64([20270315, *part.key])).random(model.draws)
        total += move[order][np.searchsorted(edges, drawn, side="right")]
    return float(np.quantile(total, model.way_level, method="higher"))


def _by_fork(burden: OffRoadTime, fork: ChoiceBurden, model: SetupModel, *, worse: bool) -> Moves:
    """A longer way shifts the limit with it, so what counts is the change beyond the limit's."""
    sign = 1 if worse else -1
    here_off, here_hard = burden.within(fork.inside)
    there = fork.ends_s[:, int(worse)]
    change = there[:, 0] - here_off
    if share := model.limit_share(burden.ride_s):
        here_s = float((burden.time_s * fork.inside).sum())
        change = change - share * (np.array([o.ride_s for o in fork.others]) - here_s)
    return Moves(
        (_OTHER, fork.key),
        np.r_[0.0, np.maximum(0.0, sign * change)],
        np.r_[0.0, np.maximum(0.0, sign * (there[:, 1] - here_hard))],
        fork.chance,
    )


def _by_gap(burden: OffRoadTime, gap: Gap, *, worse: bool) -> Moves:
    """If the way was another one altogether: as long, on any ground, but none known to be hard."""
    sign = 1 if worse else -1
    here_off, here_hard = burden.within(gap.inside)
    there = (burden.time_s * gap.inside) @ burden.weight
    off = np.maximum(0.0, sign * (there - here_off))
    hard = np.full(3, max(0.0, -sign * here_hard))
    return Moves(
        (_LOST, gap.key), np.r_[0.0, off], np.r_[0.0, hard],
        np.r_[1 - gap.chance, gap.chance * gap.p],
    )  # fmt: skip
