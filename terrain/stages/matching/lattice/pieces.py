"""The edge pieces ridden between the chosen states of a line."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from terrain.calc.candidates import Candidates
from terrain.calc.kernels import Index, inner, kernel
from terrain.stages.matching.lattice.links import (
    ALONG,
    INF,
    NO_LINK,
    Costs,
    State,
    Step,
    Steps,
    link,
    spread_step,
    step_at,
)
from terrain.stages.matching.lattice.search import Goals, Graph, Work, mark_goals
from terrain.stages.matching.lattice.viterbi import OFF_MAP
from terrain.values.arrays import BoolArray, FloatArray, Int32Array


class Pieces(NamedTuple):
    """Pieces of edges in riding order, shape (k,).

    from_m, to_m : metres along the edge in riding order, from_m > to_m against the drawing
    step : the step of the line (from point t to t + 1) each piece belongs to
    """

    edge: Int32Array
    from_m: FloatArray
    to_m: FloatArray
    step: Int32Array


def ridden_pieces(
    graph: Graph, work: Work, cands: Candidates, steps: Steps, costs: Costs, choice: Int32Array
) -> Pieces:
    """The edge pieces ridden between chosen states; steps that touch OFF_MAP give none.

    choice : 2 * candidate + direction of each point, as from likeliest, shape (n,)
    """
    parts = [_room(0)]
    between = np.zeros((2, 2, 2, 2))
    t, room = 0, 4 * len(choice) + 1024
    while t < len(choice) - 1:
        pieces = _room(room)
        reached, used = _trace(graph, work, cands, steps, costs, choice, pieces, between, t)
        if reached == t:  # one step alone needs more
            room *= 4
        parts.append(pieces_at(pieces, slice(0, int(used))))
        t = int(reached)
    return Pieces(
        np.concatenate([p.edge for p in parts]),
        np.concatenate([p.from_m for p in parts]),
        np.concatenate([p.to_m for p in parts]),
        np.concatenate([p.step for p in parts]),
    )


def pieces_at(pieces: Pieces, rows: slice | BoolArray) -> Pieces:
    """Some of the pieces."""
    return Pieces(pieces.edge[rows], pieces.from_m[rows], pieces.to_m[rows], pieces.step[rows])


def _room(size: int) -> Pieces:
    return Pieces(
        np.empty(size, np.int32), np.empty(size), np.empty(size), np.empty(size, np.int32)
    )


@kernel
def _trace(
    graph: Graph, work: Work, cands: Candidates, steps: Steps, costs: Costs,
    choice: Int32Array, pieces: Pieces, between: FloatArray, first: Index,
) -> tuple[Index, Index]:  # fmt: skip
    """Fill `pieces` from step `first` on; returns the step there was no room for, and the fill."""
    used = np.int64(0)
    for t in range(first, len(choice) - 1):
        if choice[t] == OFF_MAP or choice[t + 1] == OFF_MAP:
            continue
        i, j = choice[t] >> 1, choice[t + 1] >> 1
        here = State(cands.edge[i], cands.at_m[i], choice[t] & 1)
        there = State(cands.edge[j], cands.at_m[j], choice[t + 1] & 1)
        step = step_at(steps, t)
        goals = mark_goals(graph, work, cands.edge, np.int32(j), np.int32(j + 1))
        how = _how(graph, work, here, there, goals, step, costs, between)
        e, f = here.edge, there.edge
        tail, n_between = 0, 0
        if how != ALONG:
            leave, enter = (how - 1) >> 1, (how - 1) & 1
            source = graph.edge_v[e] if leave else graph.edge_u[e]
            goal = graph.edge_v[f] if enter else graph.edge_u[f]
            back = leave == here.direction and enter != there.direction
            spread_step(graph, work, source, goals, step, back)
            tail = goal
            while tail != source:
                arc = work.via[tail]
                tail = graph.edge_v[arc >> 1] if arc & 1 else graph.edge_u[arc >> 1]
                n_between += 1
            tail = goal
        if used + n_between + 2 > len(pieces.edge):
            return t, used
        if how == ALONG:
            _put(pieces, used, e, here.at_m, there.at_m, t)
            used += 1
            continue
        _put(pieces, used, e, here.at_m, graph.edge_length_m[e] if leave else 0.0, t)
        for k in range(used + n_between, used, -1):
            arc = work.via[tail]
            x = np.int32(arc >> 1)
            whole = graph.edge_length_m[x]
            _put(pieces, k, x, whole if arc & 1 else 0.0, 0.0 if arc & 1 else whole, t)
            tail = graph.edge_v[x] if arc & 1 else graph.edge_u[x]
        used += n_between + 2
        _put(pieces, used - 1, f, graph.edge_length_m[f] if enter else 0.0, there.at_m, t)
    return len(choice) - 1, used


@inner
def _put(pieces: Pieces, k: Index, edge: Index, from_m: float, to_m: float, step: Index) -> None:
    pieces.edge[k] = edge
    pieces.from_m[k] = from_m
    pieces.to_m[k] = to_m
    pieces.step[k] = step


@inner
def _how(
    graph: Graph, work: Work, here: State, there: State, goals: Goals, step: Step, costs: Costs,
    between: FloatArray,
) -> Index:  # fmt: skip
    """How the likeliest link rides, as `link` tells it."""
    onward = (there.at_m - here.at_m) * (1 - 2 * here.direction) >= 0.0
    if here.edge == there.edge and here.direction == there.direction and onward:
        return ALONG
    for leave in range(2):
        source = graph.edge_v[here.edge] if leave else graph.edge_u[here.edge]
        for way in range(2):
            spread_step(graph, work, source, goals, step, way == 1)
            for enter in range(2):
                goal = graph.edge_v[there.edge] if enter else graph.edge_u[there.edge]
                found = work.stamp[goal] == work.marks[0]
                between[way, leave, enter, 0] = work.weight[goal] if found else INF
                between[way, leave, enter, 1] = work.length[goal]
    _, how = link(graph, here, there, between, step, costs)
    return ALONG if how == NO_LINK else how
