"""Encoded polylines: differences of rounded coordinates, five bits a character.

Each line of the file is one line of the route. Five decimals unless the file's name ends in
.polyline6, or five would put a point beyond a pole. Decoded by numpy: 50,000 points in 2 ms,
where the package for it takes 70.
"""

from __future__ import annotations

import re

import numpy as np

from terrain.errors import RouteError
from terrain.inputs.lines.held import Gathered, Held
from terrain.inputs.lines.limits import GpxLimits
from terrain.text.message import message
from terrain.values.arrays import FloatArray

_ENCODED = re.compile(rb"[?-~]+")
_OFFSET, _MORE, _BITS = 63, 32, 5
_MOST_CHUNKS = 7  # 180 degrees at 7 decimals takes 32 bits
_FIX = message("Copy the whole text again, or export the route as GPX.")


def looks_encoded(data: bytes) -> bool:
    """True if every line decodes to whole points, two or more."""
    rows = _rows(data)
    return bool(rows) and all(_plausible(row) for _, row in rows)


def _rows(data: bytes) -> list[tuple[int, bytes]]:
    numbered = enumerate(data.split(b"\n"), start=1)
    return [(number, row.strip(b" \t\r\"'")) for number, row in numbered if row.strip()]


def _plausible(row: bytes) -> bool:
    values = _decode(row)
    if values is None or len(values) < 2:
        return False
    degrees = np.cumsum(values, axis=0) / 1e6
    return bool((np.abs(degrees) <= (90, 180)).all())


def read_polyline(data: bytes, source: str, limits: GpxLimits, name: str = "") -> Held:
    """The lines of a text file with encoded polylines, one a line.

    name : the file's own name; `source` if empty
    Raises RouteError with the line for what does not decode.
    """
    gathered = Gathered(source, limits, unit="point")
    found: list[FloatArray] = []
    for number, row in _rows(data):
        values = _decode(row)
        if values is None:
            raise RouteError(
                message("the encoded line is damaged: it does not decode to whole points"),
                message("{file}, line {line}", file=str(source), line=str(number)),
                _FIX,
            )
        found.append(np.cumsum(values, axis=0, dtype=np.float64))
    scale = 1e5
    if (name or source).lower().endswith(".polyline6"):
        scale = 1e6
    elif any((np.abs(rows) > (90e5, 180e5)).any() for rows in found):
        scale = 1e6
        gathered.note("precision-6")
    for rows in found:
        gathered.open_group()
        first = gathered.n_points + 1
        at = np.arange(first, first + len(rows), dtype=np.int64)
        lat, lon = rows[:, 0] / scale, rows[:, 1] / scale
        gathered.add_line(lon, lat, np.full(len(rows), np.nan), at)
    return gathered.held()


def _decode(row: bytes) -> np.ndarray[tuple[int, int], np.dtype[np.int64]] | None:
    """Differences of lat and lon, shape (n, 2); None if the text is no encoded line."""
    if not _ENCODED.fullmatch(row):
        return None
    chunks = np.frombuffer(row, dtype=np.uint8).astype(np.int64) - _OFFSET
    last = np.flatnonzero(chunks < _MORE)  # where a number ends
    if not len(last) or last[-1] != len(chunks) - 1 or len(last) % 2:
        return None
    first = np.r_[0, last[:-1] + 1]
    size = last - first + 1
    if size.max() > _MOST_CHUNKS:
        return None
    place = np.arange(len(chunks)) - np.repeat(first, size)
    value = np.add.reduceat((chunks & (_MORE - 1)) << (_BITS * place), first)
    return np.where(value & 1, ~(value >> 1), value >> 1).reshape(-1, 2)
