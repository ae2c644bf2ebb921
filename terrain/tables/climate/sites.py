"""What the climate grids say of places: sampled at a position and height."""

from __future__ import annotations

from functools import cache, lru_cache
from typing import Any

import numpy as np
from numpy.typing import NDArray

from terrain.calc.climate import LAPSE_K_M, Site, bilinear, monthly_vapour_g_m3
from terrain.tables.climate.grids import (
    RHO_PERCENTS,
    SEA_ROWS,
    SOUTH_DEG,
    ClimateGrids,
    climate_grids,
)
from terrain.values.arrays import FloatArray, IntArray

# The mean radius is that of the GRS 80 ellipsoid (Moritz 2000, from memory); the others are ours:
# common practice, no source.
_EARTH_KM = 6371.0
_MANY = 5_000  # spots that one by one are slower to look through than a tree is to load
_BAND_DEG = 3.0  # of latitude, on each side of a ride, in which the sea is looked for first
_ALL_SEA = 0.95  # share of sea from which a node counts as sea


def rain_mm_by_month(lon: FloatArray, lat: FloatArray) -> FloatArray:
    """Mean rain of each month [mm], shape (n, 12); NaN where the map has none (far at sea).

    Source: ITU-R P.837-7, half-degree means.
    """
    return _rain_mm(climate_grids(), _lon180(lon), np.asarray(lat, dtype=np.float64))


def temp_c_by_month(lon: FloatArray, lat: FloatArray, ele_m: FloatArray) -> FloatArray:
    """Mean temperature of each month at a height [C], shape (n, 12); NaN where it is not known.

    Source: ITU-R P.1510 monthly means, brought to `ele_m` at 6.5 K per km from the mean height
    of the country round the place. Nothing of the coast or the hillside is in it.
    """
    grids, lat = climate_grids(), np.asarray(lat, dtype=np.float64)
    node = ((lat - SOUTH_DEG) / 0.75, (_lon180(lon) + 180.0) / 0.75)
    above_m = np.asarray(ele_m, dtype=np.float64) - bilinear(grids.terrain_m, *node)
    return np.asarray(bilinear(grids.temp_c, *node).T - LAPSE_K_M * above_m[:, None])


def _lon180(lon: FloatArray) -> FloatArray:
    return (np.asarray(lon, dtype=np.float64) + 180.0) % 360.0 - 180.0


def _rain_mm(grids: ClimateGrids, lon: FloatArray, lat: FloatArray) -> FloatArray:
    column = (lon + 180.0 - 0.25) / 0.5
    return bilinear(grids.rain_mm, (lat - SOUTH_DEG - 0.25) / 0.5, column, wraps=True).T


@lru_cache(maxsize=4)
def _coast(first: int, end: int) -> FloatArray:
    """Sea cells next to land in some rows, as points on the unit sphere."""
    above = min(first, 1)  # rows beside them tell too
    sea = climate_grids().sea(first - above, end + 1)
    land_near = ~(np.roll(sea, 1, axis=1) & np.roll(sea, -1, axis=1))
    land_near[1:] |= ~sea[:-1]
    land_near[:-1] |= ~sea[1:]
    rows, columns = np.nonzero((sea & land_near)[above : above + end - first])
    return _unit(-180.0 + (columns + 0.5) / 12.0, 90.0 - (first + rows + 0.5) / 12.0)


def _sea_km(lat: FloatArray, point: FloatArray) -> FloatArray:
    """How far the sea is, shape (n,): looked for near by, and all over the world if it is not."""
    far = np.full(len(point), np.inf)
    for band_deg in (_BAND_DEG, 180.0):
        north, south = lat.max(initial=-90.0) + band_deg, lat.min(initial=90.0) - band_deg
        first, end = (int(12.0 * (90.0 - edge)) for edge in (north, south))
        coast = _coast(max(first, 0), min(end + 1, SEA_ROWS))
        if len(coast):
            far = _nearest(coast, point, 1)[0][:, 0]
            # What lies outside the band is farther away than it is wide.
            if (far <= 2.0 * np.sin(np.radians(band_deg) / 2.0)).all():
                break
    return _EARTH_KM * far


@cache
def _open_sea() -> tuple[FloatArray, IntArray, IntArray]:
    """Nodes of sea: their points, rows and columns."""
    rows, columns = np.nonzero(climate_grids().sea_share[:, :] > _ALL_SEA)
    return _unit(-180.0 + 0.75 * columns, SOUTH_DEG + 0.75 * rows), rows, columns


def _seas_of_latitude_c(grids: ClimateGrids, row: FloatArray) -> FloatArray:
    """Monthly means of all sea, of all places where there is none, at fractional rows of nodes,
    shape (12, n)."""
    last = grids.temp_c.shape[1] - 1
    near = np.unique(np.clip([np.floor(row), np.floor(row) + 1.0], 0, last).astype(np.intp))
    sea, all_c = grids.sea_share[near, :] > _ALL_SEA, grids.temp_c[:, near, :]
    count = sea.sum(axis=1)
    total = np.where(sea, all_c, 0.0).sum(axis=2)
    mean = np.where(count > 0, total / np.maximum(count, 1), all_c.mean(axis=2))
    return np.array([np.interp(row, near, month) for month in mean.astype(np.float64)])


def _nearest(spots: FloatArray, point: FloatArray, k: int) -> tuple[FloatArray, IntArray]:
    """The k spots nearest to each point and how far they are, nearest first, shape (n, k).

    spots, point : on the unit sphere, shape (s, 3) and (n, 3)
    Points lie close together next to the world, so few spots can be nearest to any of them.
    """
    far, found = np.empty((len(point), k)), np.empty((len(point), k), np.int64)
    if not len(point):
        return far, found
    middle = point.mean(axis=0)
    away = np.linalg.norm(spots - middle, axis=1)
    farthest = np.linalg.norm(point - middle, axis=1).max()
    near = np.flatnonzero(away <= np.partition(away, k - 1)[k - 1] + 2.0 * farthest)
    if len(near) > _MANY:
        from scipy.spatial import cKDTree  # points all over the world; no ride is that long

        their_far, theirs = cKDTree(spots).query(point, k=range(1, k + 1))
        return np.asarray(their_far), np.asarray(theirs, dtype=np.int64)
    for i, here in enumerate(point):
        apart = np.linalg.norm(spots[near] - here, axis=1)
        best = np.argpartition(apart, k - 1)[:k]
        best = best[np.argsort(apart[best], kind="stable")]
        far[i], found[i] = apart[best], near[best]
    return far, found


def _unit(lon: NDArray[Any], lat: NDArray[Any]) -> FloatArray:
    lam, phi = np.radians(lon), np.radians(lat)
    return np.stack([np.cos(phi) * np.cos(lam), np.cos(phi) * np.sin(lam), np.sin(phi)], axis=1)


def site_of(lon: FloatArray, lat: FloatArray, ele_m: FloatArray) -> Site:
    """What the maps say of n places; a NaN height becomes the mean height of the country."""
    grids = climate_grids()
    lon = _lon180(lon)
    node = ((lat - SOUTH_DEG) / 0.75, (lon + 180.0) / 0.75)
    quarter = ((lat - SOUTH_DEG) / 0.25, (lon + 180.0) / 0.25)
    temp = bilinear(grids.temp_c, *node)
    terrain = bilinear(grids.terrain_m, *node)
    ele_m = np.where(np.isnan(ele_m), terrain, ele_m)
    rain = _rain_mm(grids, lon, lat)
    point = _unit(lon, lat)
    sea_km = _sea_km(lat, point)
    nodes, rows, columns = _open_sea()
    far, nearest = _nearest(nodes, point, 4)
    share = 1.0 / np.maximum(far, 0.01)
    sea_temp = grids.temp_c[:, rows[nearest], columns[nearest]].astype(np.float64)
    near_temp = (sea_temp * share).sum(axis=2) / share.sum(axis=1)
    return Site(
        lat=lat,
        ele_m=ele_m,
        temp_c=temp.T,
        terrain_m=terrain,
        rain_mm=rain,
        low_m=bilinear(grids.low_m, *quarter),
        high_m=bilinear(grids.high_m, *quarter),
        sea_m=1000.0 * sea_km,
        sea_share=bilinear(grids.sea_share, *node),
        sea_temp_c=near_temp.T,
        sea_anomaly_c=(near_temp - _seas_of_latitude_c(grids, node[0])).T,
        rho_g_m3=_vapour_g_m3(grids, lon, lat, ele_m, temp.T, terrain, rain),
    )


def _vapour_g_m3(
    grids: ClimateGrids,
    lon: FloatArray,
    lat: FloatArray,
    ele_m: FloatArray,
    temp_c: FloatArray,
    terrain_m: FloatArray,
    rain_mm: FloatArray,
) -> FloatArray:
    at = ((90.0 - lat) / 1.125, (lon % 360.0) / 1.125)
    # As in P.836: each corner is brought to the wanted height, then the corners are averaged.
    quantiles = vapour_quantiles(grids, *at, ele_m)
    here = temp_c + LAPSE_K_M * (terrain_m - ele_m)[:, None]
    return monthly_vapour_g_m3(quantiles, RHO_PERCENTS, here, np.nan_to_num(rain_mm, nan=60.0))


def vapour_quantiles(
    grids: ClimateGrids, row: FloatArray, column: FloatArray, ele_m: FloatArray
) -> FloatArray:
    """Densities exceeded for RHO_PERCENTS of the year at each height [g/m3], shape (p, n)."""
    r = np.clip(row.astype(np.intp), 0, grids.scale_km.shape[1] - 2)
    c = np.clip(column.astype(np.intp), 0, grids.scale_km.shape[2] - 2)
    fr, fc = row - r, column - c
    out = np.zeros((len(grids.rho_g_m3), len(row)))
    for dr, dc, w in (
        (0, 0, (1 - fr) * (1 - fc)),
        (0, 1, (1 - fr) * fc),
        (1, 0, fr * (1 - fc)),
        (1, 1, fr * fc),
    ):
        above_km = (ele_m - grids.rho_height_m[r + dr, c + dc]) / 1000.0
        fall = np.exp(-above_km / grids.scale_km[:, r + dr, c + dc])
        out += w * grids.rho_g_m3[:, r + dr, c + dc] * fall
    return out
