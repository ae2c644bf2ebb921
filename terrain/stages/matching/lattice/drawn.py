"""From the edge pieces between points to one ride: joined, smoothed of jitter, drawn."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from terrain.calc.kernels import Index, inner, kernel, plain
from terrain.stages.matching.lattice.pieces import RiddenPieces
from terrain.values.arrays import BoolArray, FloatArray, Int32Array
from terrain.values.views import RoadsView

_SAME_M = 1e-6
_TOUCH_M = 1e-3


class Joined(NamedTuple):
    """Pieces of edges as ridden, shape (k,): each goes on where the one before ended.

    from_m, to_m : metres along the edge in riding order
    first_step, last_step : steps of the line the piece belongs to
    """

    edge: Int32Array
    from_m: FloatArray
    to_m: FloatArray
    first_step: Int32Array
    last_step: Int32Array


class Drawn(NamedTuple):
    """The line of pieces: lon, lat [deg] and along_m from the piece's start, shape (p,).

    first : piece i owns points first[i] .. first[i + 1] - 1, both its ends included
    """

    lon: FloatArray
    lat: FloatArray
    along_m: FloatArray
    first: Int32Array


def join_pieces(pieces: RiddenPieces, guessed: BoolArray, jitter_m: FloatArray) -> Joined:
    """Join consecutive pieces of one edge and drop turns back shorter than the line's noise.

    guessed : whether the way was guessed, by step, shape (steps,); pieces shown by the line and
        pieces guessed are not joined
    jitter_m : retraced length below which a turn back is noise, by step, shape (steps,)
    """
    n = len(pieces.edge)
    ride = Joined(
        np.empty(n, np.int32), np.empty(n), np.empty(n), np.empty(n, np.int32),
        np.empty(n, np.int32),
    )  # fmt: skip
    given = RiddenPieces(
        plain(pieces.edge, np.int32), plain(pieces.from_m), plain(pieces.to_m),
        plain(pieces.step, np.int32),
    )  # fmt: skip
    guess = plain(guessed, np.bool_)
    used = _drop_jitter(ride, _merge(given, ride, guess), guess, plain(jitter_m))
    return Joined(
        ride.edge[:used], ride.from_m[:used], ride.to_m[:used],
        ride.first_step[:used], ride.last_step[:used],
    )  # fmt: skip


@kernel
def _merge(pieces: RiddenPieces, ride: Joined, guessed: BoolArray) -> Index:
    """Make one piece of each run on one edge in one direction; returns how many there are."""
    used = 0
    for k in range(len(pieces.edge)):
        start, end = pieces.from_m[k], pieces.to_m[k]
        if abs(end - start) <= _SAME_M:
            continue
        last = used - 1
        if (
            used > 0
            and ride.edge[last] == pieces.edge[k]
            and abs(ride.to_m[last] - start) <= _TOUCH_M
            and (ride.to_m[last] - ride.from_m[last]) * (end - start) > 0.0
            and guessed[ride.last_step[last]] == guessed[pieces.step[k]]
        ):
            ride.to_m[last] = end
            ride.last_step[last] = pieces.step[k]
            continue
        ride.edge[used], ride.from_m[used], ride.to_m[used] = pieces.edge[k], start, end
        ride.first_step[used] = ride.last_step[used] = pieces.step[k]
        used += 1
    return used


@kernel
def _drop_jitter(ride: Joined, n: Index, guessed: BoolArray, jitter_m: FloatArray) -> Index:
    """Drop turns back that are noise, in place; returns how many pieces are left."""
    edge, a, b, s0, s1 = ride
    top = np.int64(0)  # entries below it are settled; the rest is read from k on
    k = np.int64(0)
    while k < n:
        way = _goes_on(ride, top - 1, k)
        if way < 0 and _retraced(ride, top - 1, k, n) < jitter_m[s0[k]]:
            out, home = abs(b[top - 1] - a[top - 1]), abs(b[k] - a[k])
            if home < out - _SAME_M:
                b[top - 1] = b[k]
                s1[top - 1] = s1[k]
                k += 1
            elif home > out + _SAME_M:
                a[k] = a[top - 1]
                s0[k] = s0[top - 1]
                top -= 1
            else:
                top -= 1
                k += 1
            # What is now next may go on from what is now last.
            on = k < n and _goes_on(ride, top - 1, k) > 0
            if on and guessed[s1[top - 1]] == guessed[s0[k]]:
                a[k] = a[top - 1]
                s0[k] = s0[top - 1]
                top -= 1
            continue
        edge[top], a[top], b[top], s0[top], s1[top] = edge[k], a[k], b[k], s0[k], s1[k]
        top += 1
        k += 1
    return top


@inner
def _goes_on(ride: Joined, i: Index, k: Index) -> Index:
    """1 if piece k goes on along the edge where piece i ended, -1 if it turns back, else 0."""
    if i < 0 or ride.edge[i] != ride.edge[k] or abs(ride.to_m[i] - ride.from_m[k]) > _TOUCH_M:
        return 0
    same = (ride.to_m[i] - ride.from_m[i]) * (ride.to_m[k] - ride.from_m[k])
    return 1 if same > 0.0 else -1


@inner
def _retraced(ride: Joined, i: Index, k: Index, n: Index) -> float:
    """Length over which the ride goes back the way it came, at a turn between pieces i and k."""
    total = 0.0
    while i >= 0 and k < n and _goes_on(ride, i, k) < 0:
        out, home = abs(ride.to_m[i] - ride.from_m[i]), abs(ride.to_m[k] - ride.from_m[k])
        total += min(out, home)
        if abs(out - home) > _SAME_M:
            break
        i -= 1
        k += 1
    return total


def draw_ride(edge: Int32Array, from_m: FloatArray, to_m: FloatArray, roads: RoadsView) -> Drawn:
    """The line of pieces of edges, shape (k,), in riding order."""
    n = len(edge)
    points = roads.edge_start[edge + 1] - roads.edge_start[edge]
    room = int(points.sum()) + 2 * n
    drawn = Drawn(np.empty(room), np.empty(room), np.empty(room), np.zeros(n + 1, np.int32))
    used = _draw(
        plain(edge, np.int32), plain(from_m), plain(to_m), roads.edge_start,
        roads.pt_lon, roads.pt_lat, roads.pt_at_m, drawn,
    )  # fmt: skip
    return Drawn(drawn.lon[:used], drawn.lat[:used], drawn.along_m[:used], drawn.first)


@kernel
def _draw(
    edge: Int32Array, from_m: FloatArray, to_m: FloatArray, edge_start: Int32Array,
    pt_lon: FloatArray, pt_lat: FloatArray, pt_at_m: FloatArray, drawn: Drawn,
) -> Index:  # fmt: skip
    used = 0
    for i in range(len(edge)):
        p0, p1 = edge_start[edge[i]], edge_start[edge[i] + 1]
        low, high = min(from_m[i], to_m[i]), max(from_m[i], to_m[i])
        backwards = to_m[i] < from_m[i]
        for end in range(2):
            if end == 1:
                for q in range(p0, p1):
                    p = p0 + p1 - 1 - q if backwards else q
                    at = pt_at_m[p]
                    if at > low + _TOUCH_M and at < high - _TOUCH_M:
                        drawn.lon[used], drawn.lat[used] = pt_lon[p], pt_lat[p]
                        drawn.along_m[used] = abs(at - from_m[i])
                        used += 1
            at = from_m[i] if end == 0 else to_m[i]
            q = p0
            while q < p1 - 2 and pt_at_m[q + 1] < at:
                q += 1
            span = pt_at_m[q + 1] - pt_at_m[q]
            t = min(1.0, max(0.0, (at - pt_at_m[q]) / span)) if span > 0.0 else 0.0
            drawn.lon[used] = pt_lon[q] + t * (pt_lon[q + 1] - pt_lon[q])
            drawn.lat[used] = pt_lat[q] + t * (pt_lat[q + 1] - pt_lat[q])
            drawn.along_m[used] = abs(at - from_m[i])
            used += 1
        drawn.first[i + 1] = used
    return used


def point_places(
    ride: Joined, start_m: FloatArray, point_edge: Int32Array, point_at_m: FloatArray
) -> FloatArray:
    """Where along the ride each matched point lies; NaN where its spot was dropped as jitter.

    start_m : of each piece along the ride, shape (k,)
    point_edge, point_at_m : the chosen position of each point, shape (n,)
    """
    place = np.full(len(point_edge), np.nan)
    given = Joined(
        plain(ride.edge, np.int32), plain(ride.from_m), plain(ride.to_m),
        plain(ride.first_step, np.int32), plain(ride.last_step, np.int32),
    )  # fmt: skip
    _place(given, plain(start_m), plain(point_edge, np.int32), plain(point_at_m), place)
    return place


@kernel
def _place(
    ride: Joined, start_m: FloatArray, point_edge: Int32Array, point_at_m: FloatArray,
    place: FloatArray,
) -> None:  # fmt: skip
    for i in range(len(ride.edge)):
        low = min(ride.from_m[i], ride.to_m[i]) - _TOUCH_M
        high = max(ride.from_m[i], ride.to_m[i]) + _TOUCH_M
        for t in range(ride.first_step[i], min(ride.last_step[i] + 2, len(place))):
            mine = point_edge[t] == ride.edge[i] and low <= point_at_m[t] <= high
            if mine and np.isnan(place[t]):
                place[t] = start_m[i] + abs(point_at_m[t] - ride.from_m[i])
