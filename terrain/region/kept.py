"""What was read of a map, kept with its region so that an update need not read it all again.

    read/roads/            the roads as read, a row each, and where their nodes lie
    read/beside.osm.pbf    all else that was read, and the ways it is made of, as a small extract
    read/parts/            where the nodes of that lie, and which of its ways the map lacks

These go with the extract of the region, and stay as they are until it is packed anew.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import numpy as np
import osmium
from numpy.typing import NDArray
from osmium.osm import mutable

from terrain.region.changes import LIGHT, apply_changes
from terrain.region.columns import among, numbered
from terrain.region.disk import file_errors
from terrain.region.objects import Objects
from terrain.region.pack import check_pack, reads_all
from terrain.region.pbf import UNITS, UNKNOWN, Extract
from terrain.region.place_tags import READ_TAGS
from terrain.region.scan import RawMap, uses_of
from terrain.region.source import link_or_copy
from terrain.region.store import load_value, save_value
from terrain.region.tags import WAY_KEYS
from terrain.values.arrays import BoolArray, Int32Array, IntArray

KEPT = "read"
_ROADS, _BESIDE, _PARTS = "roads", "beside.osm.pbf", "parts"


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class KeptRoads:
    """Roads as read of one extract, by id.

    rules : of the tags that were read; newest_day : see RawMap
    tag_set, name, ref : of each road, numbers into `known`; -1 none
    node : of all roads, one after the other, places in node_id, which is in order
    spots : lon, lat of each node [1e-7 deg], UNKNOWN if not held, shape (n, 2)
    known : JSON of the tag sets, names and refs
    """

    rules: str
    newest_day: int
    way_id: IntArray
    version: Int32Array
    edited_day: Int32Array
    tag_set: Int32Array
    name: Int32Array
    ref: Int32Array
    n_refs: Int32Array
    node: Int32Array
    node_id: IntArray
    spots: Int32Array
    known: NDArray[np.uint8]

    def texts(self) -> dict[str, list[Any]]:
        """tag_set, name and ref by their numbers."""
        known: dict[str, list[Any]] = json.loads(self.known.tobytes())
        sets = [tuple((key, value) for key, value in tags) for tags in known["tag_set"]]
        return known | {"tag_set": sets}


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class KeptParts:
    """What all but the roads is made of.

    node_id : in order, shape (n,); spots : lon, lat [1e-7 deg], UNKNOWN if not held, shape (n, 2)
    lacks : ids of the ways that the map does not hold, in order
    """

    node_id: IntArray
    spots: Int32Array
    lacks: IntArray


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class KeptMap:
    """All that was read of an extract. folder : its files; beside : the small extract"""

    folder: Path
    roads: KeptRoads
    beside: Path
    parts: KeptParts


def keep_map(pack: Path, extract: Extract, raw: RawMap) -> None:
    """Write what was read of the one extract of a map.

    Nothing is kept of a file that is not in order: no change fits into it.
    """
    folder, ways = pack / KEPT, raw.ways
    if not extract.in_order:
        return
    known = {"tag_set": list(ways.tag_sets), "name": ways.name.texts(), "ref": ways.ref.texts()}
    node, node_id, spots = ways.nodes()
    roads = KeptRoads(
        rules=_rules(), newest_day=raw.newest_day, way_id=np.array(ways.way_id),
        version=np.array(ways.version), edited_day=np.array(ways.edited_day),
        tag_set=np.array(ways.tag_set),
        name=ways.name.codes(), ref=ways.ref.codes(), n_refs=np.array(ways.n_refs),
        node=node, node_id=node_id, spots=spots,
        known=np.frombuffer(json.dumps(known).encode("ascii"), np.uint8),
    )  # fmt: skip
    save_value(folder / _ROADS, roads)
    used = _write_beside(folder / _BESIDE, extract)
    parts = KeptParts(
        node_id=extract.node_id[used], spots=extract.spots[used],
        lacks=np.setdiff1d(extract.part_ways, ways_of(extract)),
    )  # fmt: skip
    save_value(folder / _PARTS, parts)


def keep_found(kept: KeptMap, found: Extract, work: Path) -> KeptMap:
    """The kept map with what was found, or not, of nodes and ways that it lacked."""
    parts = kept.parts
    node_id, place = numbered(np.concatenate([parts.node_id, found.node_id]))
    spots = np.empty((len(node_id), 2), np.int32)
    spots[place] = np.concatenate([parts.spots, found.spots])
    lacks = np.setdiff1d(found.part_ways, ways_of(found))
    kept = replace(
        kept,
        parts=KeptParts(node_id=node_id, spots=spots, lacks=np.union1d(parts.lacks, lacks)),
    )
    if not found.ways:
        return kept
    more, beside = work / "found.osm.pbf", work / _BESIDE
    _write(more, found, _ways(found, found.part_ways), ())
    apply_changes(kept.beside, (more,), beside)
    return replace(kept, beside=beside)


def ways_of(extract: Extract) -> IntArray:
    """Ids of the ways of an extract, in order."""
    return np.unique(np.concatenate([np.empty(0, np.int64), *(part.id for part in extract.ways)]))


def take_kept(kept: KeptMap, pack: Path) -> None:
    """Put a kept map into another pack."""
    folder = pack / KEPT
    save_value(folder / _PARTS, kept.parts)
    with file_errors(folder):
        (folder / _ROADS).mkdir()
        for path in (kept.folder / _ROADS).iterdir():
            link_or_copy(path, folder / _ROADS / path.name)
    link_or_copy(kept.beside, folder / _BESIDE)


def kept_map(pack: Path) -> KeptMap | None:
    """What a build read, None if it kept nothing that today's rules could go on with.

    Raises RegionDamaged if its files are not as they were built.
    """
    folder = pack / KEPT
    if not folder.is_dir() or not reads_all(pack):
        return None
    check_pack(pack, contents=True, only=f"{KEPT}/")
    roads = load_value(folder / _ROADS, KeptRoads)
    if roads.rules != _rules():
        return None
    parts = load_value(folder / _PARTS, KeptParts)
    return KeptMap(folder=folder, roads=roads, beside=folder / _BESIDE, parts=parts)


def _rules() -> str:
    """Which tags are read and kept; a map read by others has to be read anew."""
    return hashlib.sha256(repr((READ_TAGS, sorted(WAY_KEYS))).encode()).hexdigest()


def _write_beside(path: Path, extract: Extract) -> BoolArray:
    """Write what is not only a road; which nodes of the extract that is made of, shape (m,)."""
    relations = [
        (part, k) for part in extract.relations for k in np.flatnonzero(_others(part)).tolist()
    ]
    members = {
        (kind, ref) for part, k in relations for kind, ref, _ in (part.members or [])[k]
    }  # fmt: skip
    part_ways, part_nodes = (
        np.array(sorted(ref for kind, ref in members if kind == of), np.int64) for of in "wn"
    )
    ways = list(_ways(extract, part_ways))
    used = among(extract.node_id, part_nodes)
    used[np.concatenate([extract.node[:0], *(node for _, _, node in ways)])] = True
    _write(path, extract, ways, relations)
    return used


def _ways(extract: Extract, parts: IntArray) -> Iterator[tuple[Objects, int, Int32Array]]:
    """Each way that is not only a road or is among the parts: its block, its row there, and the
    places of its nodes."""
    stop = np.zeros(1, np.int64)
    for part in extract.ways:
        assert part.count is not None
        stop = stop[-1] + np.r_[0, np.cumsum(part.count)]
        for k in np.flatnonzero(_others(part) | among(part.id, parts)).tolist():
            yield part, k, extract.node[stop[k] : stop[k + 1]]


def _others(part: Objects) -> BoolArray:
    """Which objects are not only roads, shape (n,)."""
    uses = [uses_of(told) for told in part.tag_sets]
    return np.array([*(use.place or use.area for use in uses), False], np.bool_)[part.told]


def _write(
    path: Path, extract: Extract, ways: Iterable[tuple[Objects, int, Int32Array]],
    relations: Iterable[tuple[Objects, int]],
) -> None:  # fmt: skip
    """Write the wanted nodes of an extract, and the given ways and relations."""
    with (
        file_errors(path),
        osmium.SimpleWriter(osmium.io.File(path, LIGHT), overwrite=True) as writer,
    ):
        for part in extract.nodes:
            assert part.spots is not None
            for k in np.flatnonzero(part.spots[:, 0] != UNKNOWN).tolist():
                lon, lat = (part.spots[k] / UNITS).tolist()
                writer.add_node(mutable.Node(location=(lon, lat), **_said(part, k)))
        for part, k, node in ways:
            refs = extract.node_id[node].tolist()
            writer.add_way(mutable.Way(nodes=refs, **_said(part, k)))
        for part, k in relations:
            made_of = (part.members or [])[k]
            writer.add_relation(mutable.Relation(members=made_of, **_said(part, k)))


def _said(part: Objects, k: int) -> dict[str, Any]:
    said: dict[str, Any] = {"id": int(part.id[k]), "version": int(part.version[k])}
    if part.day[k] > 0:
        said["timestamp"] = datetime.fromtimestamp(int(part.day[k]) * 86_400, UTC)
    if part.told[k] >= 0:
        said["tags"] = dict(part.tag_sets[part.told[k]])
    return said
