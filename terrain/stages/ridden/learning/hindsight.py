"""How well reports did: intervals that held, the largest errors, and what they come from."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
from scipy.special import betaincinv

from terrain.text.message import message, term
from terrain.text.terms import GROUND_TERMS
from terrain.values.ground import LAND_GROUNDS, GroundKind
from terrain.values.hindsight import GroundCheck, Held, Hindsight, Miss
from terrain.values.learned import LearnedTimes, Statement, Witness
from terrain.values.ridden import Ridden
from terrain.values.trip import Three

# Common practice, no source.
_MOST_MISSES = 10
_SPARSE_S = 90.0  # usual time between fixes from which the times themselves are rough
_NIGHT = 0.3  # share of the ride in the dark that may explain it


def judge_hindsight(
    rides: Sequence[Ridden], *, statements: Sequence[Statement] = (),
    witnesses: Sequence[Witness] = (), map_p: Mapping[int, Three] | None = None,
    times: LearnedTimes | None = None,
) -> Hindsight:  # fmt: skip
    """Reports against rides.

    rides : with what was expected of each when it was read
    statements, witnesses, map_p : what was said of ways, who is heard, and the map's chances
    times : what was learned of the rides, if anything
    """
    known = [ride for ride in rides if ride.expected_s > 0.0 and ride.moving_s > 0.0]
    held = sum(r.expected_low_s <= r.moving_s <= r.expected_high_s for r in known)
    ratio = np.array([r.moving_s / r.expected_s for r in known])
    error = _mean_error(known, [r.expected_s for r in known])
    worst = sorted(known, key=lambda r: -abs(float(np.log(r.moving_s / r.expected_s))))
    return Hindsight(
        time=_held(len(known), held),
        mean_error=error,
        learned_error=None
        if times is None
        else _mean_error(known, [_learned_s(ride, times) for ride in known]),
        bias=float(np.exp(np.log(ratio).mean())) if known else None,
        misses=tuple(_miss(ride) for ride in worst[:_MOST_MISSES]),
        ground=_ground(statements, witnesses, map_p or {}),
    )


def _mean_error(rides: Sequence[Ridden], expected_s: Sequence[float]) -> float | None:
    error = [abs(r.moving_s - e) / r.moving_s for r, e in zip(rides, expected_s, strict=True)]
    return float(np.mean(error)) if error else None


def _learned_s(ride: Ridden, times: LearnedTimes) -> float:
    """Riding time as it is expected since."""
    pace = times.pace_for(ride.rider, ride.bike_class)
    if pace is None:
        return ride.expected_s
    more_s = sum(
        part.expected_s * (float(np.dot(part.p, pace.factor)) - 1.0)
        for part in ride.parts
        if part.p is not None
    )
    return ride.expected_s + more_s


def _held(n: int, held: int) -> Held:
    """The share with its 90 % interval by Jeffreys' prior: Brown, Cai and DasGupta 2001,
    Interval estimation for a binomial proportion, Statist. Sci. 16, 101-133 (from memory).
    """
    if not n:
        return Held(n=0, held=0, share=None, low=None, high=None)
    a, b = held + 0.5, n - held + 0.5
    return Held(
        n=n, held=held, share=held / n,
        low=0.0 if held == 0 else float(betaincinv(a, b, 0.05)),
        high=1.0 if held == n else float(betaincinv(a, b, 0.95)),
    )  # fmt: skip


def _miss(ride: Ridden) -> Miss:
    return Miss(
        name=ride.name, day=ride.day, moving_s=ride.moving_s, expected_s=ride.expected_s,
        ratio=ride.moving_s / ride.expected_s, reason=_reason(ride),
    )  # fmt: skip


def _reason(ride: Ridden) -> str:
    """The ground that most of the difference comes from, or what makes the times doubtful."""
    if ride.median_gap_s > _SPARSE_S:
        return message("the fixes lie {gap_s} apart: its times are rough", gap_s=ride.median_gap_s)
    over: dict[tuple[GroundKind, bool], list[float]] = {}
    for part in ride.parts:
        if part.moving_s is None or part.ground is GroundKind.FERRY:
            continue
        guessed = part.p is not None and max(part.p) < 0.8
        row = over.setdefault((part.ground, guessed), [0.0, 0.0])
        row[0] += part.moving_s
        row[1] += part.expected_s
    if not over:
        return message("nothing of it is known part by part")
    late = ride.moving_s > ride.expected_s
    same_way = {key: row for key, row in over.items() if (row[0] > row[1]) == late}
    (ground, guessed), (moving, expected) = max(
        (same_way or over).items(), key=lambda item: abs(item[1][0] - item[1][1])
    )
    share = 100.0 * moving / max(expected, 1.0)
    if late and ride.night_s > _NIGHT * ride.moving_s:  # the dark makes nobody quicker
        return message("{night_s} of it was ridden in the dark", night_s=ride.night_s)
    if guessed:
        return message(
            "{ground} that the map does not tell took {part_pct} of the expected time",
            ground=term(GROUND_TERMS[ground]), part_pct=share,
        )  # fmt: skip
    return message(
        "{ground} took {part_pct} of the expected time", ground=term(GROUND_TERMS[ground]),
        part_pct=share,
    )  # fmt: skip


def _ground(
    statements: Sequence[Statement], witnesses: Sequence[Witness], map_p: Mapping[int, Three]
) -> GroundCheck | None:
    heard = {w.who for w in witnesses if w.heard}
    told = [
        (map_p[s.way_id], LAND_GROUNDS.index(s.ground))
        for s in statements
        if s.ground is not None and s.who in heard and s.way_id in map_p
    ]
    if not told:
        return None
    return GroundCheck(
        n=len(told),
        right=sum(int(np.argmax(p)) == g for p, g in told),
        expected=float(sum(max(p) for p, _ in told)),
    )
