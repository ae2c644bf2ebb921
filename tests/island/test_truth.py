"""The true ground: like its neighbours, and mostly what the tags say where they say it."""

from __future__ import annotations

from collections import defaultdict

import numpy as np
import pytest

from terrain.values.ground import GroundKind
from tests.island.conftest import MapWay
from tests.island.ground import DISTRICTS, GRAVEL, PAVED, TRACK
from tests.island.island import Island, IslandTruth, island_truth

# Groups of surface values: OSM wiki, Key:surface.
_PAVED = {"paved", "asphalt", "chipseal", "concrete", "concrete:lanes", "paving_stones"}
_FIRM = {"compacted", "gravel", "fine_gravel"}


@pytest.fixture(scope="module")
def truth(island: Island) -> IslandTruth:
    return island_truth(island)


def test_every_road_of_the_file_has_its_truth(truth: IslandTruth, map_ways: list[MapWay]) -> None:
    way_kinds = {w.way_id: w for w in map_ways}
    assert all(int(way_id) in way_kinds for way_id in truth.way_id)
    roads = {w.way_id for w in map_ways if w.highway}
    assert roads == {int(i) for i, g in zip(truth.way_id, truth.ground, strict=True) if g >= 0}
    assert truth.kinds == (GroundKind.PAVED, GroundKind.GRAVEL, GroundKind.TRACK)


def test_all_three_grounds_are_common(truth: IslandTruth, island: Island) -> None:
    km = np.array([_length_m(w.xy) for w in island.ways]) / 1000
    share = [km[truth.ground == g].sum() / km[truth.ground >= 0].sum() for g in range(3)]
    assert min(share) > 0.2


def test_ground_follows_its_neighbours(truth: IslandTruth, island: Island) -> None:
    """Lesser roads agree with those they touch far more often than chance would have it."""
    lesser = np.array([w.kind in ("tertiary", "unclassified", "track") for w in island.ways])
    at: dict[tuple[float, float], list[int]] = defaultdict(list)
    for k in np.flatnonzero(lesser):
        xy = island.ways[k].xy
        at[tuple(xy[0])].append(int(k))
        at[tuple(xy[-1])].append(int(k))
    pairs = [
        (a, b)
        for ways in at.values()
        for a in ways
        for b in ways
        if a < b and island.ways[a].kind == island.ways[b].kind
    ]
    same = np.mean([truth.ground[a] == truth.ground[b] for a, b in pairs])
    share = np.bincount(truth.ground[lesser & (truth.ground >= 0)], minlength=3)
    chance = float(((share / share.sum()) ** 2).sum())
    assert len(pairs) > 300
    assert same > chance + 0.25


def test_some_districts_have_no_seal_off_the_main_roads(island: Island) -> None:
    kinds = np.array([w.kind for w in island.ways])
    sealed = []
    for district in range(len(DISTRICTS)):
        mine = (island.ground.district == district) & np.isin(kinds, ("tertiary", "unclassified"))
        if mine.sum() >= 15:
            sealed.append(float(np.mean(island.ground.ground[mine] == PAVED)))
    assert min(sealed) < 0.05
    assert max(sealed) > 0.6


def test_tags_are_mostly_right_and_sometimes_wrong(
    truth: IslandTruth, map_ways: list[MapWay]
) -> None:
    tags = {w.way_id: w.tags for w in map_ways}
    right = total = 0
    for way_id, ground in zip(truth.way_id, truth.ground, strict=True):
        surface = tags[int(way_id)].get("surface")
        if ground < 0 or surface is None or surface == "unpaved":
            continue
        said = PAVED if surface in _PAVED else GRAVEL if surface in _FIRM else TRACK
        total += 1
        right += said == ground
    # Imagery agrees with the tag in 91 to 97 % (Randhawa et al., arXiv 2410.19874, paved only).
    assert total > 1000
    assert 0.90 < right / total < 0.99


def _length_m(xy: np.ndarray) -> float:
    return float(np.hypot(*np.diff(xy, axis=0).T).sum())
