"""The ride as few sections a person can read, out of the many stretches of a report.

A stretch ends at every change of way; a hundred of them fill no screen. A section is a run of
stretches of one ground; slivers join their longer neighbour, and say so by their `p`.
"""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from itertools import groupby
from typing import Any

KINDS: tuple[str, ...] = ("paved", "gravel", "track", "ferry", "unmapped")
LAND: tuple[str, ...] = KINDS[:3]
MOST_SECTIONS = 60
_SHORTEST_M = 200.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Section:
    """A run of the ride that is told as one.

    number : 1 for the first; from_m, to_m : metres along the ride
    ground : the ground of most of it; lengths : metres by ground of the stretches in it
    p : mean probabilities of its land stretches by length; None if it has none
    basis : metres by basis; names : road names in it, the longest first
    first, last : indices of its stretches in the report, both included
    """

    number: int
    from_m: float
    to_m: float
    ground: str
    lengths: dict[str, float]
    p: dict[str, float] | None
    basis: dict[str, float]
    names: tuple[str, ...]
    first: int
    last: int

    @property
    def length_m(self) -> float:
        return self.to_m - self.from_m


def sections(stretches: list[dict[str, Any]], most: int = MOST_SECTIONS) -> list[Section]:
    """The stretches of a report as at most `most` sections, in riding order."""
    runs = [
        _Run(part[0][0], part[-1][0], {ground: sum(s["to_m"] - s["from_m"] for _, s in part)})
        for ground, group in groupby(enumerate(stretches), key=lambda row: row[1]["ground"])
        for part in [list(group)]
    ]
    shortest = _SHORTEST_M
    while True:
        runs = _without_slivers(runs, shortest)
        if len(runs) <= most:
            break
        shortest *= 1.5
    return [_section(n, run, stretches) for n, run in enumerate(runs, start=1)]


class _Run:
    """Stretches first..last with their metres by ground; grows as neighbours join."""

    __slots__ = ("first", "ground", "last", "length_m", "lengths")

    def __init__(self, first: int, last: int, lengths: dict[str, float]) -> None:
        self.first, self.last, self.lengths = first, last, lengths
        self.length_m = sum(lengths.values())
        longest = max(lengths.values())
        # On a tie the kind that stands first in KINDS.
        self.ground = next(kind for kind in KINDS if lengths.get(kind) == longest)

    def with_next(self, other: _Run) -> _Run:
        lengths = dict(self.lengths)
        for kind, metres in other.lengths.items():
            lengths[kind] = lengths.get(kind, 0.0) + metres
        return _Run(self.first, other.last, lengths)


def _joined(runs: list[_Run]) -> list[_Run]:
    """Neighbouring runs of one main ground as one run."""
    joined: list[_Run] = []
    for run in runs:
        if joined and joined[-1].ground == run.ground:
            joined[-1] = joined[-1].with_next(run)
        else:
            joined.append(run)
    return joined


def _without_slivers(runs: list[_Run], shortest: float) -> list[_Run]:
    """Runs shorter than `shortest` joined to their longer neighbour, shortest first."""
    runs = list(runs)
    lengths = [run.length_m for run in runs]
    while len(runs) > 1 and (least := min(lengths)) < shortest:
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


def _section(number: int, run: _Run, stretches: list[dict[str, Any]]) -> Section:
    part = stretches[run.first : run.last + 1]
    land = [s for s in part if s["p"] is not None]
    land_m = sum(s["to_m"] - s["from_m"] for s in land)
    p = None
    if land_m > 0:
        of_land = dict.fromkeys(LAND, 0.0)
        for s in land:
            metres = s["to_m"] - s["from_m"]
            for kind, share in s["p"].items():
                of_land[kind] += share * metres
        p = {kind: metres / land_m for kind, metres in of_land.items()}
    basis: dict[str, float] = defaultdict(float)
    names: dict[str, float] = defaultdict(float)
    for s in part:
        metres = s["to_m"] - s["from_m"]
        if s["basis"] is not None:
            basis[s["basis"]] += metres
        if s["name"]:
            names[s["name"]] += metres
    return Section(
        number=number,
        from_m=part[0]["from_m"],
        to_m=part[-1]["to_m"],
        ground=max(p, key=lambda kind: p[kind]) if p and run.ground in LAND else run.ground,
        lengths=run.lengths,
        p=p,
        basis=dict(basis),
        names=tuple(sorted(names, key=lambda name: -names[name])),
        first=run.first,
        last=run.last,
    )
