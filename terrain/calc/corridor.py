"""The roads near a line as a small graph of their own, so that searches stay short."""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from terrain.calc.geodesy import metres_per_degree
from terrain.calc.kernels import Index, inner, kernel, plain
from terrain.calc.search import ArcGraph, arc_graph
from terrain.values.arrays import (
    BoolArray,
    Float32Array,
    FloatArray,
    Int8Array,
    Int32Array,
    IntArray,
    freeze_fields,
)
from terrain.values.views import RoadsView


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class LocalRoads:
    """Edges near a line, with nodes numbered anew.

    edge, node : the region's own numbers, rising; u, v : ends of each edge in local numbers;
    length_m, time_s, oneway, usable : of each edge
    """

    edge: Int32Array
    node: Int32Array
    u: Int32Array
    v: Int32Array
    length_m: FloatArray
    time_s: FloatArray
    oneway: Int8Array
    usable: BoolArray

    def __post_init__(self) -> None:
        edges = ("edge", "u", "v", "length_m", "time_s", "oneway", "usable")
        freeze_fields(self, edges, len(self.edge))
        freeze_fields(self, ("node",))

    def graph(self, *, reverse: bool = False, usable: BoolArray | None = None) -> ArcGraph:
        """Arcs of the usable edges, or of those given."""
        return arc_graph(
            self.u,
            self.v,
            n_nodes=len(self.node),
            oneway=self.oneway,
            usable=self.usable if usable is None else usable,
            reverse=reverse,
        )

    def local_node(self, node: IntArray | Int32Array) -> Int32Array:
        """Local numbers of the region's nodes; -1 for those not here."""
        return _found(self.node, node)

    def local_edge(self, edge: IntArray | Int32Array) -> Int32Array:
        """Local numbers of the region's edges; -1 for those not here."""
        return _found(self.edge, edge)


def roads_near(
    roads: RoadsView,
    lon: FloatArray,
    lat: FloatArray,
    *,
    margin_m: float,
    usable: BoolArray,
    time_s: Float32Array | FloatArray,
) -> LocalRoads:
    """The edges that pass within about `margin_m` of a line; more at the corners, never fewer.

    lon, lat : points of the line [deg], closer together than the margin or the grid's cells
    usable, time_s : of each edge of the region; edges without a time are not usable
    """
    return roads_of(roads, edges_near(roads, lon, lat, margin_m), usable=usable, time_s=time_s)


def roads_of(
    roads: RoadsView,
    near: BoolArray,
    *,
    usable: BoolArray,
    time_s: Float32Array | FloatArray,
) -> LocalRoads:
    """Some edges of the region as local roads; near, usable, time_s : of each edge."""
    edge = plain(np.flatnonzero(near), np.int32)
    node, u, v = _renumbered(
        edge, plain(roads.edge_u, np.int32), plain(roads.edge_v, np.int32), roads.n_nodes
    )
    seconds = np.asarray(time_s[edge], dtype=np.float64)
    return LocalRoads(
        edge=edge,
        node=node,
        u=u,
        v=v,
        length_m=roads.edge_length_m[edge],
        time_s=seconds,
        oneway=roads.ways.oneway[roads.edge_way[edge]],
        usable=usable[edge] & ~np.isnan(seconds),
    )


@kernel
def _renumbered(
    edge: Int32Array, edge_u: Int32Array, edge_v: Int32Array, n_nodes: Index
) -> tuple[Int32Array, Int32Array, Int32Array]:
    """The nodes at the ends of some edges, rising, and those ends as places in that list."""
    place = np.zeros(n_nodes, np.int32)
    for k in edge:
        place[edge_u[k]] = 1
        place[edge_v[k]] = 1
    count = 0
    for node in range(n_nodes):
        count += place[node]
    nodes = np.empty(count, np.int32)
    count = 0
    for node in range(n_nodes):
        if place[node]:
            nodes[count] = node
            place[node] = count
            count += 1
    u, v = np.empty(len(edge), np.int32), np.empty(len(edge), np.int32)
    for i, k in enumerate(edge):
        u[i] = place[edge_u[k]]
        v[i] = place[edge_v[k]]
    return nodes, u, v


def edges_near(roads: RoadsView, lon: FloatArray, lat: FloatArray, margin_m: float) -> BoolArray:
    """Which edges have a segment in the grid cells round the line, as `roads_near` takes them."""
    east_m, north_m = metres_per_degree(float(np.mean(lat)) if len(lat) else 0.0)
    return _mark_edges(
        plain(lon),
        plain(lat),
        (roads.grid_west, roads.grid_south, roads.grid_step_lon, roads.grid_step_lat),
        int(np.ceil(margin_m / (north_m * roads.grid_step_lat))),
        int(np.ceil(margin_m / (max(east_m, 1.0) * roads.grid_step_lon))),
        roads.grid_rows,
        roads.grid_cols,
        plain(roads.cell_start, np.int32),
        plain(roads.cell_pt, np.int32),
        plain(roads.pt_edge, np.int32),
        roads.n_edges,
    )


@kernel
def _mark_edges(
    lon: FloatArray, lat: FloatArray, grid: tuple[float, float, float, float],
    high: Index, wide: Index, rows: Index, cols: Index,
    cell_start: Int32Array, cell_pt: Int32Array, pt_edge: Int32Array, n_edges: Index,
) -> BoolArray:  # fmt: skip
    """Which edges have a segment within `high` rows and `wide` columns of a point's cell.

    lon, lat : points in the order of the line; grid : west, south, width and height of a cell,
        all in degrees; rows, cols : size of the grid
    """
    west, south, step_lon, step_lat = grid
    near = np.zeros(n_edges, np.bool_)
    # Cells looked at last in each row: the next cell of a line is mostly the neighbour.
    first, last = np.full(rows, cols), np.full(rows, -1)
    row: Index = np.int64(-1)
    col: Index = np.int64(-1)
    for i in range(len(lon)):
        was = row, col
        row = np.int64(np.floor((lat[i] - south) / step_lat))
        col = np.int64(np.floor((lon[i] - west) / step_lon))
        a, b = max(col - wide, 0), min(col + wide, cols - 1)
        if a > b or (i > 0 and was == (row, col)):
            continue
        for r in range(max(row - high, 0), min(row + high, rows - 1) + 1):
            base = r * cols
            if b < first[r] or a > last[r]:
                _mark(near, base + a, base + b, cell_start, cell_pt, pt_edge)
                first[r], last[r] = a, b
            if a < first[r]:
                _mark(near, base + a, base + first[r] - 1, cell_start, cell_pt, pt_edge)
                first[r] = a
            if b > last[r]:
                _mark(near, base + last[r] + 1, base + b, cell_start, cell_pt, pt_edge)
                last[r] = b
    return near


class CellRows(NamedTuple):
    """The cells round a line: in each row of the grid those from one column to another.

    grid : west, south, width and height of a cell, all in degrees
    first, last : columns, both included; last < first in a row without
    """

    grid: tuple[float, float, float, float]
    first: Int32Array
    last: Int32Array


def cells_near(roads: RoadsView, lon: FloatArray, lat: FloatArray, margin_m: float) -> CellRows:
    """The cells within about a margin of a line, and those between them in a row."""
    east_m, north_m = metres_per_degree(float(lat[0]))
    grid = roads.grid_west, roads.grid_south, roads.grid_step_lon, roads.grid_step_lat
    high = int(np.ceil(margin_m / (north_m * grid[3])))
    wide = int(np.ceil(margin_m / (max(east_m, 1.0) * grid[2])))
    return CellRows(grid, *_rows_near(plain(lon), plain(lat), grid, high, wide, roads.grid_rows))


@kernel
def _rows_near(
    lon: FloatArray, lat: FloatArray, grid: tuple[float, float, float, float],
    high: Index, wide: Index, rows: Index,
) -> tuple[Int32Array, Int32Array]:  # fmt: skip
    """First and last column within `high` rows and `wide` columns of a point's cell, by row."""
    west, south, step_lon, step_lat = grid
    first, last = np.full(rows, 1 << 30, np.int32), np.full(rows, -1, np.int32)
    row: Index = np.int64(-1)
    col: Index = np.int64(-1)
    for i in range(len(lon)):
        was = row, col
        row = np.int64(np.floor((lat[i] - south) / step_lat))
        col = np.int64(np.floor((lon[i] - west) / step_lon))
        if i > 0 and was == (row, col):
            continue
        for r in range(max(row - high, 0), min(row + high, rows - 1) + 1):
            first[r] = min(first[r], col - wide)
            last[r] = max(last[r], col + wide)
    return first, last


@inner
def _mark(
    near: BoolArray, cell: Index, to_cell: Index,
    cell_start: Int32Array, cell_pt: Int32Array, pt_edge: Int32Array,
) -> None:  # fmt: skip
    """Mark the edges of the segments in the cells from one to another, both included."""
    for k in range(cell_start[cell], cell_start[to_cell + 1]):
        near[pt_edge[cell_pt[k]]] = True


def _found(sorted_numbers: Int32Array, wanted: IntArray | Int32Array) -> Int32Array:
    if not len(sorted_numbers):
        return np.full(len(wanted), -1, dtype=np.int32)
    i = np.minimum(np.searchsorted(sorted_numbers, wanted), len(sorted_numbers) - 1)
    return np.where(sorted_numbers[i] == wanted, i, -1).astype(np.int32)
