"""Ways through the road graph as edges and as lines."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from itertools import pairwise
from typing import NamedTuple

import numpy as np

from terrain.calc.search import walk
from terrain.values.arrays import BoolArray, Float32Array, FloatArray, Int32Array
from terrain.values.views import RoadsView


class Piece(NamedTuple):
    """Part of an edge in riding order: from_m > to_m if ridden against its drawing order."""

    edge: int
    from_m: float
    to_m: float


def arcs_out(roads: RoadsView, node: int, usable: BoolArray) -> list[tuple[int, int]]:
    """(edge, node it leads to) of every usable edge that may be ridden away from a node."""
    out = []
    for arc in roads.out_arc[roads.out_start[node] : roads.out_start[node + 1]].tolist():
        edge, against = arc >> 1, arc & 1
        oneway = int(roads.ways.oneway[roads.edge_way[edge]])
        if usable[edge] and oneway != (1 if against else -1):
            out.append((edge, int(roads.edge_u[edge] if against else roads.edge_v[edge])))
    return out


def pieces_of_nodes(
    roads: RoadsView,
    nodes: Sequence[int],
    usable: BoolArray,
    edge_cost: FloatArray | Float32Array,
) -> tuple[Piece, ...]:
    """The cheapest usable edges that join consecutive nodes, whole.

    Raises ValueError if two of them are not joined.
    """
    pieces = []
    for here, there in pairwise(nodes):
        fits = [edge for edge, head in arcs_out(roads, here, usable) if head == there]
        if not fits:
            raise ValueError(f"no usable edge from node {here} to node {there}")
        edge = min(fits, key=lambda k: float(edge_cost[k]))
        length = float(roads.edge_length_m[edge])
        # A loop edge can be ridden either way; its drawing order will do.
        ahead = int(roads.edge_u[edge]) == here
        pieces.append(Piece(edge, 0.0, length) if ahead else Piece(edge, length, 0.0))
    return tuple(pieces)


def way_out_nodes(next_node: Int32Array, node: int) -> list[int]:
    """Nodes from `node` along a way-out field to the target network, both ends included."""
    return walk(next_node, node)


def line_of(roads: RoadsView, pieces: Iterable[Piece]) -> tuple[FloatArray, FloatArray]:
    """Longitudes and latitudes along the pieces, doubled points left out."""
    lons, lats = [np.zeros(0)], [np.zeros(0)]
    for piece in pieces:
        lon, lat = _piece_line(roads, piece)
        lons.append(lon)
        lats.append(lat)
    return _apart(np.concatenate(lons), np.concatenate(lats))


def line_of_edges(
    roads: RoadsView, edge: Int32Array, ahead: BoolArray
) -> tuple[FloatArray, FloatArray]:
    """Longitudes and latitudes along whole edges, doubled points left out.

    ahead : whether each is ridden in its drawing order, shape (n,)
    """
    first, count = roads.edge_start[edge], roads.edge_start[edge + 1] - roads.edge_start[edge]
    number = np.arange(int(count.sum())) - np.repeat(np.cumsum(count) - count, count)
    start, step = np.where(ahead, first, first + count - 1), np.where(ahead, 1, -1)
    point = np.repeat(start, count) + number * np.repeat(step, count)
    return _apart(roads.pt_lon[point], roads.pt_lat[point])


def _apart(lon: FloatArray, lat: FloatArray) -> tuple[FloatArray, FloatArray]:
    """A line without its doubled points."""
    moved = (np.diff(lon, prepend=np.nan) != 0) | (np.diff(lat, prepend=np.nan) != 0)
    return lon[moved], lat[moved]


def _piece_line(roads: RoadsView, piece: Piece) -> tuple[FloatArray, FloatArray]:
    span = slice(int(roads.edge_start[piece.edge]), int(roads.edge_start[piece.edge + 1]))
    at, lon, lat = roads.pt_at_m[span], roads.pt_lon[span], roads.pt_lat[span]
    low, high = sorted((piece.from_m, piece.to_m))
    inside = at[(at > low) & (at < high)]
    want = np.concatenate(([low], inside, [high]))
    if piece.from_m > piece.to_m:
        want = want[::-1]
    return np.interp(want, at, lon), np.interp(want, at, lat)


def length_of(pieces: Iterable[Piece]) -> float:
    """Length of the pieces [m]."""
    return float(sum(abs(piece.to_m - piece.from_m) for piece in pieces))
