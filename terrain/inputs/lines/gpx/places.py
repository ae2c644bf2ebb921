"""Waypoints through the GPX library.

The only reader that knows gpxpy. The elements are built by the guard pass with the standard
library, so the result does not depend on which XML parser gpxpy would pick on this machine
(it takes lxml where that is installed, with other limits and a third of the speed).
"""

from __future__ import annotations

from typing import Any
from xml.etree.ElementTree import Element

from gpxpy import gpxfield
from gpxpy.gpx import GPX

from terrain.values.route import Waypoint

_VERSION = "1.1"
# Annotated in gpxpy as taking text, which it does not.
_from_xml: Any = gpxfield.gpx_fields_from_xml


def to_waypoints(element: Element) -> list[Waypoint]:
    """The waypoints of a <gpx> element, in order.

    Raises GPXException, which the guard pass makes impossible by checking every number first.
    """
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
