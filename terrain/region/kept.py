"""What was read of a map, kept with its region so that an update need not read it all again.

    read/roads/            the roads as read, a row each, and where their nodes lie
    read/beside.osm.pbf    all else that was read, and what it is made of, as a small extract
    read/missing/          what that is made of and the map does not hold

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
from terrain.region.columns import among
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
_ROADS, _BESIDE, _MISSING = "roads", "beside.osm.pbf", "missing"


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
class Missing:
    """Ids of nodes and ways that what was read is made of and the map does not hold, in order."""

    nodes: IntArray
    ways: IntArray


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class KeptMap:
    """All that was read of an extract. folder : its files; beside : the small extract"""

    folder: Path
    roads: KeptRoads
    beside: Path
    missing: Missing


def keep_map(pack: Path, extract: Extract, raw: RawMap) -> None:
    """Write what was read of the one extract of a map.

    Nothing is kept of a file whose ways are not in order: no change fits into it.
    """
    folder, ways, way_id = pack / KEPT, raw.ways, np.array(raw.ways.way_id)
    if not (np.diff(way_id, prepend=0) > 0).all():
        return
    known = {"tag_set": list(ways.tag_sets), "name": ways.name.texts(), "ref": ways.ref.texts()}
    node, node_id, spots = ways.nodes()
    roads = KeptRoads(
        rules=_rules(), newest_day=raw.newest_day, way_id=way_id, version=np.array(ways.version),
        edited_day=np.array(ways.edited_day), tag_set=np.array(ways.tag_set),
        name=ways.name.codes(), ref=ways.ref.codes(), n_refs=np.array(ways.n_refs),
        node=node, node_id=node_id, spots=spots,
        known=np.frombuffer(json.dumps(known).encode("ascii"), np.uint8),
    )  # fmt: skip
    save_value(folder / _ROADS, roads)
    used = _write_beside(folder / _BESIDE, extract)
    held = np.concatenate([np.empty(0, np.int64), *(part.id for part in extract.ways)])
    missing = Missing(
        nodes=extract.node_id[used & (extract.spots[:, 0] == UNKNOWN)],
        ways=np.setdiff1d(extract.part_ways, held),
    )
    save_value(folder / _MISSING, missing)


def keep_found(
    kept: KeptMap, found: Extract, nodes: IntArray, ways: IntArray, work: Path
) -> KeptMap:
    """The kept map with what was found of nodes and ways that were looked for in its extract."""
    more, beside = work / "found.osm.pbf", work / _BESIDE
    _write(more, found, np.ones(len(found.node_id), np.bool_), _ways(found, ways), ())
    both = work / "both.osm.pbf"
    apply_changes(kept.beside, (more,), both)
    with file_errors(beside):
        both.replace(beside)
    lacked = found.node_id[found.spots[:, 0] == UNKNOWN]
    held = np.concatenate([np.empty(0, np.int64), *(part.id for part in found.ways)])
    missing = Missing(
        nodes=np.union1d(kept.missing.nodes, lacked),
        ways=np.union1d(kept.missing.ways, np.setdiff1d(ways, held)),
    )
    return replace(kept, beside=beside, missing=missing)


def take_kept(kept: KeptMap, pack: Path) -> None:
    """Put a kept map into another pack."""
    folder = pack / KEPT
    save_value(folder / _MISSING, kept.missing)
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
    missing = load_value(folder / _MISSING, Missing)
    return KeptMap(folder=folder, roads=roads, beside=folder / _BESIDE, missing=missing)


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
    _write(path, extract, used, ways, relations)
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
    path: Path, extract: Extract, used: BoolArray,
    ways: Iterable[tuple[Objects, int, Int32Array]], relations: Iterable[tuple[Objects, int]],
) -> None:  # fmt: skip
    """Write nodes of an extract, the used and the wanted, and the given ways and relations."""
    held = used & (extract.spots[:, 0] != UNKNOWN)
    nodes = dict(zip(extract.node_id[held].tolist(), extract.spots[held].tolist(), strict=True))
    tagged: dict[int, tuple[Objects, int]] = {}
    for part in extract.nodes:
        assert part.spots is not None
        nodes |= zip(part.id.tolist(), part.spots.tolist(), strict=True)
        tagged |= {ref: (part, k) for k, ref in enumerate(part.id.tolist())}
    with (
        file_errors(path),
        osmium.SimpleWriter(osmium.io.File(path, LIGHT), overwrite=True) as writer,
    ):
        for ref, (lon, lat) in sorted(nodes.items()):
            said = _said(*tagged[ref]) if ref in tagged else {"id": ref}
            writer.add_node(mutable.Node(location=(lon / UNITS, lat / UNITS), **said))
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
