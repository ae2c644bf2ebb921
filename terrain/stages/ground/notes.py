"""The operator's notes laid along a ride: where each holds and how far it is still believed."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date

import numpy as np

from terrain.calc.spots import Spots
from terrain.tables.common import EARTH_M
from terrain.values.arrays import BoolArray, FloatArray, IntArray, joined_spans, spans
from terrain.values.ground import BASES, LAND_GROUNDS, Basis, GroundNote, WayGround
from terrain.values.match import LegKind, Match
from terrain.values.views import RoadsView

# Common practice, no source.
REACH_M = 30.0  # a drawn note holds where the ride is this close to it
SPOT_M = 250.0  # a note of one point holds this far along the ride, both ways
_STEP_M = 10.0
_MOST_OF = 0.6  # a drawn note holds for a whole way if this share of its points is in reach


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
class AppliedNote:
    """A note that holds on a part of the ride: belief 0..1."""

    note: GroundNote
    from_m: float
    to_m: float
    belief: float


def apply_notes(
    match: Match,
    notes: Sequence[GroundNote],
    today: date | None,
    trust: NoteTrust = NOTE_TRUST,
) -> tuple[AppliedNote, ...]:
    """Every place where a note holds, the weakest belief first."""
    held = [
        AppliedNote(note=note, from_m=a, to_m=b, belief=belief_in(note, today, trust))
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
    fresh = trust.fresh if note.trust is None else note.trust
    return float(fresh * 0.5 ** (years / trust.half_life_years))


def with_note(p: FloatArray, held: AppliedNote, trust: NoteTrust = NOTE_TRUST) -> FloatArray:
    """Probabilities `p` (k, 3) with a note's ground mixed in by its belief."""
    if held.note.ground is None:
        return p
    told = np.full(len(LAND_GROUNDS), trust.other)
    told[LAND_GROUNDS.index(held.note.ground)] = 1 - (len(LAND_GROUNDS) - 1) * trust.other
    return np.asarray(held.belief * told + (1 - held.belief) * p, dtype=np.float64)


def _places(match: Match, note: GroundNote) -> list[tuple[float, float]]:
    if note.way_id is not None:
        on = np.flatnonzero((match.way_id == note.way_id) & (match.kind == LegKind.MATCHED))
        return joined_spans([(float(match.from_m[i]), float(match.to_m[i])) for i in on])
    if not len(match.at_m) or match.length_m <= 0:
        return []
    at_m = np.arange(0.0, match.length_m + _STEP_M, _STEP_M).clip(max=match.length_m)
    x, y = _metres(match, *match.lonlat(at_m))
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
    turn = np.deg2rad(1) * EARTH_M
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
    return [(a, b - 1) for a, b in spans(mask)]


def note_at(held: Sequence[AppliedNote], middle_m: FloatArray) -> IntArray:
    """Which of `held` holds at each position: the most believed; -1 none."""
    out = np.full(len(middle_m), -1, dtype=np.int64)
    for i, h in enumerate(held):
        out[(middle_m > h.from_m) & (middle_m < h.to_m)] = i
    return out


def with_notes(
    way_ground: WayGround,
    roads: RoadsView,
    notes: Sequence[GroundNote],
    today: date | None,
    trust: NoteTrust = NOTE_TRUST,
) -> WayGround:
    """The ground of all ways with the notes about whole ways mixed in, for ways not ridden.

    A note of a way_id is about that way, a drawn one about every way that it runs along. Spots
    are left out: they hold on a ride, not on a way. Where nothing is noted it is `way_ground`.
    """
    told = [n for n in notes if n.ground is not None and (n.way_id is not None or len(n.line) > 1)]
    told.sort(key=lambda note: belief_in(note, today, trust))
    rows = [_ways_of(roads, note) for note in told]
    if not any(len(r) for r in rows):
        return way_ground
    p, basis = np.array(way_ground.p), np.array(way_ground.basis)
    for note, row in zip(told, rows, strict=True):
        held = AppliedNote(note=note, from_m=0.0, to_m=0.0, belief=belief_in(note, today, trust))
        # The most believed comes last and rests on the map, not on another note.
        p[row] = with_note(way_ground.p[row].astype(np.float64), held, trust)
        if held.belief >= trust.wins:
            basis[row] = BASES.index(Basis.NOTED)
    return replace(way_ground, p=p, basis=basis)


def _ways_of(roads: RoadsView, note: GroundNote) -> IntArray:
    """Rows of the ways that a note is about."""
    if note.way_id is not None:
        return np.flatnonzero(roads.ways.way_id == note.way_id)
    lon, lat = np.asarray(note.line, dtype=np.float64).T
    turn = np.deg2rad(1) * EARTH_M
    scale = turn * np.cos(np.deg2rad(float(lat.mean())))
    x, y = lon * scale, lat * turn
    along = np.r_[0.0, np.cumsum(np.hypot(np.diff(x), np.diff(y)))]
    at = np.arange(0.0, along[-1] + _STEP_M, _STEP_M)
    line = Spots(np.stack([np.interp(at, along, x), np.interp(at, along, y)], axis=1))
    px, py = roads.pt_lon * scale, roads.pt_lat * turn
    close = np.flatnonzero(
        (px >= x.min() - REACH_M) & (px <= x.max() + REACH_M)
        & (py >= y.min() - REACH_M) & (py <= y.max() + REACH_M)
    )  # fmt: skip
    far, _ = line.nearest(np.stack([px[close], py[close]], axis=1), REACH_M)
    way = roads.edge_way[roads.pt_edge[close[np.isfinite(far)]]]
    row, count = np.unique(way, return_counts=True)
    edge = np.flatnonzero(np.isin(roads.edge_way, row))
    all_points = np.bincount(
        np.searchsorted(row, roads.edge_way[edge]),
        weights=np.diff(roads.edge_start)[edge], minlength=len(row),
    )  # fmt: skip
    return np.asarray(row[count >= _MOST_OF * all_points], dtype=np.int64)
