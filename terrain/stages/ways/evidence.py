"""Counts that explain an estimate: tagged ways nearby, of the same road, touching."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from terrain.stages.ways.groups import road_number
from terrain.stages.ways.shape import TRACK, chord_m
from terrain.tables.common import EARTH_M
from terrain.values.arrays import BoolArray, FloatArray, Int16Array, Int32Array, IntArray
from terrain.values.ground import WayEvidence

if TYPE_CHECKING:  # what they load a report has no need of
    from terrain.stages.ways.columns import WayFeatures
    from terrain.stages.ways.model import TrainingLabels

NEAREST = 24  # tagged ways of the same class that are counted
REACH_M = 30_000.0
_CHUNK = 50_000


def way_evidence(facts: WayFeatures, labels: TrainingLabels, asked: BoolArray) -> WayEvidence:
    """What was counted for each asked way; nothing for the others."""
    told = labelled_kind(labels)
    told[~facts.shape.road & (facts.shape.rank <= TRACK)] = -1  # of no class of its own
    near, near_m, near_way = _near(
        facts, told, asked & (facts.shape.road | (facts.shape.rank > TRACK))
    )
    told[~facts.shape.road] = -1
    road, road_way = _same_road(facts, told, asked)
    joined, joined_way = _joined(facts, told, asked)
    return WayEvidence(
        near=near,
        near_m=near_m.astype(np.float32),
        near_way=near_way,
        road=road,
        road_way=road_way,
        joined=joined,
        joined_way=joined_way,
        chain=facts.shape.chain.astype(np.int32),
    )


def labelled_kind(labels: TrainingLabels) -> IntArray:
    """What each way's surface tag says: 0 paved, 1 gravel, 2 track, 3 unpaved, -1 nothing."""
    unsealed = np.where(np.isnan(labels.built), 3, np.where(labels.built == 1, 1, 2))
    kind = np.where(labels.sealed == 1, 0, unsealed)
    return np.where(np.isnan(labels.sealed), -1, kind).astype(np.int64)


def _near(
    facts: WayFeatures, told: IntArray, asked: BoolArray
) -> tuple[Int16Array, FloatArray, Int32Array]:
    """The nearest tagged ways of the same class, within REACH_M."""
    from scipy.spatial import cKDTree  # a report needs this module, but none of its libraries

    n = len(told)
    counts = np.zeros((n, 4), dtype=np.int16)
    reach = np.full(n, np.nan)
    examples = np.full((n, 3), -1, dtype=np.int32)
    limit = 2 * np.sin(REACH_M / EARTH_M / 2)
    for rank in np.unique(facts.shape.rank[asked]):
        same = facts.shape.rank == rank
        source = np.flatnonzero(same & (told >= 0))
        rows = np.flatnonzero(same & asked)
        if not len(source):
            continue
        tree = cKDTree(facts.shape.unit[source])
        k = min(NEAREST, len(source))
        source = np.append(source, -1)  # what the tree calls its end: none found
        for first in range(0, len(rows), _CHUNK):
            part = rows[first : first + _CHUNK]
            chord, place = tree.query(
                facts.shape.unit[part], k=np.arange(1, k + 1), distance_upper_bound=limit
            )
            found = np.isfinite(chord)
            near = source[place]
            kind = np.where(found, told[near], -1)
            counts[part] = np.stack([(kind == g).sum(axis=1) for g in range(4)], axis=1)
            farthest = np.where(found, chord, 0.0).max(axis=1)
            reach[part] = np.where(found.any(axis=1), chord_m(farthest), np.nan)
            examples[part, :k] = near[:, :3]
    return counts, reach, examples


def _same_road(
    facts: WayFeatures, told: IntArray, asked: BoolArray
) -> tuple[Int16Array, Int32Array]:
    """Tagged ways of the same name, else of the same number."""
    return _by_key(road_number(facts), told, asked)


def _by_key(key: IntArray, told: IntArray, asked: BoolArray) -> tuple[Int16Array, Int32Array]:
    n = len(told)
    counts = np.zeros((n, 4), dtype=np.int16)
    examples = np.full((n, 2), -1, dtype=np.int32)
    source = np.flatnonzero((told >= 0) & (key >= 0))
    rows = np.flatnonzero(asked & (key >= 0))
    order = source[np.argsort(key[source], kind="stable")]
    start = np.searchsorted(key[order], key[rows], side="left")
    stop = np.searchsorted(key[order], key[rows], side="right")
    running = np.zeros((len(order) + 1, 4))
    np.cumsum(told[order][:, None] == np.arange(4), axis=0, out=running[1:])
    counts[rows] = np.minimum(running[stop] - running[start], np.iinfo(np.int16).max)
    for e in range(2):
        there = start + e < stop
        examples[rows[there], e] = order[start[there] + e]
    return counts, examples


def _joined(facts: WayFeatures, told: IntArray, asked: BoolArray) -> tuple[Int16Array, Int32Array]:
    """Tagged roads that touch the way at a junction."""
    shape, n = facts.shape, len(told)
    counts = np.zeros((n, 4), dtype=np.int16)
    examples = np.full((n, 2), -1, dtype=np.int32)
    by_node = np.argsort(shape.pair_node, kind="stable")
    node, way = shape.pair_node[by_node], shape.pair_way[by_node]
    mine = np.flatnonzero(asked[shape.pair_way])
    start = np.searchsorted(node, shape.pair_node[mine], side="left")
    count = np.searchsorted(node, shape.pair_node[mine], side="right") - start
    owner = np.repeat(shape.pair_way[mine], count)
    place = np.repeat(start - np.r_[0, np.cumsum(count)[:-1]], count) + np.arange(len(owner))
    other = way[place]
    keep = (other != owner) & (told[other] >= 0)
    pairs = np.unique(np.stack([owner[keep], other[keep]], axis=1), axis=0)
    np.add.at(counts, (pairs[:, 0], told[pairs[:, 1]]), 1)
    first = np.r_[True, pairs[1:, 0] != pairs[:-1, 0]][: len(pairs)]
    examples[pairs[first, 0], 0] = pairs[first, 1]
    second = np.flatnonzero(first) + 1
    second = second[second < len(pairs)]
    second = second[~first[second]]
    examples[pairs[second, 0], 1] = pairs[second, 1]
    return counts, examples
