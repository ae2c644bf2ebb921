"""Rivers, streams and the coast as lines, and where roads meet the water."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from terrain.values.arrays import FloatArray, IntArray
from tests.island.frame import COLS, ROWS, STEP_M, cell_x_m, cell_y_m
from tests.island.land import Land
from tests.island.lines import crossings, draw, lengths_m
from tests.island.noise import stream
from tests.island.roads import Line

# Land drained [m2] from which water is drawn as a river, a small river, a stream.
RIVER_M2: Final = 30e6
SMALL_RIVER_M2: Final = 9e6
STREAM_M2: Final = 2.6e6


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Water:
    """Lines of water, the land each drains [m2], and the coast."""

    lines: tuple[Line, ...]
    area_m2: FloatArray
    coast: tuple[Line, ...]


def make_water(land: Land) -> Water:
    """Rivers and streams down the drainage, and the coast as closed rings."""
    cell = np.arange(ROWS * COLS)
    area = land.area_m2.ravel()
    wet = land.land.ravel() & (area >= STREAM_M2) & (land.drains_to != cell)
    pairs = np.column_stack((cell[wet], land.drains_to[wet]))
    rank = np.digitize(-area[wet], (-RIVER_M2, -SMALL_RIVER_M2))
    xy = _cell_xy(cell)
    xy = xy + 0.8 * STEP_M * (stream("river bends").random(xy.shape) - 0.5)
    pieces, _ = draw(pairs, rank, np.round(xy, 2))
    kinds = ("river", "river", "stream")
    floor = np.array((RIVER_M2, SMALL_RIVER_M2, STREAM_M2))
    return Water(
        lines=tuple(Line(kind=kinds[p.rank], xy=p.xy, part="water") for p in pieces),
        area_m2=floor[[p.rank for p in pieces]],
        coast=_coast(land),
    )


def _cell_xy(cell: IntArray) -> FloatArray:
    return np.column_stack((cell_x_m()[cell % COLS], cell_y_m()[cell // COLS]))


def _coast(land: Land) -> tuple[Line, ...]:
    """Rings along the edges between land and sea, land on the left as OSM draws them."""
    padded = np.pad(land.land, 1)
    wide = COLS + 3
    pairs = []
    rows, cols = np.nonzero(padded[1:, :] != padded[:-1, :])
    corner = (rows + 1) * wide + cols
    pairs.append(np.column_stack((corner, corner + 1)))
    rows, cols = np.nonzero(padded[:, 1:] != padded[:, :-1])
    corner = rows * wide + cols + 1
    pairs.append(np.column_stack((corner, corner + wide)))
    at = np.arange((ROWS + 3) * wide)
    xy = STEP_M * np.column_stack(
        (at % wide - 1.5 - (COLS - 1) / 2, at // wide - 1.5 - (ROWS - 1) / 2)
    )
    sides = np.concatenate(pairs)
    for _ in range(4):
        xy = _eased(xy, sides)
    pieces, _ = draw(sides, np.zeros(len(sides), dtype=np.int64), xy)
    rings = []
    for piece in pieces:
        ring = piece.xy if np.array_equal(piece.xy[0], piece.xy[-1]) else None
        if ring is None:
            continue
        x, y = ring.T
        turning = np.sum(x[:-1] * y[1:] - x[1:] * y[:-1])
        rings.append(Line(kind="coastline", xy=ring if turning > 0 else ring[::-1], part="water"))
    return tuple(rings)


def _eased(xy: FloatArray, pairs: IntArray) -> FloatArray:
    """Each place moved half way to the mean of its neighbours."""
    n = np.maximum(np.bincount(pairs.ravel(), minlength=len(xy)), 1)[:, None]
    both = np.concatenate((pairs, pairs[:, ::-1]))
    total = [np.bincount(both[:, 0], weights=xy[both[:, 1], k], minlength=len(xy)) for k in (0, 1)]
    return np.round((xy + np.column_stack(total) / n) / 2, 2)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Crossings:
    """Where roads cross water, sorted by road: its number, metres along it, place, land drained."""

    line: IntArray
    at_m: FloatArray
    xy: FloatArray
    area_m2: FloatArray


def water_crossings(roads: list[Line], water: Water) -> Crossings:
    """Every place where a road crosses a river or stream."""
    line, at_m, other, _, place = crossings([r.xy for r in roads], [w.xy for w in water.lines])
    order = np.lexsort((at_m, line))
    ends = np.array([lengths_m(r.xy)[-1] for r in roads])
    keep = order[(at_m[order] > 6) & (at_m[order] < ends[line[order]] - 6)]
    return Crossings(
        line=line[keep], at_m=at_m[keep], xy=place[keep], area_m2=water.area_m2[other[keep]]
    )
