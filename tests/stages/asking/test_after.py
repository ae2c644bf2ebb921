"""Which parts are asked about after a ride, a case on each side of each limit, by hand.

All limits: common practice, no source.
"""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

import pytest

from terrain.stages.asking.after import _asked_once, _is_surely, _longest
from terrain.values.ground import GroundKind


def _stretch(from_m: float, to_m: float, way_id: int | None = 1, **more: Any) -> Any:
    usual = {"ground": GroundKind.GRAVEL, "p": (0.1, 0.8, 0.1)}
    return SimpleNamespace(from_m=from_m, to_m=to_m, way_id=way_id, **{**usual, **more})


@pytest.mark.parametrize(
    ("stretches", "runs"),
    [
        ([_stretch(0, 400)], [(0, 400)]), ([_stretch(0, 399)], []),
        ([_stretch(0, 200), _stretch(500, 600)], [(0, 600)]),  # 300 m do not split it
        ([_stretch(0, 400), _stretch(701, 1_200)], [(701, 1_200), (0, 400)]),
        ([_stretch(0, 900, None), _stretch(900, 1_500)], [(900, 1_500)]),
        ([_stretch(0, 900, -1)], []), ([_stretch(0, 900, 0)], [(0, 900)]),
        ([_stretch(0, 900, p=None)], []),
    ],
)  # fmt: skip
def test_the_longest_parts_are_asked_first(
    stretches: list[Any], runs: list[tuple[float, float]]
) -> None:
    ride: Any = SimpleNamespace(ground=SimpleNamespace(stretches=stretches))
    found = _longest(ride, lambda stretch: stretch.p is not None)
    assert [(run[0].from_m, run[-1].to_m) for run in found] == runs


@pytest.mark.parametrize(
    ("ways", "kept"),
    [
        (((1,), (2,), (3,), (4,)), [0, 1, 2]), (((1, 2), (2, 3), (3, 4)), [0, 2]),
        (((1,), (1,), (2,)), [0, 2]), ((), []),
    ],
)  # fmt: skip
def test_three_are_asked_and_no_way_twice(
    ways: tuple[tuple[int, ...], ...], kept: list[int]
) -> None:
    runs = [[_stretch(0, 500, way) for way in held] for held in ways]
    assert _asked_once(runs) == [runs[i] for i in kept]


@pytest.mark.parametrize(
    ("p", "ground", "sure"),
    [
        ((0.05, 0.9, 0.05), GroundKind.GRAVEL, True),
        ((0.06, 0.89, 0.05), GroundKind.GRAVEL, False),
        ((0.05, 0.9, 0.05), GroundKind.TRACK, False), (None, GroundKind.GRAVEL, False),
    ],
)  # fmt: skip
def test_known_is_from_nine_tenths(
    p: tuple[float, float, float] | None, ground: GroundKind, sure: bool
) -> None:
    assert _is_surely(ground, _stretch(0, 500, p=p)) == sure
