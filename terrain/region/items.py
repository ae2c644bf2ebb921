"""The objects of an OSM extract that matter here, one by one.

Small files are read in this process. For large ones a second process sifts: there the reader's
own compiled code drops what is not wanted and hands on plain text, which is parsed here ten
times faster than objects are made one by one, while both processors work.
"""

from __future__ import annotations

import os
import re
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from datetime import date
from functools import cache
from pathlib import Path
from typing import IO, Any, NamedTuple

import numpy as np
import osmium

from terrain.region.place_tags import WANTED_TAGS
from terrain.values.arrays import FloatArray, IntArray

_SIFT_FROM = 1_000_000  # bytes; below it the second process costs more than it saves
_LARGE_FILE = 600_000_000  # bytes; about 70 million nodes, 1.1 GB of positions
_EPOCH_DAY = date(1970, 1, 1).toordinal()
_ESCAPE = re.compile("%([0-9a-f]+)%")
_NOWHERE = "1e9"  # stands in the text for a position that is not known
_NUMBERS_ONLY = str.maketrans("nxy,", "    ")
# What the second process writes: OPL, the reader's own one-line-per-object text.
_OPL = "opl,locations_on_ways=true,add_metadata=version+timestamp"


class MapItem(NamedTuple):
    """One object of the map that carries a wanted tag.

    kind : "n", "w" or "r"
    day : days since 1970-01-01 of its last edit, 0 or less if not known
    line : id and position of the node, or of each node of the way, as text for parse_lines
    members : kind and id of each member of a relation that is no hole in it
    """

    kind: str
    id: int
    version: int
    day: int
    tags: dict[str, str]
    line: str
    members: list[tuple[str, int]]


def read_items(path: Path) -> Iterator[MapItem]:
    """All wanted objects of an extract: nodes, then ways, then relations.

    Raises RuntimeError, ValueError, OSError or InvalidLocationError if it cannot be read.
    """
    if path.stat().st_size < _SIFT_FROM:
        return _read_here(path)
    return _read_sifted(path)


def is_history(path: Path) -> bool:
    """True for a file that holds past states of the map too. Raises RuntimeError."""
    header = _header(path)
    return bool(header.has_multiple_object_versions) or ".osh" in path.suffixes


def stamp_of(path: Path) -> str:
    """The time of the map as the file's head tells it, ISO 8601; "" if it does not."""
    header = _header(path)
    text = header.get("osmosis_replication_timestamp") or header.get("timestamp")
    if text:
        return str(text)
    with path.open("rb") as file:
        found = re.search(rb'<meta osm_base="([^"]+)"', file.read(2048))
    return found[1].decode("ascii", "replace") if found else ""


def _header(path: Path) -> Any:
    with osmium.io.Reader(path, osmium.osm.NOTHING) as reader:
        return reader.header()


@cache
def day_of(stamp: str) -> int:
    """Days since 1970-01-01 of an ISO 8601 day; 0 if it is none."""
    try:
        return date.fromisoformat(stamp[:10]).toordinal() - _EPOCH_DAY
    except ValueError:
        return 0


def _storage(path: Path) -> str:
    """Where node positions wait for the ways: in memory while that stays small."""
    return "flex_mem" if path.stat().st_size < _LARGE_FILE else "sparse_file_array"


def parse_lines(lines: list[str]) -> tuple[IntArray, FloatArray]:
    """Node ids, shape (n,), and lon, lat [deg], shape (n, 2), of many lines one after the other.

    A line is n1x1.5y2.5,n2x1.6y2.5,...; NaN where the file does not hold the node (n3xy). Ids up
    to 2^53 come out exact.
    """
    text = ",".join(lines)
    if "xy" in text:
        text = text.replace("xy", f"x{_NOWHERE}y{_NOWHERE}")
    table = np.fromstring(text.translate(_NUMBERS_ONLY), sep=" ").reshape(-1, 3)
    places = table[:, 1:]
    places[places == float(_NOWHERE)] = np.nan
    return table[:, 0].astype(np.int64), places


# --- in this process


def _read_here(path: Path) -> Iterator[MapItem]:
    processor = osmium.FileProcessor(path).with_locations(_storage(path))
    processor.with_filter(osmium.filter.EmptyTagFilter())
    processor.with_filter(osmium.filter.TagFilter(*WANTED_TAGS))
    objects: Iterator[Any] = iter(processor)
    for item in objects:
        if item.deleted or not item.visible:
            continue
        line, members = "", []
        if item.is_node():
            line = _spot(item.id, item.location)
        elif item.is_way():
            line = ",".join([_spot(node.ref, node.location) for node in item.nodes])
        else:
            members = [(m.type, m.ref) for m in item.members if m.role != "inner"]
        day = int(item.timestamp.timestamp()) // 86_400
        tags = dict(iter(item.tags))
        yield MapItem(item.type_str(), item.id, item.version, day, tags, line, members)


def _spot(ref: int, place: Any) -> str:
    return f"n{ref}x{place.lon}y{place.lat}" if place.valid() else f"n{ref}xy"


# --- through a second process


def sift(path: str, storage: str) -> None:
    """Write the wanted objects of an extract to standard output; the second process runs this."""
    places = osmium.NodeLocationsForWays(osmium.index.create_map(storage))
    places.ignore_errors()
    wanted = osmium.filter.TagFilter(*WANTED_TAGS)
    writer = osmium.SimpleWriter(osmium.io.File("-", _OPL), overwrite=True)
    osmium.apply(path, places, osmium.filter.EmptyTagFilter(), wanted, writer)
    writer.close()


# It ends with the first process, however that dies: by the system's word on Linux (prctl(2),
# PR_SET_PDEATHSIG), else when its standard input ends and no step of the reader is at work.
_SIFT = """
import contextlib, ctypes, os, sys, threading
with contextlib.suppress(AttributeError, OSError, TypeError):
    ctypes.CDLL(None).prctl(1, 9)
threading.Thread(target=lambda: (os.read(0, 1), os._exit(4)), daemon=True).start()
try:
    from terrain.region.items import sift
    sift(sys.argv[1], sys.argv[2])
except Exception as exc:
    print(exc, file=sys.stderr)
    sys.exit(3)
"""


def _read_sifted(path: Path) -> Iterator[MapItem]:
    with tempfile.TemporaryFile() as said:
        child = _start_sifting(path, said)
        if child is None:
            yield from _read_here(path)
            return
        with child:
            assert child.stdout is not None
            try:
                yield from parse_opl(child.stdout)
            except BaseException:
                child.kill()
                raise
        if child.returncode != 0:
            said.seek(0)
            lines = said.read().decode("utf-8", "replace").split("\n")
            raise RuntimeError(next((line for line in lines if line), "the reader died"))


def _start_sifting(path: Path, said: IO[bytes]) -> subprocess.Popen[bytes] | None:
    """The second process, None where the system starts none."""
    command = [sys.executable, "-c", _SIFT, str(path), _storage(path)]
    surroundings = os.environ | {"PYTHONPATH": os.pathsep.join(p for p in sys.path if p)}
    try:
        return subprocess.Popen(
            command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=said, env=surroundings
        )
    except OSError:
        return None


def parse_opl(lines: IO[bytes]) -> Iterator[MapItem]:
    """The objects of OPL text. Source: the format's page in the manual of the OSM file tools."""
    for line in lines:
        head, version, state, stamp, tags, *rest = (
            line.decode("utf-8", "replace").rstrip("\n").split(" ")
        )
        if state == "dD":
            continue
        kind, ref = head[0], head[1:]
        nodes, members = "", []
        if kind == "w":
            nodes = rest[0][1:]
        elif kind == "n":
            nodes = head + rest[0] + rest[1]
        else:
            members = _members(rest[0][1:])
        yield MapItem(
            kind, int(ref), int(version[1:]), day_of(stamp[1:11]), _tags(tags[1:]), nodes, members
        )


def _tags(text: str) -> dict[str, str]:
    pairs = (part.partition("=") for part in text.split(",")) if text else ()
    if "%" not in text:
        return {key: value for key, _, value in pairs}
    return {_plain(key): _plain(value) for key, _, value in pairs}


def _plain(text: str) -> str:
    return _ESCAPE.sub(lambda found: chr(int(found[1], 16)), text) if "%" in text else text


def _members(text: str) -> list[tuple[str, int]]:
    parts = (part.partition("@") for part in text.split(",")) if text else ()
    return [(head[0], int(head[1:])) for head, _, role in parts if role != "inner"]


# --- what relations are made of


def lines_of_members(path: Path, members: set[tuple[str, int]]) -> dict[tuple[str, int], str]:
    """The line of each member that is a node or a way; members not in the file are left out."""
    ways = {ref for kind, ref in members if kind == "w"}
    refs = {way.id: [node.ref for node in way.nodes] for way in _with_ids(path, "w", ways)}
    nodes = {ref for kind, ref in members if kind == "n"}
    nodes |= {ref for line in refs.values() for ref in line}
    spots = {node.id: _spot(node.id, node.location) for node in _with_ids(path, "n", nodes)}
    out = {
        ("w", way): ",".join(spots[ref] for ref in line if ref in spots)
        for way, line in refs.items()
    }
    return out | {("n", ref): spot for ref, spot in spots.items()}


# Editors number new objects below zero; look-ups by id take none of those.
_REAL_IDS = range(1 << 40)


def _with_ids(path: Path, kind: str, ids: set[int]) -> Iterator[Any]:
    real = {ref for ref in ids if ref in _REAL_IDS}
    if real:
        entity = osmium.osm.WAY if kind == "w" else osmium.osm.NODE
        yield from osmium.FileProcessor(path, entity).with_filter(osmium.filter.IdFilter(real))
