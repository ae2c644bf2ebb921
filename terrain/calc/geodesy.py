"""Distances on the WGS 84 ellipsoid, for lines whose points lie close together."""

from __future__ import annotations

import math

import numpy as np
from numba import njit

from terrain.values.arrays import FloatArray

# WGS 84, by definition: NIMA TR8350.2, table 3.1 (clause from memory).
WGS84_A_M = 6_378_137.0
WGS84_E2 = 6.694_379_990_141e-3


@njit(cache=True, nogil=True, inline="always")
def metres_per_degree(lat_deg: float) -> tuple[float, float]:
    """Metres in one degree of longitude and of latitude at a latitude.

    Returns: (east, north) [m per deg], from the prime vertical and meridional radii.
    Source: WGS 84 (NIMA TR8350.2), radii of curvature of the ellipsoid.
    """
    lat = math.radians(lat_deg)
    w2 = 1.0 - WGS84_E2 * math.sin(lat) ** 2
    w = math.sqrt(w2)
    prime_m = WGS84_A_M / w
    meridian_m = WGS84_A_M * (1.0 - WGS84_E2) / (w2 * w)
    return prime_m * math.cos(lat) * math.pi / 180.0, meridian_m * math.pi / 180.0


def steps_m(lon: FloatArray, lat: FloatArray) -> FloatArray:
    """Length of each step of a line [m], shape (n - 1,).

    lon, lat : WGS 84 [deg], shape (n,)
    Steps up to 20 km are flat to 1 part in 100,000 (radii at the mid latitude); longer ones are
    geodesics. NaN stays NaN.
    """
    lon, lat = np.asarray(lon, dtype=float), np.asarray(lat, dtype=float)
    return between_m(lon[:-1], lat[:-1], lon[1:], lat[1:])


_MOST_M_PER_DEGREE = 111_700.0  # of latitude at the poles, WGS 84; by definition


def steps_within(lon: FloatArray, lat: FloatArray, limit_m: float) -> bool:
    """True only if no step of a line is longer; a cheap bound, which may miss that none is."""
    most_deg = limit_m / _MOST_M_PER_DEGREE
    return bool(_most_step(lon) + _most_step(lat) <= most_deg)


def _most_step(degrees: FloatArray) -> float:
    return float(np.abs(np.diff(degrees)).max(initial=0.0))


def between_m(
    from_lon: FloatArray, from_lat: FloatArray, to_lon: FloatArray, to_lat: FloatArray
) -> FloatArray:
    """Distance of each pair of points [m], shape (n,); as exact as `steps_m`.

    All WGS 84 [deg], shape (n,).
    """
    mid = np.radians((to_lat + from_lat) / 2)
    w2 = 1.0 - WGS84_E2 * np.sin(mid) ** 2
    east = np.radians(to_lon - from_lon) * np.cos(mid) * WGS84_A_M / np.sqrt(w2)
    north = np.radians(to_lat - from_lat) * WGS84_A_M * (1.0 - WGS84_E2) / w2**1.5
    apart: FloatArray = np.hypot(east, north)
    far = apart > 20_000.0
    if far.any():
        from pyproj import Geod

        _, _, exact = Geod(ellps="WGS84").inv(
            from_lon[far], from_lat[far], to_lon[far], to_lat[far]
        )
        apart[far] = exact
    return apart


def along_m(lon: FloatArray, lat: FloatArray) -> FloatArray:
    """Distance of each point from the line's start [m], shape (n,)."""
    return np.concatenate([[0.0], np.cumsum(steps_m(lon, lat))])
