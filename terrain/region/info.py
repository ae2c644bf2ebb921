"""What a region is called, where it lies, how old its map is and whom to thank."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from terrain.text.catalogue import N_

OSM_ATTRIBUTION = N_(
    "Map data © OpenStreetMap contributors, Open Database License 1.0 "
    "(https://www.openstreetmap.org/copyright)"
)


@dataclass(frozen=True, slots=True, kw_only=True)
class RegionInfo:
    """The facts of a region.

    map_date : day of the newest map data, None if the extract does not tell
    bbox : west, south, east, north of the roads [deg]
    attribution : one line per source
    built_at : ISO 8601 UTC; terrain_version : program that built it
    sources : names of the files it was built from
    elevation : what the heights are, None if it was built without
    notes : what its user should know about its data, one sentence each
    """

    name: str
    map_date: date | None
    bbox: tuple[float, float, float, float]
    attribution: tuple[str, ...]
    built_at: str
    terrain_version: str
    sources: tuple[str, ...]
    elevation: str | None = None
    notes: tuple[str, ...] = ()
