"""Lines and points of well-known binary, and of the blob a GeoPackage wraps it in.

Read here, not by a geometry library: those follow nested collections as deep as a file asks,
which ends the process. Only what a route needs is read; anything else is None.
Source: OGC 06-103r4 (WKB), OGC 12-128r19 (GeoPackage), 2.1.3.
"""

from __future__ import annotations

import struct
from typing import NamedTuple

import numpy as np

from terrain.text.message import Message, message
from terrain.values.arrays import FloatArray

POINT, LINE, MULTI_LINE = 1, 2, 5
_ENVELOPE_BYTES = {0: 0, 1: 32, 2: 48, 3: 48, 4: 64}
_Z, _M, _SRID = 0x80000000, 0x40000000, 0x20000000  # flags of the extended form


class Shape(NamedTuple):
    """kind : POINT, LINE or MULTI_LINE; parts : x, y, z (NaN if none) of each, shape (n, 3)"""

    kind: int
    parts: list[FloatArray]


class DamagedError(ValueError):
    """The bytes end early or contradict themselves."""

    def __init__(self, what: Message) -> None:
        super().__init__(what)


def from_blob(blob: bytes) -> tuple[int, Shape | None]:
    """Reference system and shape of a GeoPackage blob; None for an empty or another kind.

    Raises DamagedError.
    """
    if len(blob) < 8 or blob[:2] != b"GP":
        raise DamagedError(message("it does not begin with GP"))
    flags = blob[3]
    order = "<" if flags & 1 else ">"
    envelope = _ENVELOPE_BYTES.get((flags >> 1) & 7)
    if envelope is None:
        raise DamagedError(message("its envelope is of no known kind"))
    (srs,) = struct.unpack_from(f"{order}i", blob, 4)
    if flags & 0x30:  # empty, or of an extension
        return srs, None
    return srs, from_wkb(blob, 8 + envelope)


def from_wkb(data: bytes, at: int = 0) -> Shape | None:
    """A point, line or line of several parts. Raises DamagedError."""
    try:
        order, kind, width, has_z, at = _head(data, at)
        if kind == POINT:
            return Shape(POINT, [_rows(data, at, 1, order, width, has_z)])
        if kind == LINE:
            (n,) = struct.unpack_from(f"{order}I", data, at)
            return Shape(LINE, [_rows(data, at + 4, n, order, width, has_z)])
        if kind != MULTI_LINE:
            return None
        (n_parts,) = struct.unpack_from(f"{order}I", data, at)
        at += 4
        parts = []
        for _ in range(n_parts):
            order, kind, width, has_z, at = _head(data, at)
            if kind != LINE:
                raise DamagedError(message("a part of its line is no line"))
            (n,) = struct.unpack_from(f"{order}I", data, at)
            parts.append(_rows(data, at + 4, n, order, width, has_z))
            at += 4 + 8 * width * n
    except struct.error as exc:
        raise DamagedError(message("it ends early")) from exc
    return Shape(MULTI_LINE, parts)


def _head(data: bytes, at: int) -> tuple[str, int, int, bool, int]:
    """Byte order, kind, numbers a position, whether the third is a height, where the rest begins"""
    order = {0: ">", 1: "<"}.get(data[at] if at < len(data) else -1)
    if order is None:
        raise DamagedError(message("its byte order is neither 0 nor 1"))
    (code,) = struct.unpack_from(f"{order}I", data, at + 1)
    has_z, has_m = bool(code & _Z), bool(code & _M)
    base = code & 0x1FFFFFFF
    # ISO: 1000 is added for z, 2000 for m, 3000 for both.
    has_z |= base // 1000 in (1, 3)
    has_m |= base // 1000 in (2, 3)
    skip = 4 if code & _SRID else 0
    return order, base % 1000, 2 + has_z + has_m, has_z, at + 5 + skip


def _rows(data: bytes, at: int, n: int, order: str, width: int, has_z: bool) -> FloatArray:
    if at + 8 * width * n > len(data):
        raise DamagedError(message("it ends early"))
    rows = np.frombuffer(data, dtype=f"{order}f8", count=width * n, offset=at).reshape(n, width)
    out = np.full((n, 3), np.nan)
    out[:, : 3 if has_z else 2] = rows[:, : 3 if has_z else 2]
    return out
