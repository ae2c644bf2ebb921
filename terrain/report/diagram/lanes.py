"""The lanes of the straight-line diagram; each draws one row at a time."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
from markupsafe import Markup

from terrain.report.drawing.scale import LABELS, DiagramRow, nice_step
from terrain.report.drawing.svg import boxes, join, lines, num, polyline, tag, text, text_width
from terrain.report.sections import KINDS, LAND
from terrain.text.translator import Translator
from terrain.values.arrays import BoolArray, FloatArray

_IMPORTANCE: dict[str, int] = {
    "city": 0, "town": 1, "pass": 2, "village": 3, "ford": 4, "hamlet": 5, "locality": 6,
}  # fmt: skip
_TIERS = 3
_SIZE = 12.0
_FIRM = ("tagged", "graded")  # told by the map: a thin quiet line


def axis(row: DiagramRow, y: float, translator: Translator, *, last: bool = True) -> Markup:
    """Distance along the bottom, with ticks at round numbers.

    last : no row follows; else the row's last number is told again by the next one
    """
    unit = translator.distance_unit_m
    step = nice_step((row.to_m - row.from_m) / unit, 10) * unit
    parts = [tag("path", class_="axis", d=f"M0 {num(y)}h{num(row.width)}")]
    first = math.ceil(row.from_m / step - 1e-9)
    at = [k * step for k in range(first, math.floor(row.to_m / step + 1e-9) + 1)]
    ticks = "".join(f"M{num(row.x(m))} {num(y)}v5" for m in at)
    grid = "".join(f"M{num(row.x(m))} 0V{num(y)}" for m in at)
    parts += [tag("path", class_="grid", d=grid), tag("path", class_="axis", d=ticks)]
    digits = 0 if step >= unit else 1
    for m in at:
        label = translator.number(m / unit, digits if m else 0)
        x = row.x(m)
        again = " gutter" if not last and x > row.width - 8 else ""
        anchor = "start" if x < 8 else "middle"
        parts.append(text(x, y + 17, label, class_=f"tick{again}", text_anchor=anchor))
    return join(parts)


class Places:
    """Names above the line, in three tiers; those without room are left out, small ones first."""

    height = 50.0

    def __init__(self, facts: dict[str, Any], translator: Translator) -> None:
        self.places = facts.get("places", [])

    def draw(self, row: DiagramRow) -> Markup:
        inside = [p for p in self.places if row.holds(p["at_m"])]
        inside.sort(key=_weight)
        room = _Room(row.width)
        parts = []
        for place in inside:
            name = place["name"] if len(place["name"]) <= 28 else place["name"][:27] + "…"
            x = row.x(place["at_m"])
            spot = room.take(x, text_width(name, _SIZE))
            if spot is not None:
                left, tier = spot
                y = 44 - 15.0 * tier
                parts.append(tag("path", class_="leader", d=f"M{num(x)} {num(y + 3)}V64"))
                parts.append(text(left, y, name, class_=f"place {place['kind']}"))
        return join(parts)


def _weight(place: dict[str, Any]) -> tuple[int, float, float]:
    return _IMPORTANCE.get(place["kind"], 9), -(place["population"] or 0.0), place["at_m"]


class _Room:
    """Three tiers of labels whose leaders cross no other label."""

    def __init__(self, width: float) -> None:
        self.width = width
        self.labels: list[list[tuple[float, float]]] = [[] for _ in range(_TIERS)]
        self.leaders: list[tuple[float, int]] = []

    def take(self, x: float, wide: float) -> tuple[float, int] | None:
        """Left edge and tier for a label over x; None if there is no room."""
        for tier in range(_TIERS):
            for left in (x - wide / 2, x - 4, x - wide + 4):
                left = min(max(left, 0.0), max(self.width - wide, 0.0))
                if self._free(x, left, left + wide, tier):
                    self.labels[tier].append((left, left + wide))
                    self.leaders.append((x, tier))
                    return left, tier
        return None

    def _free(self, x: float, left: float, right: float, tier: int) -> bool:
        for a, b in self.labels[tier]:
            if left <= b + 6 and right >= a - 6:
                return False
        for low in self.labels[:tier]:
            for a, b in low:
                if a - 2 < x < b + 2:
                    return False
        return not any(high > tier and left - 2 < at < right + 2 for at, high in self.leaders)


class Ground:
    """The ground of each stretch, split by its probabilities, over a strip of what it rests on."""

    height = 52.0
    column = 40.0
    strip = 44.0

    def __init__(self, facts: dict[str, Any]) -> None:
        runs = _alike(facts["stretches"])
        self.from_m = np.array([s["from_m"] for s, _ in runs], dtype=float)
        self.to_m = np.array([to_m for _, to_m in runs], dtype=float)
        self.p = np.array([_land(s["p"]) for s, _ in runs], dtype=float).reshape(-1, len(LAND))
        self.undivided = np.array(["" if s["p"] else s["ground"] for s, _ in runs])
        self.basis = np.array([s["basis"] or "" for s, _ in runs])

    def draw(self, row: DiagramRow) -> Markup:
        shown = (self.from_m < row.to_m) & (self.to_m > row.from_m)
        x = row.xs(np.maximum(self.from_m[shown], row.from_m))
        width = row.xs(np.minimum(self.to_m[shown], row.to_m)) - x
        tall = self.p[shown] * self.column
        top = self.column - np.cumsum(tall, axis=1)  # paved at the foot, track on top
        paths: dict[str, str] = {}
        for kind in KINDS:
            mine = self.undivided[shown] == kind
            paths[f"g-{kind}"] = _columns(x, 0.0, width, self.column, mine)
        for k, kind in enumerate(LAND):
            paths[f"g-{kind}"] += _columns(x, top[:, k], width, tall[:, k], tall[:, k] >= 0.4)
        basis = self.basis[shown]
        for kind in sorted(set(basis.tolist()) - {""}):
            y, high = (45.5, 3.0) if kind in _FIRM else (self.strip, 6.0)
            paths[f"b-{kind}"] = _columns(x, y, width, high, basis == kind)
        paths["frame"] = boxes([(0, 0, row.width, self.column)])
        return join([tag("path", class_=name, d=d) for name, d in paths.items() if d])


def _land(p: dict[str, float] | None) -> list[float]:
    return [np.nan] * len(LAND) if p is None else [p[kind] for kind in LAND]


def _columns(
    x: FloatArray,
    y: FloatArray | float,
    width: FloatArray,
    tall: FloatArray | float,
    wanted: BoolArray,
) -> str:
    """Path data of the wanted ones of columns side by side."""
    rows = np.empty((int(np.count_nonzero(wanted)), 4))
    for k, value in enumerate((x, y, width, tall)):
        rows[:, k] = value[wanted] if isinstance(value, np.ndarray) else value
    return boxes(rows)


def _alike(stretches: list[dict[str, Any]]) -> list[tuple[dict[str, Any], float]]:
    """Each stretch that is drawn otherwise than the one before, and where the next one starts."""
    first: list[dict[str, Any]] = []
    last: tuple[Any, ...] | None = None
    for s in stretches:
        p = s["p"]
        # Two per cent of the column is less than a pixel.
        shown = p and (round(p["paved"] * 50), round(p["gravel"] * 50), round(p["track"] * 50))
        key = (s["ground"], s["basis"], shown)
        if key != last:
            first.append(s)
            last = key
    ends = [s["from_m"] for s in first[1:]] + [s["to_m"] for s in stretches[-1:]]
    return list(zip(first, ends, strict=True))


class Relief:
    """Height as an area; ramps over 10 % carry a thicker line."""

    height = 64.0
    steep_pct = 10.0

    def __init__(self, facts: dict[str, Any], translator: Translator) -> None:
        self.translator = translator
        relief = facts["relief"] or {}
        profile = relief.get("profile") or {"at_m": [], "ele_m": []}
        self.at_m = np.array(profile["at_m"], dtype=float)
        self.ele_m = np.array([np.nan if e is None else e for e in profile["ele_m"]], dtype=float)
        self.known = bool(np.isfinite(self.ele_m).any())
        if self.known:
            span = max(float(np.nanmax(self.ele_m) - np.nanmin(self.ele_m)), 60.0)
            unit_m = 1.0 / translator.height_value(1.0)  # so that the scale is round as it is shown
            step = nice_step(span / unit_m, 10) * unit_m
            self.low = math.floor(float(np.nanmin(self.ele_m)) / step) * step
            self.high = max(math.ceil(float(np.nanmax(self.ele_m)) / step) * step, self.low + step)
        self.ramps = [
            (s["from_m"], s["to_m"])
            for s in relief.get("steepest", [])
            if abs(s["grade_pct"]) >= self.steep_pct
        ]

    def y(self, ele_m: np.ndarray) -> np.ndarray:
        return self.height - (ele_m - self.low) / (self.high - self.low) * (self.height - 6)

    def scale(self) -> Markup:
        """The height scale, for the column of names."""
        if not self.known:
            return Markup("")
        unit = self.translator.height_unit
        high = f"{self.translator.number(self.translator.height_value(self.high))} {unit}"
        low = self.translator.number(self.translator.height_value(self.low))
        right = LABELS - 6
        return join(
            [
                text(right, 10, high, class_="tick", text_anchor="end"),
                text(right, self.height, low, class_="tick", text_anchor="end"),
            ]
        )

    def draw(self, row: DiagramRow) -> Markup:
        at, ele = row.sample(self.at_m, self.ele_m)
        x, y = row.xs(at), self.y(ele)
        parts = [tag("path", class_="base", d=f"M0 6h{num(row.width)}")]
        ridges = []
        for run in _known_runs(y):
            ridges.append(polyline(x[run], y[run]))
            close = f"V{num(self.height)}H{num(float(x[run[0]]))}z"
            parts.append(tag("path", class_="relief", d=ridges[-1] + close))
        parts.append(tag("path", class_="ridge", d="".join(ridges)))
        ramps = [self._ramp(row, a, b) for a, b in self.ramps if row.clip(a, b)]
        if ramps:
            start = np.cumsum([0, *map(len, ramps)])
            at = np.concatenate(ramps)
            ele = np.interp(at, self.at_m, self.ele_m)
            drawn = lines(row.xs(at), self.y(ele), start)
            parts += [tag("path", class_="ramp", d=d) for d in drawn]
        parts.append(self._end_scale(row))
        return join(parts)

    def _ramp(self, row: DiagramRow, from_m: float, to_m: float) -> FloatArray:
        """Where the line of a ramp has its points [m]."""
        a, b = max(from_m, row.from_m), min(to_m, row.to_m)
        first = self.at_m.searchsorted(a, side="right")
        inside = self.at_m[first : self.at_m.searchsorted(b, side="left")]
        return np.concatenate([[a], inside, [b]])

    def _end_scale(self, row: DiagramRow) -> Markup:
        x = row.width
        high = self.translator.number(self.translator.height_value(self.high))
        low = self.translator.number(self.translator.height_value(self.low))
        return join(
            [
                text(x + 6, 10, high, class_="tick gutter"),
                text(x + 6, self.height, low, class_="tick gutter"),
            ]
        )

    def exaggeration(self, row: DiagramRow) -> float:
        """How many times heights are stretched against lengths."""
        return (self.height - 6) / (self.high - self.low) / row.px_per_m


def _known_runs(y: np.ndarray) -> list[np.ndarray]:
    known = np.isfinite(y)
    runs = np.split(np.arange(len(y)), np.flatnonzero(np.diff(known.astype(int))) + 1)
    return [run for run in runs if len(run) > 1 and known[run[0]]]
