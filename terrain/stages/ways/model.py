"""The estimate for untagged ways: two yes-or-no models, sealed or not, then built or not.

Each adds up what is known of a way (class, tracktype, width, what it meets, how far a village
is) with coefficients learned from many regions and carried in terrain/tables/ground_model.py,
and what the region's own tagged ways say of its groups (class, name, run of road, junction,
neighbourhood). A group's say grows with the number of its tagged ways.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
import scipy.sparse as sparse
from scipy.linalg import cho_factor, cho_solve
from scipy.sparse.linalg import LinearOperator, cg
from scipy.special import expit, logit

from terrain.stages.ways import tags
from terrain.stages.ways.columns import WayFeatures, columns
from terrain.stages.ways.groups import SORTS, Membership, memberships
from terrain.tables.ground_model import MODEL, GroundModel, Question
from terrain.values.arrays import BoolArray, FloatArray, IntArray

_MOST = 100_000  # examples of one answer
_CHUNK = 20_000  # ways estimated at once: bounds the memory of a build


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class TrainingLabels:
    """What the surface tags of the region say. Shape (w,).

    sealed : 1 paved, 0 not, NaN not told
    built : 1 gravel, 0 track, NaN not told or paved ("unpaved" tells only that it is not paved)
    """

    sealed: FloatArray
    built: FloatArray


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Fitted:
    """A model fitted to one region: columns' coefficients, and each group's where it has any."""

    column_coef: FloatArray
    keys: dict[str, IntArray]
    coefs: dict[str, FloatArray]


def fit_region(
    facts: WayFeatures, labels: TrainingLabels, model: GroundModel = MODEL
) -> tuple[Fitted, Fitted]:
    """The two models of a region: unsealed or not; if unsealed, unbuilt or not."""
    return (
        _fit(facts, 1 - labels.sealed, model.unsealed, model),
        _fit(facts, 1 - labels.built, model.unbuilt, model),
    )


def predict(
    facts: WayFeatures,
    asked: IntArray,
    fits: tuple[Fitted, Fitted],
    *,
    graded: bool,
    model: GroundModel = MODEL,
) -> FloatArray:
    """Probabilities of paved, gravel, track of the asked ways, shape (len(asked), 3).

    graded : with False, each way is judged as if it had no tracktype and smoothness
    """
    out = np.empty((len(asked), 3))
    expected = tags.class_expectation(facts.ways.highway)
    for first in range(0, len(asked), _CHUNK):
        rows = asked[first : first + _CHUNK]
        unsealed, unbuilt = _scores(facts, rows, fits, graded=graded)
        table = expected[rows]
        kind = facts.kind[rows]
        unsealed = _sharpened(unsealed, logit(1 - table[:, 0]), model.unsealed, kind)
        usual = logit(table[:, 2] / (table[:, 1] + table[:, 2]))
        unbuilt = _sharpened(unbuilt, usual, model.unbuilt, kind)
        u, t = expit(unsealed), expit(unbuilt)
        out[first : first + _CHUNK] = np.stack([1 - u, u * (1 - t), u * t], axis=1)
    return out


def _sharpened(
    score: FloatArray, usual: FloatArray, question: Question, kind: IntArray
) -> FloatArray:
    """The score drawn towards (or pushed from) the class's worldwide one."""
    factor = np.asarray(question.sharpness)[kind]
    return np.asarray(usual + factor * (score - usual))


def _fit(facts: WayFeatures, outcome: FloatArray, question: Question, model: GroundModel) -> Fitted:
    rows, weight = _examples(outcome, facts.shape.road)
    has_grade = (facts.grade[rows] >= 0) | (facts.smooth[rows] >= 0)
    full = sparse.csr_matrix(columns(facts, rows, graded=True))
    bare = sparse.csr_matrix(columns(facts, rows[has_grade], graded=False))
    groups, keys, spread = group_matrix(facts, rows, question)
    # A graded way is shown twice, with its grade and without, so that the model also learns
    # what ways of the region are like where nobody graded them.
    design = sparse.bmat([[full, groups], [bare, groups[has_grade]]], format="csr")
    bare_weight = model.bare_weight * weight[has_grade]
    weight = np.where(has_grade, 1 - model.bare_weight, 1.0) * weight
    n_columns = full.shape[1]
    expected, leeway = question.coefficients, question.drift * np.asarray(question.leeway)
    of_class = [name.startswith("class ") for name in model.columns]
    of_class += [sort == "class" for sort, own in keys.items() for _ in own]
    coef = _fit_unlike(
        design,
        np.concatenate([outcome[rows], outcome[rows][has_grade]]),
        weight=np.concatenate([weight, bare_weight]),
        expected=np.concatenate([expected, np.zeros(len(spread))]),
        leeway=np.concatenate([leeway, spread]),
        unlike=np.array(of_class, dtype=np.bool_),
    )
    return Fitted(
        column_coef=coef[:n_columns],
        keys=keys,
        coefs=_split(coef[n_columns:], keys),
    )


def _examples(outcome: FloatArray, road: BoolArray) -> tuple[IntArray, FloatArray]:
    """The tagged roads to learn from, and the weight of each.

    Beyond _MOST of one answer, every n-th of them stands for n: a region with half a million
    sealed roads learns no more from the last of them.
    """
    rows, weights = [], []
    for answer in (0.0, 1.0):
        own = np.flatnonzero((outcome == answer) & road)
        step = max(1, -(-len(own) // _MOST))
        rows.append(own[::step])
        weights.append(np.full(len(own[::step]), float(step)))
    both = np.concatenate(rows)
    order = np.argsort(both, kind="stable")
    return both[order], np.concatenate(weights)[order]


def _split(coef: FloatArray, keys: dict[str, IntArray]) -> dict[str, FloatArray]:
    out, at = {}, 0
    for sort, own in keys.items():
        out[sort] = coef[at : at + len(own)]
        at += len(own)
    return out


def group_matrix(
    facts: WayFeatures, rows: IntArray, question: Question
) -> tuple[sparse.csr_matrix, dict[str, IntArray], FloatArray]:
    """Membership of the given ways in every group, the groups' numbers, and their spread."""
    blocks, keys, spread = [], {}, []
    for sort, member in memberships(facts, rows):
        own, place = np.unique(member.key, return_inverse=True)
        blocks.append(
            sparse.csr_matrix((member.share, (member.row, place)), shape=(len(rows), len(own)))
        )
        keys[sort] = own
        spread.append(np.full(len(own), question.spread[SORTS.index(sort)]))
    return sparse.hstack(blocks, format="csr"), keys, np.concatenate(spread)


def _scores(
    facts: WayFeatures, rows: IntArray, fits: tuple[Fitted, Fitted], *, graded: bool
) -> Iterator[FloatArray]:
    table = columns(facts, rows, graded=graded)
    scores = [table @ fit.column_coef for fit in fits]
    for sort, member in memberships(facts, rows):
        for score, fit in zip(scores, fits, strict=True):
            score += _group_sum(member, fit.keys[sort], fit.coefs[sort], len(rows))
    return iter(scores)


def _group_sum(member: Membership, keys: IntArray, coef: FloatArray, n: int) -> FloatArray:
    if not len(keys):
        return np.zeros(n)
    place = np.minimum(np.searchsorted(keys, member.key), len(keys) - 1)
    known = keys[place] == member.key
    told = np.where(known, coef[place], 0.0) * member.share
    return np.bincount(member.row, weights=told, minlength=n).astype(np.float64)


def surface_labels(
    weights: FloatArray, known: BoolArray, only_unpaved: BoolArray
) -> TrainingLabels:
    """Labels from surface weights (see tags.tag_weights): the ground a tag names."""
    kind = np.argmax(weights, axis=1)
    sealed = np.where(known, (kind == 0) & ~only_unpaved, np.nan)
    built = np.where(known & (kind > 0) & ~only_unpaved, kind == 1, np.nan)
    return TrainingLabels(sealed=sealed.astype(np.float64), built=built.astype(np.float64))


_REFITS = 5  # of 2 and 5 the more helped where a region contradicts what is carried


def _fit_unlike(
    design: sparse.csr_matrix,
    outcome: FloatArray,
    *,
    weight: FloatArray,
    expected: FloatArray,
    leeway: FloatArray,
    unlike: BoolArray,
) -> FloatArray:
    """As `fit_logit`, where some coefficients may lie far out: beyond one standard deviation their
    prior is Cauchy's (Gelman and others 2008, Ann. Appl. Stat. 2:1360), so a region whose own ways
    contradict what is carried of a class is believed, and any other is fitted as before.

    unlike : those coefficients, shape (m,)
    Each fit takes the variance that makes a normal prior as steep as the other where the last one
    ended (expectation and maximisation; one degree of freedom).
    """
    held = _Design.of(design)
    coef = _fit_logit(held, outcome, weight, expected, leeway, expected, _STEPS)
    for k in range(_REFITS):
        far = unlike & ((coef - expected) ** 2 > leeway)
        if not far.any():
            break
        wider = np.where(far, (leeway + (coef - expected) ** 2) / 2, leeway)
        # The variances move on, so only the last fit goes to its end.
        steps = _STEPS if k == _REFITS - 1 else 1
        coef = _fit_logit(held, outcome, weight, expected, wider, coef, steps)
    return coef


_STEPS = 15
_CLOSE = 0.05  # of any row, on the logit scale: the estimates move by less than 0.01
_OFTEN = 64  # of 60 to 200 the quickest
_LARGEST_STEP = 6.0  # on the logit scale; a longer Newton step is cut


def fit_logit(
    design: sparse.csr_matrix,
    outcome: FloatArray,
    *,
    weight: FloatArray,
    expected: FloatArray,
    leeway: FloatArray,
) -> FloatArray:
    """Coefficients of the most probable logistic model, shape (m,).

    design : one row per observation, shape (n, m)
    outcome : 0..1, shape (n,); weight : how much each observation counts, shape (n,)
    expected, leeway : mean and variance of each coefficient before the data, shape (m,)
    Newton's method, each step by conjugate gradients: cost O(non-zeros of the design).
    """
    return _fit_logit(_Design.of(design), outcome, weight, expected, leeway, expected, _STEPS)


def _fit_logit(
    design: _Design,
    outcome: FloatArray,
    weight: FloatArray,
    expected: FloatArray,
    leeway: FloatArray,
    start: FloatArray,
    steps: int,
) -> FloatArray:
    coef = np.array(start, dtype=np.float64)
    if not len(outcome):
        return coef
    stiff = 1.0 / leeway
    for _ in range(steps):
        p = expit(design.rows @ coef)
        slope = design.columns @ (weight * (outcome - p)) - stiff * (coef - expected)
        step = _newton_step(design, weight * p * (1 - p), stiff, slope)
        largest = float(np.abs(design.rows @ step).max(initial=0.0))
        step *= min(1.0, _LARGEST_STEP / max(largest, 1e-9))
        coef += step
        if largest < _CLOSE:
            break
    return coef


@dataclass(frozen=True, slots=True, eq=False)
class _Design:
    """The observations as Newton's steps use them.

    rows, columns : the same numbers by row and by column; squared : their squares by column
    often : the columns that most rows have; table : those, with their zeros
    """

    rows: sparse.csr_matrix
    columns: sparse.csr_matrix
    squared: sparse.csr_matrix
    often: IntArray
    table: FloatArray

    @classmethod
    def of(cls, rows: sparse.csr_matrix) -> _Design:
        columns = rows.T.tocsr()
        often = np.argsort(-np.diff(columns.indptr), kind="stable")[:_OFTEN]
        squared = sparse.csr_matrix(
            (columns.data**2, columns.indices, columns.indptr), columns.shape
        )
        return cls(rows, columns, squared, often, rows[:, often].toarray())


def _newton_step(
    design: _Design, bend: FloatArray, stiff: FloatArray, slope: FloatArray
) -> FloatArray:
    """Conjugate gradients, eased by the diagonal and, for the columns that most rows have and
    that go together, by their whole block (block Jacobi: a third of the steps)."""
    size = (len(slope), len(slope))
    often, table = design.often, design.table
    diagonal = stiff + design.squared @ bend
    block = np.diag(stiff[often])
    for low in range(0, len(bend), _CHUNK):
        part = table[low : low + _CHUNK]
        block += (part.T * bend[low : low + _CHUNK]) @ part
    factor = cho_factor(block)

    def bent(v: FloatArray) -> FloatArray:
        out: FloatArray = design.columns @ (bend * (design.rows @ v)) + stiff * v
        return out

    def eased(v: FloatArray) -> FloatArray:
        out: FloatArray = v / diagonal
        out[often] = cho_solve(factor, v[often])
        return out

    step, _ = cg(
        LinearOperator(size, matvec=bent, dtype=np.float64), slope, rtol=0.1, maxiter=60,
        M=LinearOperator(size, matvec=eased, dtype=np.float64),
    )  # fmt: skip
    return np.asarray(step, dtype=np.float64)
