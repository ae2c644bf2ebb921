"""Groups of ways that tend to have the same ground: same class, same name, same country."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from terrain.stages.ways.columns import WayFeatures
from terrain.values.arrays import FloatArray, Int32Array, IntArray


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Membership:
    """Which groups of one sort the ways belong to, and how far: one row per pair.

    row : position among the asked ways; key : number of the group; share : 0..1
    """

    row: IntArray
    key: IntArray
    share: FloatArray


#: The sorts of groups, in order.
SORTS = ("all", "kind", "class", "near 1.6 km", "near 6.4 km", "kind near 1.6 km",
         "kind near 6.4 km", "name", "chain", "junction")  # fmt: skip


def memberships(facts: WayFeatures, rows: IntArray) -> Iterator[tuple[str, Membership]]:
    """The groups of the given ways, sort by sort in the order of SORTS."""
    shape, n = facts.shape, len(rows)
    x, y, kind = shape.x_m[rows], shape.y_m[rows], facts.kind[rows]
    yield "all", _single(np.zeros(n, dtype=np.int64))
    yield "kind", _single(kind)
    yield "class", _single(2 * shape.rank[rows] + shape.link[rows])
    yield "near 1.6 km", _hats(x, y, 1600.0, 0.0)
    yield "near 6.4 km", _hats(x, y, 6400.0, 0.0)
    yield "kind near 1.6 km", _hats(x, y, 1600.0, 0.5, kind)
    yield "kind near 6.4 km", _hats(x, y, 6400.0, 0.5, kind)
    yield "name", _single(road_number(facts)[rows])
    yield "chain", _single(shape.chain[rows])
    yield "junction", _junctions(facts, rows)


def road_number(facts: WayFeatures) -> IntArray:
    """One number for all ways of one name, else of one ref; -1 for neither. Shape (w,)."""
    ways = facts.ways
    return road_numbers(ways.name.codes, ways.ref.codes, len(ways.name.start))


def road_numbers(name: Int32Array, ref: Int32Array, n_names: int) -> IntArray:
    """The same from codes of names and refs; refs are numbered after all names."""
    number = np.where(ref >= 0, ref.astype(np.int64) + n_names, -1)
    return np.where(name >= 0, name.astype(np.int64), number)


def _single(key: IntArray) -> Membership:
    row = np.flatnonzero(key >= 0)
    return Membership(row=row, key=key[row].astype(np.int64), share=np.ones(len(row)))


def _hats(
    x: FloatArray, y: FloatArray, cell_m: float, offset: float, kind: IntArray | None = None
) -> Membership:
    """Membership in the four corners of the cell around each point, fading linearly."""
    fx, fy = x / cell_m + offset, y / cell_m + offset
    col, row = np.floor(fx).astype(np.int64), np.floor(fy).astype(np.int64)
    ax, ay = fx - col, fy - row
    keys, shares = [], []
    for dx, dy, share in (
        (0, 0, (1 - ax) * (1 - ay)),
        (1, 0, ax * (1 - ay)),
        (0, 1, (1 - ax) * ay),
        (1, 1, ax * ay),
    ):
        # Rows and columns lie within 40 000 km / 1 km of 0, so they never run into each other.
        key = (row + dy) * 100_003 + (col + dx)
        keys.append(key if kind is None else key * 4 + kind)
        shares.append(share)
    return Membership(
        row=np.tile(np.arange(len(x)), 4), key=np.concatenate(keys), share=np.concatenate(shares)
    )


def _junctions(facts: WayFeatures, rows: IntArray) -> Membership:
    """Each way's junctions; a way of many is some of each, with the same leeway in all."""
    shape = facts.shape
    start = np.searchsorted(shape.pair_way, rows, side="left")
    count = np.searchsorted(shape.pair_way, rows, side="right") - start
    row = np.repeat(np.arange(len(rows)), count)
    place = np.repeat(start - np.r_[0, np.cumsum(count)[:-1]], count) + np.arange(len(row))
    share = 1 / np.sqrt(np.maximum(count, 1))
    return Membership(row=row, key=shape.pair_node[place], share=share[row])
