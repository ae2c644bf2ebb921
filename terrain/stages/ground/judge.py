"""The ground along a ride: probabilities per leg, stretches, shares with intervals."""

from __future__ import annotations

from datetime import date, timedelta

import numpy as np

from terrain.calc.shares import Pieces, best_shares, draw_shares, interval
from terrain.values.arrays import FloatArray, IntArray
from terrain.values.ground import (
    BASES,
    LAND,
    Basis,
    Evidence,
    Ground,
    GroundKind,
    Severity,
    Share,
    Stretch,
    TagFact,
    WayGround,
)
from terrain.values.match import LegKind, Match
from terrain.values.views import RoadsView, WayTable

_UNMAPPED = BASES.index(Basis.UNMAPPED)


def judge_ground(match: Match, roads: RoadsView, way_ground: WayGround) -> Ground:
    """The ground of each leg and stretch of a ride, and the shares of the whole."""
    on_land = (match.kind == LegKind.MATCHED) & (match.way >= 0)
    row = np.where(on_land, match.way, 0)
    p = np.where(on_land[:, None], way_ground.p[row].astype(np.float64), np.nan)
    p /= p.sum(axis=1, keepdims=True)
    basis = np.where(on_land, way_ground.basis[row], _UNMAPPED)
    basis = np.where(match.kind == LegKind.FERRY, -1, basis).astype(np.int8)
    length = match.to_m - match.from_m
    return Ground(
        p=p,
        basis=basis,
        severity=np.full(len(basis), -1, dtype=np.int8),
        stretches=_stretches(match, roads.ways, p, basis),
        shares=_shares(length[on_land], p[on_land], match.way[on_land].astype(np.int64)),
        basis_shares=_basis_shares(length, basis),
    )


def _shares(length: FloatArray, p: FloatArray, way: IntArray) -> dict[GroundKind, Share] | None:
    if not length.sum() > 0:
        return None
    _, first, place = np.unique(way, return_index=True, return_inverse=True)
    pieces = Pieces(
        length_m=np.bincount(place, weights=length).astype(np.float64),
        p=p[first],
        shared=np.full((len(first), 1), 0.2),
        group=np.zeros((len(first), 1), dtype=np.int64),
    )
    best = best_shares(pieces.length_m, pieces.p)
    drawn = draw_shares(pieces)
    shares = {}
    for g, kind in enumerate(LAND):
        low, high = interval(drawn[:, g], float(best[g]))
        shares[kind] = Share(best=float(best[g]), low=max(low, 0.0), high=min(high, 1.0))
    return shares


def _basis_shares(length: FloatArray, basis: IntArray) -> dict[Basis, float]:
    land = basis >= 0
    total = float(length[land].sum())
    if not total > 0:
        return {b: float(b is Basis.UNMAPPED) for b in BASES}
    return {b: float(length[basis == i].sum()) / total for i, b in enumerate(BASES)}


def _stretches(match: Match, ways: WayTable, p: FloatArray, basis: IntArray) -> tuple[Stretch, ...]:
    kind = np.where(
        match.kind == LegKind.FERRY, 3, np.where(basis == _UNMAPPED, 4, _argmax_land(p))
    )
    key = np.stack([match.way.astype(np.int64), kind.astype(np.int64)], axis=1)
    first = np.flatnonzero(np.r_[True, np.any(key[1:] != key[:-1], axis=1)][: len(key)])
    last = np.r_[first[1:], len(key)] - 1 if len(key) else first
    kinds = tuple(GroundKind)
    return tuple(
        _stretch(match, ways, p, basis, kinds[kind[a]], int(a), int(b))
        for a, b in zip(first, last, strict=True)
    )


def _argmax_land(p: FloatArray) -> IntArray:
    return np.asarray(np.argmax(np.nan_to_num(p, nan=-1.0), axis=1), dtype=np.int64)


def _stretch(
    match: Match,
    ways: WayTable,
    p: FloatArray,
    basis: IntArray,
    ground: GroundKind,
    a: int,
    b: int,
) -> Stretch:
    way = int(match.way[a])
    land = ground in LAND
    code = int(basis[a])
    text = {True: "tag", False: "class"}[code == 0]
    return Stretch(
        from_m=float(match.from_m[a]),
        to_m=float(match.to_m[b]),
        first_leg=a,
        last_leg=b,
        way=way,
        way_id=int(match.way_id[a]) if way >= 0 else None,
        highway=ways.highway.text(way) if way >= 0 else None,
        surface=ways.surface.text(way) if way >= 0 else None,
        name=ways.name.text(way) if way >= 0 else None,
        ground=ground,
        p=(float(p[a, 0]), float(p[a, 1]), float(p[a, 2])) if land else None,
        basis=None if code < 0 else BASES[code],
        season_risk=None,
        severity=Severity.SMOOTH if land else None,
        evidence=Evidence(text=text, tags=_tag_facts(ways, way) if way >= 0 else ()),
    )


def _tag_facts(ways: WayTable, way: int) -> tuple[TagFact, ...]:
    day = int(ways.edited_day[way])
    edited = (date(1970, 1, 1) + timedelta(days=day)).isoformat() if day >= 0 else None
    facts = []
    for key in ("surface", "tracktype", "smoothness", "highway"):
        value = getattr(ways, key).text(way)
        if value is not None:
            facts.append(TagFact(way_id=int(ways.way_id[way]), key=key, value=value, edited=edited))
    return tuple(facts)
