"""Where the invented island's roads run: settlements, and grid lines between them by rank."""

from __future__ import annotations

from dataclasses import dataclass, field
from itertools import pairwise
from typing import Final

import numpy as np
from scipy import sparse

from terrain.values.arrays import BoolArray, FloatArray, IntArray
from tests.island.frame import COLS, STEP_M, cell_x_m, cell_y_m, to_cell
from tests.island.land import Land
from tests.island.noise import smooth_field, stream
from tests.island.paths import Board, Standard, base_cost, between, graph, grow, walk_back

# Ranks of roads; a lower number wins where lines share the ground.
RANKS: Final = ("primary", "secondary", "tertiary", "unclassified", "track", "path")
PRIMARY, SECONDARY, TERTIARY, UNCLASSIFIED, TRACK, PATH = range(6)

_STANDARDS: Final = (
    Standard(easy_pct=3.5, limit_pct=8, reuse=0.6),
    Standard(easy_pct=4.5, limit_pct=10, reuse=0.5),
    Standard(easy_pct=5.5, limit_pct=12, reuse=0.45),
    Standard(easy_pct=7.0, limit_pct=15, reuse=0.4, wet=1.5),
    Standard(easy_pct=10.0, limit_pct=22, reuse=0.35, wet=0.6),
    Standard(easy_pct=18.0, limit_pct=45, reuse=0.3, wet=0.4),
)

# Wanted places of the towns [km east, km north of the centre], clockwise along the coast.
COAST_TOWNS: Final = (
    (0.5, -13.0), (-17.0, -11.0), (-31.5, -13.5), (-38.3, -4.0), (-28.5, 5.5), (-12.5, 15.5),
    (0.5, 18.0), (11.5, 10.0), (24.0, 11.5), (37.0, 4.0), (31.0, -5.5), (17.0, -12.5),
)  # fmt: skip
VALLEY_TOWNS: Final = (
    (-22.0, -4.5), (-12.0, -4.0), (0.0, -2.5), (9.0, -8.0), (7.0, 6.0), (-4.0, 10.0),
    (24.0, -3.5), (29.5, 2.5),
)  # fmt: skip
ISLET_TOWN: Final = (37.0, -18.0)

# Roads over the range, as numbers into coast towns then valley towns (from 12 on).
_PASS_ROADS: Final = (
    (SECONDARY, (0, 14, 16, 7)),
    (SECONDARY, (1, 12, 4)),
    (SECONDARY, (11, 18, 19, 9)),
    (TERTIARY, (1, 13)),
    (TERTIARY, (17, 5)),
    (TERTIARY, (0, 15, 8)),
    (TERTIARY, (2, 12, 13, 14)),
    (TERTIARY, (17, 6)),
    (TERTIARY, (16, 8)),
)


# A lane over the high western crest between these places [km east], and the towns it joins.
_HIGH_CREST: Final = (-15.0, -9.0)
_HIGH_PASS_TOWNS: Final = (13, 5)


@dataclass(frozen=True, slots=True, kw_only=True)
class Spot:
    """A settlement or other wanted place: its node on the board and its kind."""

    node: int
    kind: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Wish:
    """Places wanted: how many, how far apart, how far from roads at most, on how steep ground."""

    n: int
    spacing_m: float
    reach_m: float
    steep_pct: float


_VILLAGES: Final = Wish(n=26, spacing_m=4500, reach_m=14_000, steep_pct=22)
_HAMLETS: Final = Wish(n=95, spacing_m=2000, reach_m=9000, steep_pct=30)
_TRACK_ENDS: Final = Wish(n=118, spacing_m=1000, reach_m=6000, steep_pct=60)
_PATH_ENDS: Final = Wish(n=90, spacing_m=900, reach_m=6000, steep_pct=150)


@dataclass(slots=True, kw_only=True, eq=False)
class Sketch:
    """Roads as moves on the board while they are being laid.

    rank : best rank of each pair of neighbouring nodes (u < v)
    used : moves along roads; on_road : nodes that carry a road
    keys : tail * nodes + head of each move, in rising order
    cost : by rank, the cost of each move for a road of that rank, kept up to date
    """

    board: Board
    rank: dict[tuple[int, int], int] = field(default_factory=dict)
    used: BoolArray
    on_road: BoolArray
    keys: IntArray
    cost: dict[int, FloatArray] = field(default_factory=dict)

    def lay(self, line: list[int], rank: int) -> None:
        """Add a line of nodes; a better road already there stays."""
        for u, v in pairwise(line):
            pair = (min(u, v), max(u, v))
            self.rank[pair] = min(rank, self.rank.get(pair, rank))
        ends = np.array(line)
        n = self.board.cell.size
        both = np.concatenate((ends[:-1] * n + ends[1:], ends[1:] * n + ends[:-1]))
        moves = np.searchsorted(self.keys, both)
        self.used[moves] = True
        self.on_road[ends] = True
        for known, cost in self.cost.items():
            cost[moves] = self.board.length_m[moves] * _STANDARDS[known].reuse

    def costs(self, rank: int, factor: FloatArray | None = None) -> sparse.csr_matrix:
        if rank not in self.cost:
            standard = _STANDARDS[rank]
            open_ground = base_cost(self.board, standard)
            along_roads = self.board.length_m * standard.reuse
            self.cost[rank] = np.where(self.used, along_roads, open_ground)
        return graph(self.board, self.cost[rank], factor)

    def join(
        self, a: int, b: int, rank: int, factor: FloatArray | None = None, dear: float = 3.8
    ) -> None:
        """Lay the cheapest road from a to b; `dear` is a likely bound of its cost per metre."""
        apart = np.hypot(*np.diff(node_xy(self.board, np.array([a, b])), axis=0)[0])
        self.lay(between(self.costs(rank, factor), a, b, dear * float(apart)), rank)

    def sources(self) -> IntArray:
        return np.flatnonzero(self.on_road)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Network:
    """All roads as moves on the board, and the places they were laid for."""

    board: Board
    rank: dict[tuple[int, int], int]
    towns: tuple[Spot, ...]
    hamlets: tuple[Spot, ...]


def make_network(land: Land, board: Board) -> Network:
    """Lay the roads from the most important to the least."""
    n = board.cell.size
    sketch = Sketch(
        board=board,
        used=np.zeros(board.tail.size, dtype=np.bool_),
        on_road=np.zeros(n, dtype=np.bool_),
        keys=board.tail.astype(np.int64) * n + board.head,
    )
    towns = _towns(land, board)
    _coast_road(land, sketch, towns)
    _pass_roads(land, sketch, towns)
    _summit_track(land, sketch)
    _islet_roads(land, sketch, towns[-1].node)
    villages = _scatter(land, sketch, "villages", _VILLAGES)
    _connect(sketch, villages, TERTIARY)
    _close_loops(sketch, TERTIARY, "tertiary loops", 7, apart_m=7000)
    hamlets = _scatter(land, sketch, "hamlets", _HAMLETS)
    _connect(sketch, hamlets, UNCLASSIFIED)
    _close_loops(sketch, UNCLASSIFIED, "lane loops", 26, apart_m=3500)
    for k in range(3):
        ends = _scatter(land, sketch, f"track ends {k}", _TRACK_ENDS)
        _connect(sketch, ends, TRACK)
    _close_loops(sketch, TRACK, "track loops", 50, apart_m=1800)
    ends = _scatter(land, sketch, "path ends", _PATH_ENDS)
    _connect(sketch, ends, PATH)
    spots = [Spot(node=v, kind="village") for v in villages]
    return Network(
        board=board,
        rank=sketch.rank,
        towns=tuple(towns),
        hamlets=tuple(spots + [Spot(node=v, kind="hamlet") for v in hamlets]),
    )


def node_xy(board: Board, nodes: IntArray) -> FloatArray:
    """Board positions of nodes [m], shape (n, 2)."""
    cell = board.cell[nodes]
    return np.column_stack((cell_x_m()[cell % COLS], cell_y_m()[cell // COLS]))


def _slope_pct(land: Land) -> FloatArray:
    north, east = np.gradient(land.ele_m, STEP_M)
    slope: FloatArray = 100 * np.hypot(north, east)
    return slope


def _towns(land: Land, board: Board) -> list[Spot]:
    """Settle each wanted place on the best level ground near it."""
    xy = node_xy(board, np.arange(board.cell.size))
    slope = _slope_pct(land).ravel()[board.cell]
    sea_m = land.sea_m.ravel()[board.cell]
    area = land.area_m2.ravel()[board.cell]
    spots = []
    for k, (east, north) in enumerate((*COAST_TOWNS, *VALLEY_TOWNS, ISLET_TOWN)):
        away = np.hypot(xy[:, 0] - east * 1000, xy[:, 1] - north * 1000)
        bad = away / 1500 + slope / 4 + np.where(area > 3e6, 3.0, 0.0)
        if k < len(COAST_TOWNS) or k == len(COAST_TOWNS) + len(VALLEY_TOWNS):
            bad = bad + np.abs(sea_m - 900) / 500
        spots.append(Spot(node=int(np.argmin(bad)), kind="town"))
    return spots


def _coast_road(land: Land, sketch: Sketch, towns: list[Spot]) -> None:
    sea_m = land.sea_m.ravel()[sketch.board.cell]
    factor = np.where(sea_m < 350, 2.5, 1.0) + np.clip((sea_m - 1500) / 1500, 0, 3)
    n = len(COAST_TOWNS)
    for k in range(n):
        sketch.join(towns[k].node, towns[(k + 1) % n].node, PRIMARY, factor, dear=1.5)


def _pass_roads(land: Land, sketch: Sketch, towns: list[Spot]) -> None:
    """Roads over the range; the coast is dear, so that they do not go round it."""
    sea_m = land.sea_m.ravel()[sketch.board.cell]
    factor = np.where(sea_m < 3500, 3.0, 1.0)
    for rank, stops in _PASS_ROADS:
        for a, b in pairwise(stops):
            sketch.join(towns[a].node, towns[b].node, rank, factor)
    saddle = _saddle(land, sketch.board)
    for town in _HIGH_PASS_TOWNS:
        sketch.join(towns[town].node, saddle, UNCLASSIFIED, factor, dear=6.0)


def _saddle(land: Land, board: Board) -> int:
    """The lowest place of the high western crest, taken as the highest cell of each column."""
    west, east = (int(to_cell(np.array(km * 1000), np.array(0.0))[0]) for km in _HIGH_CREST)
    crest = land.ele_m[:, west:east]
    low = int(np.argmin(crest.max(axis=0)))
    return int(board.node[int(np.argmax(crest[:, low])) * COLS + west + low])


def _summit_track(land: Land, sketch: Sketch) -> None:
    """A track to the mast on the highest volcano, the one way above 2,450 m."""
    ele_m = land.ele_m.ravel()[sketch.board.cell]
    tree = grow(sketch.costs(TRACK), sketch.sources())
    sketch.lay(walk_back(tree, int(np.argmax(ele_m))), TRACK)


def _islet_roads(land: Land, sketch: Sketch, harbour: int) -> None:
    """One lane round the small island, from its harbour."""
    board = sketch.board
    mine = np.flatnonzero(land.islet.ravel()[board.cell])
    xy = node_xy(board, mine)
    sea_m = land.sea_m.ravel()[board.cell]
    middle = xy.mean(axis=0)
    stops = [harbour]
    for turn in (0.5, 2.2, 3.8):
        want = middle + 2600 * np.array([np.cos(turn), np.sin(turn)])
        bad = np.hypot(*(xy - want).T) + 2 * np.abs(sea_m[mine] - 700)
        stops.append(int(mine[np.argmin(bad)]))
    factor = 1 + np.clip((sea_m - 900) / 900, 0, 3)
    for a, b in zip(stops, [*stops[1:], stops[0]], strict=True):
        sketch.join(a, b, UNCLASSIFIED, factor)


def _scatter(land: Land, sketch: Sketch, purpose: str, wish: Wish) -> list[int]:
    """Places for roads to go: near roads but not on them, apart from each other, on fair ground.

    Gives fewer where the land is full.
    """
    board = sketch.board
    rng = stream(purpose)
    xy = node_xy(board, np.arange(board.cell.size))
    roads = grow(_plain(board), sketch.sources(), wish.reach_m)
    slope = _slope_pct(land).ravel()[board.cell]
    liking = np.exp(1.5 * smooth_field(purpose, 9000, 2)).ravel()[board.cell]
    liking *= np.exp(-((slope / wish.steep_pct) ** 2)) * np.exp(
        -land.ele_m.ravel()[board.cell] / 1500
    )
    liking[~(np.isfinite(roads.cost) & (roads.cost > wish.spacing_m * 0.6))] = 0
    order = np.argsort(-(rng.random(board.cell.size) ** (1 / np.maximum(liking, 1e-9))))
    order = order[liking[order] > 1e-3]
    chosen: list[int] = []
    for node in order[: wish.n * 60]:
        if chosen and np.min(np.hypot(*(xy[chosen] - xy[node]).T)) < wish.spacing_m:
            continue
        chosen.append(int(node))
        if len(chosen) == wish.n:
            break
    return chosen


def _plain(board: Board) -> sparse.csr_matrix:
    n = board.cell.size
    return sparse.csr_matrix((board.length_m, board.head, board.first), shape=(n, n))


def _connect(sketch: Sketch, targets: list[int], rank: int) -> None:
    """Roads from each place back to the network; they share ground where that is cheaper."""
    tree = grow(sketch.costs(rank), sketch.sources())
    for target in targets:
        line = walk_back(tree, target)
        if len(line) > 1:
            sketch.lay(line, rank)


def _close_loops(sketch: Sketch, rank: int, purpose: str, wanted: int, apart_m: float) -> None:
    """Through roads where the land between two roads is easiest and they lie far apart."""
    board = sketch.board
    costs = sketch.costs(rank)
    tree = grow(costs, sketch.sources())
    xy = node_xy(board, np.arange(board.cell.size))
    a, b = board.tail, board.head
    ok = (a < b) & np.isfinite(tree.cost[a]) & np.isfinite(tree.cost[b])
    ok &= (tree.source[a] >= 0) & (tree.source[b] >= 0) & (tree.source[a] != tree.source[b])
    a, b, price = a[ok], b[ok], costs.data[ok]
    gap = np.hypot(*(xy[tree.source[a]] - xy[tree.source[b]]).T)
    price = tree.cost[a] + tree.cost[b] + price
    ok = (gap > apart_m) & (price < 6 * gap)
    a, b, worth = a[ok], b[ok], (gap / price)[ok]
    worth *= 0.7 + 0.6 * stream(purpose).random(worth.size)
    done: list[int] = []
    for k in np.argsort(-worth):
        if done and np.min(np.hypot(*(xy[done] - xy[a[k]]).T)) < apart_m:
            continue
        done.append(int(a[k]))
        sketch.lay(walk_back(tree, int(a[k]))[::-1] + walk_back(tree, int(b[k])), rank)
        if len(done) == wanted:
            break
