"""One pass over OSM extracts: roads and places as growing columns, in the file's own terms."""

from __future__ import annotations

from array import array
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import numpy as np
import osmium

from terrain.errors import MapDataError
from terrain.region import tags as meaning
from terrain.region.columns import CategoryColumn, TextColumn
from terrain.region.place_tags import (
    WANTED_TAGS,
    kept_tags,
    place_kinds,
    place_name,
    population,
)
from terrain.values.arrays import BoolArray, FloatArray
from terrain.values.views import PLACE_KINDS

Progress = Callable[[str, float | None], None]

_CODE = {kind: code for code, kind in enumerate(PLACE_KINDS)}
_WKB_HEAD = 18  # hexadecimal digits before the coordinates of a line string
_EPOCH = datetime(1970, 1, 1, tzinfo=UTC)
_WKB = osmium.geom.WKBFactory()


@dataclass(slots=True)
class RawWays:
    """Ways as read, duplicates of overlapping files included; one entry per way in each column."""

    way_id: array[int] = field(default_factory=lambda: array("q"))
    version: array[int] = field(default_factory=lambda: array("i"))
    flags: array[int] = field(default_factory=lambda: array("i"))
    oneway: array[int] = field(default_factory=lambda: array("b"))
    layer: array[int] = field(default_factory=lambda: array("b"))
    mtb_scale: array[int] = field(default_factory=lambda: array("b"))
    edited_day: array[int] = field(default_factory=lambda: array("i"))
    width_m: array[float] = field(default_factory=lambda: array("f"))
    lanes: array[float] = field(default_factory=lambda: array("f"))
    incline_pct: array[float] = field(default_factory=lambda: array("f"))
    maxspeed_kph: array[float] = field(default_factory=lambda: array("f"))
    ferry_s: array[float] = field(default_factory=lambda: array("f"))
    highway: CategoryColumn = field(default_factory=CategoryColumn)
    surface: CategoryColumn = field(default_factory=CategoryColumn)
    tracktype: CategoryColumn = field(default_factory=CategoryColumn)
    smoothness: CategoryColumn = field(default_factory=CategoryColumn)
    access: CategoryColumn = field(default_factory=CategoryColumn)
    service: CategoryColumn = field(default_factory=CategoryColumn)
    seasonal: CategoryColumn = field(default_factory=CategoryColumn)
    name: TextColumn = field(default_factory=TextColumn)
    ref: TextColumn = field(default_factory=TextColumn)
    conditional: TextColumn = field(default_factory=TextColumn)
    n_refs: array[int] = field(default_factory=lambda: array("i"))
    refs: array[int] = field(default_factory=lambda: array("q"))
    position: bytearray = field(default_factory=bytearray)  # lon, lat as float64; NaN not known

    def __len__(self) -> int:
        return len(self.way_id)

    def add(self, way: Any, tags: dict[str, str], highway: str) -> None:
        """Keep one way with its tags, its node ids and their positions."""
        access = meaning.motor_access(tags)
        self.way_id.append(way.id)
        self.version.append(way.version)
        self.flags.append(int(meaning.way_flags(tags, highway, access)))
        self.oneway.append(meaning.oneway(tags))
        self.layer.append(meaning.leading_int(tags.get("layer"), -20, 20, 0))
        self.mtb_scale.append(meaning.leading_int(tags.get("mtb:scale"), 0, 6, -1))
        self.edited_day.append(_day(way.timestamp))
        self.width_m.append(meaning.length_m(tags.get("width", tags.get("est_width"))))
        self.lanes.append(meaning.number(tags.get("lanes")))
        self.incline_pct.append(meaning.incline_pct(tags.get("incline")))
        maxspeed = tags.get("maxspeed:motorcycle", tags.get("maxspeed"))
        self.maxspeed_kph.append(meaning.speed_kph(maxspeed))
        is_ferry = highway == "ferry"
        self.ferry_s.append(meaning.duration_s(tags.get("duration") if is_ferry else None))
        self.highway.add(highway)
        self.surface.add(tags.get("surface"))
        self.tracktype.add(tags.get("tracktype"))
        self.smoothness.add(tags.get("smoothness"))
        self.access.add(access)
        self.service.add(tags.get("service"))
        self.seasonal.add(tags.get("seasonal"))
        self.name.add(tags.get("name"))
        self.ref.add(tags.get("ref"))
        self.conditional.add(meaning.conditional(tags))
        refs = [node.ref for node in way.nodes]
        self.n_refs.append(len(refs))
        self.refs.extend(refs)
        self.position += _positions(way)


@dataclass(slots=True)
class RawPlaces:
    """Places as read; one entry per place and kind in each column."""

    kind: array[int] = field(default_factory=lambda: array("b"))
    osm_type: array[int] = field(default_factory=lambda: array("b"))
    osm_id: array[int] = field(default_factory=lambda: array("q"))
    version: array[int] = field(default_factory=lambda: array("i"))
    lon: array[float] = field(default_factory=lambda: array("d"))
    lat: array[float] = field(default_factory=lambda: array("d"))
    population: array[float] = field(default_factory=lambda: array("d"))
    ele_m: array[float] = field(default_factory=lambda: array("d"))
    name: TextColumn = field(default_factory=TextColumn)
    tags: TextColumn = field(default_factory=TextColumn)

    def __len__(self) -> int:
        return len(self.kind)

    def add(self, item: Any, osm_type: int, tags: dict[str, str], lon: float, lat: float) -> None:
        """Keep an object once per kind of place it is, if any."""
        for kind in place_kinds(tags, is_node=osm_type == 0):
            self.kind.append(_CODE[kind])
            self.osm_type.append(osm_type)
            self.osm_id.append(item.id)
            self.version.append(item.version)
            self.lon.append(lon)
            self.lat.append(lat)
            self.population.append(population(tags.get("population")))
            self.ele_m.append(meaning.length_m(tags.get("ele")))
            self.name.add(place_name(tags))
            self.tags.add(kept_tags(tags))


@dataclass(slots=True)
class RawMap:
    """All that is kept of the extracts, still in the files' own order."""

    ways: RawWays = field(default_factory=RawWays)
    places: RawPlaces = field(default_factory=RawPlaces)
    stopping_nodes: array[int] = field(default_factory=lambda: array("q"))
    newest_s: float = 0.0  # newest time stamp seen, seconds since 1970


def scan_files(paths: tuple[Path, ...], progress: Progress) -> RawMap:
    """Read the extracts one after the other.

    Raises MapDataError if a file is missing, is not OSM data, is cut short, or holds history.
    """
    raw = RawMap()
    for path in paths:
        progress(f"Reading {path.name}", None)
        if not path.is_file():
            raise MapDataError("there is no such file", str(path), "Check the path.")
        try:
            _scan_file(path, raw)
        except RuntimeError as exc:
            raise _not_readable(path, exc) from exc
    return raw


def _not_readable(path: Path, exc: RuntimeError) -> MapDataError:
    return MapDataError(
        f"the file cannot be read as OpenStreetMap data ({exc})",
        str(path),
        "Give a whole .osm.pbf, .osm, .osm.gz or .osm.bz2 extract; download it again if it "
        "was cut short.",
    )


def _scan_file(path: Path, raw: RawMap) -> None:
    processor = osmium.FileProcessor(path)
    header = processor.header
    if header.has_multiple_object_versions:
        raise MapDataError(
            "the file holds the history of the map, not one state of it",
            str(path),
            "Give a plain extract (.osm.pbf).",
        )
    raw.newest_s = max(raw.newest_s, _header_time_s(header))
    processor.with_locations(_storage(path))
    processor.with_filter(osmium.filter.EmptyTagFilter())
    processor.with_filter(osmium.filter.TagFilter(*WANTED_TAGS))
    relations: list[tuple[Any, dict[str, str], list[tuple[str, int]]]] = []
    for item in processor:
        if not item.visible:
            continue
        tags = dict(iter(item.tags))
        raw.newest_s = max(raw.newest_s, item.timestamp.timestamp())
        if item.is_node():
            _add_node(raw, item, tags)
        elif item.is_way():
            _add_way(raw, item, tags)


def _storage(path: Path) -> str:
    """Where node positions wait for the ways: in memory while that stays small."""
    return "flex_mem" if path.stat().st_size < 2_000_000_000 else "sparse_file_array"


def _header_time_s(header: Any) -> float:
    text = header.get("osmosis_replication_timestamp") or header.get("timestamp")
    try:
        return datetime.fromisoformat(text).timestamp() if text else 0.0
    except ValueError:
        return 0.0


def _add_node(raw: RawMap, node: Any, tags: dict[str, str]) -> None:
    if not node.location.valid():
        return
    raw.places.add(node, 0, tags, node.location.lon, node.location.lat)
    if meaning.barrier_stops(tags):
        raw.stopping_nodes.append(node.id)


def _add_way(raw: RawMap, way: Any, tags: dict[str, str]) -> None:
    highway = meaning.way_class(tags)
    if highway is not None and len(way.nodes) > 1:
        raw.ways.add(way, tags, highway)
    if place_kinds(tags, is_node=False):
        line = np.frombuffer(_positions(way), np.float64).reshape(-1, 2)
        centre = _centre(line)
        if centre is not None:
            raw.places.add(way, 1, tags, *centre)


def _centre(line: FloatArray) -> tuple[float, float] | None:
    """The middle of the box round the known points."""
    known: BoolArray = ~np.isnan(line[:, 0])
    if not known.any():
        return None
    low, high = line[known].min(axis=0), line[known].max(axis=0)
    return float(low[0] + high[0]) / 2, float(low[1] + high[1]) / 2


def _positions(way: Any) -> bytes:
    """lon, lat of each node as float64, NaN where the extract does not hold the node."""
    try:
        text = _WKB.create_linestring(way, use_nodes=osmium.geom.ALL)
    except (osmium.InvalidLocationError, RuntimeError):
        out = array("d")
        for node in way.nodes:
            place = node.location
            out.extend((place.lon, place.lat) if place.valid() else (np.nan, np.nan))
        return out.tobytes()
    return bytes.fromhex(text[_WKB_HEAD:])


def _day(time: datetime) -> int:
    """Days since 1970-01-01; -1 if the extract carries no time stamps (it then says 1970)."""
    days = (time - _EPOCH).days
    return days if days > 0 else -1
