"""The drawn line made ready for matching: steadied if it shakes, without needless points."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from terrain.calc.candidates import SegmentGrid, near_positions
from terrain.calc.geodesy import steps_m
from terrain.calc.thinning import shake_m, smooth_line, thin_line
from terrain.stages.matching.params import MatchParams
from terrain.values.arrays import BoolArray, FloatArray, IntArray, even_rows

# Metres in a degree for spreads and spacings, where a part in a hundred does not matter.
_EAST_M, _NORTH_M = 111_320.0, 110_574.0
_SAMPLES = 300  # points of a line that tell how far it lies from the map
_SAMPLE_RADIUS_M = 60.0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Line:
    """The points of a line that are matched.

    lon, lat : steadied [deg], shape (n,); index : their places in the drawn line
    sigma_m : spread of the points about their ways
    gap_m : straight distance to the next point, shape (n - 1,)
    bare : whether the drawn line itself has a gap on the way to the next point; shape (n - 1,)
    """

    lon: FloatArray
    lat: FloatArray
    index: IntArray
    sigma_m: float
    gap_m: FloatArray
    bare: BoolArray


def wrapped(lon: FloatArray, grid: SegmentGrid) -> FloatArray:
    """Longitudes within half a turn of the middle of a region, or as the whole world has them."""
    west = grid.west + min(0.0, 0.5 * grid.cols * grid.step_lon - 180.0)
    return lon - 360.0 * np.floor((lon - west) / 360.0)


def prepared(lon: FloatArray, lat: FloatArray, grid: SegmentGrid, params: MatchParams) -> Line:
    """The points of a drawn line that are worth matching."""
    lon, lat = _steadied(lon, lat, params)
    n = len(lon)
    sample = even_rows(n, _SAMPLES)
    sigma = _spread_m(lon[sample], lat[sample], grid, params)
    tolerance = max(params.thin_m, params.thin_sigmas * sigma)
    keep = np.flatnonzero(thin_line(lon, lat, tolerance, params.longest_m))
    if sigma > params.sigma_least_m:
        keep = _spaced(lon, lat, keep, params.apart_sigmas * sigma)
    x, y = lon[keep], lat[keep]
    # Points near a gap in the line may be left out as too close to others.
    widest = np.maximum.reduceat(steps_m(lon, lat), keep[:-1])
    bare = widest >= params.middle_m
    return Line(lon=x, lat=y, index=keep, sigma_m=sigma, gap_m=steps_m(x, y), bare=bare)


def _spread_m(lon: FloatArray, lat: FloatArray, grid: SegmentGrid, params: MatchParams) -> float:
    """Spread of the line about its ways, from the median distance to the nearest one."""
    radius = np.full(len(lon), _SAMPLE_RADIUS_M)
    near = near_positions(wrapped(lon, grid), lat, radius, 1, grid)
    has = near.start[1:] > near.start[:-1]
    if not has.any():
        return params.sigma_most_m
    least = np.minimum.reduceat(near.dist_m, near.start[:-1][has])
    sigma = params.sigma_factor * float(np.median(least))
    return min(max(sigma, params.sigma_least_m), params.sigma_most_m)


def _steadied(
    lon: FloatArray, lat: FloatArray, params: MatchParams
) -> tuple[FloatArray, FloatArray]:
    """The line with the shaking of a recording smoothed out, if it shakes."""
    kx, ky = _EAST_M * float(np.cos(np.radians(lat.mean()))), _NORTH_M
    x, y = (lon - lon[0]) * kx, (lat - lat[0]) * ky
    shake = shake_m(x, y)
    step = np.hypot(np.diff(x), np.diff(y))
    spacing = float(np.median(step)) if len(step) else 0.0
    if shake < params.shake_least_m or not 0.0 < spacing <= params.shake_spacing_m:
        return lon, lat
    # The shaking itself lengthens each step; a straight line's step is what is left.
    true_step = np.sqrt(max(spacing**2 - 4.0 * shake**2, (0.3 * spacing) ** 2))
    even = np.minimum(step, 3.0 * spacing) * (true_step / spacing)
    # What lies beyond a break in the recording is no neighbour.
    even = np.where(step > params.middle_m + 3.0 * spacing, step, even)
    along = np.concatenate([[0.0], np.cumsum(even)])
    width = max(params.smooth_width * shake, params.smooth_spacings * spacing)
    sx, sy = smooth_line(x, y, along, width)
    return lon[0] + sx / kx, lat[0] + sy / ky


def _spaced(lon: FloatArray, lat: FloatArray, keep: IntArray, least_m: float) -> IntArray:
    """Leave out points closer than least_m (straight) to the last one kept."""
    kx, ky = _EAST_M * float(np.cos(np.radians(lat[keep[0]]))), _NORTH_M
    x, y = (lon[keep] * kx).tolist(), (lat[keep] * ky).tolist()
    kept = [0]
    for i in range(1, len(keep) - 1):
        j = kept[-1]
        if (x[i] - x[j]) ** 2 + (y[i] - y[j]) ** 2 >= least_m * least_m:
            kept.append(i)
    if len(keep) > 1:
        kept.append(len(keep) - 1)
    return keep[kept]
