"""Between far-apart points several ways are plausible: the spread is shown."""

from __future__ import annotations

import numpy as np
import pytest

from terrain.stages.ground.judge import ground_along
from terrain.stages.ways.fit import fit_way_ground
from terrain.values.ground import LAND_GROUNDS, Alternative, Ground, GroundKind
from tests.stages.ground.handmade import DrawnWay, places, ride, roads

# A sealed road, then a gap that is bridged by a sealed road (row 1) or a track (row 2).
_WAYS = [
    DrawnWay(way_id=1, start=(0, 0), end=(4000, 0),
             tags={"highway": "secondary", "surface": "asphalt"}),
    DrawnWay(way_id=2, start=(4000, 0), end=(8000, 0),
             tags={"highway": "secondary", "surface": "asphalt"}),
    DrawnWay(way_id=3, start=(4000, 0), end=(8000, 1),
             tags={"highway": "track", "surface": "ground"}),
]  # fmt: skip


def _option(way: int, weight: float, *, ridden: bool = False) -> Alternative:
    return Alternative(
        from_m=4000.0, to_m=8000.0, weight=weight, ridden=ridden,
        way=np.array([way], dtype=np.int32), length_m=np.array([4000.0]),
    )  # fmt: skip


def _judge(*others: Alternative) -> Ground:
    view = roads(_WAYS)
    return ground_along(ride(view, [0, 1]), view, fit_way_ground(view, places()), others=others)


def test_other_ways_widen_the_share_and_are_listed() -> None:
    plain = _judge()
    forked = _judge(_option(1, 3.0, ridden=True), _option(2, 1.0))
    assert plain.shares is not None and forked.shares is not None
    narrow, wide = plain.shares[GroundKind.PAVED], forked.shares[GroundKind.PAVED]
    assert narrow.high - narrow.low < 0.05
    assert wide.low == pytest.approx(0.5, abs=0.02) and wide.high > 0.99
    assert wide.best == pytest.approx(0.5 + 0.5 * 0.75, abs=0.02)
    assert sum(forked.shares[k].best for k in LAND_GROUNDS) == pytest.approx(1, abs=1e-9)
    (choice,) = forked.choices
    assert choice.matters == pytest.approx(0.5, abs=0.02)
    assert [o.weight for o in choice.options] == [0.75, 0.25]
    assert choice.options[0].paved > 0.97 > 0.03 > choice.options[1].paved
    assert forked.to_dict()["choices"][0]["from_m"] == 4000.0


def test_an_unlikely_other_way_hardly_matters() -> None:
    shares = _judge(_option(1, 99.0, ridden=True), _option(2, 1.0)).shares
    assert shares is not None
    assert shares[GroundKind.PAVED].low > 0.95


def test_the_choice_that_matters_most_comes_first() -> None:
    small = [
        Alternative(from_m=0.0, to_m=400.0, weight=1.0, ridden=way == 0,
                 way=np.array([way], dtype=np.int32), length_m=np.array([400.0]))
        for way in (0, 2)
    ]  # fmt: skip
    view = roads(_WAYS)
    match = ride(view, [0, 1])
    ground = ground_along(
        match, view, fit_way_ground(view, places()),
        others=[*small, _option(1, 1.0, ridden=True), _option(2, 1.0)],
    )  # fmt: skip
    assert [c.from_m for c in ground.choices] == [4000.0, 0.0]


def test_stretches_still_show_the_way_of_the_match() -> None:
    forked = _judge(_option(1, 1.0, ridden=True), _option(2, 1.0))
    assert [s.way_id for s in forked.stretches] == [1, 2]
