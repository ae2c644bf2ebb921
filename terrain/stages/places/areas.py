"""Which military and protected areas the ride passes through, and where."""

from __future__ import annotations

from typing import Any

import numpy as np
import shapely

from terrain.values.arrays import FloatArray, spans
from terrain.values.match import Match
from terrain.values.places import AreaKind, AreaRun, AreasView

_EVERY_M = 25.0  # spacing of the places along the ride that are looked at


def areas_along(match: Match, areas: AreasView) -> tuple[AreaRun, ...]:
    """The parts of the ride within areas, to 25 m, in riding order.

    Areas that overlap each have a run of their own.
    """
    if not len(areas.name) or not len(match.at_m):
        return ()
    at = np.unique(np.append(np.arange(0.0, match.length_m, _EVERY_M), match.length_m))
    lon, lat = match.lonlat(at)
    found = [
        AreaRun(
            kind=AreaKind(int(areas.kind[i])), name=areas.name[i],
            from_m=float(at[a]), to_m=float(at[min(b, len(at) - 1)]),
        )
        for i, shape in enumerate(_shapes(areas, lon, lat))
        if shape is not None
        for a, b in spans(shapely.contains_xy(shape, lon, lat))
    ]  # fmt: skip
    return tuple(sorted(found, key=lambda run: (run.from_m, run.to_m)))


def _shapes(areas: AreasView, lon: FloatArray, lat: FloatArray) -> list[shapely.Geometry | None]:
    """Each area whose box meets the ride's, ready for looking up; None for the others."""
    west, south, east, north = lon.min(), lat.min(), lon.max(), lat.max()
    rings: list[list[shapely.Geometry]] = [[] for _ in areas.name]
    for r, area in enumerate(areas.ring_area.tolist()):
        pts = slice(int(areas.ring_start[r]), int(areas.ring_start[r + 1]))
        x, y = areas.lon[pts], areas.lat[pts]
        if x.max() >= west and x.min() <= east and y.max() >= south and y.min() <= north:
            rings[area].append(shapely.linestrings(x, y))
    shapes: list[shapely.Geometry | None] = []
    for mine in rings:
        # Within an odd number of rings is inside: holes are told from islands by that alone.
        shape: Any = shapely.build_area(shapely.multilinestrings(mine)) if mine else None
        if shape is not None:
            shapely.prepare(shape)
        shapes.append(shape)
    return shapes
