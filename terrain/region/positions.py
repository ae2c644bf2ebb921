"""Node ids and positions from the text of many lines."""

from __future__ import annotations

import numpy as np

from terrain.calc.kernels import kernel
from terrain.values.arrays import Int32Array, IntArray

UNKNOWN = np.iinfo(np.int32).min  # the position of a node that the extract does not hold
UNITS = 1e7  # in a degree: what OSM files hold
_FEW = 2_000_000  # bytes; below them compiling takes longer than it saves
_NOWHERE = "1e9"  # stands in the text for a position that is not known
_NUMBERS_ONLY = str.maketrans("nxy,", "    ")


def parse_lines(lines: list[bytes]) -> tuple[IntArray, Int32Array]:
    """Node ids, shape (n,), and lon, lat [1e-7 deg], shape (n, 2), of lines one after the other.

    A line is n1x1.5y2.5,n2x1.6y2.5,...; UNKNOWN where the file does not hold the node (n3xy).
    """
    text = b",".join(lines)
    if len(text) < _FEW:
        return _few(text.decode("ascii"))
    n = text.count(b",") + 1
    refs, places = np.empty(n, np.int64), np.empty((n, 2), np.int32)
    _many(np.frombuffer(text, np.uint8), refs, places)
    return refs, places


def _few(text: str) -> tuple[IntArray, Int32Array]:
    if "xy" in text:
        text = text.replace("xy", f"x{_NOWHERE}y{_NOWHERE}")
    table = np.fromstring(text.translate(_NUMBERS_ONLY), sep=" ").reshape(-1, 3)
    places = table[:, 1:]
    units = np.where(places == float(_NOWHERE), UNKNOWN, np.rint(places * UNITS))
    return table[:, 0].astype(np.int64), units.astype(np.int32)


@kernel
def _many(text: IntArray, refs: IntArray, places: Int32Array) -> None:
    row, part = -1, 0  # of a row: 0 its id, 1 the longitude, 2 the latitude
    value, sign, digits, decimals = 0, 1, 0, -1
    for i in range(len(text) + 1):
        sign_or_digit = text[i] if i < len(text) else 44
        if 48 <= sign_or_digit <= 57:
            value = value * 10 + (sign_or_digit - 48)
            digits += 1
            if decimals >= 0:
                decimals += 1
        elif sign_or_digit == 45:  # minus
            sign = -1
        elif sign_or_digit == 46:  # point
            decimals = 0
        else:  # n, x, y or comma: a number ends
            if sign_or_digit == 110:
                row += 1
            elif part == 0:
                refs[row] = sign * value
            elif digits == 0:
                places[row, part - 1] = UNKNOWN
            else:
                for _ in range(7 - max(decimals, 0)):
                    value *= 10
                places[row, part - 1] = sign * value
            part = 0 if sign_or_digit == 110 else part + 1
            value, sign, digits, decimals = 0, 1, 0, -1
