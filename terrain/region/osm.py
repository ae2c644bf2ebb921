"""OSM extracts in, roads and places out."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta
from pathlib import Path

from terrain.region.columns import numbers
from terrain.region.graph import build_roads
from terrain.region.places import build_places, place_rows
from terrain.region.scan import Progress, RawMap, scan_files
from terrain.values.arrays import FloatArray
from terrain.values.places import AreasView
from terrain.values.views import PlacesView, RoadsView


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class MapData:
    """What the extracts hold.

    place_ele_m : tagged height of each place [m], NaN not tagged
    map_date : day of the newest object or of the extract's own stamp; None if neither is there
    """

    roads: RoadsView
    places: PlacesView
    areas: AreasView
    place_ele_m: FloatArray
    map_date: date | None


def read_osm(paths: tuple[Path, ...], progress: Progress) -> MapData:
    """One road graph, its places and areas, of one or several extracts, which may overlap.

    Raises MapDataError if a file cannot be used or none holds a road.
    """
    return build_map(scan_files(paths, progress), progress)


def build_map(raw: RawMap, progress: Progress) -> MapData:
    """The same of a map as read, whose nodes it takes. Raises MapDataError if it holds no road."""
    areas = raw.areas.build()
    rows = place_rows(raw)
    progress("Cutting ways at junctions", None)
    roads = build_roads(raw)
    progress("Tying places to roads", None)
    places = build_places(raw, roads, rows)
    ele_m = numbers(raw.places.ele_m, "float64", rows)
    day = raw.newest_day
    newest = date(1970, 1, 1) + timedelta(days=day) if day > 0 else None
    return MapData(roads=roads, places=places, areas=areas, place_ele_m=ele_m, map_date=newest)
