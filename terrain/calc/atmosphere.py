"""The standard atmosphere, and the density of real air."""

from __future__ import annotations

import numpy as np

from terrain.values.arrays import FloatArray

# ISO 2533:1975, table 1 (clause from memory): sea level, lapse, gas constant, nominal radius.
_SEA_K = 288.15
_SEA_HPA = 1013.25
_LAPSE = 0.0065
_EXPONENT = 5.255876  # g / (R x lapse)
_GAS = 287.05287  # of dry air [J/(kg K)]
_EARTH_M = 6_356_766.0  # nominal radius, to turn heights into geopotential heights
SEA_DENSITY = 1.225


def standard_temp_c(ele_m: FloatArray) -> FloatArray:
    """Temperature of the standard atmosphere up to 11 km [deg C]. Source: ISO 2533:1975."""
    return np.asarray(_SEA_K - 273.15 - _LAPSE * _geopotential_m(ele_m), dtype=np.float64)


def pressure_hpa(ele_m: FloatArray) -> FloatArray:
    """Pressure of the standard atmosphere up to 11 km [hPa]. Source: ISO 2533:1975."""
    share = 1.0 - _LAPSE * _geopotential_m(ele_m) / _SEA_K
    return np.asarray(_SEA_HPA * share**_EXPONENT, dtype=np.float64)


def _geopotential_m(ele_m: FloatArray) -> FloatArray:
    return np.asarray(_EARTH_M * ele_m / (_EARTH_M + ele_m), dtype=np.float64)


def air_density_kg_m3(pressure_hpa: FloatArray, temp_c: FloatArray) -> FloatArray:
    """Density of dry air [kg/m3], by the gas law."""
    return np.asarray(100.0 * pressure_hpa / (_GAS * (temp_c + 273.15)), dtype=np.float64)


def standard_density_kg_m3(ele_m: FloatArray) -> FloatArray:
    """Density of the standard atmosphere up to 11 km [kg/m3]. Source: ISO 2533:1975."""
    return air_density_kg_m3(pressure_hpa(ele_m), standard_temp_c(ele_m))


def unblown_power_share(density_kg_m3: FloatArray) -> FloatArray:
    """Share of sea-level power that an engine without a blower has in thinner air.

    The density ratio: .91 at 1000 m, .82 at 2000, .74 at 3000, .67 at 4000, the usual
    3 % per 1000 ft.
    """
    return np.asarray(np.minimum(density_kg_m3 / SEA_DENSITY, 1.0), dtype=np.float64)
