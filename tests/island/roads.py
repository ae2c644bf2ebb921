"""The drawn roads of the island, before they are cut into ways."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import Final

import numpy as np
import shapely
from scipy import ndimage

from terrain.values.arrays import FloatArray, IntArray
from tests.island.frame import to_cell
from tests.island.land import Land
from tests.island.lines import crossings, draw, lengths_m
from tests.island.network import RANKS, Network, node_xy
from tests.island.noise import stream

_WOBBLE_M: Final = 34.0
_TOUCH_M: Final = 3.0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Line:
    """A road, river or ferry as drawn.

    kind : its highway value, or ferry, river, stream, coastline
    xy : points on the board [m], shape (n, 2); lines meet where they share a point exactly
    tags : what is known of it beyond its kind
    part : what it was drawn as: through, street, plantation, estate, zone, works
    """

    kind: str
    xy: FloatArray
    tags: Mapping[str, str] = field(default_factory=dict)
    part: str = "through"

    @property
    def length_m(self) -> float:
        return float(lengths_m(self.xy)[-1])


def field_at(field: FloatArray, xy: FloatArray) -> FloatArray:
    """A field of the board, shape (ROWS, COLS), at board positions (n, 2); shape (n,)."""
    col, row = to_cell(xy[:, 0], xy[:, 1])
    value: FloatArray = ndimage.map_coordinates(field, (row, col), order=1, mode="nearest")
    return value


def ele_at(land: Land, xy: FloatArray) -> FloatArray:
    """Height of the drawn land at board positions [m], shape (n,)."""
    return field_at(land.ele_m, xy)


def through_roads(network: Network) -> tuple[list[Line], FloatArray]:
    """The network as smooth lines, and the places of its nodes once drawn, (nodes, 2)."""
    board = network.board
    xy = node_xy(board, np.arange(board.cell.size))
    xy = xy + _WOBBLE_M * (2 * stream("wobble").random(xy.shape) - 1)
    pairs = np.array(list(network.rank))
    rank = np.array(list(network.rank.values()))
    pieces, place = draw(pairs, rank, np.round(xy, 2))
    return [Line(kind=RANKS[p.rank], xy=p.xy) for p in pieces], place


def without_curls(lines: list[Line]) -> list[Line]:
    """The lines with the loops they make over themselves cut off."""
    simple = shapely.is_simple([shapely.LineString(line.xy) for line in lines])
    made = list(lines)
    for number in np.flatnonzero(~simple):
        xy = lines[number].xy
        _, at_a, _, at_b, place = crossings([xy], [xy])
        if not (at_b > at_a).any():
            continue
        # The widest loop: cutting it off takes the ones inside with it.
        k = int(np.argmax(at_b - at_a))
        along = lengths_m(xy)
        parts = (xy[along < at_a[k]], place[k : k + 1], xy[along > at_b[k]])
        made[number] = replace(lines[number], xy=np.vstack(parts))
    return made


def join_crossings(lines: list[Line], apart: set[int]) -> list[Line]:
    """The lines with a shared point wherever two of them cross on the ground.

    apart : numbers of lines that pass over or under the others (tunnels, bridges, ferries)
    """
    a, at_a, b, _, place = crossings([ln.xy for ln in lines], [ln.xy for ln in lines])
    held = np.fromiter(apart, dtype=np.int64, count=len(apart))
    keep = ~(np.isin(a, held) | np.isin(b, held)) & (a != b)
    added: dict[int, list[tuple[float, FloatArray]]] = {}
    for i, at, xy in zip(a[keep].tolist(), at_a[keep].tolist(), place[keep], strict=True):
        added.setdefault(i, []).append((at, xy))
    return [
        replace(line, xy=insert_points(line.xy, added[i])) if i in added else line
        for i, line in enumerate(lines)
    ]


def insert_points(xy: FloatArray, added: list[tuple[float, FloatArray]]) -> FloatArray:
    """The line with points added at their metres along it."""
    at = np.array([p[0] for p in added])
    points = np.array([p[1] for p in added])
    along = np.concatenate((lengths_m(xy), at))
    order = np.argsort(along, kind="stable")
    return np.vstack((xy, points))[order]


def point_at(xy: FloatArray, at_m: float) -> FloatArray:
    """The place at a distance along a line, to the centimetre, shape (2,)."""
    along = lengths_m(xy)
    return np.round([np.interp(at_m, along, xy[:, 0]), np.interp(at_m, along, xy[:, 1])], 2)


def cut_line(xy: FloatArray, from_m: float, to_m: float) -> FloatArray:
    """The part of a line between two distances along it."""
    along = lengths_m(xy)
    inside = xy[(along > from_m + 0.02) & (along < to_m - 0.02)]
    return np.vstack((point_at(xy, from_m), inside, point_at(xy, to_m)))


def connected(lines: list[Line]) -> IntArray:
    """Number of the connected part each line belongs to, shape (n,)."""
    parent: dict[tuple[float, float], tuple[float, float]] = {}

    def root(p: tuple[float, float]) -> tuple[float, float]:
        while parent[p] != p:
            parent[p] = parent[parent[p]]
            p = parent[p]
        return p

    firsts = []
    for line in lines:
        points = [(x, y) for x, y in line.xy.tolist()]
        for p in points:
            parent.setdefault(p, p)
        for p in points[1:]:
            parent[root(p)] = root(points[0])
        firsts.append(points[0])
    names: dict[tuple[float, float], int] = {}
    return np.array([names.setdefault(root(p), len(names)) for p in firsts])


def index(lines: list[Line]) -> shapely.STRtree:
    """An index over lines, for nearest_m."""
    return shapely.STRtree([shapely.LineString(line.xy) for line in lines])


def nearest_m(tree: shapely.STRtree, xy: FloatArray) -> FloatArray:
    """Distance from each place to the nearest of the indexed lines [m], shape (n,)."""
    found, distance = tree.query_nearest(
        shapely.points(xy), all_matches=False, return_distance=True
    )
    away: FloatArray = np.full(len(xy), np.inf)
    away[found[0]] = distance
    return away
