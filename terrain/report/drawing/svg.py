"""Small pieces of SVG: numbers, paths and text, escaped."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable
from functools import cache, lru_cache
from itertools import pairwise
from typing import Any

import numpy as np
from markupsafe import Markup, escape

from terrain.text.plain import plain_line
from terrain.values.arrays import FloatArray, IntArray

_SPECIAL = re.compile("[&<>\"']")


def num(value: float) -> str:
    """A coordinate to a tenth of a pixel, without needless characters."""
    text = f"{value:.1f}"
    if text[-2:] == ".0":
        text = text[:-2]
    return "0" if text == "-0" else text


def attrs(**values: object) -> str:
    """Attributes; `class_` is class, other underscores become hyphens. None is left out."""
    told = ""
    for key, value in values.items():
        if value is None:
            continue
        kind = value.__class__
        if kind is int or key == "d":  # path data is made of numbers here, and long
            told += f'{_attribute(key)}{value}"'
        elif kind is str:
            told += f'{_attribute(key)}{_safe(value)}"'
        else:
            shown = num(value) if isinstance(value, float) else _safe(str(value))
            told += f'{_attribute(key)}{shown}"'
    return told


@cache
def _attribute(key: str) -> str:
    return f' {key.rstrip("_").replace("_", "-")}="'


@lru_cache(maxsize=4096)
def _safe(text: str) -> str:
    """A short text as an attribute; class names come again and again."""
    return _escaped(plain_line(text))


def _escaped(text: str) -> str:
    return str(escape(text)) if _SPECIAL.search(text) else text


def tag(name: str, content: str | Markup = "", **values: object) -> Markup:
    """An element; `content` is escaped unless it is Markup already."""
    inner = content if isinstance(content, Markup) else _escaped(content)
    opening = f"<{name}{attrs(**values)}"
    return _markup(f"{opening}>{inner}</{name}>" if inner else f"{opening}/>")


def _markup(text: str) -> Markup:
    """What is markup already, past the checks of its class: a page has a thousand elements."""
    return str.__new__(Markup, text)


def text(x: float, y: float, translator: str, **values: object) -> Markup:
    """A label."""
    return _markup(f'<text x="{num(x)}" y="{num(y)}"{attrs(**values)}>{_safe(translator)}</text>')


def join(parts: Iterable[Markup]) -> Markup:
    """The parts as one; what is not Markup is escaped."""
    return _markup("".join([p if isinstance(p, Markup) else escape(p) for p in parts]))


def boxes(rows: Iterable[tuple[float, float, float, float]]) -> str:
    """Path data of rectangles x, y, width, height."""
    return "".join(
        [
            f"M{_tenths(round(10 * x))} {_tenths(round(10 * y))}h{_tenths(wide := round(10 * w))}"
            f"v{_tenths(round(10 * h))}h{_tenths(-wide)}z"
            for x, y, w, h in rows
        ]
    )


@lru_cache(maxsize=16_384)
def _tenths(steps: int) -> str:
    """So many tenths of a pixel: those of a drawing's boxes come again and again."""
    return num(steps / 10)


def polyline(x: FloatArray, y: FloatArray, scale: int = 10) -> str:
    """Path data of a line, in steps on a grid of 1 / scale pixels; NaN breaks the line."""
    bad = np.isnan(x) | np.isnan(y)
    if not bad.any():
        return polylines(x, y, np.array([0, len(x)]), scale)
    known = np.flatnonzero(~bad)
    breaks = np.flatnonzero(np.diff(known) > 1) + 1
    start = np.concatenate([[0], breaks, [len(known)]])
    return polylines(np.asarray(x)[known], np.asarray(y)[known], start, scale)


def trace(x: FloatArray, y: FloatArray) -> str:
    """Path data of a line without the points that nobody would miss; none is NaN."""
    return polylines(*thinned(x, y, np.array([0, len(x)])))


def polylines(x: FloatArray, y: FloatArray, start: IntArray, scale: int = 10) -> str:
    """Path data of many lines: line i owns points start[i] .. start[i + 1] - 1.

    A line that begins where the one before ends goes on from there; one without length is left out.
    """
    return "".join(_steps(x, y, start, scale, joined=True)[0])


def lines(x: FloatArray, y: FloatArray, start: IntArray, scale: int = 10) -> list[str]:
    """Path data of each of many lines, see `polylines`."""
    told, cuts = _steps(x, y, start, scale)
    return ["".join(told[a:b]) for a, b in pairwise(cuts)]


def _steps(
    x: FloatArray, y: FloatArray, start: IntArray, scale: int, *, joined: bool = False
) -> tuple[list[str], list[int]]:
    """The numbers of many lines' path data, and where in them each line begins."""
    gx = np.rint(np.asarray(x) * scale).astype(np.int64)
    gy = np.rint(np.asarray(y) * scale).astype(np.int64)
    first = np.zeros(len(gx), dtype=bool)
    first[start[:-1][start[:-1] < start[1:]]] = True
    moved = np.append(True, (gx[1:] != gx[:-1]) | (gy[1:] != gy[:-1]))[: len(gx)]
    if joined:
        first &= moved
    else:
        moved |= first
    ends = np.concatenate([[0], np.cumsum(moved)])[start]
    gx, gy, first = gx[moved], gy[moved], first[moved]
    if joined:
        drawn = ~(first & np.append(first[1:], True)[: len(first)])
        gx, gy, first = gx[drawn], gy[drawn], first[drawn]
    # Each point as the step from the last one, but line starts as they are.
    dx, dy = np.diff(gx, prepend=0), np.diff(gy, prepend=0)
    dx[first], dy[first] = gx[first], gy[first]
    letters = np.zeros((len(gx), 2), dtype=np.int64)
    letters[first, 0] = _MOVE
    letters[1:, 0][first[:-1] & ~first[1:]] = _LINE
    told: list[str] = _told(np.column_stack([dx, dy]), letters, scale).ravel().tolist()
    return told, (2 * ends).tolist()


def thinned(
    x: FloatArray, y: FloatArray, start: IntArray, off: float = 0.4
) -> tuple[FloatArray, FloatArray, IntArray]:
    """The lines without points that nobody would miss; their ends stay.

    off : the most that a line may move [px]
    """
    end = np.zeros(len(x), dtype=bool)
    full = start[:-1] < start[1:]
    end[start[:-1][full]] = end[start[1:][full] - 1] = True
    kept = np.arange(len(x))
    for _ in range(2):  # every other point each time, so that no error adds to its neighbour's
        before, at, after = kept[:-2:2], kept[1:-1:2], kept[2::2]
        dx, dy = x[after] - x[before], y[after] - y[before]
        px, py = x[at] - x[before], y[at] - y[before]
        length, along = np.hypot(dx, dy), dx * px + dy * py
        between = (along >= 0) & (along <= length * length) & (length > 0)
        near = np.abs(dx * py - dy * px) <= off / 2 * length
        stays = np.ones(len(kept), dtype=bool)
        stays[1:-1:2] = end[at] | ~(between & near)
        kept = kept[stays]
    return x[kept], y[kept], np.searchsorted(kept, start)


_LETTERS = ("", "M", "l")
_MOVE, _LINE = 1, 2
# Grid steps that are told from a table, by letter: a move may go anywhere on a drawing.
_LEAST = np.array([-2100, 0, -2100])
_MOST = np.array([2100, 10_500, 2100])


def _step(step: int, scale: int, letter: str) -> str:
    """A number of a path; a letter or a minus sign parts two numbers as well as a space does."""
    text = num(step / scale)
    return letter + text if letter or text.startswith("-") else f" {text}"


@cache
def _table(scale: int) -> tuple[np.ndarray[Any, np.dtype[np.object_]], IntArray]:
    """Every step of the tables as text, letter after letter, and where each letter's nought is."""
    tails = [num(k / scale)[1:] for k in range(scale)]
    numbers = [f"{whole}{tail}" for whole in range(int(_MOST.max()) // scale + 1) for tail in tails]
    told: list[str] = []
    origin = []
    for letter, least, most in zip(_LETTERS, _LEAST.tolist(), _MOST.tolist(), strict=True):
        told += [f"{letter}-{text}" for text in numbers[-least:0:-1]]
        origin.append(len(told))
        told += [f"{letter or ' '}{text}" for text in numbers[: most + 1]]
    return np.array(told, dtype=object), np.array(origin)


def _told(steps: IntArray, letters: IntArray, scale: int) -> np.ndarray[Any, np.dtype[np.object_]]:
    """Grid steps as text, each behind its letter (a place in _LETTERS)."""
    table, origin = _table(scale)
    near = np.minimum(np.maximum(steps, _LEAST[letters]), _MOST[letters])
    told = np.asarray(table[near + origin[letters]])
    far = near != steps
    if far.any():
        for at in zip(*np.nonzero(far), strict=True):
            told[at] = _step(int(steps[at]), scale, _LETTERS[letters[at]])
    return told


@lru_cache(maxsize=8192)
def text_width(translator: str, size: float) -> float:
    """A fair guess of a label's width in pixels, a little on the wide side."""
    ems = 0.0
    for char in translator:
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
            ems += 0.6
    return ems * size
