"""Points through the GPX library: from XML elements to numbers.

The only module that knows gpxpy. The elements are built by the guard pass with the standard
library, so the result does not depend on which XML parser gpxpy would pick on this machine
(it takes lxml where that is installed, with other limits and a third of the speed).
"""

from __future__ import annotations

from typing import Any, NamedTuple
from xml.etree.ElementTree import Element

import numpy as np
from gpxpy import gpxfield
from gpxpy.gpx import GPX, GPXRoute, GPXTrackSegment

from terrain.values.arrays import BoolArray, FloatArray
from terrain.values.route import Waypoint

_VERSION = "1.1"
# Annotated in gpxpy as taking text, which it does not.
_from_xml: Any = gpxfield.gpx_fields_from_xml


class Points(NamedTuple):
    """lon, lat [deg], ele_m (NaN if not given), shaping : shape (n,)."""

    lon: FloatArray
    lat: FloatArray
    ele_m: FloatArray
    shaping: BoolArray


def to_points(element: Element) -> Points:
    """The points of a <trkseg> or <rte> element, in order.

    Raises GPXException, which the guard pass makes impossible by checking every number first.
    """
    kind = GPXTrackSegment if element.tag == "trkseg" else GPXRoute
    found = _from_xml(kind, element, _VERSION).points
    n = len(found)
    heights = (np.nan if p.elevation is None else p.elevation for p in found)
    return Points(
        lon=np.fromiter((p.longitude for p in found), dtype=np.float64, count=n),
        lat=np.fromiter((p.latitude for p in found), dtype=np.float64, count=n),
        ele_m=np.fromiter(heights, dtype=np.float64, count=n),
        shaping=np.fromiter((p.type == "shaping" for p in found), dtype=np.bool_, count=n),
    )


def to_waypoints(element: Element) -> list[Waypoint]:
    """The waypoints of a <gpx> element, in order."""
    return [
        Waypoint(
            name=w.name or "",
            lon=w.longitude,
            lat=w.latitude,
            ele_m=w.elevation,
            symbol=w.symbol or None,
        )
        for w in _from_xml(GPX, element, _VERSION).waypoints
    ]
