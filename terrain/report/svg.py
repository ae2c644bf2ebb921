"""Small pieces of SVG: numbers, paths and text, escaped."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable, Sequence
from functools import cache, lru_cache
from itertools import pairwise
from typing import Any

import numpy as np
from markupsafe import Markup, escape

from terrain.report.safe import plain_line
from terrain.values.arrays import FloatArray, IntArray

_SPECIAL = re.compile("[&<>\"']")


def num(value: float) -> str:
    """A coordinate to a tenth of a pixel, without needless characters."""
    text = f"{value:.1f}"
    text = text.removesuffix(".0")
    return "0" if text == "-0" else text


def attrs(**values: object) -> str:
    """Attributes; `class_` is class, other underscores become hyphens. None is left out."""
    parts = []
    for key, value in values.items():
        if value is not None:
            parts.append(f' {_attribute(key)}="{_shown(key, value)}"')
    return "".join(parts)


def _shown(key: str, value: object) -> str:
    if isinstance(value, float):
        return num(value)
    if isinstance(value, int) or key == "d":
        return str(value)  # path data is made of numbers here, and long
    return _escaped(plain_line(str(value)))


@cache
def _attribute(key: str) -> str:
    return key.rstrip("_").replace("_", "-")


def _escaped(text: str) -> str:
    return str(escape(text)) if _SPECIAL.search(text) else text


def tag(name: str, content: str | Markup = "", **values: object) -> Markup:
    """An element; `content` is escaped unless it is Markup already."""
    inner = content if isinstance(content, Markup) else _escaped(content)
    opening = f"<{name}{attrs(**values)}"
    return Markup(f"{opening}>{inner}</{name}>" if inner else f"{opening}/>")


def text(x: float, y: float, words: str, **values: object) -> Markup:
    """A label."""
    return tag("text", plain_line(words), x=float(x), y=float(y), **values)


def join(parts: Iterable[Markup]) -> Markup:
    """The parts as one; what is not Markup is escaped."""
    return Markup("".join(p if isinstance(p, Markup) else escape(p) for p in parts))


def boxes(rows: Sequence[tuple[float, float, float, float]] | FloatArray) -> str:
    """Path data of rectangles x, y, width, height."""
    if not len(rows):
        return ""
    x, y, w, h = np.rint(10 * np.asarray(rows, dtype=float)).astype(np.int64).T
    pieces = np.empty((len(x), 6), dtype=object)
    for k, (steps, letter) in enumerate(((x, "M"), (y, ""), (w, "h"), (h, "v"), (-w, "h"))):
        pieces[:, k] = _told(steps, 10, letter)
    pieces[:, 5] = "z"
    return "".join(pieces.ravel().tolist())


def polyline(x: FloatArray, y: FloatArray, scale: int = 10) -> str:
    """Path data of a line, in steps on a grid of 1 / scale pixels; NaN breaks the line."""
    bad = np.isnan(x) | np.isnan(y)
    if not bad.any():
        return polylines(x, y, np.array([0, len(x)]), scale)
    known = np.flatnonzero(~bad)
    breaks = np.flatnonzero(np.diff(known) > 1) + 1
    start = np.concatenate([[0], breaks, [len(known)]])
    return polylines(np.asarray(x)[known], np.asarray(y)[known], start, scale)


def polylines(x: FloatArray, y: FloatArray, start: IntArray, scale: int = 10) -> str:
    """Path data of many lines: line i owns points start[i] .. start[i + 1] - 1."""
    return "".join(lines(x, y, start, scale))


def lines(x: FloatArray, y: FloatArray, start: IntArray, scale: int = 10) -> list[str]:
    """Path data of each of many lines, see `polylines`."""
    gx = np.rint(np.asarray(x) * scale).astype(np.int64)
    gy = np.rint(np.asarray(y) * scale).astype(np.int64)
    first = np.zeros(len(gx), dtype=bool)
    first[start[:-1][start[:-1] < start[1:]]] = True
    moved = first.copy()
    moved[1:] |= (gx[1:] != gx[:-1]) | (gy[1:] != gy[:-1])
    ends = np.concatenate([[0], np.cumsum(moved)])[start]
    gx, gy, first = gx[moved], gy[moved], first[moved]
    # Each point as the step from the last one, but line starts as they are.
    dx, dy = np.diff(gx, prepend=0), np.diff(gy, prepend=0)
    dx[first], dy[first] = gx[first], gy[first]
    second = np.zeros(len(gx), dtype=bool)
    second[1:] = first[:-1] & ~first[1:]
    pieces = np.empty((len(gx), 2), dtype=object)
    pieces[:, 0], pieces[:, 1] = _told(dx, scale), _told(dy, scale)
    pieces[first, 0] = _told(dx[first], scale, "M")
    pieces[second, 0] = _told(dx[second], scale, "l")
    flat = pieces.ravel().tolist()
    cuts = (2 * ends).tolist()
    return ["".join(flat[a:b]) for a, b in pairwise(cuts)]


_TABLE = 2100  # grid steps either way that are told from a table


def _step(step: int, scale: int, letter: str) -> str:
    """A number of a path; a letter or a minus sign parts two numbers as well as a space does."""
    text = num(step / scale)
    return letter + text if letter or text.startswith("-") else f" {text}"


@cache
def _table(scale: int, letter: str) -> np.ndarray[Any, np.dtype[np.object_]]:
    told = [_step(k, scale, letter) for k in range(-_TABLE, _TABLE + 1)]
    return np.array(told, dtype=object)


def _told(steps: IntArray, scale: int, letter: str = "") -> np.ndarray[Any, np.dtype[np.object_]]:
    """Grid steps as text, each behind the letter."""
    if not len(steps):
        return np.empty(0, dtype=object)
    far = steps.min() < -_TABLE or steps.max() > _TABLE
    near = np.minimum(np.maximum(steps, -_TABLE), _TABLE) if far else steps
    told = _table(scale, letter)[near + _TABLE]
    for i in np.flatnonzero(near != steps).tolist() if far else ():
        told[i] = _step(int(steps[i]), scale, letter)
    return told


@lru_cache(maxsize=8192)
def text_width(words: str, size: float) -> float:
    """A fair guess of a label's width in pixels, a little on the wide side."""
    ems = 0.0
    for char in words:
        if unicodedata.combining(char):
            continue
        if unicodedata.east_asian_width(char) in "WF":
            ems += 1.0
        elif char in "iljtf.,:;'|! ()":
            ems += 0.34
        elif char in "<>=+~#&@%—…":
            ems += 0.9
        elif char.isupper() or char in "mw":
            ems += 0.74
        else:
            ems += 0.57
    return ems * size
