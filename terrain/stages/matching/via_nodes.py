"""Ways through a gap by way of the nodes near it, looked at one after another; compiled.

Two searches, from one end of the gap and towards the other, meet at every node that a way no
dearer than the limit goes by. Scratch memory is made once for all gaps of a ride and only stamped.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from terrain.calc.corridor import CellRows
from terrain.calc.heap import pop, push
from terrain.calc.kernels import Index, inner, kernel
from terrain.values.arrays import BoolArray, Float32Array, FloatArray, Int32Array


class Streets(NamedTuple):
    """The parts of a RoadsView that the searches need, and what they are weighed by.

    rate : weight of a metre by kind of arc, inf where nobody goes, shape (2, kinds of arcs): of
        any edge, and of an edge the ride uses, which is open to it
    ridden : whether the ride uses it, of each edge
    p : chances of the ground of each way, shape (ways, 3), tarmac first
    """

    node_lon: FloatArray
    node_lat: FloatArray
    edge_u: Int32Array
    edge_v: Int32Array
    edge_way: Int32Array
    edge_length_m: FloatArray
    way_kind: Int32Array
    out_start: Int32Array
    out_arc: Int32Array
    arc_head: Int32Array
    arc_length_m: FloatArray
    arc_kind: Int32Array
    rate: FloatArray
    ridden: BoolArray
    p: Float32Array


class Gap(NamedTuple):
    """One gap: the cells near it, and the spots at its ends: edge, and metres from its start."""

    near: CellRows
    edge: Int32Array
    at_m: FloatArray


class Scratch(NamedTuple):
    """What the searches write. Rows 0 and 1 are the ways from the first end, and to the second.

    cost, before, edge : by node, of the cheapest way: the next node towards the end, -1 at the
        last, and the edge to it; they hold where stamp is mark[0], shape (2, nodes)
    tried, seen, chain : by node, for one way after another; mark[1] is the last stamp of `seen`
    heap_key, heap_node : the queue; pick_key, pick_node : nodes to go by, the likeliest first
    metres : by way, of the ways taken, shape (rows, ways); row 0 is the way ridden
    way, n_ways : rows of those ways, shape (rows, ways), and how many, shape (rows,)
    weight : of the ways taken, to each taste, shape (rows, 2)
    """

    cost: FloatArray
    before: Int32Array
    edge: Int32Array
    stamp: Int32Array
    tried: Int32Array
    seen: Int32Array
    chain: Int32Array
    heap_key: FloatArray
    heap_node: Int32Array
    pick_key: FloatArray
    pick_node: Int32Array
    metres: FloatArray
    way: Int32Array
    n_ways: Int32Array
    weight: FloatArray
    mark: Int32Array


def make_scratch(n_nodes: int, n_edges: int, n_ways: int, rows: int) -> Scratch:
    """Scratch memory of a region; pages are touched only where a search goes."""
    room = 2 * n_edges + 64  # every arc is offered once at most, and the ends
    return Scratch(
        cost=np.zeros((2, n_nodes)), before=np.zeros((2, n_nodes), np.int32),
        edge=np.zeros((2, n_nodes), np.int32), stamp=np.zeros((2, n_nodes), np.int32),
        tried=np.zeros(n_nodes, np.int32), seen=np.zeros(n_nodes, np.int32),
        chain=np.zeros(n_nodes, np.int32), heap_key=np.zeros(room),
        heap_node=np.zeros(room, np.int32), pick_key=np.zeros(room),
        pick_node=np.zeros(room, np.int32), metres=np.zeros((rows, n_ways)),
        way=np.zeros((rows, n_ways), np.int32), n_ways=np.zeros(rows, np.int32),
        weight=np.zeros((rows, 2)), mark=np.zeros(2, np.int32),
    )  # fmt: skip


@kernel
def ways_by_nodes(
    streets: Streets, gap: Gap, scratch: Scratch, ridden_way: Int32Array, ridden_m: FloatArray,
    likings: FloatArray, tastes: Index, most: Index, dearer: float, alike: float,
) -> Index:  # fmt: skip
    """The ridden way, and ways by the likeliest nodes that differ from it and from each other.

    ridden_way, ridden_m : row of the way and metres of each leg of the gap
    likings : how much lighter a metre off tarmac weighs than by time, as a share, to each of two
        tastes; tastes : so many of them are looked by, one after the other
    most : ways kept by each taste, the ridden one included
    dearer : ways up to this many times the weight of the ridden one are kept
    alike : share of the shorter way's length from which two ways are taken for one
    Returns how many are taken; they stand in the scratch memory.
    """
    for row in range(len(scratch.n_ways)):
        _forget(scratch, row)
    count: Index = np.int64(0)
    for leg in range(len(ridden_way)):
        count = _add(scratch.metres[0], scratch.way[0], count, ridden_way[leg], ridden_m[leg])
    scratch.n_ways[0] = count
    first, second = np.int64(0), np.int64(1)
    _weigh(streets, scratch, first, likings)
    pick_key, pick_node, before = scratch.pick_key, scratch.pick_node, scratch.before
    tried, seen, chain, mark = scratch.tried, scratch.seen, scratch.chain, scratch.mark
    taken: Index = second
    for taste in range(tastes):
        liking, limit = likings[taste], dearer * scratch.weight[0, taste]
        full = taken + most - 1
        mark[0] += 1
        _spread(streets, gap, scratch, first, liking, limit)
        left = _spread(streets, gap, scratch, second, liking, limit)
        while left > 0 and taken < full:
            node = pick_node[0]
            left = pop(pick_key, pick_node, left)
            if tried[node] == mark[0]:
                continue
            mark[1] += 1
            n_chain = _chain(node, before, seen, mark[1], chain)
            if n_chain == 0:  # rides back the way it came
                continue
            for k in range(n_chain):
                tried[chain[k]] = mark[0]
            _measure(node, streets, gap, scratch, taken)
            if _is_new(scratch, taken, alike):
                _weigh(streets, scratch, taken, likings)
                taken += 1
            else:
                _forget(scratch, taken)
    return taken


@inner
def _weigh(streets: Streets, scratch: Scratch, row: Index, likings: FloatArray) -> None:
    """Write the weight of a way to each taste."""
    for taste in range(len(likings)):
        total = 0.0
        for k in range(scratch.n_ways[row]):
            way = scratch.way[row, k]
            kind = 2 * streets.way_kind[way]
            rate = min(streets.rate[1, kind], streets.rate[1, kind + 1])  # a one-way has one
            total += scratch.metres[row, way] * rate * (1.0 - likings[taste] * _off(streets, way))
        scratch.weight[row, taste] = total


@inner
def _off(streets: Streets, way: Index) -> float:
    """The chance of a way to be off tarmac."""
    return 1.0 - np.float64(streets.p[way, 0])


@inner
def _spread(
    streets: Streets, gap: Gap, scratch: Scratch, end: Index, liking: float, limit: float
) -> Index:
    """The cheapest ways from the first end to the nodes near it, or from there to the second.

    Towards the second end, only nodes by which a way within the limit goes are looked at: no way
    by a node before them on the cheapest way is dearer. They are listed to be picked, by the
    weight of that way; returns how many. From the first end, returns 0.
    Source: Dijkstra 1959, Numerische Mathematik 1, 269-271, with a heap and stale entries.
    """
    mark = scratch.mark[0]
    cost, before, via = scratch.cost[end], scratch.before[end], scratch.edge[end]
    stamp, stamp_there, cost_there = scratch.stamp[end], scratch.stamp[0], scratch.cost[0]
    before_there, via_there = scratch.before[0], scratch.edge[0]
    heap_key, heap_node = scratch.heap_key, scratch.heap_node
    pick_key, pick_node = scratch.pick_key, scratch.pick_node
    # Each by itself: a tuple handed on within the loop costs more than what is done there.
    ridden, p, edge_way = streets.ridden, streets.p, streets.edge_way
    west, south, step_lon, step_lat = gap.near.grid
    first_col, last_col = gap.near.first, gap.near.last
    node_lon, node_lat = streets.node_lon, streets.node_lat
    out_start, out_arc, arc_head = streets.out_start, streets.out_arc, streets.arc_head
    arc_length_m, arc_kind, rates = streets.arc_length_m, streets.arc_kind, streets.rate
    edge = gap.edge[end]
    length_m = max(streets.edge_length_m[edge], 1e-6)
    part = min(max(gap.at_m[end] / length_m, 0.0), 1.0)
    kind = 2 * streets.way_kind[streets.edge_way[edge]]
    size: Index = np.int64(0)
    left: Index = np.int64(0)
    for side in range(2):
        # One leaves the first end along the edge by its last node, and comes to the second by
        # its first; against the edge the other way round.
        by_last = (side == 0) != (end == 1)
        node = streets.edge_v[edge] if by_last else streets.edge_u[edge]
        rate = rates[1, kind + side] * (1.0 - liking * _off(streets, edge_way[edge]))
        key = (1.0 - part if by_last else part) * streets.edge_length_m[edge] * rate
        if key <= limit and (stamp[node] != mark or key < cost[node]):
            stamp[node] = mark
            cost[node] = key
            before[node] = via[node] = -1
            size = push(scratch.heap_key, scratch.heap_node, size, key, node)
    while size > 0:
        key, node = heap_key[0], heap_node[0]
        size = pop(heap_key, heap_node, size)
        if key > cost[node]:
            continue
        if end == 1:
            after = before[node]
            # Who comes and goes by the same neighbour rides back the way it came; and the way by
            # the node after is the same one where it is come to from here.
            if after < 0 or (
                after != before_there[node]
                and (before_there[after] != node or via_there[after] != via[node])
            ):
                left = push(pick_key, pick_node, left, key + cost_there[node], node)
        for k in range(out_start[node], out_start[node + 1]):
            edge = out_arc[k] >> 1
            there = arc_head[k]
            if end == 1 and stamp_there[there] != mark:
                continue
            rate = rates[1 if ridden[edge] else 0, arc_kind[k] ^ end]
            if liking > 0.0:
                rate *= 1.0 - liking * (1.0 - np.float64(p[edge_way[edge], 0]))
            further = key + rate * arc_length_m[k]
            if stamp[there] == mark and further >= cost[there]:
                continue
            if end == 0 and stamp[there] != mark:
                row = np.int64(np.floor((node_lat[there] - south) / step_lat))
                col = np.int64(np.floor((node_lon[there] - west) / step_lon))
                if not first_col[row] <= col <= last_col[row]:
                    continue
            if further + (cost_there[there] if end == 1 else 0.0) <= limit:
                stamp[there] = mark
                cost[there] = further
                before[there] = node
                via[there] = edge
                size = push(heap_key, heap_node, size, further, there)
    return left


@inner
def _chain(
    node: Index, before: Int32Array, seen: Int32Array, mark: Index, chain: Int32Array
) -> Index:
    """List the nodes of the way by a node; returns how many, 0 if it passes one twice.

    before : as in Scratch; seen : the mark of the last way that passed each node
    """
    n_chain: Index = np.int64(0)
    for side in range(2):
        here = before[1, node] if side else node
        while here >= 0:
            if seen[here] == mark:
                return np.int64(0)
            seen[here] = mark
            chain[n_chain] = here
            n_chain += 1
            here = before[side, here]
    return n_chain


@inner
def _measure(node: Index, streets: Streets, gap: Gap, scratch: Scratch, row: Index) -> None:
    """Write the metres by way of the way by a node, with its parts of the edges at both ends."""
    before, via, metres = scratch.before, scratch.edge, scratch.metres[row]
    listed, n_ways = scratch.way[row], scratch.n_ways
    edge_way, edge_length_m = streets.edge_way, streets.edge_length_m
    count: Index = np.int64(0)
    for side in range(2):
        here = node
        while before[side, here] >= 0:
            edge = via[side, here]
            count = _add(metres, listed, count, edge_way[edge], edge_length_m[edge])
            here = before[side, here]
        edge, at_m = gap.edge[side], gap.at_m[side]
        part = at_m if streets.edge_u[edge] == here else edge_length_m[edge] - at_m
        count = _add(metres, listed, count, edge_way[edge], part)
    n_ways[row] = count


@inner
def _add(metres: FloatArray, listed: Int32Array, count: Index, way: Index, more_m: float) -> Index:
    """Add metres to those of a way; returns how many ways are listed."""
    if more_m > 0.0:
        if metres[way] == 0.0:
            listed[count] = way
            count += 1
        metres[way] = metres[way] + more_m
    return count


@inner
def _forget(scratch: Scratch, row: Index) -> None:
    """Make a row empty again."""
    metres, way = scratch.metres[row], scratch.way[row]
    for k in range(scratch.n_ways[row]):
        metres[way[k]] = 0.0
    scratch.n_ways[row] = 0


@inner
def _is_new(scratch: Scratch, row: Index, alike: float) -> bool:
    """Whether a way has a length and differs from all rows before it."""
    metres, way, n_ways = scratch.metres, scratch.way, scratch.n_ways
    length = _length(metres[row], way[row], n_ways[row])
    if not length > 0.0:
        return False
    for other in range(row):
        common = 0.0
        for k in range(n_ways[row]):
            common += min(metres[row, way[row, k]], metres[other, way[row, k]])
        shorter = min(length, _length(metres[other], way[other], n_ways[other]))
        if common / max(shorter, 1.0) >= alike:
            return False
    return True


@inner
def _length(metres: FloatArray, way: Int32Array, n_ways: Index) -> float:
    total = 0.0
    for k in range(n_ways):
        total += metres[way[k]]
    return total
