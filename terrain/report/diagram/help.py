"""The help lane: how long it takes to a mechanic, and what else is near, along the ride."""

from __future__ import annotations

from typing import Any

import numpy as np
from markupsafe import Markup

from terrain.report.diagram.letters import letter
from terrain.report.drawing.scale import LABELS, DiagramRow
from terrain.report.drawing.svg import join, num, polyline, tag, text
from terrain.text.translator import Translator
from terrain.values.arrays import FloatArray, IntArray

_SIGNS = (("fuel_m", "fuel"), ("water_m", "water"))
_NEAR_M = 400.0  # a letter stands where the ride passes this close
_NEAR_S = 300.0
_TOPS_H = (0.25, 0.5, 1, 1.5, 2, 3, 4, 5, 6, 8, 10, 12, 18, 24, 36, 48, 72, 100, 200)
_APART_M = 2000.0  # the same letter again only after so much riding


class HelpLane:
    """Time to the nearest mechanic as an area, to the nearest town as a dotted line."""

    height = 60.0
    foot = 44.0  # the curve's base; letters stand below it

    def __init__(self, facts: dict[str, Any], translator: Translator) -> None:
        self.translator = translator
        self.known = help_known(facts)
        if not self.known:
            return
        help_ = facts["help"]
        along = {key: _array(value) for key, value in help_["along"].items()}
        self.at_m = along["at_m"]
        self.mechanic_s, self.town_s = along["mechanic_s"], along["town_s"]
        both = np.concatenate([self.mechanic_s, self.town_s])
        longest = float(np.nanmax(both)) if np.isfinite(both).any() else 0.0
        self.top_s = 3600 * next((h for h in _TOPS_H if 3600 * h >= longest), 500.0)
        self.limit_s = help_["limits"]["remote_s"]
        self.remote = [(r["from_m"], r["to_m"]) for r in help_["remote"]]
        self.signs = _signs_of(along)
        self.exits = [
            side["leave_at_m"] if side["leave_at_m"] is not None else side["at_m"]
            for way in help_["exits"]
            for side in way["sides"]
        ]

    def y(self, time_s: FloatArray) -> FloatArray:
        return self.foot - np.minimum(time_s / self.top_s, 1.0) * (self.foot - 4)

    def scale(self) -> Markup:
        if not self.known:
            return Markup("")
        right = LABELS - 6
        return join(
            [
                text(
                    right, 9, self.translator.duration(self.top_s), class_="tick", text_anchor="end"
                ),
                text(right, self.foot, "0", class_="tick", text_anchor="end"),
            ]
        )

    def draw(self, row: DiagramRow) -> Markup:
        parts = [self._remote(row)]
        at, mechanic = row.sample(self.at_m, self.mechanic_s)
        x, y = row.xs(at), self.y(mechanic)
        curves = []
        for run in _runs(y):
            curves.append(polyline(x[run], y[run]))
            close = f"V{num(self.foot)}H{num(float(x[run[0]]))}z"
            parts.append(tag("path", class_="h-area", d=curves[-1] + close))
        parts.append(tag("path", class_="h-line", d="".join(curves)))
        at, town = row.sample(self.at_m, self.town_s)
        parts.append(tag("path", class_="h-town", d=polyline(row.xs(at), self.y(town))))
        if self.limit_s < self.top_s:
            level = float(self.y(np.array(self.limit_s)))
            parts.append(tag("path", class_="h-limit", d=f"M0 {num(level)}h{num(row.width)}"))
        parts.append(tag("path", class_="axis", d=f"M0 {num(self.foot)}h{num(row.width)}"))
        parts += self._signs(row)
        if not np.isfinite(self.mechanic_s).any():
            missing = self.translator._("No mechanic can be reached on mapped roads.")
            parts.append(text(4, 16, missing, class_="missing"))
        return join(parts)

    def _remote(self, row: DiagramRow) -> Markup:
        """A bar over the parts that are far from help."""
        data = ""
        for from_m, to_m in self.remote:
            span = row.clip(from_m, to_m)
            if span is not None:
                data += f"M{num(span[0])} 2h{num(span[1])}"
        return tag("path", class_="h-remote", d=data) if data else Markup("")

    def _signs(self, row: DiagramRow) -> list[Markup]:
        parts = []
        taken: list[float] = []
        for at_m, kind in self.signs:
            x = min(max(row.x(at_m), 6.0), row.width - 6.0)
            if row.holds(at_m) and all(abs(x - other) > 11 for other in taken):
                taken.append(x)
                parts.append(
                    text(x, 58, letter(kind, self.translator), class_="sign", text_anchor="middle")
                )
        arrows = "".join(
            f"M{num(row.x(m))} 34v9m-3 -4l3 4l3 -4" for m in self.exits if row.holds(m)
        )
        if arrows:
            parts.append(tag("path", class_="h-exit", d=arrows))
        return parts


def help_known(facts: dict[str, Any]) -> bool:
    """Whether there is anything for the lane to draw."""
    return bool(facts["help"] and facts["help"]["along"]["at_m"])


def _array(values: list[float | None]) -> FloatArray:
    return np.array([np.nan if v is None else v for v in values], dtype=float)


def _signs_of(along: dict[str, FloatArray]) -> list[tuple[float, str]]:
    """Where the ride passes fuel, water and a hospital; fuel first where they meet."""
    found: list[tuple[float, str]] = []
    for key, kind in _SIGNS:
        found += [(at, kind) for at in _closest(along["at_m"], along[key], _NEAR_M)]
    found += [(at, "hospital") for at in _closest(along["at_m"], along["hospital_s"], _NEAR_S)]
    return found


def _closest(at_m: FloatArray, cost: FloatArray, limit: float) -> list[float]:
    """The nearest point of each run within the limit, not too many."""
    near = np.flatnonzero(np.nan_to_num(cost, nan=np.inf) <= limit)
    found: list[float] = []
    for run in np.split(near, np.flatnonzero(np.diff(near) > 1) + 1):
        if len(run):
            best = float(at_m[run[int(np.argmin(cost[run]))]])
            if not found or best - found[-1] >= _APART_M:
                found.append(best)
    return found


def _runs(y: FloatArray) -> list[IntArray]:
    known = np.isfinite(y)
    runs = np.split(np.arange(len(y)), np.flatnonzero(np.diff(known.astype(int))) + 1)
    return [run for run in runs if len(run) > 1 and known[run[0]]]
