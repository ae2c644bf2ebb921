"""Road trip or off-road trip? Ground, relief, heat and help along a planned motorcycle route.

The names below are the whole public interface; each loads what it needs on first use.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from terrain.errors import (
        FleetError,
        HelpersError,
        InputError,
        LearnedError,
        MapDataError,
        NotesError,
        PlanError,
        RegionDamaged,
        RegionError,
        RegionMissing,
        RegionNotCovering,
        RouteError,
        TerrainError,
        TrackError,
        UsageError,
    )
    from terrain.flow import assess, find_region, match, open_region, when_to_go
    from terrain.inputs.lines import LineRule, parse_route, parse_routes, read_route, read_routes
    from terrain.inputs.tracks import parse_track, read_ride, read_track
    from terrain.region.forecast import fetch_forecast
    from terrain.region.region import Region
    from terrain.report.data.jsonfile import report_schema
    from terrain.rides import ridden
    from terrain.settings import Settings
    from terrain.stages.heat.climate import climate_at
    from terrain.tables.fleet import DEFAULT_FLEET
    from terrain.values.answers import PartAnswer, Reply
    from terrain.values.climate import Climate
    from terrain.values.fleet import Fleet
    from terrain.values.forecast import Forecast
    from terrain.values.match import Match
    from terrain.values.report import Report
    from terrain.values.ridden import Ridden
    from terrain.values.route import Route
    from terrain.values.track import Track
    from terrain.values.trip import Luggage, Rider, Trip
    from terrain.values.when import When

__version__ = "0.1.0"

__all__ = [
    "DEFAULT_FLEET",
    "Climate",
    "Fleet",
    "FleetError",
    "Forecast",
    "HelpersError",
    "InputError",
    "LearnedError",
    "LineRule",
    "Luggage",
    "MapDataError",
    "Match",
    "NotesError",
    "PartAnswer",
    "PlanError",
    "Region",
    "RegionDamaged",
    "RegionError",
    "RegionMissing",
    "RegionNotCovering",
    "Reply",
    "Report",
    "Ridden",
    "Rider",
    "Route",
    "RouteError",
    "Settings",
    "TerrainError",
    "Track",
    "TrackError",
    "Trip",
    "UsageError",
    "When",
    "__version__",
    "assess",
    "climate_at",
    "fetch_forecast",
    "find_region",
    "match",
    "open_region",
    "parse_route",
    "parse_routes",
    "parse_track",
    "read_ride",
    "read_route",
    "read_routes",
    "read_track",
    "report_schema",
    "ridden",
    "when_to_go",
]

_HOMES: dict[str, tuple[str, ...]] = {
    "terrain.flow": ("assess", "find_region", "match", "open_region", "when_to_go"),
    "terrain.inputs.lines": (
        "LineRule",
        "parse_route",
        "parse_routes",
        "read_route",
        "read_routes",
    ),
    "terrain.inputs.tracks": ("parse_track", "read_ride", "read_track"),
    "terrain.region.forecast": ("fetch_forecast",),
    "terrain.region.region": ("Region",),
    "terrain.report.data.jsonfile": ("report_schema",),
    "terrain.rides": ("ridden",),
    "terrain.settings": ("Settings",),
    "terrain.stages.heat.climate": ("climate_at",),
    "terrain.tables.fleet": ("DEFAULT_FLEET",),
    "terrain.values.climate": ("Climate",),
    "terrain.values.fleet": ("Fleet",),
    "terrain.values.forecast": ("Forecast",),
    "terrain.values.match": ("Match",),
    "terrain.values.report": ("Report",),
    "terrain.values.ridden": ("Ridden",),
    "terrain.values.route": ("Route",),
    "terrain.values.track": ("Track",),
    "terrain.values.answers": ("PartAnswer", "Reply"),
    "terrain.values.trip": ("Luggage", "Rider", "Trip"),
    "terrain.values.when": ("When",),
}
_HOME_OF = {name: home for home, names in _HOMES.items() for name in names}


def __getattr__(name: str) -> Any:
    if name not in __all__:
        raise AttributeError(f"module 'terrain' has no attribute {name!r}")
    value = getattr(import_module(_HOME_OF.get(name, "terrain.errors")), name)
    globals()[name] = value
    return value


def __dir__() -> list[str]:
    return sorted(__all__)
