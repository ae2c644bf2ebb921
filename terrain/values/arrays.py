"""Array types, and the one way to freeze an array."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import fields
from typing import Any, TypeAlias, TypeVar

import numpy as np
from numpy.typing import NDArray

FloatArray: TypeAlias = NDArray[np.float64]
Float32Array: TypeAlias = NDArray[np.float32]
IntArray: TypeAlias = NDArray[np.int64]
Int32Array: TypeAlias = NDArray[np.int32]
Int16Array: TypeAlias = NDArray[np.int16]
Int8Array: TypeAlias = NDArray[np.int8]
ByteArray: TypeAlias = NDArray[np.uint8]
BoolArray: TypeAlias = NDArray[np.bool_]

_ArrayT = TypeVar("_ArrayT", bound=NDArray[Any])


def frozen(array: _ArrayT) -> _ArrayT:
    """A read-only view of the array; memory maps become plain arrays over the same pages.

    Compiled kernels are specialised by writeability, so every array in a value is frozen.
    """
    view: Any = np.asarray(array).view(np.ndarray)
    view.flags.writeable = False
    return view  # type: ignore[no-any-return]


def freeze_fields(value: object, names: tuple[str, ...], length: int | None = None) -> None:
    """Freeze the named array fields of a frozen dataclass, checking their common length.

    Called from __post_init__. Raises ValueError if a length differs from `length`.
    """
    for name in names:
        array = getattr(value, name)
        if length is not None and len(array) != length:
            raise ValueError(f"{type(value).__name__}.{name} has {len(array)} items, not {length}")
        object.__setattr__(value, name, frozen(array))


def even_rows(n: int, most: int) -> IntArray:
    """At most so many of n rows, evenly apart, first and last among them.

    In whole numbers: rounding, which differs from machine to machine, picks none of them.
    """
    count = min(n, most)
    return np.arange(count) * (n - 1) // max(count - 1, 1)


class Columns:
    """A frozen dataclass whose arrays are columns of one length: frozen, and held to that."""

    __slots__ = ()

    def __post_init__(self) -> None:
        own: Any = self
        names = [field.name for field in fields(own)]
        arrays = tuple(name for name in names if isinstance(getattr(self, name), np.ndarray))
        freeze_fields(self, arrays, len(getattr(self, arrays[0])))


def freeze_all(value: Any) -> None:
    """Freeze every array field of a frozen dataclass. Called from __post_init__."""
    for field in fields(value):
        array = getattr(value, field.name)
        if isinstance(array, np.ndarray):
            object.__setattr__(value, field.name, frozen(array))


def spans(mask: BoolArray) -> list[tuple[int, int]]:
    """First and one past the last index of each run of True, in order."""
    inside = np.concatenate(([False], mask, [False]))
    change = np.flatnonzero(inside[1:] != inside[:-1])
    return list(zip(change[::2].tolist(), change[1::2].tolist(), strict=True))


def joined_spans(
    parts: Iterable[tuple[float, float]], near: float = 0.0
) -> list[tuple[float, float]]:
    """From and to of parts in order and apart; those that overlap or lie within `near` are one."""
    out: list[tuple[float, float]] = []
    for start, end in sorted(parts):
        if out and start - out[-1][1] <= near:
            out[-1] = (out[-1][0], max(out[-1][1], end))
        else:
            out.append((start, end))
    return out
