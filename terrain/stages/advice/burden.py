"""How much a ride asks of tyres: weighted off-road riding time in every plausible world."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace
from typing import NamedTuple

import numpy as np

from terrain.stages.advice.case import SEEN, AdviceCase, AdviceStretch, three
from terrain.tables.advice import SetupModel
from terrain.tables.common import lost_way
from terrain.values.arrays import BoolArray, FloatArray, IntArray
from terrain.values.ground import GroundKind, SeasonCause


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ChoiceBurden:
    """A part of the ride that may have gone other ways.

    key : tells it from others; inside : share of each stretch in it, shape (k,)
    chance : of the ridden way, then of the others; sum 1
    others : what the other ways ask
    ends_s : weighted and hard riding time of each if its ground turns out for the better, and for
        the worse, shape (o, 2, 2)
    """

    key: int
    inside: FloatArray
    chance: FloatArray
    others: tuple[OffRoadTime, ...]
    ends_s: FloatArray


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Gap:
    """A part of the ride between two points too far apart to show the way.

    key : tells it from others; inside : share of each stretch in it, shape (k,)
    chance : that it went a way altogether other than all that are known
    p : of what ground such a way is, shape (3,); mostly what the ride is, as it was first laid
    """

    key: int
    inside: FloatArray
    chance: float
    p: FloatArray


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class OffRoadTime:
    """The stretches on land, shape (k,), and what each ground would mean there.

    row : index in the case' stretches
    time_s : riding time; ground_s (k, 3) : on each ground, if it were of it
    p (k, 3) probabilities of paved, gravel, track
    severity (k, 2) : how hard it would be as gravel, as track
    weight (k, 3) : weight of an hour, never falling from paved to track
    hard (k, 3) : True where that ground would be more than road tyres can do
    plausible (k, 3) : True for grounds the stretch could well turn out to be
    piece : number of the guess the stretch belongs to: right or wrong as one
    group, shared (k, m) : what it shares its error with, and how much of the variance
    place (k, m + 1) : piece and groups numbered from 0 on, each for itself
    split, split_group : variance and group of the error of track against gravel beside that
    forks, gaps : where the way itself is in doubt
    """

    row: IntArray
    time_s: FloatArray
    ground_s: FloatArray
    p: FloatArray
    severity: FloatArray
    weight: FloatArray
    hard: BoolArray
    plausible: BoolArray
    piece: IntArray
    group: IntArray
    shared: FloatArray
    place: IntArray
    split: FloatArray
    split_group: IntArray
    forks: tuple[ChoiceBurden, ...] = ()
    gaps: tuple[Gap, ...] = ()

    @property
    def ride_s(self) -> float:
        return float(self.time_s.sum())

    @property
    def guessed_s(self) -> float:
        """Riding time between points too far apart to show the way."""
        return sum(float((self.time_s * gap.inside).sum()) for gap in self.gaps)

    def world(self, ground: IntArray) -> tuple[float, float]:
        """Weighted and hard riding time [s] if stretch i is on ground[i]."""
        i = np.arange(len(ground))
        return (
            float((self.time_s * self.weight[i, ground]).sum()),
            float((self.time_s * self.hard[i, ground]).sum()),
        )

    def better(self) -> IntArray:
        """Every stretch on its best plausible ground."""
        return np.asarray(np.argmax(self.plausible, axis=1), dtype=np.int64)

    def worse(self) -> IntArray:
        """Every stretch on its worst plausible ground."""
        return np.asarray(2 - np.argmax(self.plausible[:, ::-1], axis=1), dtype=np.int64)

    def likely(self) -> IntArray:
        """Every stretch on its most probable ground."""
        return np.asarray(np.argmax(self.p, axis=1), dtype=np.int64)

    def on(self, ground: IntArray) -> OffRoadTime:
        """As if each stretch were known to be on its ground[i], and the way known too."""
        p = np.eye(3)[ground]
        return replace(self, p=p, plausible=p > 0, forks=(), gaps=())

    def within(self, share: FloatArray) -> tuple[float, float]:
        """Weighted and hard riding time [s] of shares of the stretches, on likely ground."""
        i, ground = np.arange(len(self.row)), self.likely()
        time = self.time_s * share
        return (
            float((time * self.weight[i, ground]).sum()),
            float((time * self.hard[i, ground]).sum()),
        )

    def likely_s(self) -> tuple[float, float]:
        """Weighted and hard riding time [s] with every stretch on its most probable ground."""
        return self.world(self.likely())

    def expected_s(self) -> tuple[float, float]:
        """Expected weighted and hard riding time [s], over grounds and ways."""
        off, hard = self._expected(np.ones(len(self.row)))
        for fork in self.forks:
            here = self._expected(fork.inside)
            for chance, other in zip(fork.chance[1:], fork.others, strict=True):
                there = other.expected_s()
                off += float(chance) * (there[0] - here[0])
                hard += float(chance) * (there[1] - here[1])
        return off, hard

    def _expected(self, share: FloatArray) -> tuple[float, float]:
        p = share[:, None] * self.p
        off_s = float((self.ground_s * p * self.weight).sum())
        return off_s, float((self.time_s[:, None] * p * self.hard).sum())

    @property
    def doubtful(self) -> BoolArray:
        """Stretches whose ground matters and is not settled."""
        i = np.arange(len(self.row))
        return np.asarray(self.weight[i, self.worse()] - self.weight[i, self.better()] > 1e-9)

    def without(self, leave: BoolArray) -> OffRoadTime:
        """The same ride without some of its stretches."""
        return self._picked(~leave)

    def fixed(self, rows: BoolArray, ground: int) -> OffRoadTime:
        """The same ride with some stretches known to be on one ground."""
        return self.settled(rows, np.full(len(self.row), ground, dtype=np.int64))

    def settled(self, rows: BoolArray, ground: IntArray) -> OffRoadTime:
        """The same ride with some stretches known to be on the given grounds, shape (k,)."""
        p, plausible = self.p.copy(), self.plausible.copy()
        p[rows] = np.eye(3)[ground[rows]]
        plausible[rows] = np.eye(3, dtype=np.bool_)[ground[rows]]
        return replace(self, p=p, plausible=plausible)

    def as_laid(self) -> OffRoadTime:
        """The same ride if it goes the way that was taken for it."""
        return replace(self, forks=(), gaps=())

    def as_laid_in(self, keys: Collection[int]) -> OffRoadTime:
        """The same ride if it goes the way that was taken for it in the gaps of these keys."""
        return replace(
            self,
            forks=tuple(fork for fork in self.forks if fork.key not in keys),
            gaps=tuple(gap for gap in self.gaps if gap.key not in keys),
        )

    def _picked(self, keep: BoolArray) -> OffRoadTime:
        forks = (replace(fork, inside=fork.inside[keep]) for fork in self.forks)
        gaps = (replace(gap, inside=gap.inside[keep]) for gap in self.gaps)
        return OffRoadTime(
            row=self.row[keep], time_s=self.time_s[keep], ground_s=self.ground_s[keep],
            p=self.p[keep],
            severity=self.severity[keep], weight=self.weight[keep], hard=self.hard[keep],
            plausible=self.plausible[keep], piece=self.piece[keep], group=self.group[keep],
            shared=self.shared[keep], place=self.place[keep],
            split=self.split[keep], split_group=self.split_group[keep],
            forks=tuple(fork for fork in forks if fork.inside.any()),
            gaps=tuple(gap for gap in gaps if gap.inside.any()),
        )  # fmt: skip


class Leeway(NamedTuple):
    """How far weighted and hard riding time [s] may rise or fall."""

    off_s: float
    hard_s: float

    def and_also(self, other: Leeway) -> Leeway:
        return Leeway(self.off_s + other.off_s, self.hard_s + other.hard_s)


def ground_shift_s(burden: OffRoadTime, *, worse: bool) -> Leeway:
    """How far riding time may lie from the likely world along the ways as they are laid.

    worse : True for how far it may rise, False for how far it may fall
    The expected move, and on top every doubtful guess moved to its extreme plausible ground, as
    far as the guesses move together; never more than all of them at once. Every part of it only
    grows as probabilities draw nearer to one another.
    """
    off, hard = (
        _moved(burden, value.astype(np.float64), worse=worse)
        for value in (burden.weight, burden.hard)
    )
    return Leeway(off, hard)


def _moved(burden: OffRoadTime, value: FloatArray, *, worse: bool) -> float:
    i = np.arange(len(burden.row))
    likely = value[i, burden.likely()]
    rise = (value - likely[:, None]) * (1 if worse else -1)
    # Of two grounds alone, the likely one and another: this share only grows as they draw nearer.
    share = burden.p / (burden.p + burden.p.max(axis=1, keepdims=True))
    mean_s = burden.time_s * (share * np.maximum(rise, 0)).sum(axis=1)
    end = burden.worse() if worse else burden.better()
    move_s = burden.time_s * np.maximum(rise[i, end], 0)
    beyond = rise > rise[i, end][:, None]
    rest_s = burden.time_s * (share * beyond * (rise - rise[i, end][:, None])).sum(axis=1)
    most = float(move_s.sum() + rest_s.sum())
    return min(most, float(mean_s.sum()) + float(np.sqrt(_variance(burden, move_s))))


def _variance(burden: OffRoadTime, move_s: FloatArray) -> float:
    """Variance of the sum of moves whose errors hang together."""
    own = np.sqrt(np.maximum(1 - burden.shared.sum(axis=1), 0))
    load = np.column_stack([own, np.sqrt(burden.shared)]) * move_s[:, None]
    sums = (
        np.bincount(place, weights=part) for place, part in zip(burden.place.T, load.T, strict=True)
    )
    return float(sum(float((of_group**2).sum()) for of_group in sums))


def _ends_s(burden: OffRoadTime) -> FloatArray:
    """Weighted and hard riding time at its least and at its most, shape (2, 2)."""
    likely = np.array(burden.likely_s())
    down, up = (np.array(ground_shift_s(burden, worse=worse)) for worse in (False, True))
    return np.stack([np.maximum(0.0, likely - down), likely + up])


def burden_of(case: AdviceCase, model: SetupModel) -> OffRoadTime:
    """What the stretches on land ask of tyres. Off the map the model's own guess stands in."""
    burden = _laid(case.stretches, 0, model)
    stretches = [case.stretches[i] for i in burden.row]
    forks, at = [], len(case.stretches)
    for part in case.other_ways:
        chance = np.array([part.weight, *(way.weight for way in part.ways)])
        others = []
        for way in part.ways:
            others.append(_laid(way.stretches, at, model))
            at += len(way.stretches)
        forks.append(
            ChoiceBurden(
                key=round(part.from_m), inside=_inside(stretches, part.from_m, part.to_m),
                chance=chance / chance.sum(), others=tuple(others),
                ends_s=np.array([_ends_s(other) for other in others]),
            )
        )  # fmt: skip
    gaps = [_gap(burden, stretches, gap) for gap in case.gaps]
    return replace(
        burden,
        forks=tuple(fork for fork in forks if fork.inside.any()),
        gaps=tuple(gap for gap in gaps if gap.inside.any()),
    )


def _gap(burden: OffRoadTime, stretches: Sequence[AdviceStretch], gap: tuple[float, float]) -> Gap:
    """A gap, with the chance and the ground of a way that nobody thinks of.

    All by the likely ground, so that less certainty about it does not shift what is usual; and by
    nothing of the other gaps.
    """
    from_m, to_m = gap
    likely = burden.likely()
    usual = np.bincount(likely, weights=burden.time_s, minlength=3) / max(burden.ride_s, 1e-9)
    starts = np.array([s.from_m for s in stretches])
    at = np.searchsorted(starts, [from_m + 0.5, to_m - 0.5]) - 1
    ends = np.bincount(likely[np.clip(at, 0, None)], minlength=3) / 2 if len(likely) else usual
    chance, p = lost_way(to_m - from_m, *(three(shares) for shares in (usual, ends)))
    return Gap(
        key=round(from_m), inside=_inside(stretches, from_m, to_m), chance=chance, p=np.array(p)
    )


def _laid(all_stretches: Sequence[AdviceStretch], first: int, model: SetupModel) -> OffRoadTime:
    """One way as it is laid; first : number of its first stretch."""
    rows = [
        i for i, s in enumerate(all_stretches) if s.ground is not GroundKind.FERRY and s.time_s > 0
    ]
    stretches = [all_stretches[i] for i in rows]
    p = np.array([_as_ridden(s, model) for s in stretches], dtype=np.float64).reshape(len(rows), 3)
    severity = np.array([_severities(s, model) for s in stretches]).reshape(len(rows), 2)
    soft = np.array([_soft(s, model) for s in stretches])
    # An hour of riding never counts for more than an hour, so that shares stay shares.
    gravel = np.minimum(1.0, along(severity[:, 0], model.gravel_knots) * soft)
    guessed = np.array([s.basis not in SEEN for s in stretches], dtype=np.bool_)
    # Tagged tracks weigh .92 to 1 by length on six open extracts, so a guess does not weigh less.
    as_track = np.maximum(severity[:, 1], np.where(guessed, model.track_usual, 0.0))
    track = np.minimum(1.0, along(as_track, model.track_knots) * soft)
    known = np.array([s.severity if s.severity is not None else np.nan for s in stretches])
    hard = np.nan_to_num(known, nan=0.0) >= model.hard_severity
    number = np.array(rows, dtype=np.int64) + first
    group, shared = _errors(stretches, number)
    # A stretch on no way is a guess of its own.
    ways = [s.way if s.way >= 0 else -1 - n for s, n in zip(stretches, rows, strict=True)]
    piece = np.array(ways, dtype=np.int64)
    return OffRoadTime(
        row=number,
        time_s=np.array([s.time_s for s in stretches], dtype=np.float64),
        ground_s=np.array([s.time_on_s for s in stretches]).reshape(len(rows), 3),
        p=p,
        severity=severity,
        weight=np.column_stack([np.zeros(len(rows)), gravel, np.maximum(gravel, track)]),
        hard=np.column_stack([np.zeros(len(rows), dtype=np.bool_), hard, hard]),
        plausible=_plausible(p, guessed, model),
        piece=piece,
        group=group,
        shared=shared,
        place=_numbered(np.column_stack([piece, group])),
        split=np.array([s.errors.split[1] for s in stretches], dtype=np.float64),
        split_group=np.array([s.errors.split[0] for s in stretches], dtype=np.int64),
    )  # fmt: skip


def _plausible(p: FloatArray, guessed: BoolArray, model: SetupModel) -> BoolArray:
    """Grounds that a stretch could well turn out to be, shape (k, 3)."""
    likely = p >= p.max(axis=1, keepdims=True) - 1e-12
    harder = np.logical_or.accumulate(likely, axis=1) & guessed[:, None]
    return np.asarray(likely | (p >= np.where(harder, model.plausible_harder, model.plausible)))


def _numbered(groups: IntArray) -> IntArray:
    """Each column's numbers replaced by 0, 1, 2, ..."""
    columns = [np.unique(column, return_inverse=True)[1] for column in groups.T]
    return np.stack(columns, axis=1).astype(np.int64)


def along(x: FloatArray, knots: tuple[tuple[float, float], ...]) -> FloatArray:
    """Straight lines through the knots (x, y), level beyond the ends."""
    return np.asarray(np.interp(x, [k[0] for k in knots], [k[1] for k in knots]))


def _as_ridden(stretch: AdviceStretch, model: SetupModel) -> tuple[float, float, float]:
    """Probabilities of what it rides as: asphalt that only a tractor gets along is a track."""
    paved, gravel, track = stretch.p or model.unmapped_p
    return (0.0, gravel, paved + track) if stretch.broken else (paved, gravel, track)


def _severities(stretch: AdviceStretch, model: SetupModel) -> tuple[float, float]:
    """How hard it would be as gravel, and as track: the known severity within what each can be.

    A severity that was itself inferred holds for the ground it was inferred with, so it says
    nothing of gravel, and of track only if it is that of a track.
    """
    known = stretch.severity
    if known is None:
        return model.gravel_usual, model.track_usual
    if stretch.basis not in SEEN:
        return model.gravel_usual, known if known >= model.track_least else model.track_usual
    return min(known, model.gravel_most), max(known, model.track_least)


def _soft(stretch: AdviceStretch, model: SetupModel) -> float:
    risk = stretch.season_risk
    if stretch.season_cause not in (None, SeasonCause.RAIN):
        return 1.0  # snow and seasons shut, they do not soften
    return 1.0 if risk is None else dict(model.soft_factor).get(risk.value, 1.0)


def _errors(stretches: Sequence[AdviceStretch], number: IntArray) -> tuple[IntArray, FloatArray]:
    """Groups and shared variance as arrays; a stretch that shares nothing is a group alone."""
    m = max((len(s.errors.shared) for s in stretches), default=0)
    group = np.repeat(-(10**9) - number[:, None], m, axis=1).astype(np.int64)
    shared = np.zeros((len(stretches), m))
    for i, s in enumerate(stretches):
        for j, (name, part) in enumerate(s.errors.shared):
            group[i, j], shared[i, j] = name, part
    return group, shared


def _inside(stretches: Sequence[AdviceStretch], from_m: float, to_m: float) -> FloatArray:
    """Share of each stretch that lies between two positions, shape (k,)."""
    a = np.array([s.from_m for s in stretches])
    b = np.array([s.to_m for s in stretches])
    inside = (np.minimum(b, to_m) - np.maximum(a, from_m)) / np.maximum(b - a, 1e-9)
    return np.asarray(np.maximum(inside, 0), dtype=np.float64)
