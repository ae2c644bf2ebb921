"""Steepness of edges over a plane and a ridge whose slopes are known."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from terrain.calc.elevation import sample_heights
from terrain.region.dem.build import build_heights, open_heights
from terrain.region.edge_grade import edge_grade_pct
from terrain.region.osm import read_osm


def test_edges_of_andorra_against_a_plain_walk(shared_data: Path, tmp_path) -> None:
    """Each edge walked on its own in steps of 500 m gives the same steepness."""
    roads = read_osm((shared_data / "osm/andorra-2013-05-28.osm.pbf",), lambda *_: None).roads
    box = (1.40, 42.42, 1.80, 42.66)
    build_heights([shared_data / "dem" / "N42E001.hgt.zip"], box, tmp_path)
    heights = open_heights(tmp_path)
    grade = edge_grade_pct(roads, heights)
    plain = (roads.ways.flags[roads.edge_way] & 3) == 0  # neither bridge nor tunnel
    for k in np.random.default_rng(1).choice(np.flatnonzero(plain), 200, replace=False).tolist():
        length = float(roads.edge_length_m[k])
        at = np.linspace(0.0, length, max(int(np.ceil(length / 500.0)), 1) + 1)
        span = slice(int(roads.edge_start[k]), int(roads.edge_start[k + 1]))
        lon = np.interp(at, roads.pt_at_m[span], roads.pt_lon[span])
        lat = np.interp(at, roads.pt_at_m[span], roads.pt_lat[span])
        ele, _ = sample_heights(heights, lon, lat)
        want = 100.0 * np.abs(np.diff(ele)).sum() / max(length, 1.0)
        assert np.isnan(want) == np.isnan(grade[k])
        if not np.isnan(want):
            assert grade[k] == pytest.approx(want, rel=1e-6, abs=1e-6)
    assert 3.0 < np.nanmedian(grade[roads.edge_length_m > 500]) < 12.0  # a mountain country
