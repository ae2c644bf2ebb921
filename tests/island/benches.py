"""Cuts and banks: the land shaped along the roads that were built on it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Final

import numpy as np
from scipy import ndimage

from terrain.values.arrays import FloatArray, IntArray
from tests.island.frame import COLS, ROWS, steady, to_cell
from tests.island.land import Land
from tests.island.lines import lengths_m
from tests.island.roads import Line, ele_at

_SAMPLE_M: Final = 60.0
_ROUNDS: Final = 1
_SPREAD_CELLS: Final = 0.55
# Length over which builders even out the profile, as a standard deviation in samples.
_EVEN: Final[Mapping[str, float]] = {
    "primary": 6.0, "trunk": 6.0, "secondary": 5.0, "tertiary": 4.5, "unclassified": 4.0,
    "track": 3.0,
}  # fmt: skip


def cut_benches(land: Land, roads: list[Line]) -> Land:
    """The land with its heights evened out along the roads and beside them."""
    built = [road for road in roads if road.kind in _EVEN and "tunnel" not in road.tags]
    lines = [_sampled(road.xy) for road in built]
    sizes = np.array([len(line) for line in lines])
    ends = np.cumsum(sizes)
    xy = np.concatenate(lines)
    col, row = to_cell(xy[:, 0], xy[:, 1])
    for _ in range(_ROUNDS):
        ele_m = ele_at(land, xy)
        even = np.concatenate(
            [
                ndimage.gaussian_filter1d(ele_m[end - size : end], _EVEN[road.kind], mode="nearest")
                for road, size, end in zip(built, sizes, ends, strict=True)
            ]
        )
        change = _spread(row, col, even - ele_m)
        eased = np.where(land.land, np.maximum(1.0, land.ele_m + change), 0.0)
        land = replace(land, ele_m=steady(eased))
    return land


def _sampled(xy: FloatArray) -> FloatArray:
    along = lengths_m(xy)
    at = np.linspace(0, along[-1], max(2, round(along[-1] / _SAMPLE_M) + 1))
    return np.column_stack([np.interp(at, along, xy[:, c]) for c in (0, 1)])


def _spread(row: FloatArray, col: FloatArray, change: FloatArray) -> FloatArray:
    """Changes at scattered places as a smooth change of the board near them."""
    total, weight = np.zeros(ROWS * COLS), np.zeros(ROWS * COLS)
    low_row, low_col = np.floor(row).astype(np.int64), np.floor(col).astype(np.int64)
    for d_row in (0, 1):
        for d_col in (0, 1):
            share = (1 - np.abs(row - low_row - d_row)) * (1 - np.abs(col - low_col - d_col))
            cell: IntArray = (low_row + d_row) * COLS + low_col + d_col
            total += np.bincount(cell, weights=share * change, minlength=ROWS * COLS)
            weight += np.bincount(cell, weights=share, minlength=ROWS * COLS)
    smooth = [
        ndimage.gaussian_filter(a.reshape(ROWS, COLS), _SPREAD_CELLS) for a in (total, weight)
    ]
    spread: FloatArray = smooth[0] / np.maximum(smooth[1], 0.3)
    return spread
