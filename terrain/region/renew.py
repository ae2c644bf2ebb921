"""A map as it was read, brought to date: what changed is read anew, and all other roads stay."""

from __future__ import annotations

from array import array
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np
import osmium

from terrain.region.changes import UNPACKED, apply_changes
from terrain.region.columns import TextColumn, among, extend
from terrain.region.items import read_extract
from terrain.region.kept import KeptMap, KeptRoads, keep_found, ways_of
from terrain.region.pbf import UNKNOWN, Extract, find_parts
from terrain.region.scan import RawMap, RawWays, add_extract, reading
from terrain.region.source import KeptSource
from terrain.values.arrays import Int32Array, IntArray, spans


class AnewError(Exception):
    """The whole map has to be read: a change is older than what is kept, or the extract is of a
    form in which nothing can be looked for."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Changed:
    """Ids of the nodes and ways that changed, in order.

    spots : where each node lies now [1e-7 deg], UNKNOWN if it is gone; version : of each way
    """

    nodes: IntArray
    spots: Int32Array
    ways: IntArray
    version: IntArray


def renew(kept: KeptMap, now: KeptSource, work: Path) -> tuple[RawMap, KeptMap]:
    """What reading the changed map anew would give, and what is kept of it then.

    kept : of the extract of `now`; work : folder for what is written on the way
    Raises AnewError, MapDataError if a file cannot be read.
    """
    assert now.changes is not None
    with reading(now.changes):
        changed = _changed(now.changes)
    roads = kept.roads
    rows = np.flatnonzero(among(roads.way_id, changed.ways))
    at = np.searchsorted(changed.ways, roads.way_id[rows])
    if (changed.version[at] < roads.version[rows]).any():
        raise AnewError
    beside = _laid(_read_beside(kept, now, work), kept, changed)
    nodes, ways = _sought(kept, beside, changed)
    if len(nodes) or len(ways):
        try:
            found = find_parts(now.extract, nodes, ways)
        except (ValueError, OSError) as exc:
            raise AnewError from exc
        kept = keep_found(kept, found, work)
        beside = _laid(_read_beside(kept, now, work) if found.ways else beside, kept, changed)
    raw = RawMap(newest_day=roads.newest_day)
    _add_roads(raw.ways, roads, changed)  # one that is a place too comes twice, as in two extracts
    add_extract(raw, beside)
    _as_met(raw.ways)
    return raw, kept


def _changed(since: Path) -> _Changed:
    nodes: dict[int, tuple[int, int]] = {}
    ways: dict[int, int] = {}
    item: Any
    for item in osmium.FileProcessor(str(since), osmium.osm.NODE | osmium.osm.WAY):
        if item.is_way():
            ways[item.id] = item.version
        elif item.deleted or not item.location.valid():
            nodes[item.id] = UNKNOWN, UNKNOWN
        else:
            nodes[item.id] = item.location.x, item.location.y
    node_ids, way_ids = sorted(nodes), sorted(ways)
    return _Changed(
        nodes=np.array(node_ids, np.int64),
        spots=np.array([nodes[ref] for ref in node_ids], np.int32).reshape(-1, 2),
        ways=np.array(way_ids, np.int64),
        version=np.array([ways[ref] for ref in way_ids], np.int64),
    )


def _read_beside(kept: KeptMap, now: KeptSource, work: Path) -> Extract:
    """What is not only a road, and all that changed."""
    assert now.changes is not None
    small = work / "small.osm.pbf"
    apply_changes(kept.beside, (now.changes,), small, url=now.source.url, form=UNPACKED)
    with reading(small):
        return read_extract(small)


def _laid(extract: Extract, kept: KeptMap, changed: _Changed) -> Extract:
    """The extract with the nodes that it lacks and that did not change where they were."""
    spots = extract.spots.copy()
    for known in (kept.parts, kept.roads):
        lacks = np.flatnonzero((spots[:, 0] == UNKNOWN) & ~among(extract.node_id, changed.nodes))
        lacks = lacks[among(extract.node_id[lacks], known.node_id)]
        spots[lacks] = known.spots[np.searchsorted(known.node_id, extract.node_id[lacks])]
    return replace(extract, spots=spots)


def _sought(kept: KeptMap, beside: Extract, changed: _Changed) -> tuple[IntArray, IntArray]:
    """Nodes and ways that are to be looked for in the extract."""
    nodes = beside.node_id[beside.spots[:, 0] == UNKNOWN]
    for known in (changed.nodes, kept.roads.node_id, kept.parts.node_id):
        nodes = nodes[~among(nodes, known)]
    ways = beside.part_ways
    for known in (changed.ways, ways_of(beside), kept.parts.lacks):
        ways = ways[~among(ways, known)]
    return nodes, ways


def _add_roads(ways: RawWays, roads: KeptRoads, changed: _Changed) -> None:
    """Add the roads but those that changed, with the nodes that moved where they lie now."""
    texts = roads.texts()
    ways.tag_sets = {tags: i for i, tags in enumerate(texts["tag_set"])}
    ways.name, ways.ref = TextColumn(texts["name"]), TextColumn(texts["ref"])
    stay = ~among(roads.way_id, changed.ways)
    for name in ("way_id", "version", "edited_day", "tag_set", "n_refs"):
        extend(getattr(ways, name), getattr(roads, name)[stay])
    ways.name.extend(roads.name[stay])
    ways.ref.extend(roads.ref[stay])
    end = np.r_[0, np.cumsum(roads.n_refs, dtype=np.int64)]
    runs = [roads.node[end[a] : end[b]] for a, b in spans(stay)]
    spots, at = np.array(roads.spots), np.searchsorted(roads.node_id, changed.nodes)
    held = among(changed.nodes, roads.node_id)
    spots[at[held]] = changed.spots[held]
    ways.add_nodes(np.concatenate([roads.node[:0], *runs]), np.asarray(roads.node_id), spots)


def _as_met(ways: RawWays) -> None:
    """Number texts as if the ways had been read one after the other; those of no way are gone."""
    order = np.argsort(np.array(ways.way_id))

    def renumbered(codes: Int32Array, known: list[Any]) -> tuple[Int32Array, list[Any]]:
        used, first = np.unique(codes[order], return_index=True)
        met = used[np.argsort(first)]
        met = met[met >= 0]
        renamed = np.full(len(known) + 1, -1, np.int32)
        renamed[met] = np.arange(len(met), dtype=np.int32)
        return renamed[codes], [known[k] for k in met.tolist()]

    codes, sets = renumbered(np.array(ways.tag_set, np.int32), list(ways.tag_sets))
    ways.tag_set, ways.tag_sets = array("i"), {tags: i for i, tags in enumerate(sets)}
    extend(ways.tag_set, codes)
    for name in ("name", "ref"):
        column: TextColumn = getattr(ways, name)
        codes, texts = renumbered(column.codes(), column.texts())
        setattr(ways, name, TextColumn(texts))
        getattr(ways, name).extend(codes)
