"""Regions whose own tags contradict what is carried from others: no worse than plain counts."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from terrain.stages.ways.fit import fit_way_ground
from terrain.stages.ways.tags import class_expectation
from terrain.tables.ground_model import MODEL, GroundModel
from terrain.values.arrays import BoolArray, FloatArray, IntArray
from terrain.values.views import RoadsView
from tests.stages.ground.handmade import DrawnWay, places, roads

#: Paved, gravel, track of each class where nothing is out of the common; drawn, no source.
_USUAL = {
    "track": (0.1, 0.6, 0.3), "service": (0.8, 0.15, 0.05), "unclassified": (0.7, 0.25, 0.05),
    "residential": (0.95, 0.04, 0.01), "tertiary": (0.97, 0.02, 0.01),
}  # fmt: skip
_SURFACES = ("asphalt", "gravel", "ground")
_SEEDS = range(6)
_CELL_M, _SIDE = 2500.0, 8
_TOGETHER = 0.8  # ways whose ground is that of their neighbourhood, as hard or soft as it is


def _region(
    seed: int, key: str, value: str, kind: int, n: int = 200
) -> tuple[RoadsView, IntArray, BoolArray, BoolArray]:
    """A region where every way of the tag is of one kind: the map with a third of its tags hidden,
    each way's ground, which are hidden, and which have the tag."""
    random = np.random.default_rng(seed)
    softness = random.random((_SIDE, _SIDE))
    drawn, truth = [], []
    hidden = random.random(n) < 0.3
    for number in range(n):
        tags = {"highway": str(random.choice(list(_USUAL)))}
        if tags["highway"] in ("track", "unclassified") and random.random() < 0.5:
            tags["access"] = "forestry"
        x, y = (random.random(2) * _SIDE * _CELL_M).tolist()
        turn, length = random.random() * 2 * np.pi, 200 + 600 * random.random()
        soft = random.random()
        if random.random() < _TOGETHER:
            soft = softness[int(x // _CELL_M), int(y // _CELL_M)]
        own = int(np.searchsorted(np.cumsum(_USUAL[tags["highway"]])[:2], soft))
        truth.append(kind if tags.get(key) == value else own)
        if not hidden[number]:
            tags["surface"] = _SURFACES[truth[-1]]
        drawn.append(
            DrawnWay(
                way_id=number + 1, start=(x, y), tags=tags,
                end=(x + length * np.cos(turn), y + length * np.sin(turn)),
            )
        )  # fmt: skip
    tagged = np.array([way.tags.get(key) == value for way in drawn])
    return roads(drawn), np.array(truth), hidden, tagged


def _counts(view: RoadsView, truth: IntArray, hidden: BoolArray) -> FloatArray:
    """The region's own counts by class, the worldwide ones for five ways beside them."""
    p = class_expectation(view.ways.highway)
    for code in np.unique(view.ways.highway.codes):
        same = view.ways.highway.codes == code
        seen = np.bincount(truth[same & ~hidden], minlength=3)
        p[same] = (seen + 5 * p[same][0]) / (seen.sum() + 5)
    return p


def _losses(key: str, value: str, kind: int, model: GroundModel = MODEL) -> FloatArray:
    """Log loss of the estimate and of the counts, over all hidden ways and over those of the tag;
    shape (2, 2)."""
    total = np.zeros((2, 2))
    for seed in _SEEDS:
        view, truth, hidden, tagged = _region(seed, key, value, kind)
        every = np.arange(len(truth))
        for i, p in enumerate(
            (fit_way_ground(view, places(), model=model).p, _counts(view, truth, hidden))
        ):
            loss = -np.log(p[every, truth])
            total[i] += loss[hidden].sum(), loss[hidden & tagged].sum()
    return total


@pytest.mark.parametrize(
    ("key", "value", "kind"),
    [
        ("access", "forestry", 0), ("highway", "service", 1), ("highway", "track", 0),
        ("highway", "tertiary", 2), ("highway", "residential", 2),
    ],
    ids=["forestry paved", "service gravel", "tracks paved", "tertiary earth", "streets earth"],
)  # fmt: skip
def test_what_is_carried_costs_nothing_where_the_region_contradicts_it(
    key: str, value: str, kind: int
) -> None:
    """Foresters' roads, or all roads of a class, are of a ground seldom theirs elsewhere."""
    ours, counts = _losses(key, value, kind)
    assert np.all(ours < counts), (ours, counts)


def test_coefficients_that_do_not_give_way_would_be_noticed() -> None:
    held = replace(MODEL, unsealed=replace(MODEL.unsealed, drift=0.01))
    ours, counts = _losses("access", "forestry", 0, held)
    assert ours[1] > _losses("access", "forestry", 0)[0, 1] and ours[1] > counts[1]
