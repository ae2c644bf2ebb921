"""Riding speed and time of every stretch of a ride."""

from __future__ import annotations

import numpy as np

from terrain.stages.places.settled import settled_at
from terrain.stages.speed.edges import way_ferry_kph
from terrain.stages.speed.pace import (
    SHORTEST_BEND_M,
    USUAL_RIDER,
    Z90,
    SpeedInputs,
    ground_pace_s_m,
    mean_pace_s_m,
    rider_of,
    shared_of,
    sum_between,
    total_band_s,
    turn_deg,
)
from terrain.tables.ground_severity import RULES
from terrain.values.arrays import BoolArray, FloatArray, IntArray
from terrain.values.ground import Basis, Ground, GroundKind, Severity
from terrain.values.match import Match
from terrain.values.relief import Relief
from terrain.values.ride import Ride, Speeds, ride_of
from terrain.values.trip import Trip
from terrain.values.views import PlacesView, RoadsView

_STREETS = ("residential", "living_street")


def judge_speed(
    match: Match,
    ground: Ground,
    relief: Relief,
    places: PlacesView,
    roads: RoadsView,
    *,
    trip: Trip,
) -> Ride:
    """The ride: ground, grade, speed and riding time of each stretch."""
    stretches = ground.stretches
    from_m = np.array([s.from_m for s in stretches])
    to_m = np.array([s.to_m for s in stretches])
    grade_pct = relief.grade_between(from_m, to_m)
    way = np.array([s.way for s in stretches], dtype=np.int64)
    on_map = way >= 0  # off it the row is -1, and what stands there not taken
    nan = (np.nan, np.nan, np.nan)
    severity = [np.nan if s.severity is None else int(s.severity) for s in stretches]
    ferry = np.array([s.ground is GroundKind.FERRY for s in stretches])
    streets = np.array([s.highway in _STREETS for s in stretches])
    inputs = SpeedInputs(
        highway=np.where(on_map, roads.ways.highway.codes[way], -1).astype(np.int16),
        highway_values=roads.ways.highway.values,
        maxspeed_kph=np.where(on_map, roads.ways.maxspeed_kph[way], np.nan).astype(np.float64),
        p=np.array([s.p or nan for s in stretches], dtype=np.float64).reshape(len(stretches), 3),
        severity=np.array(severity) / float(max(Severity)),
        grade_pct=grade_pct,
        bend_deg_km=ride_bend_deg_km(match.lon, match.lat, match.at_m, from_m, to_m),
        settled=settled_at(match, places, (from_m + to_m) / 2) | streets,
        ferry=ferry,
        ferry_kph=np.where(ferry & on_map, way_ferry_kph(roads)[way], np.nan)
        if ferry.any()
        else np.full(len(way), np.nan),
    )
    guessed = np.array([s.basis is Basis.INFERRED for s in stretches], dtype=np.bool_)
    speeds = stretch_speeds(from_m, to_m, inputs=inputs, guessed=guessed, trip=trip)
    return ride_of(match, ground, speeds, np.where(ferry, np.nan, grade_pct))


def way_speeds(
    roads: RoadsView,
    way: IntArray,
    length_m: FloatArray,
    p: FloatArray,
    severity: FloatArray,
    guessed: BoolArray,
    *,
    trip: Trip,
) -> Speeds:
    """Speed by class, ground and severity alone of ways nobody rode, one after the other.

    way : rows, shape (k,); length_m on each; p : (k, 3); severity 0..5; guessed : see
    `stretch_speeds`
    """
    n = len(way)
    ends = np.r_[0.0, np.cumsum(length_m)]
    inputs = SpeedInputs(
        highway=roads.ways.highway.codes[way].astype(np.int16),
        highway_values=roads.ways.highway.values,
        maxspeed_kph=roads.ways.maxspeed_kph[way].astype(np.float64),
        p=p,
        severity=np.asarray(severity / float(max(Severity))),
        grade_pct=np.full(n, np.nan),
        bend_deg_km=np.zeros(n),
        settled=np.zeros(n, dtype=np.bool_),
        ferry=np.zeros(n, dtype=np.bool_),
        ferry_kph=np.full(n, np.nan),
    )
    return stretch_speeds(ends[:-1], ends[1:], inputs=inputs, guessed=guessed, trip=trip)


def stretch_speeds(
    from_m: FloatArray,
    to_m: FloatArray,
    *,
    inputs: SpeedInputs,
    trip: Trip,
    guessed: BoolArray | bool = False,
) -> Speeds:
    """Speeds and riding times of the stretches of a ride, with 90 % bands.

    from_m, to_m : metres along the ride, shape (k,), without gaps, in riding order
    guessed : whose severity is that of a guessed ground, shape (k,)
    """
    rider = rider_of(trip)
    pace, log_sd = mean_pace_s_m(inputs, rider)
    usual, _ = mean_pace_s_m(inputs, USUAL_RIDER)
    as_hard = np.where(
        np.reshape(guessed, (-1, 1)),
        np.array(RULES.usual) / float(max(Severity)),
        inputs.severity[:, None],
    )
    on_each = ground_pace_s_m(inputs, USUAL_RIDER, as_hard)
    speed = 3.6 / pace
    time_s = (to_m - from_m) * pace
    low_s, high_s = total_band_s(time_s, log_sd, shared_of(inputs, rider, log_sd), rider.ten_min_sd)
    return Speeds(
        from_m=from_m,
        to_m=to_m,
        speed_kph=speed,
        low_kph=speed * np.exp(-Z90 * log_sd),
        high_kph=speed * np.exp(Z90 * log_sd),
        time_s=time_s,
        usual_s=(to_m - from_m) * usual,
        ground_s=(to_m - from_m)[:, None] * on_each,
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
