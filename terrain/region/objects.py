"""The objects of a map that are worth reading, by their tags."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from terrain.region.place_tags import READ_TAGS
from terrain.values.arrays import BoolArray, Int32Array, IntArray

TagSet = tuple[tuple[str, str], ...]
Member = tuple[str, int, str]

_DAY_S = 86_400
_KEYS: Final = frozenset(key.encode() for key, _ in READ_TAGS)
_WANTED: Final = frozenset((key.encode(), value.encode()) for key, value in READ_TAGS)


@dataclass(frozen=True, slots=True, eq=False)
class Objects:
    """Objects of one block in the file's order, shape (n,).

    day : of the last edit, days since 1970-01-01, 0 or less not known
    told : number of its tags in tag_sets; -1 for what is only read as a part of a relation
    count : how many nodes each way has; spots : lon, lat of each node [1e-7 deg], shape (n, 2)
    members : kind ("n", "w", "r"), id and role of what each relation is made of
    """

    id: IntArray
    version: IntArray
    day: IntArray
    told: IntArray
    tag_sets: list[TagSet]
    count: IntArray | None = None
    spots: Int32Array | None = None
    members: list[list[Member]] | None = None


@dataclass(frozen=True, slots=True, eq=False)
class Tags:
    """The tags of objects, one after the other, as places in a list of texts.

    pairs : key and value of each, shape (t, 2); count : tags of each object, shape (n,)
    known : sets of tags met before, by their texts; added to
    """

    texts: list[bytes]
    pairs: IntArray
    count: IntArray
    known: dict[tuple[bytes, ...], TagSet]

    def wanted(self) -> BoolArray:
        """Which objects carry a tag that makes them worth reading. Raises ValueError."""
        size = len(self.texts)
        if self.pairs.min(initial=0) < 0 or self.pairs.max(initial=-1) >= size:
            raise ValueError("a text is missing")
        by_key = np.zeros(size, np.bool_)
        by_key[[k for k, text in enumerate(self.texts) if text in _KEYS]] = True
        at = np.flatnonzero(by_key[self.pairs[:, 0]])  # most objects are houses
        pairs, place = np.unique(self.pairs[at] @ (size, 1), return_inverse=True)
        split = (divmod(pair, size) for pair in pairs.tolist())
        hit = [(self.texts[k], self.texts[v]) in _WANTED for k, v in split]
        owner = np.repeat(np.arange(len(self.count)), self.count)
        out = np.zeros(len(self.count), np.bool_)
        out[owner[at[np.array(hit, np.bool_)[place]]]] = True
        return out

    def objects(
        self, rows: IntArray, wanted: BoolArray, ids: IntArray, version: IntArray, stamp: IntArray
    ) -> Objects:
        """The objects of the given rows; those that are not wanted are told without tags.

        stamp : of the last edit [s since 1970-01-01]
        """
        stop = np.cumsum(self.count) * 2 * self.pairs.itemsize
        start, raw = stop - self.count * 2 * self.pairs.itemsize, self.pairs.tobytes()
        sets: dict[bytes, int] = {}
        told = np.full(len(rows), -1)
        tagged = rows[wanted[rows]]
        told[wanted[rows]] = [
            sets.setdefault(raw[a:b], len(sets))
            for a, b in zip(start[tagged].tolist(), stop[tagged].tolist(), strict=True)
        ]
        day = np.where(stamp[rows] >> 32, 0, stamp[rows]) // _DAY_S  # longer is none of our time
        return Objects(
            id=ids[rows], version=version[rows], day=day, told=told,
            tag_sets=[self._set(memoryview(pairs).cast("q").tolist()) for pairs in sets],
        )  # fmt: skip

    def _set(self, pairs: list[int]) -> TagSet:
        texts = tuple([self.texts[k] for k in pairs])
        found = self.known.get(texts)
        if found is None:
            words = [text.decode() for text in texts]
            found = self.known[texts] = tuple(zip(words[::2], words[1::2], strict=True))
        return found
