"""How much a ride asks of tyres: weighted off-road riding time in every plausible world."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.special import ndtri

from terrain.tables.advice import SetupModel
from terrain.values.advice import AdviceInputs, AdviceStretch
from terrain.values.arrays import BoolArray, FloatArray, IntArray
from terrain.values.ground import Basis, GroundKind

_SURE = (Basis.TAGGED, Basis.NOTED)
_SEEN = (Basis.TAGGED, Basis.NOTED, Basis.GRADED)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Burden:
    """The stretches on land, shape (k,), and what each ground would mean there.

    row : index in the inputs' stretches
    time_s : riding time; p (k, 3) probabilities of paved, gravel, track
    severity (k, 2) : how hard it would be as gravel, as track
    weight (k, 3) : weight of an hour, never falling from paved to track
    hard (k, 3) : True where that ground would be more than road tyres can do
    plausible (k, 3) : True for grounds the stretch could well turn out to be
    road : number of the guess the stretch belongs to; shared (k, 2) : part of the error that
        the road shares, and the whole region
    """

    row: IntArray
    time_s: FloatArray
    p: FloatArray
    severity: FloatArray
    weight: FloatArray
    hard: BoolArray
    plausible: BoolArray
    road: IntArray
    shared: FloatArray

    @property
    def ride_s(self) -> float:
        return float(self.time_s.sum())

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

    def likely_s(self) -> tuple[float, float]:
        """Weighted and hard riding time [s] with every stretch on its most probable ground."""
        return self.world(self.likely())

    def leeway_s(self, region: float, *, worse: bool) -> tuple[float, float]:
        """How far weighted and hard riding time [s] may rise or fall from the likely world.

        worse : True for how far they may rise, False for how far they may fall
        Stretches of one road move together to their extreme plausible ground; roads move each
        on their own but for the part `region` of their variance, which they share: so a single
        doubtful road counts in full, and twenty of them do not all turn out the same. Grounds
        beyond the plausible count by their probability.
        """
        toward = self.worse() if worse else self.better()
        column = np.arange(3)
        beyond = column > toward[:, None] if worse else column < toward[:, None]
        off, hard = (
            self._moved(value.astype(np.float64), toward, beyond, region)
            for value in (self.weight, self.hard)
        )
        return off, hard

    def _moved(
        self, value: FloatArray, toward: IntArray, beyond: BoolArray, region: float
    ) -> float:
        i = np.arange(len(self.row))
        end = value[i, toward]
        move_s = self.time_s * np.abs(end - value[i, self.likely()])
        rest = (self.p * beyond * np.abs(value - end[:, None])).sum(axis=1)
        return self._together(move_s, region) + float((self.time_s * rest).sum())

    def _together(self, move_s: FloatArray, region: float) -> float:
        if not len(move_s):
            return 0.0
        by_road = np.bincount(self.road, weights=move_s)
        own, common = float((by_road**2).sum()), float(by_road.sum()) ** 2
        return float(np.sqrt((1 - region) * own + region * common))

    @property
    def doubtful(self) -> BoolArray:
        """Stretches whose ground matters and is not settled."""
        i = np.arange(len(self.row))
        return np.asarray(self.weight[i, self.worse()] - self.weight[i, self.better()] > 1e-9)

    def without(self, leave: BoolArray) -> Burden:
        """The same ride without some of its stretches."""
        return self._picked(~leave)

    def fixed(self, rows: BoolArray, ground: int) -> Burden:
        """The same ride with some stretches known to be on one ground."""
        return self.settled(rows, np.full(len(self.row), ground, dtype=np.int64))

    def settled(self, rows: BoolArray, ground: IntArray) -> Burden:
        """The same ride with some stretches known to be on the given grounds, shape (k,)."""
        p, plausible = self.p.copy(), self.plausible.copy()
        p[rows] = np.eye(3)[ground[rows]]
        plausible[rows] = np.eye(3, dtype=np.bool_)[ground[rows]]
        return Burden(
            row=self.row, time_s=self.time_s, p=p, severity=self.severity,
            weight=self.weight, hard=self.hard,
            plausible=plausible, road=self.road, shared=self.shared,
        )  # fmt: skip

    def _picked(self, keep: BoolArray) -> Burden:
        return Burden(
            row=self.row[keep], time_s=self.time_s[keep], p=self.p[keep],
            severity=self.severity[keep],
            weight=self.weight[keep], hard=self.hard[keep], plausible=self.plausible[keep],
            road=self.road[keep], shared=self.shared[keep],
        )  # fmt: skip


def burden_of(inputs: AdviceInputs, model: SetupModel) -> Burden:
    """What the stretches on land ask of tyres. Off the map the model's own guess stands in."""
    rows = [
        i
        for i, s in enumerate(inputs.stretches)
        if s.ground is not GroundKind.FERRY and s.time_s > 0
    ]
    stretches = [inputs.stretches[i] for i in rows]
    p = np.array([s.p or model.unmapped_p for s in stretches], dtype=np.float64).reshape(-1, 3)
    severity = np.array([_severities(s, model) for s in stretches]).reshape(-1, 2)
    soft = np.array([_soft(s, model) for s in stretches])
    # An hour of riding never counts for more than an hour, so that shares stay shares.
    gravel = np.minimum(1.0, along(severity[:, 0], model.gravel_knots) * soft)
    track = np.minimum(1.0, along(severity[:, 1], model.track_knots) * soft)
    known = np.array([s.severity if s.severity is not None else np.nan for s in stretches])
    hard = np.nan_to_num(known, nan=0.0) >= model.hard_severity
    return Burden(
        row=np.array(rows, dtype=np.int64),
        time_s=np.array([s.time_s for s in stretches], dtype=np.float64),
        p=p,
        severity=severity,
        weight=np.column_stack([np.zeros(len(rows)), gravel, np.maximum(gravel, track)]),
        hard=np.column_stack([np.zeros(len(rows), dtype=np.bool_), hard, hard]),
        plausible=(p >= model.plausible) | (p >= p.max(axis=1, keepdims=True) - 1e-12),
        road=_roads(stretches),
        shared=np.array([_shared(s, model) for s in stretches]).reshape(-1, 2),
    )


def along(x: FloatArray, knots: tuple[tuple[float, float], ...]) -> FloatArray:
    """Straight lines through the knots (x, y), level beyond the ends."""
    return np.asarray(np.interp(x, [k[0] for k in knots], [k[1] for k in knots]))


def _severities(stretch: AdviceStretch, model: SetupModel) -> tuple[float, float]:
    """How hard it would be as gravel, and as track: the known severity within what each can be.

    A severity that was itself inferred holds for the ground it was inferred with, so it says
    nothing of gravel, and of track only if it is that of a track.
    """
    known = stretch.severity
    if known is None:
        return model.gravel_usual, model.track_usual
    if stretch.basis not in _SEEN:
        return model.gravel_usual, known if known >= model.track_least else model.track_usual
    return min(known, model.gravel_most), max(known, model.track_least)


def _soft(stretch: AdviceStretch, model: SetupModel) -> float:
    risk = stretch.season_risk
    return 1.0 if risk is None else dict(model.soft_factor).get(risk.value, 1.0)


def _shared(stretch: AdviceStretch, model: SetupModel) -> tuple[float, float]:
    if stretch.basis in _SURE:
        return model.shared_tagged, 0.0
    return model.shared_road, model.shared_region


def _roads(stretches: list[AdviceStretch]) -> IntArray:
    """A number for each guess; stretches without one are guesses of their own."""
    numbers: dict[tuple[int, int], int] = {}
    keys = [(s.road, -1) if s.road >= 0 else (-1, i) for i, s in enumerate(stretches)]
    return np.array([numbers.setdefault(key, len(numbers)) for key in keys], dtype=np.int64)


def draw_worlds(burden: Burden, model: SetupModel) -> tuple[FloatArray, FloatArray]:
    """Weighted and hard riding time [s] in each of `draws` imagined true worlds, shape (n,).

    Each stretch gets a normal score, made of parts it shares and a part of its own, and the
    score picks its ground by its probabilities. The scores of a stretch do not depend on the
    others, and more probability of track only ever moves a stretch towards track, so more
    track gives at least as much in every single world.
    """
    n, k = model.draws, len(burden.row)
    off, hard = np.zeros(n), np.zeros(n)
    cut = ndtri(np.clip(np.cumsum(burden.p, axis=1)[:, :2], 1e-12, 1 - 1e-12))
    load = np.sqrt(burden.shared)
    own = np.sqrt(np.clip(1 - burden.shared.sum(axis=1), 0, 1))
    region = _scores(0, 0, n)
    roads: dict[int, FloatArray] = {}
    for i in range(k):
        road = int(burden.road[i])
        if road not in roads:
            roads[road] = _scores(1, road, n)
        score = own[i] * _scores(2, int(burden.row[i]), n)
        score += load[i, 0] * roads[road] + load[i, 1] * region
        ground = (score > cut[i, 0]).astype(np.int64) + (score > cut[i, 1])
        off += burden.time_s[i] * burden.weight[i, ground]
        hard += burden.time_s[i] * burden.hard[i, ground]
    return off, hard


def _scores(kind: int, number: int, n: int) -> FloatArray:
    """Standard normal scores that depend on nothing but what they belong to."""
    random = np.random.Generator(np.random.PCG64([20270314, kind, number]))
    return random.standard_normal(n)
