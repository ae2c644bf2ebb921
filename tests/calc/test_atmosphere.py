"""The standard atmosphere."""

from __future__ import annotations

import numpy as np
import pytest

from terrain.calc.atmosphere import (
    air_density_kg_m3,
    pressure_hpa,
    standard_density_kg_m3,
    standard_temp_c,
    unblown_power_share,
)
from tests.reference.heat_tables import ISO_2533


@pytest.mark.parametrize(("ele", "temp", "pressure", "density"), ISO_2533)
def test_iso_2533(ele: float, temp: float, pressure: float, density: float) -> None:
    at = np.array([ele])
    assert standard_temp_c(at)[0] == pytest.approx(temp, abs=0.03)
    assert pressure_hpa(at)[0] == pytest.approx(pressure, abs=0.06)
    assert standard_density_kg_m3(at)[0] == pytest.approx(density, abs=0.0006)


def test_hot_air_is_thin() -> None:
    """Gas law: 40 C at sea level is 1.127 kg/m3."""
    got = air_density_kg_m3(np.array([1013.25]), np.array([40.0]))
    assert got[0] == pytest.approx(1.127, abs=0.001)


@pytest.mark.parametrize(("ele", "left"), [(1000, 0.91), (2000, 0.82), (3000, 0.74), (4000, 0.67)])
def test_power_left_at_height(ele: float, left: float) -> None:
    """Unblown engines lose 3 % per 1000 ft above 500 ft (farm engineering text)."""
    share = unblown_power_share(standard_density_kg_m3(np.array([float(ele)])))[0]
    assert share == pytest.approx(left, abs=0.006)
    assert share == pytest.approx(1 - 0.03 * (ele / 0.3048 - 500) / 1000, abs=0.05)


def test_power_never_exceeds_sea_level() -> None:
    assert unblown_power_share(np.array([1.4]))[0] == 1.0
