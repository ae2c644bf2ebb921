"""One pass over OSM extracts: roads and places as growing columns, in the file's own terms.

A country holds millions of ways but few distinct sets of tags, so each set is kept once and
given a number; what it means is worked out later, once per set.
"""

from __future__ import annotations

from array import array
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
import osmium

from terrain.errors import MapDataError
from terrain.region.columns import TextColumn
from terrain.region.items import (
    MapItem,
    day_of,
    is_history,
    lines_of_members,
    parse_lines,
    read_items,
    stamp_of,
)
from terrain.region.place_tags import PLACE_KEYS, kept_tags, place_kinds, place_name, population
from terrain.region.tags import WAY_KEYS, barrier_stops, length_m, way_class, within
from terrain.text.message import message
from terrain.values.arrays import Int32Array, IntArray
from terrain.values.views import PLACE_KINDS

Progress = Callable[[str, float | None], None]
TagSet = tuple[tuple[str, str], ...]

UNKNOWN = np.iinfo(np.int32).min  # the position of a node that the extract does not hold
_CODE = {kind: code for code, kind in enumerate(PLACE_KINDS)}
_TYPE = {"n": 0, "w": 1, "r": 2}
_CHUNK = 20_000  # ways whose nodes are turned into numbers at one go
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
    _refs: list[IntArray] = field(default_factory=list)
    _positions: list[Int32Array] = field(default_factory=list)
    _lines: list[str] = field(default_factory=list)  # not parsed yet

    def __len__(self) -> int:
        return len(self.way_id)

    def add(self, way: MapItem) -> None:
        """Keep one way with its tags, its node ids and their positions."""
        tags = way.tags
        tag_set = tuple(
            [item for item in tags.items() if item[0] in WAY_KEYS or "conditional" in item[0]]
        )
        self.way_id.append(way.id)
        self.version.append(way.version)
        self.edited_day.append(way.day)
        self.tag_set.append(self.tag_sets.setdefault(tag_set, len(self.tag_sets)))
        self.name.add(tags.get("name"))
        self.ref.add(tags.get("ref"))
        self.n_refs.append(way.line.count(",") + 1)
        self._lines.append(way.line)
        if len(self._lines) >= _CHUNK:
            self._settle()

    def refs(self) -> IntArray:
        """The node ids of all ways, one after the other."""
        self._settle()
        return self._refs[0]

    def positions(self) -> Int32Array:
        """lon, lat of every ref in 1e-7 degrees, shape (n, 2); UNKNOWN where it is not held."""
        self._settle()
        return self._positions[0]

    def _settle(self) -> None:
        """Turn the lines that wait into arrays; at the end there is one of each."""
        if self._lines or not self._refs:
            refs, degrees = parse_lines(self._lines)
            held = np.isfinite(degrees)
            units = np.where(held, np.rint(np.where(held, degrees, 0.0) * 1e7), UNKNOWN)
            self._refs.append(refs)
            self._positions.append(units.astype(np.int32))
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

    def add(self, item: MapItem, lines: list[str]) -> None:
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
    relations = []
    for item in _items(path):
        raw.newest_day = max(raw.newest_day, item.day)
        if item.kind == "w":
            _add_way(raw, item)
            if len(raw.ways) % _SAY_EVERY == _SAY_EVERY - 1:
                progress(f"Reading {path.name}: {len(raw.ways) + 1:,} ways", None)
        elif item.kind == "n":
            raw.places.add(item, [item.line])
            if barrier_stops(item.tags):
                raw.stopping_nodes.append(item.id)
        elif place_kinds(item.tags, is_node=False):
            relations.append(item)
    with _reading(path):
        _add_relations(raw, path, relations)


def _add_way(raw: RawMap, way: MapItem) -> None:
    if "," in way.line and way_class(way.tags) is not None:
        raw.ways.add(way)
    if not PLACE_KEYS.isdisjoint(way.tags):
        raw.places.add(way, [way.line])


def _add_relations(raw: RawMap, path: Path, relations: list[MapItem]) -> None:
    """A place drawn as a relation lies amid its members."""
    found = lines_of_members(path, {member for item in relations for member in item.members})
    for item in relations:
        raw.places.add(item, [found[member] for member in item.members if member in found])


def _centre(lines: list[str]) -> tuple[float, float] | None:
    """The middle of the box round the known points."""
    _, places = parse_lines([line for line in lines if line])
    places = places[~np.isnan(places[:, 0])]
    if not len(places):
        return None
    low, high = places.min(axis=0), places.max(axis=0)
    return float(low[0] + high[0]) / 2, float(low[1] + high[1]) / 2
