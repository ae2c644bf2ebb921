"""What errors of the ground hang together with, and stretches of pieces, by hand."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from terrain.calc.shares import WayChoice
from terrain.stages.ground.season import Season
from terrain.stages.ground.shares import (
    Laid,
    _at_ends,
    _choices,
    _split_errors,
    errors_by_piece,
    shared_errors,
    thinness,
)
from terrain.stages.ground.stretches import _worst_season
from terrain.tables.ground_errors import ESTIMATED, REMOTE, TOLD, UNSUPPORTED
from terrain.values.ground import BASES, Basis, SeasonRisk
from tests.stages.ground.handmade import DrawnWay, way_table

_INFERRED, _GRADED, _TAGGED, _NOTED = (
    BASES.index(b) for b in (Basis.INFERRED, Basis.GRADED, Basis.TAGGED, Basis.NOTED)
)
_NONE = (0, 0, 0, 0)


def _ground(*rows: tuple[Any, Any, Any]) -> Any:
    """Counts near, of the same road and of those that touch, of each way; each its own chain."""
    near, road, joined = (np.array(column) for column in zip(*rows, strict=True))
    evidence = SimpleNamespace(near=near, road=road, joined=joined, chain=np.arange(len(rows)) + 50)
    return SimpleNamespace(evidence=evidence)


def _near(n: int) -> tuple[int, int, int, int]:
    return (n, 0, 0, 0)


@pytest.mark.parametrize(
    ("n", "basis", "thin"),
    [
        (0, _INFERRED, 1.0), (5, _INFERRED, 0.5), (10, _INFERRED, 0.0), (24, _INFERRED, 0.0),
        (0, _GRADED, 0.0), (0, _TAGGED, 0.0),
    ],
)  # fmt: skip
def test_an_estimate_is_thin_below_ten_tagged_ways(n: int, basis: int, thin: float) -> None:
    ground = _ground((_near(n), _NONE, _NONE))
    one = np.zeros(1, np.int64)
    assert thinness(ground, one, np.array([basis], np.int8)).tolist() == [thin]


@pytest.mark.parametrize(
    ("near", "basis", "variance"),
    [
        # 1 / (1 + n / 3): one with none, a half with three, and paved or "unpaved" tell nothing.
        ((0, 0, 0, 0), _INFERRED, 1.0), ((0, 2, 1, 0), _INFERRED, 1 / 2),
        ((9, 0, 0, 9), _INFERRED, 1.0), ((0, 0, 0, 0), _GRADED, 0.0),
    ],
)  # fmt: skip
def test_gravel_or_track_is_the_less_sure_the_fewer_are_tagged(
    near: tuple[int, int, int, int], basis: int, variance: float
) -> None:
    ground = _ground((near, _NONE, _NONE))
    got = _split_errors(ground, np.zeros(1, np.int64), np.array([basis], np.int8))
    assert got.tolist() == pytest.approx([variance])


def _shared(basis: int, near: int = 24, road: int = 0, joined: int = 0) -> list[float]:
    ways = way_table([DrawnWay(way_id=1, start=(0, 0), end=(9, 0), tags={"highway": "track"})])
    ground = _ground((_near(near), _near(road), _near(joined)))
    one = np.zeros(1, np.int64)
    found = shared_errors(
        ways, ground, way=one, basis=np.array([basis], np.int8), lon=np.zeros(1), lat=np.zeros(1)
    )
    parts: list[float] = found[1][0].tolist()
    return parts


@pytest.mark.parametrize(
    ("case", "parts"),
    [
        ({"basis": _TAGGED}, TOLD.parts), ({"basis": _NOTED}, TOLD.parts),
        ({"basis": _INFERRED}, REMOTE.parts), ({"basis": _GRADED}, REMOTE.parts),
        ({"basis": _INFERRED, "road": 1}, ESTIMATED.parts),
        ({"basis": _INFERRED, "joined": 1}, ESTIMATED.parts),
        ({"basis": _INFERRED, "road": 1, "near": 0}, UNSUPPORTED.parts),
        (
            {"basis": _INFERRED, "road": 1, "near": 5},
            tuple((a + b) / 2 for a, b in zip(ESTIMATED.parts, UNSUPPORTED.parts, strict=True)),
        ),
        (
            {"basis": _INFERRED, "near": 0},
            tuple(max(a, b) for a, b in zip(REMOTE.parts, UNSUPPORTED.parts, strict=True)),
        ),
        ({"basis": _GRADED, "road": 1, "near": 0}, ESTIMATED.parts),
    ],
)  # fmt: skip
def test_what_an_error_is_shared_by(case: dict[str, int], parts: tuple[float, ...]) -> None:
    """The rows of the table: told, estimated, remote, and drawn to unsupported where it is thin."""
    assert _shared(**case) == pytest.approx(list(parts))


def test_groups_of_errors() -> None:
    """The region; main, minor and track; name, else number, else alone; chain; cells of 5 km."""
    tags: list[dict[str, str]] = [
        {"highway": "tertiary", "name": "A"}, {"highway": "unclassified", "name": "A"},
        {"highway": "track"}, {"highway": "track"}, {"highway": "primary", "ref": "A"},
    ]  # fmt: skip
    ways = way_table([
        DrawnWay(way_id=n + 1, start=(0, 0), end=(9, 0), tags=t) for n, t in enumerate(tags)
    ])  # fmt: skip
    ground = _ground(*[(_near(24), _NONE, _NONE)] * 5)
    metres = np.array([100.0, 4_900.0, 5_100.0, 100.0, -100.0])
    group, _, split = shared_errors(
        ways, ground, way=np.arange(5), basis=np.full(5, _INFERRED, np.int8),
        lon=metres / 111_195.0, lat=np.full(5, 1e-4),
    )  # fmt: skip
    region, kind, road, chain, cell = group.T.tolist()
    assert region == [0] * 5
    assert split.tolist() == _split_errors(ground, np.arange(5), np.full(5, _INFERRED)).tolist()
    assert kind == [0, 1, 2, 2, 0]
    assert road[0] == road[1] >= 0 and len(set(road)) == 4 and road[4] >= 0
    assert road[2] < -1 and road[3] < -1
    assert chain == [50, 51, 52, 53, 54]
    assert cell[0] == cell[1] == cell[3] and len({cell[0], cell[2], cell[4]}) == 3
    north = shared_errors(
        ways, ground, way=np.arange(5), basis=np.full(5, _INFERRED, np.int8),
        lon=np.full(5, 1e-4), lat=metres / 111_195.0,
    )[0][:, 4].tolist()  # fmt: skip
    assert north[0] == north[1] == north[3] and len({north[0], north[2], north[4]}) == 3
    errors = errors_by_piece(group, np.full((5, 5), 0.1), np.full(5, 0.5))
    assert errors[2].shared == tuple(zip(group[2].tolist(), [0.1] * 5, strict=True))
    assert errors[2].split == (2, 0.5)  # in common for its kind of road


def _laid(at_m: list[float], p: list[list[float]]) -> Laid:
    n = len(at_m)
    return Laid(
        way=np.arange(n), length_m=np.full(n, 100.0), p=np.array(p), basis=np.zeros(n, np.int8),
        note=np.full(n, -1), at_m=np.array(at_m), lon=np.zeros(n), lat=np.zeros(n),
    )  # fmt: skip


def test_ground_at_both_ends_of_a_gap() -> None:
    """The first and the last piece inside; with none inside, the nearest to its start."""
    p = [[1.0, 0.0, 0.0], [0.0, 1.0, 0.0], [0.5, 0.5, 0.0], [0.0, 0.0, 1.0]]
    laid = _laid([50.0, 150.0, 250.0, 350.0], p)
    assert _at_ends(laid, 100.0, 400.0).tolist() == [0.0, 0.5, 0.5]
    assert _at_ends(laid, 100.0, 200.0).tolist() == [0.0, 1.0, 0.0]
    assert _at_ends(laid, 160.0, 240.0).tolist() == [0.0, 1.0, 0.0]
    assert _at_ends(laid, 50.0, 350.0).tolist() == [0.25, 0.75, 0.0]  # not the ends themselves


def test_how_far_a_choice_matters() -> None:
    """Ten kilometres of tarmac, and then 2 km of tarmac or, one in four, 4 km of track: usually
    2.5 km. All of 12 km paved, or 10 of 14: 4 / 14 of the ride hang on it."""
    pieces: Any = SimpleNamespace(
        length_m=np.array([10_000.0, 0.0, 0.0]), p=np.array([[1, 0, 0], [1, 0, 0], [0, 0, 1.0]])
    )
    fork = WayChoice(
        chance=np.array([0.25, 0.75]), length_m=np.array([[0, 0, 4_000.0], [0, 2_000.0, 0]])
    )
    same = WayChoice(chance=np.array([0.5, 0.5]), length_m=np.array([[0, 0, 100.0], [0, 0, 100.0]]))
    first, second = _choices(pieces, [same, fork], [(0.0, 1.0), (5.0, 9.0)])
    whole = 10_000.0 + 100.0  # the other part lies in the ride whichever way is taken
    paved = (whole - 100.0 + 2_000.0) / (whole + 2_000.0), 10_000.0 / (whole + 4_000.0)
    assert first.matters == pytest.approx(paved[0] - paved[1])
    assert (first.from_m, first.to_m, second.matters) == (5.0, 9.0, 0.0)
    assert [(o.weight, o.length_m, o.paved, o.track) for o in first.options] == [
        (0.75, 2_000.0, 1.0, 0.0), (0.25, 4_000.0, 0.0, 1.0),
    ]  # fmt: skip


def test_the_worst_season_of_a_stretch_is_that_of_its_first_worst_piece() -> None:
    damp, doubtful, none = SeasonRisk.DAMP, SeasonRisk.DOUBTFUL, SeasonRisk.NONE
    season = Season((none, damp, None, doubtful, doubtful, None), (None,) * 6)
    assert _worst_season(season, range(6)) == 3
    assert _worst_season(season, range(3)) == 1
    assert _worst_season(season, range(2, 3)) == 2
    assert _worst_season(season, range(5, 6)) == 5
