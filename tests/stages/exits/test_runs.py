"""Where off-road runs begin and end, by grounds that change within one edge."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from terrain.calc.along import sample_ride
from terrain.stages.exits.runs import off_road_runs
from terrain.values.ride import GRAVEL, PAVED
from tests.stages.tinymap import PAVED as ASPHALT
from tests.stages.tinymap import TinyMap


def test_a_run_ends_with_its_step_and_one_under_300_m_is_left_out(tmp_path) -> None:
    """Notes say gravel, tarmac, and gravel for the other half; steps are a quarter of 990 m."""
    tiny = TinyMap(nodes={"A": (0, 0), "B": (990, 0)}).way("AB", ASPHALT)
    region = tiny.read(tmp_path)
    ride = region.ride(*"AB")
    ends = np.array([0.25, 0.5, 1.0]) * ride.length_m
    noted = replace(
        ride, stretches=ride.stretches * 3, from_m=np.r_[0.0, ends[:-1]], to_m=ends,
        ground=np.array([GRAVEL, PAVED, GRAVEL], np.int8), p=np.tile(ride.p, (3, 1)),
        severity=np.zeros(3, np.int8), grade_pct=np.zeros(3),
    )  # fmt: skip
    paved = np.ones(region.roads.n_edges, np.bool_)
    (run,) = off_road_runs(noted, sample_ride(noted, region.roads), paved)
    assert (run.from_m, run.to_m) == pytest.approx((495, 990), abs=1)
