"""Parts of a ride as lines."""

from __future__ import annotations

import numpy as np
import shapely

from terrain.values.arrays import FloatArray
from terrain.values.match import Match


def ride_coords(match: Match, from_m: float, to_m: float) -> FloatArray:
    """lon, lat [deg] of the ride from one position to another, shape (n, 2), n >= 2."""
    inside = (match.at_m > from_m) & (match.at_m < to_m)
    at_m = np.concatenate([[from_m], match.at_m[inside], [to_m]])
    lon = np.interp(at_m, match.at_m, match.lon)
    lat = np.interp(at_m, match.at_m, match.lat)
    return np.column_stack([lon, lat])


def ride_part(match: Match, from_m: float, to_m: float) -> shapely.LineString:
    """The ride from one position to another."""
    return shapely.LineString(ride_coords(match, from_m, to_m))
