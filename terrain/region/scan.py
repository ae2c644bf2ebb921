"""One pass over OSM extracts: roads and places as growing columns, in the file's own terms.

A country holds millions of ways but few distinct sets of tags, so each set is kept once and
given a number; what it means is worked out later, once per set.
"""

from __future__ import annotations

from array import array
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from functools import lru_cache
from pathlib import Path
from typing import NamedTuple

import numpy as np
import osmium

from terrain.errors import MapDataError
from terrain.region.areas import RawAreas
from terrain.region.columns import TextColumn
from terrain.region.items import MapItem, day_of, is_history, read_items, stamp_of, tags_of
from terrain.region.place_tags import (
    PLACE_KEYS,
    area_kind,
    kept_tags,
    place_kinds,
    place_name,
    population,
)
from terrain.region.positions import UNITS, UNKNOWN, parse_lines
from terrain.region.tags import WAY_KEYS, barrier_stops, length_m, way_class, within
from terrain.text.message import message
from terrain.values.arrays import Int32Array, IntArray
from terrain.values.views import PLACE_KINDS

Progress = Callable[[str, float | None], None]
TagSet = tuple[tuple[str, str], ...]

_CODE = {kind: code for code, kind in enumerate(PLACE_KINDS)}
_TYPE = {"n": 0, "w": 1, "r": 2}
_CHUNK = 20_000  # ways whose nodes are turned into numbers at one go
_TEXTS = 1 << 14  # tags of one object each, as text, of which the meaning is kept at hand
_SAY_EVERY = 50_000  # ways


@dataclass(slots=True)
class RawWays:
    """Ways as read, doubles of overlapping files included; one entry per way in each column.

    tag_set : number of its tags in tag_sets
    edited_day : days since 1970-01-01 of the last edit, 0 or less not known
    """

    tag_sets: dict[TagSet, int] = field(default_factory=dict)
    way_id: array[int] = field(default_factory=lambda: array("q"))
    version: array[int] = field(default_factory=lambda: array("i"))
    edited_day: array[int] = field(default_factory=lambda: array("i"))
    tag_set: array[int] = field(default_factory=lambda: array("i"))
    name: TextColumn = field(default_factory=TextColumn)
    ref: TextColumn = field(default_factory=TextColumn)
    n_refs: array[int] = field(default_factory=lambda: array("i"))
    _codes: dict[bytes, tuple[int, int, int]] = field(default_factory=dict)
    _refs: list[IntArray] = field(default_factory=list)
    _positions: list[Int32Array] = field(default_factory=list)
    _lines: list[bytes] = field(default_factory=list)  # not parsed yet

    def __len__(self) -> int:
        return len(self.way_id)

    def add(self, way: MapItem) -> None:
        """Keep one way with its tags, its node ids and their positions."""
        codes = self._codes.get(way.told)
        if codes is None:
            codes = self._coded(way)
        self.way_id.append(way.id)
        self.version.append(way.version)
        self.edited_day.append(way.day)
        self.tag_set.append(codes[0])
        self.name.append(codes[1])
        self.ref.append(codes[2])
        self.n_refs.append(way.line.count(b",") + 1)
        self._lines.append(way.line)
        if len(self._lines) >= _CHUNK:
            self._settle()

    def _coded(self, way: MapItem) -> tuple[int, int, int]:
        """The numbers of its tags that count, its name and its ref."""
        tags = way.tags
        tag_set = tuple(
            [item for item in tags.items() if item[0] in WAY_KEYS or "conditional" in item[0]]
        )
        if len(self._codes) >= _TEXTS:
            self._codes.clear()
        number = self.tag_sets.setdefault(tag_set, len(self.tag_sets))
        codes = number, self.name.code(tags.get("name")), self.ref.code(tags.get("ref"))
        self._codes[way.told] = codes
        return codes

    def refs(self) -> IntArray:
        """The node ids of all ways, one after the other."""
        return self._refs[0]

    def take_nodes(self) -> tuple[IntArray, Int32Array]:
        """The refs, and lon, lat of each in 1e-7 degrees, shape (n, 2), UNKNOWN where it is not
        held; both are let go here, as they are the larger part of a map as read."""
        taken = self._refs[0], self._positions[0]
        self._refs, self._positions = [], []
        return taken

    def _settle(self) -> None:
        """Turn the lines that wait into arrays; at the end there is one of each."""
        if self._lines or not self._refs:
            refs, positions = parse_lines(self._lines)
            self._refs.append(refs)
            self._positions.append(positions)
            self._lines = []

    def close(self) -> None:
        """No more ways will come."""
        self._settle()
        self._refs = [np.concatenate(self._refs)]
        self._positions = [np.concatenate(self._positions)]


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

    def add(self, item: MapItem, lines: list[bytes]) -> None:
        """Keep an object once per kind of place it is; it lies amid the given lines."""
        kinds = place_kinds(item.tags, is_node=item.kind == "n")
        centre = _centre(lines) if kinds else None
        if centre is None:
            return
        tags = item.tags
        for kind in kinds:
            self.kind.append(_CODE[kind])
            self.osm_type.append(_TYPE[item.kind])
            self.osm_id.append(item.id)
            self.version.append(item.version)
            self.lon.append(centre[0])
            self.lat.append(centre[1])
            self.population.append(population(tags.get("population")))
            self.ele_m.append(within(length_m(tags.get("ele")), -500, 9000))
            self.name.add(place_name(tags))
            self.tags.add(kept_tags(tags))


@dataclass(slots=True)
class RawMap:
    """All that is kept of the extracts, still in the files' own order."""

    ways: RawWays = field(default_factory=RawWays)
    places: RawPlaces = field(default_factory=RawPlaces)
    areas: RawAreas = field(default_factory=RawAreas)
    stopping_nodes: array[int] = field(default_factory=lambda: array("q"))
    newest_day: int = 0  # of the newest object or stamp, days since 1970-01-01


def scan_files(paths: tuple[Path, ...], progress: Progress) -> RawMap:
    """Read the extracts one after the other.

    Raises MapDataError if a file is missing, is not OSM data, is cut short, or holds history.
    """
    raw = RawMap()
    for path in paths:
        progress(f"Reading {path.name}", None)
        if not path.is_file():
            what = (
                message("this is a folder, not a file")
                if path.is_dir()
                else message("there is no such file")
            )
            raise MapDataError(what, str(path), message("Check the path."))
        _scan_file(path, raw, progress)
    raw.ways.close()
    return raw


@contextmanager
def _reading(path: Path) -> Iterator[None]:
    """Whatever the reader stumbles over becomes one clear message."""
    try:
        yield
    except (osmium.InvalidLocationError, RuntimeError, ValueError, OSError) as exc:
        raise _not_readable(path, exc) from exc


def _items(path: Path) -> Iterator[MapItem]:
    """The items of the file; only what happens while reading counts as the file's fault."""
    with _reading(path):
        items = read_items(path)
    while True:
        with _reading(path):
            item = next(items, None)
        if item is None:
            return
        yield item


def _not_readable(path: Path, exc: Exception) -> MapDataError:
    reason = " ".join(str(exc).split()) or type(exc).__name__
    return MapDataError(
        message("the file cannot be read as OpenStreetMap data ({reason})", reason=str(reason)),
        str(path),
        message(
            "Give a whole .osm.pbf, .osm, .osm.gz or .osm.bz2 extract; download it again if it "
            "was cut short."
        ),
    )


def _scan_file(path: Path, raw: RawMap, progress: Progress) -> None:
    with _reading(path):
        history, stamp = is_history(path), stamp_of(path)
    if history:
        raise MapDataError(
            message("the file holds the history of the map, not one state of it"),
            str(path),
            message("Give a plain extract (.osm.pbf)."),
        )
    raw.newest_day = max(raw.newest_day, day_of(stamp))
    relations: list[MapItem] = []
    parts: dict[tuple[str, int], bytes] = {}
    for item in _items(path):
        if not item.told:
            parts[item.kind, item.id] = item.line
            continue
        raw.newest_day = max(raw.newest_day, item.day)
        if item.kind == "w":
            _add_way(raw, item)
            if len(raw.ways) % _SAY_EVERY == _SAY_EVERY - 1:
                progress(f"Reading {path.name}: {len(raw.ways) + 1:,} ways", None)
        elif item.kind == "n":
            raw.places.add(item, [item.line])
            if barrier_stops(item.tags):
                raw.stopping_nodes.append(item.id)
        else:
            relations.append(item)
    for item in relations:
        _add_relation(raw, item, parts)


class _Uses(NamedTuple):
    """What an object that is no node may be, by its tags."""

    road: bool
    place: bool
    area: bool


@lru_cache(_TEXTS)
def _uses(told: bytes) -> _Uses:
    tags = tags_of(told)
    return _Uses(
        road=way_class(tags) is not None,
        place=not PLACE_KEYS.isdisjoint(tags),
        area=area_kind(tags) is not None,
    )


def _add_way(raw: RawMap, way: MapItem) -> None:
    uses = _uses(way.told)
    if uses.road and b"," in way.line:
        raw.ways.add(way)
    if uses.place:
        raw.places.add(way, [way.line])
    if uses.area:
        raw.areas.add_way(way)


def _add_relation(raw: RawMap, item: MapItem, parts: dict[tuple[str, int], bytes]) -> None:
    """A place drawn as a relation lies amid its members that are no holes in it."""
    uses = _uses(item.told)
    if uses.place:
        own = (parts.get((kind, ref)) for kind, ref, role in item.members if role != "inner")
        raw.places.add(item, [line for line in own if line is not None])
    if uses.area:
        raw.areas.add_relation(item, parts)


def _centre(lines: list[bytes]) -> tuple[float, float] | None:
    """The middle of the box round the known points."""
    if len(lines) == 1 and b"," not in lines[0]:
        return _spot(lines[0])
    _, places = parse_lines([line for line in lines if line])
    places = places[places[:, 0] != UNKNOWN]
    if not len(places):
        return None
    low, high = places.min(axis=0) / UNITS, places.max(axis=0) / UNITS
    return float(low[0] + high[0]) / 2, float(low[1] + high[1]) / 2


def _spot(line: bytes) -> tuple[float, float] | None:
    """Where a line of one node lies; other than many lines, it is not worth an array."""
    lon, _, lat = line[line.find(b"x") + 1 :].partition(b"y")
    return (float(lon), float(lat)) if lon and lat else None
