"""The estimate for untagged ways before anything else has a say."""

from __future__ import annotations

import numpy as np
import pytest

from terrain.stages.ways.columns import way_facts
from terrain.stages.ways.fit import region_labels
from terrain.stages.ways.model import fit_region, predict
from terrain.stages.ways.shape import way_shape
from terrain.tables.ground_model import MODEL
from tests.stages.ground.handmade import DrawnWay, places, roads


def _estimates(tagged: str | None) -> np.ndarray:
    """A grid of roads of three classes, every other one tagged with a surface."""
    drawn = []
    for i in range(36):
        x, y = 700.0 * (i % 6), 700.0 * (i // 6)
        tags = {"highway": ("secondary", "unclassified", "track")[i % 3]}
        if tagged is not None and i % 2:
            tags["surface"] = tagged
        drawn.append(DrawnWay(way_id=i + 1, start=(x, y), end=(x + 700, y), tags=tags))
    view = roads(drawn)
    facts = way_facts(view.ways, way_shape(view, places()))
    fits = fit_region(facts, region_labels(view.ways), MODEL)
    return predict(facts, np.arange(36), fits, graded=True)


@pytest.mark.parametrize("tagged", [None, "asphalt", "gravel", "ground"])
def test_estimates_are_probabilities(tagged: str | None) -> None:
    p = _estimates(tagged)
    assert p.min() > 0
    np.testing.assert_allclose(p.sum(axis=1), 1.0)


def test_what_is_tagged_nearby_draws_the_rest() -> None:
    """Of untagged ways (even rows): more of what the others of the region carry."""
    rest = np.arange(0, 36, 2)
    means = {tagged: _estimates(tagged)[rest].mean(axis=0) for tagged in (
        None, "asphalt", "gravel", "ground")}  # fmt: skip
    assert means["asphalt"][0] > means[None][0] > max(means["gravel"][0], means["ground"][0])
    assert means["gravel"][1] / means["gravel"][2] > means["ground"][1] / means["ground"][2]
    # A secondary is likelier sealed than a track, whatever is known.
    p = _estimates(None)
    assert p[0::3, 0].min() > p[2::3, 0].max()


def test_gravel_or_track_is_told_by_the_valley() -> None:
    """Two valleys 20 km apart, mapped alike but for what their tracks are tagged as: an untagged
    track three km up each is more than two to one what the others of its valley are."""
    drawn = []
    for valley, tagged in enumerate(("gravel", "ground")):
        x = 20_000.0 * valley
        for i in range(6):
            tags = {"highway": "track", "surface": tagged}
            start = (x + 400.0 * i, 0.0)
            drawn.append(
                DrawnWay(way_id=len(drawn) + 1, start=start, end=(start[0], 300.0), tags=tags)
            )
    for valley in range(2):
        x = 20_000.0 * valley + 1000.0
        drawn.append(DrawnWay(way_id=len(drawn) + 1, start=(x, 3300.0), end=(x, 3600.0),
                              tags={"highway": "track"}))  # fmt: skip
    view = roads(drawn)
    facts = way_facts(view.ways, way_shape(view, places()))
    p = predict(facts, np.array([12, 13]), fit_region(facts, region_labels(view.ways)), graded=True)
    assert p[0, 1] > 2 * p[0, 2] and p[1, 2] > 2 * p[1, 1], p
