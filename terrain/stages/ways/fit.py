"""The ground of every way of a region, fitted to the region's own tags."""

from __future__ import annotations

import numpy as np

from terrain.stages.ways import tags
from terrain.stages.ways.columns import WayFeatures, way_facts
from terrain.stages.ways.evidence import labelled_kind, way_evidence
from terrain.stages.ways.model import TrainingLabels, fit_region, predict, surface_labels
from terrain.stages.ways.shape import way_shape
from terrain.stages.ways.tags import find_clashes
from terrain.tables.ground import TRUST, TagTrust
from terrain.tables.ground_model import MODEL, GroundModel
from terrain.values.arrays import BoolArray, FloatArray, IntArray
from terrain.values.ground import BASES, Basis, WayGround
from terrain.values.views import PlacesView, RoadsView, WayTable

#: Of 2 to 20 the log loss on hidden tags of paths was the same, 6 % below the class table's.
_AS_MANY = 20.0
#: The best of 0.5 to 40 for the counts of roads alone (tests/bench/ground.py).
_AS_MANY_ROADS = 5.0


def fit_way_ground(
    roads: RoadsView,
    places: PlacesView,
    *,
    trust: TagTrust = TRUST,
    model: GroundModel = MODEL,
) -> WayGround:
    """Probabilities of paved, gravel and track for each way, and what they rest on.

    Evidence, the strongest first: surface, tracktype, smoothness, and the estimate from class,
    surroundings and the region's tagged ways, which also tempers the tags.
    """
    ways = roads.ways
    facts = way_facts(ways, way_shape(roads, places))
    labels = region_labels(ways)
    untold = _untold(facts, labels, trust, model)
    surfaced = tags.tag_known(ways.surface, tags.SURFACE_BY_VALUE)
    weights = tags.tag_weights(ways.surface, tags.SURFACE_BY_VALUE)
    weights = tags.aged(weights, tag_age_years(ways), trust.surface_change_per_year)
    p = tags.with_tag(untold, weights, surfaced, trust.context)
    clash = find_clashes(ways)
    # Tags that contradict each other are believed less: part of the estimate comes back.
    doubt = np.where(surfaced & (clash != 0), trust.clash_doubt, 0.0)[:, None]
    p = (1 - doubt) * p + doubt * untold
    graded = (facts.grade >= 0) | (facts.smooth >= 0)
    basis = np.full(len(ways), BASES.index(Basis.INFERRED), dtype=np.int8)
    basis[graded] = BASES.index(Basis.GRADED)
    basis[surfaced] = BASES.index(Basis.TAGGED)
    return WayGround(
        p=tags.bounded(p, trust.least).astype(np.float32),
        basis=basis,
        clash=clash,
        evidence=way_evidence(facts, labels, ~surfaced),
        map_day=map_day(ways),
    )


def _untold(
    facts: WayFeatures, labels: TrainingLabels, trust: TagTrust, model: GroundModel
) -> FloatArray:
    """Probabilities of each way as if it had no surface tag, shape (w, 3)."""
    ways = facts.ways
    out = _path(facts, labels)
    fits = fit_region(facts, labels, model)
    road = np.flatnonzero(facts.shape.road)
    told = np.where(facts.shape.road, labelled_kind(labels), -1)
    counts = _class_counts(ways, told, _AS_MANY_ROADS)
    # With few tagged ways the estimate can be sure for a wrong reason: the counts keep a say.
    say = min(model.counts_most, model.counts_ways / max(1, int((told >= 0).sum())))
    out[road] = predict(facts, road, fits, graded=True, model=model)
    out[road] += say * (counts[road] - out[road])
    graded = road[(facts.grade[road] >= 0) | (facts.smooth[road] >= 0)]
    # With the chance that the ground changed since somebody graded it, the grade says nothing.
    without = predict(facts, graded, fits, graded=False, model=model)
    without += say * (counts[graded] - without)
    stale = tags.changed_since(tag_age_years(ways)[graded], trust.grade_change_per_year)
    out[graded] += stale[:, None] * (without - out[graded])
    return out


def _path(facts: WayFeatures, labels: TrainingLabels) -> FloatArray:
    """Paths and ferries: the class table, the region's tagged ways of the class, own grades.

    The class table counts as _AS_MANY ways beside them.
    """
    ways = facts.ways
    told = np.where(facts.shape.road, -1, labelled_kind(labels))
    p = _class_counts(ways, told, _AS_MANY)
    for column, rows in (
        (ways.smoothness, tags.SMOOTHNESS_BY_VALUE),
        (ways.tracktype, tags.TRACKTYPE_BY_VALUE),
    ):
        p = tags.with_tag(p, tags.tag_weights(column, rows), tags.tag_known(column, rows), 1.0)
    return p


def _class_counts(ways: WayTable, told: IntArray, as_many: float) -> FloatArray:
    """The told ways of each class, the worldwide class table counting as `as_many`, shape (w, 3).

    told : see evidence.told_kind, shape (w,); -1 counts for nothing
    """
    p = tags.class_expectation(ways.highway)
    for code in np.unique(ways.highway.codes[told >= 0]):
        same = ways.highway.codes == code
        seen = np.bincount(told[same & (told >= 0)], minlength=4)
        mixed = seen[:3] + as_many * p[same][0]
        # Ways that are only "unpaved" are gravel or track as the others are.
        mixed[1:] += seen[3] * mixed[1:] / mixed[1:].sum()
        p[same] = mixed / mixed.sum()
    return p


def region_labels(ways: WayTable, hidden: BoolArray | None = None) -> TrainingLabels:
    """What the surface tags say, those of `hidden` ways left out."""
    known = tags.tag_known(ways.surface, tags.SURFACE_BY_VALUE)
    if hidden is not None:
        known = known & ~hidden
    words = [tags.first_word(value) == "unpaved" for value in ways.surface.values]
    only_unpaved = np.asarray([*words, False])[ways.surface.codes]
    weights = tags.tag_weights(ways.surface, tags.SURFACE_BY_VALUE)
    return surface_labels(weights, known, only_unpaved)


def map_day(ways: WayTable) -> int:
    """Day of the newest edit of any way, days since 1970-01-01; -1 if none is known."""
    return int(ways.edited_day.max(initial=-1))


def tag_age_years(ways: WayTable) -> FloatArray:
    """Age of each way's last edit against the map's newest [a], shape (w,); NaN not known."""
    day = np.asarray(ways.edited_day, dtype=np.float64)
    age = (day.max(initial=-1.0) - day) / 365.25
    return np.where(day > 0, age, np.nan)
