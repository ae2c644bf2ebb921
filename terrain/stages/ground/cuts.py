"""The ride in pieces of one leg and one note each, and the ground of each piece."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

import numpy as np

from terrain.stages.ground.notes import NOTE_TRUST, AppliedNote, note_at, with_note
from terrain.stages.ways.tags import bounded, changed_since
from terrain.tables.ground import TRUST, TagTrust
from terrain.values.arrays import BoolArray, FloatArray, Int8Array, IntArray
from terrain.values.ground import BASES, Basis, GroundKind, WayGround
from terrain.values.match import LegKind, Match

#: The order of the codes in Grounds.kind.
KINDS = tuple(GroundKind)
UNMAPPED = BASES.index(Basis.UNMAPPED)
NOTED = BASES.index(Basis.NOTED)
_FERRY, _OFF_MAP = KINDS.index(GroundKind.FERRY), KINDS.index(GroundKind.UNMAPPED)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class RidePieces:
    """The legs cut where notes begin and end, shape (k,): leg, way row (-1 off the map),
    from_m, to_m, note (index in the held notes, -1 none); land, ferry."""

    leg: IntArray
    way: IntArray
    from_m: FloatArray
    to_m: FloatArray
    note: IntArray
    land: BoolArray
    ferry: BoolArray

    @property
    def length_m(self) -> FloatArray:
        return self.to_m - self.from_m

    @property
    def middle_m(self) -> FloatArray:
        return (self.from_m + self.to_m) / 2


def cut_ride(match: Match, held: Sequence[AppliedNote]) -> RidePieces:
    bounds = [h.from_m for h in held] + [h.to_m for h in held]
    inner = np.unique(np.asarray(bounds, dtype=np.float64))
    leg, start, stop = [np.arange(len(match.kind))], [match.from_m], [match.to_m]
    if len(inner):
        # Every bound inside a leg starts a further piece of it.
        owner = np.searchsorted(match.to_m, inner, side="left").clip(max=len(match.to_m) - 1)
        inside = (inner > match.from_m[owner]) & (inner < match.to_m[owner])
        leg.append(owner[inside])
        start.append(inner[inside])
        stop.append(match.to_m[owner[inside]])
    legs, starts = np.concatenate(leg), np.concatenate(start)
    order = np.lexsort((starts, legs))
    legs, starts = legs[order], starts[order]
    last = np.r_[legs[1:] != legs[:-1], True][: len(legs)]
    stops = np.where(last, match.to_m[legs], np.roll(starts, -1))
    ferry = match.kind[legs] == LegKind.FERRY
    land = (match.kind[legs] == LegKind.MATCHED) & (match.way[legs] >= 0)
    return RidePieces(
        leg=legs.astype(np.int64),
        way=match.way[legs].astype(np.int64),
        from_m=starts,
        to_m=stops,
        note=np.where(land, note_at(held, (starts + stops) / 2), -1),
        land=land,
        ferry=ferry,
    )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Grounds:
    """Ground of each piece: p (k, 3), NaN off land; basis code, -1 on a ferry; kind in KINDS."""

    p: FloatArray
    basis: Int8Array
    kind: IntArray

    @classmethod
    def of(
        cls,
        pieces: RidePieces,
        way_ground: WayGround,
        held: Sequence[AppliedNote],
        today: date | None,
    ) -> Grounds:
        row = np.where(pieces.land, pieces.way, 0)
        if len(way_ground):
            p = way_ground.p[row].astype(np.float64)
            basis = way_ground.basis[row].copy()
        else:
            p, basis = np.full((len(row), 3), 1 / 3), np.zeros(len(row), dtype=np.int8)
        p = outdated(p, basis, years_since(way_ground.map_day, today))
        for i, h in enumerate(held):
            on = pieces.note == i
            p[on] = with_note(p[on], h)
            if h.note.ground is not None and h.belief >= NOTE_TRUST.wins:
                basis[on] = NOTED
        p = np.where(pieces.land[:, None], p, np.nan)
        basis = np.where(pieces.land, basis, UNMAPPED)
        best = np.argmax(np.nan_to_num(p, nan=-1.0), axis=1)
        off = np.where(pieces.ferry, _FERRY, _OFF_MAP)
        return cls(
            p=p,
            basis=np.where(pieces.ferry, -1, basis).astype(np.int8),
            kind=np.where(pieces.land, best, off).astype(np.int64),
        )


_EPOCH = date(1970, 1, 1)


def years_since(map_day: int, today: date | None) -> float:
    """Years from the map's newest edit to `today`; 0 if either is not known."""
    if today is None or map_day < 0:
        return 0.0
    return max(0.0, ((today - _EPOCH).days - map_day) / 365.25)


def outdated(p: FloatArray, basis: Int8Array, years: float, trust: TagTrust = TRUST) -> FloatArray:
    """Probabilities `years` after the map was made, shape (n, 3).

    Unsealed roads get sealed at trust.sealed_per_year where only a grade or an estimate speaks;
    where a surface tag speaks, the ground turns into either other kind at the rate at which such
    tags were seen to change.
    """
    age = np.full(1, years)
    sealed = float(changed_since(age, trust.sealed_per_year)[0])
    changed = float(changed_since(age, trust.surface_change_per_year)[0])
    gone = sealed * p[:, 1:]
    later = np.concatenate([p[:, :1] + gone.sum(axis=1, keepdims=True), p[:, 1:] - gone], axis=1)
    told = (1 - changed) * p + changed * (1 - p) / 2
    tagged = basis == BASES.index(Basis.TAGGED)
    return bounded(np.where(tagged[:, None], told, later), trust.least)
