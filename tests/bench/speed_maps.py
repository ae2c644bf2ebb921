"""A large map made of copies of a small one, each with ids of its own, in rows and columns."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import osmium

_COLUMNS = 10
_STEP_LON, _STEP_LAT = 0.6, 0.4  # copies lie so far apart [deg]: more than Andorra is wide
_IDS = 100_000_000_000  # between the ids of two copies


def copied_map(extract: Path, copies: int, out: Path) -> None:
    """Write the map `copies` times into one .osm.pbf; the first copy lies where it lay."""
    items = [_held(item) for item in osmium.FileProcessor(extract)]
    with osmium.SimpleWriter(out, overwrite=True) as writer:
        for kind in "nwr":
            for k in range(copies):
                for item in items:
                    if item["kind"] == kind:
                        _write(writer, item, k)


def _held(item: Any) -> dict[str, Any]:
    held = {
        "kind": item.type_str(), "id": item.id, "version": item.version,
        "timestamp": item.timestamp, "tags": dict(item.tags),
    }  # fmt: skip
    if item.is_node():
        held["location"] = (item.location.lon, item.location.lat)
    elif item.is_way():
        held["nodes"] = [node.ref for node in item.nodes]
    else:
        held["members"] = [(m.type, m.ref, m.role) for m in item.members]
    return held


def _write(writer: Any, item: dict[str, Any], k: int) -> None:
    shared = {key: item[key] for key in ("version", "timestamp", "tags")}
    shared["id"] = item["id"] + k * _IDS
    if item["kind"] == "n":
        lon, lat = item["location"]
        place = (lon + (k % _COLUMNS) * _STEP_LON, lat + (k // _COLUMNS) * _STEP_LAT)
        writer.add_node(osmium.osm.mutable.Node(location=place, **shared))
    elif item["kind"] == "w":
        nodes = [ref + k * _IDS for ref in item["nodes"]]
        writer.add_way(osmium.osm.mutable.Way(nodes=nodes, **shared))
    else:
        members = [(kind, ref + k * _IDS, role) for kind, ref, role in item["members"]]
        writer.add_relation(osmium.osm.mutable.Relation(members=members, **shared))
