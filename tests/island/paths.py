"""Cheapest lines over the land for roads of a given standard, on the board's grid."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from scipy import sparse
from scipy.sparse import csgraph

from terrain.values.arrays import FloatArray, Int32Array, IntArray
from tests.island.frame import COLS, ROWS, STEP_M
from tests.island.land import Land
from tests.island.noise import stream

# King's and knight's moves: sixteen headings, so that lines can follow a contour.
_MOVES: Final = tuple(
    (dy, dx)
    for dy in range(-2, 3)
    for dx in range(-2, 3)
    if (dy, dx) != (0, 0)
    and abs(dy) + abs(dx) != 4
    and (abs(dy) != 2 or dx)
    and (abs(dx) != 2 or dy)
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Standard:
    """How a kind of road takes the land.

    easy_pct : grade that doubles the cost of a metre
    limit_pct : grade avoided at almost any price
    reuse : cost of a metre along a road already there
    wet : extra cost of each cell beside a river
    """

    easy_pct: float
    limit_pct: float
    reuse: float
    wet: float = 3.0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Board:
    """The land cells as a directed graph; `cell` maps its nodes to flat cells of the board."""

    cell: IntArray
    node: IntArray
    tail: Int32Array
    head: Int32Array
    first: Int32Array
    length_m: FloatArray
    grade_pct: FloatArray
    river: FloatArray
    luck: FloatArray


def make_board(land: Land) -> Board:
    """The graph of all moves between land cells."""
    flat = np.arange(ROWS * COLS).reshape(ROWS, COLS)
    tails, heads = [], []
    for dy, dx in _MOVES:
        a = (_span(ROWS, dy), _span(COLS, dx))
        b = (_span(ROWS, -dy), _span(COLS, -dx))
        both = land.land[a] & land.land[b]
        tails.append(flat[a][both])
        heads.append(flat[b][both])
    tail, head = np.concatenate(tails), np.concatenate(heads)
    order = np.lexsort((head, tail))
    tail, head = tail[order], head[order]
    cell = np.flatnonzero(land.land.ravel())
    node = np.full(ROWS * COLS, -1)
    node[cell] = np.arange(cell.size)
    length_m = STEP_M * np.hypot(tail // COLS - head // COLS, tail % COLS - head % COLS)
    rise = land.ele_m.ravel()[head] - land.ele_m.ravel()[tail]
    # Each pair of cells gets the same luck both ways, so that ties never decide a line.
    luck = stream("paths").random(ROWS * COLS)
    return Board(
        cell=cell,
        node=node,
        tail=node[tail].astype(np.int32),
        head=node[head].astype(np.int32),
        first=np.searchsorted(tail, np.append(cell, ROWS * COLS)).astype(np.int32),
        length_m=length_m,
        grade_pct=100 * np.abs(rise) / length_m,
        river=np.log10(np.maximum(land.area_m2.ravel() / 1.5e6, 1.0))[head],
        luck=0.9 + 0.2 * (luck[tail] + luck[head]) / 2,
    )


def _span(n: int, shift: int) -> slice:
    return slice(max(0, -shift), n - max(0, shift))


def base_cost(board: Board, standard: Standard) -> FloatArray:
    """Cost of each move for one standard on open ground, shape (moves,)."""
    cost = 1 + (board.grade_pct / standard.easy_pct) ** 2
    cost += np.where(board.grade_pct > standard.limit_pct, 40.0, 0.0)
    return board.length_m * cost * board.luck + standard.wet * STEP_M * board.river


def graph(
    board: Board,
    cost: FloatArray,
    factor: FloatArray | None = None,
) -> sparse.csr_matrix:
    """Costs of all moves as a matrix of whole numbers, which add up the same everywhere.

    cost : of each move, shape (moves,); factor : of entering each node, shape (nodes,)
    """
    if factor is not None:
        cost = cost * factor[board.head]
    n = board.cell.size
    whole = np.maximum(1.0, np.round(cost))
    return sparse.csr_matrix((whole, board.head, board.first), shape=(n, n))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Tree:
    """Cheapest lines from the sources to every node."""

    cost: FloatArray
    before: IntArray
    source: IntArray


def grow(costs: sparse.csr_matrix, sources: IntArray, reach: float = np.inf) -> Tree:
    """Search from all sources at once; nodes dearer than `reach` stay unreached."""
    cost, before, source = csgraph.dijkstra(
        costs, indices=sources, min_only=True, return_predecessors=True, limit=reach
    )
    return Tree(cost=cost, before=before.astype(np.int64), source=source.astype(np.int64))


def between(costs: sparse.csr_matrix, a: int, b: int, guess: float) -> list[int]:
    """The cheapest line from a to b; `guess` is a likely bound on its cost, to search less."""
    for reach in (guess, 1.6 * guess, np.inf):
        tree = grow(costs, np.array([a]), reach)
        if np.isfinite(tree.cost[b]):
            break
    return walk_back(tree, b)


def walk_back(tree: Tree, target: int) -> list[int]:
    """The nodes from target back to its source; empty if it was not reached."""
    if not np.isfinite(tree.cost[target]):
        return []
    line = [int(target)]
    while tree.before[line[-1]] >= 0:
        line.append(int(tree.before[line[-1]]))
    return line
