"""Formulas for riding speed on arrays: bends, steepness, mixtures of grounds, bands."""

from __future__ import annotations

import numpy as np

from terrain.values.arrays import FloatArray, IntArray

Z90 = 1.6449  # half-width of a two-sided 90 % interval, in standard deviations


def turn_deg(lon: FloatArray, lat: FloatArray) -> FloatArray:
    """How much a line turns at each of its points [deg, 0..180], shape (n,).

    The ends, and points where one of the two sides has no length, turn by 0. Headings are taken
    on a local plane, good to a fraction of a degree for the short segments of roads.
    """
    out = np.zeros(len(lon))
    if len(lon) < 3:
        return out
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
    steep = np.maximum(np.abs(np.nan_to_num(grade_pct, nan=0.0)) - free_pct, 0.0)
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


def total_band_s(time_s: FloatArray, log_sd: FloatArray, correlation: float) -> tuple[float, float]:
    """90 % band of a sum of lognormal times that are partly correlated [s]."""
    total = float(np.sum(time_s))
    if total <= 0.0:
        return 0.0, 0.0
    sd = time_s * log_sd
    variance = correlation * float(np.sum(sd)) ** 2 + (1.0 - correlation) * float(np.sum(sd**2))
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
