"""The objects of an OSM extract that matter here, one by one.

The reader's own compiled code drops what is not wanted and writes the rest as plain text, which
is parsed ten times faster than objects are made one by one. For large files a second process does
so, while what it writes is parsed here.
"""

from __future__ import annotations

import os
import re
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from contextlib import suppress
from datetime import date
from functools import cache, lru_cache
from pathlib import Path
from typing import IO, Any, NamedTuple

import osmium

from terrain.region.place_tags import READ_TAGS

_SIFT_FROM = 1_000_000  # bytes; below it the second process costs more than it saves
_LARGE_FILE = 600_000_000  # bytes; about 70 million nodes, 1.1 GB of positions
_EPOCH_DAY = date(1970, 1, 1).toordinal()
_ESCAPE = re.compile("%([0-9a-f]+)%")
_TEXTS = 1 << 14  # tags of one object each, as text, of which the meaning is kept at hand
# What is written: OPL, the reader's own one-line-per-object text.
_OPL = "opl,locations_on_ways=true,add_metadata=version+timestamp"


class MapItem(NamedTuple):
    """One object of the map that carries a wanted tag, or a part of a relation that does.

    kind : "n", "w" or "r"
    day : days since 1970-01-01 of its last edit, 0 or less if not known
    told : its tags, as text; empty for what is only told as part of a relation
    line : id and position of the node, or of each node of the way, as text for parse_lines
    members : kind, id and role of each member of a relation
    """

    kind: str
    id: int
    version: int
    day: int
    told: bytes
    line: bytes
    members: list[tuple[str, int, str]]

    @property
    def tags(self) -> dict[str, str]:
        """Key to value; not to be changed, as others that are tagged alike share it."""
        return tags_of(self.told)


def read_items(path: Path) -> Iterator[MapItem]:
    """All wanted objects of an extract: nodes, ways, relations; then the nodes and ways of these.

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


# --- sifting


class _Members:
    """Takes relations, and notes what they are made of; then lets such ways by and no other.

    The reader's own filter by id takes four megabytes for each run of 33 million ids.
    """

    def __init__(self) -> None:
        self.nodes: set[int] = set()
        self.ways: set[int] = set()

    def relation(self, item: Any) -> None:
        for member in item.members:
            if member.type != "r" and member.ref > 0:  # editors number new objects below zero
                (self.nodes if member.type == "n" else self.ways).add(member.ref)

    def way(self, item: Any) -> bool:
        return item.id not in self.ways


def sift(path: str, storage: str, out: str, parts: str) -> None:
    """Write the wanted objects of an extract, and what the relations among them are made of.

    storage : where node positions wait for the ways; out, parts : OPL files, "-" standard output
    """
    index = osmium.index.create_map(storage)
    places = osmium.NodeLocationsForWays(index)
    places.ignore_errors()
    members = _Members()
    # First by key alone, which is the quicker: most objects are houses.
    keys = osmium.filter.KeyFilter(*dict(READ_TAGS))
    sieve = (keys, osmium.filter.TagFilter(*READ_TAGS))
    with osmium.SimpleWriter(osmium.io.File(out, _OPL), overwrite=True) as writer:
        osmium.apply(path, places, *sieve, writer, members)
    with osmium.SimpleWriter(osmium.io.File(parts, _OPL), overwrite=True) as writer:
        for ref in members.nodes:
            with suppress(KeyError):
                writer.add_node(osmium.osm.mutable.Node(id=ref, location=index.get(ref)))
        if members.ways:
            reader = osmium.io.Reader(path, osmium.osm.WAY)
            osmium.apply(reader, members, places, writer)


def _read_here(path: Path) -> Iterator[MapItem]:
    with tempfile.TemporaryDirectory() as folder:
        wanted, parts = Path(folder) / "wanted.opl", Path(folder) / "parts.opl"
        sift(str(path), _storage(path), str(wanted), str(parts))
        with wanted.open("rb") as lines:
            yield from parse_opl(lines)
        yield from _parts(parts)


# --- in a second process

# It ends with the first process, however that dies: by the system's word on Linux (prctl(2),
# PR_SET_PDEATHSIG), else when its standard input ends and no step of the reader is at work.
_SIFT = """
import contextlib, ctypes, os, sys, threading
with contextlib.suppress(AttributeError, OSError, TypeError):
    ctypes.CDLL(None).prctl(1, 9)
threading.Thread(target=lambda: (os.read(0, 1), os._exit(4)), daemon=True).start()
try:
    from terrain.region.items import sift
    sift(sys.argv[1], sys.argv[2], "-", sys.argv[3])
except Exception as exc:
    print(exc, file=sys.stderr)
    sys.exit(3)
"""


def _read_sifted(path: Path) -> Iterator[MapItem]:
    with tempfile.TemporaryDirectory() as folder, tempfile.TemporaryFile() as said:
        parts = Path(folder) / "parts.opl"
        child = _start_sifting(path, parts, said)
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
        yield from _parts(parts)


def _start_sifting(path: Path, parts: Path, said: IO[bytes]) -> subprocess.Popen[bytes] | None:
    """The second process, None where the system starts none."""
    command = [sys.executable, "-c", _SIFT, str(path), _storage(path), str(parts)]
    surroundings = os.environ | {"PYTHONPATH": os.pathsep.join(p for p in sys.path if p)}
    try:
        return subprocess.Popen(
            command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=said, env=surroundings
        )
    except OSError:
        return None


# --- its text


def _parts(path: Path) -> Iterator[MapItem]:
    """What relations are made of; tagged or not, it is told as that."""
    with path.open("rb") as lines:
        for item in parse_opl(lines):
            yield item._replace(told=b"")


def parse_opl(lines: IO[bytes]) -> Iterator[MapItem]:
    """The objects of OPL text. Source: the format's page in the manual of the OSM file tools."""
    for line in lines:
        parts = line.split()
        if parts[2] == b"dD":
            continue
        head, told = parts[0], parts[4][1:]
        kind, place, members = chr(head[0]), b"", []
        if kind == "w":
            place = parts[5][1:]
        elif kind == "n":
            place = head + parts[5] + parts[6]
        else:
            members = _members(parts[5][1:].decode("utf-8", "replace"))
        yield MapItem(
            kind, int(head[1:]), int(parts[1][1:]), _day(parts[3][1:11]), told, place, members
        )


@cache
def _day(stamp: bytes) -> int:
    return day_of(stamp.decode("ascii", "replace"))


@lru_cache(_TEXTS)
def tags_of(told: bytes) -> dict[str, str]:
    """Key to value of tags as OPL writes them."""
    text = told.decode("utf-8", "replace")
    pairs = (part.partition("=") for part in text.split(",")) if text else ()
    if "%" not in text:
        return {key: value for key, _, value in pairs}
    return {_plain(key): _plain(value) for key, _, value in pairs}


def _plain(text: str) -> str:
    return _ESCAPE.sub(lambda found: chr(int(found[1], 16)), text) if "%" in text else text


def _members(text: str) -> list[tuple[str, int, str]]:
    parts = (part.partition("@") for part in text.split(",")) if text else ()
    return [(head[0], int(head[1:]), _plain(role)) for head, _, role in parts]
