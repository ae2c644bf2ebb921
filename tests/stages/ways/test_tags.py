"""Map tags as evidence, against the definitions of the OSM wiki (quoted in the tables)."""

from __future__ import annotations

import numpy as np
import pytest

from terrain.stages.ways import tags
from terrain.stages.ways.fit import fit_way_ground
from terrain.tables.ground import CLASSES, SMOOTHNESS, SURFACES, TRACKTYPES, TRUST
from terrain.values.ground import BASES, Basis, Clash, WayGround
from tests.stages.ground.handmade import DrawnWay, category, places, roads

# OSM wiki, Key:surface, the paved group.
_PAVED = (
    "paved", "asphalt", "chipseal", "concrete", "concrete:lanes", "concrete:plates",
    "paving_stones", "sett", "cobblestone", "unhewn_cobblestone", "bricks", "metal",
    "metal_grid", "wood", "grass_paver",
)  # fmt: skip
# OSM wiki, Key:surface, the unpaved group.
_UNPAVED = (
    "unpaved", "compacted", "fine_gravel", "gravel", "shells", "rock", "pebblestone", "ground",
    "dirt", "earth", "grass", "mud", "sand", "woodchips", "snow", "ice", "salt",
)  # fmt: skip


def _fit(*tag_sets: dict[str, str], edited_day: int = 19000) -> WayGround:
    drawn = [
        DrawnWay(way_id=i + 1, start=(i * 500.0, 0), end=((i + 1) * 500.0, 0), tags=t,
                 edited_day=edited_day)
        for i, t in enumerate(tag_sets)
    ]  # fmt: skip
    return fit_way_ground(roads(drawn), places())


def test_every_documented_surface_is_known_and_in_its_group() -> None:
    for value in _PAVED:
        assert np.argmax(tags.SURFACE_BY_VALUE[value].weights) == 0, value
    for value in _UNPAVED:
        weights = tags.SURFACE_BY_VALUE[value].weights
        assert max(weights[1:]) == 1 and weights[0] < 0.05, value


def test_unpaved_is_never_read_as_gravel() -> None:
    """OSM wiki, Tag:surface=unpaved: anything from compacted to mud."""
    _, gravel, track = tags.SURFACE_BY_VALUE["unpaved"].weights
    assert gravel == track


def test_tracktype_grades_get_softer() -> None:
    """OSM wiki, Key:tracktype: 1 solid ... 5 soft."""
    paved = [row.weights[0] / sum(row.weights) for row in TRACKTYPES]
    track = [row.weights[2] / sum(row.weights) for row in TRACKTYPES]
    assert paved == sorted(paved, reverse=True) and track == sorted(track)
    severity = [row.severity for row in (*TRACKTYPES,)]
    assert severity == sorted(severity)


def test_smoothness_values_are_in_the_documented_order() -> None:
    """OSM wiki, Key:smoothness."""
    assert [row.value for row in SMOOTHNESS] == [
        "excellent", "good", "intermediate", "bad", "very_bad", "horrible", "very_horrible",
        "impassable",
    ]  # fmt: skip
    severity = [row.severity for row in SMOOTHNESS]
    assert severity == sorted(severity)


def test_tables_name_a_source_and_hold_probabilities() -> None:
    for row in (*SURFACES, *TRACKTYPES, *SMOOTHNESS, *CLASSES):
        assert row.source
    for row in CLASSES:
        assert sum(row.expect) == pytest.approx(1) and min(row.expect) > 0


def test_several_values_are_some_of_each() -> None:
    column = category(["asphalt;gravel", "Asphalt", "nonsense", None])
    weights = tags.tag_weights(column, tags.SURFACE_BY_VALUE)
    assert weights[0, 0] == pytest.approx(0.5075) and weights[0, 1] == pytest.approx(0.503)
    assert weights[1, 0] == 1 and (weights[2:] == 1).all()
    assert tags.tag_known(column, tags.SURFACE_BY_VALUE).tolist() == [True, True, False, False]


def test_order_of_evidence() -> None:
    """surface > tracktype > smoothness > class."""
    ground = _fit(
        {"highway": "track"},
        {"highway": "track", "smoothness": "excellent"},
        {"highway": "track", "smoothness": "excellent", "tracktype": "grade5"},
        {"highway": "track", "smoothness": "excellent", "tracktype": "grade5",
         "surface": "asphalt"},
    )  # fmt: skip
    assert [BASES[b] for b in ground.basis] == [
        Basis.INFERRED, Basis.GRADED, Basis.GRADED, Basis.TAGGED,
    ]  # fmt: skip
    paved = ground.p[:, 0]
    assert paved[1] > paved[0] and paved[2] < paved[1] and paved[3] > 0.5


def test_contradiction_widens_and_is_told() -> None:
    ground = _fit(
        {"highway": "track", "surface": "asphalt", "tracktype": "grade5"},
        {"highway": "track", "surface": "asphalt", "tracktype": "grade1"},
        {"highway": "track", "surface": "mud", "smoothness": "excellent"},
    )
    assert ground.clash[0] == Clash.SURFACE_TRACKTYPE and ground.clash[1] == 0
    assert ground.clash[2] == Clash.SURFACE_SMOOTHNESS
    assert ground.p[1, 0] > 0.95 > 0.85 > ground.p[0, 0] > 0.5


def test_old_tags_count_less() -> None:
    weights = np.array([[1.0, 0.01, 0.001]])
    new, old = (tags.aged(weights, np.array([age]), 0.02)[0] for age in (0.0, 10.0))
    assert old[0] < new[0] and old[1] > new[1]
    assert tags.aged(weights, np.array([np.nan]), 0.02)[0] == pytest.approx(weights[0])


def test_no_certainty_for_any_tag() -> None:
    every = [{"highway": "track", "surface": row.value} for row in SURFACES]
    p = _fit(*every).p
    assert p.min() >= 0.9 * TRUST.least and p.max() < 1
    assert p.sum(axis=1) == pytest.approx(1, abs=1e-5)


def test_an_empty_map_is_no_error() -> None:
    assert len(fit_way_ground(roads([]), places())) == 0
