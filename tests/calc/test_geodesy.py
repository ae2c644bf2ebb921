"""Lengths against pyproj.Geod."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pyproj import Geod

from terrain.calc.geodesy import along_m, metres_per_degree, steps_m

_GEOD = Geod(ellps="WGS84")


@pytest.mark.parametrize("step_deg", [1e-5, 1e-3, 0.05, 0.17])
def test_steps_as_geodesics(step_deg: float) -> None:
    """Short steps are reckoned flat, at the mid latitude: good to 1 part in 100,000."""
    rng = np.random.default_rng(7)
    lat0 = rng.uniform(-75, 75, 400)
    lon0 = rng.uniform(-180, 180, 400)
    lon1 = lon0 + rng.normal(0, step_deg, 400) / 2
    lat1 = lat0 + rng.normal(0, step_deg, 400) / 2
    ours = [
        float(steps_m(np.array([a, c]), np.array([b, d]))[0])
        for a, b, c, d in zip(lon0, lat0, lon1, lat1, strict=True)
    ]
    theirs = _GEOD.inv(lon0, lat0, lon1, lat1)[2]
    np.testing.assert_allclose(ours, theirs, rtol=1e-5, atol=1e-6)


@settings(max_examples=200, deadline=None)
@given(
    lon=st.lists(st.floats(-190, 190), min_size=2, max_size=2),
    lat=st.lists(st.floats(-89, 89), min_size=2, max_size=2),
)
def test_far_steps_are_exact(lon: list[float], lat: list[float]) -> None:
    """Beyond 20 km the flat length only tells that the step is far."""
    ours = float(steps_m(np.array(lon), np.array(lat))[0])
    theirs = _GEOD.inv(lon[0], lat[0], lon[1], lat[1])[2]
    if theirs > 25_000 and abs(lat[0]) < 85 and abs(lat[1]) < 85:
        assert ours == pytest.approx(theirs, rel=1e-9)


def test_metres_per_degree_as_geodesics() -> None:
    for lat in (-60.0, 0.0, 42.5, 71.0):
        east_m, north_m = metres_per_degree(lat)
        assert east_m == pytest.approx(_GEOD.inv(10, lat, 10.001, lat)[2] * 1000, rel=1e-7)
        assert north_m == pytest.approx(
            _GEOD.inv(10, lat - 5e-4, 10, lat + 5e-4)[2] * 1000, rel=1e-7
        )


def test_no_step_without_two_points_and_nan_stays() -> None:
    assert len(steps_m(np.array([1.0]), np.array([2.0]))) == 0
    assert along_m(np.array([1.0]), np.array([2.0])).tolist() == [0.0]
    steps = steps_m(np.array([0.0, np.nan, 0.0, 0.001]), np.zeros(4))
    assert np.isnan(steps[:2]).all() and steps[2] == pytest.approx(111.3195, abs=1e-3)
