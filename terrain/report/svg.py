"""Small pieces of SVG: numbers, paths and text, escaped."""

from __future__ import annotations

import unicodedata
from collections.abc import Iterable

import numpy as np
from markupsafe import Markup, escape

from terrain.report.safe import plain_line
from terrain.values.arrays import FloatArray


def num(value: float) -> str:
    """A coordinate to a tenth of a pixel, without needless characters."""
    text = f"{value:.1f}"
    text = text.removesuffix(".0")
    return "0" if text == "-0" else text


def attrs(**values: object) -> str:
    """Attributes; `class_` is class, other underscores become hyphens. None is left out."""
    parts = []
    for key, value in values.items():
        if value is None:
            continue
        name = key.rstrip("_").replace("_", "-")
        shown = num(value) if isinstance(value, float) else plain_line(str(value))
        parts.append(f' {name}="{escape(shown)}"')
    return "".join(parts)


def tag(name: str, content: str | Markup = "", **values: object) -> Markup:
    """An element; `content` is escaped unless it is Markup already."""
    inner = escape(content)
    opening = f"<{name}{attrs(**values)}"
    return Markup(f"{opening}>{inner}</{name}>" if inner else f"{opening}/>")


def text(x: float, y: float, words: str, **values: object) -> Markup:
    """A label."""
    return tag("text", plain_line(words), x=float(x), y=float(y), **values)


def join(parts: Iterable[Markup]) -> Markup:
    return Markup("").join(parts)


def boxes(rows: Iterable[tuple[float, float, float, float]]) -> str:
    """Path data of rectangles x, y, width, height."""
    return "".join(f"M{num(x)} {num(y)}h{num(w)}v{num(h)}h{num(-w)}z" for x, y, w, h in rows)


def polyline(x: FloatArray, y: FloatArray, scale: int = 10) -> str:
    """Path data of a line, in steps on a grid of 1 / scale pixels; NaN breaks the line."""
    gx, gy = np.round(np.asarray(x) * scale), np.round(np.asarray(y) * scale)
    bad = np.isnan(gx) | np.isnan(gy)
    parts: list[str] = []
    for run in np.split(np.arange(len(gx)), np.flatnonzero(np.diff(bad.astype(int))) + 1):
        if len(run) and not bad[run[0]]:
            parts.append(_run(gx[run].astype(int), gy[run].astype(int), scale))
    return "".join(parts)


def _run(gx: np.ndarray, gy: np.ndarray, scale: int) -> str:
    moved = np.r_[True, (np.diff(gx) != 0) | (np.diff(gy) != 0)]
    gx, gy = gx[moved], gy[moved]
    start = f"M{num(gx[0] / scale)} {num(gy[0] / scale)}"
    steps = [
        f"{num(dx / scale)} {num(dy / scale)}"
        for dx, dy in zip(np.diff(gx).tolist(), np.diff(gy).tolist(), strict=True)
    ]
    if not steps:
        return f"{start}h0"
    return f"{start}l{' '.join(steps).replace(' -', '-')}"


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
        elif char.isupper() or char in "mwMW%":
            ems += 0.74
        else:
            ems += 0.57
    return ems * size
