"""Lanes of the map's facts: places, what is closed, ground and what it rests on, heights."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from itertools import groupby

import numpy as np
from markupsafe import Markup

from terrain.report.drawing.columns import NARROW_PX, Grounded, ground_columns
from terrain.report.drawing.scale import DiagramRow, nice_step, nice_top
from terrain.report.drawing.svg import boxes, join, num, tag, text, text_width, trace
from terrain.text.plain import shortened
from terrain.text.terms import BASIS_LANE_TERMS
from terrain.text.translator import Translator
from terrain.values.ground import LAND_GROUNDS, Basis, Stretch
from terrain.values.places import PassedPlace
from terrain.values.relief import Relief
from terrain.values.verdict import RidePart

_IMPORTANCE: dict[str, int] = {
    "city": 0, "town": 1, "pass": 2, "village": 3, "ford": 4, "hamlet": 5, "locality": 6,
}  # fmt: skip
SIZE = 12.0


def axis(row: DiagramRow, y: float, translator: Translator) -> Markup:
    """Distance along the bottom, with ticks at round numbers and faint lines up from them."""
    unit = translator.distance_unit_m
    step = nice_step((row.to_m - row.from_m) / unit, max(int(row.width / 90), 1)) * unit
    first = math.ceil(row.from_m / step - 1e-9)
    at = [k * step for k in range(first, math.floor(row.to_m / step + 1e-9) + 1)]
    parts = [
        tag("path", class_="grid", d="".join(f"M{num(row.x(m))} 0V{num(y)}" for m in at)),
        tag("path", class_="axis", d=f"M0 {num(y)}h{num(row.width)}"),
        tag("path", class_="axis", d="".join(f"M{num(row.x(m))} {num(y)}v5" for m in at)),
    ]
    digits = 0 if step >= unit else 1
    for m in at:
        x = row.x(m)
        anchor = "start" if x < 8 else "end" if x > row.width - 8 else "middle"
        parts.append(
            text(x, y + 18, translator.number(m / unit, digits if m else 0), text_anchor=anchor)
        )
    return join(parts)


def draw_places(row: DiagramRow, places: Iterable[PassedPlace]) -> Markup:
    """Names over the line; those without room are left out, small places first."""
    inside = sorted((p for p in places if row.holds(p.at_m)), key=_weight)
    taken: list[tuple[float, float]] = []
    parts = []
    for place in inside:
        name, x = shortened(place.name, 28), row.x(place.at_m)
        wide = text_width(name, SIZE)
        left = min(max(x - wide / 2, 0.0), max(row.width - wide, 0.0))
        if all(left > b + 8 or left + wide < a - 8 for a, b in taken):
            taken.append((left, left + wide))
            parts += [
                tag("path", class_="leader", d=f"M{num(x)} 17v7"),
                text(left, 13, name, class_=f"place {place.kind}"),
            ]
    return join(parts)


def _weight(place: PassedPlace) -> tuple[int, float, float]:
    return _IMPORTANCE.get(place.kind, 9), -(place.population or 0.0), place.at_m


def draw_closed(row: DiagramRow, parts: Sequence[RidePart]) -> Markup:
    """What is closed to motorcycles, in the darkest ink."""
    spans = [row.clip(part.from_m, part.to_m) for part in parts]
    drawn = [(x, 0.0, max(wide, 2.0), 14.0) for x, wide in filter(None, spans)]
    return tag("path", class_="closed", d=boxes(drawn)) if drawn else Markup("")


def draw_ground(
    row: DiagramRow, stretches: Sequence[Grounded], height: float, *, half: bool = True
) -> Markup:
    """The ground split by chance: track from the base, gravel on it, paved above."""
    columns = ground_columns(row, stretches)
    rows: dict[str, list[tuple[float, float, float, float]]] = {}
    for x, wide, p, other in columns:
        if p is None:
            rows.setdefault(f"g-{other}", []).append((x, 0.0, wide, height))
            continue
        top = 0.0
        for kind, share in zip(LAND_GROUNDS, p, strict=True):  # paved on top, track at the base
            tall = share * height
            if tall >= 0.4:
                rows.setdefault(f"g-{kind.value}", []).append((x, top, wide, tall))
            top += tall
    parts = [tag("path", class_=name, d=boxes(found)) for name, found in rows.items()]
    if half:
        middle = f"M0 {num(height / 2)}h{num(row.width)}"
        parts += [tag("path", class_="halo", d=middle), tag("path", class_="half", d=middle)]
    parts.append(tag("path", class_="frame", d=boxes([(0, 0, row.width, height)])))
    return join(parts)


def draw_basis(row: DiagramRow, stretches: Sequence[Stretch], translator: Translator) -> Markup:
    """What the ground rests on: a line, whole for the map, dotted for an estimate; words in it."""
    parts = []
    lines: dict[str, str] = {}
    for word, x, wide in _basis_runs(row, stretches):
        kind = "firm" if word == BASIS_LANE_TERMS[Basis.TAGGED] else "guess"
        told = translator._(word)
        room = text_width(told, SIZE) + 6
        d = f"M{num(x)} 7h{num(wide)}"
        if wide >= room + 16:
            a = (wide - room) / 2
            d = f"M{num(x)} 7h{num(a)}M{num(x + wide - a)} 7h{num(a)}"
            parts.append(text(x + wide / 2, 11, told, text_anchor="middle"))
        lines[kind] = lines.get(kind, "") + d
    return join([*(tag("path", class_=kind, d=d) for kind, d in lines.items()), *parts])


def _basis_runs(row: DiagramRow, stretches: Sequence[Stretch]) -> list[tuple[str, float, float]]:
    """Word, x and width of each run of one basis; narrow ones join the run before."""
    found: list[tuple[str, float, float]] = []
    for word, group in groupby(
        stretches, key=lambda s: "" if s.basis is None else BASIS_LANE_TERMS[s.basis]
    ):
        run = list(group)
        span = row.clip(run[0].from_m, run[-1].to_m)
        if not word or span is None:
            continue
        last = found[-1] if found else None
        beside = last is not None and span[0] - (last[1] + last[2]) < 1.0
        if last is not None and beside and (word == last[0] or span[1] < NARROW_PX):
            found[-1] = (last[0], last[1], last[2] + span[1])
        else:
            found.append((word, *span))
    return found


def height_top_m(relief: Relief, translator: Translator) -> float:
    """The top of the height scale [m], round in the reader's unit."""
    unit = translator.height_value(1.0)
    return nice_top(max(float(np.nanmax(relief.ele_m)), 60.0) * unit) / unit


def draw_heights(
    row: DiagramRow, relief: Relief, top_m: float, height: float, translator: Translator
) -> Markup:
    """Height as an area from the scale's foot, its top labelled; bars below where over 10 %."""
    foot = height - 8.0
    at, ele = row.sample(*relief.profile())
    x = row.xs(at)
    y = foot - np.clip(ele / top_m, 0.0, 1.0) * (foot - 10.0)
    parts = []
    for run in known_runs(y):
        ridge = trace(x[run], y[run])
        close = f"V{num(foot)}H{num(float(x[run[0]]))}z"
        parts += [
            tag("path", class_="relief", d=ridge + close), tag("path", class_="ridge", d=ridge),
        ]  # fmt: skip
    parts.append(tag("path", class_="base", d=f"M0 {num(foot)}h{num(row.width)}"))
    spans = [row.clip(ramp.from_m, ramp.to_m) for ramp in relief.ramps if not ramp.doubtful]
    steep = [(a, foot + 2, max(wide, 1.5), 5.0) for a, wide in filter(None, spans)]
    if steep:
        parts.append(tag("path", class_="ramp", d=boxes(steep)))
    if np.isfinite(y).any():
        k = int(np.nanargmin(y))
        told = translator.height(float(ele[k]))
        end = x[k] > row.width - text_width(told, SIZE) - 10
        parts += [
            tag("circle", class_="spot", cx=float(x[k]), cy=float(y[k]), r=2.5),
            text(float(x[k]) + (-6 if end else 6), max(float(y[k]) - 4, 2.0), told,
                 class_="over", text_anchor="end" if end else "start"),
        ]  # fmt: skip
    return join(parts)


def known_runs(y: np.ndarray) -> list[np.ndarray]:
    """Indices of each run of two or more known values."""
    known = np.isfinite(y)
    runs = np.split(np.arange(len(y)), np.flatnonzero(np.diff(known.astype(int))) + 1)
    return [run for run in runs if len(run) > 1 and known[run[0]]]
