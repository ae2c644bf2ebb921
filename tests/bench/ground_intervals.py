"""Do the 90 % intervals of the paved, gravel and track shares hold the truth?

Run: python -m tests.bench.ground_intervals [EXTRACT ...]

Random routes: shortest paths of 10 to 60 km between random junctions over the motor roads of an
extract, half of them with tracks at a third of their length so that tracks are ridden too.
Surface is hidden on 30 % of the tagged ways at random and, in other rounds (with tracktype and
smoothness), on 30 % of the 3 km squares. A route is scored on its hidden part, if that is 3 km
or more: the tagged part would only make it easier. Over Andorra also from the older map on what
the newer one tells. A route is *open* for a ground if our own estimate of its share is 2 to 98 %:
on the others nearly every outcome is "all paved" or "no track", which no interval that may be
shown can miss. Gravel and track are scored without the ways whose tag says only "unpaved": nobody
told which of the two they are.
Last, over five maps where only 0, 3 or 9 tagged ways of each class are left.
Few routes are free of each other: those of one draw share what is hidden, so the 95 % interval of
how often the truth is held draws whole draws anew with replacement. Those of a pair of maps share
the few ways that were tagged later, so one way can decide a row, and the interval does not tell
(Andorra 2021 to 2023: two short tracks that are sealed).
"""

from __future__ import annotations

import sys
from collections.abc import Hashable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import scipy.sparse as sparse
from scipy.sparse.csgraph import dijkstra

from terrain.stages.ground.judge import ground_along
from terrain.stages.ways.evidence import labelled_kind
from terrain.stages.ways.fit import fit_way_ground, map_day
from terrain.stages.ways.model import TrainingLabels
from terrain.values.arrays import BoolArray, FloatArray, IntArray
from terrain.values.ground import LAND_GROUNDS, GroundKind, WayGround
from terrain.values.match import LegKind, Match
from terrain.values.views import RoadsView
from tests.bench.ground import (
    PAIRS,
    at_random,
    hide,
    in_blocks,
    model_without,
    rows_of,
    tagged,
)
from tests.bench.ground_maps import Mapped, extracts, read_map

SHORTEST_M, LONGEST_M = 10_000.0, 60_000.0
SEEDS = tuple(range(11, 27))
THIN_SEEDS = tuple(range(31, 37))
THIN_MAPS = ("andorra-2023", "liechtenstein-2021", "malta-2018", "swellendam", "faroe-2017")
THIN = (0, 3, 9)  # tagged ways of a class that are left
ROUTES = 30  # a round
LEAST_M = 3000.0
OPEN = (0.02, 0.98)
RESAMPLED = 2000
#: Grounds that are scored on the same ways, and the kinds of those (see labelled_kind; 3 is
#: "unpaved", without which of the two).
SCORED = (((GroundKind.PAVED,), (0, 1, 2, 3)), ((GroundKind.GRAVEL, GroundKind.TRACK), (0, 1, 2)))


@dataclass(frozen=True, slots=True, kw_only=True)
class Checked:
    """A share of one route: whether its interval held the truth, and how wide it was.

    draw : number of the hiding that it shares with other routes of the region
    """

    name: str
    task: str
    draw: int
    ground: GroundKind
    held: bool
    width: float
    truth: float
    best: float

    @property
    def open(self) -> bool:
        return OPEN[0] < self.best < OPEN[1]


def routes(one: Mapped, seed: int, n: int = ROUTES) -> Iterator[IntArray]:
    """Edges of random shortest paths."""
    roads, random = one.roads, np.random.default_rng(seed)
    use = np.flatnonzero(one.facts.shape.road[roads.edge_way])
    track = one.facts.kind[roads.edge_way] == 2
    for mild in (False, True):
        cost = np.maximum(roads.edge_length_m, 0.1) * np.where(track & mild, 1 / 3, 1.0)
        graph, edge_of = _graph(roads, use, cost)
        ends = np.unique(np.concatenate([roads.edge_u[use], roads.edge_v[use]]))
        for start in random.choice(ends, size=max(1, n // 4)):
            away, back = dijkstra(graph, indices=int(start), return_predecessors=True)
            far = np.flatnonzero((away >= SHORTEST_M) & (away <= LONGEST_M))
            for goal in random.choice(far, size=min(2, len(far)), replace=False):
                yield _path(int(goal), int(start), back, edge_of)


def _graph(
    roads: RoadsView, use: IntArray, cost: FloatArray
) -> tuple[sparse.csr_matrix, dict[tuple[int, int], int]]:
    edge_of: dict[tuple[int, int], int] = {}
    for e in use:
        u, v = int(roads.edge_u[e]), int(roads.edge_v[e])
        for key in ((u, v), (v, u)):
            if key not in edge_of or cost[e] < cost[edge_of[key]]:
                edge_of[key] = int(e)
    keys = np.asarray(list(edge_of), dtype=np.int64)
    weight = cost[np.asarray(list(edge_of.values()))]
    n = roads.n_nodes
    return sparse.csr_matrix((weight, (keys[:, 0], keys[:, 1])), shape=(n, n)), edge_of


def _path(goal: int, start: int, back: IntArray, edge_of: dict[tuple[int, int], int]) -> IntArray:
    edges = []
    while goal != start:
        before = int(back[goal])
        edges.append(edge_of[before, goal])
        goal = before
    return np.asarray(edges[::-1], dtype=np.int64)


def ride(roads: RoadsView, edges: IntArray) -> Match:
    """A ride over whole edges."""
    length = roads.edge_length_m[edges]
    to_m = np.cumsum(length)
    from_m = np.r_[0.0, to_m[:-1]]
    way = roads.edge_way[edges]
    at = roads.edge_start[edges]
    return Match(
        kind=np.full(len(edges), LegKind.MATCHED, dtype=np.int8),
        filled=np.zeros(len(edges), dtype=np.bool_),
        edge=edges.astype(np.int32),
        way=way,
        way_id=roads.ways.way_id[way],
        forward=np.ones(len(edges), dtype=np.bool_),
        edge_from_m=np.zeros(len(edges)),
        edge_to_m=length,
        from_m=from_m,
        to_m=to_m,
        offset_m=np.zeros(len(edges)),
        lon=np.r_[roads.pt_lon[at], roads.pt_lon[at[-1]]],
        lat=np.r_[roads.pt_lat[at], roads.pt_lat[at[-1]]],
        at_m=np.r_[from_m, to_m[-1]],
        point_at_m=np.zeros(0),
    )


def check(
    one: Mapped,
    ground: WayGround,
    truth: TrainingLabels,
    hidden: BoolArray,
    edges: IntArray,
    task: str,
    draw: int,
    years: float = 0.0,
) -> list[Checked]:
    """Judge one route's hidden part; nothing if it does not count."""
    roads, out = one.roads, []
    kind = labelled_kind(truth)
    today = None
    if years:
        today = np.datetime64(ground.map_day + round(years * 365.25), "D").astype(object)
    for grounds, told in SCORED:
        row = roads.edge_way[edges]
        known = edges[hidden[row] & np.isin(kind[row], told)]
        length = roads.edge_length_m[known]
        if length.sum() < LEAST_M:
            continue
        judged = ground_along(ride(roads, known), roads, ground, today=today)
        assert judged.shares is not None
        for own in grounds:
            share = judged.shares[own]
            is_own = kind[roads.edge_way[known]] == LAND_GROUNDS.index(own)
            true = float(np.average(is_own, weights=length))
            out.append(
                Checked(
                    name=one.name, task=task, draw=draw, ground=own, truth=true, best=share.best,
                    held=share.low - 1e-9 <= true <= share.high + 1e-9,
                    width=share.high - share.low,
                )
            )  # fmt: skip
    return out


def hidden_rounds(one: Mapped) -> list[Checked]:
    out: list[Checked] = []
    for task, pick in (("a", at_random), ("b", in_blocks)):
        for seed in SEEDS:
            hidden = pick(one, seed)
            view = hide(one.roads, hidden, grades=task == "b")
            ground = fit_way_ground(view, one.places, model=model_without(one.name))
            for edges in routes(one, seed):
                if len(edges):
                    out += check(one, ground, one.labels, hidden, edges, task, seed)
    return out


def thin_rounds(one: Mapped, kept: int) -> list[Checked]:
    """Where only so many ways of each class are tagged: the report calls fewer than ENOUGH_WAYS
    thin."""
    out: list[Checked] = []
    for seed in THIN_SEEDS:
        hidden = all_but(one, kept, seed)
        ground = fit_way_ground(
            hide(one.roads, hidden, grades=True), one.places, model=model_without(one.name)
        )
        for edges in routes(one, seed, 20):
            if len(edges):
                out += check(one, ground, one.labels, hidden, edges, f"{kept} kept", seed)
    return out


def all_but(one: Mapped, kept: int, seed: int) -> BoolArray:
    """The tagged ways but `kept` of each class."""
    rank = one.facts.shape.rank
    random, hidden = np.random.default_rng(seed), tagged(one)
    for own in np.unique(rank[hidden]):
        hidden[random.permutation(np.flatnonzero(tagged(one) & (rank == own)))[:kept]] = False
    return hidden


def later_rounds(old: Mapped, new: Mapped) -> list[Checked]:
    place = {int(i): k for k, i in enumerate(new.roads.ways.way_id)}
    partner = np.asarray([place.get(int(i), -1) for i in old.roads.ways.way_id])
    later = rows_of(new.labels, partner)
    truth = TrainingLabels(
        sealed=np.where(partner >= 0, later.sealed, np.nan),
        built=np.where(partner >= 0, later.built, np.nan),
    )
    hidden = np.isnan(old.labels.sealed)
    ground = fit_way_ground(old.roads, old.places, model=model_without(old.name))
    years = (map_day(new.roads.ways) - map_day(old.roads.ways)) / 365.25
    return [
        checked
        for seed in SEEDS
        for edges in routes(old, seed)
        if len(edges)
        for checked in check(old, ground, truth, hidden, edges, "c", seed, years)
    ]


_HEAD = (
    f"{'':20s} routes   held  width  error  open   held (95 % by draws)"
    "  truth below  truth above  width"
)


def report(done: Sequence[Checked]) -> None:
    for own in LAND_GROUNDS:
        of_ground = [c for c in done if c.ground is own]
        for task in dict.fromkeys(c.task for c in of_ground):
            print(f"\n{own.value}, ({task})")
            print(_HEAD)
            for name in [*dict.fromkeys(c.name for c in of_ground), "all"]:
                rows = [c for c in of_ground if c.task == task and name in (c.name, "all")]
                if rows:
                    print(f"{name:20s} {_told(rows)}")
        unsure = [c.held for c in of_ground if c.open]
        print(f"all routes: {np.mean([c.held for c in of_ground]):.3f} of {len(of_ground)} held")
        print(f"open routes: {np.mean(unsure):.3f} of {len(unsure)} held")


def _told(rows: Sequence[Checked]) -> str:
    unsure = [c for c in rows if c.open]
    said = (
        f"{len(rows):6d}  {np.mean([c.held for c in rows]):.3f}"
        f"  {np.mean([c.width for c in rows]):.3f}"
        f"  {np.mean([abs(c.best - c.truth) for c in rows]):.3f}  {len(unsure):5d}"
    )
    if not unsure:
        return said
    low, high = share_between([((c.name, c.draw), c.held) for c in unsure])
    below, above = ([not c.held and (c.truth < c.best) is side for c in unsure]
                    for side in (True, False))  # fmt: skip
    width = np.mean([c.width for c in unsure])
    return (
        f"{said}  {np.mean([c.held for c in unsure]):.3f} ({low:.3f} to {high:.3f})"
        f"  {np.mean(below):11.3f}  {np.mean(above):11.3f}  {width:.3f}"
    )


def share_between(rows: Sequence[tuple[Hashable, bool]]) -> tuple[float, float]:
    """95 % interval of how often something is so, whole draws taken anew with replacement.

    rows : the draw of each, and whether it is so
    """
    names = list(dict.fromkeys(draw for draw, _ in rows))
    number = {draw: i for i, draw in enumerate(names)}
    place = [number[draw] for draw, _ in rows]
    n = np.bincount(place, minlength=len(names))
    so = np.bincount(place, [is_so for _, is_so in rows], minlength=len(names))
    times = np.random.default_rng(0).multinomial(
        len(names), np.full(len(names), 1 / len(names)), RESAMPLED
    )
    low, high = np.quantile((times @ so) / (times @ n), (0.025, 0.975))
    return float(low), float(high)


def main(arguments: Sequence[str]) -> None:
    found = extracts()
    if arguments:
        report([c for a in arguments for c in hidden_rounds(read_map(Path(a)))])
        return
    maps = {name: read_map(path, name) for name, path in found.items()}
    done = [c for one in maps.values() if tagged(one).sum() >= 100 for c in hidden_rounds(one)]
    for a, b in PAIRS:
        if a in maps and b in maps:
            done += later_rounds(maps[a], maps[b])
    report(done)
    report(
        [
            c
            for kept in THIN
            for name in THIN_MAPS
            if name in maps
            for c in thin_rounds(maps[name], kept)
        ]
    )


if __name__ == "__main__":
    main(sys.argv[1:])
