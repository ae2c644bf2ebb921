"""Do the 90 % intervals of the paved share hold the truth?

Run: python -m tests.bench.ground_intervals [EXTRACT ...]

Random routes: shortest paths of 10 to 60 km between random junctions over the motor roads of an
extract, half of them with tracks at a third of their length so that tracks are ridden too.
Surface is hidden on 30 % of the tagged ways at random and, in other rounds (with tracktype and
smoothness), on 30 % of the 3 km squares. A route is scored on its hidden part, if that is 3 km
or more: the tagged part would only make it easier. Over Andorra also from the older map on what
the newer one tells. A route is *open* if our own estimate of its paved share is 2 to 98 %: on
the others nearly every outcome is "all paved", which no interval that may be shown can miss.
Last, over five maps where only 0, 3 or 9 tagged ways of each class are left.
Few routes are free of each other: those of a pair of maps share the few ways that were tagged
later, so one way can decide a row (Andorra 2021 to 2023: two short tracks that are sealed).
"""

from __future__ import annotations

import sys
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import scipy.sparse as sparse
from scipy.sparse.csgraph import dijkstra

from terrain.stages.ground.judge import ground_along
from terrain.stages.ways.fit import fit_way_ground, map_day
from terrain.values.arrays import BoolArray, FloatArray, IntArray
from terrain.values.ground import GroundKind, WayGround
from terrain.values.match import LegKind, Match
from terrain.values.views import RoadsView
from tests.bench.ground import PAIRS, at_random, hide, in_blocks, model_without, tagged
from tests.bench.ground_maps import Mapped, extracts, read_map

SHORTEST_M, LONGEST_M = 10_000.0, 60_000.0
SEEDS = tuple(range(11, 27))
THIN_SEEDS = tuple(range(31, 37))
THIN_MAPS = ("andorra-2023", "liechtenstein-2021", "malta-2018", "swellendam", "faroe-2017")
THIN = (0, 3, 9)  # tagged ways of a class that are left
ROUTES = 30  # a round
LEAST_M = 3000.0
OPEN = (0.02, 0.98)


@dataclass(frozen=True, slots=True, kw_only=True)
class Checked:
    """One route: whether its interval held the truth, and how wide it was."""

    name: str
    task: str
    held: bool
    width: float
    truth: float
    best: float


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
    sealed: FloatArray,
    hidden: BoolArray,
    edges: IntArray,
    task: str,
    years: float = 0.0,
) -> Checked | None:
    """Judge one route's hidden part; None if it does not count."""
    roads = one.roads
    row = roads.edge_way[edges]
    known = edges[hidden[row] & ~np.isnan(sealed[row])]
    length = roads.edge_length_m[known]
    way = roads.edge_way[known]
    if length.sum() < LEAST_M:
        return None
    today = None
    if years:
        today = np.datetime64(ground.map_day + round(years * 365.25), "D").astype(object)
    judged = ground_along(ride(roads, known), roads, ground, today=today)
    assert judged.shares is not None
    share = judged.shares[GroundKind.PAVED]
    truth = float(np.average(sealed[way], weights=length))
    held = share.low - 1e-9 <= truth <= share.high + 1e-9
    return Checked(
        name=one.name, task=task, held=held, width=share.high - share.low, truth=truth,
        best=share.best,
    )  # fmt: skip


def hidden_rounds(one: Mapped) -> list[Checked]:
    out: list[Checked | None] = []
    for task, pick in (("a", at_random), ("b", in_blocks)):
        for seed in SEEDS:
            hidden = pick(one, seed)
            view = hide(one.roads, hidden, grades=task == "b")
            ground = fit_way_ground(view, one.places, model=model_without(one.name))
            out += [
                check(one, ground, one.labels.sealed, hidden, edges, task)
                for edges in routes(one, seed)
                if len(edges)
            ]
    return [c for c in out if c is not None]


def thin_rounds(one: Mapped, kept: int) -> list[Checked]:
    """Where only so many ways of each class are tagged: the report calls fewer than ENOUGH_WAYS
    thin."""
    out: list[Checked | None] = []
    rank = one.facts.shape.rank
    for seed in THIN_SEEDS:
        random, hidden = np.random.default_rng(seed), tagged(one)
        for own in np.unique(rank[hidden]):
            hidden[random.permutation(np.flatnonzero(tagged(one) & (rank == own)))[:kept]] = False
        ground = fit_way_ground(
            hide(one.roads, hidden, grades=True), one.places, model=model_without(one.name)
        )
        out += [
            check(one, ground, one.labels.sealed, hidden, edges, f"{kept} kept")
            for edges in routes(one, seed, 20)
            if len(edges)
        ]
    return [c for c in out if c is not None]


def later_rounds(old: Mapped, new: Mapped) -> list[Checked]:
    place = {int(i): k for k, i in enumerate(new.roads.ways.way_id)}
    partner = np.asarray([place.get(int(i), -1) for i in old.roads.ways.way_id])
    sealed = np.where(partner >= 0, new.labels.sealed[partner], np.nan)
    hidden = np.isnan(old.labels.sealed)
    ground = fit_way_ground(old.roads, old.places, model=model_without(old.name))
    years = (map_day(new.roads.ways) - map_day(old.roads.ways)) / 365.25
    found = [
        check(old, ground, sealed, hidden, edges, "c", years)
        for seed in SEEDS
        for edges in routes(old, seed)
        if len(edges)
    ]
    return [c for c in found if c is not None]


def report(done: Sequence[Checked]) -> None:
    for task in dict.fromkeys(c.task for c in done):
        for name in [*dict.fromkeys(c.name for c in done), "all"]:
            own = [c for c in done if c.task == task and name in (c.name, "all")]
            if own:
                unsure = [c for c in own if OPEN[0] < c.best < OPEN[1]]
                print(
                    f"({task}) {name:20s} {len(own):4d} routes"
                    f"  held {np.mean([c.held for c in own]):.3f}"
                    f"  width {np.mean([c.width for c in own]):.3f}"
                    f"  error {np.mean([abs(c.best - c.truth) for c in own]):.3f}"
                    f"  open {len(unsure):4d}"
                    f"  held {np.mean([c.held for c in unsure]) if unsure else np.nan:.3f}"
                )
    unsure = [c.held for c in done if OPEN[0] < c.best < OPEN[1]]
    print(f"all routes: {np.mean([c.held for c in done]):.3f} of {len(done)} held")
    print(f"open routes: {np.mean(unsure):.3f} of {len(unsure)} held")


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
