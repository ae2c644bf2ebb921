"""The worlds by which a setup is judged are drawn as the ground's own intervals are."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from terrain.calc.shares import SharePieces, draw_shares
from terrain.stages.advice.burden import burden_of
from terrain.stages.advice.case import AdviceCase, AdviceStretch
from terrain.stages.advice.setup.worlds import draw_worlds
from terrain.tables.advice import SETUP
from terrain.tables.fleet import DEFAULT_FLEET
from terrain.values.arrays import FloatArray
from terrain.values.ground import Basis, Errors, GroundKind
from terrain.values.trip import Trip

_N, _TIME_S, _P = 30, 100.0, (0.1, 0.75, 0.15)


def _off_s(split: float, kinds: int = 1) -> FloatArray:
    """Weighted off-road time of estimated roads of so many kinds in each world, shape (n,)."""
    stretches = tuple(
        AdviceStretch(
            from_m=1000.0 * i, to_m=1000.0 * (i + 1), ground=GroundKind.GRAVEL, p=_P,
            time_s=_TIME_S, basis=Basis.INFERRED, way=i,
            errors=Errors(shared=((0, 0.1),), split=(i % kinds, split)),
        )
        for i in range(_N)
    )  # fmt: skip
    model = replace(SETUP, draws=8000)
    burden = burden_of(AdviceCase(stretches=stretches, trip=Trip(), fleet=DEFAULT_FLEET), model)
    return draw_worlds(burden, model).off_s


@pytest.mark.parametrize("split", [0.0, 0.3, 1.0])
@pytest.mark.parametrize("kinds", [1, 3])
def test_off_road_time_is_that_of_the_drawn_shares(split: float, kinds: int) -> None:
    """An hour of gravel weighs .40, of track 1: the same mean and spread by `draw_shares`."""
    pieces = SharePieces(
        length_m=np.full(_N, _TIME_S), p=np.tile(_P, (_N, 1)), shared=np.full((_N, 1), 0.1),
        group=np.zeros((_N, 1), dtype=np.int64), split=np.full(_N, split),
        split_group=np.arange(_N) % kinds,
    )  # fmt: skip
    shares = draw_shares(pieces, draws=8000) @ [0.0, 0.40, 1.0]
    off_s = _off_s(split, kinds)
    assert off_s.mean() == pytest.approx(_N * _TIME_S * shares.mean(), rel=0.02)
    assert off_s.std() == pytest.approx(_N * _TIME_S * shares.std(), rel=0.05)


def test_an_error_of_gravel_or_track_in_common_widens_what_may_be() -> None:
    sure, split, apart = _off_s(0.0).std(), _off_s(1.0).std(), _off_s(1.0, _N).std()
    assert split > 1.2 * apart > 0
    assert split > 1.2 * sure


def test_a_guess_takes_as_long_as_the_ground_it_turns_out() -> None:
    """By hand: half gravel of 200 s, at .40 an hour; half tarmac, which weighs nothing."""
    one = AdviceStretch(
        from_m=0.0, to_m=1000.0, ground=GroundKind.PAVED, p=(0.5, 0.5, 0.0), time_s=140.0,
        usual_s=140.0, ground_s=(80.0, 200.0, 300.0), basis=Basis.INFERRED,
    )  # fmt: skip
    for slower in (1.0, 1.5):
        ridden = replace(one, time_s=slower * 140.0)
        case = AdviceCase(stretches=(ridden,), trip=Trip(), fleet=DEFAULT_FLEET)
        burden = burden_of(case, SETUP)
        assert np.unique(draw_worlds(burden, SETUP).off_on_s) == pytest.approx([0.0, 80.0 * slower])
        assert burden.expected_s()[0] == pytest.approx(40.0 * slower)
