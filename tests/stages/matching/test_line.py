"""A drawn line made ready: which points are left out, and where nothing is drawn between."""

from __future__ import annotations

import numpy as np
import pytest

from terrain.calc.candidates import segment_grid
from terrain.stages.matching.line import prepared
from terrain.stages.matching.params import DEFAULT_PARAMS
from tests.stages.tinymap import EAST_M, NORTH_M, PAVED, TinyMap


def test_a_gap_is_one_though_the_point_before_it_is_left_out(tmp_path) -> None:
    """8 m off its road points nearer than 30.4 m to the last (2 x 1.9 x 8) are left out, and no
    step grows to 60 m: the point at 260 m, after which nothing is drawn for 240 m, is 10 m from
    the one at 250."""
    roads = TinyMap(nodes={"a": (0, 0), "b": (1000, 0)}).way("ab", PAVED).read(tmp_path).roads
    x = np.r_[np.arange(0.0, 261.0, 10.0), np.arange(500.0, 601.0, 10.0)]
    line = prepared(x / EAST_M, np.full(len(x), 8.0 / NORTH_M), segment_grid(roads), DEFAULT_PARAMS)
    assert line.sigma_m == pytest.approx(1.9 * 8.0, abs=0.1)
    assert x[line.index].tolist() == [0, 50, 100, 150, 200, 250, 500, 550, 600]
    assert line.gap_m.tolist() == pytest.approx([50] * 5 + [250] + [50] * 2, abs=0.1)
    assert line.bare.tolist() == [False] * 5 + [True] + [False] * 2
