"""Costs along a ride, on a map small enough to count by hand."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from terrain.calc.along import (
    AtPlaces,
    NearestAlong,
    Samples,
    approach,
    by_the_ride,
    cost_along,
    sample_ride,
)
from terrain.calc.search import RoadNet
from tests.stages.tinymap import PAVED, TinyMap, TinyRegion

_HERE = np.array([7], dtype=np.int32)  # the row of the one place


@pytest.fixture(scope="module")
def tiny(tmp_path_factory: pytest.TempPathFactory) -> TinyRegion:
    """a 1 km b 1 km c, c to d one-way for 1 km, and a ferry of 2 km from d to e."""
    drawn = TinyMap(nodes={
        "a": (0, 0), "b": (1000, 0), "c": (2000, 0), "d": (3000, 0), "e": (5000, 0),
    })  # fmt: skip
    drawn.way("ab", PAVED).way("bc", PAVED).way("cd", PAVED, oneway="yes")
    drawn.way("de", {"route": "ferry", "motor_vehicle": "yes"})
    return drawn.read(Path(tmp_path_factory.mktemp("tiny")))


def test_samples_stand_close_and_twice_at_the_borders_of_legs(tiny: TinyRegion) -> None:
    ride = tiny.ride("a", "b", "c")
    got = sample_ride(ride, tiny.roads, step_m=400.0)
    assert got.at_m == pytest.approx([0, 333, 667, 1000, 1000, 1333, 1667, 2000], abs=2)
    assert got.leg.tolist() == [0, 0, 0, 0, 1, 1, 1, 1]
    assert np.nan_to_num(got.step_m).max() <= 400.0
    # 60 km/h: a minute for each kilometre.
    assert got.ride_s == pytest.approx(got.at_m * 0.06, abs=0.2)
    assert got.step_s == pytest.approx(got.step_m * 0.06, abs=0.2)
    assert got.can_ride.all() and got.can_turn.all() and got.on_land.all()


def test_a_short_leg_still_has_both_its_ends(tiny: TinyRegion) -> None:
    got = sample_ride(tiny.ride("a", "b"), tiny.roads, step_m=5_000.0)
    assert got.at_m == pytest.approx([0, 1000], abs=2)


def test_no_riding_on_over_a_break_or_a_ferry_and_no_turning_on_a_one_way(
    tiny: TinyRegion,
) -> None:
    got = sample_ride(tiny.ride("b", "c", "d", "e"), tiny.roads, step_m=1_100.0)
    land = {0: True, 1: True, 2: False}
    assert [land[leg] for leg in got.leg.tolist()] == got.on_land.tolist()
    inside = got.leg[1:] == got.leg[:-1]
    by_leg = {leg: got.can_ride[inside & (got.leg[1:] == leg)].tolist() for leg in (0, 1, 2)}
    assert all(by_leg[0]) and all(by_leg[1]) and not any(by_leg[2])
    assert not got.can_ride[np.flatnonzero(~inside)[1]]  # from land on to the ferry
    assert got.can_turn[inside & (got.leg[1:] == 0)].all()
    assert not got.can_turn[got.leg[1:] == 1].any()
    assert got.ahead_ok.all() and not got.back_ok[got.leg == 1].any()
    ride = tiny.ride("a", "b", "c")
    broken = replace(ride, match=replace(ride.match, breaks_m=(float(ride.match.to_m[0]),)))
    cut = sample_ride(broken, tiny.roads, step_m=1_100.0)
    assert cut.can_ride.tolist() == [True, False, True]
    assert sample_ride(ride, tiny.roads, step_m=1_100.0).can_ride.all()


def _lane(
    tiny: TinyRegion, samples: Samples, at: tuple[str, str, float], *, outbound: bool
) -> NearestAlong:
    """Metres between each sample and one place on the edge between two nodes."""
    roads = tiny.roads
    edge, ahead = tiny.edge(*at[:2])
    at_m = at[2] if ahead else float(roads.edge_length_m[edge]) - at[2]
    place = AtPlaces(_HERE, np.array([edge], dtype=np.int32), np.array([at_m]))
    net = RoadNet(roads, np.ones(roads.n_edges, bool), roads.edge_length_m, reverse=outbound)
    found = net.nearest(place.edge, place.at_m, roads.edge_length_m)
    source = np.append(_HERE, np.int32(-1))[found.source]
    by = approach(samples, roads.edge_length_m, outbound=outbound)
    return cost_along(samples, roads, by, node_cost=found.cost, node_source=source, places=place)


def test_metres_to_a_place_on_the_ride_and_from_it(tiny: TinyRegion) -> None:
    samples = sample_ride(tiny.ride("a", "b", "c"), tiny.roads, step_m=500.0)
    there = _lane(tiny, samples, ("a", "b", 300.0), outbound=True)
    want = np.abs(samples.at_m - 300.0)
    assert there.cost == pytest.approx(want, abs=2)
    assert set(there.source.tolist()) == {7}
    assert _lane(tiny, samples, ("a", "b", 300.0), outbound=False).cost == pytest.approx(
        want, abs=2
    )


def test_a_place_on_a_one_way_is_reached_from_before_it_only(tiny: TinyRegion) -> None:
    samples = sample_ride(tiny.ride("b", "c", "d"), tiny.roads, step_m=250.0)
    at = 1_450.0  # of this ride: 450 m along the one-way
    before = samples.at_m < at
    there = _lane(tiny, samples, ("c", "d", 450.0), outbound=True)
    assert there.cost[before] == pytest.approx(at - samples.at_m[before], abs=2)
    assert np.isnan(there.cost[~before]).all() and (there.source[~before] == -1).all()
    # Them to you: only those after the place can be come to.
    back = _lane(tiny, samples, ("c", "d", 450.0), outbound=False)
    assert back.cost[~before] == pytest.approx(samples.at_m[~before] - at, abs=2)
    assert np.isnan(back.cost[before]).all()


def test_one_stands_at_either_end_of_a_shut_edge_and_goes_nowhere_on_it(tiny: TinyRegion) -> None:
    """Nothing of what costs infinitely much is nothing: no warning of 0 times infinity."""
    samples = sample_ride(tiny.ride("a", "b", "c"), tiny.roads, step_m=600.0)
    shut = np.arange(tiny.roads.n_edges) == tiny.edge("b", "c")[0]
    by = approach(samples, np.where(shut, np.inf, 1_000.0), outbound=True)
    nearer, other = np.sort([by.to_u, by.to_v], axis=0)
    assert nearer == pytest.approx([0, 500, 0, 0, np.inf, 0], abs=2)
    assert other == pytest.approx([1_000, 500, 1_000, *[np.inf] * 3], abs=2)


def test_the_ride_itself_leads_on_and_back_where_it_may(tiny: TinyRegion) -> None:
    samples = sample_ride(tiny.ride("b", "c", "d"), tiny.roads, step_m=500.0)
    n = len(samples.at_m)
    for known, wanted in (
        # At b: back along the two-way road from c, not from the one-way.
        (0, np.where(samples.leg == 0, samples.at_m, np.nan)),
        # At d: on along all of the ride.
        (n - 1, samples.at_m[-1] - samples.at_m),
    ):
        cost = np.full(n, np.nan)
        cost[known] = 0.0
        got = by_the_ride(samples, cost, by_time=False)
        np.testing.assert_allclose(got.cost, wanted, atol=1e-6)
        assert (got.origin[~np.isnan(wanted)] == known).all()


def test_of_two_known_costs_the_one_with_the_way_to_it_counts(tiny: TinyRegion) -> None:
    samples = sample_ride(tiny.ride("a", "b", "c"), tiny.roads, step_m=500.0)
    cost = np.full(len(samples.at_m), np.nan)
    cost[0], cost[-1] = 100.0, 600.0
    got = by_the_ride(samples, cost, by_time=False)
    np.testing.assert_allclose(
        got.cost, np.minimum(100 + samples.at_m, 600 + samples.at_m[-1] - samples.at_m), atol=1e-6
    )
    seconds = by_the_ride(samples, np.where(np.isnan(cost), np.nan, 0.0), by_time=True)
    np.testing.assert_allclose(
        seconds.cost, np.minimum(samples.ride_s, samples.ride_s[-1] - samples.ride_s), atol=1e-6
    )
    nothing = by_the_ride(samples, np.full(len(cost), np.nan), by_time=False)
    assert np.isnan(nothing.cost).all()
