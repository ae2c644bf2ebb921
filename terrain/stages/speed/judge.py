"""Riding speed and time of every stretch of a ride."""

from __future__ import annotations

import numpy as np

from terrain.stages.speed.pace import (
    SHORTEST_BEND_M,
    Z90,
    SpeedInputs,
    mean_pace_s_m,
    rider_of,
    sum_between,
    total_band_s,
    turn_deg,
)
from terrain.tables.speed import (
    MODEL,
)
from terrain.values.arrays import FloatArray
from terrain.values.ride import Speeds
from terrain.values.trip import Trip


def judge_speed(from_m: FloatArray, to_m: FloatArray, *, inputs: SpeedInputs, trip: Trip) -> Speeds:
    """Speeds and riding times of the stretches of a ride, with 90 % bands.

    from_m, to_m : metres along the ride, shape (k,), without gaps, in riding order
    """
    pace, log_sd = mean_pace_s_m(inputs, rider_of(trip))
    speed = 3.6 / pace
    time_s = (to_m - from_m) * pace
    low_s, high_s = total_band_s(time_s, log_sd, MODEL.correlation)
    return Speeds(
        from_m=from_m,
        to_m=to_m,
        speed_kph=speed,
        low_kph=speed * np.exp(-Z90 * log_sd),
        high_kph=speed * np.exp(Z90 * log_sd),
        time_s=time_s,
        start_s=np.append(0.0, np.cumsum(time_s))[:-1],
        total_low_s=low_s,
        total_high_s=high_s,
    )


def ride_bend_deg_km(
    lon: FloatArray, lat: FloatArray, at_m: FloatArray, from_m: FloatArray, to_m: FloatArray
) -> FloatArray:
    """Degrees turned per km within each stretch of the ride line, shape (k,)."""
    turned = sum_between(turn_deg(lon, lat), at_m, from_m, to_m)
    return 1000.0 * turned / np.maximum(to_m - from_m, SHORTEST_BEND_M)
