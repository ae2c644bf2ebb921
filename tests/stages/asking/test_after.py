"""Which parts are asked about after a ride, a case on each side of each limit, by hand.

All limits: common practice, no source.
"""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from terrain.stages.asking import ask_after
from terrain.stages.asking.after import _asked_once, _is_surely, _longest
from terrain.text.message import spaced
from terrain.values.ground import Basis, GroundKind, Stretch
from terrain.values.report import Assessed
from tests.assessed import ridden, stretch_of


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


_GUESS: dict[str, Any] = {
    "basis": Basis.INFERRED, "ground": GroundKind.GRAVEL, "p": (0.2, 0.7, 0.1), "surface": None,
}  # fmt: skip
_SURE: dict[GroundKind, tuple[float, float, float]] = {
    GroundKind.PAVED: (1.0, 0.0, 0.0), GroundKind.GRAVEL: (0.0, 1.0, 0.0),
    GroundKind.TRACK: (0.0, 0.0, 1.0),
}  # fmt: skip


def _km(n: int, **more: Any) -> Stretch:
    """Kilometre n of the ride, on a way of its own."""
    return stretch_of(1e3 * n, 1e3 * (n + 1), **{"way_id": n + 1, **more})


def _known(n: int, ground: GroundKind) -> Stretch:
    return _km(n, ground=ground, p=_SURE[ground])


def _asked(ride: Assessed) -> list[float]:
    return [part.from_m / 1e3 for part in ask_after(ride)]


def test_estimates_are_asked_about_with_as_many_known_parts_off_tarmac_first() -> None:
    """In riding order. The known ones: a track before gravel, gravel before tarmac."""
    tarmac, gravel, track = GroundKind.PAVED, GroundKind.GRAVEL, GroundKind.TRACK
    kilometres = [
        _known(0, tarmac), _known(1, gravel), _km(2, **_GUESS), _known(3, tarmac),
        _known(4, track), _known(5, gravel), _known(6, tarmac),
    ]  # fmt: skip
    # Parts of the same ground more than 300 m apart are parts of their own: three in all.
    assert _asked(ridden(*kilometres)) == [1.0, 2.0, 4.0, 5.0]
    # Where nothing is an estimate, nothing is asked.
    assert _asked(ridden(*kilometres[:2])) == []


@pytest.mark.parametrize(
    ("basis", "best", "asked"),
    [
        (Basis.INFERRED, 0.89, True), (Basis.GRADED, 0.89, True), (Basis.INFERRED, 0.9, False),
        (Basis.TAGGED, 0.89, False), (Basis.NOTED, 0.89, False),
    ],
)  # fmt: skip
def test_an_estimate_below_nine_tenths_is_asked_about(
    basis: Basis, best: float, asked: bool
) -> None:
    guess = _km(1, **(_GUESS | {"basis": basis, "p": (1 - best, best, 0.0)}))
    assert (1.0 in _asked(ridden(_km(0), guess, _km(2)))) == asked


def test_a_part_is_told_by_length_road_and_place() -> None:
    """From km 1 to 3, two ways; the middle, km 2, is nearest to Birch."""
    names: dict[str, Any] = {
        "near_from_m": np.array([0.0, 1_900.0, 2_100.0]),
        "near_names": ("Alder", "Birch", ""),
    }
    told = {
        (None, None): "2 km from km 1 (near Birch)",
        (None, "Mill Road"): "Mill Road: 2 km from km 1 (near Birch)",
        ("Mill Road", "Other Road"): "Mill Road: 2 km from km 1 (near Birch)",
        ("Birch", None): "Birch: 2 km from km 1",  # the place is not told twice
    }
    for roads, text in told.items():
        guesses = [_km(n, name=name, **_GUESS) for n, name in zip((1, 2), roads, strict=True)]
        ride = ridden(_km(0), *guesses, _km(3))
        ride = replace(ride, places=replace(ride.places, **names))
        part = next(part for part in ask_after(ride) if part.from_m == 1e3)
        assert spaced(part.text) == text
        assert (part.to_m, part.way_ids) == (3e3, (2, 3))
