"""Columns that grow row by row while a file is read, and end as frozen arrays."""

from __future__ import annotations

from array import array

import numpy as np

from terrain.values.arrays import BoolArray, Int32Array, IntArray
from terrain.values.views import Category, Texts

_MOST_CODES = 32_000
_REST = "other"


class CategoryColumn:
    """A column of few distinct texts."""

    def __init__(self) -> None:
        self._codes = array("i")
        self._known: dict[str, int] = {}

    def add(self, text: str | None) -> None:
        if text is None:
            self._codes.append(-1)
        else:
            self._codes.append(self._known.setdefault(text, len(self._known)))

    def build(self, rows: IntArray) -> Category:
        """The column of the chosen rows, values in alphabetical order of those in use.

        Beyond 32,000 distinct texts the rarest share the value "other".
        """
        codes = np.frombuffer(self._codes, np.int32)[rows] if len(rows) else np.empty(0, np.int32)
        texts = np.array([*self._known, _REST], dtype=object)
        counts = np.bincount(codes[codes >= 0], minlength=len(texts))
        used = np.flatnonzero(counts)
        if len(used) > _MOST_CODES:
            rest = len(texts) - 1
            rare = used[np.argsort(-counts[used], kind="stable")[_MOST_CODES:]]
            codes = np.where(np.isin(codes, rare), rest, codes)
            used = np.r_[np.setdiff1d(used, rare), rest]
        order = sorted(used.tolist(), key=lambda k: str(texts[k]))
        renamed = np.full(len(texts) + 1, -1, np.int16)
        renamed[order] = np.arange(len(order), dtype=np.int16)
        return Category(codes=renamed[codes], values=tuple(str(texts[k]) for k in order))


class TextColumn:
    """A column of many distinct texts; equal texts are kept once."""

    def __init__(self) -> None:
        self._codes = array("i")
        self._known: dict[str, int] = {}

    def add(self, text: str | None) -> None:
        if not text:
            self._codes.append(-1)
        else:
            self._codes.append(self._known.setdefault(text, len(self._known)))

    def build(self, rows: IntArray) -> Texts:
        """The column of the chosen rows, texts in order of first use."""
        codes = np.frombuffer(self._codes, np.int32)[rows] if len(rows) else np.empty(0, np.int32)
        return texts_from(codes, list(self._known))


def texts_from(codes: Int32Array, known: list[str]) -> Texts:
    """Texts of `codes` into `known`; texts that no code uses are left out."""
    found, inverse = np.unique(codes, return_inverse=True)
    has_none = bool(len(found)) and found[0] < 0
    used = found[1:] if has_none else found
    encoded = [known[k].encode("utf-8") for k in used]
    start = np.zeros(len(encoded) + 1, np.int64)
    np.cumsum([len(text) for text in encoded], out=start[1:])
    return Texts(
        codes=(inverse - int(has_none)).astype(np.int32),
        start=start,
        blob=np.frombuffer(b"".join(encoded), np.uint8),
    )


def numbers(column: array[int] | array[float], dtype: str, rows: IntArray) -> np.ndarray:  # type: ignore[type-arg]
    """The chosen rows of a growing column of numbers as an array of its own."""
    if not len(column):
        return np.empty(0, dtype)
    return np.frombuffer(column, column.typecode)[rows].astype(dtype)


def ranges(start: IntArray, count: IntArray) -> IntArray:
    """start[0] .. start[0] + count[0] - 1, start[1] .., one after the other."""
    total = int(count.sum())
    ends = np.cumsum(count)
    return np.arange(total) + np.repeat(start - (ends - count), count)


def first_of_runs(keys: IntArray) -> BoolArray:
    """True where a key differs from the one before it."""
    return np.r_[True, keys[1:] != keys[:-1]] if len(keys) else np.empty(0, np.bool_)
