"""What is said of the evidence of a stretch."""

from __future__ import annotations

import pytest

from terrain.stages.ground.judge import ground_along
from terrain.stages.ways.fit import fit_way_ground
from tests.stages.ground.handmade import DrawnWay, places, ride, roads


def _text(**tags: str) -> str:
    drawn = [DrawnWay(way_id=1, start=(0, 0), end=(1000.0, 0), tags={"highway": "track", **tags})]
    view = roads(drawn)
    ground = ground_along(ride(view, [0]), view, fit_way_ground(view, places()))
    return str(ground.stretches[0].evidence.text)


@pytest.mark.parametrize(
    ("surface", "word", "why"),
    [
        ("unpaved", "not paved", "That may be anything from hard gravel to mud: our estimate is "),
        ("ground", "bare ground", "That may be firm when dry and soft when wet: our estimate is "),
        ("asphalt", "asphalt", None),
        ("gravel", "gravel", None),
    ],
)
def test_a_vague_surface_says_why_it_is_vague(surface: str, word: str, why: str | None) -> None:
    """Source: OSM wiki, Tag:surface=unpaved (anything from compacted to mud)."""
    text = _text(surface=surface)
    assert f"The map says surface: {word}" in text
    assert (why in text) if why else "our estimate" not in text
