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
from terrain.region.columns import TextColumn, among, extend, ranges
from terrain.region.items import day_of, is_history, read_extract, stamp_of
from terrain.region.objects import Objects, TagSet
from terrain.region.pbf import UNITS, UNKNOWN, Extract
from terrain.region.place_tags import (
    PLACE_KEYS,
    area_kind,
    kept_tags,
    place_kinds,
    place_name,
    population,
)
from terrain.region.tags import WAY_KEYS, barrier_stops, length_m, way_class, within
from terrain.text.message import message
from terrain.values.arrays import Int32Array, IntArray
from terrain.values.views import PLACE_KINDS

Progress = Callable[[str, float | None], None]
Keep = Callable[[Extract, "RawMap"], None]
_CODE = {kind: code for code, kind in enumerate(PLACE_KINDS)}
_TEXTS = 1 << 14  # sets of tags of which the meaning is kept at hand
_NOWHERE = np.empty((0, 2), np.int32)


@dataclass(slots=True)
class RawWays:
    """Ways as read, doubles of overlapping files included; one entry per way in each column.

    tag_set : number of its tags in tag_sets
    edited_day : days since 1970-01-01 of the last edit, 0 or less not known
    node_id : of the nodes of the ways of each file, in order
    """

    tag_sets: dict[TagSet, int] = field(default_factory=dict)
    way_id: array[int] = field(default_factory=lambda: array("q"))
    version: array[int] = field(default_factory=lambda: array("i"))
    edited_day: array[int] = field(default_factory=lambda: array("i"))
    tag_set: array[int] = field(default_factory=lambda: array("i"))
    name: TextColumn = field(default_factory=TextColumn)
    ref: TextColumn = field(default_factory=TextColumn)
    n_refs: array[int] = field(default_factory=lambda: array("i"))
    node_id: list[IntArray] = field(default_factory=list)
    _codes: dict[TagSet, tuple[int, int, int]] = field(default_factory=dict)
    _node: list[Int32Array] = field(default_factory=list)
    _spots: list[Int32Array] = field(default_factory=list)

    def __len__(self) -> int:
        return len(self.way_id)

    def add(self, ways: Objects, rows: IntArray) -> None:
        """Keep the chosen ways with their tags."""
        assert ways.count is not None
        codes = np.empty((len(ways.tag_sets), 3), np.int32)
        for k in np.unique(ways.told[rows]).tolist():
            told = ways.tag_sets[k]
            codes[k] = self._codes.get(told) or self._coded(told)
        tag_set, name, ref = codes[ways.told[rows]].T
        extend(self.way_id, ways.id[rows])
        extend(self.version, ways.version[rows])
        extend(self.edited_day, ways.day[rows])
        extend(self.tag_set, tag_set)
        self.name.extend(name)
        self.ref.extend(ref)
        extend(self.n_refs, ways.count[rows])

    def _coded(self, told: TagSet) -> tuple[int, int, int]:
        """The numbers of its tags that count, its name and its ref."""
        tag_set = tuple([item for item in told if item[0] in WAY_KEYS or "conditional" in item[0]])
        tags = dict(told)
        number = self.tag_sets.setdefault(tag_set, len(self.tag_sets))
        codes = number, self.name.code(tags.get("name")), self.ref.code(tags.get("ref"))
        if len(self._codes) >= _TEXTS:
            self._codes.clear()
        self._codes[told] = codes
        return codes

    def add_nodes(self, node: Int32Array, node_id: IntArray, spots: Int32Array) -> None:
        """Keep the nodes of the ways of one file. node : their places in node_id and spots"""
        used = np.zeros(len(node_id), np.bool_)
        used[node] = True
        place = np.cumsum(used, dtype=np.int32) + np.int32(sum(map(len, self.node_id)) - 1)
        self._node.append(place[node])
        self.node_id.append(node_id[used])
        self._spots.append(spots[used])

    def nodes(self) -> tuple[Int32Array, IntArray, Int32Array]:
        """What `take_nodes` gives."""
        return (
            np.concatenate(self._node), np.concatenate(self.node_id), np.concatenate(self._spots)
        )  # fmt: skip

    def take_nodes(self) -> tuple[Int32Array, IntArray, Int32Array]:
        """Of all ways, one after the other, the places of their nodes in what is given beside: ids,
        and lon, lat in 1e-7 degrees, shape (n, 2), UNKNOWN where it is not held; all are let go
        here, as they are the larger part of a map as read."""
        taken = self.nodes()
        self._node, self.node_id, self._spots = [], [], []
        return taken


class _Place(NamedTuple):
    """What the tags of an object tell of it as a place."""

    kinds: tuple[int, ...]
    population: float
    ele_m: float
    name: str | None
    tags: str
    stops: bool  # a motorcycle, at the node of a road


@lru_cache(_TEXTS)
def _place(told: TagSet, *, is_node: bool) -> _Place:
    tags = dict(told)
    return _Place(
        kinds=tuple(_CODE[kind] for kind in place_kinds(tags, is_node=is_node)),
        population=population(tags.get("population")),
        ele_m=within(length_m(tags.get("ele")), -500, 9000),
        name=place_name(tags),
        tags=kept_tags(tags),
        stops=is_node and barrier_stops(tags),
    )


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

    def add(
        self, osm_type: int, osm_id: int, version: int, place: _Place, centre: tuple[float, float]
    ) -> None:
        """Keep an object once per kind of place it is."""
        for kind in place.kinds:
            self.kind.append(kind)
            self.osm_type.append(osm_type)
            self.osm_id.append(osm_id)
            self.version.append(version)
            self.lon.append(centre[0])
            self.lat.append(centre[1])
            self.population.append(place.population)
            self.ele_m.append(place.ele_m)
            self.name.add(place.name)
            self.tags.add(place.tags)


@dataclass(slots=True)
class RawMap:
    """All that is kept of the extracts, still in the files' own order."""

    ways: RawWays = field(default_factory=RawWays)
    places: RawPlaces = field(default_factory=RawPlaces)
    areas: RawAreas = field(default_factory=RawAreas)
    stopping_nodes: array[int] = field(default_factory=lambda: array("q"))
    newest_day: int = 0  # of the newest object or stamp, days since 1970-01-01


def scan_files(paths: tuple[Path, ...], progress: Progress, keep: Keep | None = None) -> RawMap:
    """Read the extracts one after the other.

    keep : called with what each held and what was made of all so far
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
        extract = _read_file(path, raw)
        add_extract(raw, extract)
        if keep is not None:
            keep(extract, raw)
    return raw


@contextmanager
def reading(path: Path) -> Iterator[None]:
    """Whatever the reader stumbles over becomes one clear message."""
    try:
        yield
    except (osmium.InvalidLocationError, RuntimeError, ValueError, OSError) as exc:
        raise _not_readable(path, exc) from exc


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


def _read_file(path: Path, raw: RawMap) -> Extract:
    with reading(path):
        history, stamp = is_history(path), stamp_of(path)
    if history:
        raise MapDataError(
            message("the file holds the history of the map, not one state of it"),
            str(path),
            message("Give a plain extract (.osm.pbf)."),
        )
    raw.newest_day = max(raw.newest_day, day_of(stamp))
    with reading(path):
        return read_extract(path)


def add_extract(raw: RawMap, extract: Extract) -> None:
    """Keep what an extract holds."""
    days = [
        int(part.day[part.told >= 0].max(initial=0))
        for part in (*extract.nodes, *extract.ways, *extract.relations)
    ]
    raw.newest_day = max(raw.newest_day, *days, 0)
    for nodes in extract.nodes:
        _add_nodes(raw, nodes)
    _add_relations(raw, extract, _add_ways(raw, extract))


class Uses(NamedTuple):
    """What an object that is no node may be, by its tags."""

    road: bool
    place: bool
    area: bool


@lru_cache(_TEXTS)
def uses_of(told: TagSet) -> Uses:
    """What an object that is no node may be."""
    tags = dict(told)
    return Uses(
        road=way_class(tags) is not None,
        place=not PLACE_KEYS.isdisjoint(tags),
        area=area_kind(tags) is not None,
    )


def _add_nodes(raw: RawMap, nodes: Objects) -> None:
    assert nodes.spots is not None
    facts = [_place(told, is_node=True) for told in nodes.tag_sets]
    held = np.flatnonzero(nodes.spots[:, 0] != UNKNOWN)
    for k, (lon, lat) in zip(held.tolist(), (nodes.spots[held] / UNITS).tolist(), strict=True):
        place = facts[nodes.told[k]]
        raw.places.add(0, int(nodes.id[k]), int(nodes.version[k]), place, (lon, lat))
    stops = np.array([place.stops for place in facts], np.bool_)
    extend(raw.stopping_nodes, nodes.id[stops[nodes.told]])


def _add_ways(raw: RawMap, extract: Extract) -> dict[int, Int32Array]:
    """Keep the ways; where those lie that relations are made of, by their ids."""
    roads, lines, stop = [np.empty(0, np.int32)], {}, 0
    for ways in extract.ways:
        assert ways.count is not None
        start = stop + np.cumsum(ways.count) - ways.count
        stop += int(ways.count.sum())
        uses = np.array([*map(uses_of, ways.tag_sets), (False,) * 3], np.bool_)[ways.told]
        rows = np.flatnonzero(uses[:, 0] & (ways.count > 1))
        raw.ways.add(ways, rows)
        roads.append(extract.node[ranges(start[rows], ways.count[rows])])
        is_part = among(ways.id, extract.part_ways)
        for k in np.flatnonzero(uses[:, 1] | uses[:, 2] | is_part).tolist():
            spots = extract.spots[extract.node[start[k] : start[k] + ways.count[k]]]
            if is_part[k]:
                lines[int(ways.id[k])] = spots
            if uses[k, 1]:
                _add_drawn(raw, 1, ways, k, spots)
            if uses[k, 2]:
                raw.areas.add_way(int(ways.id[k]), dict(ways.tag_sets[ways.told[k]]), spots)
    raw.ways.add_nodes(np.concatenate(roads), extract.node_id, extract.spots)
    return lines


def _add_relations(raw: RawMap, extract: Extract, lines: dict[int, Int32Array]) -> None:
    """A place drawn as a relation lies amid its members that are no holes in it."""
    for part in extract.relations:
        for k, members in enumerate(part.members or ()):
            told = part.tag_sets[part.told[k]]
            uses = uses_of(told)
            if uses.place:
                own = [
                    lines.get(ref, _NOWHERE) if kind == "w" else extract.spots_of(ref)
                    for kind, ref, role in members
                    if role != "inner" and kind != "r"
                ]
                _add_drawn(raw, 2, part, k, np.concatenate([_NOWHERE, *own]))
            if uses.area:
                ways = [lines.get(ref) for kind, ref, _ in members if kind == "w"]
                raw.areas.add_relation(int(part.id[k]), dict(told), ways)


def _add_drawn(raw: RawMap, osm_type: int, objects: Objects, k: int, spots: Int32Array) -> None:
    """Keep a place in the middle of the box round its known points."""
    place, known = _place(objects.tag_sets[objects.told[k]], is_node=False), spots[:, 0] != UNKNOWN
    if place.kinds and known.any():
        low, high = spots[known].min(axis=0) / UNITS, spots[known].max(axis=0) / UNITS
        lon, lat = ((low + high) / 2).tolist()
        raw.places.add(osm_type, int(objects.id[k]), int(objects.version[k]), place, (lon, lat))
