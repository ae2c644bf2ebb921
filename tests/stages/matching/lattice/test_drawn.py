"""Pieces of edges joined to a ride, rid of jitter, and drawn."""

from __future__ import annotations

import numpy as np
import pytest
from pyproj import Geod

from terrain.stages.matching.lattice.drawn import Joined, draw_ride, join_pieces, point_places
from terrain.stages.matching.lattice.pieces import RiddenPieces
from terrain.values.views import RoadsView
from tests.stages.tinymap import PAVED, TinyMap

Rows = list[tuple[int, float, float]]


def joined(rows: Rows, jitter_m: float = 10.0, guessed: tuple[int, ...] = ()) -> Joined:
    """Pieces given as (edge, from, to), one to a step."""
    n = len(rows)
    edge, a, b = zip(*rows, strict=True) if rows else ((), (), ())
    pieces = RiddenPieces(
        np.array(edge, np.int32), np.array(a, float), np.array(b, float),
        np.arange(n, dtype=np.int32),
    )  # fmt: skip
    return join_pieces(pieces, np.isin(np.arange(n), guessed), np.full(n, jitter_m))


def rows_of(ride: Joined) -> Rows:
    return list(zip(ride.edge.tolist(), ride.from_m.tolist(), ride.to_m.tolist(), strict=True))


@pytest.mark.parametrize(
    ("rows", "want"),
    [
        ([], []),
        ([(4, 7.0, 7.0)], []),  # standing still
        ([(4, 0.0, 30.0), (4, 30.0, 80.0), (4, 80.0, 80.0)], [(4, 0.0, 80.0)]),
        ([(4, 90.0, 60.0), (4, 60.0, 10.0)], [(4, 90.0, 10.0)]),
        ([(4, 0.0, 100.0), (5, 0.0, 50.0)], [(4, 0.0, 100.0), (5, 0.0, 50.0)]),
        # a real turn in the middle stays
        ([(4, 0.0, 80.0), (4, 80.0, 20.0)], [(4, 0.0, 80.0), (4, 80.0, 20.0)]),
        # steps back within the noise go: shorter than the way out, longer, and as long
        ([(4, 0.0, 80.0), (4, 80.0, 74.0), (4, 74.0, 99.0)], [(4, 0.0, 99.0)]),
        ([(4, 50.0, 54.0), (4, 54.0, 0.0)], [(4, 50.0, 0.0)]),
        # and where the ride ends with one
        ([(4, 0.0, 80.0), (4, 80.0, 74.0)], [(4, 0.0, 74.0)]),
        ([(4, 90.0, 20.0), (4, 20.0, 26.0)], [(4, 90.0, 26.0)]),
        ([(4, 0.0, 80.0), (4, 80.0, 69.0)], [(4, 0.0, 80.0), (4, 80.0, 69.0)]),
        ([(4, 70.0, 76.0), (4, 76.0, 70.0), (5, 9.0, 90.0)], [(5, 9.0, 90.0)]),
        ([(4, 0.0, 6.0), (4, 6.0, 0.0), (5, 9.0, 90.0)], [(5, 9.0, 90.0)]),
        # back over a node and on again: all of it is noise
        ([(4, 0.0, 100.0), (5, 0.0, 3.0), (5, 3.0, 0.0), (4, 100.0, 97.0), (4, 97.0, 100.0),
          (5, 0.0, 60.0)], [(4, 0.0, 100.0), (5, 0.0, 60.0)]),
        # back over a node by more than the noise: a ride back
        ([(4, 0.0, 100.0), (5, 0.0, 8.0), (5, 8.0, 0.0), (4, 100.0, 40.0)],
         [(4, 0.0, 100.0), (5, 0.0, 8.0), (5, 8.0, 0.0), (4, 100.0, 40.0)]),
        # a spur ridden in and out is longer than the noise, though each piece of it is short
        ([(4, 0.0, 50.0), (6, 0.0, 8.0), (7, 0.0, 8.0), (7, 8.0, 0.0), (6, 8.0, 0.0)],
         [(4, 0.0, 50.0), (6, 0.0, 8.0), (7, 0.0, 8.0), (7, 8.0, 0.0), (6, 8.0, 0.0)]),
    ],
)  # fmt: skip
def test_join_pieces(rows: Rows, want: Rows) -> None:
    ride = joined(rows)
    assert rows_of(ride) == want
    assert (ride.first_step <= ride.last_step).all()


def test_a_joined_piece_knows_its_steps() -> None:
    ride = joined([(4, 0.0, 30.0), (4, 30.0, 80.0), (5, 0.0, 20.0), (5, 20.0, 90.0)])
    assert ride.first_step.tolist() == [0, 2] and ride.last_step.tolist() == [1, 3]


def test_what_was_guessed_stays_apart_from_what_was_shown() -> None:
    rows: Rows = [(4, 0.0, 30.0), (4, 30.0, 80.0), (4, 80.0, 95.0), (4, 95.0, 99.0)]
    assert rows_of(joined(rows, guessed=(1,))) == [(4, 0.0, 30.0), (4, 30.0, 80.0), (4, 80.0, 99.0)]


@pytest.fixture(scope="module")
def bends(tmp_path_factory: pytest.TempPathFactory) -> RoadsView:
    rng = np.random.default_rng(4)
    xy = np.cumsum(rng.normal(60, 40, (30, 2)), axis=0)
    road = TinyMap(nodes={f"p{i}": (float(x), float(y)) for i, (x, y) in enumerate(xy)})
    names = list(road.nodes)
    roads = road.way(names[:16], PAVED).way(names[15:], PAVED).read(tmp_path_factory.mktemp("b"))
    return roads.roads


def test_the_drawn_ride_is_as_long_as_its_pieces(bends: RoadsView) -> None:
    """Geodesic lengths of the line by pyproj against the lengths of the pieces."""
    geod = Geod(ellps="WGS84")
    edge = np.array([0, 0, 1, 1, 0, 1], np.int32)
    whole = bends.edge_length_m[edge]
    rng = np.random.default_rng(6)
    for _ in range(20):
        from_m, to_m = rng.uniform(0, whole), rng.uniform(0, whole)
        from_m[2], to_m[2] = 0.0, whole[2]
        from_m[3], to_m[3] = whole[3], 0.0
        drawn = draw_ride(edge, from_m, to_m, bends)
        assert drawn.first[0] == 0 and drawn.first[-1] == len(drawn.lon)
        for k in range(6):
            mine = slice(drawn.first[k], drawn.first[k + 1])
            length = np.abs(to_m[k] - from_m[k])
            along = drawn.along_m[mine]
            assert along[0] == 0.0 and along[-1] == pytest.approx(length)
            assert (np.diff(along) > 0).all()
            line = geod.line_lengths(drawn.lon[mine], drawn.lat[mine])
            np.testing.assert_allclose(line[: len(along) - 1], np.diff(along), rtol=1e-5, atol=1e-4)


def test_points_find_their_places_on_the_ride() -> None:
    ride = joined([(4, 0.0, 80.0), (4, 80.0, 20.0), (5, 0.0, 50.0)])
    start = np.array([0.0, 80.0, 140.0])
    edge = np.array([4, 4, 4, 5], np.int32)
    # One spot ridden over twice has two places; a spot that was dropped as jitter has none.
    assert point_places(ride, start, edge, np.array([20.0, 80.0, 20.0, 50.0])).tolist() == [
        20.0, 80.0, 140.0, 190.0,
    ]  # fmt: skip
    gone = point_places(ride, start, edge, np.array([20.0, 95.0, 20.0, 50.0]))
    assert np.isnan(gone[1]) and not np.isnan(gone[[0, 2, 3]]).any()
