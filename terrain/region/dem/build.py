"""Elevation tiles into the local map pack, and out of it again."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from terrain.calc.elevation import sample_heights
from terrain.errors import MapDataError
from terrain.region.dem.files import find_dem_files, open_dem_file, tile_name
from terrain.region.dem.tile import DemFile, HeightGrid
from terrain.region.disk import file_errors, write_file
from terrain.region.store import load_value, save_value
from terrain.text.message import Message, message
from terrain.values.arrays import FloatArray
from terrain.values.heights import VOID, HeightFlag, HeightsView
from terrain.values.plain import Plain

Bbox = tuple[float, float, float, float]
Progress = Callable[[str, float], None]

MARGIN_DEG = 0.02  # kept around the region: lines drawn beside a road, and holes' surroundings
FILL_REACH_M = 1000.0  # a void reaching farther than this from known ground stays unknown
_DISAGREE_M = 80.0
_LEAST_PLACES = 5
_BLOCK = 3601  # most rows or columns of a stored tile
_METRES_PER_DEG = 111_195.0
_SCRATCH = "cells.scratch"


@dataclass(frozen=True, slots=True, kw_only=True)
class HeightsSummary(Plain):
    """What became of the elevation files.

    covered_share : part of the region's box with a height, 0..1
    filled_share : part of it filled from its surroundings
    notes : what the user should know, one sentence each
    """

    source: str
    n_files: int
    covered_share: float
    filled_share: float
    notes: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class _Block:
    """A part of a file that becomes one stored tile; rows and cols may reach one past its end."""

    file: DemFile
    grid: HeightGrid
    rows: tuple[int, int]
    cols: tuple[int, int]


def build_heights(
    paths: Iterable[Path],
    bbox: Bbox,
    out_folder: Path,
    progress: Progress | None = None,
    *,
    known: tuple[FloatArray, FloatArray, FloatArray] | None = None,
) -> HeightsSummary:
    """Write the heights of the region's box into `out_folder`, for open_heights.

    paths : .hgt (3 or 1 arc seconds; plain, .gz, .zip), GeoTIFF, or folders of them
    bbox : west, south, east, north [deg]
    known : lon, lat [deg], height [m] of places of the map, to see whether the tiles fit it
    Voids up to FILL_REACH_M deep are filled from their surroundings, across tile edges, and
    marked; files outside the box are left aside. Where files overlap the finer one counts.
    Raises MapDataError if a file cannot be used, or none of them has a height in the box.
    """
    say = progress or (lambda what, share: None)
    files = [open_dem_file(path) for path in find_dem_files(paths)]
    blocks = [block for file in files for block in _blocks(file, bbox)]
    blocks.sort(key=lambda b: (max(b.grid.step_lat, b.grid.step_lon), b.file.path.name, b.rows))
    if not blocks:
        raise MapDataError(
            message(
                "none of the {files} elevation files lies in the region", files=str(len(files))
            ),
            ", ".join(file.path.name for file in files[:5]),
            message("Give the tiles {names}.", names=", ".join(_names_in(bbox)[:6])),
        )
    scratch = out_folder / _SCRATCH
    total = sum(b.grid.rows * b.grid.cols for b in blocks)
    cells = _scratch(scratch, total)
    view, bits = _empty_view(blocks, cells)
    try:
        for i, block in enumerate(blocks):
            say(f"reading {block.file.path.name}", i / len(blocks) / 2)
            _store(block, view, i, cells)
        for i, block in enumerate(blocks):
            say(f"filling gaps in {block.file.path.name}", 0.5 + i / len(blocks) / 2)
            _fill(block, view, i, cells, bits)
        summary = _summary(view, bbox, blocks, known)
        save_value(out_folder, view)
    finally:
        del cells
        scratch.unlink(missing_ok=True)
    say("elevation done", 1.0)
    return summary


def open_heights(folder: Path) -> HeightsView:
    """The heights built into a folder, memory-mapped. Raises RegionDamaged."""
    return load_value(folder, HeightsView)


def heights_disagree(
    heights: HeightsView, lon: FloatArray, lat: FloatArray, ele_m: FloatArray
) -> str | None:
    """A warning if the tiles contradict the heights the map has, as misnamed tiles do.

    lon, lat, ele_m : places with a tagged height, NaN where not tagged
    None if they agree, or fewer than five places tell. Cols, peaks and villages of Andorra lie
    within 7 m of a right tile in the middle.
    """
    found, _ = sample_heights(heights, lon, lat)
    difference = np.abs(found - ele_m)
    difference = difference[~np.isnan(difference)]
    middle = float(np.median(difference)) if len(difference) >= _LEAST_PLACES else 0.0
    if middle <= _DISAGREE_M:
        return None
    return message(
        "The elevation tiles contradict the map: at {n_places} places with a known height they "
        "are off by {off_ele_m} in the middle. A tile may bear the wrong name.",
        n_places=len(difference),
        off_ele_m=middle,
    )


def _names_in(bbox: Bbox) -> list[str]:
    west, south, east, north = bbox
    return [
        tile_name((lon + 180) % 360 - 180, lat)
        for lat in range(math.floor(south), math.ceil(north))
        for lon in range(math.floor(west), math.ceil(east))
    ]


def _names_of(lon: FloatArray, lat: FloatArray) -> list[str]:
    corners = {(int(x), int(y)) for x, y in zip(np.floor(lon), np.floor(lat), strict=True)}
    return sorted(tile_name((x + 180) % 360 - 180, y) for x, y in corners)


def _blocks(file: DemFile, bbox: Bbox) -> Iterator[_Block]:
    """The parts of a file that touch the box. Neighbouring parts share an edge row."""
    grid = file.grid
    rows_cols = _overlap(grid, bbox)
    if rows_cols is None:
        return
    (top, bottom), (left, right) = rows_cols
    # Files whose edge rows are not shared leave a gap of one step to the next; each is
    # stored with one row and column more, which the neighbours then fill.
    extra = 0 if file.shares_edges else 1
    bottom += extra if bottom == grid.rows else 0
    right += extra if right == grid.cols else 0
    for first in range(top, bottom - 1, _BLOCK - 1):
        for start in range(left, right - 1, _BLOCK - 1):
            rows = (first, min(first + _BLOCK, bottom))
            cols = (start, min(start + _BLOCK, right))
            yield _Block(file, grid.part(rows, cols), rows, cols)


def _overlap(grid: HeightGrid, bbox: Bbox) -> tuple[tuple[int, int], tuple[int, int]] | None:
    """Rows and columns [first, end) of the grid that hold the box and its margin."""
    west, south, east, north = bbox
    turn = 360.0 * round(((grid.west + grid.east) - (west + east)) / 2 / 360)
    left = math.floor((west + turn - MARGIN_DEG - grid.west) / grid.step_lon)
    right = math.ceil((east + turn + MARGIN_DEG - grid.west) / grid.step_lon) + 1
    top = math.floor((grid.north - north - MARGIN_DEG) / grid.step_lat)
    bottom = math.ceil((grid.north - south + MARGIN_DEG) / grid.step_lat) + 1
    rows = (max(top, 0), min(bottom, grid.rows))
    cols = (max(left, 0), min(right, grid.cols))
    if rows[1] - rows[0] < 2 or cols[1] - cols[0] < 2:
        return None
    return rows, cols


def _scratch(path: Path, n_cells: int) -> NDArray[np.int16]:
    """A file of n cells, all written: a full disk must be met here, not inside the map."""
    with file_errors(path):
        path.parent.mkdir(parents=True, exist_ok=True)
    chunk = np.full(1 << 20, VOID, np.int16).tobytes()
    whole, rest = divmod(n_cells * 2, len(chunk))
    write_file(path, [chunk] * whole + [chunk[:rest]])
    return np.memmap(path, np.int16, "r+", shape=(n_cells,))


def _empty_view(
    blocks: list[_Block], cells: NDArray[np.int16]
) -> tuple[HeightsView, NDArray[np.uint8]]:
    """The view over cells still to be written, and its bits, writeable."""
    grids = [block.grid for block in blocks]
    sizes = [grid.rows * grid.cols for grid in grids]
    bits = np.zeros(-(-len(cells) // 8), np.uint8)
    view = HeightsView(
        west=np.array([g.west for g in grids], dtype=float),
        south=np.array([g.south for g in grids], dtype=float),
        step_lon=np.array([g.step_lon for g in grids]),
        step_lat=np.array([g.step_lat for g in grids]),
        rows=np.array([g.rows for g in grids], dtype=np.int32),
        cols=np.array([g.cols for g in grids], dtype=np.int32),
        start=np.cumsum([0, *sizes[:-1]], dtype=np.int64),
        scale_m=np.array([1.0 if b.file.whole_metres else 0.25 for b in blocks], np.float32),
        offset_m=np.zeros(len(blocks), np.float32),
        cells=cells,
        filled_bits=bits,
        source=_source_text(blocks),
    )
    return view, bits


def _source_text(blocks: list[_Block]) -> Message:
    steps = sorted({round(block.grid.step_lat * 3600, 2) for block in blocks})
    kinds = sorted({".hgt" if block.file.shares_edges else "GeoTIFF" for block in blocks})
    sizes = tuple(f"{step:g}" for step in steps)
    return message(
        "elevation tiles ({kinds}, {sizes} arc seconds)", kinds=tuple(kinds), sizes=sizes
    )


def _own_cells(view: HeightsView, tile: int, cells: NDArray[np.int16]) -> NDArray[np.int16]:
    rows, cols, start = int(view.rows[tile]), int(view.cols[tile]), int(view.start[tile])
    return cells[start : start + rows * cols].reshape(rows, cols)


def _encode(heights_m: FloatArray, scale_m: float) -> NDArray[np.int16]:
    with np.errstate(invalid="ignore"):
        coded = np.rint(heights_m / scale_m)
    return np.where(np.isnan(heights_m), VOID, coded).astype(np.int16)


def _store(block: _Block, view: HeightsView, tile: int, cells: NDArray[np.int16]) -> None:
    grid = block.file.grid
    rows = (block.rows[0], min(block.rows[1], grid.rows))
    cols = (block.cols[0], min(block.cols[1], grid.cols))
    heights = block.file.read(rows, cols).astype(float)
    mine = _own_cells(view, tile, cells)
    mine[: heights.shape[0], : heights.shape[1]] = _encode(heights, float(view.scale_m[tile]))


def _fill(
    block: _Block,
    view: HeightsView,
    tile: int,
    cells: NDArray[np.int16],
    bits: NDArray[np.uint8],
) -> None:
    """Fill the tile's voids: from other tiles where they know, else from what lies around."""
    from terrain.region.dem.voids import fill_voids  # scipy is needed to build, not to open

    mine = _own_cells(view, tile, cells)
    void = mine == VOID
    if not void.any() or void.all():
        return
    scale = float(view.scale_m[tile])
    reach = math.ceil(FILL_REACH_M / (block.grid.step_lat * _METRES_PER_DEG))
    heights_m = mine.astype(np.float64) * scale
    around, known_filled = _with_surroundings(block.grid, view, heights_m, void, reach + 4)
    inner = (slice(reach + 4, -reach - 4),) * 2
    inside = np.zeros(around.shape, dtype=bool)
    inside[inner] = True
    full = fill_voids(around, reach=reach, inside=inside)[inner]
    marks = void & ~np.isnan(full) & (np.isnan(around[inner]) | known_filled)
    mine[void] = _encode(full, scale)[void]
    at = int(view.start[tile]) + np.flatnonzero(marks)
    np.bitwise_or.at(bits, at >> 3, (128 >> (at & 7)).astype(np.uint8))


def _with_surroundings(
    grid: HeightGrid, view: HeightsView, heights_m: FloatArray, void: Any, halo: int
) -> tuple[FloatArray, Any]:
    """The tile with `halo` cells around it and its voids taken from other tiles, NaN where none
    knows; and which of its own voids came from a filled void there."""
    shape = (grid.rows + 2 * halo, grid.cols + 2 * halo)
    wanted = np.ones(shape, dtype=bool)
    inner = (slice(halo, -halo),) * 2
    wanted[inner] = void
    row, col = np.nonzero(wanted)
    lat = np.asarray(grid.north - (row - halo) * grid.step_lat, dtype=np.float64)
    lon = np.asarray(grid.west + (col - halo) * grid.step_lon, dtype=np.float64)
    value, flag = sample_heights(view, lon, lat)
    around = np.full(shape, np.nan)
    around[inner] = heights_m
    around[row, col] = value
    filled = np.zeros(shape, dtype=bool)
    filled[row, col] = flag == HeightFlag.FILLED
    return around, filled[inner]


def _summary(
    view: HeightsView,
    bbox: Bbox,
    blocks: list[_Block],
    known_places: tuple[FloatArray, FloatArray, FloatArray] | None,
) -> HeightsSummary:
    west, south, east, north = bbox
    lon, lat = (
        axis.ravel()
        for axis in np.meshgrid(np.linspace(west, east, 101), np.linspace(south, north, 101))
    )
    ele_m, flag = sample_heights(view, lon, lat)
    known = ~np.isnan(ele_m)
    if not (view.cells != VOID).any():
        raise MapDataError(
            message("the elevation files hold no height at all in the region"),
            ", ".join(sorted({b.file.path.name for b in blocks})[:5]),
            message("They are void there; get tiles from another source."),
        )
    doubt = heights_disagree(view, *known_places) if known_places is not None else None
    notes = [doubt] if doubt else []
    missing = _names_of(
        lon[~known] - 1e-9 * (lon[~known] == east), lat[~known] - 1e-9 * (lat[~known] == north)
    )
    if missing:
        notes.append(
            message(
                "No heights for {missing_share} of the region's box, in {tiles}; they stay unknown "
                "there.",
                missing_share=float((~known).mean()),
                tiles=", ".join(missing[:8]) + (", …" if len(missing) > 8 else ""),
            )
        )
    if (ele_m[known] == 0).all() and known.any():
        notes.append(message("Every height in the region is 0: the tiles hold only sea."))
    if view.step_m > 200:
        notes.append(message("The elevation is coarse: climbs are shown too low."))
    return HeightsSummary(
        source=view.source,
        n_files=len({block.file.path for block in blocks}),
        covered_share=float(known.mean()),
        filled_share=float((flag == HeightFlag.FILLED).mean()),
        notes=tuple(notes),
    )
