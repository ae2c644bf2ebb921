"""Shares of a ride with intervals, and how far the choice between other ways matters."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from terrain.calc.shares import (
    SharePieces,
    WayChoice,
    best_shares,
    draw_shares,
    interval,
    meeting,
)
from terrain.stages.ways.groups import road_numbers
from terrain.stages.ways.shape import TERTIARY, TRACK, rank_of
from terrain.tables.common import EARTH_M, lost_way
from terrain.tables.ground_errors import (
    CELL_M,
    ENOUGH_WAYS,
    ESTIMATED,
    REMOTE,
    SPLIT_UNKNOWN,
    SPLIT_WAY,
    TOLD,
    UNSUPPORTED,
)
from terrain.values.arrays import FloatArray, Int8Array, IntArray
from terrain.values.ground import (
    BASES,
    LAND_GROUNDS,
    Alternative,
    Basis,
    Choice,
    Errors,
    GroundKind,
    Option,
    Share,
    Stretch,
    WayGround,
)
from terrain.values.match import Match
from terrain.values.views import WayTable

DRAWS = 2000
_KIND = 1  # column of `shared_errors`: the kind of road
_INFERRED = BASES.index(Basis.INFERRED)
_GRADED = BASES.index(Basis.GRADED)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Laid:
    """Pieces ridden on land, shape (k,).

    way : row; length_m; p : (k, 3); basis : code; note : number of the note that decided, -1
    none; at_m : middle along the ride; lon, lat : of the middle
    """

    way: IntArray
    length_m: FloatArray
    p: FloatArray
    basis: Int8Array
    note: IntArray
    at_m: FloatArray
    lon: FloatArray
    lat: FloatArray


def share_intervals(
    laid: Laid,
    ways: WayTable,
    way_ground: WayGround,
    others: Sequence[Alternative] = (),
    *,
    gaps: Sequence[tuple[float, float]] = (),
    draws: int = DRAWS,
) -> tuple[dict[GroundKind, Share] | None, tuple[Choice, ...]]:
    """Best share and 90 % interval of each ground, and the choices that matter.

    None and nothing if no land was ridden. `others` widen the intervals: each imagined world
    also draws which way was meant, and in each of `gaps`, the parts between points too far apart
    to show the way, whether it was one that nobody thinks of.
    """
    if not laid.length_m.any():
        return None, ()
    pieces, forks, places = _lay_out(laid, ways, way_ground, others, gaps)
    drawn = draw_shares(*_with_lost(laid, pieces, forks, places), draws=draws)
    best = best_shares(pieces, forks)
    ranges = [interval(drawn[:, g], float(best[g])) for g in range(len(LAND_GROUNDS))]
    shares = {
        kind: Share(best=float(best[g]), low=max(low, 0.0), high=min(high, 1.0))
        for g, (kind, (low, high)) in enumerate(
            zip(LAND_GROUNDS, meeting(ranges, drawn, best), strict=True)
        )
    }
    several = [i for i, fork in enumerate(forks) if len(fork.chance) > 1]
    return shares, _choices(pieces, [forks[i] for i in several], [places[i] for i in several])


def _lay_out(
    laid: Laid,
    ways: WayTable,
    way_ground: WayGround,
    others: Sequence[Alternative],
    gaps: Sequence[tuple[float, float]],
) -> tuple[SharePieces, list[WayChoice], list[tuple[float, float]]]:
    """One piece per way and note; the parts between far-apart points become forks."""
    known = {(o.from_m, o.to_m) for o in others}
    # Where there are two points in the middle of one piece, it belongs to the gap of its middle.
    inside = {gap: (laid.at_m > gap[0]) & (laid.at_m < gap[1]) for gap in sorted(known | set(gaps))}
    inside = {gap: mask for gap, mask in inside.items() if gap in known or mask.any()}
    in_gap = np.any([np.zeros(len(laid.way), dtype=np.bool_), *inside.values()], axis=0)
    extra = [o.way[o.way >= 0] for o in others]
    way = np.concatenate([laid.way, *extra]).astype(np.int64)
    note = np.concatenate([laid.note, np.full(len(way) - len(laid.way), -1)])
    keys, first, place = np.unique(
        way * (int(note.max(initial=0)) + 2) + note + 1, return_index=True, return_inverse=True
    )
    plain = np.where(in_gap, 0.0, laid.length_m)
    base = np.bincount(place[: len(plain)], weights=plain, minlength=len(keys)).astype(np.float64)
    own_p = way_ground.p[way].astype(np.float64)
    own_p[: len(laid.p)] = laid.p
    basis = way_ground.basis[way].copy()
    basis[: len(laid.basis)] = laid.basis
    group, shared, split = _errors(laid, ways, way_ground, way[first], first, basis[first])
    pieces = SharePieces(
        length_m=base, p=own_p[first], shared=shared, group=group,
        split=split, split_group=group[:, _KIND],
    )  # fmt: skip
    forks, at = [], len(laid.way)
    rows = []
    for option in others:
        keep = option.way >= 0
        n = int(keep.sum())
        length = np.bincount(place[at : at + n], weights=option.length_m[keep], minlength=len(keys))
        rows.append(((option.from_m, option.to_m), option.weight, length))
        at += n
    for gap, mask in inside.items():
        own = [(weight, length) for where, weight, length in rows if where == gap]
        if not own:
            length = np.where(mask, laid.length_m, 0.0)
            own = [(1.0, np.bincount(place[: len(length)], weights=length, minlength=len(keys)))]
        weight = np.asarray([w for w, _ in own], dtype=np.float64)
        forks.append(
            WayChoice(chance=weight / weight.sum(), length_m=np.stack([x for _, x in own]))
        )
    return pieces, forks, list(inside)


def _with_lost(
    laid: Laid,
    pieces: SharePieces,
    forks: Sequence[WayChoice],
    gaps: Sequence[tuple[float, float]],
) -> tuple[SharePieces, list[WayChoice]]:
    """Each fork with one way more, that nobody thinks of: as long as those known are, on ground
    of its own that is mostly what the ride is elsewhere and at the two points."""
    n, k = len(forks), len(pieces.length_m)
    if not n:
        return pieces, []
    ends = np.array([_at_ends(laid, a, b) for a, b in gaps])
    gap_m = np.array([b - a for a, b in gaps])
    # What is drawn, and the points that are: a sample of the ride that no guess has bent.
    shown = pieces.length_m @ pieces.p + gap_m @ ends
    usual = _three(shown / shown.sum())
    lost = [lost_way(m, usual, _three(p)) for m, p in zip(gap_m.tolist(), ends, strict=True)]
    alone = -1_000_000_000 - np.arange(n)[:, None]  # a group of its own in each grouping
    more = SharePieces(
        length_m=np.r_[pieces.length_m, np.zeros(n)],
        p=np.vstack([pieces.p, [p for _, p in lost]]),
        shared=np.vstack([pieces.shared, np.zeros((n, pieces.shared.shape[1]))]),
        group=np.vstack([pieces.group, np.repeat(alone, pieces.group.shape[1], axis=1)]),
        split=None if pieces.split is None else np.r_[pieces.split, np.zeros(n)],
        split_group=None if pieces.split_group is None else np.r_[pieces.split_group, alone[:, 0]],
    )
    out = []
    for i, (fork, (chance, _)) in enumerate(zip(forks, lost, strict=True)):
        length = np.zeros((len(fork.chance) + 1, k + n))
        length[:-1, :k] = fork.length_m
        length[-1, k + i] = float(fork.chance @ fork.length_m.sum(axis=1))
        out.append(WayChoice(chance=np.r_[(1 - chance) * fork.chance, chance], length_m=length))
    return more, out


def _at_ends(laid: Laid, from_m: float, to_m: float) -> FloatArray:
    """Mean probabilities of the ground just inside both ends of a gap, shape (3,)."""
    inside = np.flatnonzero((laid.at_m > from_m) & (laid.at_m < to_m))
    ends = inside[[0, -1]] if len(inside) else [np.argmin(np.abs(laid.at_m - from_m))]
    return np.asarray(laid.p[ends].mean(axis=0))


def _three(shares: FloatArray) -> tuple[float, float, float]:
    paved, gravel, track = shares.tolist()
    return paved, gravel, track


def _errors(
    laid: Laid,
    ways: WayTable,
    way_ground: WayGround,
    way: IntArray,
    first: IntArray,
    basis: Int8Array,
) -> tuple[IntArray, FloatArray, FloatArray]:
    ridden = np.minimum(first, max(len(laid.lon) - 1, 0))  # other ways lie near the ridden one
    return shared_errors(
        ways, way_ground, way=way, basis=basis, lon=laid.lon[ridden], lat=laid.lat[ridden]
    )


def shared_errors(
    ways: WayTable,
    way_ground: WayGround,
    *,
    way: IntArray,
    basis: Int8Array,
    lon: FloatArray,
    lat: FloatArray,
) -> tuple[IntArray, FloatArray, FloatArray]:
    """Groups of each piece, the variance it shares with them, and that of the error of track
    against gravel that its kind of road has in common, by tables/ground_errors.

    way : row, shape (k,); basis : code; lon, lat : where it is about
    Shapes (k, 5), a column for each grouping of `SharedErrors.parts`, and (k,).
    """
    rank = rank_of(ways.highway, np.asarray(way))
    kind = np.where(rank <= TERTIARY, 0, np.where(rank == TRACK, 2, 1))
    # A way without a name shares its name with nobody; the same way twice is one guess.
    alone = -2 - np.asarray(way, dtype=np.int64)
    road = road_numbers(ways.name.codes[way], ways.ref.codes[way], len(ways.name.start))
    turn = np.deg2rad(1) * EARTH_M / CELL_M
    scale = np.cos(np.deg2rad(float(lat.mean()))) if len(lat) else 1.0
    col = np.floor(lon * turn * scale).astype(np.int64)
    row = np.floor(lat * turn).astype(np.int64)
    group = np.stack(
        [
            np.zeros(len(way), dtype=np.int64),
            kind,
            np.where(road >= 0, road, alone),
            way_ground.evidence.chain[way].astype(np.int64),
            row * 1_000_003 + col,
        ],
        axis=1,
    )
    guessed = (basis == _INFERRED) | (basis == _GRADED)
    estimated, told, remote, unsupported = (
        np.asarray(errors.parts) for errors in (ESTIMATED, TOLD, REMOTE, UNSUPPORTED)
    )
    evidence = way_ground.evidence
    spoken_for = (evidence.joined[way].sum(axis=1) > 0) | (evidence.road[way].sum(axis=1) > 0)
    thin = thinness(way_ground, way, basis)[:, None]
    guess = np.maximum(
        np.where(spoken_for[:, None], estimated, remote),
        estimated + thin * (unsupported - estimated),
    )
    shared = np.where(guessed[:, None], guess, told)
    return group, shared, _split_errors(way_ground, way, basis)


def _split_errors(way_ground: WayGround, way: IntArray, basis: Int8Array) -> FloatArray:
    """Variance of the error, common to a kind of road, of the score of track against gravel, shape
    (k,)."""
    told = way_ground.evidence.near[way, 1:3].sum(axis=1)
    return np.where(basis == _INFERRED, 1 / (1 / SPLIT_UNKNOWN + told / SPLIT_WAY), 0.0)


def thinness(way_ground: WayGround, way: IntArray, basis: Int8Array) -> FloatArray:
    """How far each piece's estimate lacks tagged ways of its class: 1 none, 0 enough, or no
    estimate. Shape (k,)."""
    near = way_ground.evidence.near[way].sum(axis=1)
    lacking = np.clip(1 - near / ENOUGH_WAYS, 0.0, 1.0)
    return np.where(basis == _INFERRED, lacking, 0.0)


def errors_of(
    stretches: Sequence[Stretch], match: Match, ways: WayTable, way_ground: WayGround
) -> tuple[Errors, ...]:
    """For each stretch of the ride what its error is shared with; empty off the map."""
    out = [Errors()] * len(stretches)
    on = [i for i, s in enumerate(stretches) if s.way >= 0 and s.basis is not None]
    if not on:
        return tuple(out)
    picked = [stretches[i] for i in on]
    lon, lat = match.lonlat(np.array([(s.from_m + s.to_m) / 2 for s in picked]))
    found = shared_errors(
        ways,
        way_ground,
        way=np.array([s.way for s in picked], dtype=np.int64),
        basis=np.array([BASES.index(s.basis) for s in picked if s.basis], dtype=np.int8),
        lon=lon,
        lat=lat,
    )
    for i, errors in zip(on, errors_by_piece(*found), strict=True):
        out[i] = errors
    return tuple(out)


def errors_by_piece(group: IntArray, shared: FloatArray, split: FloatArray) -> list[Errors]:
    """The errors of each piece, a row a piece, as `shared_errors` gives them."""
    return [
        Errors(shared=tuple(zip(names, parts, strict=True)), split=(names[_KIND], beside))
        for names, parts, beside in zip(
            group.tolist(), shared.tolist(), split.tolist(), strict=True
        )
    ]


def _choices(
    pieces: SharePieces, forks: Sequence[WayChoice], gaps: Sequence[tuple[float, float]]
) -> tuple[Choice, ...]:
    found = []
    usual = [fork.chance @ fork.length_m for fork in forks]
    everything = pieces.length_m + sum(usual)
    for fork, mean, (from_m, to_m) in zip(forks, usual, gaps, strict=True):
        options, whole = [], []
        for chance, length in zip(fork.chance, fork.length_m, strict=True):
            total = max(float(length.sum()), 1e-9)
            paved, gravel, track = (float(v) for v in length @ pieces.p / total)
            options.append(
                Option(
                    weight=float(chance),
                    length_m=float(length.sum()),
                    paved=paved,
                    gravel=gravel,
                    track=track,
                )
            )
            ride = everything - mean + length
            whole.append(float(ride @ pieces.p[:, 0] / max(float(ride.sum()), 1e-9)))
        found.append(
            Choice(
                from_m=from_m,
                to_m=to_m,
                matters=max(whole) - min(whole),
                options=tuple(sorted(options, key=lambda o: -o.weight)),
            )
        )
    return tuple(sorted(found, key=lambda c: -c.matters))
