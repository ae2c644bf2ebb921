"""The operator's notes laid along a ride: where each holds and how far it is still believed."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

import numpy as np

from terrain.values.arrays import BoolArray, FloatArray, IntArray
from terrain.values.ground import LAND, GroundNote
from terrain.values.match import LegKind, Match

REACH_M = 30.0  # a drawn note holds where the ride is this close to it
SPOT_M = 250.0  # a note of one point holds this far along the ride, both ways
_STEP_M = 10.0
_EARTH_M = 6_371_008.8


@dataclass(frozen=True, slots=True, kw_only=True)
class NoteTrust:
    """How notes age: common practice, no source.

    fresh : belief in a note on the day it was made
    half_life_years : time in which that belief halves; tracks change with every rainy season
    undated_years : age taken for a note without a date
    wins : belief from which the note decides ground, severity and basis
    other : share of its belief that a note of one ground leaves to each other ground
    """

    fresh: float = 0.97
    half_life_years: float = 5.0
    undated_years: float = 2.0
    wins: float = 0.5
    other: float = 0.01


NOTE_TRUST = NoteTrust()


@dataclass(frozen=True, slots=True, kw_only=True)
class Held:
    """A note that holds on a part of the ride: belief 0..1."""

    note: GroundNote
    from_m: float
    to_m: float
    belief: float


def hold_notes(
    match: Match,
    notes: Sequence[GroundNote],
    today: date | None,
    trust: NoteTrust = NOTE_TRUST,
) -> tuple[Held, ...]:
    """Every place where a note holds, the weakest belief first."""
    held = [
        Held(note=note, from_m=a, to_m=b, belief=belief_in(note, today, trust))
        for note in notes
        for a, b in _places(match, note)
    ]
    return tuple(sorted(held, key=lambda h: h.belief))


def belief_in(note: GroundNote, today: date | None, trust: NoteTrust = NOTE_TRUST) -> float:
    """How far a note is believed at `today`, 0..1; a note from the future counts as fresh."""
    if note.noted is None:
        years = trust.undated_years
    elif today is None:
        years = 0.0
    else:
        years = max(0.0, (today - note.noted).days / 365.25)
    return float(trust.fresh * 0.5 ** (years / trust.half_life_years))


def with_note(p: FloatArray, held: Held, trust: NoteTrust = NOTE_TRUST) -> FloatArray:
    """Probabilities `p` (k, 3) with a note's ground mixed in by its belief."""
    if held.note.ground is None:
        return p
    told = np.full(len(LAND), trust.other)
    told[LAND.index(held.note.ground)] = 1 - (len(LAND) - 1) * trust.other
    return np.asarray(held.belief * told + (1 - held.belief) * p, dtype=np.float64)


def _places(match: Match, note: GroundNote) -> list[tuple[float, float]]:
    if note.way_id is not None:
        on = np.flatnonzero((match.way_id == note.way_id) & (match.kind == LegKind.MATCHED))
        return _joined([(float(match.from_m[i]), float(match.to_m[i])) for i in on])
    if not len(match.at_m) or match.length_m <= 0:
        return []
    at_m = np.arange(0.0, match.length_m + _STEP_M, _STEP_M).clip(max=match.length_m)
    x, y = _metres(match, np.interp(at_m, match.at_m, match.lon), np.interp(
        at_m, match.at_m, match.lat))  # fmt: skip
    lon, lat = np.asarray(note.line, dtype=np.float64).T
    px, py = _metres(match, lon, lat)
    away, along = _beside(x, y, px, py)
    if len(px) == 1:
        best = int(np.argmin(away))
        if away[best] > REACH_M:
            return []
        middle = float(at_m[best])
        return [(max(0.0, middle - SPOT_M), min(match.length_m, middle + SPOT_M))]
    return [
        (float(at_m[a]), float(at_m[b]))
        for a, b in _runs(away <= REACH_M)
        # A road that only crosses the note's line runs close to it for a moment, not along it.
        if abs(along[b] - along[a]) > 0.5 * (at_m[b] - at_m[a]) > 0
    ]


def _metres(match: Match, lon: FloatArray, lat: FloatArray) -> tuple[FloatArray, FloatArray]:
    turn = np.deg2rad(1) * _EARTH_M
    middle = np.deg2rad(float(match.lat.mean()))
    return (lon - match.lon.mean()) * turn * np.cos(middle), (lat - match.lat.mean()) * turn


def _beside(
    x: FloatArray, y: FloatArray, px: FloatArray, py: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Distance of each point from a line, and how far along the line its foot lies [m]."""
    if len(px) == 1:
        away = np.hypot(x - px[0], y - py[0])
        return away, np.zeros(len(x))
    best, along = np.full(len(x), np.inf), np.zeros(len(x))
    done = 0.0
    for ax, ay, bx, by in zip(px[:-1], py[:-1], px[1:], py[1:], strict=True):
        length = float(np.hypot(bx - ax, by - ay))
        if length > 0:
            t = np.clip(((x - ax) * (bx - ax) + (y - ay) * (by - ay)) / length**2, 0.0, 1.0)
            away = np.hypot(x - ax - t * (bx - ax), y - ay - t * (by - ay))
            along = np.where(away < best, done + t * length, along)
            best = np.minimum(best, away)
        done += length
    return best, along


def _runs(mask: BoolArray) -> list[tuple[int, int]]:
    edge = np.flatnonzero(np.diff(np.r_[False, mask, False].astype(np.int8)))
    return [(int(a), int(b) - 1) for a, b in edge.reshape(-1, 2)]


def _joined(parts: list[tuple[float, float]]) -> list[tuple[float, float]]:
    out: list[tuple[float, float]] = []
    for a, b in parts:
        if out and a <= out[-1][1]:
            out[-1] = (out[-1][0], max(out[-1][1], b))
        else:
            out.append((a, b))
    return out


def note_at(held: Sequence[Held], middle_m: FloatArray) -> IntArray:
    """Which of `held` holds at each position: the most believed; -1 none."""
    out = np.full(len(middle_m), -1, dtype=np.int64)
    for i, h in enumerate(held):
        out[(middle_m > h.from_m) & (middle_m < h.to_m)] = i
    return out
