"""The ride as few sections a person can read, out of the many stretches of a report.

A stretch ends at every change of way; a hundred of them fill no screen. A section is a run of
stretches of one ground; slivers join their longer neighbour, and say so by their `p`.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Hashable, Sequence
from itertools import groupby
from typing import TypeVar

import numpy as np

from terrain.stages.relief.gradient import climb_between
from terrain.stages.relief.judge import PARAMS
from terrain.tables.verdict import MOST_SECTIONS, SECTION_SHORTEST_M
from terrain.values.ground import LAND_GROUNDS, GroundKind, Stretch
from terrain.values.relief import Relief
from terrain.values.ride import Ride
from terrain.values.verdict import Section

_KINDS: tuple[GroundKind, ...] = tuple(GroundKind)
_Key = TypeVar("_Key", bound=Hashable)


def cut_sections(ride: Ride, relief: Relief, most: int = MOST_SECTIONS) -> tuple[Section, ...]:
    """The stretches of a ride as at most `most` sections, in riding order."""
    stretches = ride.stretches
    runs = [
        _SectionRun(part[0][0], part[-1][0], {ground: sum(s.length_m for _, s in part)})
        for ground, group in groupby(enumerate(stretches), key=lambda row: row[1].ground)
        for part in [list(group)]
    ]
    shortest_m = SECTION_SHORTEST_M
    while True:
        runs = _without_slivers(runs, shortest_m)
        if len(runs) <= most:
            break
        shortest_m *= 1.5
    moves = _climbs(runs, stretches, relief)
    return tuple(
        _section(n, run, ride, move) for n, (run, move) in enumerate(zip(runs, moves, strict=True))
    )


class _SectionRun:
    """Stretches first..last with their metres by ground; grows as neighbours join."""

    __slots__ = ("first", "ground", "last", "length_m", "lengths")

    def __init__(self, first: int, last: int, lengths: dict[GroundKind, float]) -> None:
        self.first, self.last, self.lengths = first, last, lengths
        self.length_m = sum(lengths.values())
        longest = max(lengths.values())
        # On a tie the kind that stands first in _KINDS.
        self.ground = next(kind for kind in _KINDS if lengths.get(kind) == longest)

    def with_next(self, other: _SectionRun) -> _SectionRun:
        lengths = defaultdict(float, self.lengths)
        for kind, metres in other.lengths.items():
            lengths[kind] += metres
        return _SectionRun(self.first, other.last, lengths)


def _joined(runs: list[_SectionRun]) -> list[_SectionRun]:
    """Neighbouring runs of one main ground as one run."""
    joined: list[_SectionRun] = []
    for run in runs:
        if joined and joined[-1].ground == run.ground:
            joined[-1] = joined[-1].with_next(run)
        else:
            joined.append(run)
    return joined


def _without_slivers(runs: list[_SectionRun], shortest_m: float) -> list[_SectionRun]:
    """Runs shorter than `shortest_m` joined to their longer neighbour, shortest first."""
    runs = list(runs)
    lengths = [run.length_m for run in runs]
    while len(runs) > 1 and (least := min(lengths)) < shortest_m:
        i = lengths.index(least)
        left = lengths[i - 1] if i > 0 else -1.0
        right = lengths[i + 1] if i + 1 < len(runs) else -1.0
        k = i - 1 if left >= right else i
        low = max(k - 1, 0)
        merged = runs[k].with_next(runs[k + 1])
        joined = _joined([*runs[low:k], merged, *runs[k + 2 : k + 3]])
        runs[low : k + 3] = joined
        lengths[low : k + 3] = [run.length_m for run in joined]
    return runs


_NO_MOVE = (None, None)


def _climbs(
    runs: Sequence[_SectionRun], stretches: Sequence[Stretch], relief: Relief
) -> list[tuple[float | None, float | None]]:
    """Climb and descent of each run [m]; None where less than half of it has heights."""
    at_m, ele_m = relief.profile()
    if not len(at_m):
        return [_NO_MOVE] * len(runs)
    ends_m = [stretches[run.last].to_m for run in runs]
    cuts_m = np.array([stretches[0].from_m, *ends_m])
    up, down = climb_between(at_m, ele_m, cuts_m, threshold_m=PARAMS.threshold_m)
    return [_NO_MOVE if np.isnan(u) else (u, d) for u, d in zip(up.tolist(), down.tolist(),
                                                                strict=True)]  # fmt: skip


def _section(
    n: int, run: _SectionRun, ride: Ride, move: tuple[float | None, float | None]
) -> Section:
    part = ride.stretches[run.first : run.last + 1]
    p = _mean_p(part)
    names = _metres(part, lambda s: s.name)
    roads = _metres(part, lambda s: s.highway)
    basis = _metres(part, lambda s: s.basis)
    time_s = ride.speeds.time_s[run.first : run.last + 1]
    return Section(
        number=n + 1,
        from_m=part[0].from_m,
        to_m=part[-1].to_m,
        ground=LAND_GROUNDS[int(np.argmax(p))]
        if p is not None and run.ground in LAND_GROUNDS
        else run.ground,
        lengths=tuple(run.lengths.items()),
        p=p,
        basis=tuple((key, basis[key]) for key in _longest_first(basis)),
        names=_longest_first(names),
        unnamed=sum(roads.values()) - sum(names.values()) > max(names.values(), default=0.0),
        highway=next(iter(_longest_first(roads)), None),
        first=run.first,
        last=run.last,
        time_s=float(time_s.sum()) if len(time_s) else None,
        up_m=move[0],
        down_m=move[1],
    )


def _mean_p(part: Sequence[Stretch]) -> tuple[float, float, float] | None:
    """Mean probabilities of the stretches on land by their length; None if there are none."""
    land = [(s.p, s.length_m) for s in part if s.p is not None]
    if not sum(metres for _, metres in land) > 0:
        return None
    p = np.average([p for p, _ in land], axis=0, weights=[metres for _, metres in land])
    return float(p[0]), float(p[1]), float(p[2])


def _metres(part: Sequence[Stretch], key: Callable[[Stretch], _Key | None]) -> dict[_Key, float]:
    """Metres by name, basis or class of road; what has none is left out."""
    metres: defaultdict[_Key, float] = defaultdict(float)
    for s in part:
        value = key(s)
        if value is not None and value != "":
            metres[value] += s.length_m
    return dict(metres)


def _longest_first(metres: dict[_Key, float]) -> tuple[_Key, ...]:
    return tuple(sorted(metres, key=lambda key: -metres[key]))
