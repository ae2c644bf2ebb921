"""The island as an OSM file: nodes, ways and relations in order, with versions and edit times."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Final

import numpy as np
import osmium

from terrain.values.arrays import FloatArray, IntArray
from tests.island.frame import to_lat, to_lon

# Far above the ids of real map objects, so that nobody takes the island for a real place.
FIRST_NODE_ID: Final = 900_000_000_001
FIRST_WAY_ID: Final = 90_000_000_001
FIRST_RELATION_ID: Final = 900_000_001

_EPOCH: Final = datetime(1970, 1, 1, tzinfo=UTC)
Tags = Mapping[str, str]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Drawing:
    """Everything to write.

    lines : points of each way on the board [m]; ways that meet share a point exactly
    way_tags, edited_day, version : one per way
    spots : places of tagged single points, shape (n, 2), with their tags
    relations : members as (type letter, row in lines, role) and tags
    """

    lines: tuple[FloatArray, ...]
    way_tags: tuple[Tags, ...]
    edited_day: IntArray
    version: IntArray
    spots: FloatArray
    spot_tags: tuple[Tags, ...]
    relations: tuple[tuple[tuple[tuple[str, int, str], ...], Tags], ...] = ()


def write_osm(path: Path, drawing: Drawing) -> None:
    """Write the file; its format follows its name (.osm.pbf, .osm, ...)."""
    every = np.concatenate((*drawing.lines, drawing.spots))
    whole = np.round(every * 100).astype(np.int64)
    key = (whole[:, 0] << 32) + whole[:, 1]
    _, first, node = np.unique(key, return_index=True, return_inverse=True)
    place = every[first]
    n_spots = len(drawing.spots)
    tags = dict(zip(node[len(every) - n_spots :].tolist(), drawing.spot_tags, strict=True))
    seen = np.full(len(place), int(drawing.edited_day.min()))
    sizes = [len(line) for line in drawing.lines]
    np.maximum.at(seen, node[: len(every) - n_spots], np.repeat(drawing.edited_day, sizes))
    header = osmium.io.Header()
    header.set("generator", "terrain demo")
    header.add_box(
        osmium.osm.Box(
            float(to_lon(place[:, 0]).min()), float(to_lat(place[:, 1]).min()),
            float(to_lon(place[:, 0]).max()), float(to_lat(place[:, 1]).max()),
        )
    )  # fmt: skip
    with osmium.SimpleWriter(str(path), header=header, overwrite=True) as writer:
        _write_nodes(writer, place, seen, tags)
        _write_ways(writer, drawing, node)
        for k, (members, relation_tags) in enumerate(drawing.relations):
            writer.add_relation(
                osmium.osm.mutable.Relation(
                    id=FIRST_RELATION_ID + k, version=2, visible=True, changeset=1,
                    timestamp=_moment(int(drawing.edited_day.max()), k),
                    members=[(t, FIRST_WAY_ID + row, role) for t, row, role in members],
                    tags=dict(relation_tags),
                )
            )  # fmt: skip


def _write_nodes(
    writer: osmium.SimpleWriter, place: FloatArray, day: IntArray, tags: dict[int, Tags]
) -> None:
    lon = np.round(to_lon(place[:, 0]), 7).tolist()
    lat = np.round(to_lat(place[:, 1]), 7).tolist()
    node = osmium.osm.mutable.Node
    moments = {d: _moment(d, 0) for d in np.unique(day).tolist()}
    for k, (x, y, d) in enumerate(zip(lon, lat, day.tolist(), strict=True)):
        writer.add_node(
            node(
                id=FIRST_NODE_ID + k, version=1 + k % 3, visible=True, changeset=1,
                timestamp=moments[d], location=(x, y), tags=tags.get(k),
            )
        )  # fmt: skip


def _write_ways(writer: osmium.SimpleWriter, drawing: Drawing, node: IntArray) -> None:
    at = 0
    for k, line in enumerate(drawing.lines):
        refs = node[at : at + len(line)]
        at += len(line)
        kept = np.append(True, np.diff(refs) != 0)
        writer.add_way(
            osmium.osm.mutable.Way(
                id=FIRST_WAY_ID + k, version=int(drawing.version[k]), visible=True, changeset=1,
                timestamp=_moment(int(drawing.edited_day[k]), k),
                nodes=(FIRST_NODE_ID + refs[kept]).tolist(), tags=dict(drawing.way_tags[k]),
            )
        )  # fmt: skip


def _moment(day: int, k: int) -> datetime:
    return _EPOCH + timedelta(days=day, hours=3 + k % 14, minutes=k * 7 % 60)
