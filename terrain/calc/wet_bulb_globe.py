"""Outdoor WBGT by the Liljegren model, over thermofeel."""

from __future__ import annotations

import numpy as np

from terrain.values.arrays import FloatArray


def wbgt_c(
    temp_c: FloatArray,
    humidity_pct: FloatArray,
    *,
    pressure_hpa: FloatArray,
    wind_m_s: FloatArray,
    sun_w_m2: FloatArray,
    direct: FloatArray,
    sun_height_deg: FloatArray,
) -> FloatArray:
    """Wet bulb globe temperature [deg C], all shape (n,); NaN where the model finds no balance.

    wind_m_s : at 10 m; 0.62 m/s is the least the model takes and stands for still air
    direct : share of the sun's radiation that is direct beam
    Source: Liljegren et al. 2008, as in thermofeel. The model is for warm air: below 0 deg C
    the air temperature itself is returned, since no caution hangs on it.
    """
    from thermofeel import calculate_wbgt_liljegren

    temp = np.asarray(temp_c, dtype=np.float64)
    warm = temp > 0.0
    out = temp.copy()
    if warm.any():
        out[warm] = (
            calculate_wbgt_liljegren(
                temp[warm] + 273.15,
                np.clip(np.broadcast_to(humidity_pct, temp.shape)[warm], 1.0, 100.0),
                np.broadcast_to(pressure_hpa, temp.shape)[warm],
                np.broadcast_to(wind_m_s, temp.shape)[warm],
                np.broadcast_to(sun_w_m2, temp.shape)[warm],
                np.broadcast_to(direct, temp.shape)[warm],
                np.sin(np.radians(np.broadcast_to(sun_height_deg, temp.shape)[warm])),
            )
            - 273.15
        )
    return out
