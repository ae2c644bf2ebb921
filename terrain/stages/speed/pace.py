"""Formulas for riding speed on arrays: bends, steepness, mixtures of grounds, bands."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from terrain.tables.common import UNMAPPED_P
from terrain.tables.speed import (
    FERRY_KPH,
    LUGGAGE_FACTORS,
    MODEL,
    PILLION_FACTORS,
    RIDER_FACTORS,
    RIDER_TOP_KPH,
    ROAD_CLASS_SPEEDS,
    UNKNOWN_CLASS,
    Traveller,
)
from terrain.values.arrays import BoolArray, FloatArray, Int16Array, IntArray
from terrain.values.trip import Trip

Z90 = 1.6449  # half-width of a two-sided 90 % interval, in standard deviations, by definition


def turn_deg(lon: FloatArray, lat: FloatArray) -> FloatArray:
    """How much a line turns at each of its points [deg, 0..180], shape (n,).

    The ends, and points where one of the two sides has no length, turn by 0. Headings are taken
    on a local plane, good to a fraction of a degree for the short segments of roads.
    """
    out = np.zeros(len(lon))
    d_lat = np.diff(lat)
    d_lon = np.diff(lon) * np.cos(np.radians(0.5 * (lat[1:] + lat[:-1])))
    heading = np.arctan2(d_lon, d_lat)
    has_length = (d_lat != 0.0) | (d_lon != 0.0)
    change = np.abs((np.diff(heading) + np.pi) % (2.0 * np.pi) - np.pi)
    change[~(has_length[1:] & has_length[:-1])] = 0.0
    out[1:-1] = np.degrees(change)
    return out


def grade_share(
    grade_pct: FloatArray, free_pct: float, loss_pct: float, least: float
) -> FloatArray:
    """The share of speed that a grade leaves, up or down alike; NaN grade leaves all of it."""
    steep = np.maximum(np.abs(np.nan_to_num(grade_pct)) - free_pct, 0.0)
    return np.maximum(1.0 - steep * loss_pct / 100.0, least)


def pace_with_bends_s_m(free_kph: FloatArray, bend_deg_km: FloatArray, s_deg: float) -> FloatArray:
    """Seconds per metre on a bendy road: the straight road's pace plus a loss per degree turned.

    The form is that of operating-speed models on curvature change rate, in which pace grows
    linearly with the angle turned per length: V85 = 1e6 / (8270 + 8.01 CCR) km/h with CCR in
    gon/km (Lamm et al. 1999, German two-lane roads; from memory), which is 0.032 s per degree.
    """
    return 3.6 / free_kph + np.maximum(bend_deg_km, 0.0) * s_deg / 1000.0


def mix_pace_s_m(
    p: FloatArray, pace_s_m: FloatArray, spread: tuple[float, float, float]
) -> tuple[FloatArray, FloatArray]:
    """Mean pace over uncertain ground, and the standard deviation of its logarithm.

    p, pace_s_m : shape (k, 3), ground probabilities (sum 1) and the pace on each ground
    Returns: mean pace (k,) and log standard deviation (k,), by the moments of the mixture.
    """
    mean = np.sum(p * pace_s_m, axis=1)
    second = np.sum(p * pace_s_m**2 * (1.0 + np.square(spread)), axis=1)
    variance = np.maximum(second - mean**2, 0.0)
    return mean, np.sqrt(np.log1p(variance / mean**2))


def total_band_s(
    time_s: FloatArray,
    log_sd: FloatArray,
    correlation: FloatArray | float,
    ten_min_sd: float = 0.0,
) -> tuple[float, float]:
    """90 % band of a sum of lognormal times that are partly correlated [s].

    correlation : share of each variance that all have in common, one or shape (k,)
    ten_min_sd : further spread of the logarithm of each ten minutes, on its own
    """
    total = float(np.sum(time_s))
    if total <= 0.0:
        return 0.0, 0.0
    sd = time_s * log_sd
    common = float(np.sum(sd * np.sqrt(correlation))) ** 2
    variance = common + float(np.sum((1.0 - np.asarray(correlation)) * sd**2))
    variance += ten_min_sd**2 * 600.0 * total
    width = Z90 * float(np.sqrt(np.log1p(variance / total**2)))
    return total * float(np.exp(-width)), total * float(np.exp(width))


def sum_between(
    values: FloatArray, at_m: FloatArray, from_m: FloatArray, to_m: FloatArray
) -> FloatArray:
    """Sum of point values at positions in [from_m, to_m) for each span; at_m never falling."""
    running = np.append(0.0, np.cumsum(values))
    first: IntArray = np.searchsorted(at_m, from_m, side="left")
    last: IntArray = np.searchsorted(at_m, to_m, side="left")
    out: FloatArray = running[np.maximum(last, first)] - running[first]
    return out


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
        r * p * g for r, p, g in zip(RIDER_FACTORS[trip.skill.value], pillion, luggage, strict=True)
    )
    name = f"{trip.skill.value} rider"
    if trip.own_pace is None:
        return Traveller(name=name, factor=(a, b, c), top_kph=RIDER_TOP_KPH)
    return Traveller(
        name=name, factor=(a, b, c), top_kph=RIDER_TOP_KPH, pace=trip.own_pace.factor,
        spread=trip.own_pace.spread, ten_min_sd=trip.own_pace.ten_min_sd,
        source="the operator's own rides",
    )  # fmt: skip


#: By whose times the ground of a ride is weighed, whoever rides it.
USUAL_RIDER = rider_of(Trip())


def ground_pace_s_m(
    inputs: SpeedInputs, traveller: Traveller, severity_on: FloatArray | None = None
) -> FloatArray:
    """Pace [s/m] if it were paved, gravel, track, shape (k, 3).

    severity_on : how hard it would be as each, 0..1, shape (k, 3); that of the inputs if None
    """
    free = _class_speed_kph(inputs.highway, inputs.highway_values)
    pace = np.empty_like(free)
    for g in range(3):
        kph = _within_limits_kph(free[:, g], inputs, sealed=g == 0)
        told = inputs.severity if severity_on is None else severity_on[:, g]
        severity = np.nan_to_num(told, nan=MODEL.severity_usual[g])
        kph = kph * (1.0 - MODEL.severity_loss[g] * np.clip(severity, 0.0, 1.0))
        kph = kph * grade_share(
            inputs.grade_pct, MODEL.grade_free_pct[g], MODEL.grade_loss_pct[g], MODEL.grade_least
        )
        kph = np.clip(kph * traveller.factor[g], MODEL.slowest_kph, traveller.top_kph)
        pace[:, g] = pace_with_bends_s_m(kph, inputs.bend_deg_km, MODEL.bend_s_deg)
        pace[:, g] *= traveller.pace[g]
    return pace


def mean_pace_s_m(inputs: SpeedInputs, traveller: Traveller) -> tuple[FloatArray, FloatArray]:
    """Mean pace [s/m] and the standard deviation of its logarithm, shape (k,)."""
    p = np.where(np.isnan(inputs.p), UNMAPPED_P, inputs.p)
    mean, log_sd = mix_pace_s_m(p, ground_pace_s_m(inputs, traveller), _spread(traveller))
    ferry_kph = np.nan_to_num(inputs.ferry_kph, nan=FERRY_KPH)
    return np.where(inputs.ferry, 3.6 / ferry_kph, mean), log_sd


def _spread(traveller: Traveller) -> tuple[float, float, float]:
    """Spread of the logarithm of a stretch's pace by ground."""
    if traveller.spread is None:
        return MODEL.spread
    # What a ride shares is learned; what its stretches have of their own is the model's.
    own = [(1.0 - MODEL.correlation) * sd**2 for sd in MODEL.spread]
    a, b, c = (np.sqrt(v + sd**2) for v, sd in zip(own, traveller.spread, strict=True))
    return float(a), float(b), float(c)


def shared_of(inputs: SpeedInputs, traveller: Traveller, log_sd: FloatArray) -> FloatArray | float:
    """Share of each stretch's variance that the whole ride has in common, shape (k,)."""
    if traveller.spread is None:
        return MODEL.correlation
    p = np.where(np.isnan(inputs.p), UNMAPPED_P, inputs.p)
    ride = p @ np.square(traveller.spread)
    doubt = np.maximum(log_sd**2 - p @ np.square(_spread(traveller)), 0.0)  # of the ground
    shared = ride + MODEL.correlation * doubt
    out: FloatArray = np.minimum(shared / log_sd**2, 1.0)
    return out


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


# Common practice, no source.
SHORTEST_BEND_M = 60.0  # an edge shorter than this is bent over at least this length
