"""Coordinate tuples of KML: `lon,lat` or `lon,lat,height`, blanks between."""

from __future__ import annotations

import io
import math
import re
from typing import NamedTuple

import numpy as np

from terrain.inputs.lines.lines import LATITUDE, LONGITUDE
from terrain.inputs.lines.xmlpass import RefusedError
from terrain.text.message import Message, message
from terrain.values.arrays import FloatArray, IntArray

CORRECT = message("Correct the point or export the route again.")
_PLAIN = b"0123456789eE+-.,\n"
_AROUND_COMMA = re.compile(r"[ \t\r\n]*,[ \t\r\n]*")


class Tuples(NamedTuple):
    """lon, lat [deg], ele_m (NaN if not given), line : shape (n,)"""

    lon: FloatArray
    lat: FloatArray
    ele_m: FloatArray
    line: IntArray


def read_tuples(text: str, line: int) -> Tuples:
    """The points of a <coordinates> text that begins on the given line of the file.

    Raises RefusedError for a tuple without two numbers; not-a-number and infinity are numbers
    here, so that the range check names them.
    """
    tokens = text.split()
    rows = _fast(tokens)
    if rows is None:
        # "1.5, 42.5, 0": blanks after the commas are a common fault of hand-made files.
        tokens = _AROUND_COMMA.sub(",", text).split()
        rows = np.array([_slow(token) for token in tokens], dtype=np.float64).reshape(-1, 3)
    height = rows[:, 2] if rows.shape[1] > 2 else np.full(len(rows), np.nan)
    return Tuples(
        rows[:, 0].copy(), rows[:, 1].copy(), height.copy(), _lines(text, line, len(rows))
    )


def _fast(tokens: list[str]) -> FloatArray | None:
    """Tuples of one length, all plain numbers; None if they are not.

    pandas reads 50,000 in a third of the time that a JSON reader and NumPy take.
    """
    import pandas as pd

    if not tokens:
        return np.zeros((0, 2))
    text = "\n".join(tokens)
    n = tokens[0].count(",") + 1
    plain = text.encode("ascii", "replace")  # a question mark is not plain
    if n not in (2, 3) or plain.translate(None, _PLAIN):
        return None
    try:
        rows = pd.read_csv(
            io.BytesIO(plain), header=None, dtype=np.float64, index_col=False, names=range(n),
            skip_blank_lines=False, low_memory=False,
        ).to_numpy()  # fmt: skip
    except (ValueError, OverflowError, pd.errors.ParserError):
        return None
    # A tuple that lacks a number has none in its place.
    return rows if rows.shape == (len(tokens), n) and np.isfinite(rows).all() else None


def _slow(token: str) -> tuple[float, float, float]:
    parts = token.split(",")
    if len(parts) < 2 or not parts[1].strip():
        raise RefusedError(message("a point has no latitude"), CORRECT)
    lon, lat = _number(parts[0], LONGITUDE), _number(parts[1], LATITUDE)
    try:
        height = float(parts[2]) if len(parts) > 2 and "_" not in parts[2] else math.nan
    except ValueError:
        height = math.nan
    return lon, lat, height


def _number(text: str, word: Message) -> float:
    try:
        if "_" not in text:
            return float(text)
    except ValueError:
        pass
    raise RefusedError(
        message("{word} {value} is not a number", word=word, value=repr(text[:30])), CORRECT
    )


def _lines(text: str, first: int, n: int) -> IntArray:
    if "\n" not in text:
        return np.full(n, first, dtype=np.int64)
    body = text.strip("\n")
    if body.count("\n") == n - 1 and "\n\n" not in body and " " not in body and "\t" not in body:
        first += len(text) - len(text.lstrip("\n"))
        return np.arange(first, first + n, dtype=np.int64)
    rows = text.split("\n")
    counts = [len(row.split()) for row in rows]
    if sum(counts) != n:  # tuples with blanks in them: the first line stands for all
        return np.full(n, first, dtype=np.int64)
    return np.repeat(np.arange(first, first + len(rows), dtype=np.int64), counts)
