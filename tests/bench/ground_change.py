"""How often what the map tells of a way's ground changes: Andorra 2013, 2021, 2023.

Run: python -m tests.bench.ground_change

Ways of the same id in both maps. A surface tag changed if it tells another ground later
("unpaved" fits gravel and track). A graded or unsealed-tagged way was sealed if the later map
tags it so. The rates of terrain/tables/ground.TRUST rest on this.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from terrain.stages.ways.evidence import labelled_kind
from terrain.stages.ways.fit import map_day
from tests.bench.ground import PAIRS
from tests.bench.ground_maps import Mapped, extracts, read_map


@dataclass(frozen=True, slots=True, kw_only=True)
class Change:
    """One pair of maps: years between; ways with a surface in both and how many changed;
    way-years of graded ways (grade2 to grade5, no surface then, one now) and of unsealed-tagged
    ways, and how many of each were sealed."""

    years: float
    ways: int
    changed: int
    graded: int
    graded_sealed: int
    unsealed: int
    unsealed_sealed: int


def change_between(old: Mapped, new: Mapped) -> Change:
    place = {int(i): k for k, i in enumerate(new.roads.ways.way_id)}
    partner = np.asarray([place.get(int(i), -1) for i in old.roads.ways.way_id])
    road = old.facts.shape.road & (partner >= 0)
    then, now = labelled_kind(old.labels), labelled_kind(new.labels)[partner]
    both = road & (then >= 0) & (now >= 0)
    fits = (then == now) | (np.minimum(then, now) > 0) & (np.maximum(then, now) == 3)
    graded = road & (old.facts.grade >= 1) & (then < 0) & (now >= 0)
    unsealed = both & (then > 0)
    return Change(
        years=(map_day(new.roads.ways) - map_day(old.roads.ways)) / 365.25,
        ways=int(both.sum()),
        changed=int((both & ~fits).sum()),
        graded=int(graded.sum()),
        graded_sealed=int((graded & (now == 0)).sum()),
        unsealed=int(unsealed.sum()),
        unsealed_sealed=int((unsealed & (now == 0)).sum()),
    )


def main() -> None:
    found = extracts()
    for a, b in PAIRS:
        got = change_between(read_map(found[a], a), read_map(found[b], b))
        print(
            f"{a} to {b}, {got.years:.1f} years: {got.changed} of {got.ways} surface tags changed;"
            f" sealed: {got.graded_sealed} of {got.graded} graded ways,"
            f" {got.unsealed_sealed} of {got.unsealed} tagged unsealed"
        )


if __name__ == "__main__":
    main()
