"""The roads near a line as a small graph of their own, so that searches stay short."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from terrain.calc.geodesy import metres_per_degree
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
    edge = _marked(roads.pt_edge[_points_near(roads, lon, lat, margin_m)], roads.n_edges)
    u, v = roads.edge_u[edge], roads.edge_v[edge]
    node = _marked(np.concatenate((u, v)), roads.n_nodes)
    place = np.zeros(roads.n_nodes, dtype=np.int32)
    place[node] = np.arange(len(node), dtype=np.int32)
    seconds = np.asarray(time_s[edge], dtype=np.float64)
    return LocalRoads(
        edge=edge,
        node=node,
        u=place[u],
        v=place[v],
        length_m=roads.edge_length_m[edge],
        time_s=seconds,
        oneway=roads.ways.oneway[roads.edge_way[edge]],
        usable=usable[edge] & ~np.isnan(seconds),
    )


def _marked(numbers: Int32Array, size: int) -> Int32Array:
    """The distinct numbers below `size`, rising; many times quicker than sorting or hashing."""
    mark = np.zeros(size, dtype=bool)
    mark[numbers] = True
    return np.flatnonzero(mark).astype(np.int32)


def _points_near(roads: RoadsView, lon: FloatArray, lat: FloatArray, margin_m: float) -> Int32Array:
    """First points of the segments in the grid cells round the line."""
    cells = np.zeros((roads.grid_rows, roads.grid_cols), dtype=bool)
    east_m, north_m = metres_per_degree(float(np.mean(lat)) if len(lat) else 0.0)
    rows = np.floor((lat - roads.grid_south) / roads.grid_step_lat).astype(np.int64)
    cols = np.floor((lon - roads.grid_west) / roads.grid_step_lon).astype(np.int64)
    high = int(np.ceil(margin_m / (north_m * roads.grid_step_lat)))
    wide = int(np.ceil(margin_m / (max(east_m, 1.0) * roads.grid_step_lon)))
    inside = np.column_stack((rows, cols))
    moved = np.concatenate(([True], (np.diff(inside, axis=0) != 0).any(axis=1)))
    for row, col in inside[moved].tolist():
        cells[max(row - high, 0) : max(row + high + 1, 0),
              max(col - wide, 0) : max(col + wide + 1, 0)] = True  # fmt: skip
    # The points of cells that follow each other lie together: they are taken run by run.
    edge = np.diff(np.concatenate(([False], cells.ravel(), [False])).astype(np.int8))
    first = roads.cell_start[np.flatnonzero(edge == 1)].tolist()
    last = roads.cell_start[np.flatnonzero(edge == -1)].tolist()
    runs = [roads.cell_pt[a:b] for a, b in zip(first, last, strict=True) if b > a]
    return np.concatenate(runs) if runs else np.zeros(0, dtype=np.int32)


def _found(sorted_numbers: Int32Array, wanted: IntArray | Int32Array) -> Int32Array:
    if not len(sorted_numbers):
        return np.full(len(wanted), -1, dtype=np.int32)
    i = np.minimum(np.searchsorted(sorted_numbers, wanted), len(sorted_numbers) - 1)
    return np.where(sorted_numbers[i] == wanted, i, -1).astype(np.int32)
