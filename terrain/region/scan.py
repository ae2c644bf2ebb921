"""One pass over OSM extracts: roads and places as growing columns, in the file's own terms.

A country holds millions of ways but few distinct sets of tags, so each set is kept once and
given a number; what it means is worked out later, once per set.
"""

from __future__ import annotations

import re
from array import array
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from datetime import datetime
from pathlib import Path
from typing import Any

import numpy as np
import osmium

from terrain.errors import MapDataError
from terrain.region.columns import TextColumn
from terrain.region.place_tags import (
    PLACE_KEYS,
    WANTED_TAGS,
    kept_tags,
    place_kinds,
    place_name,
    population,
)
from terrain.region.tags import WAY_KEYS, barrier_stops, length_m, way_class, within
from terrain.values.arrays import FloatArray, Int32Array
from terrain.values.views import PLACE_KINDS

Progress = Callable[[str, float | None], None]
TagSet = tuple[tuple[str, str], ...]

UNKNOWN = np.iinfo(np.int32).min  # the position of a node that the extract does not hold
_CODE = {kind: code for code, kind in enumerate(PLACE_KINDS)}
_WKB_HEAD = 18  # hexadecimal digits before the coordinates of a line string
_WKB = osmium.geom.WKBFactory()
_CHUNK_BYTES = 1 << 22
_DAY_S = 86_400
_HEAD_BYTES = 2048
_REAL_IDS = range(1 << 40)  # editors number new objects below zero; look-ups take none of those
_LARGE_FILE = 600_000_000  # bytes; about 70 million nodes, 1.1 GB of positions


@dataclass(slots=True)
class RawWays:
    """Ways as read, doubles of overlapping files included; one entry per way in each column.

    tag_set : number of its tags in tag_sets
    edited_s : time of the last edit, seconds since 1970, 0 not known
    """

    tag_sets: dict[TagSet, int] = field(default_factory=dict)
    way_id: array[int] = field(default_factory=lambda: array("q"))
    version: array[int] = field(default_factory=lambda: array("i"))
    edited_s: array[int] = field(default_factory=lambda: array("q"))
    tag_set: array[int] = field(default_factory=lambda: array("i"))
    name: TextColumn = field(default_factory=TextColumn)
    ref: TextColumn = field(default_factory=TextColumn)
    n_refs: array[int] = field(default_factory=lambda: array("i"))
    refs: array[int] = field(default_factory=lambda: array("q"))
    _positions: list[Int32Array] = field(default_factory=list)
    _pending: bytearray = field(default_factory=bytearray)

    def __len__(self) -> int:
        return len(self.way_id)

    def add(self, way: Any, tags: dict[str, str], edited_s: int) -> None:
        """Keep one way with its tags, its node ids and their positions."""
        tag_set = tuple(
            [item for item in tags.items() if item[0] in WAY_KEYS or "conditional" in item[0]]
        )
        self.way_id.append(way.id)
        self.version.append(way.version)
        self.edited_s.append(edited_s)
        self.tag_set.append(self.tag_sets.setdefault(tag_set, len(self.tag_sets)))
        self.name.add(tags.get("name"))
        self.ref.add(tags.get("ref"))
        refs = [node.ref for node in way.nodes]
        self.n_refs.append(len(refs))
        self.refs.extend(refs)
        self._pending += _positions(way)
        if len(self._pending) >= _CHUNK_BYTES:
            self._settle()

    def positions(self) -> Int32Array:
        """lon, lat of every ref in 1e-7 degrees, shape (n, 2); UNKNOWN where it is not held."""
        self._settle()
        if len(self._positions) != 1:
            parts = self._positions or [np.empty((0, 2), np.int32)]
            self._positions = [np.concatenate(parts)]
        return self._positions[0]

    def _settle(self) -> None:
        degrees = np.frombuffer(bytes(self._pending), np.float64).reshape(-1, 2)
        self._pending = bytearray()
        held = np.isfinite(degrees)
        units = np.where(held, np.rint(np.where(held, degrees, 0.0) * 1e7), UNKNOWN)
        self._positions.append(units.astype(np.int32))


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

    def add(self, item: tuple[int, int, int], tags: dict[str, str], lon: float, lat: float) -> None:
        """Keep an object (type, id, version) once per kind of place it is, if any."""
        osm_type, osm_id, version = item
        for kind in place_kinds(tags, is_node=osm_type == 0):
            self.kind.append(_CODE[kind])
            self.osm_type.append(osm_type)
            self.osm_id.append(osm_id)
            self.version.append(version)
            self.lon.append(lon)
            self.lat.append(lat)
            self.population.append(population(tags.get("population")))
            self.ele_m.append(within(length_m(tags.get("ele")), -500, 9000))
            self.name.add(place_name(tags))
            self.tags.add(kept_tags(tags))


@dataclass(slots=True)
class RawMap:
    """All that is kept of the extracts, still in the files' own order."""

    ways: RawWays = field(default_factory=RawWays)
    places: RawPlaces = field(default_factory=RawPlaces)
    stopping_nodes: array[int] = field(default_factory=lambda: array("q"))
    newest_s: int = 0  # newest time stamp seen, seconds since 1970


@dataclass(frozen=True, slots=True)
class _Relation:
    """A place drawn as a relation: its members stand in for it."""

    item: tuple[int, int, int]
    tags: dict[str, str]
    nodes: tuple[int, ...]
    ways: tuple[int, ...]


def scan_files(paths: tuple[Path, ...], progress: Progress) -> RawMap:
    """Read the extracts one after the other.

    Raises MapDataError if a file is missing, is not OSM data, is cut short, or holds history.
    """
    raw = RawMap()
    for path in paths:
        progress(f"Reading {path.name}", None)
        if not path.is_file():
            what = "this is a folder, not a file" if path.is_dir() else "there is no such file"
            raise MapDataError(what, str(path), "Check the path.")
        try:
            _scan_file(path, raw)
        except (osmium.InvalidLocationError, RuntimeError, ValueError, OSError) as exc:
            raise _not_readable(path, exc) from exc
    return raw


def _not_readable(path: Path, exc: Exception) -> MapDataError:
    reason = " ".join(str(exc).split()) or type(exc).__name__
    return MapDataError(
        f"the file cannot be read as OpenStreetMap data ({reason})",
        str(path),
        "Give a whole .osm.pbf, .osm, .osm.gz or .osm.bz2 extract; download it again if it "
        "was cut short.",
    )


def _scan_file(path: Path, raw: RawMap) -> None:
    processor = osmium.FileProcessor(path)
    header = processor.header
    if header.has_multiple_object_versions or ".osh" in path.suffixes:
        raise MapDataError(
            "the file holds the history of the map, not one state of it",
            str(path),
            "Give a plain extract (.osm.pbf).",
        )
    raw.newest_s = max(raw.newest_s, _header_time_s(header), _server_time_s(path))
    processor.with_locations(_storage(path))
    processor.with_filter(osmium.filter.EmptyTagFilter())
    processor.with_filter(osmium.filter.TagFilter(*WANTED_TAGS))
    relations: list[_Relation] = []
    items: Iterator[Any] = iter(processor)
    for item in items:
        if item.deleted or not item.visible:
            continue
        tags = dict(iter(item.tags))
        edited_s = int(item.timestamp.timestamp())
        raw.newest_s = max(raw.newest_s, edited_s)
        if item.is_node():
            _add_node(raw, item, tags)
        elif item.is_way():
            _add_way(raw, item, tags, edited_s)
        elif item.is_relation():
            _note_relation(relations, item, tags)
    if relations:
        _add_relations(raw, path, relations, processor.node_location_storage)


def _storage(path: Path) -> str:
    """Where node positions wait for the ways: in memory while that stays small."""
    return "flex_mem" if path.stat().st_size < _LARGE_FILE else "sparse_file_array"


def _header_time_s(header: Any) -> int:
    text = header.get("osmosis_replication_timestamp") or header.get("timestamp")
    try:
        return int(datetime.fromisoformat(text).timestamp()) if text else 0
    except ValueError:
        return 0


def _server_time_s(path: Path) -> int:
    """The state of the map that an Overpass answer says it shows; 0 for other files."""
    with path.open("rb") as file:
        found = re.search(rb'<meta osm_base="([^"]+)"', file.read(_HEAD_BYTES))
    try:
        return int(datetime.fromisoformat(found[1].decode()).timestamp()) if found else 0
    except ValueError:
        return 0


def _add_node(raw: RawMap, node: Any, tags: dict[str, str]) -> None:
    place = node.location
    if not place.valid():
        return
    raw.places.add((0, node.id, node.version), tags, place.lon, place.lat)
    if barrier_stops(tags):
        raw.stopping_nodes.append(node.id)


def _add_way(raw: RawMap, way: Any, tags: dict[str, str], edited_s: int) -> None:
    if way_class(tags) is not None and len(way.nodes) > 1:
        raw.ways.add(way, tags, edited_s)
    if not PLACE_KEYS.isdisjoint(tags) and place_kinds(tags, is_node=False):
        line = np.frombuffer(_positions(way), np.float64).reshape(-1, 2)
        centre = _centre(line)
        if centre is not None:
            raw.places.add((1, way.id, way.version), tags, *centre)


def _note_relation(relations: list[_Relation], relation: Any, tags: dict[str, str]) -> None:
    if not place_kinds(tags, is_node=False):
        return
    members = [(m.type, m.ref) for m in relation.members if m.role != "inner"]
    item = (2, relation.id, relation.version)
    nodes, ways = (tuple(ref for kind, ref in members if kind == k) for k in "nw")
    relations.append(_Relation(item, tags, nodes, ways))


def _add_relations(raw: RawMap, path: Path, relations: list[_Relation], places: Any) -> None:
    """Second look at the file for the ways that relations are made of."""
    wanted = {ref for relation in relations for ref in relation.ways if ref in _REAL_IDS}
    refs: dict[int, list[int]] = {}
    if wanted:
        processor = osmium.FileProcessor(path, osmium.osm.WAY)
        processor.with_filter(osmium.filter.IdFilter(wanted))
        ways: Iterator[Any] = iter(processor)
        for way in ways:
            refs[way.id] = [node.ref for node in way.nodes]
    for relation in relations:
        nodes = [*relation.nodes, *(n for way in relation.ways for n in refs.get(way, ()))]
        centre = _centre(_known_positions(places, nodes))
        if centre is not None:
            raw.places.add(relation.item, relation.tags, *centre)


def _known_positions(places: Any, nodes: list[int]) -> FloatArray:
    line = []
    for ref in nodes:
        if ref not in _REAL_IDS:
            continue
        try:
            found = places.get(ref)
        except KeyError:
            continue
        if found.valid():
            line.append((found.lon, found.lat))
    return np.array(line, np.float64).reshape(-1, 2)


def _centre(line: FloatArray) -> tuple[float, float] | None:
    """The middle of the box round the known points."""
    line = line[~np.isnan(line[:, 0])]
    if not len(line):
        return None
    low, high = line.min(axis=0), line.max(axis=0)
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
