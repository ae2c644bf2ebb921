"""OSM extracts in their binary form, read from the end.

What relations are made of is known before the ways come, and what ways are made of before the
nodes: so each block is unpacked once, and no position is kept that nobody asks for.

Source: the OSM wiki, PBF Format. A file is blobs, each a block of objects of one kind, packed.
"""

from __future__ import annotations

import zlib
from dataclasses import dataclass, replace
from pathlib import Path
from typing import BinaryIO

import numpy as np

from terrain.region.columns import among, numbered
from terrain.region.objects import Member, Objects, Tags, TagSet
from terrain.region.wire import Fields, Wire
from terrain.values.arrays import Int32Array, IntArray

UNITS = 1e7  # in a degree: what OSM files hold
UNKNOWN = np.iinfo(np.int32).min  # the position of a node that the extract does not hold
_EAST, _NORTH = 180 * 10**7, 90 * 10**7  # the ends of the Earth; what is not known lies beyond

_COMPILED_FROM = 1_000_000  # bytes; below it compiling costs more than it saves
_LARGEST_HEAD, _LARGEST = 1 << 16, 1 << 25  # bytes of a blob's head, and of a blob
_KINDS = [b"OSMHeader"], [b"OSMData"]  # any other may be one that is spoilt
_FEATURES = {b"OsmSchema-V0.6", b"DenseNodes", b"HistoricalInformation"}
_DENSE, _WAYS, _RELATIONS = 2, 3, 4  # kinds of blocks, in the order of a file
# Keys before the first id, in the order that most files have: texts, group, object, id.
_FIRST: dict[tuple[int, ...], int] = {
    (10, 18, 18, 10): _DENSE,
    (10, 18, 26, 8): _WAYS,
    (10, 18, 34, 8): _RELATIONS,
}
_NO_ID = np.iinfo(np.int64).max
_SOME = 1 << 12  # bytes of a block that hold its texts and the first id, if the texts are few
_USUAL = ((17, 100), (18, 1000), (19, 0), (20, 0))  # units of positions and times


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Extract:
    """What is wanted of a file, block by block; and where the nodes lie that its ways and
    relations are made of.

    in_order : whether the ids of each kind rise from 1 on, as looking for a few of them needs
    part_ways : ids of the ways that relations are made of, in order
    node : of all ways, one after the other, the place of their nodes in node_id
    node_id : in order, shape (m,); spots : lon, lat [1e-7 deg], UNKNOWN if not held, shape (m, 2)
    """

    nodes: list[Objects]
    ways: list[Objects]
    relations: list[Objects]
    in_order: bool
    part_ways: IntArray
    node: Int32Array
    node_id: IntArray
    spots: Int32Array

    def spots_of(self, node: int) -> Int32Array:
        """Where a node lies, shape (1, 2), or (0, 2) if none is asked for by that id."""
        at = np.searchsorted(self.node_id, node)
        found: Int32Array = self.spots[at : at + 1][self.node_id[at : at + 1] == node]
        return found


def read_pbf(path: Path) -> Extract:
    """All wanted objects of an extract, and what the relations among them are made of.

    Raises ValueError if the file is no such, is damaged, or is of a form that few are: not sorted
    by kind, packed otherwise, of other units. OSError if it cannot be read.
    """
    return _read(path, _Reader())


def find_parts(path: Path, nodes: IntArray, ways: IntArray) -> Extract:
    """Nodes and ways of an extract by their ids, as what relations are made of. Raises as above."""
    return _read(path, _Reader(nodes, ways))


def _read(path: Path, reader: _Reader) -> Extract:
    size = path.stat().st_size
    with path.open("rb", buffering=0) as file:
        try:
            for kind, at, length in reversed(_blobs(file, size)):
                file.seek(at)
                blob = file.read(length)
                if kind == b"OSMData" and reader.needs_none(blob):
                    continue
                block = Wire(_unpacked(blob), size >= _COMPILED_FROM)
                if kind == b"OSMData":
                    reader.take(block)
                else:
                    _check_features(block)
        except (zlib.error, IndexError, OverflowError) as exc:
            raise ValueError(str(exc)) from exc
    return reader.extract()


def _check_features(head: Wire) -> None:
    if not _FEATURES.issuperset(_texts(head, *head.fields(*_whole(head.data)).all(4))):
        raise ValueError("the file has features of its own")


def _blobs(file: BinaryIO, size: int) -> list[tuple[bytes, int, int]]:
    """Kind, place and length of each blob of the file."""
    out, at = [], 0
    while at < size:
        file.seek(at)
        length = int.from_bytes(file.read(4), "big")
        if length > _LARGEST_HEAD:
            raise ValueError("the file does not hold blobs")
        head = Wire(file.read(length), compiled=False)
        fields = head.fields(*_whole(head.data))
        kind, own = _texts(head, *fields.all(1)), int(fields.values(3, 1)[0])
        at += 4 + length
        if kind not in _KINDS or not 0 < own <= _LARGEST or at + own > size:
            raise ValueError("the file is cut short or spoilt")
        out.append((kind[0], at, own))
        at += own
    return out


def _unpacked(blob: bytes, most: int = 0) -> bytes:
    """The block of a blob; its first bytes, if fewer than all are asked for."""
    wire = Wire(blob, compiled=False)
    fields = wire.fields(*_whole(blob))
    plain, packed = _texts(wire, *fields.all(1)), _texts(wire, *fields.all(3))
    if plain:
        return plain[0][: most or None]
    unpacker = zlib.decompressobj()
    data = unpacker.decompress(packed[0], most or _LARGEST) if packed else b""
    if not most and not unpacker.eof:
        raise ValueError("a blob is not packed as most are")
    return data


def _first(blob: bytes) -> tuple[int, int] | None:
    """Kind and id of the first object of a packed block; None if it is not laid out as most are.

    Before it come the block's texts, and the heads of the group and of the object.
    """
    try:
        data = _unpacked(blob, _SOME)
        texts, at = _number(data, 1)
        if at + texts + 64 > _SOME:
            data = _unpacked(blob, at + texts + 64)
        keys, at = [data[0]], at + texts
        for _ in range(3):  # group, object, id
            keys.append(data[at])
            number, at = _number(data, at + 1)
        kind = _FIRST[tuple(keys)]
        if kind == _DENSE:
            number, _ = _number(data, at)
            number = number >> 1 ^ -(number & 1)
    except (IndexError, KeyError):
        return None
    return kind, number


def _number(data: bytes, at: int) -> tuple[int, int]:
    """The number at a place, and the place behind it."""
    number, shift = 0, 0
    while True:
        number |= (data[at] & 0x7F) << shift
        shift, at = shift + 7, at + 1
        if data[at - 1] < 0x80:
            return number, at


def _whole(data: bytes) -> tuple[IntArray, IntArray]:
    return np.zeros(1, np.int64), np.array([len(data)], np.int64)


def _texts(wire: Wire, low: IntArray, high: IntArray) -> list[bytes]:
    return [wire.data[a:b] for a, b in zip(low.tolist(), high.tolist(), strict=True)]


class _Reader:
    """Takes the blocks of a file, the last one first.

    nodes, ways : ids of all that is wanted; None if tags tell
    """

    def __init__(self, nodes: IntArray | None = None, ways: IntArray | None = None) -> None:
        self.kind = _RELATIONS
        self.sifts = nodes is None or ways is None
        self.first: tuple[int, int] | None = None  # object of the block looked at last
        self.in_order, self.behind = True, _NO_ID  # behind : first id of the block taken last
        self.found: dict[int, list[Objects]] = {_DENSE: [], _WAYS: [], _RELATIONS: []}
        self.refs: list[IntArray] = []  # of the ways, block by block
        self.parts: dict[str, list[int]] = {"n": [], "w": [], "r": []}  # of the relations
        if nodes is not None and ways is not None:
            self.parts |= {"n": nodes.tolist(), "w": ways.tolist()}
        self.part_ways = np.empty(0, np.int64)
        self.sets: dict[tuple[bytes, ...], TagSet] = {}
        self.node = np.empty(0, np.int32)
        self.node_id = np.empty(0, np.int64)
        self.spots = np.empty((0, 2), np.int32)

    def needs_none(self, blob: bytes) -> bool:
        """Whether ids alone are wanted, and none that the block may hold: from its first object's
        to that of the block behind it, if both are of one kind. Raises ValueError."""
        if self.sifts:
            return False
        behind, self.first = self.first, _first(blob)
        if self.first is None or behind is None or self.first[0] != behind[0]:
            return False
        kind, low = self.first
        if low > behind[1]:
            raise ValueError("the file is not sorted by id")
        self._come_to(kind)
        wanted = {_DENSE: self.node_id, _WAYS: self.part_ways}.get(kind, self.node_id[:0])
        return bool(np.searchsorted(wanted, low) == np.searchsorted(wanted, behind[1]))

    def take(self, wire: Wire) -> None:
        """Keep what is wanted of one block."""
        top = wire.fields(*_whole(wire.data))
        groups = wire.fields(*top.all(2))
        kinds = groups.number.tolist()
        if not set(kinds) <= self.found.keys() or sorted(kinds) != kinds:
            raise ValueError("the file is not sorted by kind")
        if any((top.low[top.number == field] != usual).any() for field, usual in _USUAL):
            raise ValueError("the file has units of its own")
        texts = _texts(wire, *wire.fields(*top.all(1)).all(1))
        for kind in sorted(set(kinds), reverse=True):
            self._come_to(kind)
            low, high = groups.all(kind)
            if kind == _DENSE:
                for k in reversed(range(len(low))):
                    self._nodes(wire, texts, wire.fields(low[k : k + 1], high[k : k + 1]))
            else:
                self._others(wire, texts, wire.fields(low, high), len(low))

    def extract(self) -> Extract:
        """All that was kept, in the file's order."""
        self._come_to(_DENSE)
        nodes, ways, relations = (blocks[::-1] for blocks in self.found.values())
        return Extract(
            nodes=nodes, ways=ways, relations=relations, in_order=self.in_order,
            part_ways=self.part_ways, node=self.node, node_id=self.node_id, spots=self.spots,
        )  # fmt: skip

    def _come_to(self, kind: int) -> None:
        """Once ways or nodes come, it is known which are asked for."""
        if kind > self.kind:
            raise ValueError("the file is not sorted by kind")
        if kind != _RELATIONS == self.kind:
            self.part_ways = np.unique(np.array(self.parts["w"], np.int64))
        if kind == _DENSE != self.kind:
            alone = np.array(self.parts["n"], np.int64)
            refs, self.refs = np.concatenate([*self.refs[::-1], alone]), []
            self.node_id, place = numbered(refs)
            self.node = place[: len(place) - len(alone)]
            self.spots = np.full((len(self.node_id), 2), UNKNOWN, np.int32)
        if kind != self.kind:
            self.kind, self.behind = kind, _NO_ID

    def _see_order(self, ids: IntArray) -> None:
        rises = ids[0] > 0 and (ids[1:] > ids[:-1]).all() and ids[-1] < self.behind
        self.in_order, self.behind = self.in_order and bool(rises), int(ids[0])

    def _others(self, wire: Wire, texts: list[bytes], told: Fields, n: int) -> None:
        """Keep ways, or relations."""
        ids = told.values(1, n)
        self._see_order(ids)
        if not self.sifts and (self.kind == _RELATIONS or not among(ids, self.part_ways).any()):
            return
        (keys, count), (values, n_values) = (wire.numbers(*told.spans(k, n)) for k in (2, 3))
        if not np.array_equal(count, n_values):
            raise ValueError("keys and values do not go together")
        tags = Tags(texts, np.stack((keys, values), axis=1), count, self.sets)
        info = wire.fields(*told.spans(4, n))
        shown = np.ones(n, np.bool_)
        shown[info.owner[(info.number == 6) & (info.low == 0)]] = False
        wanted = shown & (tags.wanted() if self.sifts else np.False_)
        is_part = among(ids, self.part_ways) if self.kind == _WAYS else wanted
        rows = np.flatnonzero(wanted | (shown & is_part))
        objects = tags.objects(rows, wanted, ids, info.values(1, n), info.values(2, n))
        lists = ((low[rows], high[rows]) for low, high in (told.spans(k, n) for k in (8, 9, 10)))
        if self.kind == _WAYS:
            refs, count = wire.numbers(*next(lists), steps=True)
            self.refs.append(refs)
            self.found[_WAYS].append(replace(objects, count=count))
        else:
            told_of = [wire.numbers(*own, steps=k == 1) for k, own in enumerate(lists)]
            members = self._members(texts, *told_of)
            self.found[_RELATIONS].append(replace(objects, members=members))

    def _members(self, texts: list[bytes], *told: tuple[IntArray, IntArray]) -> list[list[Member]]:
        """What each relation is made of, which is asked for."""
        (roles, n_roles), (refs, count), (kinds, n_kinds) = told
        if not (np.array_equal(n_roles, count) and np.array_equal(n_kinds, count)):
            raise ValueError("members lack a kind or a role")
        letters = ["nwr"[k] for k in kinds.tolist()]
        words = [texts[k].decode() for k in roles.tolist()]
        members = list(zip(letters, refs.tolist(), words, strict=True))
        for kind, ref, _ in members:
            self.parts[kind].append(ref)
        stop = np.cumsum(count).tolist()
        return [members[a:b] for a, b in zip([0, *stop], stop, strict=False)]

    def _nodes(self, wire: Wire, texts: list[bytes], told: Fields) -> None:
        """Keep nodes that are wanted, and the positions that are asked for."""
        ids, _ = wire.numbers(*told.spans(1, 1), steps=True)
        if not len(ids):
            return
        self._see_order(ids)
        wanted = np.zeros(len(ids), np.bool_)
        if self.sifts:
            told_of = _tags_of_nodes(wire.numbers(*told.spans(10, 1))[0], len(ids))
            tags = Tags(texts, *told_of, self.sets)
            wanted = tags.wanted()
        low, high = np.searchsorted(self.node_id, (ids.min(), ids.max() + 1))
        asked, order = self.node_id[low:high], np.argsort(ids, kind="stable")
        at = order[np.minimum(np.searchsorted(ids, asked, sorter=order), len(ids) - 1)]
        held = ids[at] == asked
        if not held.any() and not wanted.any():
            return
        lon, lat = (wire.numbers(*told.spans(k, 1), steps=True)[0] for k in (9, 8))
        if not len(lon) == len(lat) == len(ids):
            raise ValueError("nodes lack positions")
        spots = np.stack((lon, lat), axis=1).astype(np.int32)
        spots[(lon != lon.clip(-_EAST, _EAST)) | (lat != lat.clip(-_NORTH, _NORTH))] = UNKNOWN
        self.spots[low:high][held] = spots[at[held]]
        if wanted.any():
            info = wire.fields(*told.spans(5, 1))
            version, stamp, shown = (
                _filled(wire.numbers(*info.spans(k, 1), steps=k == 2)[0], len(ids), usual)
                for k, usual in ((1, 0), (2, 0), (6, 1))
            )
            rows = np.flatnonzero(wanted & (shown != 0))
            objects = tags.objects(rows, wanted, ids, version, stamp)
            self.found[_DENSE].append(replace(objects, spots=spots[rows]))


def _tags_of_nodes(told: IntArray, n: int) -> tuple[IntArray, IntArray]:
    """Pairs of tags of n nodes, and how many of each, from keys and values in turn, a 0 after
    those of each node."""
    if not len(told):
        return np.empty((0, 2), np.int64), np.zeros(n, np.int64)
    stop = np.flatnonzero(told == 0)
    count = np.diff(stop, prepend=-1) - 1
    if len(stop) != n or stop[-1] != len(told) - 1 or (count % 2).any():
        raise ValueError("keys and values do not go together")
    return told[told != 0].reshape(-1, 2), count // 2


def _filled(column: IntArray, n: int, usual: int) -> IntArray:
    """A column of n numbers, which may be left out."""
    if len(column) not in (0, n):
        raise ValueError("a column is cut short")
    return column if len(column) else np.full(n, usual)
