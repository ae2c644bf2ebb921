"""From the edge pieces between points to one ride: joined, smoothed of jitter, drawn."""

from __future__ import annotations

import numpy as np
from numba import njit

from terrain.values.arrays import FloatArray, Int32Array

_SAME_M = 1e-6


@njit(cache=True, nogil=True)
def join_pieces(
    edge: Int32Array, from_m: FloatArray, to_m: FloatArray, step: Int32Array, jitter_m: FloatArray
) -> tuple[Int32Array, FloatArray, FloatArray, Int32Array, Int32Array]:
    """Join consecutive pieces of one edge and drop turns back shorter than the line's noise.

    edge, from_m, to_m : pieces in riding order, shape (k,); step : step of each piece
    jitter_m : retraced length below which a turn back is noise, by step, shape (steps,)
    Returns: edge, from_m, to_m, first_step, last_step of the joined pieces.
    """
    n = len(edge)
    e = np.empty(n, dtype=np.int32)
    a, b = np.empty(n), np.empty(n)
    s0, s1 = np.empty(n, dtype=np.int32), np.empty(n, dtype=np.int32)
    m = 0
    for k in range(n):  # runs of one edge in one direction
        if abs(to_m[k] - from_m[k]) <= _SAME_M:
            continue
        same = m > 0 and e[m - 1] == edge[k] and abs(b[m - 1] - from_m[k]) <= 1e-3
        if same and (b[m - 1] - a[m - 1]) * (to_m[k] - from_m[k]) > 0.0:
            b[m - 1] = to_m[k]
            s1[m - 1] = step[k]
            continue
        e[m], a[m], b[m] = edge[k], from_m[k], to_m[k]
        s0[m] = s1[m] = step[k]
        m += 1
    top = 0  # entries below it are settled; the input is read from k on
    k = 0
    while k < m:
        turns = (
            top > 0
            and e[top - 1] == e[k]
            and abs(b[top - 1] - a[k]) <= 1e-3
            and (b[top - 1] - a[top - 1]) * (b[k] - a[k]) < 0.0
        )
        if turns and _retraced(e, a, b, top, k, m) < jitter_m[s0[k]]:
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
            if top > 0 and k < m and e[top - 1] == e[k] and abs(b[top - 1] - a[k]) <= 1e-3:
                if (b[top - 1] - a[top - 1]) * (b[k] - a[k]) > 0.0:
                    a[k] = a[top - 1]
                    s0[k] = s0[top - 1]
                    top -= 1
            continue
        e[top], a[top], b[top], s0[top], s1[top] = e[k], a[k], b[k], s0[k], s1[k]
        top += 1
        k += 1
    return e[:top].copy(), a[:top].copy(), b[:top].copy(), s0[:top].copy(), s1[:top].copy()


@njit(cache=True, nogil=True)
def _retraced(e, a, b, top, k, m):
    """Length over which the ride goes back the way it came, at a turn between top - 1 and k."""
    total = 0.0
    i, j = top - 1, k
    while i >= 0 and j < m and e[i] == e[j]:
        if abs(b[i] - a[j]) > 1e-3 or (b[i] - a[i]) * (b[j] - a[j]) > 0.0:
            break
        out, home = abs(b[i] - a[i]), abs(b[j] - a[j])
        total += min(out, home)
        if abs(out - home) > _SAME_M:
            break
        i -= 1
        j += 1
    return total


@njit(cache=True, nogil=True)
def draw_ride(
    edge: Int32Array,
    from_m: FloatArray,
    to_m: FloatArray,
    edge_start: Int32Array,
    pt_lon: FloatArray,
    pt_lat: FloatArray,
    pt_at_m: FloatArray,
) -> tuple[FloatArray, FloatArray, FloatArray, Int32Array]:
    """The line of pieces of edges.

    edge, from_m, to_m : shape (k,), riding order
    Returns: lon, lat [deg], along_m from the piece's start, all (p,), and first (k + 1,): piece i
    owns points first[i] .. first[i + 1] - 1, both its ends included.
    """
    n = len(edge)
    first = np.zeros(n + 1, dtype=np.int32)
    room = 2 * n
    for i in range(n):
        room += edge_start[edge[i] + 1] - edge_start[edge[i]]
    lon, lat, along = np.empty(room), np.empty(room), np.empty(room)
    used = 0
    for i in range(n):
        p0, p1 = edge_start[edge[i]], edge_start[edge[i] + 1]
        low, high = min(from_m[i], to_m[i]), max(from_m[i], to_m[i])
        backwards = to_m[i] < from_m[i]
        for end in range(2):
            if end == 1:
                for q in range(p0, p1):
                    p = p0 + p1 - 1 - q if backwards else q
                    at = pt_at_m[p]
                    if at > low + 1e-3 and at < high - 1e-3:
                        lon[used], lat[used] = pt_lon[p], pt_lat[p]
                        along[used] = abs(at - from_m[i])
                        used += 1
            at = from_m[i] if end == 0 else to_m[i]
            q = p0
            while q < p1 - 2 and pt_at_m[q + 1] < at:
                q += 1
            span = pt_at_m[q + 1] - pt_at_m[q]
            t = min(1.0, max(0.0, (at - pt_at_m[q]) / span)) if span > 0.0 else 0.0
            lon[used] = pt_lon[q] + t * (pt_lon[q + 1] - pt_lon[q])
            lat[used] = pt_lat[q] + t * (pt_lat[q + 1] - pt_lat[q])
            along[used] = abs(at - from_m[i])
            used += 1
        first[i + 1] = used
    return lon[:used].copy(), lat[:used].copy(), along[:used].copy(), first


@njit(cache=True, nogil=True)
def point_places(
    edge: Int32Array,
    from_m: FloatArray,
    to_m: FloatArray,
    first_step: Int32Array,
    last_step: Int32Array,
    start_m: FloatArray,
    point_edge: Int32Array,
    point_at_m: FloatArray,
) -> FloatArray:
    """Where along the ride each matched point lies; NaN where its spot was dropped as jitter.

    edge, from_m, to_m, first_step, last_step, start_m : joined pieces, start_m along the ride
    point_edge, point_at_m : the chosen position of each point, shape (n,)
    """
    n = len(point_edge)
    place = np.full(n, np.nan)
    for i in range(len(edge)):
        low, high = min(from_m[i], to_m[i]) - 1e-3, max(from_m[i], to_m[i]) + 1e-3
        for t in range(first_step[i], min(last_step[i] + 2, n)):
            if point_edge[t] == edge[i] and low <= point_at_m[t] <= high and np.isnan(place[t]):
                place[t] = start_m[i] + abs(point_at_m[t] - from_m[i])
    return place
