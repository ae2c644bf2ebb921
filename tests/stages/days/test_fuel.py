"""Fuel between pumps: every choice of pumps tried, and the published span off road."""

from __future__ import annotations

from itertools import combinations, pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from terrain.stages.days.fuel import carry_l, fuel_factors, longest_gap, pump_gap
from terrain.stages.days.near import FUEL, LODGING, NearbyPlaces
from terrain.stages.days.nights import Night
from terrain.tables.fuel import FUEL_MODEL
from tests.stages.plan.planned import straight


@settings(max_examples=60, deadline=None)
@given(
    st.lists(st.tuples(st.floats(0, 400), st.floats(0, 10)), max_size=6),
    st.lists(st.tuples(st.floats(0, 400), st.floats(0, 8)), max_size=3),
)
def test_longest_gap_is_the_least_of_all_choices_of_pumps(pumps, beds) -> None:
    """Brute force over every set of pumps to fill up at."""
    pumps = sorted(pumps)
    at = np.array([0.0, *(a for a, _ in pumps), 400.0])
    off = np.array([0.0, *(o for _, o in pumps), 0.0])
    extra = np.array([sum(2 * o for b, o in beds if b <= a) for a in at])
    tarmac = 1.25 * at
    found = longest_gap(at, tarmac, off, extra)

    def worst(chosen: tuple[int, ...]) -> float:
        fills = [0, *chosen, len(at) - 1]
        return max(
            tarmac[b] - tarmac[a] + extra[b] - extra[a] + off[a] + off[b]
            for a, b in pairwise(fills)
        )

    inner = range(1, len(at) - 1)
    every = [c for n in range(len(at) - 1) for c in combinations(inner, n)]
    assert found.tarmac_m == pytest.approx(min(map(worst, every)))
    assert found.gap_m <= found.tarmac_m + 1e-9


def test_the_way_to_a_bed_and_back_is_ridden_on_the_same_tank(tmp_path) -> None:
    """300 km, and 4 km to the first of the places near, at 150 km: 308 km without a pump."""
    tiny = straight([0, 300])
    ride = tiny.read(tmp_path).ride(*tiny.nodes)
    one = np.ones(1)
    near = NearbyPlaces(
        source=np.zeros(1, np.int32), bits=np.array([LODGING]), at_m=150_000 * one,
        off_m=4_000 * one, off_s=240 * one, lon=one, lat=one, van=one.astype(np.bool_),
    )  # fmt: skip
    asleep = (Night(at_m=150_000.0, near=0, pin=-1),)
    assert pump_gap(ride, near, ()).gap_m == pytest.approx(300_000, abs=5)
    assert pump_gap(ride, near, asleep).gap_m == pytest.approx(308_000, abs=5)
    bed = near._replace(bits=np.array([LODGING | FUEL]))  # filled up at the inn
    assert pump_gap(ride, bed, asleep).gap_m == pytest.approx(154_000, abs=5)


def test_whole_litres_are_carried() -> None:
    """142 km at 5 L/100 km with 6 L to use are 1.1 L short."""
    assert carry_l(142_000, 0.05, 6.0) == 2.0
    assert carry_l(121_000, 0.05, 6.0) == 1.0
    assert carry_l(120_000, 0.05, 6.0) == 0.0


def test_consumption_off_road_is_20_to_50_percent_more() -> None:
    """Common practice, no source; where no way is mapped the worse is taken."""
    p = np.array([[1, 0, 0], [0, 1, 0], [0, 0, 1], [0, 0, 1], [np.nan] * 3, [np.nan] * 3])
    severity = np.array([0, 1, 2, 4, np.nan, np.nan])
    ferry = np.array([False] * 5 + [True])
    factor = fuel_factors(p, severity, ferry)
    assert factor.tolist() == [1.0, 1.2, 1.35, 1.5, FUEL_MODEL.unmapped, 0.0]
    assert all(1.2 <= f <= 1.5 for f in factor[1:5])
