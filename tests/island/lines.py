"""From moves on the board to drawn lines: strokes, curves, thinning, crossings."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from itertools import pairwise
from typing import Any, Final

import numpy as np
import shapely

from terrain.values.arrays import BoolArray, FloatArray, IntArray

_PER_MOVE: Final = 9
_THIN_M: Final = 1.6


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Piece:
    """A drawn line between two junctions, of one rank; `xy` [m] of shape (n, 2)."""

    rank: int
    xy: FloatArray


def draw(pairs: IntArray, rank: IntArray, xy: FloatArray) -> tuple[list[Piece], FloatArray]:
    """Smooth lines along the moves, best rank first, meeting exactly at the junctions.

    pairs : neighbouring nodes, shape (m, 2); rank : of each pair; xy : raw node places [m],
    shape (n, 2). A road runs smoothly through the junctions with lesser roads, which are then
    drawn to the place where it really passes.
    Returns the pieces and where the nodes came to lie, shape (n, 2).
    """
    place = xy.copy()
    settled = np.zeros(len(xy), dtype=np.bool_)
    degree = np.bincount(pairs.ravel(), minlength=len(xy))
    pieces = []
    for k in np.unique(rank):
        for stroke in _strokes(pairs[rank == k], settled):
            curve = _curve(place[stroke])
            place[stroke] = curve[::_PER_MOVE]
            settled[stroke] = True
            cuts = [i for i in range(1, len(stroke) - 1) if degree[stroke[i]] != 2]
            for i, j in zip([0, *cuts], [*cuts, len(stroke) - 1], strict=True):
                pieces.append((int(k), curve[i * _PER_MOVE : j * _PER_MOVE + 1]))
    thin = thin_lines([p[1] for p in pieces], _THIN_M)
    return [Piece(rank=p[0], xy=line) for p, line in zip(pieces, thin, strict=True)], place


def _strokes(pairs: IntArray, settled: BoolArray) -> list[list[int]]:
    """Runs of moves of one rank: through nodes with just two of them, unless already settled."""
    near: dict[int, list[int]] = defaultdict(list)
    for u, v in pairs.tolist():
        near[u].append(v)
        near[v].append(u)
    stops = {u for u, others in near.items() if len(others) != 2 or settled[u]}
    seen: set[tuple[int, int]] = set()
    strokes = []
    # Closed rings without a stop come last, begun at any of their nodes.
    for start in [*sorted(stops), *sorted(near)]:
        for following in near[start]:
            if (start, following) in seen:
                continue
            stroke = [start, following]
            seen |= {(start, following), (following, start)}
            while stroke[-1] not in stops and stroke[-1] != start:
                a, b = near[stroke[-1]]
                onward = b if a == stroke[-2] else a
                seen |= {(stroke[-1], onward), (onward, stroke[-1])}
                stroke.append(onward)
            strokes.append(stroke)
    return strokes


def _curve(points: FloatArray) -> FloatArray:
    """A uniform cubic B-spline near the points, through the first and last, (m * k + 1, 2)."""
    ends = np.vstack((2 * points[:1] - points[1:2], points, 2 * points[-1:] - points[-2:-1]))
    t = np.linspace(0, 1, _PER_MOVE, endpoint=False)[:, None, None]
    weights = ((1 - t) ** 3, 3 * t**3 - 6 * t**2 + 4, -3 * t**3 + 3 * t**2 + 3 * t + 1, t**3)
    n = len(points) - 1
    spans = np.sum([w * ends[None, j : j + n] for j, w in enumerate(weights)], axis=0) / 6
    curve = np.vstack((spans.transpose(1, 0, 2).reshape(-1, 2), points[-1:]))
    return np.round(curve, 2)


def thin_lines(lines: list[FloatArray], tolerance_m: float) -> list[FloatArray]:
    """Lines without the points that lie within the tolerance of the rest (Douglas-Peucker)."""
    shapes = shapely.simplify(
        [shapely.LineString(line) for line in lines], tolerance_m, preserve_topology=False
    )
    xy, owner = shapely.get_coordinates(shapes, return_index=True)
    starts = np.searchsorted(owner, np.arange(len(lines) + 1))
    return [xy[a:b] for a, b in pairwise(starts)]


def lengths_m(xy: FloatArray) -> FloatArray:
    """Metres along a line at each of its points, shape (n,)."""
    step = xy[1:] - xy[:-1]
    along: FloatArray = np.zeros(len(xy))
    np.cumsum(np.sqrt(step[:, 0] ** 2 + step[:, 1] ** 2), out=along[1:])
    return along


def crossings(
    lines: list[FloatArray], others: list[FloatArray]
) -> tuple[IntArray, FloatArray, IntArray, FloatArray, FloatArray]:
    """Where lines cross others inside a segment of each, not at a shared point.

    Returns: number of the line, metres along it, number of the other, metres along that, and
    the places (k, 2). With `others` the same list each crossing comes both ways round.
    """
    a0, a1, line, along_a = _segments(lines)
    b0, b1, other, along_b = _segments(others)
    small: Any = shapely.linestrings(np.stack((b0, b1), axis=1))
    tree = shapely.STRtree(small)
    i, j = tree.query(shapely.linestrings(np.stack((a0, a1), axis=1)), predicate="crosses")
    order = np.lexsort((j, i))
    i, j = i[order], j[order]
    da, db = a1[i] - a0[i], b1[j] - b0[j]
    gap = b0[j] - a0[i]
    cross = da[:, 0] * db[:, 1] - da[:, 1] * db[:, 0]
    t = (gap[:, 0] * db[:, 1] - gap[:, 1] * db[:, 0]) / cross
    u = (gap[:, 0] * da[:, 1] - gap[:, 1] * da[:, 0]) / cross
    place = np.round(a0[i] + t[:, None] * da, 2)
    at_a = along_a[i] + t * np.hypot(da[:, 0], da[:, 1])
    at_b = along_b[j] + u * np.hypot(db[:, 0], db[:, 1])
    return line[i], at_a, other[j], at_b, place


def _segments(lines: list[FloatArray]) -> tuple[FloatArray, FloatArray, IntArray, FloatArray]:
    """Starts, ends, owners of all segments, and metres along the owner at each start."""
    points = np.concatenate(lines)
    sizes = np.array([len(line) for line in lines])
    owner = np.repeat(np.arange(len(lines)), sizes)
    inner = np.flatnonzero(owner[:-1] == owner[1:])
    start, end = points[inner], points[inner + 1]
    length = np.hypot(*(end - start).T)
    total = np.cumsum(length) - length
    first = np.concatenate(([0], np.cumsum(sizes - 1)[:-1]))
    return start, end, owner[inner], total - np.repeat(total[first], sizes - 1)
