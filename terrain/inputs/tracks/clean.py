"""From the fixes of a file to one recording: what cannot be right goes, and is told."""

from __future__ import annotations

import itertools
from dataclasses import replace

import numpy as np

from terrain.calc.geodesy import steps_m
from terrain.calc.rises import longest_rise
from terrain.errors import TrackError
from terrain.inputs.tracks.fixes import Fixes
from terrain.text.message import message
from terrain.values.arrays import BoolArray, FloatArray, Int32Array, IntArray
from terrain.values.route import Problem
from terrain.values.track import Track

# A receiver that has no time yet says 1970 or 1980; no ride of the days to come is read.
_FIRST_S, _LAST_S = 631_152_000.0, 7_258_118_400.0  # 1990-01-01, 2200-01-01
_TOP_MS = 70.0  # 250 km/h; common practice, no source
_LEAP_MS = 120.0  # fixes in turn of two riders lie apart by more
_OFF_M = 50.0  # two fixes may err by so much; what they lie apart beyond, nobody rides so fast
_LEAP_S = 7 * 86_400.0  # a rest longer than a week is a clock that was set
_GLITCHES = 0.02  # share of fixes out of order up to which single clocks are wrong, not the file
_TO_AND_FRO = 0.10  # share of fixes that leap there and back from which two riders are mixed
_APART_M = 200.0  # two fixes of one moment farther apart are not of one rider


def cleaned(fixes: Fixes, source: str) -> Track:
    """One recording: fixes with a place and a time, the times rising.

    Raises TrackError for too few fixes, and for the fixes of two riders.
    """
    problems = [*fixes.problems]
    fixes = _usable(fixes, problems)
    if len(fixes) < 2:
        raise TrackError(
            message("fewer than two fixes of the recording have a place and a time"),
            source,
            message("Export the recording again, with its times."),
        )
    fixes = _in_turn(fixes, problems, source)
    fixes, piece = _rising(fixes, problems)
    _check_one_rider(fixes, source)
    keep = _not_spikes(fixes)
    if not keep.all():
        n = int((~keep).sum())
        problems.append(
            _told(
                "spikes", message("one fix far off", "{n} fixes far off", n=n),
                message("left out: nobody rides there and back so fast"),
            )
        )  # fmt: skip
        fixes, piece = _only(fixes, keep), piece[keep]
    piece = piece + _leaps(fixes, problems)
    if len(fixes) < 2:
        raise TrackError(
            message("no two fixes of the recording fit together"),
            source,
            message("Export the recording again."),
        )
    return Track(
        name=fixes.name, time_s=fixes.time_s, lon=np.unwrap(fixes.lon, period=360.0),
        lat=fixes.lat, ele_m=fixes.ele_m, piece=piece.astype(np.int32),
        problems=tuple(problems), source=source,
    )  # fmt: skip


def _only(fixes: Fixes, keep: BoolArray | IntArray) -> Fixes:
    return replace(
        fixes, time_s=fixes.time_s[keep], lon=fixes.lon[keep], lat=fixes.lat[keep],
        ele_m=fixes.ele_m[keep], part=fixes.part[keep], group=fixes.group[keep],
    )  # fmt: skip


def _told(code: str, what: str, action: str) -> Problem:
    return Problem(code=code, where="", what=what, action=action)


def _usable(fixes: Fixes, problems: list[Problem]) -> Fixes:
    """Fixes with a possible place and a possible time."""
    on_earth = (np.abs(fixes.lat) <= 90.0) & (np.abs(fixes.lon) <= 180.0)
    # 0, 0 is where a receiver without a fix believes itself to be.
    on_earth &= (np.abs(fixes.lat) > 1e-6) | (np.abs(fixes.lon) > 1e-6)
    timed = (fixes.time_s >= _FIRST_S) & (fixes.time_s <= _LAST_S)
    lost, untimed = int((~on_earth).sum()), int((on_earth & ~timed).sum())
    if lost:
        what = message(
            "one fix without a possible place", "{n} fixes without a possible place", n=lost
        )
        problems.append(_told("no-place", what, message("left out")))
    if untimed:
        what = message(
            "one fix without a possible time", "{n} fixes without a possible time", n=untimed
        )
        problems.append(_told("no-time", what, message("left out")))
    return _only(fixes, on_earth & timed)


def _in_turn(fixes: Fixes, problems: list[Problem], source: str) -> Fixes:
    """The pieces of the file in the order of their times; two at one time are two riders'."""
    starts = np.flatnonzero(np.r_[True, np.diff(fixes.part) != 0])
    spans = [slice(a, b) for a, b in zip(starts, [*starts[1:], len(fixes)], strict=True)]
    if len(spans) < 2:
        return fixes
    order = sorted(spans, key=lambda span: float(fixes.time_s[span].min()))
    for before, after in itertools.pairwise(order):
        common_s = fixes.time_s[before].max() - fixes.time_s[after].min()
        shorter = min(np.ptp(fixes.time_s[before]), np.ptp(fixes.time_s[after]))
        if common_s <= 0.0 or common_s < 0.5 * shorter:
            continue
        if _together(fixes, before, after):
            problems.append(
                _told(
                    "recorded-twice", message("two tracks of one time and place"),
                    message("read as one ride"),
                )
            )  # fmt: skip
            continue
        raise TrackError(
            message(
                "two tracks of the file were recorded at one time in different places: two riders"
            ),
            source,
            message("Send one rider's recording at a time."),
        )
    if order != spans:
        problems.append(
            _told(
                "not-in-order", message("tracks that do not follow each other in time"),
                message("put in the order of their times"),
            )
        )  # fmt: skip
    return _only(fixes, np.concatenate([np.arange(s.start, s.stop) for s in order]))


def _together(fixes: Fixes, one: slice, other: slice) -> bool:
    """True if two pieces were at one place at the times that both tell of."""
    a, b = fixes.time_s[one], fixes.time_s[other]
    rows = np.argsort(a, kind="stable")
    common = np.flatnonzero((b >= a.min()) & (b <= a.max()))
    if not len(common):
        return True
    lon = np.interp(b[common], a[rows], fixes.lon[one][rows])
    lat = np.interp(b[common], a[rows], fixes.lat[one][rows])
    away = steps_m(
        np.column_stack([lon, fixes.lon[other][common]]).ravel(),
        np.column_stack([lat, fixes.lat[other][common]]).ravel(),
    )[::2]
    return bool(np.median(away) <= _APART_M)


def _rising(fixes: Fixes, problems: list[Problem]) -> tuple[Fixes, Int32Array]:
    """Times that rise: single wrong clocks go; a clock that was set back starts a new piece."""
    n = len(fixes)
    back = np.flatnonzero(np.diff(fixes.time_s) < 0.0)
    if len(back):
        keep = longest_rise(fixes.time_s)
        lost = n - len(keep)
        if lost <= max(2, _GLITCHES * n):
            problems.append(
                _told(
                    "out-of-order", message(
                        "one time out of order", "{n} times out of order", n=lost
                    ),
                    message("left out"),
                )
            )  # fmt: skip
            fixes, back = _only(fixes, keep), back[:0]
    piece = np.zeros(len(fixes), dtype=np.int32)
    if len(back):
        fixes, piece = _set_back(fixes, back, problems)
    same = np.r_[False, np.diff(fixes.time_s) <= 0.0]
    return _only(fixes, ~same), piece[~same]


def _set_back(fixes: Fixes, back: IntArray, problems: list[Problem]) -> tuple[Fixes, Int32Array]:
    """The clock went back: the later clock is believed, the part before is moved ahead of it."""
    time_s = fixes.time_s.copy()
    usual = float(np.median(np.diff(time_s)[np.diff(time_s) > 0])) if len(time_s) > 2 else 1.0
    for i in back[::-1].tolist():
        time_s[: i + 1] -= time_s[i] - time_s[i + 1] + usual
    piece = np.zeros(len(time_s), dtype=np.int32)
    piece[back + 1] = 1
    problems.append(
        _told(
            "clock-set-back",
            message("the clock went back once", "the clock went back {n} times", n=len(back)),
            message("the time across it is not known; what came before was moved ahead of it"),
        )
    )
    return replace(fixes, time_s=time_s), np.cumsum(piece).astype(np.int32)


def _speeds(fixes: Fixes) -> FloatArray:
    """From each fix to the next [m/s], shape (n - 1,)."""
    return steps_m(fixes.lon, fixes.lat) / np.maximum(np.diff(fixes.time_s), 1e-3)


def _check_one_rider(fixes: Fixes, source: str) -> None:
    """Fixes that leap to and fro all the time are those of two riders in turn."""
    if len(fixes) < 10:
        return
    fast = _speeds(fixes) > _LEAP_MS
    if (fast[1:] & fast[:-1]).mean() > _TO_AND_FRO:
        raise TrackError(
            message(
                "the fixes leap to and fro between two places: the records of two riders are mixed"
            ),
            source,
            message("Export one rider at a time."),
        )


def _not_spikes(fixes: Fixes) -> BoolArray:
    """False for fixes that are reached and left faster than anybody rides."""
    keep = np.ones(len(fixes), dtype=np.bool_)
    if len(fixes) < 3:
        return keep
    fast = _speeds(fixes) > _TOP_MS
    spike = np.flatnonzero(fast[:-1] & fast[1:]) + 1
    if len(spike):
        around = steps_m(
            np.column_stack([fixes.lon[spike - 1], fixes.lon[spike + 1]]).ravel(),
            np.column_stack([fixes.lat[spike - 1], fixes.lat[spike + 1]]).ravel(),
        )[::2] / (fixes.time_s[spike + 1] - fixes.time_s[spike - 1])
        keep[spike[around <= _TOP_MS]] = False
    return keep


def _leaps(fixes: Fixes, problems: list[Problem]) -> Int32Array:
    """A number that grows where place or clock leapt, shape (n,)."""
    step_m, gap_s = steps_m(fixes.lon, fixes.lat), np.diff(fixes.time_s)
    leap = (step_m > _TOP_MS * gap_s + _OFF_M) | (gap_s > _LEAP_S)
    if leap.any():
        n = int(leap.sum())
        problems.append(
            _told(
                "leap",
                message("the record leaps once", "the record leaps {n} times", n=n),
                message("the time across it is not counted"),
            )
        )
    return np.concatenate([[0], np.cumsum(leap)]).astype(np.int32)
