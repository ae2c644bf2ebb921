"""Which region a route lies in: by the region's box, then by its roads."""

from __future__ import annotations

import numpy as np

from terrain.calc.candidates import near_positions, segment_grid
from terrain.region.region import Region
from terrain.stages.matching.line import wrapped
from terrain.values.arrays import FloatArray, even_rows
from terrain.values.route import Route
from terrain.values.views import WayFlag

Bbox = tuple[float, float, float, float]

# A route may leave the mapped roads by a little, at a ferry or the coast [deg].
_SLACK_DEG = 0.02
_SAMPLES = 200
_NEAR_M = 150.0  # a drawn line is farther from its road only where the road is not mapped
_MOST = 8  # nearest positions looked at, lest a ferry hides the road to its quay


def holds(bbox: Bbox, route: Route) -> bool:
    """Whether a box holds the whole route, its longitudes told from either side of 180."""
    lon, lat = _placed(route)
    west, south, east, north = bbox
    return bool(
        len(lon)
        and any(
            west - _SLACK_DEG <= low and high <= east + _SLACK_DEG for low, high in _told(lon, bbox)
        )
        and lat.min() >= south - _SLACK_DEG
        and lat.max() <= north + _SLACK_DEG
    )


def meets(bbox: Bbox, route: Route) -> bool:
    """Whether the route's own box and this one share a place."""
    lon, lat = _placed(route)
    west, south, east, north = bbox
    return bool(
        len(lon)
        and any(low <= east and high >= west for low, high in _told(lon, bbox))
        and lat.min() <= north
        and lat.max() >= south
    )


def road_share(region: Region, route: Route) -> float:
    """Share of the route that lies near a road of the region, ferries left out, 0..1."""
    lon, lat = _placed(route)
    if not len(lon):
        return 0.0
    at = even_rows(len(lon), _SAMPLES)
    roads = region.roads
    grid = segment_grid(roads)
    near = near_positions(wrapped(lon[at], grid), lat[at], np.full(len(at), _NEAR_M), _MOST, grid)
    ferry = (roads.ways.flags[roads.edge_way[near.edge]] & int(WayFlag.FERRY)) != 0
    point = np.repeat(np.arange(len(at)), np.diff(near.start))
    return len(np.unique(point[~ferry])) / len(at)


def _placed(route: Route) -> tuple[FloatArray, FloatArray]:
    """The points that have a position."""
    known = np.isfinite(route.lon) & np.isfinite(route.lat)
    return route.lon[known], route.lat[known]


def _told(lon: FloatArray, bbox: Bbox) -> list[tuple[float, float]]:
    """West and east end of a line, by each full turn that may bring it to the box."""
    low, high = float(lon.min()), float(lon.max())
    turns = round(((bbox[0] + bbox[2]) - (low + high)) / 720.0)
    return [(low + 360.0 * t, high + 360.0 * t) for t in (turns, turns - 1, turns + 1)]
