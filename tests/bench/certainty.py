"""How often the setup said is the setup of the full truth, by the word of certainty.

Run: python -m tests.bench.certainty [EXTRACT ...]

Rides and draws of ground_intervals: random routes over ways whose surface tag tells paved, gravel
or track, where tags are hidden at random, on whole squares of 3 km, or on all but 0, 3 or 9 ways
of each class; over Andorra also an older map against what a newer one tells. The region is left out
of the coefficients. Each ride is judged twice, with the months and heights left open: by what is
left of the tags, and with every ground known. The truth is the side of the limit that the known
ground lies on, without the margin by which an answer is called too close.

Scored are the whole rides with 3 km or more hidden, and the hidden parts as rides of their own,
where nothing but the estimate speaks. An answer that stays open has no word.
"""

from __future__ import annotations

import sys
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from terrain.stages.advice.burden import burden_of
from terrain.stages.advice.case import AdviceCase
from terrain.stages.advice.gather import case_stretches
from terrain.stages.advice.setup.decide import decide
from terrain.stages.advice.setup.judge import judge_setup
from terrain.stages.ground.judge import ground_along
from terrain.stages.relief.judge import judge_relief
from terrain.stages.speed import judge_speed
from terrain.stages.verdict.judge import certainty_of
from terrain.stages.ways.evidence import labelled_kind
from terrain.stages.ways.fit import fit_way_ground
from terrain.tables.advice import SETUP
from terrain.tables.fleet import DEFAULT_FLEET
from terrain.tables.verdict import SURENESS
from terrain.values.advice import SetupChoice
from terrain.values.arrays import BoolArray, IntArray
from terrain.values.ground import BASES, Basis, WayGround
from terrain.values.trip import Trip
from terrain.values.views import RoadsView
from tests.bench.ground import PAIRS, at_random, hide, in_blocks, model_without, tagged
from tests.bench.ground_intervals import (
    LEAST_M,
    THIN,
    THIN_MAPS,
    all_but,
    ride,
    routes,
    share_between,
)
from tests.bench.ground_maps import Mapped, extracts, read_map

SEEDS, THIN_SEEDS = tuple(range(11, 16)), tuple(range(31, 34))  # of those of the intervals
_LIMIT_ALONE = replace(SETUP, margin=0.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Said:
    """One ride: the word for its setup and how probable it was told, "open" if it is not firm.

    held : whether the 90 % interval of weighted off-road time holds it; None where the best of it
        is under a hundredth of the ride
    """

    name: str
    task: str
    draw: int
    part: str
    choice: SetupChoice
    word: str = "open"
    p: float = np.nan
    right: bool = False
    held: bool | None = None


def case_of(one: Mapped, roads: RoadsView, ground: WayGround, edges: IntArray) -> AdviceCase:
    """A steady rider's ride over whole edges."""
    match, trip = ride(roads, edges), Trip()
    along = ground_along(match, roads, ground)
    relief = judge_relief(match, roads, None)
    ridden = judge_speed(match, along, relief, one.places, roads, trip=trip)
    return AdviceCase(
        stretches=case_stretches(ridden, along, roads), trip=trip, fleet=DEFAULT_FLEET
    )


def as_known(ground: WayGround, kind: IntArray) -> WayGround:
    """The ground with what is known of it in the place of what is estimated."""
    p, basis = np.array(ground.p), np.array(ground.basis)
    known = (kind >= 0) & (kind < 3)
    p[known] = np.eye(3)[kind[known]]
    basis[known] = BASES.index(Basis.TAGGED)
    return replace(ground, p=p, basis=basis)


def judged(
    one: Mapped, left: RoadsView, ground: WayGround, kind: IntArray, hidden: BoolArray,
    edges: IntArray, task: str, draw: int,
) -> Iterator[Said]:  # fmt: skip
    """What is said of a ride on the tags that are left, and of its hidden part alone."""
    row = one.roads.edge_way[edges]
    told = (kind[row] >= 0) & (kind[row] < 3)
    if one.roads.edge_length_m[edges][told & hidden[row]].sum() < LEAST_M:
        return
    known = as_known(ground, kind)
    for part, there in (("whole", told), ("hidden", told & hidden[row])):
        case = case_of(one, left, ground, edges[there])
        burden = burden_of(case, SETUP)
        setup = judge_setup(case, burden, SETUP)
        full = burden_of(case_of(one, one.roads, known, edges[there]), SETUP)
        best, low, high = setup.off_road_s
        said = Said(
            name=one.name, task=task, draw=draw, part=part, choice=SetupChoice.ASK,
            held=low - 1 <= full.likely_s()[0] <= high + 1 if best > 0.01 * setup.ride_s else None,
        )  # fmt: skip
        if setup.choice is not SetupChoice.ASK:
            sure = certainty_of(setup)
            assert sure.sureness is not None and sure.p is not None
            truth = decide(full.on(full.likely()), _LIMIT_ALONE)
            said = replace(
                said, choice=setup.choice, word=sure.sureness.value, p=sure.p,
                right=setup.choice is truth,
            )  # fmt: skip
        yield said


def hidden_rounds(one: Mapped) -> Iterator[Said]:
    kind = labelled_kind(one.labels)
    for task, pick in (("a", at_random), ("b", in_blocks)):
        for seed in SEEDS:
            hidden = pick(one, seed)
            yield from _round(one, kind, hidden, routes(one, seed), task, seed)


def thin_rounds(one: Mapped, kept: int) -> Iterator[Said]:
    kind = labelled_kind(one.labels)
    for seed in THIN_SEEDS:
        hidden = all_but(one, kept, seed)
        yield from _round(one, kind, hidden, routes(one, seed, 20), f"{kept} kept", seed)


def _round(
    one: Mapped, kind: IntArray, hidden: BoolArray, ways: Iterator[IntArray], task: str, seed: int
) -> Iterator[Said]:
    left = hide(one.roads, hidden, grades=task != "a")
    ground = fit_way_ground(left, one.places, model=model_without(one.name))
    for edges in ways:
        yield from judged(one, left, ground, kind, hidden, edges, task, seed)


def later_rounds(old: Mapped, new: Mapped) -> Iterator[Said]:
    place = {int(i): k for k, i in enumerate(new.roads.ways.way_id)}
    partner = np.asarray([place.get(int(i), -1) for i in old.roads.ways.way_id])
    kind = np.where(partner >= 0, labelled_kind(new.labels)[partner], -1)
    ground = fit_way_ground(old.roads, old.places, model=model_without(old.name))
    hidden = np.isnan(old.labels.sealed)
    for seed in SEEDS:
        for edges in routes(old, seed):
            yield from judged(old, old.roads, ground, kind, hidden, edges, "c", seed)


def report(done: Sequence[Said]) -> None:
    for part in ("whole", "hidden"):
        own = [s for s in done if s.part == part]
        held = [((s.name, s.task, s.draw), s.held) for s in own if s.held is not None]
        low, high = share_between(held) if held else (np.nan, np.nan)
        print(f"\n{part}: {len(own)} rides; weighted off-road time, where told, held on "
              f"{np.mean([h for _, h in held]):.3f} ({low:.3f} to {high:.3f}) of {len(held)}"
              )  # fmt: skip
        for choice in (None, SetupChoice.ROAD, SetupChoice.OFF_ROAD):
            print(f"  {'any answer' if choice is None else choice.value}")
            for word in (*(step.sureness for step in SURENESS), "open"):
                rows = [s for s in own if s.word == word and choice in (None, s.choice)]
                print(f"    {word:15s} {_told(rows)}")
        for task in dict.fromkeys(s.task for s in own):
            print(f"  ({task})", *(
                f"{word} {sum(r.right for r in rows)}/{len(rows)};"
                for word in (*(step.sureness for step in SURENESS), "open")
                if (rows := [s for s in own if s.task == task and s.word == word])
            ))  # fmt: skip
        wrong = [s for s in own if s.word != "open" and not s.right]
        for name, task in dict.fromkeys((s.name, s.task) for s in wrong):
            rows = [s for s in wrong if (s.name, s.task) == (name, task)]
            print(f"  not the truth: {name} ({task})", [(s.word, round(s.p, 3)) for s in rows])


def _told(rows: Sequence[Said]) -> str:
    if not rows or rows[0].word == "open":
        return f"{len(rows):5d}"
    low, high = share_between([((s.name, s.task, s.draw), s.right) for s in rows])
    return (
        f"{len(rows):5d}  right {np.mean([s.right for s in rows]):.3f} ({low:.3f} to {high:.3f})"
        f"  told {np.mean([s.p for s in rows]):.3f}"
    )


def main(arguments: Sequence[str]) -> None:
    if arguments:
        report([s for a in arguments for s in hidden_rounds(read_map(Path(a)))])
        return
    maps = {name: read_map(path, name) for name, path in extracts().items()}
    done = [s for one in maps.values() if tagged(one).sum() >= 100 for s in hidden_rounds(one)]
    for a, b in PAIRS:
        if a in maps and b in maps:
            done += later_rounds(maps[a], maps[b])
    for kept in THIN:
        for name in THIN_MAPS:
            if name in maps:
                done += thin_rounds(maps[name], kept)
    report(done)


if __name__ == "__main__":
    main(sys.argv[1:])
