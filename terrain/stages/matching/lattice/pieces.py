"""The edge pieces ridden between the chosen states of a line."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from terrain.calc.geodesy import metres_per_degree
from terrain.calc.kernels import Index, inner, kernel
from terrain.stages.matching.lattice.links import Steps
from terrain.stages.matching.lattice.search import (
    Aim,
    EdgeGraph,
    SearchBuffers,
    add_goal,
    clear_goals,
    spread,
)
from terrain.stages.matching.lattice.viterbi import ALONG, BACK, OFF_MAP, Chain, Spots
from terrain.values.arrays import BoolArray, FloatArray, Int32Array


class RiddenPieces(NamedTuple):
    """Pieces of edges in riding order, shape (k,).

    from_m, to_m : metres along the edge in riding order, from_m > to_m against the drawing
    step : the step of the line (from point t to t + 1) each piece belongs to
    """

    edge: Int32Array
    from_m: FloatArray
    to_m: FloatArray
    step: Int32Array


def ridden_pieces(
    graph: EdgeGraph, work: SearchBuffers, spots: Spots, steps: Steps, chain: Chain
) -> RiddenPieces:
    """The edge pieces ridden between chosen states; steps that touch OFF_MAP give none."""
    parts = [_room(0)]
    n = len(chain.state)
    t = 0
    room = 4 * n + 1024
    while t < n - 1:
        pieces = _room(room)
        reached, used = _trace(graph, work, spots, steps, chain, pieces, t)
        if reached == t:  # one step alone needs more
            room *= 4
        parts.append(pieces_at(pieces, slice(0, int(used))))
        t = int(reached)
    return RiddenPieces(
        np.concatenate([p.edge for p in parts]),
        np.concatenate([p.from_m for p in parts]),
        np.concatenate([p.to_m for p in parts]),
        np.concatenate([p.step for p in parts]),
    )


def pieces_at(pieces: RiddenPieces, rows: slice | BoolArray) -> RiddenPieces:
    """Some of the pieces."""
    return RiddenPieces(
        pieces.edge[rows], pieces.from_m[rows], pieces.to_m[rows], pieces.step[rows]
    )


def _room(size: int) -> RiddenPieces:
    return RiddenPieces(
        np.empty(size, np.int32), np.empty(size), np.empty(size), np.empty(size, np.int32)
    )


@kernel
def _trace(
    graph: EdgeGraph,
    work: SearchBuffers,
    spots: Spots,
    steps: Steps,
    chain: Chain,
    pieces: RiddenPieces,
    first: Index,
) -> tuple[Index, Index]:
    """Fill `pieces` from step `first` on; returns the step there was no room for, and the fill."""
    used = np.int64(0)
    for t in range(first, len(chain.state) - 1):
        if chain.state[t] == OFF_MAP or chain.state[t + 1] == OFF_MAP:
            continue
        i, j = chain.state[t] >> 1, chain.state[t + 1] >> 1
        how = chain.how[t + 1]
        if how == ALONG or _rides_on(spots, chain, t):
            if used == len(pieces.edge):
                return t, used
            _put(pieces, used, spots.edge[i], spots.at_m[i], spots.at_m[j], t)
            used += 1
            continue
        back = 1 if how > BACK else 0
        leave = (how - 1 - BACK * back) >> 1
        enter = (how - 1 - BACK * back) & 1
        source, goal = spots.gate_node[2 * i + leave], spots.gate_node[2 * j + enter]
        n_between: Index = 0
        if source != goal:
            east_m, north_m = metres_per_degree(graph.node_lat[goal])
            aim = Aim(
                graph.node_lon[goal],
                graph.node_lat[goal],
                east_m,
                north_m,
                0.0,
                graph.least[steps.mode[t]],
            )
            clear_goals(work)
            spread(graph, work, source, add_goal(work, goal), steps.mode[t], back, np.inf, aim)
            n_between = _count(graph, work, goal)
        if used + n_between + 2 > len(pieces.edge):
            return t, used
        e, f = spots.edge[i], spots.edge[j]
        _put(pieces, used, e, spots.at_m[i], graph.edge_length_m[e] if leave else 0.0, t)
        node = goal
        for k in range(used + n_between, used, -1):
            arc = graph.out_arc[work.via[node]]
            x = np.int32(arc >> 1)
            whole = graph.edge_length_m[x]
            _put(pieces, k, x, whole if arc & 1 else 0.0, 0.0 if arc & 1 else whole, t)
            node = graph.edge_v[x] if arc & 1 else graph.edge_u[x]
        used += n_between + 2
        _put(pieces, used - 1, f, graph.edge_length_m[f] if enter else 0.0, spots.at_m[j], t)
    return len(chain.state) - 1, used


@inner
def _rides_on(spots: Spots, chain: Chain, t: Index) -> bool:
    """Whether a step leads onward on one edge: a way round that is likelier by its length was
    never meant."""
    here, there = chain.state[t], chain.state[t + 1]
    i, j = here >> 1, there >> 1
    ahead_m = spots.at_m[j] - spots.at_m[i]
    same = spots.edge[i] == spots.edge[j] and (here & 1) == (there & 1)
    return bool(same and (ahead_m <= 0.0 if here & 1 else ahead_m >= 0.0))


@inner
def _count(graph: EdgeGraph, work: SearchBuffers, node: Index) -> Index:
    """How many arcs the last search took to a node."""
    n_arcs = 0
    while work.via[node] >= 0:
        arc = graph.out_arc[work.via[node]]
        node = graph.edge_v[arc >> 1] if arc & 1 else graph.edge_u[arc >> 1]
        n_arcs += 1
    return n_arcs


@inner
def _put(
    pieces: RiddenPieces, k: Index, edge: Index, from_m: float, to_m: float, step: Index
) -> None:
    pieces.edge[k] = edge
    pieces.from_m[k] = from_m
    pieces.to_m[k] = to_m
    pieces.step[k] = step
