"""The ground along hand-drawn rides."""

from __future__ import annotations

import itertools

import numpy as np
import pytest

from terrain.stages.ground.judge import ground_along
from terrain.stages.ways.fit import fit_way_ground
from terrain.values.ground import LAND_GROUNDS, Basis, Ground, GroundKind
from terrain.values.match import LegKind
from tests.stages.ground.handmade import DrawnWay, places, ride, roads


def _chain(*tags: dict[str, str], length: float = 1000.0) -> list[DrawnWay]:
    return [
        DrawnWay(way_id=100 + i, start=(i * length, 0), end=((i + 1) * length, 0), tags=t)
        for i, t in enumerate(tags)
    ]


def _judge(drawn: list[DrawnWay], legs: list[object]) -> Ground:
    view = roads(drawn)
    return ground_along(ride(view, legs), view, fit_way_ground(view, places()))  # type: ignore[arg-type]


def test_shares_sum_to_one_and_stay_in_order() -> None:
    ground = _judge(
        _chain(
            {"highway": "tertiary", "surface": "asphalt"},
            {"highway": "track", "tracktype": "grade3"},
            {"highway": "unclassified"},
        ),
        [0, 1, 2],
    )
    assert ground.shares is not None
    best = [ground.shares[kind].best for kind in LAND_GROUNDS]
    assert sum(best) == pytest.approx(1, abs=1e-9)
    for share in ground.shares.values():
        assert share.low <= share.best <= share.high
    assert [s.basis for s in ground.stretches] == [Basis.TAGGED, Basis.GRADED, Basis.INFERRED]
    assert sum(ground.basis_shares.values()) == pytest.approx(1, abs=1e-9)


def test_ferry_and_unmapped_are_not_land() -> None:
    ground = _judge(
        _chain({"highway": "primary", "surface": "asphalt"}),
        [0, (LegKind.FERRY, 5000.0), (LegKind.UNMAPPED, 1000.0)],
    )
    assert [s.ground for s in ground.stretches] == [
        GroundKind.PAVED, GroundKind.FERRY, GroundKind.UNMAPPED,
    ]  # fmt: skip
    assert ground.basis_shares[Basis.UNMAPPED] == pytest.approx(0.5)
    assert ground.shares is not None and ground.shares[GroundKind.PAVED].best > 0.95
    assert np.isnan(ground.p[1:]).all()


def test_stretches_cover_the_ride_without_gaps() -> None:
    drawn = _chain(*[{"highway": "residential", "surface": "asphalt"}] * 3)
    ground = _judge(drawn, [0, 0, 1, 2, (LegKind.UNMAPPED, 10.0), (LegKind.UNMAPPED, 5.0)])
    ends = [(s.from_m, s.to_m) for s in ground.stretches]
    assert ends[0][0] == 0 and ends[-1][1] == pytest.approx(4015)
    assert all(a[1] == b[0] for a, b in itertools.pairwise(ends))
    assert len(ends) == 4  # the way ridden twice in a row is one stretch, so is the rest off map


def test_no_ground_is_ever_certain() -> None:
    view = roads(_chain({"highway": "motorway", "surface": "asphalt", "smoothness": "excellent"}))
    p = fit_way_ground(view, places()).p
    assert p.min() > 0 and p.max() < 1


def test_how_hard_it_is_counts_as_tagged_on_every_way() -> None:
    """The first of the region's ways too."""
    rough = {"highway": "track", "smoothness": "bad"}
    told = _judge(_chain(rough, {"highway": "track"}, rough), [0, 1, 2]).stretches
    assert [stretch.severity_tagged for stretch in told] == [True, False, True]
