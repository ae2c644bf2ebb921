"""The shape of a network drawn by hand, counted by hand."""

from __future__ import annotations

import numpy as np
import pytest

from terrain.stages.ways.shape import NOTHING, RANKS, chord_m, on_sphere, way_shape
from terrain.values.views import PLACE_KINDS, PlaceKind
from tests.stages.ground.handmade import DEG_M, DrawnWay, places, roads

TOWN = PLACE_KINDS.index(PlaceKind.TOWN)
HAMLET = PLACE_KINDS.index(PlaceKind.HAMLET)


def _ways(*drawn: tuple[tuple[float, float], tuple[float, float], str]) -> list[DrawnWay]:
    return [
        DrawnWay(way_id=i + 1, start=a, end=b, tags={"highway": kind})
        for i, (a, b, kind) in enumerate(drawn)
    ]


def _rank(kind: str) -> int:
    return RANKS.index(kind)


def test_what_a_way_meets() -> None:
    """A primary in two pieces, a track from their meeting to a residential street, a lone track."""
    shape = way_shape(roads(_ways(
        ((0, 0), (1_000, 0), "primary"), ((1_000, 0), (2_000, 0), "primary"),
        ((1_000, 0), (1_000, 900), "track"), ((1_000, 900), (1_600, 900), "residential"),
        ((9_000, 9_000), (9_500, 9_000), "track"),
    )), places())  # fmt: skip
    primary, track, street = _rank("primary"), _rank("track"), _rank("residential")
    assert shape.rank.tolist() == [primary, primary, track, street, track]
    # The best road at any node of a way, itself included.
    assert shape.touched.tolist() == [primary, primary, primary, street, track]
    # The worse of the best roads at its two ends: a dead end meets nothing.
    assert shape.through.tolist() == [NOTHING, NOTHING, street, NOTHING, NOTHING]
    assert shape.dead.tolist() == [1, 1, 0, 1, 1]
    # The primary runs straight on as one road; the others are each their own.
    assert shape.chain[0] == shape.chain[1]
    assert len(set(shape.chain.tolist())) == 4
    np.testing.assert_allclose(shape.length_m, [1_000, 1_000, 900, 600, 500])
    assert shape.road.all() and not shape.link.any()


def test_a_way_between_two_roads_leads_through() -> None:
    shape = way_shape(roads(_ways(
        ((0, 0), (0, 500), "secondary"), ((0, 500), (800, 500), "track"),
        ((800, 500), (800, 0), "tertiary"),
    )), places())  # fmt: skip
    assert shape.through[1] == _rank("tertiary") and shape.touched[1] == _rank("secondary")


@pytest.mark.parametrize(
    ("turn_deg", "one"), [(0, True), (30, True), (-30, True), (44, True), (46, False), (90, False)]
)
def test_a_road_runs_on_up_to_a_bend_whose_cosine_is_seven_tenths(
    turn_deg: float, one: bool
) -> None:
    """At a junction of three; where only two ways meet there is nothing else to run on into."""
    angle = np.radians(turn_deg)
    on = (1_000 + round(500 * np.cos(angle)), round(500 * np.sin(angle)))
    drawn = _ways(
        ((0, 0), (1_000, 0), "tertiary"), ((1_000, 0), on, "tertiary"),
        ((1_000, 0), (1_000, -700), "track"),
    )  # fmt: skip
    chain = way_shape(roads(drawn), places()).chain
    assert bool(chain[0] == chain[1]) is one
    assert chain[2] not in chain[:2]
    alone = way_shape(roads(drawn[:2]), places()).chain
    assert alone[0] == alone[1]


def test_a_road_of_another_class_is_another_road() -> None:
    chain = way_shape(roads(_ways(
        ((0, 0), (1_000, 0), "tertiary"), ((1_000, 0), (2_000, 0), "track"),
    )), places()).chain  # fmt: skip
    assert chain[0] != chain[1]


def test_density_is_street_per_square_kilometre() -> None:
    """Ten residential streets of 200 m within one cell of 250 m: 2 km in 1.25 km squared."""
    streets = [((0, 10.0 * i), (200, 10.0 * i), "residential") for i in range(10)]
    far = ((30_000, 0), (30_400, 0), "track")
    shape = way_shape(roads(_ways(*streets, far)), places())
    near = np.log1p(2.0 / 1.25**2)
    np.testing.assert_allclose(shape.urban[:10], near, rtol=1e-3)
    np.testing.assert_allclose(shape.dense[:10], near, rtol=1e-3)
    np.testing.assert_allclose(shape.urban_wide[:10], np.log1p(2.0 / 5.0**2), rtol=1e-3)
    np.testing.assert_allclose(shape.tracks[:10], 0.0)
    assert shape.urban[10] == shape.urban_wide[10] == 0.0
    assert shape.tracks[10] == shape.dense[10] == pytest.approx(np.log1p(0.4 / 1.25**2), rel=1e-3)


@pytest.mark.parametrize(
    ("cells", "seen"), [(0, True), (2, True), (-2, True), (3, False), (-3, False)]
)
@pytest.mark.parametrize("axis", [0, 1])
def test_density_looks_two_cells_far_each_way(cells: int, seen: bool, axis: int) -> None:
    """Cells of 250 m; both ways lie in the middle of theirs."""
    away = [0.0, 0.0]
    away[axis] = 250.0 * cells
    shape = way_shape(roads(_ways(
        # Keeps the corner of the grid where it is, and counts nothing.
        ((-1_000, -1_125), (-1_000, -875), "footway"),
        ((100, 125), (150, 125), "track"),
        ((100 + away[0], 125 + away[1] + 1), (150 + away[0], 125 + away[1] + 1), "residential"),
    )), places())  # fmt: skip
    assert bool(shape.urban[1] > 0) is seen


def test_distance_to_a_town_is_the_logarithm_over_two_kilometres() -> None:
    drawn = _ways(((4_000, 0), (4_000.1, 0), "track"), ((0, 0), (0.1, 0), "track"),
                  ((90_000, 0), (90_000.1, 0), "track"))  # fmt: skip
    shape = way_shape(roads(drawn), places([(TOWN, 0, 0), (HAMLET, 4_000, 0)]))
    # 4 km is twice two; nearer than 200 m and farther than 20 km say no more.
    np.testing.assert_allclose(shape.place, np.log([2.0, 0.1, 10.0]), atol=1e-3)
    assert way_shape(roads(drawn), places([(HAMLET, 0, 0)])).place.tolist() == [0, 0, 0]
    # However short they are, ways lie where they lie.
    np.testing.assert_allclose(shape.x_m, [4_000, 0, 90_000], rtol=1e-4, atol=1)


def test_chords_are_great_circles() -> None:
    """A degree on a sphere of 6,371,008.8 m is 111,195 m."""
    a, b = on_sphere(np.array([0.0, 10.0]), np.array([0.0, 60.0])), on_sphere(
        np.array([1.0, 10.0]), np.array([0.0, 61.0]))  # fmt: skip
    np.testing.assert_allclose(chord_m(np.linalg.norm(a - b, axis=1)), DEG_M, rtol=1e-5)
