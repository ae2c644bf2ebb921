"""Columns that grow row by row while a file is read, and end as frozen arrays."""

from __future__ import annotations

from array import array
from collections.abc import Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

from terrain.values.arrays import BoolArray, Int32Array, IntArray
from terrain.values.views import Category, Texts

_MOST_CODES = 32_000
_REST = "other"


class TextColumn:
    """A column of many distinct texts; equal texts are kept once."""

    def __init__(self, texts: Sequence[str] = ()) -> None:
        self._codes = array("i")
        self._known = {text: i for i, text in enumerate(texts)}

    def add(self, text: str | None) -> None:
        self._codes.append(self.code(text))

    def code(self, text: str | None) -> int:
        """The number of a text, which `extend` takes."""
        return self._known.setdefault(text, len(self._known)) if text else -1

    def extend(self, codes: Int32Array) -> None:
        """More rows, by the numbers of their texts."""
        extend(self._codes, codes)

    def codes(self) -> Int32Array:
        """The number of each row's text, -1 for none."""
        return np.array(self._codes, np.int32)

    def texts(self) -> list[str]:
        """The texts by their numbers."""
        return list(self._known)

    def build(self, rows: IntArray) -> Texts:
        """The column of the chosen rows."""
        return texts_from(numbers(self._codes, "int32", rows), list(self._known))


def among(values: IntArray, known: IntArray) -> BoolArray:
    """Which values are among those known, which are in order, shape (n,)."""
    if not len(known):
        return np.zeros(len(values), np.bool_)
    found: BoolArray = known[np.minimum(np.searchsorted(known, values), len(known) - 1)] == values
    return found


def codes_of(texts: Sequence[str | None]) -> tuple[Int32Array, list[str]]:
    """Each text as a number into the list of distinct texts; -1 for None and ""."""
    known: dict[str, int] = {}
    codes = [known.setdefault(text, len(known)) if text else -1 for text in texts]
    return np.array(codes, np.int32), list(known)


def texts_from(codes: Int32Array, known: Sequence[str]) -> Texts:
    """Texts of `codes` into `known`; texts that no code uses are left out."""
    used, renamed = _used(codes, len(known))
    encoded = [known[k].encode("utf-8") for k in used.tolist()]
    start = np.zeros(len(encoded) + 1, np.int64)
    np.cumsum([len(text) for text in encoded], out=start[1:])
    return Texts(codes=renamed[codes], start=start, blob=np.frombuffer(b"".join(encoded), np.uint8))


def category_from(codes: Int32Array, known: Sequence[str]) -> Category:
    """Category of `codes` into `known`, values in alphabetical order of those in use.

    Beyond 32,000 distinct texts the rarest share the value "other".
    """
    count = np.bincount(codes[codes >= 0], minlength=len(known))
    if np.count_nonzero(count) > _MOST_CODES:
        rare = np.argsort(-count, kind="stable")[_MOST_CODES:]
        known = [*known, _REST]
        codes = np.where(np.isin(codes, rare), len(known) - 1, codes).astype(np.int32)
    used, _ = _used(codes, len(known))
    used = np.array(sorted(used.tolist(), key=lambda k: known[k]), np.int64)
    renamed = np.full(len(known) + 1, -1, np.int16)
    renamed[used] = np.arange(len(used), dtype=np.int16)
    return Category(codes=renamed[codes], values=tuple(known[k] for k in used.tolist()))


def _used(codes: Int32Array, n_known: int) -> tuple[IntArray, Int32Array]:
    """The codes in use, and each code's place among them (the last entry serves code -1)."""
    used = np.flatnonzero(np.bincount(codes[codes >= 0], minlength=n_known))
    renamed = np.full(n_known + 1, -1, np.int32)
    renamed[used] = np.arange(len(used), dtype=np.int32)
    return used, renamed


def numbers(column: array[int] | array[float], dtype: str, rows: IntArray) -> NDArray[Any]:
    """The chosen rows of a growing column of numbers as an array of its own."""
    if not len(column):
        return np.empty(0, dtype)
    return np.frombuffer(column, column.typecode)[rows].astype(dtype)


def extend(column: array[int], values: NDArray[Any]) -> None:
    """Add an array to a growing column."""
    column.frombytes(values.astype(column.typecode).tobytes())


def whole(column: array[int]) -> IntArray:
    """A growing column of whole numbers as an array of its own."""
    return np.array(column, np.int64)


def numbered(ids: IntArray) -> tuple[IntArray, Int32Array]:
    """The distinct ids in order, and each id's place among them (a leaner np.unique)."""
    if (ids[1:] > ids[:-1]).all():
        return ids, np.arange(len(ids), dtype=np.int32)
    order = np.argsort(ids)
    by_id = ids[order]
    first: BoolArray = first_of_runs(by_id)
    place = np.empty(len(ids), np.int32)
    place[order] = np.cumsum(first, dtype=np.int32) - 1
    return by_id[first], place


def ranges(start: IntArray, count: IntArray) -> IntArray:
    """start[0] .. start[0] + count[0] - 1, start[1] .., one after the other."""
    ends = np.cumsum(count)
    out: IntArray = np.arange(int(count.sum())) + np.repeat(start - (ends - count), count)
    return out


def first_of_runs(keys: IntArray | Int32Array) -> BoolArray:
    """True where a key differs from the one before it."""
    return np.r_[True, keys[1:] != keys[:-1]] if len(keys) else np.empty(0, np.bool_)
