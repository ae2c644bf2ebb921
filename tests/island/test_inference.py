"""The estimate of the ground scored against the island's true ground.

The generator knows what lies on every way, tagged or not; the program sees the tags alone.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pytest

from terrain import flow
from terrain.demo.region import DemoRegion
from terrain.inputs.lines import read_route
from terrain.region.region import Region
from tests.island.island import Island, island_truth


@dataclass(frozen=True)
class Scored:
    """Rows of the region's ways that have a truth: estimate, truth, weight, tagged or not."""

    p: np.ndarray
    ground: np.ndarray
    length_m: np.ndarray
    tagged: np.ndarray
    truth_of: dict[int, int]


@pytest.fixture(scope="module")
def scored(island: Island, region: Region) -> Scored:
    truth = island_truth(island)
    truth_of = dict(zip(truth.way_id.tolist(), truth.ground.tolist(), strict=True))
    ways = region.roads.ways
    length = np.bincount(region.roads.edge_way, region.roads.edge_length_m, len(ways))
    ground = np.array([truth_of[int(i)] for i in ways.way_id])
    on_land = ground >= 0
    return Scored(
        p=np.asarray(region.ground.p, dtype=float)[on_land],
        ground=ground[on_land],
        length_m=length[on_land],
        tagged=np.asarray(ways.surface.codes)[on_land] >= 0,
        truth_of=truth_of,
    )


def _brier(p: np.ndarray, ground: np.ndarray, weight: np.ndarray) -> float:
    """Brier score over the three grounds, by length (Brier 1950, Mon. Weather Rev. 78:1)."""
    return float(np.average(((p - np.eye(3)[ground]) ** 2).sum(axis=1), weights=weight))


def test_untagged_ways_are_told_far_better_than_by_their_mean(scored: Scored) -> None:
    rest = ~scored.tagged
    ground, length = scored.ground[rest], scored.length_m[rest]
    mean = np.average(np.eye(3)[ground], axis=0, weights=length)
    ours = _brier(scored.p[rest], ground, length)
    assert ours < 0.65 * _brier(np.broadcast_to(mean, scored.p[rest].shape), ground, length)


def test_shares_of_untagged_ways_are_not_leaning(scored: Scored) -> None:
    rest = ~scored.tagged
    truth = np.average(np.eye(3)[scored.ground[rest]], axis=0, weights=scored.length_m[rest])
    ours = np.average(scored.p[rest], axis=0, weights=scored.length_m[rest])
    assert np.abs(ours - truth).max() < 0.08


def test_tagged_ways_are_nearly_always_right(scored: Scored) -> None:
    right = scored.p[scored.tagged].argmax(axis=1) == scored.ground[scored.tagged]
    assert np.average(right, weights=scored.length_m[scored.tagged]) > 0.93


def test_intervals_hold_the_true_shares_of_the_sample_routes(
    scored: Scored, demo: DemoRegion, region: Region
) -> None:
    """90 % intervals: of 15, five or more outside has a chance of 0.013 if independent."""
    outside = []
    for path in demo.routes:
        report = flow.assess(read_route(path), region)
        metres = np.zeros(3)
        for way_id, length_m in report.assessed.match.ways:
            if scored.truth_of[way_id] >= 0:
                metres[scored.truth_of[way_id]] += length_m
        shares = report.to_dict()["ground"]["shares"]
        for kind, share in zip(("paved", "gravel", "track"), metres / metres.sum(), strict=True):
            if not shares[kind]["low"] - 0.01 <= share <= shares[kind]["high"] + 0.01:
                outside.append((path.name, kind, round(float(share), 3), shares[kind]))
    assert len(outside) < 5, outside
