"""Ground learned from what riders say after the trip, each believed as far as he was right before.

How often a witness errs is learned where he meets roads whose ground the map tags, and from how
he agrees with others: Dawid and Skene 1979, Maximum likelihood estimation of observer error-rates
using the EM algorithm, J. R. Stat. Soc. C 28, 20-28, with one error rate a witness and a prior on
it (from memory). Who was never checked is not believed, so that a stranger cannot make a road
better than it is.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from terrain.values.arrays import FloatArray, IntArray
from terrain.values.ground import LAND_GROUNDS
from terrain.values.learned import LearnedWay, Said, Statement, Witness


@dataclass(frozen=True, slots=True, kw_only=True)
class WitnessModel:
    """How far people are believed; common practice, no source.

    errs, worth : a witness is taken to err so often before anything is known, worth so many
        statements
    sure : from which chance on the map's ground is known well enough to check a witness
    least_checks : with fewer checks a witness counts for nothing
    ignored : from this error rate on a witness counts for nothing: not even for the contrary
    """

    errs: float = 0.12
    worth: float = 8.0
    sure: float = 0.9
    least_checks: int = 3
    ignored: float = 0.4
    rounds: int = 30
    source: str = "common practice, no source"


MODEL = WitnessModel()


def learn_ground(
    statements: Sequence[Statement], map_p: Mapping[int, tuple[float, float, float]],
    model: WitnessModel = MODEL,
) -> tuple[tuple[LearnedWay, ...], tuple[Witness, ...]]:  # fmt: skip
    """The ground of each way that witnesses tell of, and how often each of them errs.

    map_p : chances of paved, gravel, track by way id, as the map alone has them; ways that are
        missing are left out
    """
    told = [s for s in _latest(statements) if s.way_id in map_p]
    seen = [s for s in told if s.ground is not None]
    ways = sorted({s.way_id for s in told})
    people = sorted({s.who for s in told})
    prior = np.array([map_p[way] for way in ways]).reshape(len(ways), 3)
    prior = np.clip(prior, 0.005, 1.0)
    prior /= prior.sum(axis=1, keepdims=True)
    way = np.array([ways.index(s.way_id) for s in seen], dtype=np.int64)
    who = np.array([people.index(s.who) for s in seen], dtype=np.int64)
    said = np.array([LAND_GROUNDS.index(s.ground) for s in seen if s.ground], dtype=np.int64)
    known = prior.max(axis=1) >= model.sure
    checks = np.bincount(who[known[way]], minlength=len(people))
    errs, post = _believed(prior, way, who, said, known, checks, model)
    witnesses = tuple(
        Witness(
            who=name, errs=float(errs[i]), checks=int(checks[i]),
            statements=int((who == i).sum()), heard=bool(_heard(errs, checks, model)[i]),
        )
        for i, name in enumerate(people)
    )  # fmt: skip
    heard = {w.who for w in witnesses if w.heard}
    found = tuple(
        _way(way_id, [s for s in told if s.way_id == way_id], prior[i], post[i], heard)
        for i, way_id in enumerate(ways)
    )
    return tuple(item for item in found if item is not None), witnesses


def _latest(statements: Sequence[Statement]) -> list[Statement]:
    """Each witness's last word on a way's ground, and on its being shut: who says a thing twice
    has seen it with the same eyes."""
    last: dict[tuple[int, str, bool], Statement] = {}
    for s in sorted(statements, key=lambda s: s.day):
        last[s.way_id, s.who, s.ground is None] = s
    return list(last.values())


def _heard(errs: FloatArray, checks: IntArray, model: WitnessModel) -> FloatArray:
    return np.asarray((checks >= model.least_checks) & (errs < model.ignored))


def _believed(
    prior: FloatArray, way: IntArray, who: IntArray, said: IntArray, known: FloatArray,
    checks: IntArray, model: WitnessModel,
) -> tuple[FloatArray, FloatArray]:  # fmt: skip
    """Error rates of the witnesses, and the chances of each way's ground after all they say."""
    errs = np.full(len(checks), model.errs)
    post = prior
    for _ in range(model.rounds):
        counts = _heard(errs, checks, model)[who]
        log = np.log(prior)
        for g in range(3):
            right = said == g
            gain = np.where(right, np.log1p(-errs[who]), np.log(errs[who] / 2.0)) * counts
            log[:, g] += np.bincount(way, weights=gain, minlength=len(prior))
        post = np.exp(log - log.max(axis=1, keepdims=True))
        post /= post.sum(axis=1, keepdims=True)
        # Roads that the map knows check by the map; others by what the rest of them say.
        truth = np.where(known[:, None], prior, post)
        wrong = 1.0 - truth[way, said]
        weight = np.where(known[way], 1.0, 0.5)
        total = np.bincount(who, weights=weight, minlength=len(errs))
        missed = np.bincount(who, weights=weight * wrong, minlength=len(errs))
        errs = (missed + model.worth * model.errs) / (total + model.worth)
        errs = np.clip(errs, 0.02, 0.95)
    return errs, post


def _way(
    way_id: int, told: Sequence[Statement], prior: FloatArray, post: FloatArray, heard: set[str]
) -> LearnedWay | None:
    """What is learned of one way; None if nobody who is heard told of it."""
    counted = [s for s in told if s.who in heard]
    if not counted:
        return None
    grounds = [s for s in counted if s.ground is not None]
    best = int(np.argmax(post))
    said = tuple(
        Said(ground=kind, n=sum(s.ground is kind for s in grounds))
        for kind in LAND_GROUNDS
        if any(s.ground is kind for s in grounds)
    )
    if not grounds and not any(s.shut for s in counted):
        return None
    return LearnedWay(
        way_id=way_id, ground=LAND_GROUNDS[best] if grounds else None,
        p=(float(post[0]), float(post[1]), float(post[2])) if grounds else None,
        trust=trust_of(float(prior[best]), float(post[best])) if grounds else 0.0,
        said=said, shut=sum(s.shut for s in counted),
        witnesses=len({s.who for s in counted}),
        against=sum(s.ground is not LAND_GROUNDS[best] for s in grounds),
        last_day=max(s.day for s in counted),
        against_map=bool(grounds) and int(np.argmax(prior)) != best,
    )  # fmt: skip


def trust_of(prior: float, post: float) -> float:
    """Belief in a note by which the map's chance of its ground becomes the learned one."""
    if post <= prior or math.isclose(prior, 0.98):
        return 0.0
    return min(max((post - prior) / (0.98 - prior), 0.0), 0.97)
