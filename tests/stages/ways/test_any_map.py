"""Whatever the map and the ride hold, the ground stays a set of probabilities."""

from __future__ import annotations

import itertools

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from terrain.stages.ground.judge import ground_along
from terrain.stages.ways.fit import fit_way_ground
from terrain.tables.ground import CLASSES, SMOOTHNESS, SURFACES, TRACKTYPES
from terrain.values.ground import LAND_GROUNDS, Basis, GroundKind
from terrain.values.match import LegKind
from terrain.values.views import WayFlag
from tests.stages.ground.handmade import DrawnWay, places, ride, roads


def _maybe(values: list[str]) -> st.SearchStrategy[str | None]:
    return st.none() | st.sampled_from(values)


_tags = st.fixed_dictionaries(
    {
        "highway": st.sampled_from([row.value for row in CLASSES] + ["nonsense"]),
        "surface": _maybe([row.value for row in SURFACES] + ["yes", "asphalt;dirt"]),
        "tracktype": _maybe([row.value for row in TRACKTYPES] + ["grade9"]),
        "smoothness": _maybe([row.value for row in SMOOTHNESS]),
        "name": _maybe(["Long Street", "Long Lane", "X"]),
        "width": _maybe(["2", "6.5"]),
    }
)
_spot = st.tuples(st.integers(0, 5), st.integers(0, 5))


@st.composite
def _maps(draw: st.DrawFn) -> list[DrawnWay]:
    n = draw(st.integers(1, 12))
    out = []
    for i in range(n):
        a, b = draw(_spot), draw(_spot)
        tags = {k: v for k, v in draw(_tags).items() if v is not None}
        out.append(
            DrawnWay(
                way_id=i + 1,
                start=(a[0] * 700.0, a[1] * 700.0),
                end=(b[0] * 700.0 + 1, b[1] * 700.0),
                tags=tags,
                edited_day=draw(st.sampled_from([-1, 15000, 19000])),
                flags=draw(st.sampled_from([0, int(WayFlag.FORD), int(WayFlag.PATH)])),
            )
        )
    return out


@settings(deadline=None, max_examples=60)
@given(_maps(), st.none() | st.integers(1, 12), st.randoms(use_true_random=False))
def test_ground_of_any_map(drawn: list[DrawnWay], month: int | None, random: object) -> None:
    view = roads(drawn)
    ground = fit_way_ground(view, places())
    assert ground.p.min() > 0 and ground.p.max() < 1
    assert ground.p.sum(axis=1) == pytest.approx(1, abs=1e-5)
    legs: list[int | tuple[LegKind, float]] = list(range(len(drawn)))
    legs += [(LegKind.FERRY, 900.0), (LegKind.UNMAPPED, 90.0)]
    random.shuffle(legs)  # type: ignore[attr-defined]
    match = ride(view, legs)
    judged = ground_along(match, view, ground, month=month, rain_mm=np.full(12, 90.0))
    ends = [(s.from_m, s.to_m) for s in judged.stretches]
    assert ends[0][0] == 0 and ends[-1][1] == pytest.approx(match.length_m)
    assert all(a[1] == b[0] for a, b in itertools.pairwise(ends))
    assert sum(judged.basis_shares.values()) == pytest.approx(1, abs=1e-9)
    assert judged.shares is not None
    assert sum(judged.shares[k].best for k in LAND_GROUNDS) == pytest.approx(1, abs=1e-9)
    for stretch in judged.stretches:
        if stretch.ground in LAND_GROUNDS:
            assert stretch.p is not None and stretch.severity is not None
            assert min(stretch.p) > 0 and max(stretch.p) < 1
            assert stretch.evidence.text
        else:
            assert stretch.p is None and stretch.severity is None


def test_a_ride_without_land() -> None:
    view = roads([DrawnWay(way_id=1, start=(0, 0), end=(1, 0), tags={"highway": "path"})])
    ground = fit_way_ground(view, places())
    judged = ground_along(ride(view, [(LegKind.FERRY, 800.0)]), view, ground, month=3)
    assert judged.shares is None
    assert judged.to_dict()["shares"] == {kind.value: None for kind in LAND_GROUNDS}
    assert judged.basis_shares[Basis.UNMAPPED] == 1.0
    assert [s.ground for s in judged.stretches] == [GroundKind.FERRY]
