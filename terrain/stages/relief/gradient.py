"""Climbs, grades and ramps from heights at equal steps along a line.

Summed raw, the errors of an elevation model add climbs that are not there: 20 to 30 % on the
mountain roads measured. So heights are smoothed first, and a rise counts only once it amounts
to more than the noise left over.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Iterable, Sequence
from itertools import pairwise
from typing import TypeAlias

import numpy as np

from terrain.values.arrays import BoolArray, FloatArray, IntArray

Runs: TypeAlias = Sequence[tuple[int, int]]


def known_runs(known: BoolArray, *, cuts: Sequence[int] = ()) -> list[tuple[int, int]]:
    """[first, end) of each run of True; a run is cut where a new one must begin.

    Heights of different runs have nothing to do with each other: every function here that
    takes `runs` works on each alone, and on the runs without NaN if none are given.
    """
    edges = np.diff(np.concatenate([[0], known.astype(np.int8), [0]]))
    runs: list[tuple[int, int]] = []
    firsts, ends = np.flatnonzero(edges == 1), np.flatnonzero(edges == -1)
    for first, end in zip(firsts.tolist(), ends.tolist(), strict=True):
        inner = sorted({cut for cut in cuts if first < cut < end})
        runs += pairwise([first, *inner, end])
    return runs


def smooth(ele_m: FloatArray, *, half: int, runs: Runs | None = None) -> FloatArray:
    """Heights averaged under a Hann window reaching `half` steps to either side.

    ele_m : shape (n,), NaN where unknown; each run is smoothed with a window no longer than
        it, and mirrored through its end points, which keep their heights
    Returns: shape (n,), NaN where ele_m is.
    """
    out = np.array(ele_m, dtype=np.float64)
    for first, end in known_runs(~np.isnan(out)) if runs is None else runs:
        out[first:end] = _smooth_run(out[first:end], half)
    return out


def _smooth_run(ele_m: FloatArray, half: int) -> FloatArray:
    half = min(half, len(ele_m) - 1)
    if half < 1:
        return ele_m
    window = np.hanning(2 * half + 3)[1:-1]
    before = 2 * ele_m[0] - ele_m[half:0:-1]
    after = 2 * ele_m[-1] - ele_m[-2 : -half - 2 : -1]
    padded = np.concatenate([before, ele_m, after])
    return np.convolve(padded, window / window.sum(), mode="valid")


def turning_points(ele_m: FloatArray, *, threshold_m: float) -> IntArray:
    """Where a line of heights turns from up to down or back, small wavering left out.

    ele_m : shape (n,), no NaN
    threshold_m : a turn counts once the height has moved back this far from it
    Returns: indices of the turns, start and end of the climbing included; empty if no two
    heights, in order, differ by the threshold. Height differences between neighbouring turns
    are all at least the threshold and alternate in sign.
    """
    # Only local extremes can be turns, and they are few.
    step = np.diff(ele_m)
    moving = np.flatnonzero(step != 0)
    turns = moving[1:][np.sign(step[moving[1:]]) != np.sign(step[moving[:-1]])]
    places = [0, *turns.tolist(), len(ele_m) - 1] if len(ele_m) else []
    found: list[int] = []
    low = high = last = 0
    rising: bool | None = None
    for i in places:
        height = ele_m[i]
        if rising is None:
            low = i if height < ele_m[low] else low
            high = i if height > ele_m[high] else high
            if ele_m[high] - ele_m[low] >= threshold_m:
                rising = high > low
                found, last = [min(low, high)], max(low, high)
        elif (height - ele_m[last]) * (1 if rising else -1) >= 0:
            last = i
        elif abs(height - ele_m[last]) >= threshold_m:
            found.append(last)
            last, rising = i, not rising
    return np.array([*found, last] if rising is not None else [], dtype=np.int64)


def ascent_descent(
    ele_m: FloatArray, *, threshold_m: float, runs: Runs | None = None
) -> tuple[float, float]:
    """Metres climbed and metres lost, both positive, over the runs of a line.

    ele_m : shape (n,), NaN where unknown; what happens in a gap is not counted
    threshold_m : rises and falls below it are not counted; see turning_points
    """
    up = down = 0.0
    for first, end in known_runs(~np.isnan(ele_m)) if runs is None else runs:
        run = ele_m[first:end]
        moves = np.diff(run[turning_points(run, threshold_m=threshold_m)])
        up += float(np.maximum(moves, 0).sum())
        down -= float(np.minimum(moves, 0).sum())
    return up, down


def climb_between(
    at_m: FloatArray, ele_m: FloatArray, cuts_m: FloatArray, *, threshold_m: float
) -> tuple[FloatArray, FloatArray]:
    """Metres climbed and lost, both positive, in each part between cuts of a line.

    at_m, ele_m : shape (n,), at_m rising, ele_m NaN where unknown; cuts_m : shape (k + 1,), rising
    Parts of the whole line add up to `ascent_descent`. Returns (up, down), shape (k,); NaN where
    less than half of a part has a height.
    """
    rising = np.zeros(max(len(at_m) - 1, 0))
    for first, end in known_runs(~np.isnan(ele_m)):
        turns = turning_points(ele_m[first:end], threshold_m=threshold_m) + first
        if len(turns) > 1:
            way = np.sign(np.diff(ele_m[turns]))
            rising[turns[0] : turns[-1]] = np.repeat(way, np.diff(turns))
    step = np.nan_to_num(np.diff(ele_m))
    known = np.diff(at_m) * ~np.isnan(np.diff(ele_m))

    def within(per_step: FloatArray) -> FloatArray:
        total = np.concatenate([[0.0], np.cumsum(per_step)])
        return np.asarray(np.diff(np.interp(cuts_m, at_m, total)), dtype=np.float64)

    told = within(known) >= 0.5 * np.diff(cuts_m)
    up, down = within(np.where(rising > 0, step, 0.0)), within(np.where(rising < 0, -step, 0.0))
    return np.where(told, up, np.nan), np.where(told, down, np.nan)


def grade_pct(
    at_m: FloatArray, ele_m: FloatArray, *, span_m: float, runs: Runs | None = None
) -> FloatArray:
    """Grade at each position over the span around it [%], + is up.

    at_m, ele_m : shape (n,), at_m rising; ele_m NaN where unknown
    At the ends of a run the span is cut there. NaN where unknown, or the run is a point.
    """
    out = np.full(len(at_m), np.nan)
    for first, end in known_runs(~np.isnan(ele_m)) if runs is None else runs:
        at, ele = at_m[first:end], ele_m[first:end]
        if end - first < 2:
            continue
        low = np.maximum(at - span_m / 2, at[0])
        high = np.minimum(at + span_m / 2, at[-1])
        rise = np.interp(high, at, ele) - np.interp(low, at, ele)
        out[first:end] = 100 * rise / (high - low)
    return out


def steepest_ramps(
    at_m: FloatArray,
    ele_m: FloatArray,
    *,
    span_m: float,
    most: int,
    apart_m: float = 0.0,
    runs: Runs | None = None,
) -> list[tuple[float, float, float]]:
    """The steepest parts of one span's length that do not overlap, steepest first.

    apart_m : least distance from the end of one to the start of the next, lest one long ramp
        fills the list
    Returns: (from_m, to_m, grade [%], + is up), at most `most`.
    """
    found: list[tuple[float, float, float]] = []
    for first, end in known_runs(~np.isnan(ele_m)) if runs is None else runs:
        at, ele = at_m[first:end], ele_m[first:end]
        starts = at[at + span_m <= at[-1] + 1e-6]
        grades = 100 * (np.interp(starts + span_m, at, ele) - np.interp(starts, at, ele)) / span_m
        chosen = _apart(starts, grades, span_m + apart_m, most)
        found += [(a, a + span_m, grade) for a, grade in chosen]
    found.sort(key=lambda ramp: (-abs(ramp[2]), ramp[0]))
    return found[:most]


def _apart(
    starts: FloatArray, grades: FloatArray, distance_m: float, most: int
) -> list[tuple[float, float]]:
    free = np.ones(len(starts), dtype=bool)
    chosen: list[tuple[float, float]] = []
    steep = np.abs(grades)
    while len(chosen) < most and free.any():
        best = int(np.argmax(np.where(free, steep, -1.0)))
        chosen.append((float(starts[best]), float(grades[best])))
        free &= np.abs(starts - starts[best]) >= distance_m - 1e-6
    return chosen


def parts_on(
    ramps: Iterable[tuple[float, float, float]],
    spans: Iterable[tuple[float, float]],
    least_m: float,
) -> list[tuple[float, float, float]]:
    """What of the ramps lies on spans of the ride, at least so long: from, to [m], steepness [%].

    ramps : from, to [m], mean grade [%]; spans in riding order
    The steepness of a part is that of its whole ramp.
    """
    joined: list[tuple[float, float]] = []
    for first, end in spans:
        if joined and first <= joined[-1][1]:
            first = joined.pop()[0]
        joined.append((first, end))
    ends = [end for _, end in joined]
    parts = []
    for a, b, grade in ramps:
        # Joined spans do not overlap: those that reach a ramp lie side by side.
        for first, end in joined[bisect_left(ends, a + least_m) :]:
            if b - first < least_m:
                break
            if min(b, end) - max(a, first) >= least_m:
                parts.append((max(a, first), min(b, end), abs(grade)))
    return parts


def runs_steeper(
    at_m: FloatArray, grade: FloatArray, *, limit_pct: float
) -> list[tuple[float, float, float, float]]:
    """Parts where the grade stays at or beyond the limit, up or down, in riding order.

    grade : [%] at each position, NaN where unknown
    Returns: (from_m, to_m, mean grade, steepest grade) of each part longer than a point.
    """
    runs = []
    for sign in (1.0, -1.0):
        with np.errstate(invalid="ignore"):
            beyond = sign * grade >= limit_pct
        for first, end in known_runs(beyond):
            if end - first > 1:
                part = grade[first:end]
                steepest = float(part[np.argmax(np.abs(part))])
                runs.append(
                    (float(at_m[first]), float(at_m[end - 1]), float(part.mean()), steepest)
                )
    return sorted(runs)


# A hairpin turns by three quarters of half a circle or more within the ride through a bend of
# about 34 m radius (135 degrees of it are 80 m). Common practice, no source.
HAIRPIN_DEG = 135.0
HAIRPIN_M = 80.0
STEP_M = 10.0
# One sharper corner than this is a turn on the spot or at a junction, not a bend of a road.
CORNER_DEG = 120.0


def hairpins_m(
    at_m: FloatArray, lon: FloatArray, lat: FloatArray, *, left_out: BoolArray | None = None
) -> FloatArray:
    """Positions of the hairpins along a line [m], rising.

    at_m : metres along the line, never falling; lon, lat [deg]; shape (n,)
    left_out : per point, shape (n,); True where bends do not count, such as in a roundabout
    A hairpin turns at least HAIRPIN_DEG one way within HAIRPIN_M, without a single corner
    sharper than CORNER_DEG. Bends that meet in an S count as two, one long curl as one.
    """
    keep = np.diff(at_m, prepend=-np.inf) > 0
    if keep.sum() < 3 or at_m[-1] - at_m[0] < 2 * STEP_M:
        return np.zeros(0)
    x = np.cumsum(np.concatenate([[0.0], np.diff(lon) * np.cos(np.radians(lat[:-1]))]))
    at, x, y = at_m[keep], x[keep], lat[keep]
    turn = _turns_deg(x, y)
    cell = ((at[1:-1] - at[0]) / STEP_M).astype(np.int64)
    by_step = np.bincount(cell, weights=turn).astype(np.float64)
    bad = np.abs(turn) > CORNER_DEG
    if left_out is not None:
        bad |= left_out[keep][1:-1]
    spoilt = np.bincount(cell, weights=bad) > 0
    by_step[spoilt] = 0.0
    return np.asarray(at[0] + STEP_M * _bends(by_step), dtype=np.float64)


def _turns_deg(x: FloatArray, y: FloatArray) -> FloatArray:
    """Change of heading at each inner point, -180..180, left positive."""
    heading = np.degrees(np.arctan2(np.diff(y), np.diff(x)))
    return (np.diff(heading) + 180.0) % 360.0 - 180.0


def _bends(by_step: FloatArray) -> FloatArray:
    """Middles, in steps, of the windows that turn far enough; each bend counts once."""
    reach = int(HAIRPIN_M / STEP_M)
    found = []
    # Short windows too: where bends follow closely a long one would hold two that cancel out.
    for width in range(2, reach + 1):
        sums = np.abs(np.convolve(by_step, np.ones(width))[width - 1 :])
        first = np.flatnonzero(sums >= HAIRPIN_DEG)
        found.append((sums[first], np.full(len(first), width), first))
    sums, widths, firsts = (np.concatenate(column) for column in zip(*found, strict=True))
    order = np.lexsort((firsts, widths, -sums))
    taken = bytearray(len(by_step) + reach)
    middles = []
    for width, first_step in zip(widths[order].tolist(), firsts[order].tolist(), strict=True):
        if taken.find(1, first_step, first_step + width) < 0:
            taken[first_step : first_step + width] = bytes([True]) * width
            middles.append(first_step + width / 2)
    return np.array(sorted(middles), dtype=np.float64)
