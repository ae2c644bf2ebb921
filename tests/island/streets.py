"""Streets of towns and villages, plantation grids, private estates and short service roads."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Final

import numpy as np
import shapely

from terrain.values.arrays import BoolArray, FloatArray
from tests.island.frame import COLS, cell_x_m, cell_y_m
from tests.island.land import Land
from tests.island.network import Network
from tests.island.noise import stream
from tests.island.roads import Line, ele_at, index, nearest_m

_CLEAR_OF_ROADS_M: Final = 38.0
_STEEPEST_STREET: Final = 0.20


@dataclass(frozen=True, slots=True, kw_only=True)
class Grid:
    """A net of streets round a place.

    across : blocks each way; block_m their size; part : see Line; kind : highway of most of it
    gaps : share of the sides of blocks without a street
    """

    xy: FloatArray
    across: tuple[int, int]
    block_m: tuple[float, float]
    kind: str
    part: str
    gaps: float
    turn: float
    tags: tuple[tuple[str, str], ...] = ()


def streets(land: Land, network: Network, place: FloatArray, roads: list[Line]) -> list[Line]:
    """All streets, tracks in plantations and service roads; crossings are not yet joined."""
    rng = stream("streets")
    through = index(roads)
    made: list[Line] = []
    for grid in [*_settlements(network, place, rng), *_plantations(land, place, network, rng)]:
        made.extend(_net(land, grid, through, rng))
    made.extend(_service_roads(land, made + roads, rng))
    return made


def _settlements(network: Network, place: FloatArray, rng: np.random.Generator) -> list[Grid]:
    grids = []
    for k, spot in enumerate((*network.towns, *network.hamlets)):
        if spot.kind == "town":
            size = (20, 14) if k == 0 else (12, 9) if k in (4, 7, 9, 11) else (7, 6)
        elif spot.kind == "village":
            size = (5, 4)
        else:
            size = (3, 2) if rng.random() < 0.5 else (2, 2)
        blocks = (85 + 40 * rng.random(), 65 + 45 * rng.random())
        grids.append(
            Grid(
                xy=place[spot.node], across=size, block_m=blocks, kind="residential",
                part="street", gaps=0.16 if spot.kind == "town" else 0.3,
                turn=float(np.pi * rng.random()),
            )
        )  # fmt: skip
    return grids


def _plantations(
    land: Land, place: FloatArray, network: Network, rng: np.random.Generator
) -> list[Grid]:
    """Regular nets of tracks on the low plains, some of them private, and two walled estates."""
    low = np.flatnonzero((land.ele_m < 160) & (land.sea_m > 1800) & ~land.islet)
    towns = place[[s.node for s in network.towns]]
    grids: list[Grid] = []
    for cell in rng.permutation(low):
        xy = np.array([cell_x_m()[cell % COLS], cell_y_m()[cell // COLS]])
        others = np.array([g.xy for g in grids]).reshape(-1, 2)
        if np.hypot(*(towns - xy).T).min() < 2800:
            continue
        if len(others) and np.hypot(*(others - xy).T).min() < 4500:
            continue
        k = len(grids)
        estate = k in (3, 8)
        owned = (("access", "private"),) if estate or k % 4 == 1 else ()
        grids.append(
            Grid(
                xy=xy, across=(4, 3) if estate else (5, 4),
                block_m=(150, 120) if estate else (330 + 120 * rng.random(), 420),
                kind="service" if estate else "track",
                part="estate" if estate else "plantation", gaps=0.22,
                turn=float(np.pi * rng.random()), tags=owned,
            )
        )  # fmt: skip
        if len(grids) == 11:
            break
    return grids


def _net(land: Land, grid: Grid, roads: shapely.STRtree, rng: np.random.Generator) -> list[Line]:
    """The streets of one grid as lines through its corners, bent a little, clear of roads."""
    n_i, n_j = grid.across[0] + 1, grid.across[1] + 1
    i, j = np.meshgrid(np.arange(n_i), np.arange(n_j), indexing="ij")
    u = (i - (n_i - 1) / 2) * grid.block_m[0]
    v = (j - (n_j - 1) / 2) * grid.block_m[1]
    shift = rng.random((n_i, n_j, 2)) - 0.5
    bend = rng.random(4) * 2 - 1
    width = max(grid.block_m) * max(grid.across)
    u = u + 26 * bend[0] * np.sin(v / width * 4 + bend[1] * 3) + 14 * shift[..., 0]
    v = v + 26 * bend[2] * np.sin(u / width * 4 + bend[3] * 3) + 14 * shift[..., 1]
    c, s = np.cos(grid.turn), np.sin(grid.turn)
    corner = np.round(np.stack((c * u - s * v, s * u + c * v), axis=-1) + grid.xy, 2)
    edge = _rim(n_i, n_j, rng)
    usable = edge & (ele_at(land, corner.reshape(-1, 2)) > 1.5).reshape(n_i, n_j)
    lines = []
    for flip in (False, True):
        at = corner.transpose(1, 0, 2) if flip else corner
        ok = usable.T if flip else usable
        there = _sides(land, at, ok, grid.gaps, roads, rng)
        for row in range(at.shape[0]):
            lines.extend(_runs(at[row], there[row], grid, rng))
    return lines


def _rim(n_i: int, n_j: int, rng: np.random.Generator) -> BoolArray:
    """A ragged round outline of the corners that belong to the grid."""
    i, j = np.meshgrid(np.linspace(-1, 1, n_i), np.linspace(-1, 1, n_j), indexing="ij")
    inside: BoolArray = np.hypot(i, j) + 0.5 * (rng.random((n_i, n_j)) - 0.5) < 1.22
    return inside


def _sides(
    land: Land,
    at: FloatArray,
    ok: BoolArray,
    gaps: float,
    roads: shapely.STRtree,
    rng: np.random.Generator,
) -> BoolArray:
    """Which sides between following corners of each row carry a street."""
    a, b = at[:, :-1], at[:, 1:]
    there: BoolArray = ok[:, :-1] & ok[:, 1:] & (rng.random(a.shape[:2]) > gaps)
    run = np.hypot(*(b - a).transpose(2, 0, 1))
    rise = np.abs(ele_at(land, b.reshape(-1, 2)) - ele_at(land, a.reshape(-1, 2))).reshape(
        run.shape
    )
    there &= rise < _STEEPEST_STREET * run
    places = np.concatenate((a.reshape(-1, 2), b.reshape(-1, 2), ((a + b) / 2).reshape(-1, 2)))
    near_a, near_b, middle = nearest_m(roads, places).reshape(3, *run.shape)
    # A side that hugs a through road would be drawn twice: that road is the street there.
    hug = (
        (np.minimum(near_a, near_b) < _CLEAR_OF_ROADS_M)
        & (middle < 22)
        & (np.maximum(near_a, near_b) < 1.6 * _CLEAR_OF_ROADS_M)
    )
    there &= ~hug
    return there


def _runs(row: FloatArray, there: BoolArray, grid: Grid, rng: np.random.Generator) -> list[Line]:
    """One row of corners as lines without its gaps."""
    lines = []
    start = 0
    for k in range(len(there) + 1):
        if k < len(there) and there[k]:
            continue
        if k > start:
            kind = grid.kind
            if grid.part == "street" and grid.across[0] > 5 and rng.random() < 0.05:
                kind = "living_street"
            lines.append(
                Line(kind=kind, xy=row[start : k + 1], tags=dict(grid.tags), part=grid.part)
            )
        start = k + 1
    return lines


def _service_roads(land: Land, lines: list[Line], rng: np.random.Generator) -> list[Line]:
    """Drives and yards: short spurs from streets and lesser roads."""
    chance = {"residential": 0.27, "unclassified": 0.22, "tertiary": 0.18, "primary": 0.09}
    spurs = []
    for line in lines:
        points = line.xy[1:-1]
        chosen = np.flatnonzero(rng.random(len(points)) < chance.get(line.kind, 0.0))
        for k in chosen + 1:
            spurs.append(_spur(line.xy[k], line.xy[k + 1] - line.xy[k - 1], rng))
    if not spurs:
        return []
    dry = ele_at(land, np.concatenate([s.xy for s in spurs])).reshape(-1, 3).min(axis=1) > 1.5
    return [spur for spur, ok in zip(spurs, dry, strict=True) if ok]


def _spur(start: FloatArray, ahead: FloatArray, rng: np.random.Generator) -> Line:
    along = ahead / max(1.0, float(np.hypot(*ahead)))
    side = np.array([-along[1], along[0]], dtype=np.float64)
    if rng.random() < 0.5:
        side = -side
    reach = 35.0 + 190.0 * float(rng.random()) ** 2
    end = start + side * reach + along * reach * 0.5 * (rng.random() - 0.5)
    xy: Any = np.round(np.stack((start, start + side * reach * 0.5, end)), 2)
    word = ("driveway", "alley", "parking_aisle", "")[int(rng.random() ** 1.4 * 4)]
    tags = {"service": word} if word else {}
    if word == "driveway" and rng.random() < 0.35:
        tags["access"] = "private"
    return Line(kind="service", xy=xy, tags=tags, part="service")
