"""The invented island's land: shape, heights and rivers.

Heights are those of a landscape at rest between uplift and streams: slope falls with the area
that drains through a place (stream power law, slope = uplift / (k * area ** m), see Whipple &
Tucker 1999, J. Geophys. Res. 104(B8)), limited on hillsides. It gives ridges, valleys and
rivers that belong together, so that roads, fords and bridges have somewhere to be.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from scipy import ndimage, sparse
from scipy.sparse import csgraph

from terrain.values.arrays import BoolArray, FloatArray, IntArray
from tests.island.frame import COLS, ROWS, STEP_M, cell_x_m, cell_y_m, steady
from tests.island.noise import smooth_field, stream

_AREA_POWER: Final = 0.42
_HILLSIDE_SLOPE: Final = 0.52
_ROUNDS: Final = 7
_HIGHEST_M: Final = 2590.0

# (x km, y km, radius east km, radius north km) of the lobes that make the coast.
_LOBES: Final = (
    (-16.0, 2.0, 24.0, 17.0),
    (10.0, -2.0, 22.0, 14.0),
    (27.0, 5.0, 12.0, 9.0),
    (-30.0, -7.0, 11.0, 10.0),
    (2.0, 12.0, 10.0, 8.0),
)
_ISLET: Final = (37.0, -19.0, 4.6, 3.2)

# (x km, y km, uplift) along the main range, and (x km, y km, radius km, uplift) of volcanoes.
_RANGE: Final = (
    (-33.0, -2.0, 0.35),
    (-20.0, 7.0, 1.0),
    (-8.0, 6.5, 0.95),
    (1.0, 2.5, 0.42),
    (10.0, 1.0, 0.75),
    (19.0, 3.0, 0.9),
    (30.0, 6.5, 0.45),
)
_VOLCANOES: Final = ((-17.0, 4.5, 4.5, 1.15), (18.5, 1.5, 3.5, 0.8))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Land:
    """The island on the board; arrays of shape (ROWS, COLS).

    ele_m : height [m], 0 on the sea, at least 1 on land
    land : True on land
    islet : True on the small second island
    drains_to : flat cell index each land cell drains into; itself on the sea
    area_m2 : land that drains through a cell
    sea_m : distance to the sea [m]
    """

    ele_m: FloatArray
    land: BoolArray
    islet: BoolArray
    drains_to: IntArray
    area_m2: FloatArray
    sea_m: FloatArray


def make_land() -> Land:
    """The island, from nothing but the fixed random streams."""
    land, islet = _coast()
    sea_m = ndimage.distance_transform_edt(land) * STEP_M
    uplift = _uplift(sea_m)
    drains_to = _first_drainage(land)
    ele_m = np.zeros((ROWS, COLS))
    for k in range(_ROUNDS):
        area_m2 = _drained_area(land, drains_to)
        ele_m = _heights(land, uplift, drains_to, area_m2)
        if k + 1 < _ROUNDS:
            drains_to = _steepest(land, ele_m)
    ele_m = np.where(land, np.maximum(1.0, ndimage.gaussian_filter(ele_m, 0.7)), 0.0)
    return Land(
        ele_m=steady(ele_m * (_HIGHEST_M / ele_m.max())),
        land=land,
        islet=islet,
        drains_to=drains_to,
        area_m2=area_m2,
        sea_m=steady(sea_m),
    )


def _coast() -> tuple[BoolArray, BoolArray]:
    x, y = np.meshgrid(cell_x_m() / 1000, cell_y_m() / 1000)
    main = np.zeros((ROWS, COLS))
    for east, north, wide, tall in _LOBES:
        main += np.exp(-1.6 * (((x - east) / wide) ** 2 + ((y - north) / tall) ** 2) ** 1.5)
    ragged = 0.27 * smooth_field("coast", 12_000, 5, 0.6)
    labels, _ = ndimage.label((main + ragged > 0.30) & (main > 0.12))
    main_land = labels == labels[ROWS // 2, COLS // 2 - 60]
    east, north, wide, tall = _ISLET
    islet = np.exp(-(((x - east) / wide) ** 2 + ((y - north) / tall) ** 2)) + ragged > 0.42
    islet &= np.hypot(x - east, y - north) < 7.5
    islet &= ~ndimage.binary_dilation(main_land, iterations=18)
    labels, _ = ndimage.label(islet)
    sizes = np.bincount(labels.ravel())
    sizes[0] = 0
    islet = ndimage.binary_fill_holes(labels == sizes.argmax())
    return ndimage.binary_fill_holes(main_land) | islet, islet


def _uplift(sea_m: FloatArray) -> FloatArray:
    """How fast the land rises: high along the range and at the volcanoes, low on the plains."""
    x, y = np.meshgrid(cell_x_m() / 1000, cell_y_m() / 1000)
    east = np.array([p[0] for p in _RANGE])
    crest = np.interp(x, east, [p[1] for p in _RANGE])
    strength = np.interp(x, east, [p[2] for p in _RANGE])
    away = y - crest
    # The range falls steeply to the north and slowly to the plains of the south.
    spread = np.where(away > 0, 5.5, 8.5)
    uplift = 0.10 + strength * np.exp(-((np.abs(away) / spread) ** 1.7))
    for vx, vy, radius, extra in _VOLCANOES:
        uplift += extra * np.exp(-((np.hypot(x - vx, y - vy) / radius) ** 1.5))
    plain = np.clip(sea_m / 5000.0, 0.05, 1.0) ** 0.9
    return uplift * plain * (1 + 0.35 * smooth_field("uplift", 7000, 3))


def _first_drainage(land: BoolArray) -> IntArray:
    """A drainage tree by cheapest way to the sea over randomly hard ground."""
    hard = np.exp(1.3 * smooth_field("hardness", 2500, 3, 0.7))
    wet = ~land & ndimage.binary_dilation(land)
    use = land | wet
    flat = np.arange(ROWS * COLS).reshape(ROWS, COLS)
    tails, heads, costs = [], [], []
    for dy, dx in ((0, 1), (1, 0), (1, 1), (1, -1)):
        a = (slice(0, ROWS - dy), slice(max(0, -dx), COLS - max(0, dx)))
        b = (slice(dy, ROWS), slice(max(0, dx), COLS - max(0, -dx)))
        both = use[a] & use[b] & (land[a] | land[b])
        tails.append(flat[a][both])
        heads.append(flat[b][both])
        costs.append((hard[a] + hard[b])[both] * np.hypot(dx, dy))
    graph = sparse.coo_matrix(
        (np.concatenate(costs), (np.concatenate(tails), np.concatenate(heads))),
        shape=(ROWS * COLS, ROWS * COLS),
    ).tocsr()
    _, before, _ = csgraph.dijkstra(
        graph, directed=False, indices=flat[wet], min_only=True, return_predecessors=True
    )
    own = flat.ravel()
    return np.where(land.ravel() & (before >= 0), before, own).astype(np.int64)


def _steepest(land: BoolArray, ele_m: FloatArray) -> IntArray:
    """A neighbour each land cell falls to, mostly the steepest; heights have no pits."""
    flat = np.arange(ROWS * COLS).reshape(ROWS, COLS)
    best = np.full((ROWS, COLS), -np.inf)
    to = flat.copy()
    luck = stream("meander")
    padded = np.pad(ele_m, 1, constant_values=np.inf)
    for dy in (-1, 0, 1):
        for dx in (-1, 0, 1):
            if dy == 0 and dx == 0:
                continue
            near = padded[1 + dy : 1 + dy + ROWS, 1 + dx : 1 + dx + COLS]
            fall = (ele_m - near) / np.hypot(dx, dy) * (0.55 + luck.random((ROWS, COLS)))
            better = fall > best
            best = np.where(better, fall, best)
            to = np.where(better, flat + dy * COLS + dx, to)
    return np.where(land & (best > 0), to, flat).ravel().astype(np.int64)


def _parents(drains_to: IntArray) -> IntArray:
    """The drainage tree with one more cell, its own parent, above the cells that drain nowhere."""
    n = drains_to.size
    up = np.where(drains_to == np.arange(n), n, drains_to)
    return np.append(up, n).astype(np.int64)


def _drained_area(land: BoolArray, drains_to: IntArray) -> FloatArray:
    """Land upstream of each cell [m2], by doubling the reach of the drainage tree."""
    jump = _parents(drains_to)
    top = jump.size - 1
    area = np.append(np.where(land.ravel(), STEP_M**2, 0.0), 0.0)
    while (jump != top).any():
        from_cell = np.flatnonzero(jump != top)
        area = area + np.bincount(jump[from_cell], weights=area[from_cell], minlength=area.size)
        jump = jump[jump]
    return area[:-1].reshape(ROWS, COLS)


def _heights(
    land: BoolArray, uplift: FloatArray, drains_to: IntArray, area_m2: FloatArray
) -> FloatArray:
    """Heights [m, before scaling]: the slopes summed down to the sea along the drainage."""
    cell = np.arange(drains_to.size)
    run = np.where(
        (cell // COLS != drains_to // COLS) & (cell % COLS != drains_to % COLS), np.sqrt(2.0), 1.0
    )
    slope = np.minimum(
        _HILLSIDE_SLOPE, 38.0 * uplift.ravel() * np.maximum(area_m2.ravel(), 1) ** -_AREA_POWER
    )
    fall = np.append(np.where(land.ravel(), np.maximum(slope, 2e-4) * run * STEP_M, 0.0), 0.0)
    jump = _parents(drains_to)
    top = jump.size - 1
    while (jump != top).any():
        fall = fall + fall[jump]
        jump = jump[jump]
    return fall[:-1].reshape(ROWS, COLS)
