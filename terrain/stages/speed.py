"""Riding speed: of every edge of a road graph, and of every stretch of a ride."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from terrain.calc.speed import (
    Z90,
    grade_share,
    mix_pace_s_m,
    pace_with_bends_s_m,
    sum_between,
    total_band_s,
    turn_deg,
)
from terrain.tables.speed import (
    BREAKDOWN_VAN,
    FERRY_KPH,
    LUGGAGE_FACTORS,
    MODEL,
    PILLION_FACTORS,
    RIDER_FACTORS,
    RIDER_TOP_KPH,
    ROAD_CLASS_SPEEDS,
    UNKNOWN_CLASS,
    UNMAPPED_P,
    Traveller,
)
from terrain.values.arrays import BoolArray, FloatArray, Int16Array
from terrain.values.speed import Speeds
from terrain.values.trip import Trip
from terrain.values.views import RoadsView, WayFlag

__all__ = [
    "BREAKDOWN_VAN",
    "SpeedInputs",
    "edge_speed_kph",
    "judge_speed",
    "ride_bend_deg_km",
    "rider_of",
    "way_ferry_kph",
]

_SHORTEST_BEND_M = 60.0  # an edge shorter than this is bent over at least this length


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SpeedInputs:
    """What speed depends on, one row per edge or stretch, shape (k,). NaN: not known.

    highway : index into highway_values, -1 off the map; p : (k, 3) paved, gravel, track,
        NaN rows where nothing is known; severity 0..1; bend_deg_km degrees turned per km
    settled : inside a settlement; ferry, ferry_kph : on a ferry, and its speed
    """

    highway: Int16Array
    highway_values: tuple[str, ...]
    maxspeed_kph: FloatArray
    p: FloatArray
    severity: FloatArray
    grade_pct: FloatArray
    bend_deg_km: FloatArray
    settled: BoolArray
    ferry: BoolArray
    ferry_kph: FloatArray


def rider_of(trip: Trip) -> Traveller:
    """The trip's rider with pillion and luggage, as factors on speed."""
    pillion = PILLION_FACTORS if trip.pillion else (1.0, 1.0, 1.0)
    luggage = LUGGAGE_FACTORS[trip.luggage.value]
    a, b, c = (
        r * p * g for r, p, g in zip(RIDER_FACTORS[trip.rider.value], pillion, luggage, strict=True)
    )
    return Traveller(name=f"{trip.rider.value} rider", factor=(a, b, c), top_kph=RIDER_TOP_KPH)


def edge_speed_kph(
    roads: RoadsView,
    p: FloatArray,
    *,
    traveller: Traveller,
    severity: FloatArray | None = None,
    grade_pct: FloatArray | None = None,
) -> FloatArray:
    """Plausible mean moving speed on every edge of the graph [km/h], shape (e,), never NaN.

    p : ground probabilities per way, shape (w, 3), NaN rows where not known
    severity : per way 0..1, shape (w,); grade_pct : per edge, shape (e,); None if not known
    Says nothing of whether the traveller may or can pass. Ferries get the speed of their
    crossing time.
    """
    way = roads.edge_way
    e = roads.n_edges
    no_value = np.full(e, np.nan)
    ferry = (roads.ways.flags[way] & WayFlag.FERRY) != 0
    inputs = SpeedInputs(
        highway=roads.ways.highway.codes[way],
        highway_values=roads.ways.highway.values,
        maxspeed_kph=roads.ways.maxspeed_kph[way].astype(np.float64),
        p=np.asarray(p, dtype=np.float64)[way],
        severity=no_value if severity is None else np.asarray(severity, dtype=np.float64)[way],
        grade_pct=no_value if grade_pct is None else np.asarray(grade_pct, dtype=np.float64),
        bend_deg_km=_edge_bend_deg_km(roads),
        settled=np.zeros(e, dtype=np.bool_),
        ferry=ferry,
        ferry_kph=way_ferry_kph(roads)[way],
    )
    pace, _ = _pace_s_m(inputs, traveller)
    return 3.6 / pace


def judge_speed(from_m: FloatArray, to_m: FloatArray, *, inputs: SpeedInputs, trip: Trip) -> Speeds:
    """Speeds and riding times of the stretches of a ride, with 90 % bands.

    from_m, to_m : metres along the ride, shape (k,), without gaps, in riding order
    """
    pace, log_sd = _pace_s_m(inputs, rider_of(trip))
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
    return 1000.0 * turned / np.maximum(to_m - from_m, _SHORTEST_BEND_M)


def _pace_s_m(inputs: SpeedInputs, traveller: Traveller) -> tuple[FloatArray, FloatArray]:
    """Mean pace [s/m] and the standard deviation of its logarithm, shape (k,)."""
    p = np.where(np.isnan(inputs.p).any(axis=1, keepdims=True), np.array(UNMAPPED_P), inputs.p)
    free = _class_speed_kph(inputs.highway, inputs.highway_values)
    pace = np.empty_like(free)
    for g in range(3):
        kph = _within_limits_kph(free[:, g], inputs, sealed=g == 0)
        severity = np.nan_to_num(inputs.severity, nan=MODEL.severity_usual[g])
        kph = kph * (1.0 - MODEL.severity_loss[g] * np.clip(severity, 0.0, 1.0))
        kph = kph * grade_share(
            inputs.grade_pct, MODEL.grade_free_pct[g], MODEL.grade_loss_pct[g], MODEL.grade_least
        )
        kph = np.clip(kph * traveller.factor[g], MODEL.slowest_kph, traveller.top_kph)
        pace[:, g] = pace_with_bends_s_m(kph, inputs.bend_deg_km, MODEL.bend_s_deg)
    mean, log_sd = mix_pace_s_m(p, pace, MODEL.spread)
    ferry_kph = np.nan_to_num(inputs.ferry_kph, nan=FERRY_KPH)
    return np.where(inputs.ferry, 3.6 / ferry_kph, mean), log_sd


def _within_limits_kph(free_kph: FloatArray, inputs: SpeedInputs, *, sealed: bool) -> FloatArray:
    """The class's speed held under the posted limit and the pace of settlements."""
    limit = np.where(inputs.maxspeed_kph > 0, inputs.maxspeed_kph * MODEL.limit_share, np.nan)
    if sealed:
        # A posted limit far above the class's usual speed tells of a better road.
        free_kph = np.fmax(free_kph, MODEL.better_road_share * limit)
    kph = np.fmin(free_kph, limit)
    return np.where(inputs.settled, np.minimum(kph, MODEL.settled_kph), kph)


def _class_speed_kph(codes: Int16Array, values: tuple[str, ...]) -> FloatArray:
    rows = {r.highway: r for r in ROAD_CLASS_SPEEDS}
    # Code -1 (no class) picks the last row.
    table = [rows.get(v, UNKNOWN_CLASS) for v in values] + [UNKNOWN_CLASS]
    speeds = np.array([(r.paved_kph, r.gravel_kph, r.track_kph) for r in table], dtype=np.float64)
    rows_of: FloatArray = speeds[np.asarray(codes, dtype=np.intp)]
    return rows_of


def _edge_bend_deg_km(roads: RoadsView) -> FloatArray:
    turn = turn_deg(roads.pt_lon, roads.pt_lat)
    turn[roads.edge_start[:-1]] = 0.0
    turn[roads.edge_start[1:] - 1] = 0.0
    turned = np.add.reduceat(turn, roads.edge_start[:-1]) if roads.n_edges else turn[:0]
    return 1000.0 * turned / np.maximum(roads.edge_length_m, _SHORTEST_BEND_M)


def way_ferry_kph(roads: RoadsView) -> FloatArray:
    """Speed of each way by its tagged crossing time, 1..80 km/h; NaN where not tagged.

    A crossing time in the wrong unit is kept within what ferries do; common practice, no source.
    """
    length = np.bincount(roads.edge_way, weights=roads.edge_length_m, minlength=len(roads.ways))
    crossing_s = roads.ways.ferry_s.astype(np.float64)
    kph = np.full(len(length), np.nan)
    known = (crossing_s > 0) & (length > 0)
    kph[known] = 3.6 * length[known] / crossing_s[known]
    per_way: FloatArray = np.clip(kph, 1.0, 80.0)
    return per_way
